"""The sampler: a small invented bank that holds every feature of the model, for the exporters' tests.

All people, prices and lengths in it are invented. Items are valid in the model's sense; their keys come from the
written methods. Wrong options and the mistakes that lead there are given, so that the golden files do not change with
every mistake that the library learns.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any

from bank.model import BankInfo, Family, Item, Locale, Prediction, Quiz, Section
from bank.store import ItemAnswers, ItemRow, answers_of, fingerprint_of, pack, write_bank
from items import COMMA, POINT, item

EITHER = replace(COMMA, identifier="en-either", also_accepted_marks=(".",))
"""A comma locale that takes the point too where it is not ambiguous."""

_PREDICTION = Prediction(band="middle", score=120, low_share=410, high_share=830)
"""Invented, so that golden files do not change with the weights."""

_ITEMS: tuple[dict[str, Any], ...] = (
    {"operation": "add", "operands": ("3.47", "2.8"), "offered": (
        "5.27 add.carry-forgotten", "6.27", "7.17 add.carry-digit-swapped", "7.27 add.carry-added-twice"),
     "stem": ("Work out [3.47 + 2.8 = ?].",), "of": {
        "title": "Adding with carries", "hint": ("Write the points below one another.",),
        "praise": ("Yes: #2.8 is the same as #2.80.",)}},
    {"operation": "add", "operands": ("12.35", "4.8", "0.65"), "offered": (
        "13.48 add.lined-up-on-the-right", "17.70 add.unmatched-digits-dropped", "17.80"),
     "stem": ("Ines pays #12.35, #4.80 and #0.65 dollars.", "How much is that?"),
     "of": {"title": "A bill of three", "unit": {"text": "$", "before": True, "spoken": "dollars"}, "places": 2,
            "context": True}},
    {"operation": "subtract", "operands": ("40.03", "7.58"), "typed": True,
     "typed_mistakes": (("33.45", ("subtract.borrow-not-paid-at-the-point", "subtract.zero-becomes-nine-only")),
                        ("33.52", ("subtract.ten-minus-bottom",)), ("47.61", ("subtract.added-instead",)),
                        ("32.35", ("subtract.borrow-paid-twice",))),
     "stem": ("Zo\u00eb\u2019s rope is #40.03 m long. She cuts off #7.58 m.", "How long is the rest?"),
     "of": {"title": "The rest of a rope", "unit": "m", "context": True, "hint": ("Which number is the whole?",)}},
    {"operation": "subtract", "operands": ("6.2", "3.847"), "offered": (
        "1.343 subtract.borrow-paid-twice", "2.353", "2.363 subtract.nothing-taken-from-zero",
        "2.447 subtract.unmatched-digits-copied subtract.zero-minus-n-is-n", "2.453 subtract.zero-becomes-nine-only"),
     "of": {"title": "Subtracting by equal additions", "layout": "equal-additions"}},
    {"operation": "multiply", "operands": ("3.4", "2.57"), "offered": (
        "0.8738 multiply.one-place-too-many", "5.97 multiply.added-instead", "8.738"),
     "of": {"title": "Two decimals multiplied"}},
    {"operation": "multiply", "operands": ("1.35", "6"), "typed": True, "policy": "places",
     "typed_mistakes": (("0.81", ("multiply.one-place-too-many",)), ("7.35", ("multiply.added-instead",))),
     "stem": ("A jar costs $#1.35.", "What do 6 jars cost?"),
     "of": {"title": "The price of jars", "unit": {"text": "$", "before": True}, "places": 2, "context": True,
            "praise": ("Right, with both places.", "Money is written so.")}},
    {"operation": "divide", "operands": ("8.64", "2.4"), "offered": (
        "0.36 divide.only-divisor-made-whole", "3.06 divide.extra-zero-after-the-point", "3.6",
        "36 divide.each-made-whole-by-itself divide.point-one-place-right"),
     "of": {"title": "Dividing by a decimal"}},
    {"operation": "divide", "operands": ("7.3", "0.6"), "typed": True, "policy": "places",
     "typed_mistakes": (("12.16", ("divide.cut-instead-of-rounded",)),
                        ("12.1", ("divide.remainder-as-decimal-digits",))),
     "stem": ("Work out [7.3 / 0.6], rounded to hundredths.",),
     "of": {"title": "A quotient that does not end", "rounding": 2, "places": 2}},
    {"operation": "compare", "operands": ("0.45", "0.8", "0.305", "0.62"), "offered": (
        "0.45", "0.8", "0.305 compare.more-digits-wins compare.part-as-whole-number compare.wrong-end", "0.62"),
     "of": {"title": "The largest of four", "layout": "largest"}},
    {"operation": "compare", "operands": ("1.09", "1.1", "1.011"), "offered": (
        "1.09 compare.zero-after-point-then-longer", "1.1 compare.more-digits-wins compare.wrong-end", "1.011"),
     "of": {"title": "The smallest of three", "layout": "smallest", "show_solution": False}},
    {"operation": "round", "operands": ("29.963",), "offered": (
        "29.9 round.cut-off round.last-digit-decides", "29.96 round.place-one-too-far", "30.0"),
     "of": {"title": "Rounding to tenths", "rounding": 1, "places": 1},
     "stem": ("Round #29.963 to tenths.",)},
    {"operation": "round", "operands": ("480.51",), "typed": True, "typed_mistakes": (("480", ("round.cut-off",)),),
     "stem": ("Round #480.51 to a whole number.",),
     "of": {"title": "Rounding to ones", "rounding": 0, "show_solution": False}},
    {"operation": "add", "operands": ("0.4", "0.35"), "offered": (
        "0.05 add.subtracted-instead", "0.075 add.places-added-up",
        "0.39 add.lined-up-on-the-right add.sides-added-separately", "0.75"),
     "stem": ('A <b>bold</b> & "quoted" ]]> 100 % sum {x}: [0.4 + 0.35].',),
     "of": {"title": 'Text like <markup> & "quotes" 50 %s', "hint": ("50 % of <all> & more",)}},
    {"operation": "add", "operands": ("23456.7", "8.04"), "typed": True,
     "typed_mistakes": (("23465.74", ("add.no-such-mistake",)),), "of": {"title": "A long sum"}},
    {"operation": "subtract", "operands": ("1", "0.36"), "typed": True, "typed_mistakes": (),
     "of": {"title": "Below one", "codes": ()}},
)  # fmt: skip


def items() -> tuple[Item, ...]:
    """Return the sampler's items, in order."""
    made = []
    for number, parts in enumerate(_ITEMS, 1):
        given = dict(parts)
        operation = given.pop("operation")
        name = f"{operation}-{number:02}"
        if "offered" in given:
            options = [option.split() for option in given["offered"]]
            given["offered"] = [{"number": number, "mistakes": names} for number, *names in options]
        given["of"] = {"template": name, "topic": f"decimals-{operation}", **given["of"]}
        made.append(item(operation, identifier=f"{name}.v1-s{number}", prediction=_PREDICTION, **given))
    return tuple(made)


