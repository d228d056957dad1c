"""Slips in sums and differences: one step too few or too many in counting, digits swapped in writing down.

They can happen on any numbers and stay near the right answer on either side of it.
"""

from __future__ import annotations

from collections.abc import Sequence

from bank.mistakes import mistake
from bank.mistakes._digits import aligned, written
from bank.mistakes._sources import NO_SOURCE
from bank.numerals import Numeral

ADDITION = "decimal addition"
SUBTRACTION = "decimal subtraction"


def _counted(numbers: Sequence[int]) -> int:
    """Return the unit of the last column in which two addends have something to count, 0 where there is none."""
    unit, most = 1, max(numbers)
    while unit <= most:
        if sum([number // unit % 10 > 0 for number in numbers]) > 1:
            return unit
        unit *= 10
    return 0


def _taken(subtrahend: int) -> int:
    """Return the unit of the last column in which something is taken away, 0 where there is none."""
    unit = 1
    while subtrahend > 0 and not subtrahend // unit % 10:
        unit *= 10
    return unit if subtrahend > 0 else 0


def _swapped(number: int) -> int:
    """Return *number* with its last two digits swapped."""
    rest, last = divmod(number, 10)
    rest, before = divmod(rest, 10)
    return rest * 100 + last * 10 + before


@mistake(
    "add.one-step-too-few",
    name="Start counted as the first step",
    topic=ADDITION,
    learner_does="Counts on in the last column that holds two digits, taking the starting number as the first step, so "
    "that the sum is one unit of that place too small.",
    feedback="When you count on, the first step leads to the next number; the start itself is not counted. Check the "
    "last column with a fact you know.",
    source=NO_SOURCE,
    evidence="common practice",
)
def sum_one_step_too_few(*addends: Numeral) -> Numeral | None:
    """Return the sum less one unit of the last column with two digits to count, None where there is none."""
    places, numbers = aligned(addends)
    unit = _counted(numbers)
    return written(sum(numbers) - unit, places) if unit else None


@mistake(
    "add.one-step-too-many",
    name="One step too many counted on",
    topic=ADDITION,
    learner_does="Counts on one step too far in the last column that holds two digits, so that the sum is one unit of "
    "that place too large.",
    feedback="Keep track of the steps while you count on, and stop at the right one. Check the last column with a fact "
    "you know.",
    source=NO_SOURCE,
    evidence="common practice",
)
def sum_one_step_too_many(*addends: Numeral) -> Numeral | None:
    """Return the sum and one unit more of the last column with two digits to count, None where there is none."""
    places, numbers = aligned(addends)
    unit = _counted(numbers)
    return written(sum(numbers) + unit, places) if unit else None


@mistake(
    "add.last-digits-swapped",
    name="Last two digits of the sum swapped",
    topic=ADDITION,
    learner_does="Adds rightly and swaps the last two digits when writing the sum.",
    feedback="Say the sum place by place and compare it with what you wrote. The last digit belongs below the last "
    "column.",
    source=NO_SOURCE,
    evidence="common practice",
)
def sum_with_last_digits_swapped(*addends: Numeral) -> Numeral | None:
    """Return the sum with its last two digits swapped, None where it has one digit."""
    places, numbers = aligned(addends)
    total = sum(numbers)
    return written(_swapped(total), places) if total > 9 else None


@mistake(
    "subtract.one-step-too-few",
    name="Start counted as the first step back",
    topic=SUBTRACTION,
    learner_does="Counts back in the last column with something to take away, taking the starting number as the first "
    "step, so that the difference is one unit of that place too large.",
    feedback="When you count back, the first step leads to the number before; the start itself is not counted. Check "
    "by adding.",
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_one_step_too_few(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference and one unit more of the last column with something to take away."""
    places, (upper, lower) = aligned((minuend, subtrahend))
    unit = _taken(lower)
    return written(upper - lower + unit, places) if upper >= lower and unit else None


@mistake(
    "subtract.one-step-too-many",
    name="One step too many counted back",
    topic=SUBTRACTION,
    learner_does="Counts back one step too far in the last column with something to take away, so that the difference "
    "is one unit of that place too small.",
    feedback="Keep track of the steps while you count back, and stop at the right one. Check by adding the difference "
    "to what was taken away.",
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_one_step_too_many(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference less one unit of the last column with something to take away.

    None where nothing would be left, or where that column exchanges through a zero: nine taken for ten gives the same.
    """
    places, (upper, lower) = aligned((minuend, subtrahend))
    unit = _taken(lower)
    if unit and not upper // unit // 10 % 10 and upper // unit % 10 < lower // unit % 10:
        return None
    return written(upper - lower - unit, places) if unit and upper - lower > unit else None


@mistake(
    "subtract.last-digits-swapped",
    name="Last two digits of the difference swapped",
    topic=SUBTRACTION,
    learner_does="Subtracts rightly and swaps the last two digits when writing the difference.",
    feedback="Say the difference place by place and compare it with what you wrote. The last digit belongs below the "
    "last column.",
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_with_last_digits_swapped(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the difference with its last two digits swapped, None where it has one digit."""
    places, (upper, lower) = aligned((minuend, subtrahend))
    return written(_swapped(upper - lower), places) if upper - lower > 9 else None
