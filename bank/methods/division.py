"""Long division: make the divisor whole, then divide digit by digit from the left."""

from __future__ import annotations

from typing import NamedTuple, NoReturn

from bank.methods import _place_value
from bank.methods._layout import (
    DivisionByZero, EndlessQuotient, TooLong, WrongOperands, annexed_note, check_operands, count_of, digits_row,
    heading, round_digits, rounding_lines, rounding_unit, without_leading_zeros, zeros_in_quotient,
)
from bank.model import Expression, Line, Row, Trace
from bank.numerals import POWERS, Numeral, lowest_terms, terminating_places

MAX_ANNEXED = 40
"""Most zeros that are annexed before a quotient counts as too long to write out."""


class Moved(NamedTuple):
    """The pair after both points were moved."""

    divisor: int
    digits: str
    """Digits of the dividend, at least one before the point."""
    whole: int
    """How many of them stand before the point."""
    shift: int
    """Places that both points moved."""
    zeros: int
    """Zeros annexed to the dividend while moving."""


class Step(NamedTuple):
    """One digit of the quotient other than zero: where, from what, how often, what stays."""

    column: int
    current: int
    digit: int
    product: int


class _Worked(NamedTuple):
    """The digit loop's outcome."""

    quotient: str
    """A digit for each column from the left."""
    steps: list[Step]
    remainder: int
    lines: list[Line]