SILENT = "-silent"
"""Ends the id of an item that was made silent for a quiz without feedback."""


def apart(items: Sequence[Item], quizzes: Sequence[Quiz]) -> tuple[tuple[Item, ...], tuple[Quiz, ...]]:
    """Return *items* and *quizzes* where quizzes without feedback hold silent twins of their items, added at the end."""
    shown = {one.identifier: one for one in items if one.shows_feedback}
    twins: dict[str, Item] = {}

    def twin(name: str) -> str:
        alike = shown.get(name.removesuffix(SILENT))
        if alike is not None:
            name = alike.identifier + SILENT
            twins[name] = replace(alike, identifier=name, shows_feedback=False)
        return name

    made = tuple([
        quiz if quiz.show_feedback else replace(quiz, sections=tuple([
            replace(section, items=tuple(map(twin, section.items))) for section in quiz.sections
        ]))
        for quiz in quizzes
    ])
    there = {one.identifier for one in items}
    return (*items, *[one for name, one in twins.items() if name not in there]), made


ITEMS = items()
NAMES = tuple(one.identifier for one in ITEMS)
_, QUIZZES = apart(ITEMS, (
    Quiz(identifier="week-01-a", title="Week 1: sums & differences", week=1, minutes=0, sections=(
        Section(title="Warming up", items=NAMES[:4]), Section(title='Going <on> "further"', items=NAMES[4:8]))),
    Quiz(identifier="week-02-test", title="Week 2, test", week=2, use="graded", show_feedback=False, minutes=25,
         calculator=True, sections=(Section(title="All", items=(NAMES[2], NAMES[4], NAMES[9], NAMES[12])),)),
    Quiz(identifier="week-03-b", title="Week 3", week=3, use="diagnosis", minutes=15,
         sections=(Section(title="All", items=(NAMES[13], NAMES[0], *NAMES[8:13], NAMES[14])),)),
))  # fmt: skip
"""Practice, graded without feedback, diagnosis; some items stand in several."""


