"""Comparing by place value: point under point, from the left, until a column decides."""

from __future__ import annotations

from collections.abc import Sequence

from bank.methods._layout import (
    WrongOperands, annexed_lines, annexed_note, check_operands, digits_row, heading, written_digits,
)
from bank.model import Line, Row, Trace
from bank.numerals import Numeral

LAYOUTS = ("largest", "smallest")

_START: Line = ("Write the numbers one below the other, point under point and ones under ones.",)
_START_WHOLE: Line = ("Write the numbers one below the other, ones under ones.",)
_LEFT: Line = ("Compare digit by digit from the left.",)


def compare(operands: Sequence[Numeral], layout: str = "largest") -> Trace:
    """Return how the largest (or smallest) of 2 to 5 *operands* is found.

    Rows: the operands with zeros annexed (role ``compared``), then the one that was found, as it was written.
    Where several share its value the first of them is the result, and a step says so. The fact
    ``deciding_column`` counts columns from the left, 1 being the first; 0 means that no column decides.

    Raises:
        CannotCarryOut: another layout, wrong number of operands, a negative or an overlong one.
    """
    check_operands(operands, 2, 5)
    if layout not in LAYOUTS:
        raise WrongOperands(f"comparison has the layouts {', '.join(LAYOUTS)}, not {layout!r}")
    places = max([operand.places for operand in operands])
    texts = [written_digits(operand) + "0" * (places - operand.places) for operand in operands]
    width = max([len(text) for text in texts])
    padded = [text.rjust(width) for text in texts]

    choose = max if layout == "largest" else min
    left, deciding, lines = list(range(len(operands))), 0, []
    for column in range(width):
        digits = [padded[index][column] for index in left]
        best = choose(digits)  # a blank sorts before every digit, as the smaller number
        staying = [index for index in left if padded[index][column] == best]
        lines.append(_column_line(width - places - 1 - column, digits, best, layout, column + 1 == width))
        if len(staying) < len(left):
            left, deciding = staying, column + 1
            if len(left) == 1:
                break
    found = operands[left[0]]

    point = width - places if places else -1
    annexed = [places - operand.places for operand in operands]
    rows: list[Row] = [
        digits_row("compared", text, width, width, point, note=annexed_note(zeros))
        for text, zeros in zip(texts, annexed)
    ]
    end = width - annexed[left[0]]
    rows.append(
        digits_row("result", texts[left[0]][:len(texts[left[0]]) - annexed[left[0]]], width, end,
                   point if found.places else -1, rule=True, note=layout)
    )
    steps = [_START if places else _START_WHOLE]
    if any(annexed):
        steps += annexed_lines(operands, places)
    steps.append(_LEFT)
    steps += lines
    steps += _answer_lines(operands, left, layout)
    facts = (
        ("annexed_zeros", sum(annexed)),
        ("columns", width),
        ("deciding_column", deciding),
        ("operands", len(operands)),
        ("unequal_places", max(annexed)),
        ("whole_and_decimal", 1 if places and max(annexed) == places else 0),
        ("zeros_after_point", sum([_zeros_after_point(operand) for operand in operands])),
    )
    return Trace("comparison", "compare", layout, tuple(operands), found, tuple(rows), width, tuple(steps), facts)


def _zeros_after_point(operand: Numeral) -> int:
    decimals = operand.decimal_digits
    return len(decimals) - len(decimals.lstrip("0"))


def _column_line(position: int, digits: list[str], best: str, layout: str, last: bool) -> Line:
    said = ["no digit" if digit == " " else digit for digit in digits]
    listed = f"{', '.join(said[:-1])} and {said[-1]}"
    if digits.count(best) == len(digits):
        return (f"{heading(position)}{listed} are the same{'' if last else '; go on to the next column'}.",)
    shown = "no digit" if best == " " else best
    onward = " Go on with the numbers that have it." if digits.count(best) > 1 and not last else ""
    return (f"{heading(position)}{listed}; {shown} is the {_degree(layout, len(digits))}.{onward}",)


def _degree(layout: str, count: int) -> str:
    """``largest``, or ``larger`` of two."""
    return f"{layout[:-2]}r" if count == 2 else layout


def _answer_lines(operands: Sequence[Numeral], left: list[int], layout: str) -> list[Line]:
    if len(left) == 1:
        return [("So ", operands[left[0]], f" is the {_degree(layout, len(operands))}.")]
    line: list[str | Numeral] = [operands[left[0]]]
    for index in left[1:]:
        line += (" and ", operands[index])
    if len(left) == len(operands):
        return [(*line, f" have the same value, so none of them is {_degree(layout, 2)}.")]
    return [(*line, f" have the same value; it is the {layout}.")]
