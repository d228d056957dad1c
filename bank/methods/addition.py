"""Column addition: point under point, from the right, carrying."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank.methods._layout import (
    annexed_lines, annexed_note, check_operands, column_sum, digits_row, heading, inner_zeros, place_name,
    written_digits,
)
from bank.model import Expression, Line, Row, Trace
from bank.numerals import Numeral

START: Line = ("Write the numbers one below the other, point under point and ones under ones.",)
START_WHOLE: Line = ("Write the numbers one below the other, ones under ones.",)


def add(operands: Sequence[Numeral]) -> Trace:
    """Return the column addition of 2 to 5 *operands*.

    Rows: carries (left out where there are none), the operands with zeros annexed up to the largest number
    of places, the sum. A carry out of the last column is written straight into the sum.

    Raises:
        CannotCarryOut: wrong number of operands, a negative or an overlong one.
    """
    check_operands(operands, 2, 5)
    places = max([operand.places for operand in operands])
    texts = [written_digits(operand) + "0" * (places - operand.places) for operand in operands]
    columns = max([len(text) for text in texts])
    stacked = list(zip(*[text.rjust(columns) for text in texts]))
    stacked.reverse()

    carry, carries, across_point = 0, 0, 0
    result, marks, lines = [], [], []
    position = -places
    for column in stacked:
        marks.append(str(carry) if carry else "")
        line, digit, carry = _worked(position, column, carry)
        lines.append(line)
        result.append(digit)
        if carry:
            carries += 1
            if position == -1:
                across_point = 1
        position += 1
    if carry:
        lines.append(_worked(position, (), carry)[0])
        result.append(str(carry))
        marks.append("")

    result.reverse()
    marks.reverse()
    width = len(result)
    answer = Numeral(int("".join(result)), places)
    point = width - places if places else -1
    rows = [Row("carry", tuple(marks), note="carries")] if any(marks) else []
    annexed = 0
    last = len(operands) - 1
    for index, text in enumerate(texts):
        zeros = places - operands[index].places
        annexed += zeros
        sign = "+" if index == last else ""
        rows.append(digits_row("operand", text, width, width, point, sign, note=annexed_note(zeros)))
    rows.append(Row("result", tuple(result), point, rule=True, note="sum"))

    least = min([operand.places for operand in operands])
    steps = [START if places else START_WHOLE]
    if annexed:
        steps += annexed_lines(operands, places)
    steps += lines
    steps.append(_answer_line(operands, answer))
    facts = (
        ("annexed_zeros", annexed),
        ("carries", carries),
        ("carries_across_point", across_point),
        ("columns", columns),
        ("operands", len(operands)),
        ("unequal_places", places - least),
        ("whole_and_decimal", 1 if not least and places else 0),
        ("zeros_inside", inner_zeros(operands)),
    )
    return Trace("column-addition", "add", "", tuple(operands), answer, tuple(rows), width, tuple(steps), facts)


@lru_cache(maxsize=8192)
def _worked(position: int, column: tuple[str, ...], carry: int) -> tuple[Line, str, int]:
    """The sentence on a column, the digit to write and the digit to carry."""
    return column_line(position, column, carry), *column_sum(column, carry)


def column_line(position: int, column: tuple[str, ...], carry: int) -> Line:
    """Return the sentence on one column from its digits (blanks left out) and what was carried into it."""
    terms = [digit for digit in column if digit != " "]
    if not terms:
        return (f"{heading(position)}only the carried {carry} is here; write {carry}.",)
    if len(terms) == 1 and not carry:
        return (f"{heading(position)}only {terms[0]} is here; write {terms[0]}.",)
    if carry:
        terms.append(f"the carried {carry}")
    digit, onward = column_sum(column, carry)
    total = 10 * onward + int(digit)
    carrying = f", carry {onward} to the {place_name(position + 1)}" if onward else ""
    return (f"{heading(position)}{' plus '.join(terms)} is {total}; write {digit}{carrying}.",)


def _answer_line(operands: Sequence[Numeral], answer: Numeral) -> Line:
    parts: list[Numeral | str] = [operands[0]]
    for operand in operands[1:]:
        parts += ("+", operand)
    parts += ("=", answer)
    return ("So ", Expression(tuple(parts)), ".")
