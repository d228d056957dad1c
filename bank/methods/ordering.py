"""Putting numbers in order, and saying how two compare, by place value: digits of columns, never exact arithmetic."""

from __future__ import annotations

from collections.abc import Sequence

from bank.methods._layout import (
    WrongOperands, annexed_lines, annexed_note, check_operands, digits_row, place_name, written_digits,
)
from bank.model import Expression, Line, Row, Trace
from bank.numerals import Numeral

LAYOUTS = ("ascending", "descending", "relation")

_START: Line = ("Write the numbers one below the other, point under point and ones under ones.",)
_START_WHOLE: Line = ("Write the numbers one below the other, ones under ones.",)
_ASKED = {"ascending": "smallest first", "descending": "largest first"}


def order(operands: Sequence[Numeral], layout: str = "ascending") -> Trace:
    """Return how 2 to 5 *operands* are put in order (or, of two, which sign of <, = and > belongs between them).

    Rows: the operands with zeros annexed (role ``compared``), then the operands in order as they were written (role
    ``result``); for ``relation`` only the first kind. The result is the first in order, or the larger of the two.
    The fact ``deciding_column`` counts columns from the left up to the one that decides between neighbours, the
    largest of them; 0 means that no column decides.

    Raises:
        CannotCarryOut: another layout, wrong number of operands, a negative or an overlong one.
    """
    check_operands(operands, 2, 2 if layout == "relation" else 5)
    if layout not in LAYOUTS:
        raise WrongOperands(f"ordering has the layouts {', '.join(LAYOUTS)}, not {layout!r}")
    places = max([operand.places for operand in operands])
    texts = [written_digits(operand) + "0" * (places - operand.places) for operand in operands]
    width = max([len(text) for text in texts])
    padded = [text.rjust(width) for text in texts]  # a blank sorts before every digit, as the smaller number
    point = width - places if places else -1
    annexed = [places - operand.places for operand in operands]
    rows = [
        digits_row("compared", text, width, width, point, note=annexed_note(zeros))
        for text, zeros in zip(texts, annexed, strict=True)
    ]
    steps: list[Line] = [_START if places else _START_WHOLE]
    if any(annexed):
        steps += annexed_lines(operands, places)
    if layout == "relation":
        deciding = _column(padded[0], padded[1])
        sign = "=" if padded[0] == padded[1] else "<" if padded[0] < padded[1] else ">"
        steps.append(_between(operands[0], operands[1], padded[0], padded[1], places))
        steps.append(("So ", Expression((operands[0], sign, operands[1])), "."))
        result = operands[1] if sign == "<" else operands[0]
    else:
        standing = sorted(range(len(operands)), key=padded.__getitem__, reverse=layout == "descending")
        deciding = 0
        for one, other in zip(standing, standing[1:], strict=False):
            deciding = max(deciding, _column(padded[one], padded[other]))
            steps.append(_between(operands[one], operands[other], padded[one], padded[other], places))
        steps.append(_answer([operands[index] for index in standing], layout))
        result = operands[standing[0]]
        rows += [_written(operands[index], width, places, number == 0) for number, index in enumerate(standing)]
    facts = (
        ("annexed_zeros", sum(annexed)),
        ("columns", width),
        ("deciding_column", deciding),
        ("operands", len(operands)),
        ("unequal_places", max(annexed)),
        ("whole_and_decimal", 1 if places and max(annexed) == places else 0),
        ("zeros_after_point", sum([_zeros_after_point(operand) for operand in operands])),
    )
    method = "comparison" if layout == "relation" else "ordering"
    return Trace(method, "compare", layout, tuple(operands), result, tuple(rows), width, tuple(steps), facts)


def _column(first: str, second: str) -> int:
    """Return the number, from the left, of the first column in which the digits differ; 0 where none does."""
    return next((at for at, (one, other) in enumerate(zip(first, second, strict=True), 1) if one != other), 0)


def _between(first: Numeral, second: Numeral, digits: str, others: str, places: int) -> Line:
    """Return the step that compares two neighbours."""
    at = _column(digits, others)
    if not at:
        return (first, " and ", second, " have the same digits in every column.")
    one, other = digits[at - 1], others[at - 1]
    name = place_name(len(digits) - places - at)
    side = "less" if one < other else "greater"
    said = [_digit(one), _digit(other)]
    return (first, f" is {side} than ", second, f": the {name} are the first digits that differ, {' and '.join(said)}.")


def _digit(digit: str) -> str:
    return "none" if digit == " " else digit


def _answer(standing: Sequence[Numeral], layout: str) -> Line:
    line: list[str | Numeral] = [f"In order, {_ASKED[layout]}: "]
    for number, operand in enumerate(standing):
        line += ["; ", operand] if number else [operand]
    return (*line, ".")


def _written(operand: Numeral, width: int, places: int, first: bool) -> Row:
    end = width - (places - operand.places)
    point = width - places if operand.places else -1
    return digits_row("result", written_digits(operand), width, end, point, rule=first)


def _zeros_after_point(operand: Numeral) -> int:
    decimals = operand.decimal_digits
    return len(decimals) - len(decimals.lstrip("0"))
