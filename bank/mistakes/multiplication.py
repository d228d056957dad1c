"""Mistakes in multiplication that come from the places, from one side of the point or from another operation.

Mistakes inside the written rows are in `long_multiplication`, those with powers of ten in `powers_of_ten`.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._digits import aligned, ended, joined, power_of_ten, whole_width, written
from bank.mistakes._sources import (
    BELL_1981,
    EKENSTAM_GREGER_1983,
    FISCHBEIN_1985,
    HIEBERT_WEARNE_1985,
    HIEBERT_WEARNE_1986,
    NAEP_1983,
    NO_SOURCE,
    TEACHING_BLOG,
    cite,
    corpus,
)
from bank.numerals import POWERS, Numeral

TOPIC = "decimal multiplication"


@mistake(
    "multiply.places-as-in-addition",
    name="Places kept as in a sum",
    topic=TOPIC,
    learner_does="Multiplies the digits as whole numbers and gives the product as many places as the factor with most "
    "places.",
    feedback="Tenths times tenths make hundredths, so a product needs the places of both factors together. Estimate "
    "with whole numbers to check its size.",
    needs=("decimals",),
    source=cite(HIEBERT_WEARNE_1985, HIEBERT_WEARNE_1986, TEACHING_BLOG),
    evidence="published",
)
def places_as_in_addition(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the digits of the product with the most places of a factor."""
    return written(first.coefficient * second.coefficient, max(first.places, second.places))


