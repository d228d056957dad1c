"""Mistakes in division that come from the point or from another operation; the digits are divided rightly.

A quotient that does not end is rounded to ``places`` where they are given; without them there is no answer.
Mistakes inside the steps are in `long_division`, those with powers of ten in `powers_of_ten`.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import right_quotient
from bank.mistakes._digits import aligned, digits, ended, quotient_of, written
from bank.mistakes._sources import (
    BELL_1981,
    BROWN_1981,
    FISCHBEIN_1985,
    HIEBERT_WEARNE_1985,
    HIEBERT_WEARNE_1986,
    NO_SOURCE,
    NOVA_SCOTIA,
    cite,
    corpus,
)
from bank.numerals import POWERS, Numeral

TOPIC = "decimal division"


@mistake(
    "divide.only-divisor-made-whole",
    name="Only the divisor made whole",
    topic=TOPIC,
    learner_does="Drops the point of the divisor and leaves the dividend as it is.",
    feedback="The quotient stays the same only if both numbers are made larger alike. Multiply the dividend by the "
    "same power of ten as the divisor.",
    source=cite(NO_SOURCE, f"near to {HIEBERT_WEARNE_1986}"),
    evidence="common practice",
)
def only_divisor_made_whole(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend divided by the divisor's digits, None where the divisor is whole."""
    if not divisor.places:
        return None
    return ended(dividend.coefficient, divisor.coefficient * POWERS[dividend.places], places)


