"""Written methods: each carries a calculation out digit by digit and returns the trace of it.

The digits of a result come out of the method's own columns, never from exact arithmetic, so that a key found
here and a key found by exact arithmetic are two independent findings. One file a method; `run` chooses.
"""

from __future__ import annotations

from collections.abc import Sequence

from bank.methods._layout import (
    CannotCarryOut, DivisionByZero, EndlessQuotient, NegativeOperand, NegativeResult, TooLong, WrongOperands,
)
from bank.methods import evaluation
from bank.methods.addition import add
from bank.methods.closing import closed
from bank.methods.comparison import compare
from bank.methods.division import divide
from bank.methods.evaluation import evaluated, relation, sides
from bank.methods.multiplication import multiply
from bank.methods.ordering import LAYOUTS as _ORDERINGS
from bank.methods.ordering import order
from bank.methods.rounding import round_to
from bank.methods.subtraction import subtract
from bank.model import Expression, Line, Trace
from bank.numerals import Numeral

__all__ = [
    "LAYOUTS", "OPERATIONS", "CannotCarryOut", "DivisionByZero", "EndlessQuotient", "NegativeOperand",
    "NegativeResult", "TooLong", "WrongOperands", "add", "closed", "compare", "divide", "evaluate", "evaluated", "multiply",
    "order", "relation", "round_to", "run", "sides", "subtract",
    "work_out",
]

LAYOUTS = {
    "subtract": ("decomposition", "equal-additions"),
    "compare": ("largest", "smallest", "ascending", "descending", "relation"),
}
"""Layouts by operation, the default first; operations that are missing here have one only, named ``""``."""

OPERATIONS = {
    "add": (2, 5), "subtract": (2, 2), "multiply": (2, 2), "divide": (2, 2), "compare": (2, 5), "round": (1, 1),
}
"""Least and most operands by operation."""


def run(operation: str, operands: Sequence[Numeral], *, layout: str = "", places: int | None = None) -> Trace:
    """Return the trace of *operation* on *operands*.

    *layout* is one of `LAYOUTS` (empty means the first). *places* is the number of places a quotient is rounded
    to, or a number (then it must be given; negative for tens, hundreds); the other operations take none.

    Raises:
        CannotCarryOut: the operands cannot be worked so; the subclasses say why: `WrongOperands`,
            `NegativeOperand`, `TooLong`, `NegativeResult`, `DivisionByZero`, `EndlessQuotient`.
    """
    if operation not in OPERATIONS:
        raise WrongOperands(f"no written method for {operation!r}; there are {', '.join(OPERATIONS)}")
    least, most = OPERATIONS[operation]
    if not least <= len(operands) <= most:
        raise WrongOperands(f"{operation} takes {least} to {most} operands, not {len(operands)}")
    if layout and layout not in LAYOUTS.get(operation, ()):
        raise WrongOperands(f"{operation} has no layout {layout!r}")
    if places is not None and operation not in ("divide", "round"):
        raise WrongOperands(f"{operation} takes no number of places")
    if operation == "add":
        return add(operands)
    if operation == "subtract":
        return subtract(operands[0], operands[1], layout or "decomposition")
    if operation == "multiply":
        return multiply(operands[0], operands[1])
    if operation == "divide":
        return divide(operands[0], operands[1], places)
    if operation == "compare":
        if layout in _ORDERINGS:
            return order(operands, layout)
        return compare(operands, layout or "largest")
    if places is None:
        raise WrongOperands("round takes a number of places")
    return round_to(operands[0], places)


def work_out(expression: Expression) -> tuple[Numeral, list[Trace]]:
    """Return what *expression* is worth, without trailing zeros, and the traces of its operations in order.

    Raises:
        CannotCarryOut: its parts make no calculation, or one that has no written method.
    """
    return evaluation.work_out(expression, run)


def evaluate(
    texts: Sequence[Line], values: Sequence[Numeral | None], operands: Sequence[Numeral], key: Numeral, *,
    layout: str = "several",
) -> Trace:
    """Return how each of *texts*, expressions or numbers in words, is worked out: `bank.methods.evaluation`.

    *values* says what a text is worth where that is known, and must be for words; *layout* is ``several`` (which are
    worth the *key*), ``pairs`` (what each is worth) or ``relation`` (how two compare).

    Raises:
        CannotCarryOut: an expression cannot be worked so, or is not worth what *values* says.
    """
    return evaluation.evaluate(run, texts, values, operands, key, layout)
