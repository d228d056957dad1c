"""What a target cannot carry of a quiz: remarks that each exporter declares next to its own code.

A remark has a code, an effect, a sentence for a teacher, and says when it holds: of an item (`Remark`), or of a quiz
as a whole (`QuizRemark`; the whole bank has no quiz). An exporter module may have

- ``REMARKS`` and ``QUIZ_REMARKS``: tuples of remarks;
- ``refusal(item)``: why an item must be left out, for it cannot be marked right; empty where it can;
- ``as_asked(item)``: the item with what is asked and credited there, where it is less than the bank asks;
- ``TABLES``: true where all items go into one set of files, not one package a quiz.
"""

from __future__ import annotations

from collections.abc import Callable
from types import ModuleType
from typing import NamedTuple

from bank.marking import most_marks
from bank.mistakes import FORESEEN
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, Expression, FindMistake, Item, MatchPairs, PutInOrder, Quiz, TypedNumber,
)
from bank.numerals import Numeral

LEFT_OUT, CHANGED, NOT_CARRIED, DEPENDS = "left out", "changed", "not carried", "depends on the LMS"
EFFECTS = {
    LEFT_OUT: "is not in the package, for it could not be marked right there",
    CHANGED: "is asked or shown in another way",
    NOT_CARRIED: "is in the package without something that the bank says of it",
    DEPENDS: "is in the package as it should be; whether it is shown so depends on the LMS",
}
"""Effects, the gravest first, and what an item with one does."""
KINDS = {
    Choice: "choose one", TypedNumber: "typed number", ChooseSeveral: "choose several", PutInOrder: "put in order",
    MatchPairs: "match pairs", ChooseInLine: "choose in the line", FindMistake: "find the mistake",
}  # fmt: skip
"""Kinds of response in words."""


class Remark(NamedTuple):
    """Something that a target cannot carry of an item."""

    code: str
    effect: str
    """One of `EFFECTS`, but not `LEFT_OUT`: that is said by the exporter's ``refusal``."""
    says: str
    holds: Callable[[Item], bool]
    """Looks at words, kind, family and number of answers, never at the numbers: it is asked once for items of the same
    kind that differ in numbers only."""
    of_feedback: bool = False
    """Whether it is about feedback, and so holds only where feedback is given."""


class QuizRemark(NamedTuple):
    """Something that a target cannot carry of a quiz, or of the bank."""

    code: str
    effect: str
    says: str
    holds: Callable[[Quiz | None], bool]


class Target(NamedTuple):
    """What an exporter declares."""

    name: str
    title: str
    remarks: tuple[Remark, ...]
    quiz_remarks: tuple[QuizRemark, ...]
    refusal: Callable[[Item], str]
    tables: bool
    as_asked: Callable[[Item], Item]


def target_of(exporter: ModuleType) -> Target:
    """Return what the module of an exporter declares."""
    return Target(
        exporter.NAME, exporter.TITLE, tuple(getattr(exporter, "REMARKS", ())),
        tuple(getattr(exporter, "QUIZ_REMARKS", ())), getattr(exporter, "refusal", _carries_all),
        bool(getattr(exporter, "TABLES", False)), getattr(exporter, "as_asked", _as_it_is),
    )


def _as_it_is(item: Item) -> Item:
    return item


def _carries_all(item: Item) -> str:
    return ""


def kind_of(item: Item) -> str:
    """Return the kind of *item* in words."""
    return KINDS[type(item.response)]


# What remarks may ask of an item.


def any_item(item: Item) -> bool:
    """Return true."""
    return True


def asks(*kinds: type) -> Callable[[Item], bool]:
    """Return what says whether an item's response is one of *kinds*."""
    return lambda item: isinstance(item.response, kinds)


def _holds(item: Item, *kinds: type) -> bool:
    """Return whether the stem, or what is offered besides plain options, holds a leaf of one of *kinds*."""
    for line in item.stem:
        for leaf in line:
            if type(leaf) in kinds:
                return True
    response = item.response
    if isinstance(response, Choice | TypedNumber | ChooseInLine | FindMistake):
        return False
    offers = (
        response.options if isinstance(response, ChooseSeveral) else response.offers
        if isinstance(response, PutInOrder) else (*response.sources, *response.targets)
    )
    return any([type(leaf) in kinds for offer in offers for leaf in offer.text])


def foresees_more(item: Item) -> bool:
    """Return whether more wrong answers are foreseen to what is typed alone than packages tell a remedy of their own."""
    return isinstance(item.response, TypedNumber) and len(item.response.mistakes) > FORESEEN


FEW_REMEDIES = Remark(
    "few-remedies", NOT_CARRIED,
    f"Only {FORESEEN} of the wrong answers foreseen get a remedy of their own. All other wrong answers get the hint.",
    foresees_more, of_feedback=True,
)
"""Of every target that has feedback."""


def has_expression(item: Item) -> bool:
    """Return whether the stem, or what is offered, holds an expression; steps of a working are sentences."""
    return _holds(item, Expression)


def speaks_numbers(item: Item) -> bool:
    """Return whether stem, options or offers hold numbers or expressions; how they are read aloud can be said of those."""
    return isinstance(item.response, Choice) or _holds(item, Numeral, Expression)


def has_parts(item: Item) -> bool:
    """Return whether a part of the right answer earns a part of the marks."""
    return most_marks(item.response) > 1


def is_typed(item: Item) -> bool:
    """Return whether a number is typed, alone or besides something else."""
    response = item.response
    return isinstance(response, TypedNumber) or isinstance(response, FindMistake) and response.typed is not None


def types_besides(item: Item) -> bool:
    """Return whether a number is typed besides a step that is marked."""
    return isinstance(item.response, FindMistake) and item.response.typed is not None


def has_codes(item: Item) -> bool:
    """Return whether the item has curriculum codes."""
    return bool(item.family.codes)


# What remarks may ask of a quiz.


def any_quiz(quiz: Quiz | None) -> bool:
    """Return true, also of the bank."""
    return True


def has_sections(quiz: Quiz | None) -> bool:
    """Return whether there are several sections."""
    return quiz is not None and len(quiz.sections) > 1


def asks_a_part(quiz: Quiz | None) -> bool:
    """Return whether each pupil is asked a part of the items only."""
    return quiz is not None and any([section.select for section in quiz.sections])


def draws_lots(quiz: Quiz | None) -> bool:
    """Return whether pupils meet other items, or the items in another order."""
    return quiz is not None and (quiz.shuffled or asks_a_part(quiz))


def is_quiz(quiz: Quiz | None) -> bool:
    """Return whether it is a quiz and not the bank."""
    return quiz is not None


def gives_feedback(quiz: Quiz | None) -> bool:
    """Return whether feedback is given; with the bank it is."""
    return quiz is None or quiz.show_feedback
