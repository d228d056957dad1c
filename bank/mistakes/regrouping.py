"""Mistakes in subtraction that have to do with regrouping, for whole numbers and decimals alike.

Each procedure works on columns with the points lined up and zeros annexed. Most differ only in who pays for
the ten that a column gets. Mistakes at a zero are in `regrouping_zeros`.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import taken_away
from bank.mistakes._digits import written
from bank.mistakes._regrouping import pay_rightly, regrouped
from bank.mistakes._sources import (
    ASHLOCK,
    BEN_ZEEV,
    BROWN_BURTON_1978,
    BROWN_VANLEHN_1980,
    FROM_MEMORY,
    NO_SOURCE,
    RAGHUBAR_2009,
    SUBTRACTION_MODEL,
    VANLEHN_1990,
    VERMEULEN_2020,
    cite,
    corpus,
)
from bank.numerals import POWERS, Numeral

TOPIC = "subtraction with regrouping"


@mistake(
    "subtract.smaller-from-larger",
    name="Smaller digit taken from the larger in each column",
    topic=TOPIC,
    learner_does="Takes in every column the smaller digit from the larger one, whichever stands on top.",
    feedback="The lower digit is always taken from the upper one. If the upper digit is too small, exchange a unit of "
    "the next place for ten.",
    needs=("exchanging",),
    instead={
        "equal additions": "The lower digit is always taken from the upper one. If the upper digit is too small, "
        "add ten to it, and one to the next lower digit.",
    },
    source=cite(
        BROWN_BURTON_1978,
        BROWN_VANLEHN_1980,
        VANLEHN_1990,
        RAGHUBAR_2009,
        VERMEULEN_2020,
        BEN_ZEEV,
        corpus(37669),
    ),
    evidence="published",
)
def smaller_from_larger(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the differences of the digits in each column."""
    columns = taken_away(minuend, subtrahend)
    return written(columns.smaller_from_larger, columns.places) if columns.gaps else None


