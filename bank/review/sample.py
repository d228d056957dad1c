"""Which items the page shows: all of a usual bank, an even sample of a very large one."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from bank.summary import Bank

LIMIT = 2000
"""Most items on a page. A term's plan has some hundreds; at this number the file has about 10 MB and still opens
within seconds, and nobody reads on after it."""
CANDIDATES = 20_000
"""Most items that are read to choose the sample from, so that a bank of a million costs no more than this one."""
NO_QUIZ = ""
"""Stands for the quiz of items that are in none."""

Stratum = TypeVar("Stratum", bound=Hashable)
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
    """Places shown by template."""

    @property
    def is_whole(self) -> bool:
        """Whether every item is shown."""
        return self.shown == self.places


def choose(bank: Bank, limit: int = LIMIT, candidates: int = CANDIDATES) -> Sample:
    """Return what to show of *bank*: everything up to *limit* places, else as evenly as can be.

    Each pair of quiz and template gets the same number of places, as far as it has them; within a pair they are
    taken at equal distances. Chance has no part in it: the same bank gives the same sample.
    """
    used = {identifier for quiz in bank.quizzes for identifier in quiz.items}
    places: dict[str, Sequence[str]] = {quiz.identifier: quiz.items for quiz in bank.quizzes}
    places[NO_QUIZ] = [identifier for identifier in bank.identifiers() if identifier not in used]
    total = sum(map(len, places.values()))
    thinned = evenly(places, candidates)
    strata: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for quiz, identifiers in thinned.items():
        for place, item in enumerate(bank.items(identifiers)):
            strata.setdefault((quiz, item.family.template), []).append((place, item.identifier))
    chosen = evenly(strata, limit)
    by_quiz: dict[str, list[tuple[int, str]]] = {quiz: [] for quiz in places if quiz != NO_QUIZ}
    by_template: dict[str, tuple[str, ...]] = {}
    templates_shown: dict[str, int] = {}
    for (quiz, template), members in chosen.items():
        templates_shown[template] = templates_shown.get(template, 0) + len(members)
        if quiz == NO_QUIZ:
            by_template[template] = tuple(identifier for _, identifier in members)
        else:
            by_quiz[quiz] += members
    return Sample(
        by_quiz={quiz: tuple(identifier for _, identifier in sorted(members)) for quiz, members in by_quiz.items()},
        by_template=dict(sorted(by_template.items())),
        shown=sum(map(len, chosen.values())),
        places=total,
        templates_shown=dict(sorted(templates_shown.items())),
    )


def evenly(strata: Mapping[Stratum, Sequence[Member]], limit: int) -> dict[Stratum, list[Member]]:
    """Return at most *limit* members in all, as many from each stratum as from any other while it has them."""
    quotas = shares({name: len(members) for name, members in strata.items()}, limit)
    return {name: spread(members, quotas[name]) for name, members in strata.items()}


def shares(sizes: Mapping[Stratum, int], limit: int) -> dict[Stratum, int]:
    """Return how many each stratum gives: all alike, smaller ones all they have, *limit* in all where there is enough."""
    given = {}
    left = limit
    by_size = sorted(sizes, key=lambda name: sizes[name])
    for done, name in enumerate(by_size):
        rest, more = divmod(left, len(by_size) - done)
        given[name] = min(sizes[name], rest + (1 if more else 0))
        left -= given[name]
    return given


def spread(members: Sequence[Member], wanted: int) -> list[Member]:
    """Return *wanted* members at equal distances, in their order."""
    count = len(members)
    if wanted >= count:
        return list(members)
    return [members[(2 * place + 1) * count // (2 * wanted)] for place in range(wanted)]
