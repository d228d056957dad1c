"""Slips in sums and differences: one step too few or too many in counting, digits swapped in writing down.

They can happen on any numbers and stay near the right answer on either side of it.
"""

from __future__ import annotations

from collections.abc import Sequence

from bank.mistakes import mistake
from bank.mistakes._columns import lined_up, taken_away
from bank.mistakes._digits import written
from bank.mistakes._sources import NO_SOURCE
from bank.numerals import POWERS, Numeral

ADDITION = "decimal addition"
SUBTRACTION = "decimal subtraction"


def _counted(columns: Sequence[Sequence[int]]) -> int:
    """Return the unit of the last of *columns* in which two addends have something to count, 0 where there is none."""
    for column, column_digits in enumerate(columns):
        if len(column_digits) - column_digits.count(0) > 1:
            return POWERS[column]
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
    lined = lined_up(addends)
    unit = _counted(lined.columns)
    return written(lined.total - unit, lined.places) if unit else None


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
    lined = lined_up(addends)
    unit = _counted(lined.columns)
    return written(lined.total + unit, lined.places) if unit else None


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
    columns = lined_up(addends)
    return written(_swapped(columns.total), columns.places) if columns.total > 9 else None


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
    columns = taken_away(minuend, subtrahend)
    unit = _taken(columns.lower)
    return written(columns.difference + unit, columns.places) if unit and columns.difference >= 0 else None


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
    columns = taken_away(minuend, subtrahend)
    upper, lower = columns.upper, columns.lower
    unit = _taken(lower)
    if not unit or columns.difference <= unit:
        return None
    if not upper // unit // 10 % 10 and upper // unit % 10 < lower // unit % 10:
        return None
    return written(columns.difference - unit, columns.places)


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
    columns = taken_away(minuend, subtrahend)
    return written(_swapped(columns.difference), columns.places) if columns.difference > 9 else None
