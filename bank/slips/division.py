"""Slips in long division that ends: with zeros in the quotient, with remainders, with making the divisor whole.

Quotients that are rounded have no slips here: cutting and rounding are steps of their own.
"""

from __future__ import annotations

from typing import NamedTuple

from bank.methods import _place_value
from bank.methods._layout import annexed_note, count_of, digits_row, heading, without_leading_zeros, written_digits
from bank.methods.division import POINT_ABOVE, Moved, Step, digit_line, move_points, opening
from bank.model import Expression, Line, Row, Trace
from bank.numerals import Numeral
from bank.slips import Working, ending, slip

MOST_ANNEXED = 4
"""Zeros annexed before a working counts as too long to read. Common practice, no source."""


class _Manner(NamedTuple):
    """What this learner does differently."""

    zeros: str = ""
    """Zeros of the quotient that are not written: ``inside`` (after its first digit), ``leading`` (straight after
    the point) or none."""
    carries_on: bool = True
    """Whether what stays of a step is carried on."""
    annexes: bool = True
    """Whether zeros are annexed where something stays."""


class _Divided(NamedTuple):
    """The outcome of the digit loop."""

    quotient: str
    """A digit for each column from the left, a blank where nothing is written."""
    steps: list[Step]
    remainder: int
    lines: list[Line]
    wrong: list[int]


def _divide(moved: Moved, manner: _Manner) -> _Divided | None:
    """Divide digit by digit from the left in this *manner*, None where no end comes soon."""
    by, digits, whole = moved.divisor, moved.digits, moved.whole
    written = len(digits)
    quotient, steps, lines, wrong = "", list[Step](), list[Line](), list[int]()
    remainder, begun = 0, False
    column = 0
    while column < written or (remainder and manner.annexes):
        if column == written + MOST_ANNEXED:
            return None
        position = whole - 1 - column
        annexed = column >= written
        forgets = bool(remainder) and not manner.carries_on and quotient.strip("0 ") != ""
        current = (0 if forgets else remainder * 10) + (0 if annexed else int(digits[column]))
        times, remainder = divmod(current, by)
        if position == -1:
            lines.append(POINT_ABOVE)
        brought = ""
        if begun and column:
            brought = "Write a zero at the end and bring it down" if annexed else f"Bring down {digits[column]}"
            brought += f": {current}. "
        if times:
            steps.append(Step(column, current, times, times * by))
        nonzero = quotient.strip("0 ") != ""
        left_out = not times and (
            manner.zeros == "inside" and nonzero or manner.zeros == "leading" and not nonzero and position < 0
        )
        if left_out or forgets:
            wrong.append(len(lines))
        if left_out:
            lines.append((
                f"{heading(position)}{brought}{by} does not go into {current}, so write nothing in the quotient.",
            ))
        else:
            lines.append(digit_line(position, by, current, times, brought, begun))
        begun = begun or times > 0 or position <= 0
        quotient += " " if left_out else str(times)
        column += 1
    return _Divided(quotient, steps, remainder, lines, wrong)


def _working(
    dividend: Numeral, divisor: Numeral, moved: Moved, done: _Divided, start: list[Line], wrong: list[int],
    closing: list[Line], shown: str, places: int,
) -> Working:
    """Return the working; *shown* is the quotient as it stands in the row, blanks for gaps, with *places* columns."""
    answer_digits = shown.replace(" ", "")
    gaps = shown[len(shown) - places:].count(" ") if places else 0
    answer = Numeral(int(answer_digits or "0"), places - gaps)
    rows, width = _rows(moved, done, shown, places)
    facts = (
        ("annexed_zeros", max(len(done.quotient) - len(moved.digits), 0)),
        ("divisor_digits", len(str(moved.divisor))),
        ("divisor_places", moved.shift),
        ("remainder_steps", sum([1 for step in done.steps if step.current != step.product])),
        ("steps", len(done.steps)),
    )
    steps = (*start, *done.lines, *closing, ending(answer))
    trace = Trace("long-division", "divide", "", (dividend, divisor), answer, rows, width, steps, facts)
    return Working(trace, tuple(wrong))


def _rows(moved: Moved, done: _Divided, shown: str, places: int) -> tuple[tuple[Row, ...], int]:
    whole, columns = moved.whole, len(done.quotient)
    written = moved.digits + "0" * (columns - len(moved.digits))
    width = max(len(written), whole + places)
    text = without_leading_zeros(shown, places)
    end = whole + places
    cells = ("",) * (end - len(text)) + tuple([digit.strip() for digit in text]) + ("",) * (width - end)
    rows = [Row("quotient", cells, whole if places else -1, note="quotient")]
    note = annexed_note(max(columns - len(moved.digits), 0))
    point = whole if len(written) > whole else -1
    rows.append(digits_row("dividend", written, width, len(written), point, str(moved.divisor), True, note))
    for index, step in enumerate(done.steps):
        rows.append(digits_row("product", str(step.product), width, step.column + 1, sign="-"))
        if index + 1 < len(done.steps):
            left, end = done.steps[index + 1].current, done.steps[index + 1].column + 1
        else:
            left, end = done.remainder, columns
        rows.append(digits_row("remainder", str(left), width, end, rule=True))
    return tuple(rows), width


