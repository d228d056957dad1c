"""A bank made by hand, of any size, with every kind of item: for the review page and the tables of values.

All of it is invented. Numbers run through fixed sequences, so that the same size always gives the same bank.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from bank import methods, mistakes
from bank.model import (
    BankInfo, Choice, Expression, Family, Finding, Item, Line, Locale, Option, Prediction, Quiz, Response, Section,
    TypedNumber, Unit,
)
from bank.numerals import Numeral
from bank.store import ItemAnswers, answers_of
from bank.summary import BuildSummary, FamilyYield, StrategyResult, Tally

POINT = Locale(identifier="en-point", language="en")
COMMA = Locale(
    identifier="de-comma", language="de", decimal_mark=",", multiplication="\u00b7", division=":", list_separator=";"
)
BANDS = ("easier", "middle", "harder")


def family(template: str, topic: str, operation: str, **more: object) -> Family:
    """Return a family with a title made from its id."""
    title = template.replace("-", " ").capitalize()
    return Family(
        template=template, version=1, title=title, topic=topic, codes=("OWN 6.2",), operation=operation,
        hint=(("Line up the digits by their place before you begin.",),), checksum="5a31", **more,  # type: ignore
    )


FAMILIES = (
    family("add-ragged", "decimal-addition", "add"),
    family("add-lengths", "decimal-addition", "add", unit=Unit(text="m"), context=True),
    family("subtract-across-zero", "decimal-subtraction", "subtract", layout="decomposition"),
    family("subtract-equally", "decimal-subtraction", "subtract", layout="equal-additions"),
    family("change-from-a-note", "money", "subtract", unit=Unit(text="$", before=True), places=2, context=True),
    family("multiply-two-decimals", "decimal-multiplication", "multiply"),
    family("divide-by-tenths", "decimal-division", "divide"),
    family("divide-and-round", "decimal-division", "divide", rounding=2, show_solution=False),
    family("largest-of-four", "comparing-decimals", "compare", layout="largest"),
    family("round-to-tenths", "rounding", "round", rounding=1),
)


def operands_of(one: Family, index: int) -> tuple[Numeral, ...]:
    """Return the *index*-th operands of a family."""
    spread = (index * 7919 + 613) % 8087
    tenths, thousandths = Numeral(17 + spread % 983, 1), Numeral(1009 + spread, 3)
    hundredths = Numeral(203 + spread % 1795, 2)
    match one.template:
        case "add-ragged":
            return tenths, thousandths, hundredths
        case "add-lengths":
            return hundredths, tenths
        case "subtract-across-zero" | "subtract-equally":
            return Numeral(1002 + spread % 37 * 10, 2), thousandths
        case "change-from-a-note":
            return Numeral(2000, 2), Numeral(203 + spread % 1700, 2)
        case "multiply-two-decimals":
            return Numeral(12 + spread % 87, 1), Numeral(13 + spread % 89, 2)
        case "divide-by-tenths":
            return Numeral((12 + spread % 87) * (3 + spread % 6), 2), Numeral(3 + spread % 6, 1)
        case "divide-and-round":
            return hundredths, Numeral(7 + spread % 6, 1)
        case "largest-of-four":
            whole = 1 + spread % 8
            figures = ((whole * 10 + 6, 1), (whole * 100 + 57, 2), (whole * 1000 + 489, 3), (whole * 100 + 8, 2))
            return tuple(Numeral(coefficient, places) for coefficient, places in figures)
        case _:
            return (Numeral(1009 + spread, 3),)


def stem_of(one: Family, operands: tuple[Numeral, ...]) -> tuple[Line, ...]:
    """Return a stem in plain words."""
    first, last = operands[0], operands[-1]
    if one.template == "change-from-a-note":
        return (
            ("Ilka buys lamp oil for $", last, " at the harbour shop of Quell and pays with $", first, "."),
            ("How much change does she get?",),
        )
    if one.template == "add-lengths":
        return (("Two ropes of ", first, " m and ", last, " m are tied end to end."), ("How long are they together?",))
    if one.operation == "compare":
        between: list[str | Numeral] = [operands[0]]
        for operand in operands[1:]:
            between += ["; ", operand]
        return (("Which number is the largest?",), tuple(between))
    if one.operation == "round":
        return (("Round ", first, " to one decimal place.",),)
    sign = {"add": "+", "subtract": "-", "multiply": "*", "divide": "/"}[one.operation]
    parts: list[Numeral | str] = [first]
    for operand in operands[1:]:
        parts += [sign, operand]
    words = "Work out, rounded to two decimal places: " if one.rounding else "Work out: "
    return ((words, Expression((*parts, "=", "?"))),)


def item(one: Family, index: int, typed: bool = False) -> Item:
    """Return the *index*-th item of a family."""
    operands = operands_of(one, index)
    trace = methods.run(one.operation, operands, layout=one.layout, places=one.rounding)
    key = trace.result if one.places is not None or one.operation == "compare" else trace.result.normal()
    options = mistakes.options_for(one.operation, one.layout, one.rounding)
    outcomes: dict[Numeral, list[str]] = {}
    for record, wrong in mistakes.outcomes(mistakes.of_operation(one.operation), operands, key, **options):
        outcomes.setdefault(wrong, []).append(record.identifier)
    start = index % max(1, len(outcomes))
    chosen = (list(outcomes.items()) * 2)[start : start + min(3, len(outcomes))]
    response: Response
    if typed or len(chosen) < 2:
        response = TypedNumber(
            policy="places" if one.places else "value",
            mistakes=tuple((_written(wrong, one), tuple(ids)) for wrong, ids in sorted(chosen)),
        )
    else:
        answers = sorted([(key, True, ()), *((wrong, False, tuple(ids)) for wrong, ids in chosen)])
        response = Choice(
            options=tuple(
                Option(identifier="ABCDE"[place], numeral=_written(value, one), is_key=is_key, mistakes=ids)
                for place, (value, is_key, ids) in enumerate(answers)
            )
        )
    low = 340 + index * 37 % 390
    return Item(
        identifier=f"{one.template}-1-{index:05}", family=one, operands=operands, key=key, response=response,
        parameters=tuple((name, operand.text()) for name, operand in zip("abcde", operands, strict=False)),
        stem=stem_of(one, operands), solution=methods.closed(trace, key, response, one.unit), features=trace.facts,
        prediction=Prediction(
            band=BANDS[index * 5 % 7 % 3], score=index % 9 * 150 - 600, low_share=low, high_share=low + 220,
            reasons=(("carries", 2, 310), ("unequal_places", 1, 205), ("context", 0, -48)),
        ),
    )


def _written(wrong: Numeral, one: Family) -> Numeral:
    plain = wrong.normal()
    return plain.with_places(max(plain.places, one.places)) if one.places is not None else plain


@dataclass(kw_only=True)
class HandMadeBank:
    """A bank in memory, read like one from a file."""

    info: BankInfo
    families: dict[str, Family]
    quizzes: tuple[Quiz, ...]
    held: dict[str, Item] = field(repr=False)

    @property
    def count(self) -> int:
        """Number of items."""
        return len(self.held)

    def identifiers(self) -> list[str]:
        """Item ids in bank order."""
        return list(self.held)

    def templates_of(self, identifiers: Sequence[str]) -> list[str]:
        """Template ids of the items named."""
        return [self.held[identifier].family.template for identifier in identifiers]

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None,
        solutions: bool = True,
    ) -> Iterator[Item]:
        """Items named, or those from *start* to *stop*."""
        for identifier in self.identifiers()[start:stop] if identifiers is None else identifiers:
            yield self.held[identifier]

    def answers(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[ItemAnswers]:
        """What scoring hangs on of the same items."""
        return map(answers_of, self.items(identifiers, start=start, stop=stop))


def make_bank(size: int = 40, locale: Locale = POINT, per_quiz: int = 8, loose: int = 3) -> HandMadeBank:
    """Return a bank of *size* items in quizzes of *per_quiz*, two a week, the last *loose* items in none."""
    made = [item(FAMILIES[index % len(FAMILIES)], index, typed=index % 6 == 4) for index in range(size)]
    held = {one.identifier: one for one in sorted(made, key=lambda one: one.identifier)}
    quizzes = []
    ids = [one.identifier for one in made[: max(0, size - loose)]]
    for number, first in enumerate(range(0, len(ids), per_quiz)):
        part = tuple(ids[first : first + per_quiz])
        sections = (Section(title="Warm-up", items=part[:3]), Section(title="Main part", items=part[3:]))
        quizzes.append(
            Quiz(
                identifier=f"q{number + 1:02}", title=f"Quiz {number + 1}: at the harbour", week=1 + number // 2,
                sections=tuple(one for one in sections if one.items),
                use="graded" if number % 4 == 3 else "practice", minutes=20 if number % 4 == 3 else 0,
                show_feedback=number % 4 != 3,
            )
        )
    info = BankInfo(
        title="Harbour school, autumn decimals", plan="harbour-autumn", seed=20417, locale=locale,
        tool_version="0.1.0", invented=True, checksum="9c41d07e", fingerprint="hand-made-none-writ",
    )
    return HandMadeBank(
        info=info, families={one.template: one for one in FAMILIES}, quizzes=tuple(quizzes), held=held
    )


def make_summary(bank: HandMadeBank) -> BuildSummary:
    """Return a summary whose counts are true of *bank* and whose panel, yields and findings are invented."""
    counts = Tally()
    for one in bank.items():
        counts.add(one)
    first = bank.identifiers()[0]
    strategies = (
        ("longest-option", 9_500, False), ("shortest-option", 8_000, False), ("middle-option", 13_250, False),
        ("most-like-the-rest", 19_000, True), ("commonest-places", 11_333, False),
        ("repeats-a-stem-figure", 7_200, False),
    )
    panel = [
        StrategyResult(scope, name, 40, hits, 10_000, 17_000, over)
        for scope in ("bank", *(quiz.identifier for quiz in bank.quizzes[:2]))
        for name, hits, over in strategies
    ]
    return BuildSummary(
        families=tuple(
            FamilyYield(
                one.template, 10 ** (3 + place % 4), 10 ** (3 + place % 4) // (place + 2), 0 if place % 4 < 2 else 41,
                200 + 30 * place, 4, (("a + b < 100", 120 + place), ("too few different wrong answers", 31)),
            )
            for place, one in enumerate(FAMILIES)
        ),
        panel=tuple(panel),
        mistake_use=counts.mistake_use,
        key_places=counts.key_places,
        findings=(
            Finding("estimate-does-the-work", "warning", first, "two of three wrong options are outside half to double "
                    "the key", "choose mistakes that stay nearer"),
            Finding("yield-thin", "report", "", "the template 'add-ragged' has few numbers left",
                    "widen the range of a"),
        ),
        topic_bands=counts.topic_bands,
        responses=counts.responses,
    )
