"""Items of the further kinds of response, written by hand: at least one a kind, with every field of the records in use.

People and numbers in them are invented. Worked solutions come from the written methods.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from bank import methods, slips
from bank.model import (
    ChooseInLine, ChooseSeveral, Expression, Family, FindMistake, Item, Line, MatchPairs, Offer, Prediction, PutInOrder,
    Response, TypedNumber,
)
from bank.numerals import Numeral

_PREDICTION = Prediction(band="middle", score=120, low_share=410, high_share=830, reasons=(("operands", 4, 120),))


def number(text: str) -> Numeral:
    """Return the numeral that *text* writes."""
    return Numeral.parse(text)


def sum_of(text: str) -> Expression:
    """Return the expression of *text*, whose parts stand between blanks."""
    return Expression(tuple([part if part in "+-*/=?<>" else number(part) for part in text.split()]))


def offer(identifier: str, text: str, *, value: str = "", key: bool = False, mistakes: str = "") -> Offer:
    """Return an offer: an expression where *text* holds blanks and signs, one numeral, or words and numbers in #."""
    leaf: Line
    if "#" in text:
        leaf = tuple([number(part) if at % 2 else part for at, part in enumerate(text.split("#")) if part])
    elif " " in text:
        leaf = (sum_of(text),)
    else:
        leaf = (text,) if text in "<=>" else (number(text),)
    return Offer(identifier=identifier, text=leaf, is_key=key, mistakes=tuple(mistakes.split()),
                 value=number(value) if value else None)


def family(operation: str, **fields: Any) -> Family:
    """Return a family of items of *operation*."""
    return Family(**{
        "template": f"{operation}-kind", "version": 1, "title": "A kind of item", "topic": "decimal-comparison",
        "codes": ("US-CCSSM 5.NBT.A.3",), "operation": operation, "hint": (("Look at each place.",),), **fields,
    })


def item(name: str, kind: Family, operands: str, key: str, response: Response, stem: tuple[Line, ...]) -> Item:
    """Return an item whose solution is worked out from its parts."""
    numbers = tuple(map(number, operands.split()))
    if kind.operation == "evaluate":
        solution = methods.evaluate(*methods.evaluated(stem, response), numbers, number(key), layout=kind.layout)
    else:
        solution = methods.run(kind.operation, numbers, layout=kind.layout, places=kind.rounding)
    return Item(
        identifier=f"{name}-v1-abc", family=replace(kind, template=name), parameters=(("a", operands.split()[0]),),
        stem=stem, operands=numbers, key=number(key), response=response, solution=solution,
        features=((f"operation-{kind.operation}", 1), ("operands", 4)), prediction=_PREDICTION,
    )


SEVERAL = item(
    "worth-the-same", family("evaluate", layout="several", topic="decimal-multiplication"),
    "0.6 0.4 2.4 0.1 0.24 6 0.4", "0.24",
    ChooseSeveral(credit="each", options=(
        offer("A", "0.6 * 0.4", value="0.24", key=True, mistakes="multiply.one-place-too-many"),
        offer("B", "2.4 * 0.1", value="0.24", key=True),
        offer("C", "6 * 0.4", value="2.4", mistakes="multiply.no-exchange-over-the-point multiply.one-place-too-many"),
        offer("D", "#24# hundredths", value="0.24", key=True),
        offer("E", "0.240", value="0.24", key=True),
        offer("F", "2.4 - 0.6 * 0.4", value="2.16"),
    )),
    (("Choose all that are worth ", number("0.24"), "."),),
)
ORDER = item(
    "order-up", family("compare", layout="ascending"), "0.45 0.8 0.305 0.62", "0.305",
    PutInOrder(
        offers=(offer("A", "0.45", value="0.45"), offer("B", "0.8", value="0.8"), offer("C", "0.305", value="0.305"),
                offer("D", "0.62", value="0.62")),
        right=("C", "A", "D", "B"), credit="places",
        mistakes=((("B", "A", "D", "C"), ("compare.part-as-whole-number", "compare.more-digits-wins")),
                  (("C", "D", "A", "B"), ("compare.decimal-as-denominator",))),
    ),
    (("Put the numbers in order, smallest first.",),),
)
ORDER_DOWN = item(
    "order-down", family("compare", layout="descending"), "1.09 1.1 1.011", "1.1",
    PutInOrder(offers=(offer("A", "1.09"), offer("B", "1.1"), offer("C", "1.011")), right=("B", "A", "C"),
               direction="descending", mistakes=((("C", "A", "B"), ("compare.part-as-whole-number",)),)),
    (("Put the numbers in order, largest first.",),),
)
PAIRS = item(
    "match-products", family("evaluate", layout="pairs", topic="decimal-multiplication"),
    "0.3 0.2 3 0.2 0.3 20", "0.06",
    MatchPairs(
        sources=(offer("S1", "0.3 * 0.2", value="0.06"), offer("S2", "3 * 0.2", value="0.6"),
                 offer("S3", "0.3 * 20", value="6")),
        targets=(offer("T1", "0.06", value="0.06"), offer("T2", "0.6", value="0.6"), offer("T3", "6", value="6"),
                 offer("T4", "0.006", value="0.006", mistakes="multiply.one-place-too-many")),
        pairs=(("S1", "T1"), ("S2", "T2"), ("S3", "T3")), credit="each",
        mistakes=((("S1", "T2"), ("multiply.places-as-in-addition",)), (("S1", "T4"), ("multiply.one-place-too-many",))),
    ),
    (("Match each calculation with its value.",),),
)
LINE = item(
    "which-sign", family("compare", layout="relation"), "0.5 0.50", "0.5",
    ChooseInLine(options=(offer("A", "<", mistakes="compare.more-digits-wins"), offer("B", "=", key=True),
                          offer("C", ">", mistakes="compare.fewer-places-wins"))),
    (("Which sign belongs in the gap?",), (Expression((number("0.5"), "?", number("0.50"))),)),
)
LINE_OF_SUMS = item(
    "which-sign-of-sums", family("evaluate", layout="relation", topic="decimal-multiplication"), "3.4 0.5 3.4", "3.4",
    ChooseInLine(options=(offer("A", "<", key=True), offer("B", "="),
                          offer("C", ">", mistakes="multiply.places-as-in-addition"))),
    (("Which sign belongs in the gap? ", Expression((*sum_of("3.4 * 0.5").parts, "?", number("3.4")))),),
)
_WORKING = slips.load()["add.carry-forgotten"].procedure(number("3.47"), number("2.8"))
assert _WORKING is not None
_WRONG = _WORKING.trace
FIND = item(
    "find-it", family("add", topic="decimal-addition"), "3.47 2.8", "6.27",
    FindMistake(
        working=_WRONG, right="S5", mistake="add.carry-forgotten", credit="each",
        steps=tuple([Offer(identifier=f"S{at}", text=line, is_key=at == 5) for at, line in enumerate(_WRONG.steps, 1)]),
        typed=TypedNumber(policy="places", mistakes=((number("5.27"), ("add.carry-forgotten",)),)),
    ),
    (("One step is wrong. Which one?",),),
)
FIND_ONLY = replace(
    FIND, identifier="find-only-v1-abc", family=replace(FIND.family, template="find-only"),
    response=replace(FIND.response, typed=None, credit="all"),  # type: ignore[type-var]
)
ITEMS = (SEVERAL, ORDER, ORDER_DOWN, PAIRS, LINE, LINE_OF_SUMS, FIND, FIND_ONLY)
