"""Rounding: look at the digit after the last one wanted; a half goes up."""

from __future__ import annotations

from bank.methods._layout import (
    WrongOperands, check_operands, count_of, digits_row, place_name, round_digits, rounding_lines, rounding_unit,
    trailing_zeros, written_digits,
)
from bank.model import Line, Row, Trace
from bank.numerals import MAX_DIGITS, Numeral


def round_to(number: Numeral, places: int) -> Trace:
    """Return how *number* is rounded to *places* places after the point; -1 rounds to tens, -2 to hundreds.

    The result has exactly *places* places (none where *places* is negative). A half is rounded up.

    Raises:
        CannotCarryOut: *number* is negative or overlong, or *places* is out of bounds.
    """
    check_operands((number,), 1, 1)
    if not -MAX_DIGITS < places <= MAX_DIGITS:
        raise WrongOperands(f"places lie between {1 - MAX_DIGITS} and {MAX_DIGITS}, not {places}")
    if places >= number.places:
        return _nothing_dropped(number, places)
    digits = written_digits(number)
    cut = len(digits) - number.places + places
    if cut < 0:
        digits, cut = "0" * -cut + digits, 0
    kept, following = digits[:cut], digits[cut]
    up = following >= "5"
    rounded, nines = round_digits(kept, up)
    filled = rounded + "0" * max(-places, 0)
    shown = filled.lstrip("0") or "0" if places <= 0 else filled
    answer = Numeral(int(filled or "0"), max(places, 0))

    digits = written_digits(number)
    width = max(len(digits), len(shown) + number.places - max(places, 0))
    whole = width - number.places
    rows = [
        digits_row("operand", digits, width, width, whole if number.places else -1, note=f"next digit {following}"),
        digits_row(
            "result", shown, width, whole + max(places, 0), whole if places > 0 else -1, rule=True, note="rounded"
        ),
    ]
    if nines:
        marks = [""] * width
        for index in range(nines):
            column = whole + places - 2 - index
            if width - len(digits) <= column:
                marks[column] = "1"
        if any(marks):
            rows.insert(0, Row("carry", tuple(marks), note="carries"))
    facts = (
        ("dropped_digits", number.places - places),
        ("next_digit", int(following)),
        ("next_digit_is_five", 1 if following == "5" else 0),
        ("nine_chain", nines),
        ("rounds_up", 1 if up else 0),
        ("trailing_zeros", trailing_zeros(shown, max(places, 0))),
    )
    steps = _steps(number, answer, kept, following, places, nines)
    return Trace("rounding", "round", "", (number,), answer, tuple(rows), width, steps, facts)


def _steps(number: Numeral, answer: Numeral, kept: str, following: str, places: int, nines: int) -> tuple[Line, ...]:
    last = kept[-1] if kept else "0"
    unit, name, after = rounding_unit(places), place_name(-places), place_name(-places - 1)
    lines: list[Line] = [
        ("Round ", number, f" to {unit}: the {name} digit is {last}."),
        (f"Look at the next digit, in the {after}: it is {following}.",),
    ]
    lines += rounding_lines(following, places)
    if nines:
        again = f"; this happens {nines} times" if nines > 1 else ""
        lines.append((f"9 and 1 more is 10: write 0 and carry 1 to the left{again}.",))
    if places < 0:
        lines.append((f"Write 0 in the places after the {name}, down to the ones.",))
    elif places and not answer.coefficient % 10:
        lines.append((f"Keep the 0 at the end: it shows that the number is rounded to {name}.",))
    lines.append(("So ", number, f", rounded to {unit}, is ", answer, "."))
    return tuple(lines)


def _nothing_dropped(number: Numeral, places: int) -> Trace:
    answer = number.with_places(places)
    digits = written_digits(answer)
    width = len(digits)
    zeros = places - number.places
    whole = width - places
    rows = (
        digits_row("operand", written_digits(number), width, width - zeros, whole if number.places else -1),
        digits_row("result", digits, width, width, whole if places else -1, rule=True, note="rounded"),
    )
    facts = (
        ("dropped_digits", 0),
        ("next_digit", 0),
        ("next_digit_is_five", 0),
        ("nine_chain", 0),
        ("rounds_up", 0),
        ("trailing_zeros", trailing_zeros(digits, places)),
    )
    annexing = f"write {count_of(zeros, 'zero')} at the end" if zeros else "nothing has to be dropped"
    steps: tuple[Line, ...] = (
        (number, f" has {count_of(number.places, 'place')} after the point; {count_of(places, 'place')} are wanted, so "
                 f"{annexing}."),
        ("So ", number, f", rounded to {rounding_unit(places)}, is ", answer, "."),
    )
    return Trace("rounding", "round", "", (number,), answer, rows, width, steps, facts)
