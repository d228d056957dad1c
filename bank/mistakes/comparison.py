"""Mistakes in comparing decimals: each is a key by which the learner orders numerals as they are written.

The record's procedure picks the largest or smallest out of the numerals by that key, and picks none where the
learner calls the top ones equal. `judged` and `in_order` ask the same keys other questions.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from bank.mistakes import mistake
from bank.mistakes._sources import (
    DECIMALS_NOTES,
    NO_SOURCE,
    RESNICK_1989,
    SACKUR_LEONARD_1985,
    STACEY_STEINLE_SITE,
    cite,
    corpus,
)
from bank.numerals import MAX_DIGITS, POWERS, Numeral

TOPIC = "decimal comparison"

Key = Callable[[Numeral], Any]
"""What the learner goes by: the numeral with the greater key is called larger, equal keys are called equal."""

_keys: dict[str, Key] = {}


def judged(identifier: str, first: Numeral, second: Numeral) -> int:
    """Return 1 where a learner with that mistake calls *first* larger, -1 where *second*, 0 where both are equal."""
    left, right = _keys[identifier](first), _keys[identifier](second)
    return (left > right) - (left < right)


def in_order(identifier: str, numerals: Sequence[Numeral]) -> tuple[Numeral, ...]:
    """Return *numerals* from smallest to largest as a learner with that mistake orders them."""
    return tuple(sorted(numerals, key=_keys[identifier]))


def _compares(
    identifier: str, *, name: str, learner_does: str, feedback: str, source: str, evidence: str,
    needs: tuple[str, ...] = (), instead: Mapping[str, str] | None = None,
) -> Callable[[Key], Key]:
    """Register the decorated key as a mistake of comparison."""

    def register(key: Key) -> Key:
        def pick(*numerals: Numeral, want: str = "largest") -> Numeral | None:
            keys = [key(numeral) for numeral in numerals]
            best = max(keys) if want == "largest" else min(keys)
            return numerals[keys.index(best)] if keys.count(best) == 1 else None

        pick.__name__, pick.__doc__ = key.__name__, key.__doc__
        _keys[identifier] = key
        mistake(
            identifier,
            name=name,
            topic=TOPIC,
            learner_does=learner_does,
            feedback=feedback,
            source=source,
            evidence=evidence,
            needs=needs,
            instead=instead,
        )(pick)
        return key

    return register


def _sides(numeral: Numeral) -> tuple[int, int]:
    return divmod(numeral.coefficient, POWERS[numeral.places])


def _sized(coefficient: int, places: int) -> int:
    """Return a value as an integer that can be compared with others; no numeral has more places than `MAX_DIGITS`."""
    return coefficient * POWERS[MAX_DIGITS - places]


@_compares(
    "compare.part-as-whole-number",
    name="Decimal part read as a whole number",
    learner_does="Where the whole parts are equal, reads the digits after the point as whole numbers and compares "
    "those.",
    feedback="The digits after the point are tenths, hundredths and so on. Compare the tenths first; only if they are "
    "equal, the hundredths.",
    source=cite(STACEY_STEINLE_SITE, RESNICK_1989, SACKUR_LEONARD_1985, corpus(39460, 38305, 37615)),
    evidence="published",
)
def part_as_whole_number(numeral: Numeral) -> tuple[int, int]:
    """Return whole part and the decimal digits as an integer."""
    return _sides(numeral)


@_compares(
    "compare.more-digits-wins",
    name="More decimal digits means larger",
    learner_does="Where the whole parts are equal, calls the number with more digits after the point the larger one.",
    feedback="The number of digits says nothing about size. Write zeros at the end until all numbers have the same "
    "places, then compare.",
    source=cite(SACKUR_LEONARD_1985, corpus(39439, 38986)),
    evidence="published",
)
def more_digits_wins(numeral: Numeral) -> tuple[int, int, int]:
    """Return whole part, places and the decimal digits as an integer."""
    whole, decimals = _sides(numeral)
    return whole, numeral.places, decimals


@_compares(
    "compare.zero-after-point-then-longer",
    name="A zero straight after the point makes small, otherwise longer is larger",
    learner_does="Calls a number with a zero straight after the point smaller; without such a zero, reads the decimal "
    "digits as whole numbers.",
    feedback="Compare place by place from the point on. The first place in which the digits differ decides, however "
    "many digits follow.",
    source=cite(RESNICK_1989, SACKUR_LEONARD_1985, STACEY_STEINLE_SITE, corpus(39462, 37617)),
    evidence="published",
)
def zero_after_point_then_longer(numeral: Numeral) -> tuple[int, bool, int]:
    """Return whole part, whether no zero is written in the tenths, and the decimal digits as an integer."""
    whole, decimals = _sides(numeral)
    zero_in_tenths = numeral.places > 0 and decimals < POWERS[numeral.places - 1]
    return whole, not zero_in_tenths, decimals


@_compares(
    "compare.digits-squeezed-in-first-column",
    name="All decimal digits squeezed into one column",
    learner_does="Reads the digits after the point, behind any zeros, as one whole number of the first such place: "
    "twelve tenths where one tenth and two hundredths stand.",
    feedback="Each digit after the point has its own place. Only the first one counts tenths, the next one hundredths.",
    source=STACEY_STEINLE_SITE,
    evidence="published",
)
def digits_squeezed(numeral: Numeral) -> int:
    """Return the value read so, as an integer."""
    value = squeezed_value(numeral)
    return _sized(value.coefficient, value.places)


def squeezed_value(numeral: Numeral) -> Numeral:
    """Return the value that the learner reads: whole part and all digits in the place of the first that is not zero."""
    whole, decimals = _sides(numeral)
    places = numeral.places - len(str(decimals)) + 1 if decimals else 0
    return Numeral(whole * POWERS[places] + decimals, places)


def mirrored_decimals(numeral: Numeral) -> int:
    """Return what the decimal digits are worth to a learner who reads them as tens, hundreds, thousands."""
    return _reversed_decimals(numeral) * 10


def _reversed_decimals(numeral: Numeral) -> int:
    decimals = numeral.coefficient % POWERS[numeral.places]
    backwards = 0
    for _ in range(numeral.places):
        decimals, digit = divmod(decimals, 10)
        backwards = backwards * 10 + digit
    return backwards


@_compares(
    "compare.columns-mirrored",
    name="Decimal places read as tens, hundreds, thousands",
    learner_does="Where the whole parts are equal, reads the decimal digits the other way round, as tens, hundreds and "
    "thousands.",
    feedback="From the point to the right each place is worth ten times less. The tenths come first and count most.",
    source=cite(STACEY_STEINLE_SITE, corpus(38397)),
    evidence="published",
)
def columns_mirrored(numeral: Numeral) -> tuple[int, int]:
    """Return whole part and the decimal digits reversed."""
    return numeral.coefficient // POWERS[numeral.places], _reversed_decimals(numeral)


@_compares(
    "compare.fewer-places-wins",
    name="Fewer decimal digits means larger",
    learner_does="Where the whole parts are equal, calls the number with fewer digits after the point the larger one.",
    feedback="Hundredths are smaller than tenths, but there can be many of them. Write zeros at the end until all "
    "numbers have the same places, then compare.",
    source=cite(RESNICK_1989, SACKUR_LEONARD_1985, STACEY_STEINLE_SITE, corpus(39632, 37616)),
    evidence="published",
)
def fewer_places_wins(numeral: Numeral) -> tuple[int, int, int]:
    """Return whole part, places counted down and the decimal digits as an integer."""
    whole, decimals = _sides(numeral)
    return whole, -numeral.places, decimals


@_compares(
    "compare.decimal-as-denominator",
    name="Decimal digits read as a denominator",
    learner_does="Where the whole parts are equal, reads the decimal digits as the denominator of a unit fraction, so "
    "that more means less.",
    feedback="The digits after the point count tenths or hundredths: more of them make a larger number. It is the "
    "place, not the digit, that names the parts.",
    source=cite(STACEY_STEINLE_SITE, corpus(38400)),
    evidence="published",
)
def decimal_as_denominator(numeral: Numeral) -> tuple[int, bool, int]:
    """Return whole part, whether there is a fraction at all, and the decimal digits counted down."""
    whole, decimals = _sides(numeral)
    return whole, decimals > 0, -decimals


@_compares(
    "compare.decimal-part-as-negative",
    name="Decimal part felt to lie below zero",
    learner_does="Where the whole parts are equal, calls the number with the larger decimal part the smaller one.",
    feedback="Digits after the point add something to the whole part. On a number line they lie to the right of it.",
    source=cite(STACEY_STEINLE_SITE, corpus(38401)),
    evidence="published",
)
def decimal_part_as_negative(numeral: Numeral) -> tuple[int, int]:
    """Return whole part and the decimal part with its sign turned."""
    whole, decimals = _sides(numeral)
    return whole, -_sized(decimals, numeral.places)


@_compares(
    "compare.only-two-places-count",
    name="Only two places looked at",
    learner_does="Cuts the numbers after two places and compares what is left.",
    feedback="If two places are equal, the comparison is not over. Go on to the thousandths and further.",
    source=cite(STACEY_STEINLE_SITE, corpus(39625)),
    evidence="published",
)
def only_two_places_count(numeral: Numeral) -> int:
    """Return the numeral in hundredths, cut."""
    if numeral.places < 2:
        return numeral.coefficient * POWERS[2 - numeral.places]
    return numeral.coefficient // POWERS[numeral.places - 2]


@_compares(
    "compare.point-ignored",
    name="Point ignored",
    learner_does="Leaves the points out and compares the whole numbers so made.",
    feedback="The point shows where the ones stand. Compare the parts before the point first, then the tenths, then "
    "the hundredths.",
    source=cite(DECIMALS_NOTES, corpus(39732)),
    evidence="published",
)
def point_ignored(numeral: Numeral) -> int:
    """Return the digits as an integer."""
    return numeral.coefficient


@_compares(
    "compare.trailing-zero-enlarges",
    name="Zero at the end taken to enlarge",
    learner_does="Calls, of two equal numbers, the one with more zeros at the end the larger.",
    feedback="A zero at the end of the decimal places adds nothing: ten hundredths are one tenth. Both numbers are "
    "at the same place on the number line.",
    source=cite(STACEY_STEINLE_SITE, corpus(38986)),
    evidence="published",
)
def trailing_zero_enlarges(numeral: Numeral) -> tuple[int, int]:
    """Return the value and the places written."""
    return _sized(numeral.coefficient, numeral.places), numeral.places


@_compares(
    "compare.zero-beats-decimal",
    name="Zero called larger than a decimal below one",
    learner_does="Calls zero larger than a number with a zero before the point and other digits after it.",
    feedback="The digits after the point make the number more than nothing. Zero is smaller than any tenth or "
    "hundredth.",
    source=cite(STACEY_STEINLE_SITE, corpus(38401)),
    evidence="published",
)
def zero_beats_decimal(numeral: Numeral) -> tuple[int, bool, int]:
    """Return a key that puts zero between the decimals below one and one itself."""
    whole, decimals = _sides(numeral)
    return whole, not numeral.coefficient, _sized(decimals, numeral.places)


@_compares(
    "compare.whole-part-ignored",
    name="Only the decimal parts compared",
    learner_does="Looks at the digits after the point only and compares those parts.",
    feedback="The part before the point comes first: it counts wholes. Compare the tenths only where the whole parts "
    "are equal.",
    source=NO_SOURCE,
    evidence="common practice",
)
def whole_part_ignored(numeral: Numeral) -> int:
    """Return the decimal part."""
    return _sized(numeral.coefficient % POWERS[numeral.places], numeral.places)


@_compares(
    "compare.wrong-end",
    name="Smallest and largest confused",
    learner_does="Compares rightly but gives the number at the other end of the order.",
    feedback="Read once more whether the largest or the smallest is asked for, and check your answer against each of "
    "the other numbers.",
    needs=("one sought",),
    instead={
        "order": "Read once more which number comes first, the largest or the smallest. Then check each number "
        "against the next one.",
        "relation": "The sign opens towards the larger number. Read it aloud from left to right: is less than, or "
        "is greater than.",
    },
    source=NO_SOURCE,
    evidence="common practice",
)
def wrong_end(numeral: Numeral) -> int:
    """Return the value with its sign turned."""
    return -_sized(numeral.coefficient, numeral.places)
