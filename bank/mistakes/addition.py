"""Mistakes in addition that come from lining up, from the point or from another operation.

Mistakes with carries are in the module of that name.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import lined_up
from bank.mistakes._digits import joined, whole_width, written
from bank.mistakes._sources import (
    DECIMALS_NOTES,
    FROM_MEMORY,
    HIEBERT_WEARNE_1985,
    HIEBERT_WEARNE_1986,
    NO_SOURCE,
    RESNICK_1989,
    VANLEHN_1990,
    cite,
    corpus,
)
from bank.numerals import POWERS, Numeral

TOPIC = "decimal addition"


@mistake(
    "add.lined-up-on-the-right",
    name="Last digits lined up instead of the points",
    topic=TOPIC,
    learner_does="Writes the addends with their last digits under each other, adds, and gives the sum as many places "
    "as the addend with most places.",
    feedback="Look at what each digit is worth: tenths can only be added to tenths, and ones to ones. Write the "
    "points under each other, then the places line up.",
    needs=("decimals",),
    source=cite(HIEBERT_WEARNE_1985, HIEBERT_WEARNE_1986, DECIMALS_NOTES, corpus(37816)),
    evidence="published",
)
def lined_up_on_the_right(*addends: Numeral) -> Numeral | None:
    """Return the sum of the digits as whole numbers, with the most places."""
    total = places = 0
    for addend in addends:
        total += addend.coefficient
        if addend.places > places:
            places = addend.places
    return written(total, places)


@mistake(
    "add.lined-up-on-the-right-fewer-places",
    name="Last digits lined up, fewest places kept",
    topic=TOPIC,
    learner_does="Writes the addends with their last digits under each other, adds, and gives the sum as many places "
    "as the addend with fewest places.",
    feedback="Tenths can only be added to tenths and hundredths to hundredths. Line up the points; the point of the "
    "sum goes directly below them.",
    needs=("decimals",),
    source=corpus(37638),
    evidence="published",
)
def lined_up_on_the_right_fewer_places(*addends: Numeral) -> Numeral | None:
    """Return the sum of the digits as whole numbers, with the fewest places.

    None where an addend is whole: the catalogue describes it for addends that all have places.
    """
    places = min([addend.places for addend in addends])
    return written(sum([addend.coefficient for addend in addends]), places) if places else None


@mistake(
    "add.lined-up-on-the-left",
    name="First digits lined up instead of the points",
    topic=TOPIC,
    learner_does="Writes the addends with their first digits under each other and adds, the point staying where it is "
    "in the number with most digits before the point.",
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
def lined_up_on_the_left(*addends: Numeral) -> Numeral | None:
    """Return the sum after each addend has been shifted until its first written digit is in the first column."""
    columns, widest, total = lined_up(addends), 1, 0
    for addend, number in zip(addends, columns.numbers):
        width = whole_width(addend)
        if width > widest:
            total *= POWERS[width - widest]
            widest = width
        total += number * POWERS[widest - width]
    return written(total, columns.places)


@mistake(
    "add.sides-added-separately",
    name="Each side of the point added by itself",
    topic=TOPIC,
    learner_does="Adds the parts before the point and, as whole numbers, the digits after the point, and writes both "
    "sums with a point between them.",
    feedback="Digits after the point are tenths, hundredths and so on, not a second whole number. Ten tenths make one "
    "whole, which belongs with the ones.",
    needs=("decimals",),
    source=cite(RESNICK_1989, HIEBERT_WEARNE_1985, corpus(37983)),
    evidence="published",
)
def sides_added_separately(*addends: Numeral) -> Numeral | None:
    """Return whole parts and decimal digits added apart.

    Mended: the catalogue reads the decimal digits as integers and says nothing of zeros in front. A learner
    who adds 05 and 04 in columns writes 09, so the sum keeps at least as many digits as the shorter string.
    """
    whole = decimals = 0
    least = 0
    for addend in addends:
        left, right = divmod(addend.coefficient, POWERS[addend.places])
        whole += left
        decimals += right
        if addend.places and (not least or addend.places < least):
            least = addend.places
    return joined(whole, decimals, least) if least else None


@mistake(
    "add.whole-added-to-both-sides",
    name="Whole number added on both sides of the point",
    topic=TOPIC,
    learner_does="Adds the whole number to the part before the point and once more to the digits after the point.",
    feedback="A whole number is made of ones and tens only, so it changes no tenths. Write it with a point and zeros, "
    "then add place by place.",
    needs=("decimals",),
    source=corpus(37597),
    evidence="published",
)
def whole_added_to_both_sides(*addends: Numeral) -> Numeral | None:
    """Return the sum with the whole addends counted on both sides; one addend has places, the others none."""
    whole = wholes = 0
    part: Numeral | None = None
    for addend in addends:
        if not addend.places:
            wholes += addend.coefficient
        elif part is not None:
            return None
        else:
            part = addend
    if part is None or not wholes:
        return None
    whole, decimals = divmod(part.coefficient, POWERS[part.places])
    return joined(whole + wholes, decimals + wholes, part.places)


@mistake(
    "add.unmatched-digits-dropped",
    name="Digits without a partner dropped",
    topic=TOPIC,
    learner_does="Leaves out the digits of the longer decimal that have nothing above or below them, then adds.",
    feedback="An empty place counts as zero, so the digit in it has to be brought down into the sum. Write zeros in "
    "the empty places before you add.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def unmatched_digits_dropped(*addends: Numeral) -> Numeral | None:
    """Return the sum after every addend has been cut to the fewest places."""
    columns, places = lined_up(addends), min([addend.places for addend in addends])
    if places == columns.places:
        return columns.right
    unit = POWERS[columns.places - places]
    return written(sum([number // unit for number in columns.numbers]), places)


@mistake(
    "add.left-over-digits-not-brought-down",
    name="First digits without a partner left out",
    topic=TOPIC,
    learner_does="Stops adding where the shorter whole part ends and does not bring down the first digits of the "
    "longer number.",
    feedback="Check the first column: a digit that stands alone still belongs to the sum. Bring it down, together with "
    "anything carried to it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def left_over_digits_not_brought_down(*addends: Numeral) -> Numeral | None:
    """Return the sum of the columns that all addends reach, a carry at the left written down; two addends."""
    if len(addends) != 2:
        return None
    columns = lined_up(addends)
    first, second = columns.numbers
    unit = POWERS[max(len(str(min(first, second))), columns.places + 1)]
    return written(first % unit + second % unit, columns.places)


@mistake(
    "add.zero-plus-n-is-zero",
    name="Zero plus a digit taken as zero",
    topic=TOPIC,
    learner_does="Writes zero in a column where one of the two digits is a written zero, as if it were a product.",
    feedback="Adding zero changes nothing, so the other digit stays as it is. Look again at the columns that hold a "
    "zero.",
    source=cite(FROM_MEMORY, VANLEHN_1990),
    evidence="memory",
)
def zero_plus_n_is_zero(*addends: Numeral) -> Numeral | None:
    """Return the column sum with zero for each column holding a written zero (annexed ones do not count).

    A carry is still added; two addends. A whole zero swallows nothing.
    """
    if len(addends) != 2:
        return None
    columns, (first, second) = lined_up(addends), addends
    places, total = columns.places, columns.total
    if not first.coefficient + first.places or not second.coefficient + second.places:
        return columns.right
    shared = places + min(whole_width(first), whole_width(second))
    for column in range(places - min(first.places, second.places), shared):
        if 0 in columns.columns[column]:
            total -= columns.sums[column] * POWERS[column]
    return written(total, places)


@mistake(
    "add.subtracted-instead",
    name="Subtracted instead of added",
    topic=TOPIC,
    learner_does="Takes the smaller number from the larger one.",
    feedback="Read the sign once more before you start. Adding puts numbers together, so a sum is never smaller than "
    "one of them.",
    needs=("sign",),
    instead={
        "words": "Read the question once more: here amounts are put together. A sum is never smaller than one of "
        "them.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def subtracted_instead(*addends: Numeral) -> Numeral | None:
    """Return the difference of two addends."""
    if len(addends) != 2:
        return None
    columns = lined_up(addends)
    first, second = columns.numbers
    return written(abs(first - second), columns.places)


@mistake(
    "add.multiplied-instead",
    name="Multiplied instead of added",
    topic=TOPIC,
    learner_does="Multiplies the two numbers.",
    feedback="Read the sign once more before you start. Estimate the sum first with whole numbers, then compare.",
    needs=("sign",),
    instead={
        "words": "Read the question once more: here amounts are put together. Estimate the sum first with whole "
        "numbers, then compare.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def multiplied_instead(*addends: Numeral) -> Numeral | None:
    """Return the product of two addends."""
    if len(addends) != 2:
        return None
    first, second = addends
    return written(first.coefficient * second.coefficient, first.places + second.places)


@mistake(
    "add.decimal-parts-left-out",
    name="Decimal parts left out",
    topic=TOPIC,
    learner_does="Adds the parts before the point only and leaves out the digits after it.",
    feedback="The tenths and hundredths belong to the numbers as well. Add them first, then the ones.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def decimal_parts_left_out(*addends: Numeral) -> Numeral | None:
    """Return the sum of the whole parts, None unless every addend has places."""
    total = 0
    for addend in addends:
        if not addend.places:
            return None
        total += addend.coefficient // POWERS[addend.places]
    return written(total, 0)
