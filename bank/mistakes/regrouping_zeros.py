"""Mistakes in subtraction at a zero: a zero that should pay, a zero on top, a zero below."""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import taken_away
from bank.mistakes._digits import whole_width, written
from bank.mistakes._regrouping import pay_past_zeros, regrouped_at_zeros
from bank.mistakes._sources import (
    BROWN_BURTON_1978,
    BROWN_VANLEHN_1980,
    FROM_MEMORY,
    NO_SOURCE,
    RAGHUBAR_2009,
    SUBTRACTION_MODEL,
    VANLEHN_1990,
    cite,
)
from bank.numerals import POWERS, Numeral

TOPIC = "subtraction with regrouping"


@mistake(
    "subtract.zero-becomes-nine-only",
    name="Zero made nine, nothing further taken",
    topic=TOPIC,
    learner_does="When exchanging from a zero, makes it nine and stops there; from other digits takes one rightly.",
    feedback="A zero has nothing to give. Go on to the next digit that is not zero, take one there, and then the zero "
    "can become nine.",
    needs=("exchanging",),
    instead={
        "equal additions": "A zero above is treated like any other digit: add ten to it, and one to the next lower "
        "digit.",
    },
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, RAGHUBAR_2009, SUBTRACTION_MODEL),
    evidence="published",
)
def zero_becomes_nine_only(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zeros made nine for free."""
    return regrouped_at_zeros(minuend, subtrahend, _make_nine)


def _make_nine(tops: list[int], column: int) -> bool:
    tops[column] = tops[column] - 1 if tops[column] > 0 else 9
    return True


@mistake(
    "subtract.zero-skipped",
    name="Zero skipped when exchanging",
    topic=TOPIC,
    learner_does="When exchanging from a zero, leaves it zero and takes one from the next digit that is not zero.",
    feedback="A unit from further left is worth more than ten here. It first makes ten of the zero's place; one of "
    "these is passed on and nine stay.",
    needs=("exchanging",),
    instead={
        "equal additions": "A zero above is treated like any other digit: add ten to it, and one to the next lower "
        "digit. The digits further left stay as they are.",
    },
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, SUBTRACTION_MODEL),
    evidence="published",
)
def zero_skipped(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zeros passed over."""
    return regrouped_at_zeros(minuend, subtrahend, pay_past_zeros)


@mistake(
    "subtract.nothing-taken-from-zero",
    name="Nothing taken from a zero",
    topic=TOPIC,
    learner_does="When exchanging from a zero, takes nothing anywhere; from other digits takes one rightly.",
    feedback="Every ten has to come from somewhere. If the next digit is zero, go on to the left until there is a "
    "digit to take one from.",
    needs=("exchanging",),
    instead={
        "equal additions": "Each ten that is added above is paid for by one more in the next lower digit. This "
        "holds where the next upper digit is zero, too.",
    },
    source=cite(FROM_MEMORY, VANLEHN_1990, BROWN_VANLEHN_1980),
    evidence="memory",
)
def nothing_taken_from_zero(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with tens from a zero left unpaid."""
    return regrouped_at_zeros(minuend, subtrahend, _spare_zeros)


def _spare_zeros(tops: list[int], column: int) -> bool:
    if tops[column] > 0:
        tops[column] -= 1
    return True


@mistake(
    "subtract.zero-minus-n-is-n",
    name="Zero minus a digit taken as the digit",
    topic=TOPIC,
    learner_does="Where the upper digit is zero from the start, writes the lower digit.",
    feedback="From zero nothing can be taken without an exchange. Exchange a unit of the next place for ten first.",
    needs=("exchanging",),
    instead={
        "equal additions": "From zero nothing can be taken away. Add ten to it, and one to the next lower digit.",
    },
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def zero_minus_n_is_n(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with the lower digit under each upper zero; exchanges pass zeros over."""
    return _over_zero(minuend, subtrahend, 1)


@mistake(
    "subtract.zero-minus-n-is-zero",
    name="Zero minus a digit taken as zero",
    topic=TOPIC,
    learner_does="Where the upper digit is zero from the start, writes zero.",
    feedback="Zero units and something to take away: an exchange is needed, and then some units are left. Look again "
    "at the columns with a zero on top.",
    needs=("exchanging",),
    instead={
        "equal additions": "Zero is less than the digit below it, so add ten to it, and one to the next lower "
        "digit. Look again at the columns with a zero on top.",
    },
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def zero_minus_n_is_zero(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zero under each upper zero; exchanges pass zeros over."""
    return _over_zero(minuend, subtrahend, 0)


def _over_zero(minuend: Numeral, subtrahend: Numeral, times: int) -> Numeral | None:
    columns = taken_away(minuend, subtrahend)
    if 0 not in columns.tops:
        return columns.right
    tops = list(columns.tops)
    total, unit = 0, 1
    for column, (top, bottom) in enumerate(columns.pairs, 1):
        if not top:
            digit = bottom * times
        else:
            digit = tops[column - 1] - bottom
            if digit < 0:
                digit += 10
                if not pay_past_zeros(tops, column):
                    return None
        total += digit * unit
        unit *= 10
    return written(total, columns.places)


@mistake(
    "subtract.last-ten-taken-as-nine",
    name="Nine instead of ten in the last place",
    topic=TOPIC,
    learner_does="When exchanging through zeros, makes the last place nine like the others instead of ten.",
    feedback="The places in the middle keep nine because each passes one on. The place that asked for the exchange "
    "gets the full ten.",
    needs=("exchanging",),
    instead={
        "equal additions": "A place that needs it gets a full ten, and the next lower digit one more. Check each "
        "column by adding back.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def last_ten_taken_as_nine(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with nine for ten in each column that exchanges through a zero."""
    columns = taken_away(minuend, subtrahend)
    if 0 not in columns.tops[1:]:
        return columns.right
    total, borrowed, column = columns.difference, False, 0
    for top, bottom in columns.pairs:
        passes_on = borrowed and not top
        borrowed = top - borrowed < bottom
        if borrowed and not passes_on and not columns.tops[column + 1]:
            total -= POWERS[column]
        column += 1
    return written(total, columns.places)


@mistake(
    "subtract.n-minus-zero-is-zero",
    name="Digit minus zero taken as zero",
    topic=TOPIC,
    learner_does="Writes zero wherever the lower number has a written zero, except in the first column.",
    feedback="Taking nothing away leaves the upper digit as it is. Look again at the columns with a zero below.",
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def n_minus_zero_is_zero(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zero over each written lower zero; annexed zeros do not count."""
    columns = taken_away(minuend, subtrahend)
    if columns.difference < 0:
        return None
    places = columns.places
    start, end = places - subtrahend.places, min(places + whole_width(subtrahend), len(columns.tops) - 1)
    total = columns.difference
    for column in range(start, end):
        if not columns.bottoms[column]:
            total -= columns.difference // POWERS[column] % 10 * POWERS[column]
    return written(total, places)
