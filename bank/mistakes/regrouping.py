"""Mistakes in subtraction that have to do with regrouping, for whole numbers and decimals alike.

Each procedure works on columns with the points lined up and zeros annexed. Most differ only in who pays for
the ten that a column gets.
"""

from __future__ import annotations

from collections.abc import Callable

from bank.mistakes import mistake
from bank.mistakes._digits import column_pairs, number_of, written
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

Payment = Callable[[list[int], int], bool]
"""Changes the top digits from the given column on; False where nobody can pay."""


def _regrouped(minuend: Numeral, subtrahend: Numeral, pay: Payment) -> Numeral | None:
    places, pairs = column_pairs(minuend, subtrahend)
    tops = [top for top, _ in pairs]
    total = 0
    for column, (_, bottom) in enumerate(pairs):
        digit = tops[column] - bottom
        if digit < 0:
            digit += 10
            if column + 1 == len(tops) or not pay(tops, column + 1):
                return None
        if not 0 <= digit <= 9:
            return None
        total += digit * POWERS[column]
    return written(total, places) if pairs else None


def _pay_rightly(tops: list[int], column: int) -> bool:
    while column < len(tops):
        if tops[column] > 0:
            tops[column] -= 1
            return True
        tops[column] = 9
        column += 1
    return False


def _pay_past_zeros(tops: list[int], column: int) -> bool:
    for payer in range(column, len(tops)):
        if tops[payer] > 0:
            tops[payer] -= 1
            return True
    return False


