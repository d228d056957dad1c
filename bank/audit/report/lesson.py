"""The page of the next lesson: made to be printed on one sheet where three mistakes matter."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

from markupsafe import Markup

from bank import slips
from bank.audit.class_mistakes import ClassMistake
from bank.audit.lesson import QUIZ_ITEMS, Fresh, Lesson, Part
from bank.audit.offers import asked_words, key_words
from bank.audit.report._page import write_page
from bank.mistakes import remedy, seen_of
from bank.model import Locale, Trace
from bank.review import working, writing
from bank.slips import Working


class QuizLine(NamedTuple):
    """An item of a quiz on one line."""

    asked: str
    key: str
    wrong: str


class PartView(NamedTuple):
    """What the page says of one mistake, ready for the template."""

    name: str
    row: ClassMistake
    does: str
    feedback: str
    evidence: str
    example: bool
    stem: tuple[Markup, ...]
    wrong: str
    others: int
    key: str
    wrong_working: Markup
    wrong_steps: tuple[Markup, ...]
    working: Markup
    has_rows: bool
    steps: tuple[Markup, ...]
    quiz_title: str
    quiz_id: str
    items: tuple[QuizLine, ...]
    borrowed: tuple[str, ...]
    missing: bool


def write_lesson(lesson: Lesson, path: Path, made_on: str) -> None:
    """Write the page of *lesson* to *path*.

    Raises:
        BadInput: the file cannot be written.
    """
    views = [_view(part, lesson.info.locale) for part in lesson.parts]
    write_page(
        path, "lesson.html", lesson=lesson, info=lesson.info, parts_shown=views,
        has_quizzes=any(part.quiz for part in lesson.parts), facts=(("Made on", made_on), ("For", "the teacher")),
    )


def _view(part: Part, locale: Locale) -> PartView:
    mistake, example = part.mistake, part.example
    item = example.item if example else None
    wrong = _wrong_working(part, example, locale) if example else None
    return PartView(
        name=mistake.name, row=part.row, does=mistake.learner_does, feedback=_remedy(part),
        evidence=mistake.evidence, example=item is not None, stem=writing.lines(item.stem, locale) if item else (),
        wrong=example.wrong if example else "", others=example.others if example else 0,
        key=key_words(item, locale) if item else "",
        wrong_working=working.table(wrong.trace, locale) if wrong else Markup(""),
        wrong_steps=writing.lines([wrong.trace.steps[place] for place in wrong.wrong[:1]], locale) if wrong else (),
        working=_table(item.solution, locale) if item else Markup(""), has_rows=bool(item and item.solution.rows),
        steps=writing.lines(item.solution.steps, locale) if item else (),
        quiz_title=part.quiz.title if part.quiz else "", quiz_id=part.quiz.identifier if part.quiz else "",
        items=tuple(
            QuizLine(asked_words(one.item, locale), key_words(one.item, locale), one.wrong) for one in part.fresh
        ),
        borrowed=part.borrowed, missing=len(part.fresh) < QUIZ_ITEMS,
    )


def _remedy(part: Part) -> str:
    """Return the remedy of the part's mistake, as it fits the example where there is one."""
    example, mistake = part.example, part.mistake
    found = remedy(seen_of(example.item), (mistake.identifier,)) if example else None
    return found[1].words if found else mistake.feedback


def _table(trace: Trace, locale: Locale) -> Markup:
    return working.table(trace, locale) if trace.rows else Markup("")


def _wrong_working(part: Part, example: Fresh, locale: Locale) -> Working | None:
    """Return how a learner with the mistake writes the example, where that is known and gives the very answer."""
    known = slips.load()
    if part.mistake.identifier not in known or not example.item.solution.rows:
        return None
    made = known[part.mistake.identifier].procedure(*example.item.operands)
    if made is None or not made.trace.rows or locale.number(made.trace.result) != example.wrong:
        return None
    return made