@mistake(
    "divide.only-dividend-made-whole",
    name="Only the dividend made whole",
    topic=TOPIC,
    learner_does="Drops the point of the dividend and divides by the decimal divisor.",
    feedback="The quotient stays the same only if both numbers are made larger alike. Start from the divisor: what "
    "makes it whole is done to both.",
    source=NO_SOURCE,
    evidence="common practice",
)
def only_dividend_made_whole(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend's digits divided by the divisor, None unless both have places."""
    if not dividend.places or not divisor.places:
        return None
    return ended(dividend.coefficient * POWERS[divisor.places], divisor.coefficient, places)


@mistake(
    "divide.each-made-whole-by-itself",
    name="Each number made whole by itself",
    topic=TOPIC,
    learner_does="Drops the points of both numbers, whatever their places, and divides.",
    feedback="Dropping the point makes a number with two places a hundred times larger and one with a single place "
    "only ten times. Multiply both by the same power of ten.",
    needs=("decimals",),
    source=cite(HIEBERT_WEARNE_1985, NOVA_SCOTIA),
    evidence="published",
)
def each_made_whole_by_itself(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient of the digits, None where both numbers are whole."""
    if not dividend.places and not divisor.places:
        return None
    return ended(dividend.coefficient, divisor.coefficient, places)


@mistake(
    "divide.moved-opposite-ways",
    name="Digits moved in opposite ways",
    topic=TOPIC,
    learner_does="Makes the divisor whole and moves the digits of the dividend by as many places to the other side.",
    feedback="Both numbers are multiplied by the same power of ten, so the digits of both move the same way.",
    source=NO_SOURCE,
    evidence="common practice",
)
def moved_opposite_ways(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient of the smaller dividend and the whole divisor, None where the divisor is whole."""
    if not divisor.places:
        return None
    return ended(dividend.coefficient, divisor.coefficient * POWERS[dividend.places + divisor.places], places)


@mistake(
    "divide.point-one-place-right",
    name="Point of the quotient one place too far right",
    topic=TOPIC,
    learner_does="Finds the right digits and puts the point one place too far to the right.",
    feedback="Once the divisor is whole, the point of the quotient goes directly above the point of the dividend. "
    "Check by estimating: is the quotient ten times too large?",
    needs=("decimals",),
    instead={
        "whole numbers": "Each digit of the quotient belongs above the last digit that was brought down. Check by "
        "estimating: is the quotient ten times too large?",
    },
    source=NOVA_SCOTIA,
    evidence="published",
)
def point_one_place_right(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return ten times the quotient."""
    right = right_quotient(dividend, divisor, places)
    if right is None:
        return None
    return written(right.coefficient, right.places - 1) if right.places else written(right.coefficient * 10, 0)


@mistake(
    "divide.point-one-place-left",
    name="Point of the quotient one place too far left",
    topic=TOPIC,
    learner_does="Finds the right digits and puts the point one place too far to the left.",
    feedback="Once the divisor is whole, the point of the quotient goes directly above the point of the dividend. "
    "Check by estimating: is the quotient ten times too small?",
    needs=("decimals",),
    instead={
        "whole numbers": "Each digit of the quotient belongs above the last digit that was brought down. Check by "
        "estimating: is the quotient ten times too small?",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def point_one_place_left(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return a tenth of the quotient, None where making only the divisor whole gives the same."""
    right = right_quotient(dividend, divisor, places)
    if right is None or divisor.places == 1:
        return None
    if not right.places and not right.coefficient % 10:
        return written(right.coefficient // 10, 0)
    return written(right.coefficient, right.places + 1)


@mistake(
    "divide.leading-zero-left-out",
    name="Zero straight after the point left out",
    topic=TOPIC,
    learner_does="Writes the first digit of the quotient straight after the point, though its place lies further "
    "right.",
    feedback="Where the divisor does not go into the tenths, the quotient has a zero there. Write a zero for each "
    "place that gives nothing.",
    needs=("decimals",),
    source=cite(NO_SOURCE, f"near to {HIEBERT_WEARNE_1986}"),
    evidence="common practice",
)
def leading_zero_left_out(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient's digits straight after the point, None where no zero stands there."""
    right = right_quotient(dividend, divisor, places)
    if right is None or right.coefficient <= 0:
        return None
    length = len(digits(right.coefficient))
    return written(right.coefficient, length) if length < right.places else None


@mistake(
    "divide.extra-zero-after-the-point",
    name="Needless zero after the point",
    topic=TOPIC,
    learner_does="Writes a zero straight after the point of the quotient before going on with the next digit.",
    feedback="A zero belongs in the quotient only where the divisor does not go into that place. The point alone "
    "needs no zero after it.",
    needs=("decimals",),
    instead={
        "whole numbers": "A zero belongs in the quotient only where the divisor does not go into that place. Count "
        "the digits of the quotient beforehand.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def extra_zero_after_the_point(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the quotient with a zero put in after its point, None where it is whole or below one.

    Below one the zero would only move all digits, which is a point put one place too far left.
    """
    right = right_quotient(dividend, divisor, places)
    if right is None or not right.places or right.coefficient < POWERS[right.places]:
        return None
    whole, decimals = divmod(right.coefficient, POWERS[right.places])
    return written(whole * POWERS[right.places + 1] + decimals, right.places + 1)


@mistake(
    "divide.smaller-into-larger",
    name="The larger number divided by the smaller",
    topic=TOPIC,
    learner_does="Swaps the numbers where the dividend is the smaller one.",
    feedback="The number before the sign is the one to divide, even if it is the smaller one. Then the quotient is "
    "less than one.",
    needs=("sign",),
    instead={
        "words": "The number that is shared is the one to divide, even if it is the smaller one. Then the quotient "
        "is less than one.",
    },
    source=cite(BROWN_1981, FISCHBEIN_1985, corpus(38928, 39078)),
    evidence="published",
)
def smaller_into_larger(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return divisor by dividend, None unless the dividend is the smaller one and not zero."""
    if dividend.coefficient <= 0 or dividend >= divisor:
        return None
    return quotient_of(divisor, dividend, places)


@mistake(
    "divide.swapped-to-avoid-decimal-divisor",
    name="Numbers swapped to avoid a decimal divisor",
    topic=TOPIC,
    learner_does="Divides the decimal by the whole number although the decimal is the divisor.",
    feedback="The order matters: the divisor is the number after the sign. Make it whole by multiplying both numbers "
    "by the same power of ten.",
    needs=("sign",),
    instead={
        "words": "The order matters: the divisor is the number that says how large each share is, or how many there "
        "are. Make it whole by multiplying both numbers by the same power of ten.",
    },
    source=corpus(37802),
    evidence="published",
)
def swapped_to_avoid_decimal_divisor(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return divisor by dividend, None unless only the divisor has places."""
    return quotient_of(divisor, dividend, places) if divisor.places and not dividend.places else None


@mistake(
    "divide.multiplied-instead",
    name="Multiplied instead of divided",
    topic=TOPIC,
    learner_does="Multiplies where the divisor is below one, so that the answer comes out smaller.",
    feedback="Ask how often the divisor fits into the number. A divisor below one fits more often than the number "
    "says, so the quotient is larger.",
    needs=("divisor below one",),
    instead={
        "divisor not below one": "Ask how often the divisor fits into the number. A divisor greater than one makes "
        "the answer smaller than the number.",
    },
    source=cite(FISCHBEIN_1985, BELL_1981, corpus(37485, 39408, 39322)),
    evidence="published",
)
def multiplied_instead(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the product without needless zeros, None unless the divisor is below one and not zero."""
    if not 0 < divisor.coefficient < POWERS[divisor.places]:
        return None
    product = written(dividend.coefficient * divisor.coefficient, dividend.places + divisor.places)
    return product.normal() if product is not None else None


@mistake(
    "divide.subtracted-instead",
    name="Subtracted instead of divided",
    topic="choice of operation",
    learner_does="Answers with the difference of the two numbers.",
    feedback="Read the sign once more. A quotient says how many times one number goes into the other, not how much "
    "is between them.",
    needs=("sign",),
    instead={
        "words": "Read the question once more. A quotient says how many times one number goes into the other, not "
        "how much is between them.",
    },
    source=corpus(39081),
    evidence="published",
)
def subtracted_instead(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the difference, None where it is zero."""
    width, (upper, lower) = aligned((dividend, divisor))
    return written(abs(upper - lower), width) if upper != lower else None
