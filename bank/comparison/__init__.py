"""Two banks set side by side: items added, gone and changed, quizzes touched, and what pupils have met of it.

Items whose id is the same are the same: an id names what a pupil or a marking program can notice. Of the others those
of one template, with the same drawn values and asked in the same way, are one item that was changed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from bank.comparison.facets import Facet, differing, facets_of, question_in_words
from bank.model import BankInfo, Item, Quiz
from bank.store import Bank
from bank.summary import kind_of

__all__ = ["Changed", "Comparison", "Facet", "Found", "QuizChange", "Side", "compare"]


class Side(NamedTuple):
    """One of the two banks."""

    path: Path
    info: BankInfo
    items: int
    met: frozenset[str] | None
    """Items that pupils have met, by the answers kept beside it; None where none are kept."""


class Found(NamedTuple):
    """An item as one of the banks has it."""

    identifier: str
    template: str
    title: str
    version: int
    question: str
    key: str
    quizzes: tuple[str, ...]
    met: bool | None
    """Whether pupils have met it; None where no answers are kept."""


class Changed(NamedTuple):
    """An item that both banks have, not alike."""

    old: Found
    new: Found
    facets: tuple[Facet, ...]
    """The question, and whatever differs."""

    @property
    def what(self) -> tuple[str, ...]:
        """Names of what differs."""
        return tuple([facet.name for facet in self.facets if facet.differs])


class QuizChange(NamedTuple):
    """A quiz that is not as it was."""

    identifier: str
    title: str
    before: int | None
    """Items; None where the old bank has no such quiz."""
    after: int | None
    added: tuple[str, ...]
    gone: tuple[str, ...]
    changed: tuple[str, ...]
    """New ids of items that were changed."""
    settings: tuple[str, ...]
    """Settings that differ, in words; ``order of the items`` where only that differs."""
    met: int | None
    """Items gone or changed that pupils have met."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Comparison:
    """What differs between two banks."""

    old: Side
    new: Side
    same: int
    added: tuple[Found, ...]
    gone: tuple[Found, ...]
    changed: tuple[Changed, ...]
    quizzes: tuple[QuizChange, ...]
    settings: tuple[str, ...]
    """What the banks say of themselves otherwise, in words."""

    @property
    def met(self) -> tuple[int, int] | None:
        """How many of the items gone and changed pupils have met; None where no answers are kept."""
        if self.old.met is None and self.new.met is None:
            return None
        return sum(one.met is True for one in self.gone), sum(one.old.met is True for one in self.changed)

    @property
    def is_empty(self) -> bool:
        """Whether nothing differs."""
        return not (self.added or self.gone or self.changed or self.quizzes or self.settings)


def compare(old: Bank, new: Bank, met: Mapping[Path, frozenset[str]]) -> Comparison:
    """Return what differs between *old* and *new*; *met* gives by bank file the items that pupils have met.

    Raises:
        BadInput: a bank is damaged.
    """
    sides = tuple([Side(bank.path, bank.info, bank.count, met.get(bank.path)) for bank in (old, new)])
    before, after = old.identifiers(), new.identifiers()
    known, kept = set(after), set(before)
    left = {_pairing(item): item for item in old.items([name for name in before if name not in known])}
    seen = None if sides[0].met is None and sides[1].met is None else (sides[0].met or frozenset()) | (
        sides[1].met or frozenset())
    uses = [_uses(bank.quizzes) for bank in (old, new)]
    changed, added = [], []
    for item in new.items([name for name in after if name not in kept]):
        twin = left.pop(_pairing(item), None)
        if twin is None:
            added.append(_found(item, new.info, uses[1], seen))
            continue
        facets = differing(facets_of(twin, old.info.locale), facets_of(item, new.info.locale))
        changed.append(Changed(_found(twin, old.info, uses[0], seen), _found(item, new.info, uses[1], seen), facets))
    gone = tuple([_found(item, old.info, uses[0], seen) for item in left.values()])
    return Comparison(
        old=sides[0], new=sides[1], same=len(kept & known), added=tuple(added), gone=gone, changed=tuple(changed),
        quizzes=tuple(_quizzes(old.quizzes, new.quizzes, {one.old.identifier: one.new.identifier for one in changed}, seen)),
        settings=tuple(_settings(old.info, new.info)),
    )


