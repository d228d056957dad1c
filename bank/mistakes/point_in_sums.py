"""Mistakes with the place of the point in sums and differences whose digits are right."""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import lined_up, taken_away
from bank.mistakes._digits import written
from bank.mistakes._sources import NO_SOURCE
from bank.numerals import Numeral

ADDITION = "decimal addition"
SUBTRACTION = "decimal subtraction"


@mistake(
    "add.places-added-up",
    name="Places counted as in a product",
    topic=ADDITION,
    learner_does="Adds rightly, then gives the sum as many places as all addends have together, the rule for products.",
    feedback="Counting the places of both numbers belongs to multiplication. In a sum, tenths stay tenths: the "
    "point goes directly below the other points.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def places_added_up(*addends: Numeral) -> Numeral | None:
    """Return the digits of the sum with the places of all addends together."""
    return written(lined_up(addends).total, sum([addend.places for addend in addends]))


@mistake(
    "add.places-of-last-addend",
    name="Places of the last number copied",
    topic=ADDITION,
    learner_does="Adds rightly, then gives the sum as many places as the number written last.",
    feedback="The columns decide where the point goes, not the last number alone. Keep the point of the sum "
    "directly below the points of all numbers.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def places_of_last_addend(*addends: Numeral) -> Numeral | None:
    """Return the digits of the sum with the places of the last addend, None where that one is whole."""
    places = addends[-1].places
    return written(lined_up(addends).total, places) if places else None


@mistake(
    "add.point-left-out",
    name="Point left out of the sum",
    topic=ADDITION,
    learner_does="Adds the columns rightly and writes the sum without a point.",
    feedback="Round each number to a whole number and add them: the sum must be near that. The point shows where "
    "the ones end and the tenths begin.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def sum_without_point(*addends: Numeral) -> Numeral | None:
    """Return the digits of the sum as a whole number, None where there is no point to leave out."""
    columns = lined_up(addends)
    return written(columns.total, 0) if columns.places else None


@mistake(
    "add.point-one-place-right",
    name="Point of the sum one place too far right",
    topic=ADDITION,
    learner_does="Adds the columns rightly and puts the point one place too far to the right.",
    feedback="The point of the sum goes directly below the other points. Check with whole numbers: is the sum ten "
    "times too large?",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def sum_with_point_right(*addends: Numeral) -> Numeral | None:
    """Return ten times the sum, None where leaving the point out or the last addend's places give the same."""
    columns, places = lined_up(addends), addends[-1].places
    return written(columns.total, places - 1) if places > 1 and columns.places == places else None


@mistake(
    "subtract.point-left-out",
    name="Point left out of the difference",
    topic=SUBTRACTION,
    learner_does="Subtracts the columns rightly and writes the difference without a point.",
    feedback="Estimate with whole numbers first: the difference must be near that. The point shows where the ones "
    "end and the tenths begin.",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_without_point(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return the digits of the difference as a whole number, None where there is no point to leave out."""
    columns = taken_away(minuend, subtrahend)
    if not columns.places or columns.difference < 0:
        return None
    return written(columns.difference, 0)


@mistake(
    "subtract.point-one-place-right",
    name="Point of the difference one place too far right",
    topic=SUBTRACTION,
    learner_does="Subtracts the columns rightly and puts the point one place too far to the right.",
    feedback="The point of the difference goes directly below the other points. Check with whole numbers: is it ten "
    "times too large?",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_with_point_right(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return ten times the difference, None where leaving the point out gives the same."""
    columns = taken_away(minuend, subtrahend)
    if columns.places < 2 or columns.difference < 0:
        return None
    return written(columns.difference, columns.places - 1)


@mistake(
    "subtract.point-one-place-left",
    name="Point of the difference one place too far left",
    topic=SUBTRACTION,
    learner_does="Subtracts the columns rightly and puts the point one place too far to the left.",
    feedback="The point of the difference goes directly below the other points. Check with whole numbers: is it ten "
    "times too small?",
    needs=("decimals",),
    source=NO_SOURCE,
    evidence="common practice",
)
def difference_with_point_left(minuend: Numeral, subtrahend: Numeral) -> Numeral | None:
    """Return a tenth of the difference, None where there is no point to misplace."""
    columns = taken_away(minuend, subtrahend)
    if not columns.places or columns.difference < 0:
        return None
    return written(columns.difference, columns.places + 1)