def divide(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Trace:
    """Return the long division *dividend* / *divisor*, to the end or rounded to *places* places.

    Rows: the quotient; the dividend after both points were moved, zeros annexed, with the whole divisor as its
    sign; then for each digit of the quotient other than zero its product and what stays, with the digits brought
    down. With *places* the division goes one place further and a half is rounded up; a last row ``result`` then
    holds the rounded quotient where it is written differently. Where *divisor* is a power of ten other than 1, the
    dividend's digits move instead (method ``moving-digits``): the dividend, then the quotient, point under point.

    Raises:
        DivisionByZero: *divisor* is zero.
        EndlessQuotient: the quotient does not end and *places* is None.
        CannotCarryOut: a negative or overlong operand, negative *places*, a quotient with more than
            `MAX_ANNEXED` annexed zeros.
    """
    check_operands((dividend, divisor), 2, 2)
    if not divisor.coefficient:
        raise DivisionByZero(f"{dividend} cannot be divided by zero")
    if places is not None and not 0 <= places <= MAX_ANNEXED:
        raise WrongOperands(f"a quotient is rounded to 0 to {MAX_ANNEXED} places, not {places}")
    if _place_value.exponent(divisor):
        return _place_value.divide(dividend, divisor, places)
    moved = move_points(dividend, divisor)
    worked = _work(moved, dividend, divisor, places)
    exact, after = worked.quotient, len(worked.quotient) - moved.whole

    digits = exact
    if places is not None and after > places:
        digits, _ = round_digits(exact[:-1], exact[-1] >= "5")
    elif places is not None:
        digits = exact + "0" * (places - after)
    answer = Numeral(int(digits), after if places is None else places)
    rows, width = _rows(moved, worked, digits, places)
    steps = opening(dividend, divisor, moved)
    steps += worked.lines
    steps += _closing(dividend, divisor, worked, moved, answer, places)

    annexed = max(len(exact) - len(moved.digits), 0)
    facts = (
        ("annexed_zeros", annexed),
        ("divisor_digits", len(str(moved.divisor))),
        ("divisor_places", moved.shift),
        ("moving_zeros", moved.zeros),
        ("quotient_below_one", 0 if exact[:moved.whole].strip("0") else 1),
        ("quotient_zeros", zeros_in_quotient(exact, after)),
        ("remainder_steps", sum([1 for step in worked.steps if step.current != step.product])),
        ("rounding", 0 if places is None else 1),
        ("steps", len(worked.steps)),
    )
    operands = (dividend, divisor)
    return Trace("long-division", "divide", "", operands, answer, rows, width, tuple(steps), facts)


def move_points(dividend: Numeral, divisor: Numeral) -> Moved:
    """Return the pair after both points were moved until the divisor is whole."""
    whole_divisor = divisor.normal()
    shift = whole_divisor.places
    places = dividend.places - shift
    coefficient, zeros = dividend.coefficient, 0
    if places < 0:
        zeros, places = -places, 0
        coefficient *= POWERS[zeros]
    digits = str(coefficient).zfill(places + 1)
    return Moved(whole_divisor.coefficient, digits, len(digits) - places, shift, zeros if coefficient else 0)


def _work(moved: Moved, dividend: Numeral, divisor: Numeral, places: int | None) -> _Worked:
    """Divide digit by digit from the left, annexing zeros, until nothing stays or enough places are found."""
    by, digits, whole = moved.divisor, moved.digits, moved.whole
    written = len(digits)
    last = whole + places + 1 if places is not None else written + MAX_ANNEXED
    quotient: list[str] = []
    steps: list[Step] = []
    lines: list[Line] = []
    remainder, column, begun = 0, 0, False
    while column < last and (column < written or remainder):
        annexed = column >= written
        current = remainder * 10 + (0 if annexed else int(digits[column]))
        times, remainder = divmod(current, by)
        position = whole - 1 - column
        if position == -1:
            lines.append(POINT_ABOVE)
        if times:
            steps.append(Step(column, current, times, times * by))
        if not begun or not column:
            brought = ""
        elif annexed:
            brought = f"Write a zero at the end and bring it down: {current}. "
        else:
            brought = f"Bring down {digits[column]}: {current}. "
        lines.append(digit_line(position, by, current, times, brought, begun))
        begun = begun or times > 0 or position <= 0
        quotient.append(str(times))
        column += 1
    if remainder and places is None:
        _refuse(dividend, divisor)
    return _Worked("".join(quotient), steps, remainder, lines)


POINT_ABOVE: Line = ("Set the point of the quotient right above the point of the dividend.",)


def digit_line(position: int, by: int, current: int, times: int, brought: str, begun: bool) -> Line:
    """Return the sentence on one digit of the quotient; *brought* are the words on bringing down."""
    start = heading(position)
    if brought:
        start += brought
    if times:
        product = times * by
        return (
            f"{start}{by} goes {count_of(times, 'time')} into {current}, because {times} times {by} is {product}; "
            f"write {times}. {current} minus {product} leaves {current - product}.",
        )
    if not begun and position > 0:
        return (f"{start}{by} does not go into {current}; take the next digit too.",)
    return (f"{start}{by} does not go into {current}; write 0.",)


def _refuse(dividend: Numeral, divisor: Numeral) -> NoReturn:
    """Say why no end was reached."""
    over = divisor.coefficient * POWERS[dividend.places]
    _, denominator = lowest_terms(dividend.coefficient * POWERS[divisor.places], over)
    if terminating_places(denominator) is None:
        raise EndlessQuotient(f"{dividend} divided by {divisor} does not end as a decimal; ask for a number of places")
    raise TooLong(f"{dividend} divided by {divisor} needs more than {MAX_ANNEXED} annexed zeros")


def opening(dividend: Numeral, divisor: Numeral, moved: Moved) -> list[Line]:
    """Return the sentences on moving the points."""
    if not moved.shift:
        return []
    moved_dividend = Numeral(int(moved.digits), len(moved.digits) - moved.whole)
    factor = POWERS[moved.shift]
    return [
        (
            f"Make the divisor whole: move both points {count_of(moved.shift, 'place')} to the right. Each number "
            f"becomes {factor} times as large, so the quotient stays the same.",
        ),
        (
            Expression((dividend, "/", divisor)), " has the same quotient as ",
            Expression((moved_dividend, "/", Numeral(moved.divisor))), ".",
        ),
    ]


def _closing(
    dividend: Numeral, divisor: Numeral, worked: _Worked, moved: Moved, answer: Numeral, places: int | None
) -> list[Line]:
    pair = (dividend, "/", divisor)
    if places is None:
        return [("So ", Expression((*pair, "=", answer)), ".")]
    after = len(worked.quotient) - moved.whole
    unit = rounding_unit(places)
    if after <= places:
        lines: list[Line] = [("Nothing is left, so nothing has to be rounded.",)]
        if after < places:
            lines.append((f"Write {count_of(places - after, 'zero')} at the end to have {count_of(places, 'place')}.",))
        return [*lines, ("So ", Expression((*pair, "=", answer)), ".")]
    following = worked.quotient[-1]
    return [
        (f"To round to {unit}, the division went one place further: there stands {following}.",),
        *rounding_lines(following, places),
        ("So ", Expression(pair), f", rounded to {unit}, is ", answer, "."),
    ]


def _rows(moved: Moved, worked: _Worked, digits: str, places: int | None) -> tuple[tuple[Row, ...], int]:
    exact, whole = worked.quotient, moved.whole
    shown_places = len(exact) - whole if places is None else places
    offset = 1 if len(digits) - shown_places > whole else 0
    written = moved.digits + "0" * (len(exact) - len(moved.digits))
    width = offset + max(len(written), whole + shown_places)
    ones = offset + whole

    quotient = without_leading_zeros(exact, len(exact) - whole)
    point = ones if len(exact) > whole else -1
    rows = [digits_row("quotient", quotient, width, offset + len(exact), point, note="quotient")]
    note = annexed_note(max(len(exact) - len(moved.digits), 0))
    point = ones if len(written) > whole else -1
    rows.append(
        digits_row("dividend", written, width, offset + len(written), point, str(moved.divisor), True, note)
    )
    for index, step in enumerate(worked.steps):
        end = offset + step.column + 1
        rows.append(digits_row("product", str(step.product), width, end, sign="-"))
        if index + 1 < len(worked.steps):
            left, end = worked.steps[index + 1].current, offset + worked.steps[index + 1].column + 1
        else:
            left, end = worked.remainder, offset + len(exact)
        rows.append(digits_row("remainder", str(left), width, end, rule=True))
    if places is not None and digits != exact:
        shown = without_leading_zeros(digits, places)
        point = ones if places else -1
        note = f"rounded to {rounding_unit(places)}"
        rows.append(digits_row("result", shown, width, ones + places, point, rule=True, note=note))
    return tuple(rows), width
