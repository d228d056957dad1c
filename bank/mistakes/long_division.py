"""Mistakes inside the steps of a written division: remainders, zeros in the quotient, single quotient digits.

The divisor is made whole first, both numbers being multiplied alike, as the written method does.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import right_quotient
from bank.mistakes._digits import digits, ended, number_of, power_of_ten, written
from bank.mistakes._sources import ASHLOCK, FROM_MEMORY, HIEBERT_WEARNE_1986, NAEP_1986, NO_SOURCE, cite, corpus
from bank.numerals import POWERS, Numeral

DECIMAL = "decimal division"
TOPIC = "long division"


def _steps(dividend: Numeral, divisor: Numeral) -> tuple[int, int, int]:
    """Return the dividend's digits, the whole divisor and the places of the quotient before zeros are annexed."""
    places = dividend.places - divisor.places
    if places < 0:
        return dividend.coefficient * POWERS[-places], divisor.coefficient, 0
    return dividend.coefficient, divisor.coefficient, places


@mistake(
    "divide.zero-inside-quotient-left-out",
    name="Zero inside the quotient left out",
    topic=DECIMAL,
    learner_does="Writes nothing in the quotient for a step in which the divisor does not go, once the first digit "
    "stands.",
    feedback="Every digit brought down gives one digit of the quotient. If the divisor does not go, write a zero in "
    "that place.",
    source=cite(FROM_MEMORY, ASHLOCK, NAEP_1986),
    evidence="memory",
)
def zero_inside_quotient_left_out(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient without the zeros after its first digit that is not zero, None where there are none."""
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient <= 0:
        return None
    row = digits(right.coefficient)
    zeros = row.count(0)
    if not zeros:
        return None
    return written(number_of([digit for digit in row if digit]), right.places - row[: right.places].count(0))


@mistake(
    "divide.extra-zero-in-whole-part",
    name="Needless zero in the quotient",
    topic=TOPIC,
    learner_does="Writes a zero into the quotient after its first digit although the next step gives a digit.",
    feedback="A zero is written only when the divisor does not go into the number after a digit has been brought down. "
    "Count the digits of the quotient beforehand.",
    source=NO_SOURCE,
    evidence="common practice",
)
def extra_zero_in_whole_part(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with a zero after its first digit, None unless its whole part has two digits or more."""
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient < 10 * POWERS[right.places]:
        return None
    unit = POWERS[len(digits(right.coefficient)) - 1]
    first, rest = divmod(right.coefficient, unit)
    return written(first * unit * 10 + rest, right.places)


@mistake(
    "divide.remainder-as-decimal-digits",
    name="Remainder written after the point",
    topic=DECIMAL,
    learner_does="Divides as far as the digits go and writes the remainder behind the quotient as decimal digits.",
    feedback="A remainder is left to be divided; it is not a number of tenths yet. Write a zero at the end, "
    "exchange the remainder for tenths and go on dividing.",
    needs=("decimals",),
    instead={
        "whole numbers": "A remainder is what is left to be divided; it is not a digit of the quotient.",
    },
    source=corpus(38691, 38853),
    evidence="published",
)
def remainder_as_decimal_digits(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return quotient and remainder joined, None where there is no remainder.

    Mended: the catalogue speaks of whole numbers; where the dividend has places, the remainder stands after
    the last of them.
    """
    number, by, length = _steps(dividend, divisor)
    if by <= 0:
        return None
    quotient, rest = divmod(number, by)
    if not rest:
        return None
    extra = len(digits(rest))
    return written(quotient * POWERS[extra] + rest, length + extra)


@mistake(
    "divide.remainder-dropped",
    name="Remainder dropped",
    topic=DECIMAL,
    learner_does="Stops when the digits of the dividend are used up and leaves the remainder out.",
    feedback="Something is still left to be divided. Write zeros after the point and go on until nothing is left or "
    "enough places are found.",
    needs=("decimals",),
    instead={
        "whole numbers": "Something is still left to be divided. Go on until nothing is left or enough places are "
        "found.",
    },
    source=cite(NO_SOURCE, f"near to {HIEBERT_WEARNE_1986}"),
    evidence="common practice",
)
def remainder_dropped(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient cut at the dividend's places, None where nothing is dropped or nothing is left."""
    number, by, length = _steps(dividend, divisor)
    if by <= 0:
        return None
    quotient, rest = divmod(number, by)
    return written(quotient, length) if rest and quotient > 0 else None


@mistake(
    "divide.remainder-not-carried-on",
    name="Remainder of a step not carried on",
    topic=TOPIC,
    learner_does="Divides each further digit by itself and forgets the remainder of the step before.",
    feedback="What is left over in one place is exchanged for ten units each of the next place. Put it in front of the "
    "digit that is brought down.",
    source=NO_SOURCE,
    evidence="common practice",
)
def remainder_not_carried_on(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient of steps without remainders, None unless the whole divisor has a single digit.

    The first step takes as many digits as it needs.
    """
    number, by, length = _steps(dividend, divisor)
    if not 0 < by < 10 or number < by:
        return None
    quotient, current = 0, 0
    for digit in reversed(digits(number)):
        current = digit if quotient else current * 10 + digit
        quotient = quotient * 10 + current // by
    return written(quotient, length)


@mistake(
    "divide.last-digit-not-brought-down",
    name="Last digit not brought down",
    topic=TOPIC,
    learner_does="Stops one step too early: the last digit of the dividend is never brought down.",
    feedback="Every digit of the dividend has to be brought down. Tick each one as you use it, and look whether one is "
    "left.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_digit_not_brought_down(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient without its last step, None where nothing would be left of it."""
    number, by, length = _steps(dividend, divisor)
    if by <= 0:
        return None
    quotient = number // 10 // by
    return written(quotient, max(length - 1, 0)) if quotient > 0 else None


@mistake(
    "divide.first-digit-of-divisor-only",
    name="Only the first digit of the divisor used",
    topic=TOPIC,
    learner_does="Divides by the first digit of a divisor with two or more digits.",
    feedback="The whole divisor has to fit into the number, not its first digit alone. Round the divisor to find a "
    "first guess, then multiply back with all of it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def first_digit_of_divisor_only(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient by the first digit of the whole divisor.

    None where that divisor has one digit, or is a power of ten, which has mistakes of its own.
    """
    number, by, length = _steps(dividend, divisor)
    row = digits(by)
    if len(row) < 2 or power_of_ten(divisor):
        return None
    return ended(number, row[-1] * POWERS[length], places)


@mistake(
    "divide.digit-by-digit",
    name="Divided column by column",
    topic=TOPIC,
    learner_does="Divides each digit by the digit of the divisor below it, ignores what is left and joins the results.",
    feedback="The digits of the divisor belong together. Ask how often all of it fits into the dividend, starting with "
    "the largest places.",
    source=corpus(38958),
    evidence="published",
)
def digit_by_digit(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotients of the digits under each other, joined.

    Mended: the catalogue does not say what happens where one number is longer, so both must have the same
    number of digits, two or more, and the same places; a zero below stops the learner as well.
    """
    upper, lower = digits(dividend.coefficient), digits(divisor.coefficient)
    if dividend.places != divisor.places or len(upper) != len(lower) or len(lower) < 2 or 0 in lower:
        return None
    columns = [top // bottom for top, bottom in zip(upper, lower, strict=True)]
    return written(number_of(columns), dividend.places) if any(columns) else None


@mistake(
    "divide.cut-instead-of-rounded",
    name="Quotient cut off instead of rounded",
    topic=DECIMAL,
    learner_does="Divides to the wanted place and drops what follows without looking at it.",
    feedback="Find one place more than is wanted. That next digit decides whether the last kept digit stays or goes "
    "up.",
    source=NO_SOURCE,
    evidence="common practice",
)
def cut_instead_of_rounded(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient cut at *places*, None without places or where nothing is cut."""
    quotient, rest = _cut(dividend, divisor, places)
    return written(quotient, places) if places is not None and rest and quotient > 0 else None


@mistake(
    "divide.always-rounded-up",
    name="Quotient always rounded up",
    topic=DECIMAL,
    learner_does="Raises the last wanted digit of the quotient whenever something follows.",
    feedback="Look at the next digit first. If it is less than five, the last kept digit stays as it is.",
    source=NO_SOURCE,
    evidence="common practice",
)
def always_rounded_up(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient raised at *places*, None without places or where nothing follows."""
    quotient, rest = _cut(dividend, divisor, places)
    return written(quotient + 1, places) if places is not None and rest else None


def _cut(dividend: Numeral, divisor: Numeral, places: int | None) -> tuple[int, int]:
    if places is None or divisor.coefficient <= 0:
        return 0, 0
    number, by, length = _steps(dividend, divisor)
    return divmod(number * POWERS[places], by * POWERS[length])
