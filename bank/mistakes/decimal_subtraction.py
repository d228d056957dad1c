"""Mistakes in subtraction that come from lining up, from places without a partner or from another operation.

Mistakes with regrouping are in the module of that name.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import taken_away
from bank.mistakes._digits import joined, whole_width, written
from bank.mistakes._sources import (
    FROM_MEMORY,
    HIEBERT_WEARNE_1985,
    HIEBERT_WEARNE_1986,
    NO_SOURCE,
    RAGHUBAR_2009,
    VANLEHN_1990,
    cite,
    corpus,
)
from bank.numerals import POWERS, Numeral

TOPIC = "decimal subtraction"


@mistake(
    "subtract.lined-up-on-the-right",
    name="Last digits lined up instead of the points when taking away",
    topic=TOPIC,
    learner_does="Writes the numbers with their last digits under each other, subtracts, and gives the difference as "
    "many places as the number with most places.",
    feedback="Tenths can only be taken from tenths, and ones from ones. Write the points under each other and fill the "
    "empty places with zeros.",
    needs=("decimals",),
    source=cite(FROM_MEMORY, HIEBERT_WEARNE_1985, HIEBERT_WEARNE_1986),
    evidence="memory",
)
def lined_up_on_the_right(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference of the digits as whole numbers, with the most places; it may be negative."""
    return written(minuend.coefficient - subtrahend.coefficient, taken_away(minuend, subtrahend).places)


