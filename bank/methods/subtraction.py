"""Column subtraction in two layouts: decomposition (regrouping) and equal additions."""

from __future__ import annotations

from functools import lru_cache

from bank.methods._layout import (
    NegativeResult, WrongOperands, annexed_lines, annexed_note, check_operands, digits_row, heading, inner_zeros,
    one_of, place_name, without_leading_zeros, written_digits,
)
from bank.model import Expression, Line, Row, Trace
from bank.numerals import Numeral

LAYOUTS = ("decomposition", "equal-additions")

START: Line = ("Write the number to take away below the other, point under point and ones under ones.",)
START_WHOLE: Line = ("Write the number to take away below the other, ones under ones.",)


def subtract(minuend: Numeral, subtrahend: Numeral, layout: str = "decomposition") -> Trace:
    """Return the column subtraction *minuend* - *subtrahend* in one of `LAYOUTS`.

    Both are annexed zeros up to the larger number of places. Decomposition has a row ``regrouped`` above the
    minuend with the digits after regrouping, where they changed. Equal additions has such a row for the digits
    that ten was added to, and one below the subtrahend for the digits that one was added to.

    Raises:
        NegativeResult: *subtrahend* is larger than *minuend*.
        CannotCarryOut: another layout, a negative or an overlong operand.
    """
    check_operands((minuend, subtrahend), 2, 2)
    if layout not in LAYOUTS:
        raise WrongOperands(f"subtraction has the layouts {', '.join(LAYOUTS)}, not {layout!r}")
    if minuend < subtrahend:
        raise NegativeResult(f"{subtrahend} is larger than {minuend}")
    places = max(minuend.places, subtrahend.places)
    upper = written_digits(minuend) + "0" * (places - minuend.places)
    lower = written_digits(subtrahend) + "0" * (places - subtrahend.places)
    width = len(upper)
    top = [int(digit) for digit in reversed(upper)]
    bottom = [int(digit) for digit in reversed(lower)]
    bottom += [0] * (width - len(bottom))
    work = _by_decomposition if layout == "decomposition" else _by_equal_additions
    digits, lines, regrouped_from, top_marks, bottom_marks = work(top, bottom, len(lower), places)

    text = "".join(map(str, reversed(digits)))
    text = without_leading_zeros(text, places)
    answer = Numeral(int(text), places)
    point = width - places if places else -1
    short, long = places - minuend.places, places - subtrahend.places
    rows = [digits_row("operand", upper, width, width, point, note=annexed_note(short))]
    if any(top_marks):
        note = "digits after regrouping" if layout == "decomposition" else "ten added"
        rows.insert(0, Row("regrouped", tuple(reversed(top_marks)), note=note))
    rows.append(digits_row("operand", lower, width, width, point, "-", note=annexed_note(long)))
    if any(bottom_marks):
        rows.append(Row("regrouped", tuple(reversed(bottom_marks)), note="one added below"))
    rows.append(digits_row("result", text, width, width, point, rule=True, note="difference"))

    steps = [START if places else START_WHOLE]
    if short or long:
        steps += annexed_lines((minuend, subtrahend), places)
    steps += lines
    steps.append(("So ", Expression((minuend, "-", subtrahend, "=", answer)), "."))
    facts = (
        ("annexed_zeros", short + long),
        ("columns", width),
        ("regroupings", len(regrouped_from)),
        ("regroupings_across_point", 1 if places in regrouped_from else 0),
        ("regroupings_at_zero", [upper[width - 1 - index] for index in regrouped_from].count("0")),
        ("unequal_places", short + long),
        ("whole_and_decimal", 1 if places and not (minuend.places and subtrahend.places) else 0),
        ("zeros_inside", inner_zeros((minuend, subtrahend))),
    )
    operands = (minuend, subtrahend)
    return Trace("column-subtraction", "subtract", layout, operands, answer, tuple(rows), width, tuple(steps), facts)


_Worked = tuple[list[int], list[Line], list[int], list[str], list[str]]
"""Digits of the difference from the right, sentences, columns that were taken from, marks above and below."""


def _by_decomposition(top: list[int], bottom: list[int], lower_length: int, places: int) -> _Worked:
    width = len(top)
    marks = [""] * width
    lines: list[Line] = []
    digits: list[int] = []
    taken: list[int] = []
    for index in range(width):
        wanted, here = bottom[index], top[index]
        if here < wanted:
            source = index + 1
            while not top[source]:
                source += 1
            top[source] -= 1
            marks[source] = str(top[source])
            for between in range(index + 1, source):
                top[between] = 9
                marks[between] = "9"
            top[index] = here + 10
            marks[index] = str(here + 10)
            taken += range(index + 1, source + 1)
            lines.append(exchange_line(index - places, source - index, here, wanted, top[source]))
        digits.append(top[index] - wanted)
        lines.append(column_line(index - places, top[index], wanted if index < lower_length else -1))
    return digits, lines, taken, marks, []


@lru_cache(maxsize=8192)
def exchange_line(position: int, distance: int, here: int, wanted: int, left: int) -> Line:
    """Sentence on regrouping from the column *distance* further left, where *left* stay."""
    words = [f"{heading(position)}{here} is less than {wanted}."]
    if distance > 1:
        zeros = " and ".join(place_name(position + step) for step in range(1, distance))
        words.append(f" There is a 0 in the {zeros}, so begin at the {place_name(position + distance)}.")
    for step in range(distance, 0, -1):
        verb = "Exchange" if step == distance else "Then exchange"
        words.append(f" {verb} 1 {one_of(position + step)} for 10 {place_name(position + step - 1)}.")
    payer = position + distance
    now = [f"{left} {one_of(payer) if left == 1 else place_name(payer)}"]
    now += [f"9 {place_name(position + step)}" for step in range(distance - 1, 0, -1)]
    words.append(f" Now there are {', '.join(now)} and {here + 10} {place_name(position)}.")
    return ("".join(words),)


def _by_equal_additions(top: list[int], bottom: list[int], lower_length: int, places: int) -> _Worked:
    width = len(top)
    above, below = [""] * width, [""] * width
    lines: list[Line] = []
    digits: list[int] = []
    taken: list[int] = []
    for index in range(width):
        here, wanted = top[index], bottom[index]
        if here < wanted:
            top[index] = here + 10
            above[index] = str(here + 10)
            bottom[index + 1] += 1
            below[index + 1] = str(bottom[index + 1])
            taken.append(index + 1)
            lines.append(_both_added_line(index - places, here, wanted, bottom[index + 1]))
        digits.append(top[index] - wanted)
        lines.append(column_line(index - places, top[index], wanted if wanted or index < lower_length else -1))
    return digits, lines, taken, above, below


@lru_cache(maxsize=8192)
def _both_added_line(position: int, here: int, wanted: int, raised: int) -> Line:
    left = position + 1
    return (
        f"{heading(position)}{here} is less than {wanted}. Add 10 {place_name(position)} above, which makes "
        f"{here + 10}, and 1 {one_of(left)} below, which makes {raised}. Both numbers grow alike, so the "
        "difference stays the same.",
    )


@lru_cache(maxsize=8192)
def column_line(position: int, here: int, wanted: int) -> Line:
    """Return the sentence on one column: *here* less *wanted*, which is below zero where nothing is to take away."""
    if wanted < 0:
        return (f"{heading(position)}nothing to take away; write {here}.",)
    return (f"{heading(position)}{here} minus {wanted} is {here - wanted}; write {here - wanted}.",)
