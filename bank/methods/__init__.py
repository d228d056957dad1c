"""Written methods: each carries a calculation out digit by digit and returns the trace of it.

The digits of a result come out of the method's own columns, never from exact arithmetic, so that a key found
here and a key found by exact arithmetic are two independent findings. One file a method; `run` chooses.
"""

from __future__ import annotations

from collections.abc import Sequence

from bank.methods._layout import (
    CannotCarryOut, DivisionByZero, EndlessQuotient, NegativeOperand, NegativeResult, TooLong, WrongOperands,
)
from bank.methods.addition import add
from bank.methods.comparison import compare
from bank.methods.division import divide
from bank.methods.multiplication import multiply
from bank.methods.rounding import round_to
from bank.methods.subtraction import subtract
from bank.model import Trace
from bank.numerals import Numeral

__all__ = [
    "LAYOUTS", "OPERATIONS", "CannotCarryOut", "DivisionByZero", "EndlessQuotient", "NegativeOperand",
    "NegativeResult", "TooLong", "WrongOperands", "add", "compare", "divide", "multiply", "round_to", "run",
    "subtract",
]

LAYOUTS = {"subtract": ("decomposition", "equal-additions"), "compare": ("largest", "smallest")}
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
        return compare(operands, layout or "largest")
    if places is None:
        raise WrongOperands("round takes a number of places")
    return round_to(operands[0], places)
