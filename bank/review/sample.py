"""Which items the page shows: all of a usual bank, an even sample of a very large one."""

from __future__ import annotations

import heapq
from collections import Counter
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeVar

from bank.summary import Bank

WHOLE = 2000
"""A bank of up to this many items is shown whole. A term's plan has some hundreds; at this number the file has about
10 MB and still opens within seconds."""
SIZE = 400
"""Items that are shown of a larger bank. Nobody reads more of them, and writing more would cost every large build."""
CANDIDATES = 3 * SIZE
"""Items that are read to choose the sample from, so that a bank of a million costs no more than one of these."""
NO_QUIZ = ""
"""Stands for the quiz of items that are in none."""

Group = TypeVar("Group", bound=Hashable)
Member = TypeVar("Member")


@dataclass(frozen=True, kw_only=True, slots=True)
class Sample:
    """What a page shows of a bank."""

    by_quiz: Mapping[str, tuple[str, ...]]
    """Item ids by quiz id, in the quiz's order."""
    by_template: Mapping[str, tuple[str, ...]]
    """Ids of items that are in no quiz, by template."""
    shown: int
    """Places shown: an item that is in two quizzes has two."""
    places: int
    """Places there are."""
    templates_shown: Mapping[str, int]
    """Places shown by template; empty where every item is shown."""

    @property
    def is_whole(self) -> bool:
        """Whether every item is shown."""
        return self.shown == self.places


def choose(bank: Bank, whole: int = WHOLE, size: int = SIZE, candidates: int = CANDIDATES) -> Sample:
    """Return what to show of *bank*: everything up to *whole* places, else *size* of them, as evenly as can be.

    Each quiz gets the same number of places, as far as it has them, and so does each template within a quiz;
    of a template they are taken at equal distances. Where a quiz has more templates than places, those come first
    that were shown least so far. Chance has no part in it: the same bank gives the same sample.
    """
    used = {identifier for quiz in bank.quizzes for identifier in quiz.items}
    places: dict[str, Sequence[str]] = {quiz.identifier: quiz.items for quiz in bank.quizzes}
    places[NO_QUIZ] = [identifier for identifier in bank.identifiers() if identifier not in used]
    total = sum(map(len, places.values()))
    if total <= whole:
        return _everything(bank, places, total)
    read = shares({quiz: len(identifiers) for quiz, identifiers in places.items()}, candidates)
    quotas = shares(read, size)
    by_quiz: dict[str, tuple[str, ...]] = {}
    by_template: dict[str, tuple[str, ...]] = {}
    shown: Counter[str] = Counter()
    for quiz, identifiers in places.items():
        members: dict[str, list[tuple[int, str]]] = {}
        candidates_here = spread(identifiers, read[quiz])
        for place, (item, template) in enumerate(zip(candidates_here, bank.templates_of(candidates_here), strict=True)):
            members.setdefault(template, []).append((place, item))
        wanted = shares({template: len(found) for template, found in sorted(members.items())}, quotas[quiz], shown)
        chosen = {template: spread(found, wanted[template]) for template, found in sorted(members.items())}
        shown.update({template: count for template, count in wanted.items() if count})
        if quiz == NO_QUIZ:
            by_template = {template: _names(found) for template, found in chosen.items() if found}
        else:
            by_quiz[quiz] = _names(sorted(one for found in chosen.values() for one in found))
    return Sample(
        by_quiz=by_quiz,
        by_template=by_template,
        shown=shown.total(),
        places=total,
        templates_shown=dict(sorted(shown.items())),
    )


def _everything(bank: Bank, places: Mapping[str, Sequence[str]], total: int) -> Sample:
    by_template: dict[str, list[str]] = {}
    rest = places[NO_QUIZ]
    for item, template in zip(rest, bank.templates_of(rest), strict=True):
        by_template.setdefault(template, []).append(item)
    return Sample(
        by_quiz={quiz: tuple(identifiers) for quiz, identifiers in places.items() if quiz != NO_QUIZ},
        by_template={template: tuple(found) for template, found in sorted(by_template.items())},
        shown=total,
        places=total,
        templates_shown={},
    )


def _names(placed: Sequence[tuple[int, str]]) -> tuple[str, ...]:
    return tuple(identifier for _, identifier in placed)


def shares(
    sizes: Mapping[Group, int], limit: int, before: Mapping[Group, int] = MappingProxyType({})
) -> dict[Group, int]:
    """Return how many each group gives: all alike, smaller ones all they have, *limit* in all where there is enough.

    Where not all can give one more, those come first that gave least *before*, then those named first.
    """
    given = dict.fromkeys(sizes, 0)
    waiting = [(0, before.get(name, 0), place, name) for place, (name, size) in enumerate(sizes.items()) if size]
    heapq.heapify(waiting)
    for _ in range(min(limit, sum(sizes.values()))):
        count, earlier, place, name = waiting[0]
        given[name] = count + 1
        if count + 1 < sizes[name]:
            heapq.heapreplace(waiting, (count + 1, earlier, place, name))
        else:
            heapq.heappop(waiting)
    return given


def spread(members: Sequence[Member], wanted: int) -> list[Member]:
    """Return *wanted* members at equal distances, in their order."""
    count = len(members)
    if wanted >= count:
        return list(members)
    return [members[(2 * place + 1) * count // (2 * wanted)] for place in range(wanted)]
