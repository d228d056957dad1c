"""Mistakes inside the written rows of short and long multiplication; the places are counted off rightly.

The second factor multiplies the first, one row for each of its digits; a point is left aside until the end.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bank.mistakes import mistake
from bank.mistakes._digits import digits, power_of_ten, written
from bank.mistakes._sources import (
    ASHLOCK,
    COX_1974,
    EXAM_QUESTION,
    FROM_MEMORY,
    NO_SOURCE,
    ROSE_2020,
    cite,
    corpus,
)
from bank.numerals import Numeral

SHORT = "short multiplication"
LONG = "long multiplication"

Row = Callable[[Sequence[int], int], int]
"""Gives a row from the digits of the first factor, from the right, and one digit of the second."""


def _in_rows(first: Numeral, second: Numeral, row: Row) -> Numeral | None:
    upper = digits(first.coefficient)
    total, unit = 0, 1
    for digit in digits(second.coefficient):
        if digit:
            total += row(upper, digit) * unit
        unit *= 10
    return written(total, first.places + second.places)


@mistake(
    "multiply.carry-forgotten",
    name="Carry forgotten when multiplying",
    topic=SHORT,
    learner_does="Multiplies digit by digit, writes the ones digit of each product and carries nothing.",
    feedback="Each product of two digits can hold tens as well as ones. Write the tens down as a carry and add them to "
    "the next product.",
    source=cite(FROM_MEMORY, COX_1974, ASHLOCK),
    evidence="memory",
)
def carry_forgotten(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of rows without carries.

    Mended: the catalogue writes the ones digit of every product. The first digit's product has no neighbour
    to carry to, and learners write it in full.
    """
    return _in_rows(first, second, _row_without_carries)


def _row_without_carries(upper: Sequence[int], times: int) -> int:
    total = upper[-1] * times
    for digit in upper[-2::-1]:
        total = total * 10 + digit * times % 10
    return total


