"""From results to the next lesson: the mistakes that matter in a class, an item that shows each, a quiz to go on with.

A mistake matters where the answers of at least two pupils fit it again and again, or where far more answers fit it
than spreading the wrong answers evenly would give. Its quiz is made of items of the bank that these pupils have not
met and nobody has suspended or retired: items in no quiz first; where they do not suffice, practice items of quizzes
that were not answered, which is said.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

from bank import mistakes
from bank.audit.class_mistakes import ClassMistake, Explained
from bank.decisions import OUT_OF_USE, Decision
from bank.audit.explained import Explainer, explainer
from bank.audit.offers import offers_of
from bank.identity import with_feedback
from bank.mistakes import Mistake
from bank.model import BankInfo, Item, Quiz, Section, TypedNumber
from bank.store import Bank, pack, write_bank
from bank.summary import BuildSummary, kind_of, to_json

PUPILS = 2
"""Pupils whose answers fit a mistake again and again before it matters. Our own choice."""
BEYOND = 0.001
"""Chance by guesses and slips under which a mistake matters though hardly any pupil had the chances. Our own choice."""
ANSWERS = 3
"""Answers that it then takes at least."""
QUIZ_ITEMS = 5
"""Items of a quiz for one mistake, where the bank has so many. Our own choice: a few minutes' work."""


class Fresh(NamedTuple):
    """An item that these pupils have not met."""

    item: Item
    wrong: str
    """The answer that fits the mistake, as it is written."""
    others: int
    """Other mistakes that the same answer fits: the fewer, the clearer."""
    quiz: str
    """Title of the practice quiz that it is taken from; empty where it was in none."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """What the page says of one mistake."""

    mistake: Mistake
    row: ClassMistake
    example: Fresh | None
    """An item to show on the board, of the quizzes that were answered."""
    quiz: Quiz | None
    fresh: tuple[Fresh, ...]
    """Items of the quiz in its order."""

    @property
    def borrowed(self) -> tuple[str, ...]:
        """Titles of the practice quizzes that items were taken from."""
        return tuple(dict.fromkeys(one.quiz for one in self.fresh if one.quiz))


@dataclass(frozen=True, kw_only=True, slots=True)
class Lesson:
    """The next lesson of a class."""

    info: BankInfo
    group: str
    pupils: int
    quizzes: tuple[str, ...]
    """Titles of the quizzes that were answered."""
    simulated: bool
    parts: tuple[Part, ...]
    more: int
    """Mistakes that matter too and are left for another day."""


def mattering(rows: Iterable[ClassMistake], group: str = "") -> list[ClassMistake]:
    """Return the mistakes that matter in *group* (empty: all pupils), those of most pupils first."""
    found = [row for row in rows if row.group == group and _matters(row)]
    return sorted(found, key=lambda row: (-row.pupils, -(row.shown - row.guessed), row.mistake))


def _matters(row: ClassMistake) -> bool:
    if row.pupils >= PUPILS:
        return True
    return row.shown >= ANSWERS and row.beyond_guessing < BEYOND


def plan_lesson(
    bank: Bank, explained: Explained, used: Collection[str], held: Mapping[tuple[str, int], Decision], *, pupils: int,
    quizzes: Sequence[str], group: str = "", simulated: bool = False, most: int = 3,
    items: int = QUIZ_ITEMS,
) -> Lesson:
    """Return the lesson for the *most* weighty mistakes; *used* are ids of items that pupils have met.

    A fresh item serves one mistake only: for the weightier one it is taken first. The example is an item of the quizzes
    that were answered, the one with most answers that fit the mistake and no other.
    """
    known = mistakes.load()
    weighty = [row for row in mattering(explained.classes, group) if row.mistake in known]
    shelf = _Shelf(bank, used, held, {row.mistake for row in weighty[:most]})
    parts = []
    for row in weighty[:most]:
        before = {part.example.item.identifier for part in parts if part.example}
        example = _example(bank, explained, row.mistake, before)
        fresh = _ordered(shelf.take(row.mistake, items))
        parts.append(Part(
            mistake=known[row.mistake], row=row, example=example, fresh=fresh,
            quiz=_quiz(known[row.mistake], fresh, len(parts) + 1) if fresh else None,
        ))
    return Lesson(
        info=bank.info, group=group, pupils=pupils, quizzes=tuple(quizzes), simulated=simulated, parts=tuple(parts),
        more=max(0, len(weighty) - most),
    )


def _example(bank: Bank, explained: Explained, mistake: str, shown_before: Collection[str]) -> Fresh | None:
    """Return the answered item, of the bank's version, whose answers show *mistake* best; not one *shown_before*."""
    fitting = [one for one in explained.items if mistake in one.mistakes]
    for one in sorted(fitting, key=lambda one: (one.item in shown_before, len(one.mistakes), -one.n, one.item)):
        item = next(bank.items([one.item]))
        if item.family.version == one.version:
            shown = _wrong_answer(item, explainer(item, bank.info.locale), mistake, bank)
            if shown is not None:
                return Fresh(item, *shown, "")
    return None