@mistake(
    "multiply.point-left-out",
    name="Point left out of the product",
    topic=TOPIC,
    learner_does="Multiplies the digits as whole numbers and writes no point.",
    feedback="Estimate the product with whole numbers: it must be near that. Then put the point where the ones end.",
    needs=("decimals",),
    source=cite(corpus(39346), NAEP_1983),
    evidence="published",
)
def point_left_out(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the digits of the product as a whole number, None where there is no point to leave out."""
    return written(first.coefficient * second.coefficient, 0) if first.places or second.places else None


@mistake(
    "multiply.places-of-first-factor",
    name="Places of the first factor only",
    topic=TOPIC,
    learner_does="Gives the product as many places as the factor written first, and forgets those of the other.",
    feedback="Both factors make the product's pieces smaller, so the places of both count. Check the size with whole "
    "numbers.",
    needs=("decimals",),
    source=cite(NO_SOURCE, f"near to {HIEBERT_WEARNE_1985}"),
    evidence="common practice",
)
def places_of_first_factor(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the digits of the product with the places of the first factor."""
    return written(first.coefficient * second.coefficient, first.places)


@mistake(
    "multiply.places-counted-from-left",
    name="Places counted from the left",
    topic=TOPIC,
    learner_does="Puts the point after as many digits of the product as stand before the point in the first factor.",
    feedback="The product may have more digits before the point than a factor. Estimate with whole numbers to see "
    "how many digits go before it.",
    needs=("decimals",),
    source=corpus(39128),
    evidence="published",
)
def places_counted_from_left(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the digits of the product with as many before the point as the first factor has.

    A zero before the point counts as a digit. None where both factors are whole, where the product is too short,
    and where a factor is a power of ten: zeros stuck on the end give the same.
    """
    if not first.places and not second.places or power_of_ten(first) or power_of_ten(second):
        return None
    product = first.coefficient * second.coefficient
    return written(product, len(str(product)) - whole_width(first))


@mistake(
    "multiply.one-place-too-few",
    name="One place too few counted off",
    topic=TOPIC,
    learner_does="Counts off one place fewer than both factors have together.",
    feedback="Count the places of both factors once more and mark each as you count. Estimate with whole numbers: is "
    "the product ten times too large?",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def one_place_too_few(first: Numeral, second: Numeral) -> Numeral | None:
    """Return ten times the product.

    None where a mistake with a reason of its own gives the same: places as in a sum, of the first factor, or none.
    """
    places = first.places + second.places - 1
    if places in (max(first.places, second.places), first.places, 0):
        return None
    return written(first.coefficient * second.coefficient, places)


@mistake(
    "multiply.one-place-too-many",
    name="One place too many counted off",
    topic=TOPIC,
    learner_does="Counts off one place more than both factors have together.",
    feedback="Count the places of both factors once more; a zero before the point is not a place. Estimate with "
    "whole numbers: is the product ten times too small?",
    needs=("decimals",),
    instead={
        "whole numbers": "The product of whole numbers is a whole number. Estimate: is your answer ten times too "
        "small?",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def one_place_too_many(first: Numeral, second: Numeral) -> Numeral | None:
    """Return a tenth of the product, None where there are no places.

    None also where places counted from the left, or a power of ten moved one place only, give the same.
    """
    places = first.places + second.places + 1
    if power_of_ten(first) > 1 or power_of_ten(second) > 1:
        return None
    product = first.coefficient * second.coefficient
    if places == 1 or len(str(product)) - places == whole_width(first):
        return None
    return written(product, places)


@mistake(
    "multiply.sides-multiplied-separately",
    name="Each side of the point multiplied by itself",
    topic=TOPIC,
    learner_does="Multiplies the parts before the point and, as whole numbers, the digits after the point, and writes "
    "both products with a point between them.",
    feedback="Every part of one factor meets every part of the other. Tenths times tenths make hundredths, and the "
    "ones multiply the tenths as well.",
    needs=("decimals",),
    source=corpus(37874),
    evidence="published",
)
def sides_multiplied_separately(first: Numeral, second: Numeral) -> Numeral | None:
    """Return whole parts and decimal digits multiplied apart, None unless both factors have places."""
    if not first.places or not second.places:
        return None
    left, right = divmod(first.coefficient, POWERS[first.places])
    low, high = divmod(second.coefficient, POWERS[second.places])
    return joined(left * low, right * high, 1)


@mistake(
    "multiply.no-exchange-over-the-point",
    name="Tenths not exchanged for wholes",
    topic=TOPIC,
    learner_does="Multiplies the part before the point and the digits after it by the whole number, each by itself, "
    "and writes both products with a point between them.",
    feedback="When the decimal part makes ten tenths or more, ten of them become one whole. Add these wholes to the "
    "part before the point.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def no_exchange_over_the_point(first: Numeral, second: Numeral) -> Numeral | None:
    """Return both sides times the whole factor, with no exchange; one factor is whole, the other is not.

    None where the whole factor is a power of ten, which has mistakes of its own.
    """
    part, times = (first, second) if first.places else (second, first)
    if times.places or not part.places or power_of_ten(times):
        return None
    whole, decimals = divmod(part.coefficient, POWERS[part.places])
    return joined(whole * times.coefficient, decimals * times.coefficient, part.places)


@mistake(
    "multiply.only-whole-part-multiplied",
    name="Only the part before the point multiplied",
    topic=TOPIC,
    learner_does="Multiplies the part before the point by the whole number and copies the digits after the point.",
    feedback="The whole number multiplies every part of the decimal, the tenths and hundredths as well as the ones.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def only_whole_part_multiplied(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product of the whole parts with the decimal digits copied; one factor is whole, the other is not.

    None where the whole factor is a power of ten, which has mistakes of its own.
    """
    part, times = (first, second) if first.places else (second, first)
    if times.places or not part.places or power_of_ten(times):
        return None
    whole, decimals = divmod(part.coefficient, POWERS[part.places])
    return written(whole * times.coefficient * POWERS[part.places] + decimals, part.places)


@mistake(
    "multiply.trailing-zero-dropped-first",
    name="Final zero dropped before counting places",
    topic=TOPIC,
    learner_does="Drops the zeros at the end of the whole-number product first and counts off the places afterwards.",
    feedback="The final zero of the product fills a place, so it must be there while you count. It may go only after "
    "the point is set.",
    needs=("decimals",),
    source=corpus(37503),
    evidence="published",
)
def trailing_zero_dropped_first(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product without its final zeros but with all places, None where nothing is dropped.

    None also where a factor is a power of ten: zeros stuck on the end give the same.
    """
    places = first.places + second.places
    product = first.coefficient * second.coefficient
    if not places or not product or product % 10 or power_of_ten(first) or power_of_ten(second):
        return None
    while not product % 10:
        product //= 10
    return written(product, places)


@mistake(
    "multiply.missing-zeros-not-filled",
    name="Missing zeros after the point not filled in",
    topic=TOPIC,
    learner_does="Where the product has fewer digits than places, writes its digits straight after the point.",
    feedback="Count the places from the right. Where digits run out before all places are counted, zeros fill the "
    "places next to the point.",
    needs=("decimals",),
    source=cite(NO_SOURCE, f"near to {HIEBERT_WEARNE_1986}"),
    evidence="common practice",
)
def missing_zeros_not_filled(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the product's digits straight after the point, None where no zeros are missing."""
    product = first.coefficient * second.coefficient
    length = len(str(product))
    return written(product, length) if product and length < first.places + second.places else None


@mistake(
    "multiply.copied-larger-factor",
    name="Larger factor copied",
    topic=TOPIC,
    learner_does="Answers with the larger of two factors below one, holding that a product cannot shrink.",
    feedback="A part of a part is smaller than either of them. Multiplying by a number below one makes the other "
    "number smaller.",
    needs=("number below one",),
    instead={
        "relation": "Work the product out before you compare. It is not simply the larger of the two factors.",
    },
    source=corpus(39791),
    evidence="published",
)
def copied_larger_factor(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the larger factor, None unless both are below one and not zero."""
    if 0 < first.coefficient < POWERS[first.places] and 0 < second.coefficient < POWERS[second.places]:
        return max(first, second)
    return None


@mistake(
    "multiply.added-instead",
    name="Added instead of multiplied",
    topic=TOPIC,
    learner_does="Adds the two numbers.",
    feedback="Read the sign once more before you start. Multiplying takes one number as many times as the other says.",
    needs=("sign",),
    instead={
        "words": "Read the question once more: the same amount is taken many times, or one length is multiplied by "
        "another. A drawing helps to see it.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def added_instead(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the sum."""
    places, (left, right) = aligned((first, second))
    return written(left + right, places)


@mistake(
    "multiply.divided-because-smaller-expected",
    name="Divided because a smaller answer is expected",
    topic="choice of operation",
    learner_does="Where the multiplier is below one, divides by it, because the answer should come out smaller.",
    feedback="Taking a part of an amount is still multiplication, even when the answer gets smaller. Dividing by a "
    "number below one would make it larger.",
    needs=("number below one",),
    source=cite(EKENSTAM_GREGER_1983, FISCHBEIN_1985, BELL_1981, corpus(37483, 39165)),
    evidence="published",
)
def divided_because_smaller_expected(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the first number divided by the second, None unless the second is below one and the quotient ends."""
    if not 0 < second.coefficient < POWERS[second.places]:
        return None
    return ended(first.coefficient * POWERS[second.places], second.coefficient * POWERS[first.places], None)
