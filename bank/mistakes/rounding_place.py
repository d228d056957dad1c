"""Mistakes in rounding decimals to the wrong place: counted wrongly, misnamed, or taken for whole numbers.

They return None where the number has no more places than are wanted.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._digits import written
from bank.mistakes._rounding import cut_at, rounded_to
from bank.mistakes._sources import NO_SOURCE, NOVA_SCOTIA, ROUNDING_FORUM
from bank.numerals import POWERS, Numeral

TOPIC = "decimal rounding"


@mistake(
    "round.place-one-too-far",
    name="One place too many kept",
    topic=TOPIC,
    learner_does="Rounds to one place more than asked.",
    feedback="Name the places from the point on: tenths, hundredths, thousandths. There are no oneths, so tenths are "
    "the very first place.",
    needs=("decimals",),
    instead={
        "whole numbers": "Name the places from the right: ones, tens, hundreds. Underline the wanted one before you "
        "round.",
    },
    source=NOVA_SCOTIA,
    evidence="published",
)
def place_one_too_far(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded to one place more, None where that would leave it as it is.

    Mended: the catalogue does not exclude that case; an unrounded number is no answer to a rounding question.
    """
    cut = cut_at(number, places)
    return rounded_to(number, places + 1) if cut is not None and places is not None and cut[2] > 1 else None


@mistake(
    "round.place-one-too-near",
    name="One place too few kept",
    topic=TOPIC,
    learner_does="Rounds to one place fewer than asked.",
    feedback="Name the places from the point on: tenths, hundredths, thousandths. Underline the wanted one before you "
    "round.",
    needs=("decimals",),
    instead={
        "whole numbers": "Name the places from the right: ones, tens, hundreds. Underline the wanted one before you "
        "round.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def place_one_too_near(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded to one place fewer, None where no place would be left."""
    if places is None or places < 2 or cut_at(number, places) is None:
        return None
    return rounded_to(number, places - 1)


@mistake(
    "round.to-whole-instead",
    name="Rounded to a whole number",
    topic=TOPIC,
    learner_does="Rounds to ones although a decimal place is asked for.",
    feedback="Rounding need not end at the ones. Underline the place that is asked for; everything up to it is kept.",
    source=ROUNDING_FORUM,
    evidence="published",
)
def to_whole_instead(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded to ones, None where that is asked for."""
    return rounded_to(number, 0) if places and cut_at(number, places) is not None else None


@mistake(
    "round.tenths-taken-as-tens",
    name="Tenths taken for tens",
    topic=TOPIC,
    learner_does="Rounds to tens where tenths are asked for, to hundreds where hundredths are.",
    feedback="Tens and tenths sound alike but stand on different sides of the point. Tenths are the first place after "
    "it.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def tenths_taken_as_tens(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded to the whole-number place of like name, None where that gives zero."""
    if not places or cut_at(number, places) is None:
        return None
    return rounded_to(number, -places)


@mistake(
    "round.cut-one-place-too-soon",
    name="Cut off before the wanted place",
    topic=TOPIC,
    learner_does="Drops the digit in the wanted place along with the digits after it.",
    feedback="The wanted place is the last one that is kept. Underline it, then look at the digit behind it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def cut_one_place_too_soon(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number cut at one place fewer.

    None where no place would be left, or rounding to that place gives the same.
    """
    cut = cut_at(number, places)
    if cut is None or places is None or places < 2 or cut[0] % 10 < 5:
        return None
    return written(cut[0] // 10, places - 1)


@mistake(
    "round.decimal-part-dropped",
    name="Decimal part dropped",
    topic=TOPIC,
    learner_does="Drops everything after the point although a decimal place is asked for.",
    feedback="Only the digits after the wanted place go. Underline that place; everything up to it is kept.",
    source=NO_SOURCE,
    evidence="common practice",
)
def decimal_part_dropped(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the whole part, None where no decimal place is asked for or rounding to ones gives the same."""
    if not places or cut_at(number, places) is None:
        return None
    tenths = number.coefficient // POWERS[number.places - 1]
    return written(tenths // 10, 0) if tenths % 10 >= 5 else None


@mistake(
    "round.next-whole-number",
    name="Raised to the next whole number",
    topic=TOPIC,
    learner_does="Goes up to the next whole number although a decimal place is asked for.",
    feedback="The wanted place says how near the rounded number must lie. Look for the neighbours in that place, not "
    "for whole numbers.",
    source=NO_SOURCE,
    evidence="common practice",
)
def next_whole_number(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the whole part and one more, None where no decimal place is asked for or rounding to ones gives it."""
    if not places or cut_at(number, places) is None:
        return None
    tenths = number.coefficient // POWERS[number.places - 1]
    return written(tenths // 10 + 1, 0) if tenths % 10 < 5 else None


@mistake(
    "round.ones-raised-instead",
    name="Ones raised instead of the wanted place",
    topic=TOPIC,
    learner_does="Where the next digit is five or more, raises the ones and leaves the wanted place as it is.",
    feedback="Rounding up raises the digit in the wanted place. The ones change only if that digit was a nine and "
    "passes on a carry.",
    source=NO_SOURCE,
    evidence="common practice",
)
def ones_raised_instead(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the kept digits with one whole more, None where nothing is raised or no decimal place is asked for."""
    cut = cut_at(number, places)
    if cut is None or not places or cut[1] < 5:
        return None
    return written(cut[0] + POWERS[places], places)