@mistake(
    "subtract.borrow-not-paid",
    name="Ten added but nothing exchanged for it",
    topic=TOPIC,
    learner_does="Adds ten to an upper digit that is too small but leaves the next column as it is.",
    feedback="The ten comes from the next place to the left, which then has one unit less. Write the smaller digit "
    "above it before going on.",
    needs=("exchanging",),
    instead={
        "equal additions": "Where you add ten to the upper digit, add one to the next lower digit as well. Write "
        "that one down at once.",
    },
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, RAGHUBAR_2009, SUBTRACTION_MODEL),
    evidence="published",
)
def borrow_not_paid(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with tens that nobody pays for."""
    columns = taken_away(minuend, subtrahend)
    total = 0
    for gap in reversed(columns.gaps):
        total = total * 10 + gap % 10
    return written(total, columns.places) if columns.gaps else None


@mistake(
    "subtract.borrow-not-paid-at-the-point",
    name="Exchange across the point not paid",
    topic=TOPIC,
    learner_does="Exchanges rightly inside the decimal part, but when a whole is exchanged for tenths leaves the ones "
    "as they are.",
    feedback="Ten tenths come from one whole. After that exchange there is one whole less before the point.",
    needs=("exchanging", "decimals"),
    instead={
        "equal additions and decimals":
        "Where you add ten to the upper digit, add one to the next lower digit as well. This "
        "holds across the point too.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def borrow_not_paid_at_the_point(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with one whole too many where a whole was exchanged.

    None where the upper number is whole or this is the only exchange: other mistakes describe these.
    """
    columns = taken_away(minuend, subtrahend)
    places, unit = columns.places, POWERS[columns.places]
    if not minuend.places or columns.upper % unit >= columns.lower % unit:
        return None
    borrowed, exchanges = False, 0
    for gap in columns.gaps:
        borrowed = gap < borrowed
        exchanges += borrowed
    return written(columns.difference + unit, places) if exchanges > 1 else None


@mistake(
    "subtract.borrow-paid-twice",
    name="Exchange paid twice",
    topic=TOPIC,
    learner_does="Takes two units from the next column for one ten, once when exchanging and once more when "
    "subtracting there.",
    feedback="One unit of the next place makes ten units of this one. Check that each exchange is taken off only once.",
    needs=("exchanging",),
    instead={
        "equal additions": "Ten of a place are just one of the next place. Check that you added only one to the "
        "next lower digit.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def borrow_paid_twice(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with two paid for each ten, None where a column could not pay."""
    return regrouped(minuend, subtrahend, _pay_twice)


def _pay_twice(tops: list[int], column: int) -> bool:
    return pay_rightly(tops, column) and pay_rightly(tops, column)


@mistake(
    "subtract.one-added-when-paying",
    name="One added to the next column instead of taken",
    topic=TOPIC,
    learner_does="After adding ten to an upper digit, makes the next upper digit one larger instead of one smaller.",
    feedback="The ten was exchanged for one unit of the next place, so that place has one less, not one more. Cross "
    "the digit out and write the smaller one.",
    needs=("exchanging",),
    instead={
        "equal additions": "The one is added to the next lower digit, which then takes away one more. The upper "
        "digit stays as it is.",
    },
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def one_added_when_paying(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with one added where one should be taken."""
    return regrouped(minuend, subtrahend, _add_one)


def _add_one(tops: list[int], column: int) -> bool:
    tops[column] += 1
    return True


@mistake(
    "subtract.always-from-first-digit",
    name="Always exchanged from the first digit",
    topic=TOPIC,
    learner_does="Takes the one for every exchange from the first digit of the upper number.",
    feedback="The ten comes from the place directly to the left. A unit of the first place is worth more than ten of "
    "this one.",
    needs=("exchanging",),
    instead={
        "equal additions": "Ten of a place are one of the place directly to the left. Add that one to the next "
        "lower digit, not to one further left.",
    },
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def always_from_first_digit(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with every one taken from the first digit that is not zero."""
    return regrouped(minuend, subtrahend, _first_pays)


def _first_pays(tops: list[int], column: int) -> bool:
    for payer in range(len(tops) - 1, column - 1, -1):
        if tops[payer] > 0:
            tops[payer] -= 1
            return True
    return False


@mistake(
    "subtract.borrow-when-not-needed",
    name="Exchanged in every column",
    topic=TOPIC,
    learner_does="Adds ten and takes one from the next column in every column but the first, and writes the ones digit "
    "of each difference.",
    feedback="First compare the two digits. An exchange is needed only where the upper digit is the smaller one.",
    needs=("exchanging",),
    instead={
        "equal additions": "First compare the two digits. Ten is added only where the upper digit is the smaller "
        "one.",
    },
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def borrow_when_not_needed(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with an exchange everywhere, None where the first digit cannot pay."""
    columns = taken_away(minuend, subtrahend)
    if not columns.gaps:
        return None
    last, first = columns.gaps[0], columns.gaps[-1]
    if len(columns.gaps) == 1:
        return columns.right
    total = first - 1
    if total < 0:
        return None
    for gap in columns.gaps[-2:0:-1]:
        total = total * 10 + (gap - 1) % 10
    return written(total * 10 + last % 10, columns.places)


@mistake(
    "subtract.ten-minus-bottom",
    name="Upper digit left out after exchanging",
    topic=TOPIC,
    learner_does="In a column that gets ten, takes the lower digit from the ten and forgets the upper digit; the "
    "exchange is paid rightly.",
    feedback="The ten is added to the units that are already there. Take the lower digit from both together.",
    source=cite(FROM_MEMORY, ASHLOCK, VANLEHN_1990),
    evidence="memory",
)
def ten_minus_bottom(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with ten minus the lower digit in each column that needs an exchange.

    Over a zero that had to pay, that is ten itself, which is written in full.
    """
    columns = taken_away(minuend, subtrahend)
    total, borrowed, unit = 0, False, 1
    for top, bottom in columns.pairs:
        digit = top - borrowed - bottom
        borrowed = digit < 0
        if borrowed:
            digit = 10 - bottom
        total += digit * unit
        unit *= 10 if digit < 10 else 100
    return written(total, columns.places) if columns.pairs else None


@mistake(
    "subtract.zero-written-when-too-small",
    name="Zero written where the upper digit is too small",
    topic=TOPIC,
    learner_does="Writes zero in every column whose upper digit is smaller than the lower one.",
    feedback="Something is left even if the upper digit is smaller: exchange a unit of the next place for ten, then "
    "subtract.",
    needs=("exchanging",),
    instead={
        "equal additions": "Something is left even if the upper digit is smaller: add ten to it, and one to the "
        "next lower digit, then subtract.",
    },
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def zero_written_when_too_small(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the column differences with zero for negative ones, None where only zeros on top are too small."""
    columns = taken_away(minuend, subtrahend)
    total, too_small = 0, False
    for top, bottom in reversed(columns.pairs):
        total *= 10
        if top >= bottom:
            total += top - bottom
        elif top:
            too_small = True
    return written(total, columns.places) if too_small else None