@mistake(
    "multiply.carry-added-before-multiplying",
    name="Carry added before multiplying",
    topic=SHORT,
    learner_does="Adds the carry to the next digit first and multiplies the two together.",
    feedback="The carry is already a result. Multiply the next digit first, then add the carry to that product.",
    source=cite(ASHLOCK, EXAM_QUESTION),
    evidence="published",
)
def carry_added_before_multiplying(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of rows whose carries were multiplied as well."""
    return _in_rows(first, second, _row_with_carries_multiplied)


def _row_with_carries_multiplied(upper: Sequence[int], times: int) -> int:
    total, carry, unit = 0, 0, 1
    for digit in upper:
        product = (digit + carry) * times
        total += product % 10 * unit
        carry = product // 10
        unit *= 10
    return total + carry * unit


@mistake(
    "multiply.carry-added-twice",
    name="Carry added twice when multiplying",
    topic=SHORT,
    learner_does="Adds each carry to the next product two times.",
    feedback="Each carry is added only once. Cross it out as soon as you have used it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_added_twice(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of rows with doubled carries."""
    return _in_rows(first, second, _row_with_carries_doubled)


def _row_with_carries_doubled(upper: Sequence[int], times: int) -> int:
    total, carry, unit = 0, 0, 1
    for digit in upper:
        product = digit * times + carry + carry
        total += product % 10 * unit
        carry = product // 10
        unit *= 10
    return total + carry * unit


@mistake(
    "multiply.carry-digit-swapped",
    name="Wrong digit carried when multiplying",
    topic=SHORT,
    learner_does="Where a product has two digits, writes its tens digit and carries its ones digit.",
    feedback="The ones digit of the product is written in its place; the tens digit is carried to the next place.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_digit_swapped(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of rows with written and carried digit swapped; the first product is written in full."""
    return _in_rows(first, second, _row_with_digits_swapped)


def _row_with_digits_swapped(upper: Sequence[int], times: int) -> int:
    total, carry, unit = 0, 0, 1
    for digit in upper[:-1]:
        product = digit * times + carry
        if product > 9:
            total += product // 10 * unit
            carry = product % 10
        else:
            total += product * unit
            carry = 0
        unit *= 10
    return total + (upper[-1] * times + carry) * unit


@mistake(
    "multiply.zero-times-n-is-n",
    name="Zero times a digit taken as the digit",
    topic=SHORT,
    learner_does="Where the first factor has a zero, writes the multiplying digit, with the carry added.",
    feedback="Zero times any number is zero. Only the carry, if there is one, is written in that place.",
    source=cite(FROM_MEMORY, ASHLOCK),
    evidence="memory",
)
def zero_times_n_is_n(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of rows with the multiplier under each zero of the first factor."""
    if first.coefficient <= 0:
        return None
    if 0 not in digits(first.coefficient):
        return written(first.coefficient * second.coefficient, first.places + second.places)
    return _in_rows(first, second, _row_over_zeros)


def _row_over_zeros(upper: Sequence[int], times: int) -> int:
    total, carry, unit = 0, 0, 1
    for digit in upper:
        product = (digit or 1) * times + carry
        total += product % 10 * unit
        carry = product // 10
        unit *= 10
    return total + carry * unit


@mistake(
    "multiply.second-row-not-shifted",
    name="Second row not shifted",
    topic=LONG,
    learner_does="Multiplies by every digit of the second factor as if it stood in the last place, and adds the rows.",
    feedback="A digit further left is worth ten times as much, so its row begins one place further left. Write a zero "
    "at its end first.",
    source=ROSE_2020,
    evidence="published",
)
def second_row_not_shifted(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the sum of unshifted rows, None where the second factor has a single digit or is a power of ten.

    Nobody writes rows for a power of ten, and zeros stuck on the end would give the same.
    """
    lower = digits(second.coefficient)
    if len(lower) < 2 or power_of_ten(second):
        return None
    return written(first.coefficient * sum(lower), first.places + second.places)


@mistake(
    "multiply.row-shifted-too-far",
    name="Row shifted one place too far",
    topic=LONG,
    learner_does="Shifts every row after the first by one place more than its digit asks for.",
    feedback="The row of a digit begins under that digit. Check how many zeros belong at its end: as many as there are "
    "digits to the right.",
    source=NO_SOURCE,
    evidence="common practice",
)
def row_shifted_too_far(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the sum of rows with one zero too many after the first, None with a single digit or a power of ten."""
    rest, last = divmod(second.coefficient, 10)
    if not rest or power_of_ten(second):
        return None
    return written(first.coefficient * (rest * 100 + last), first.places + second.places)


@mistake(
    "multiply.first-row-only",
    name="Only the first row written",
    topic=LONG,
    learner_does="Multiplies by the last digit of the second factor and stops there.",
    feedback="Each digit of the second factor needs its own row. Check that all of them have been used.",
    source=NO_SOURCE,
    evidence="common practice",
)
def first_row_only(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the first row, None where there is no other or it is zero."""
    rest, last = divmod(second.coefficient, 10)
    return written(first.coefficient * last, first.places + second.places) if rest and last else None


@mistake(
    "multiply.carry-forgotten-adding-rows",
    name="Carry forgotten when adding the rows",
    topic=LONG,
    learner_does="Writes all rows rightly but adds them without carries.",
    feedback="Adding the rows is an addition like any other. When a column makes ten or more, carry to the next one.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_forgotten_adding_rows(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the rows added without carries, the first column in full; None where there is one row."""
    rows, rest, unit = [], second.coefficient, 1
    if rest < 10:
        return None
    while rest:
        rows.append(first.coefficient * (rest % 10) * unit)
        rest //= 10
        unit *= 10
    total, unit, longest = 0, 1, max(rows)
    while unit * 10 <= longest:
        total += sum([row // unit for row in rows]) % 10 * unit
        unit *= 10
    total += sum([row // unit for row in rows]) * unit
    return written(total, first.places + second.places)


@mistake(
    "multiply.cross-products-left-out",
    name="Only digits in like places multiplied",
    topic=LONG,
    learner_does="Multiplies only digits that stand under each other and leaves out the mixed products.",
    feedback="Every digit of one factor multiplies every digit of the other. A sketch of a rectangle in parts shows "
    "the pieces that are missing.",
    source=corpus(37589, 38596),
    evidence="published",
)
def cross_products_left_out(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the sum of the products of digits under each other, the last digits lined up.

    Mended: the catalogue speaks of like places; in the written method of a decimal product the last digits stand
    under each other. None unless both factors have two digits that are not zero.
    """
    upper, lower = digits(first.coefficient), digits(second.coefficient)
    if len(upper) - upper.count(0) < 2 or len(lower) - lower.count(0) < 2:
        return None
    total, unit = 0, 1
    for top, bottom in zip(upper, lower):
        total += top * bottom * unit
        unit *= 100
    return written(total, first.places + second.places)