@mistake(
    "subtract.smaller-from-larger",
    name="Smaller digit taken from the larger in each column",
    topic=TOPIC,
    learner_does="Takes in every column the smaller digit from the larger one, whichever stands on top.",
    feedback="The lower digit is always taken from the upper one. If the upper digit is too small, exchange a unit of "
    "the next place for ten.",
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
    places, pairs = column_pairs(minuend, subtrahend)
    return written(number_of([abs(top - bottom) for top, bottom in pairs]), places) if pairs else None


@mistake(
    "subtract.borrow-not-paid",
    name="Ten added but nothing exchanged for it",
    topic=TOPIC,
    learner_does="Adds ten to an upper digit that is too small but leaves the next column as it is.",
    feedback="The ten comes from the next place to the left, which then has one unit less. Write the smaller digit "
    "above it before going on.",
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, RAGHUBAR_2009, SUBTRACTION_MODEL),
    evidence="published",
)
def borrow_not_paid(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with tens that nobody pays for."""
    return _regrouped(minuend, subtrahend, lambda tops, column: True)


@mistake(
    "subtract.borrow-not-paid-at-the-point",
    name="Exchange across the point not paid",
    topic=TOPIC,
    learner_does="Exchanges rightly inside the decimal part, but when a whole is exchanged for tenths leaves the ones "
    "as they are.",
    feedback="Ten tenths come from one whole. After that exchange there is one whole less before the point.",
    source=NO_SOURCE,
    evidence="common practice",
)
def borrow_not_paid_at_the_point(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with one whole too many where a whole was exchanged, None where there are no places."""
    places, pairs = column_pairs(minuend, subtrahend)
    if not places:
        return None
    total = sum([(top - bottom) * POWERS[column] for column, (top, bottom) in enumerate(pairs)])
    below = sum([(top - bottom) * POWERS[column] for column, (top, bottom) in enumerate(pairs[:places])])
    return written(total + POWERS[places], places) if below < 0 else None


@mistake(
    "subtract.borrow-paid-twice",
    name="Exchange paid twice",
    topic=TOPIC,
    learner_does="Takes two units from the next column for one ten, once when exchanging and once more when "
    "subtracting there.",
    feedback="One unit of the next place makes ten units of this one. Check that each exchange is taken off only once.",
    source=NO_SOURCE,
    evidence="common practice",
)
def borrow_paid_twice(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with two paid for each ten, None where a column could not pay."""

    def pay(tops: list[int], column: int) -> bool:
        return _pay_rightly(tops, column) and _pay_rightly(tops, column)

    return _regrouped(minuend, subtrahend, pay)


@mistake(
    "subtract.one-added-when-paying",
    name="One added to the next column instead of taken",
    topic=TOPIC,
    learner_does="After adding ten to an upper digit, makes the next upper digit one larger instead of one smaller.",
    feedback="The ten was exchanged for one unit of the next place, so that place has one less, not one more. Cross "
    "the digit out and write the smaller one.",
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def one_added_when_paying(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with one added where one should be taken."""

    def pay(tops: list[int], column: int) -> bool:
        tops[column] += 1
        return True

    return _regrouped(minuend, subtrahend, pay)


@mistake(
    "subtract.zero-becomes-nine-only",
    name="Zero made nine, nothing further taken",
    topic=TOPIC,
    learner_does="When exchanging from a zero, makes it nine and stops there; from other digits takes one rightly.",
    feedback="A zero has nothing to give. Go on to the next digit that is not zero, take one there, and then the zero "
    "can become nine.",
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, RAGHUBAR_2009, SUBTRACTION_MODEL),
    evidence="published",
)
def zero_becomes_nine_only(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zeros made nine for free."""

    def pay(tops: list[int], column: int) -> bool:
        tops[column] = tops[column] - 1 if tops[column] > 0 else 9
        return True

    return _regrouped(minuend, subtrahend, pay)


@mistake(
    "subtract.zero-skipped",
    name="Zero skipped when exchanging",
    topic=TOPIC,
    learner_does="When exchanging from a zero, leaves it zero and takes one from the next digit that is not zero.",
    feedback="A unit from further left is worth more than ten here. It first makes ten of the zero's place; one of "
    "these is passed on and nine stay.",
    source=cite(BROWN_BURTON_1978, VANLEHN_1990, SUBTRACTION_MODEL),
    evidence="published",
)
def zero_skipped(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zeros passed over."""
    return _regrouped(minuend, subtrahend, _pay_past_zeros)


@mistake(
    "subtract.nothing-taken-from-zero",
    name="Nothing taken from a zero",
    topic=TOPIC,
    learner_does="When exchanging from a zero, takes nothing anywhere; from other digits takes one rightly.",
    feedback="Every ten has to come from somewhere. If the next digit is zero, go on to the left until there is a "
    "digit to take one from.",
    source=cite(FROM_MEMORY, VANLEHN_1990, BROWN_VANLEHN_1980),
    evidence="memory",
)
def nothing_taken_from_zero(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with tens from a zero left unpaid."""

    def pay(tops: list[int], column: int) -> bool:
        if tops[column] > 0:
            tops[column] -= 1
        return True

    return _regrouped(minuend, subtrahend, pay)


@mistake(
    "subtract.always-from-first-digit",
    name="Always exchanged from the first digit",
    topic=TOPIC,
    learner_does="Takes the one for every exchange from the first digit of the upper number.",
    feedback="The ten comes from the place directly to the left. A unit of the first place is worth more than ten of "
    "this one.",
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def always_from_first_digit(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with every one taken from the first digit that is not zero."""

    def pay(tops: list[int], column: int) -> bool:
        for payer in range(len(tops) - 1, column - 1, -1):
            if tops[payer] > 0:
                tops[payer] -= 1
                return True
        return False

    return _regrouped(minuend, subtrahend, pay)


@mistake(
    "subtract.borrow-when-not-needed",
    name="Exchanged in every column",
    topic=TOPIC,
    learner_does="Adds ten and takes one from the next column in every column but the first, and writes the ones digit "
    "of each difference.",
    feedback="First compare the two digits. An exchange is needed only where the upper digit is the smaller one.",
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def borrow_when_not_needed(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with an exchange everywhere, None where the first digit cannot pay."""
    places, pairs = column_pairs(minuend, subtrahend)
    if not pairs:
        return None
    paid, columns = 0, []
    for top, bottom in pairs[:-1]:
        columns.append((top - paid - bottom) % 10)
        paid = 1
    first = pairs[-1][0] - paid - pairs[-1][1]
    return written(number_of([*columns, first]), places) if first >= 0 else None


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
    """Return the difference with ten minus the lower digit in each column that needs an exchange."""
    places, pairs = column_pairs(minuend, subtrahend)
    borrowed, columns = 0, []
    for top, bottom in pairs:
        digit = top - borrowed - bottom
        borrowed = digit < 0
        columns.append(10 - bottom if borrowed else digit)
    return written(number_of(columns), places) if pairs else None


@mistake(
    "subtract.zero-written-when-too-small",
    name="Zero written where the upper digit is too small",
    topic=TOPIC,
    learner_does="Writes zero in every column whose upper digit is smaller than the lower one.",
    feedback="Something is left even if the upper digit is smaller: exchange a unit of the next place for ten, then "
    "subtract.",
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def zero_written_when_too_small(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the column differences with zero for negative ones."""
    places, pairs = column_pairs(minuend, subtrahend)
    return written(number_of([max(top - bottom, 0) for top, bottom in pairs]), places) if pairs else None


@mistake(
    "subtract.zero-minus-n-is-n",
    name="Zero minus a digit taken as the digit",
    topic=TOPIC,
    learner_does="Where the upper digit is zero from the start, writes the lower digit.",
    feedback="From zero nothing can be taken without an exchange. Exchange a unit of the next place for ten first.",
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
    source=cite(FROM_MEMORY, BROWN_BURTON_1978, VANLEHN_1990),
    evidence="memory",
)
def zero_minus_n_is_zero(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with zero under each upper zero; exchanges pass zeros over."""
    return _over_zero(minuend, subtrahend, 0)


def _over_zero(minuend: Numeral, subtrahend: Numeral, times: int) -> Numeral | None:
    places, pairs = column_pairs(minuend, subtrahend)
    tops = [top for top, _ in pairs]
    total = 0
    for column, (top, bottom) in enumerate(pairs):
        digit = tops[column] - bottom
        if not top:
            digit = bottom * times
        elif digit < 0:
            digit += 10
            if not _pay_past_zeros(tops, column + 1):
                return None
        total += digit * POWERS[column]
    return written(total, places) if pairs else None


@mistake(
    "subtract.last-ten-taken-as-nine",
    name="Nine instead of ten in the last place",
    topic=TOPIC,
    learner_does="When exchanging through zeros, makes the last place nine like the others instead of ten.",
    feedback="The places in the middle keep nine because each passes one on. The place that asked for the exchange "
    "gets the full ten.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_ten_taken_as_nine(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with nine for ten in each column that exchanges through a zero."""
    places, pairs = column_pairs(minuend, subtrahend)
    total = borrowed = 0
    for column, (top, bottom) in enumerate(pairs):
        digit = top - borrowed - bottom
        passes_on = borrowed and not top
        borrowed = digit < 0
        if borrowed:
            through_zero = not passes_on and column + 1 < len(pairs) and not pairs[column + 1][0]
            digit += 9 if through_zero else 10
        total += digit * POWERS[column]
    return written(total, places) if pairs else None