def info(locale: Locale = POINT) -> BankInfo:
    """Return what the sampler says of itself."""
    return BankInfo(
        title="Sampler", plan="sampler", seed=7, locale=locale, tool_version="0.0-sampler", invented=True,
        rights="Free to use in class.", checksum="0f1e",
    )


@dataclass(frozen=True)
class SamplerBank:
    """A bank in memory, as exporters read one."""

    info: BankInfo
    quizzes: tuple[Quiz, ...]
    kept: tuple[Item, ...]
    unlisted: frozenset[str] = frozenset()
    """As `bank.store.Shelf.unlisted`."""

    @property
    def count(self) -> int:
        """Number of items listed."""
        return len(self._listed)

    @property
    def _listed(self) -> tuple[Item, ...]:
        return tuple([one for one in self.kept if one.identifier not in self.unlisted])

    def delivered(self) -> SamplerBank:
        """Return the bank as it is exported: items of quizzes without feedback are not listed."""
        silent = [item for quiz in self.quizzes if not quiz.show_feedback for item in quiz.items]
        return replace(self, unlisted=frozenset(silent), info=replace(self.info, in_part=bool(silent)))

    @property
    def families(self) -> dict[str, Family]:
        """Families by template id."""
        return {one.family.template: one.family for one in self.kept}

    def identifiers(self) -> list[str]:
        """Return the ids of the items listed, in bank order."""
        return [one.identifier for one in self._listed]

    def templates_of(self, identifiers: Sequence[str]) -> list[str]:
        """Return the template ids of the items named."""
        return [one.family.template for one in self.items(identifiers)]

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None,
        solutions: bool = True, answers_only: bool = False,
    ) -> Iterator[Item]:
        """Give the items named, or those from *start* up to before *stop*."""
        if identifiers is None:
            return islice(self._listed, start, stop)
        by_name = {one.identifier: one for one in self.kept}
        return iter([by_name[name] for name in identifiers])

    def answers(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[ItemAnswers]:
        """Give what scoring hangs on of the same items."""
        return map(answers_of, self.items(identifiers, start=start, stop=stop))

    def alike(self) -> Iterator[tuple[str, str]]:
        """Give ids of the items; each is like no other."""
        return ((one.identifier, one.identifier) for one in self._listed)

    def save(self, path: Path) -> Path:
        """Write the bank as a bank file and return its path."""
        write_bank(path, self.info, self.families.values(), self.quizzes, rows(self.kept), "{}")
        return path


def bank(locale: Locale = POINT, items: Sequence[Item] = ITEMS, quizzes: Sequence[Quiz] = QUIZZES) -> SamplerBank:
    """Return the sampler in *locale*; quizzes without feedback get items of their own, see `apart`."""
    items, quizzes = apart(items, quizzes)
    families = {one.family.template: one.family for one in items}
    said = info(locale)
    made = fingerprint_of(said, families.values(), quizzes, rows(items), "{}")
    return SamplerBank(replace(said, fingerprint=made), tuple(quizzes), tuple(items))


def rows(items: Sequence[Item]) -> list[ItemRow]:
    """Return what the store keeps of *items*."""
    return [(one.identifier, one.family.template, one.prediction.band, pack(one)) for one in items]