def _has_rows(dividend: Numeral, divisor: Numeral) -> bool:
    return bool(dividend.coefficient and divisor.coefficient) and not _place_value.exponent(divisor)


def _in_manner(dividend: Numeral, divisor: Numeral, manner: _Manner) -> Working | None:
    """Return the working that differs from a right one in the digit loop only; it goes to the end."""
    if not _has_rows(dividend, divisor):
        return None
    moved = move_points(dividend, divisor)
    done = _divide(moved, manner)
    if done is None or done.remainder:
        return None
    start = opening(dividend, divisor, moved)
    wrong = [len(start) + place for place in done.wrong]
    places = len(done.quotient) - moved.whole
    return _working(dividend, divisor, moved, done, start, wrong, [], done.quotient, places)


@slip("divide.zero-inside-quotient-left-out")
def zero_inside_quotient_left_out(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working in which nothing is written where the divisor does not go, once a digit stands.

    None where a zero after the point ends the quotient: there it may be left out.
    """
    working = _in_manner(dividend, divisor, _Manner(zeros="inside"))
    if working is None:
        return None
    row = working.trace.rows[0]
    return None if row.point >= 0 and not row.cells[-1] else working


@slip("divide.leading-zero-left-out")
def leading_zero_left_out(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working in which nothing is written straight after the point where the divisor does not go."""
    return _in_manner(dividend, divisor, _Manner(zeros="leading"))


@slip("divide.remainder-not-carried-on")
def remainder_not_carried_on(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working in which what stays of a step is forgotten; the whole divisor has one digit.

    None where something stays at the end: leaving that out would be another kind of wrong step.
    """
    if not _has_rows(dividend, divisor) or move_points(dividend, divisor).divisor > 9:
        return None
    return _in_manner(dividend, divisor, _Manner(carries_on=False, annexes=False))


@slip("divide.remainder-dropped")
def remainder_dropped(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working that stops where the digits of the dividend end and leaves out what stays."""
    return _stopped(dividend, divisor, "leave out", False)


@slip("divide.remainder-as-decimal-digits")
def remainder_as_decimal_digits(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working that stops where the digits of the dividend end and writes what stays behind the quotient."""
    return _stopped(dividend, divisor, "write", True)


def _stopped(dividend: Numeral, divisor: Numeral, verb: str, joined: bool) -> Working | None:
    if not _has_rows(dividend, divisor) or divisor.normal().places != divisor.places:
        return None  # with 190.0 as divisor it is open whether the point moves, and with it where the digits end
    moved = move_points(dividend, divisor)
    done = _divide(moved, _Manner(annexes=False))
    if done is None or not done.remainder or not done.quotient.strip("0"):
        return None
    start, left = opening(dividend, divisor, moved), done.remainder
    places = len(done.quotient) - moved.whole
    if joined:
        where = "behind the quotient" if places else "behind the point of the quotient"
        line: Line = (f"No digit is left to bring down, so write the remainder {left} {where}.",)
        shown, shown_places = done.quotient + str(left), places + len(str(left))
    else:
        line = (f"No digit is left to bring down, so leave out the remainder {left}.",)
        shown, shown_places = done.quotient, places
    wrong = [len(start) + len(done.lines)]
    return _working(dividend, divisor, moved, done, start, wrong, [line], shown, shown_places)


@slip("divide.only-divisor-made-whole")
def only_divisor_made_whole(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working in which the point of the divisor moves and that of the dividend stays."""
    whole = divisor.normal()
    if not whole.places or whole.places != divisor.places:
        return None
    line: Line = (
        f"Make the divisor whole: move its point {count_of(whole.places, 'place')} to the right and leave ", dividend,
        " as it is. Now divide ", Expression((dividend, "/", Numeral(whole.coefficient))), ".",
    )
    return _divided_instead(dividend, divisor, dividend, whole.coefficient, line)


@slip("divide.each-made-whole-by-itself")
def each_made_whole_by_itself(dividend: Numeral, divisor: Numeral) -> Working | None:
    """Return the working in which both points are left out, whatever the places."""
    if not dividend.places and not divisor.places or dividend.places == divisor.places:
        return None
    number = Numeral(dividend.coefficient)
    whole = "both numbers" if dividend.places and divisor.places else "the dividend" if dividend.places else (
        "the divisor")
    points = "both points" if dividend.places and divisor.places else "the point"
    line: Line = (
        f"Make {whole} whole by leaving out {points}. Now divide ",
        Expression((number, "/", Numeral(divisor.coefficient))), ".",
    )
    return _divided_instead(dividend, divisor, number, divisor.coefficient, line)


def _divided_instead(
    dividend: Numeral, divisor: Numeral, number: Numeral, by: int, line: Line
) -> Working | None:
    """Return the working that divides *number* by the whole number *by* rightly, to the end."""
    if not _has_rows(dividend, divisor) or _place_value.exponent(Numeral(by)) or by == 1:
        return None
    digits = written_digits(number)
    moved = Moved(by, digits, len(digits) - number.places, 0, 0)
    done = _divide(moved, _Manner())
    if done is None:
        return None
    places = len(done.quotient) - moved.whole
    return _working(dividend, divisor, moved, done, [line], [0], [], done.quotient, places)
