"""Items that people decided about, on their way through a build: kept ones stay, suspended and retired ones do not come.

What is drawn for a plan is drawn as if nothing had been decided. Then questions that are out of use are left out, and
kept items take their places, so that a decision about one item does not change the others.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from bank import checks, cues, guessing
from bank.build._prior import Old, Prior
from bank.cues import packed
from bank.draw import Kept, kept_of
from bank.identity import identifier_of
from bank.model import Choice, Finding, Item, Locale
from bank.plans import USUAL, DrawLine, Plan
from bank.questions import calculation
from bank.summary import FromBefore, kind_of, mistakes_of

OUT_OF_USE = "suspended or retired"
STAYS = "a kept item asks the same"


class Carrying:
    """Says of each item drawn whether it may come, and where kept items belong that were not drawn again."""

    def __init__(self, plan: Plan, lines: Sequence[DrawLine], prior: Prior) -> None:
        self._prior = prior
        self._locale = plan.locale
        self._room: Counter[int] = Counter()
        """Places that kept items have, by line."""
        self._waiting: dict[str, tuple[int, Old]] = {}
        """Kept items that have not been drawn again so far, each with its line."""
        self.came: dict[str, Old] = {}
        """Kept items that were drawn again just as they are."""
        self._questions: dict[bytes, str] = {}
        self._calculations: dict[bytes, str] = {}
        """Of kept items: one whose template has other words now must not come again in them beside itself."""
        self._met: set[bytes] = set()
        """Questions out of use that were drawn and left out."""
        self._lost = {one.item: one for one in prior.lost}
        self._fates: list[FromBefore] = []
        self._findings: dict[str, list[Finding]] = {}
        self._quizzes = {line.quiz for line in lines}
        for old in prior.kept:
            wrong = self._refusal(old)
            if wrong:
                self._tell(old, f"not carried over: {wrong}")
                continue
            line = self._line_for(old, lines)
            self._room[line] += line < len(lines)
            self._waiting[old.item.identifier] = line, old
            self._questions[old.question] = old.item.identifier
            self._calculations[calculation(old.item.family, old.item.operands)] = old.item.identifier
        self.surplus = sum(line == len(lines) for line, _ in self._waiting.values())
        """Kept items for which the plan has no place; they go behind its last line."""

    def _refusal(self, old: Old) -> str:
        """Return why *old* cannot stay as it is, empty where it can."""
        if self._prior.info is None or self._prior.info.locale != self._locale:
            return "the plan writes numbers otherwise now"
        if identifier_of(old.item, self._locale) != old.item.identifier:
            return "this version of the tool would show it otherwise"
        found = checks.run_item_checks(old.item, self._locale)
        error = next((one for one in found if one.severity == "error"), None)
        if error:
            return f"check {error.check} finds: {error.wrong}"
        self._findings[old.item.identifier] = found
        return ""

    def _line_for(self, old: Old, lines: Sequence[DrawLine]) -> int:
        """Return the line that counts *old*: one of its quiz that wants such an item, else one of the pool, else none."""
        for quiz in dict.fromkeys((old.quiz, "")):
            for place, line in enumerate(lines):
                if line.quiz == quiz and self._room[place] < line.items and self.wants(line, old.item):
                    return place
        return len(lines)

    def refuses(self, kept: Kept) -> str:
        """Return why *kept* may not come; empty where it may."""
        if kept.question in self._prior.banned or kept.identifier in self._prior.out_of_use:
            self._met.add(kept.question)
            return OUT_OF_USE
        self._lost.pop(kept.identifier, None)
        stays = self._questions.get(kept.question) or self._calculations.get(kept.calculation)
        if stays is None:
            return ""
        if stays != kept.identifier:
            return STAYS
        if stays in self._waiting:
            self.came[stays] = self._waiting.pop(stays)[1]
        return ""

    def withdrawn(self) -> Iterator[tuple[Old, Kept]]:
        """Yield the items out of use that stood in a quiz which the plan has, so that answers to them can be read."""
        for old in self._prior.out:
            if old.quiz in self._quizzes - {""} and self._prior.info and self._prior.info.locale == self._locale:
                yield old, kept_of(0, old.item, old.question, b"")

    def findings(self) -> list[Finding]:
        """Return what the checks find in kept items that were not drawn again."""
        return [one for identifier in self._waiting for one in self._findings[identifier]]

    @property
    def questions(self) -> frozenset[bytes]:
        """Questions that are not to be drawn."""
        return frozenset([*self._prior.banned, *self._questions])

    def left(self) -> Iterator[tuple[int, Old, Kept]]:
        """Yield the kept items that were not drawn again, each with its line."""
        for line, old in self._waiting.values():
            item = old.item
            yield line, old, kept_of(0, item, old.question, _earned(item, self._locale))

    def wants(self, line: DrawLine, item: Item) -> bool:
        """Return whether *line* would have taken *item*, by what can be told of the item itself."""
        family, kind = item.family, kind_of(item.response)
        kind = "number" if kind == "typed" else kind
        return (
            line.template in ("", family.template) and line.topic in ("", family.topic)
            and line.response in (kind, "" if line.template or kind in USUAL else kind)
            and line.band in ("", item.prediction.band) and line.mistake in ("", *mistakes_of(item))
            and line.shows_feedback == item.shows_feedback
        )

    def say_where(self, old: Old, quiz: str) -> None:
        """Note that *old* was carried over as it was, into *quiz* or, where that is empty, into none."""
        where = f"in {quiz or 'the pool'}"
        if quiz != old.quiz:
            where += f"; the plan no longer has a place for it in {old.quiz}"
        self._tell(old, f"stays as it was, {where}")

    def _tell(self, old: Old, outcome: str) -> None:
        one = old.decision
        self._fates.append(FromBefore(one.item, one.decision, one.by, one.when, one.why, outcome))

    def fates(self) -> tuple[FromBefore, ...]:
        """Return what became of items that people decided about, where it is to be told."""
        for old in self._prior.out:
            if not old.in_use:
                continue
            place = old.quiz or "the pool"
            self._tell(old, f"replaced in {place}" if old.quiz in self._quizzes else
                       f"taken out; the plan no longer has {place}")
        told = {old.decision.item for old in self._prior.out if old.in_use}
        again = [one for question, one in self._prior.banned.items() if question in self._met and one.item not in told]
        rows = [FromBefore(one.item, one.decision, one.by, one.when, one.why, "not drawn again") for one in again]
        lost = [FromBefore(one.item, one.decision, one.by, one.when, one.why, "was not in the bank here, and was not drawn"
                           " again") for one in self._lost.values()]
        return (*self._fates, *rows, *lost)


def _earned(item: Item, locale: Locale) -> bytes:
    """Return what guessers earn on *item*, as `bank.draw.Kept.earned`."""
    response = item.response
    if not isinstance(response, Choice):
        kind = kind_of(response)
        return guessing.earned(item, kind, locale) if guessing.size_of(kind) else b""
    numerals = [option.numeral for option in response.options]
    figures = () if response.order == "as-in-stem" else cues.stem_figures(item.operands)
    return packed.credits(numerals, next(at for at, one in enumerate(response.options) if one.is_key), figures)