@mistake(
    "subtract.lined-up-on-the-left",
    name="First digits lined up instead of the points when taking away",
    topic=TOPIC,
    learner_does="Writes the numbers with their first digits under each other and subtracts, the point staying where "
    "it is in the upper number.",
    feedback="The first digits need not be worth the same: one may be tens and the other ones. Line up the points, "
    "so that ones are under ones.",
    needs=("decimals",),
    instead={
        "whole numbers": "The first digits need not be worth the same: one may be tens and the other ones. Line up "
        "the last digits, so that ones are under ones.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def lined_up_on_the_left(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference after the first digits were put under each other, None where it would be negative."""
    shift = whole_width(minuend) - whole_width(subtrahend)
    if shift < 0:
        return None
    columns = taken_away(minuend, subtrahend)
    difference = columns.upper - columns.lower * POWERS[shift]
    return written(difference, columns.places) if difference >= 0 else None


@mistake(
    "subtract.sides-subtracted-separately",
    name="Each side of the point subtracted by itself",
    topic=TOPIC,
    learner_does="Subtracts the parts before the point and, as whole numbers, the digits after the point, with no "
    "exchange between the two.",
    feedback="Digits after the point are tenths, hundredths and so on, not a second whole number. Give both numbers "
    "the same number of places first.",
    needs=("decimals",),
    source=corpus(37636),
    evidence="published",
)
def sides_subtracted_separately(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return whole parts and decimal digits subtracted apart, None where one of them would be negative.

    Mended: the difference of the digits keeps at least as many digits as the shorter string, since a learner
    who takes 04 from 12 in columns writes 08.
    """
    above, below = minuend.places, subtrahend.places
    if not above and not below:
        return None
    whole, decimals = divmod(minuend.coefficient, POWERS[above])
    less, fewer = divmod(subtrahend.coefficient, POWERS[below])
    if less > whole or fewer > decimals:
        return None
    return joined(whole - less, decimals - fewer, min(above or below, below or above))


@mistake(
    "subtract.smaller-decimal-part-from-larger",
    name="Smaller decimal part taken from the larger",
    topic=TOPIC,
    learner_does="Subtracts the whole parts and, by itself, the smaller decimal part from the larger one, whichever "
    "number it belongs to.",
    feedback="The lower number is taken from the upper one on both sides of the point. If its decimal part is larger, "
    "exchange a whole for ten tenths first.",
    needs=("exchanging", "decimals"),
    instead={
        "equal additions and decimals":
        "The lower number is taken from the upper one on both sides of the point. If its tenths "
        "are more, add ten tenths above and one whole below.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def smaller_decimal_part_from_larger(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference of the whole parts with the difference of the decimal parts after it.

    None where the upper number is whole, or the smaller digit taken from the larger gives the same.
    """
    columns = taken_away(minuend, subtrahend)
    if not minuend.places or columns.difference < 0:
        return None
    unit = POWERS[columns.places]
    decimals = columns.upper % unit - columns.lower % unit
    result = columns.difference if decimals >= 0 else columns.difference - decimals - decimals
    return None if result == columns.smaller_from_larger else written(result, columns.places)


@mistake(
    "subtract.unmatched-digits-copied",
    name="Digits below an empty place copied",
    topic=TOPIC,
    learner_does="Where the upper number has no digit, writes the digit of the lower number into the difference; the "
    "other columns are right.",
    feedback="An empty place above counts as zero, and something is being taken from it. Write zeros at the end of "
    "the upper number, then exchange.",
    needs=("exchanging", "decimals"),
    instead={
        "equal additions and decimals":
        "An empty place above counts as zero, and something is being taken from it. Write zeros "
        "at the end of the upper number, then add ten above and one below.",
    },
    source=cite(corpus(37984), VANLEHN_1990),
    evidence="published",
)
def unmatched_digits_copied(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference to the upper number's places, followed by the digits left over below."""
    extra = subtrahend.places - minuend.places
    if extra <= 0:
        return None
    matched, left_over = divmod(subtrahend.coefficient, POWERS[extra])
    if matched > minuend.coefficient:
        return None
    return written((minuend.coefficient - matched) * POWERS[extra] + left_over, subtrahend.places)


@mistake(
    "subtract.unmatched-digits-dropped",
    name="Digits without a partner dropped when taking away",
    topic=TOPIC,
    learner_does="Leaves out the digits of the longer decimal that have nothing above or below them, then subtracts.",
    feedback="An empty place counts as zero, but the digit across from it still matters. Write zeros at the end so "
    "that both numbers have the same places.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def unmatched_digits_dropped(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference after both were cut to the fewer places, None where the upper number is whole.

    There the learner meets zeros on top, which have mistakes of their own.
    """
    if not minuend.places:
        return None
    places = min(minuend.places, subtrahend.places)
    upper = minuend.coefficient // POWERS[minuend.places - places]
    return written(upper - subtrahend.coefficient // POWERS[subtrahend.places - places], places)


@mistake(
    "subtract.zero-put-in-front",
    name="Zero put in front instead of annexed",
    topic=TOPIC,
    learner_does="Makes an upper number with too few places longer by writing zeros straight after its point instead "
    "of at its end.",
    feedback="A zero written at the end changes no digit's place; a zero straight after the point makes tenths into "
    "hundredths. Write the zeros at the end.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def zero_put_in_front(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with the upper digits moved right, None unless the upper number has fewer places.

    Where the lower number is the shorter one the outcome is that of the sides subtracted separately.
    """
    if not 0 < minuend.places < subtrahend.places:
        return None
    whole, decimals = divmod(minuend.coefficient, POWERS[minuend.places])
    difference = whole * POWERS[subtrahend.places] + decimals - subtrahend.coefficient
    return written(difference, subtrahend.places) if difference >= 0 else None


@mistake(
    "subtract.complement-without-paying",
    name="Decimal part completed to a whole, the whole not paid",
    topic=TOPIC,
    learner_does="Takes the whole part from the whole number, completes the decimal part to one whole and writes that "
    "behind it, without taking the one from the whole part.",
    feedback="The missing decimal part has to be taken out of one of the wholes. That leaves one whole less before the "
    "point.",
    needs=("exchanging", "decimals"),
    instead={
        "equal additions and decimals":
        "Where you complete the decimal part to one whole, that whole is taken away too. Add one "
        "to the ones of the lower number.",
    },
    source=corpus(37984),
    evidence="published",
)
def complement_without_paying(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return whole minus whole with the complement of the decimal part, None unless whole minus decimal."""
    unit = POWERS[subtrahend.places]
    whole, decimals = divmod(subtrahend.coefficient, unit)
    if minuend.places or not decimals or whole >= minuend.coefficient:
        return None
    return written((minuend.coefficient - whole) * unit + unit - decimals, subtrahend.places)


@mistake(
    "subtract.left-over-digits-not-brought-down",
    name="Stopped where the lower number ends",
    topic=TOPIC,
    learner_does="Stops subtracting where the lower number has no more digits and does not bring down what is left of "
    "the upper number.",
    feedback="A digit of the upper number with nothing below it still belongs to the difference. Bring it down, less "
    "anything exchanged from it.",
    needs=("exchanging",),
    instead={
        "equal additions": "A digit of the upper number with nothing below it still belongs to the difference. "
        "Bring it down, less the one that was added below it, if there is one.",
    },
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def left_over_digits_not_brought_down(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the right difference cut to the columns of the lower number."""
    columns = taken_away(minuend, subtrahend)
    if columns.difference < 0:
        return None
    return written(columns.difference % POWERS[whole_width(subtrahend) + columns.places], columns.places)


@mistake(
    "subtract.first-digit-used-again",
    name="First digit of the lower number used again",
    topic=TOPIC,
    learner_does="Where the lower number has no more digits, takes its first digit away once more.",
    feedback="Each digit of the lower number is taken away only once, in its own place. Where nothing stands below, "
    "bring the upper digit down.",
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def first_digit_used_again(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference after the first lower digit was repeated up to the first upper column.

    None where that takes away more than there is.
    """
    columns = taken_away(minuend, subtrahend)
    start = columns.places + whole_width(subtrahend)
    first, difference = columns.lower // POWERS[start - 1], columns.difference
    for column in range(start, len(columns.tops)):
        difference -= first * POWERS[column]
    return written(difference, columns.places) if difference >= 0 else None


@mistake(
    "subtract.added-instead",
    name="Added instead of subtracted",
    topic=TOPIC,
    learner_does="Adds the two numbers.",
    feedback="Read the sign once more before you start. When something is taken away, less is left than there was.",
    needs=("sign",),
    instead={
        "words": "Read the question once more: is something taken away, or are two amounts compared? The answer is "
        "less than the larger number.",
    },
    source=cite(corpus(38616), RAGHUBAR_2009),
    evidence="published",
)
def added_instead(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the sum."""
    columns = taken_away(minuend, subtrahend)
    return written(columns.upper + columns.lower, columns.places)


@mistake(
    "subtract.decimal-parts-left-out",
    name="Decimal parts left out when taking away",
    topic=TOPIC,
    learner_does="Subtracts the parts before the point only and leaves out the digits after it.",
    feedback="The tenths and hundredths belong to the numbers as well. Subtract them first, exchanging a whole if "
    "there are too few.",
    needs=("exchanging", "decimals"),
    instead={
        "equal additions and decimals":
        "The tenths and hundredths belong to the numbers as well. Subtract them first, adding "
        "ten above and one below where there are too few.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def decimal_parts_left_out(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference of the whole parts, None unless both numbers have places."""
    if not minuend.places or not subtrahend.places:
        return None
    upper = minuend.coefficient // POWERS[minuend.places]
    return written(upper - subtrahend.coefficient // POWERS[subtrahend.places], 0)
