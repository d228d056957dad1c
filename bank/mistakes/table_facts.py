"""Mistakes in multiplication and division by a neighbouring fact of the table: one group or one step off.

They can happen on any numbers and stay near the right answer on either side of it.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import right_quotient
from bank.mistakes._digits import digits, written
from bank.mistakes._sources import CAMPBELL_GRAHAM_1985, FROM_MEMORY, NO_SOURCE, cite
from bank.numerals import POWERS, Numeral

SHORT = "short multiplication"
DIVISION = "long division"


def _rounded_by(quotient: Numeral, dividend: Numeral, divisor: Numeral) -> int:
    """Return a number above zero where *quotient* was rounded up, below where down, zero where it is exact."""
    product = quotient.coefficient * divisor.coefficient * POWERS[dividend.places]
    return product - dividend.coefficient * POWERS[quotient.places + divisor.places]


@mistake(
    "multiply.one-group-too-many",
    name="One group too many",
    topic=SHORT,
    learner_does="Goes one step too far in the table of the last digit, so that the first factor is taken once too "
    "often.",
    feedback="Count again how many times the first number is taken. Check the last table fact by a neighbour that you "
    "are sure of.",
    source=cite(FROM_MEMORY, CAMPBELL_GRAHAM_1985),
    evidence="memory",
)
def one_group_too_many(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product with the last digit of the second factor one larger, None where that digit is zero."""
    if not second.coefficient % 10:
        return None
    return written(first.coefficient * (second.coefficient + 1), first.places + second.places)


@mistake(
    "multiply.one-group-too-few",
    name="One group too few",
    topic=SHORT,
    learner_does="Stops one step too early in the table of the last digit, so that the first factor is taken once too "
    "seldom.",
    feedback="Count again how many times the first number is taken; the start is no step. Check the last table fact by "
    "a neighbour that you are sure of.",
    source=cite(FROM_MEMORY, CAMPBELL_GRAHAM_1985),
    evidence="memory",
)
def one_group_too_few(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product with the last digit of the second factor one smaller.

    None where that digit is zero or nothing would be left.
    """
    if second.coefficient < 2 or not second.coefficient % 10:
        return None
    return written(first.coefficient * (second.coefficient - 1), first.places + second.places)


@mistake(
    "multiply.first-fact-one-too-many",
    name="First table fact one step too far",
    topic=SHORT,
    learner_does="Takes, for the first digit of the first factor, the next fact of the table of the second factor.",
    feedback="Look again at the product for the first digit. Check it by a neighbouring table fact that you are sure "
    "of.",
    source=cite(FROM_MEMORY, CAMPBELL_GRAHAM_1985),
    evidence="memory",
)
def first_fact_one_too_many(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product with the first digit of the first factor one larger, None where it has one digit."""
    row = digits(first.coefficient)
    if len(row) < 2:
        return None
    return written((first.coefficient + POWERS[len(row) - 1]) * second.coefficient, first.places + second.places)


@mistake(
    "multiply.first-fact-one-too-few",
    name="First table fact one step too early",
    topic=SHORT,
    learner_does="Takes, for the first digit of the first factor, the fact before the right one in the table of the "
    "second factor.",
    feedback="Look again at the product for the first digit. Check it by a neighbouring table fact that you are sure "
    "of.",
    source=cite(FROM_MEMORY, CAMPBELL_GRAHAM_1985),
    evidence="memory",
)
def first_fact_one_too_few(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product with the first digit of the first factor one smaller, None where that is one or alone."""
    row = digits(first.coefficient)
    if len(row) < 2 or row[-1] < 2:
        return None
    return written((first.coefficient - POWERS[len(row) - 1]) * second.coefficient, first.places + second.places)


@mistake(
    "divide.last-digit-one-too-large",
    name="Last quotient digit one too large",
    topic=DIVISION,
    learner_does="Goes one step too far in the table of the divisor when looking for the last digit.",
    feedback="Multiply the digit you found by the divisor: the product must not be larger than what there is to "
    "divide.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_digit_one_too_large(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with one unit more in its last place, None where it was rounded down: see rounding up."""
    right = right_quotient(dividend, divisor, places)
    if right is None or _rounded_by(right, dividend, divisor) < 0:
        return None
    return written(right.coefficient + 1, right.places)


@mistake(
    "divide.last-digit-one-too-small",
    name="Last quotient digit one too small",
    topic=DIVISION,
    learner_does="Stops one step too early in the table of the divisor when looking for the last digit.",
    feedback="Look at what is left after each step: it must be smaller than the divisor. If not, the divisor goes once "
    "more.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_digit_one_too_small(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with one unit less in its last place.

    None where nothing would be left, or the quotient was rounded up: cutting it off gives the same.
    """
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient < 2 or _rounded_by(right, dividend, divisor) > 0:
        return None
    return written(right.coefficient - 1, right.places)


@mistake(
    "divide.first-digit-one-too-large",
    name="First quotient digit one too large",
    topic=DIVISION,
    learner_does="Goes one step too far in the table of the divisor when looking for the first digit and does not "
    "notice that too much is taken away.",
    feedback="Multiply the first digit you found by the divisor: the product must fit into the digits you started "
    "with.",
    source=NO_SOURCE,
    evidence="common practice",
)
def first_digit_one_too_large(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with its first digit one larger, None where it has one digit."""
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient < 10:
        return None
    return written(right.coefficient + POWERS[len(digits(right.coefficient)) - 1], right.places)


@mistake(
    "divide.first-digit-one-too-small",
    name="First quotient digit one too small",
    topic=DIVISION,
    learner_does="Stops one step too early in the table of the divisor when looking for the first digit and loses what "
    "is left over.",
    feedback="After the first step, what is left must be smaller than the divisor. If it is not, the divisor goes once "
    "more.",
    source=NO_SOURCE,
    evidence="common practice",
)
def first_digit_one_too_small(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with its first digit one smaller, None where that digit is one or alone."""
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient < 10:
        return None
    row = digits(right.coefficient)
    return written(right.coefficient - POWERS[len(row) - 1], right.places) if row[-1] > 1 else None