def _pairing(item: Item) -> tuple[object, ...]:
    return item.family.template, item.parameters, kind_of(item.response)


def _uses(quizzes: Sequence[Quiz]) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for quiz in quizzes:
        for item in dict.fromkeys(quiz.items):
            found[item] = (*found.get(item, ()), quiz.identifier)
    return found


def _found(item: Item, info: BankInfo, uses: Mapping[str, tuple[str, ...]], seen: frozenset[str] | None) -> Found:
    family, name = item.family, item.identifier
    return Found(
        name, family.template, family.title, family.version, question_in_words(item, info.locale),
        info.locale.number(item.key), uses.get(name, ()), None if seen is None else name in seen,
    )


def _quizzes(
    old: Sequence[Quiz], new: Sequence[Quiz], renamed: Mapping[str, str], seen: frozenset[str] | None
) -> Iterator[QuizChange]:
    before, after = ({quiz.identifier: quiz for quiz in quizzes} for quizzes in (old, new))
    for name in dict.fromkeys([*before, *after]):
        was, now = before.get(name), after.get(name)
        had = was.items if was else ()
        has = now.items if now else ()
        heirs = {renamed.get(item, item) for item in had}
        gone = tuple([item for item in had if renamed.get(item, item) not in has])
        changed = tuple([renamed[item] for item in had if item in renamed and renamed[item] in has])
        added = tuple([item for item in has if item not in heirs])
        settings = tuple(_differing_settings(was, now, renamed)) if was and now else ()
        if gone or changed or added or settings or not (was and now):
            old_ids = [*gone, *[item for item in had if item in renamed and renamed[item] in has]]
            yield QuizChange(
                name, (now or was).title,  # type: ignore[union-attr]
                len(had) if was else None, len(has) if now else None, added, gone, changed, settings,
                None if seen is None else sum(item in seen for item in old_ids),
            )


_SETTINGS = {
    "title": "title", "week": "week", "use": "use", "show_feedback": "feedback shown", "minutes": "minutes",
    "calculator": "calculator allowed", "most_attempts": "attempts", "shuffled": "order drawn anew for each pupil",
}


def _differing_settings(was: Quiz, now: Quiz, renamed: Mapping[str, str]) -> Iterator[str]:
    for field, words in _SETTINGS.items():
        one, other = getattr(was, field), getattr(now, field)
        if one != other:
            yield f"{words}: {_plain(one)} \u2192 {_plain(other)}"
    asked = [[section.select for section in quiz.sections] for quiz in (was, now)]
    if any(map(any, asked)) and asked[0] != asked[1]:
        yield "items asked of each pupil"
    left = [renamed.get(item, item) for item in was.items]
    common = set(left) & set(now.items)
    if [item for item in left if item in common] != [item for item in now.items if item in common]:
        yield "order of the items"


def _plain(value: object) -> str:
    return {True: "yes", False: "no"}.get(value, str(value)) if isinstance(value, bool) else str(value)


def _settings(old: BankInfo, new: BankInfo) -> Iterator[str]:
    """Yield in words what the banks say of themselves otherwise."""
    for words, one, other in (
        ("title", old.title, new.title), ("plan", old.plan, new.plan), ("seed", old.seed, new.seed),
        ("numbers written as", old.locale.identifier, new.locale.identifier),
        ("tool version", old.tool_version, new.tool_version), ("rights", old.rights, new.rights),
    ):
        if one != other:
            yield f"{words}: {one or 'none'} \u2192 {other or 'none'}"
    if old.locale.identifier == new.locale.identifier and old.locale != new.locale:
        yield f"how {old.locale.identifier} writes numbers"
    for one in new.corrections[len(old.corrections) :] if new.corrections[: len(old.corrections)] == old.corrections else ():
        yield f"corrected without a new version: {one.template}: {one.reason}"
