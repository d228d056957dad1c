"""Hand-made items of the kinds beyond choice and typed number, each with credit in full and by parts.

All numbers are invented. Wrong options name real mistakes of the library; orders and pairs that a mistake leads to are
given, not worked out, so that golden files do not change with every mistake that the library learns.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from bank import methods
from bank.model import (
    ChooseInLine, ChooseSeveral, Family, FindMistake, Item, MatchPairs, Offer, Prediction, PutInOrder, Response, Trace,
    TypedNumber,
)
from items import family, item, line, lines, numeral

_PREDICTION = Prediction(band="middle", score=120, low_share=410, high_share=830)


def offer(identifier: str, text: str, *mistakes: str, key: bool = False, worth: str = "") -> Offer:
    """Return an offer whose *text* is written compactly, *worth* a number where it is given."""
    return Offer(
        identifier=identifier, text=line(text), is_key=key, mistakes=mistakes, value=numeral(worth) if worth else None
    )


def made(
    name: str, response: Response, stem: tuple[str, ...], key: str, solution: Trace, *, of: dict[str, Any] | Family,
) -> Item:
    """Return an item of any kind with *response*."""
    kind = of if isinstance(of, Family) else family(**{"template": name, "topic": "decimals", **of})
    plain = item(identifier=f"{name}.v1-s1", prediction=_PREDICTION)
    return replace(
        plain, family=kind, response=response, stem=lines(stem), key=numeral(key), solution=solution,
        operands=solution.operands, features=(),
    )


def trace(operation: str, *operands: str, **options: Any) -> Trace:
    """Return the written method carried out on *operands*."""
    return methods.run(operation, [numeral(one) for one in operands], **options)


def evaluated(offers: tuple[Offer, ...], key: str, layout: str) -> Trace:
    """Return the working of all that is offered, in sentences."""
    texts, values = [one.text for one in offers], [one.value for one in offers]
    return methods.evaluate(texts, values, [], numeral(key), layout=layout)


SEVERAL = ChooseSeveral(options=(
    offer("A", "[1.6 + 0.8]", "add.sides-added-separately", key=True, worth="2.4"),
    offer("B", "[2.04 + 0.2]", "add.lined-up-on-the-right", worth="2.24"),
    offer("C", "[3 - 0.6]", key=True, worth="2.4"),
    offer("D", "[0.6 * 0.4]", "multiply.places-as-in-addition", worth="0.24"),
    offer("E", "[4.8 / 2]", "divide.point-one-place-right", key=True, worth="2.4"),
))  # fmt: skip

ORDER = PutInOrder(
    offers=(offer("A", "#0.45", worth="0.45"), offer("B", "#0.8", worth="0.8"), offer("C", "#0.305", worth="0.305"),
            offer("D", "#0.62", worth="0.62")),
    right=("C", "A", "D", "B"),
    mistakes=((("B", "A", "D", "C"), ("compare.more-digits-wins", "compare.part-as-whole-number")),
              (("B", "D", "A", "C"), ("compare.wrong-end",))),
)  # fmt: skip

PAIRS = MatchPairs(
    sources=(offer("S1", "[0.3 * 0.2]", worth="0.06"), offer("S2", "[0.3 + 0.2]", worth="0.5"),
             offer("S3", "[0.3 - 0.2]", worth="0.1")),
    targets=(offer("T1", "#0.06", worth="0.06"), offer("T2", "#0.1", worth="0.1"), offer("T3", "#0.5", worth="0.5"),
             offer("T4", "#0.6", worth="0.6")),
    pairs=(("S1", "T1"), ("S2", "T3"), ("S3", "T2")),
    mistakes=((("S1", "T4"), ("multiply.places-as-in-addition",)), (("S2", "T2"), ("add.subtracted-instead",)),
              (("S1", "T3"), ("multiply.added-instead",))),
)  # fmt: skip

INLINE = ChooseInLine(options=(
    offer("A", "<", "compare.more-digits-wins"), offer("B", "="),
    offer("C", ">", key=True),
))  # fmt: skip


def wrong_sum() -> Trace:
    """Return the column sum of 3.47 and 2.8 with the carry forgotten, as a learner writes it."""
    right = trace("add", "3.47", "2.8")
    rows = tuple(
        row._replace(cells=("5", "2", "7")) if row.role == "result" else row for row in right.rows if row.role != "carry"
    )
    steps = lines(("Write the numbers one below the other, point under point and ones under ones.",
                   "Write a zero at the end: #2.8 is the same as #2.80.", "Hundredths: 7 plus 0 is 7; write 7.",
                   "Tenths: 4 plus 8 is 12; write 2.", "Ones: 3 plus 2 is 5; write 5.", "So [3.47 + 2.8 = 5.27]."))
    return right._replace(rows=rows, steps=steps, result=numeral("5.27"))


def find_mistake(typed: TypedNumber | None = None, credit: str = "all") -> FindMistake:
    """Return the response that asks for the wrong step of `wrong_sum`."""
    working = wrong_sum()
    return FindMistake(
        working=working,
        steps=tuple(Offer(identifier=f"S{at}", text=step) for at, step in enumerate(working.steps, 1)),
        right="S4", mistake="add.carry-forgotten", typed=typed, credit=credit,
    )  # fmt: skip


_TYPED = TypedNumber(mistakes=((numeral("5.27"), ("add.carry-forgotten",)),
                               (numeral("7.27"), ("add.carry-added-twice",))))
_FIND_STEM = ("Bo adds 3.47 and 2.8 in columns. One step is wrong.",)


def _all() -> tuple[Item, ...]:
    add = evaluated(SEVERAL.options, "2.4", "several")
    compare = trace("compare", "0.45", "0.8", "0.305", "0.62", layout="ascending")
    larger, found = trace("compare", "0.7", "0.65", layout="relation"), trace("add", "3.47", "2.8")
    pairs = evaluated(PAIRS.sources, "0.06", "pairs")
    kinds: list[tuple[str, Response, tuple[str, ...], str, Trace, dict[str, Any]]] = [
        ("several", SEVERAL, ("Which of these are worth #2.4?",), "2.4", add,
         {"operation": "evaluate", "layout": "several", "title": "Worth the same", "hint": ("Work out each one before you choose.",)}),
        ("order", ORDER, ("These are lengths in metres. Put them in order, the smallest first.",), "0.305", compare,
         {"operation": "compare", "layout": "ascending", "title": "Lengths in order",
          "hint": ("Give all numbers the same number of places.",)}),
        ("pairs", PAIRS, ("Match each calculation with its value.",), "0.06", pairs,
         {"operation": "evaluate", "layout": "pairs", "title": "Calculations and values", "hint": ("Estimate first.",),
          "praise": ("All three are right.",)}),
        ("inline", INLINE, ("Which sign belongs in the gap?", "[0.7 ? 0.65]"), "0.7", larger,
         {"operation": "compare", "layout": "relation", "title": "The sign between", "hint": ("Write both with two places.",)}),
        ("find", find_mistake(), _FIND_STEM, "6.27", found,
         {"title": "The wrong step", "hint": ("Check what happens when a column makes ten or more.",)}),
        ("find-typed", find_mistake(_TYPED), _FIND_STEM, "6.27", found, {"title": "The wrong step, and the answer"}),
    ]
    items = [made(f"{name}-all", response, stem, key, solution, of=dict(of))
             for name, response, stem, key, solution, of in kinds]
    parts: dict[str, Response] = {
        "several": replace(SEVERAL, credit="each"), "order": replace(ORDER, credit="places"),
        "pairs": replace(PAIRS, credit="each"), "find-typed": find_mistake(_TYPED, "each"),
    }
    items += [made(f"{name}-parts", parts[name], stem, key, solution, of=dict(of))
              for name, _, stem, key, solution, of in kinds if name in parts]
    return tuple(items)


ITEMS = _all()
"""One of each kind with credit in full, then one of each that has parts with credit by parts."""


def of_kind(name: str) -> Item:
    """Return the item called *name* without its version, such as ``order-parts``."""
    return next(one for one in ITEMS if one.family.template == name)