class _Shelf:
    """Items that may be taken, by mistake, the best first."""

    def __init__(
        self, bank: Bank, used: Collection[str], held: Mapping[tuple[str, int], Decision], wanted: Collection[str]
    ) -> None:
        self._taken: set[str] = set()
        self._by_mistake: dict[str, list[Fresh]] = {}
        practice, planned = _planned(bank)
        for item in bank.items():
            decided = held.get((item.identifier, item.family.version))
            name = item.identifier
            is_out = decided is not None and decided.decision in OUT_OF_USE
            if name in used or is_out or (name in planned and name not in practice):
                continue
            if not item.shows_feedback:
                item = with_feedback(item, bank.info.locale)
            known = explainer(item, bank.info.locale)
            for mistake in set(known.possible).intersection(wanted):
                shown = _wrong_answer(item, known, mistake, bank)
                if shown is not None:
                    wrong, others = shown
                    self._by_mistake.setdefault(mistake, []).append(Fresh(item, wrong, others, practice.get(name, "")))
        for found in self._by_mistake.values():
            found.sort(key=lambda one: (bool(one.quiz), one.others))

    def take(self, mistake: str, count: int) -> list[Fresh]:
        """Return up to *count* items that show *mistake*, as many templates as can be, and keep them from others."""
        free = [one for one in self._by_mistake.get(mistake, ()) if one.item.identifier not in self._taken]
        chosen: list[Fresh] = []
        times: dict[str, int] = {}
        while free and len(chosen) < count:
            best = min(free, key=lambda one: (bool(one.quiz), times.get(one.item.family.template, 0), one.others))
            free.remove(best)
            chosen.append(best)
            times[best.item.family.template] = times.get(best.item.family.template, 0) + 1
            self._taken.add(best.item.identifier)
        return chosen


def _planned(bank: Bank) -> tuple[dict[str, str], set[str]]:
    """Return the items of practice quizzes with the title of the first, and the items of any quiz."""
    practice: dict[str, str] = {}
    other: set[str] = set()
    for quiz in bank.quizzes:
        for item in quiz.items:
            if quiz.use == "practice":
                practice.setdefault(item, quiz.title)
            else:
                other.add(item)
    return {item: title for item, title in practice.items() if item not in other}, set(practice) | other


def _wrong_answer(item: Item, known: Explainer, mistake: str, bank: Bank) -> tuple[str, int] | None:
    """Return the answer to *item* that fits *mistake*, in words, and how many other mistakes it fits."""
    number = bank.info.locale.number
    for one in offers_of(item, bank.info.locale):
        if mistake in one.mistakes and not one.is_key and not one.foreseen:
            return one.text, len(set(one.mistakes)) - 1
    if isinstance(item.response, TypedNumber):
        family = item.family
        options = mistakes.options_for(family.operation, family.layout, family.rounding)
        record = mistakes.load()[mistake]
        for _, wrong in mistakes.outcomes([record], item.operands, item.key, **options):
            text = number(wrong)
            return text, max(0, len(known.explain(text)) - 1)
    return None


def _ordered(fresh: Sequence[Fresh]) -> tuple[Fresh, ...]:
    """Return the items in order: what is chosen first, then what is typed; in each the easier ones first."""
    return tuple(sorted(fresh, key=lambda one: (kind_of(one.item.response) == "typed", one.item.prediction.score)))


def _quiz(mistake: Mistake, fresh: Sequence[Fresh], number: int) -> Quiz:
    chosen = tuple(one.item.identifier for one in fresh if kind_of(one.item.response) != "typed")
    typed = tuple(one.item.identifier for one in fresh if kind_of(one.item.response) == "typed")
    sections = tuple(
        Section(title=title, items=items) for title, items in
        (("Choose the answer", chosen), ("Type the answer", typed)) if items
    )
    name = "next-" + mistake.identifier.replace(".", "-")
    return Quiz(identifier=name, title=f"Practice {number}: {mistake.topic}", week=1, sections=sections, use="practice")


def write_lesson_bank(lesson: Lesson, path: Path) -> None:
    """Write a bank with the lesson's quizzes and their items to *path*, for ``stemwright export``.

    The quizzes' titles do not name the mistake: pupils see them.

    Raises:
        BadInput: the file cannot be written (``cannot-write``).
    """
    items = [one.item for part in lesson.parts for one in part.fresh]
    families = {item.family.template: item.family for item in items}
    kind = "Next lesson (simulated results)" if lesson.simulated else "Next lesson"
    info = replace(lesson.info, title=f"{kind}, from: {lesson.info.title}")
    write_bank(
        path, info, [families[name] for name in sorted(families)], [part.quiz for part in lesson.parts if part.quiz],
        [(item.identifier, item.family.template, item.prediction.band, pack(item)) for item in items],
        to_json(BuildSummary()),
    )
