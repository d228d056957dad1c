"""Mistakes in addition that have to do with the carry, for whole numbers and decimals alike."""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._columns import lined_up
from bank.mistakes._digits import number_of, written
from bank.mistakes._sources import ASHLOCK, COX_1974, FROM_MEMORY, LANGFORD, NO_SOURCE, cite
from bank.numerals import POWERS, Numeral

TOPIC = "decimal addition"
WHOLE_TOPIC = "whole-number arithmetic"


@mistake(
    "add.carry-forgotten",
    name="Carry forgotten",
    topic=TOPIC,
    learner_does="Adds each column from the right and writes its ones digit, but never adds the carry to the next "
    "column.",
    feedback="When a column makes ten or more, ten of its units become one unit of the next place. Write that carry "
    "down at once and add it there.",
    source=cite(COX_1974, ASHLOCK, LANGFORD),
    evidence="published",
)
def carry_forgotten(*addends: Numeral) -> Numeral | None:
    """Return the column sums without carries.

    Mended: the catalogue writes the ones digit of every column. The first column has no neighbour to carry
    to, and learners write its sum in full.
    """
    columns = lined_up(addends)
    total = columns.sums[-1]
    for entry in columns.sums[-2::-1]:
        total = total * 10 + entry % 10
    return written(total, columns.places)


@mistake(
    "add.carry-forgotten-at-the-point",
    name="Carry lost at the point",
    topic=TOPIC,
    learner_does="Carries inside the whole part and inside the decimal part, but drops the carry from the tenths to "
    "the ones.",
    feedback="Ten tenths make one whole. The carry from the tenths crosses the point and is added to the ones.",
    needs=("decimals",),
    source=cite(NO_SOURCE, "seen in trials with simulated mistakes of our own"),
    evidence="common practice",
)
def carry_forgotten_at_the_point(*addends: Numeral) -> Numeral | None:
    """Return the sum without the carry over the point.

    None where no addend has places, or where that is the only carry: then every carry is forgotten.
    """
    columns = lined_up(addends)
    places, sums = columns.places, columns.sums
    if not places or max(sums[: places - 1] + sums[places:-1], default=0) < 10:
        return None
    unit = POWERS[places]
    decimals = sum([number % unit for number in columns.numbers])
    return written(columns.total - decimals // unit * unit, places)


@mistake(
    "add.last-carry-lost",
    name="Last carry not written down",
    topic=TOPIC,
    learner_does="Adds and carries rightly but leaves out the carry that comes out of the first column.",
    feedback="After the first column there may be a carry left. It makes a new place in front, so write it down.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_carry_lost(*addends: Numeral) -> Numeral | None:
    """Return the sum cut to the columns that the addends reach."""
    columns = lined_up(addends)
    unit = POWERS[len(columns.sums)]
    return written(columns.total % unit, columns.places) if columns.total >= unit else columns.right


@mistake(
    "add.column-sums-written-in-full",
    name="Each column sum written in full",
    topic=TOPIC,
    learner_does="Writes the whole sum of each column next to the others, two digits where the column makes ten or "
    "more.",
    feedback="Each place has room for a single digit. When a column makes ten or more, pass the ten on to the next "
    "place as a carry.",
    source=cite(ASHLOCK, LANGFORD),
    evidence="published",
)
def column_sums_written_in_full(*addends: Numeral) -> Numeral | None:
    """Return the column sums written side by side; those after the point all stay after it."""
    columns = lined_up(addends)
    places, sums = columns.places, columns.sums
    longer = sum([entry > 9 for entry in sums[:places]])
    return written(number_of(sums), places + longer)


@mistake(
    "add.carry-digit-swapped",
    name="Wrong digit carried",
    topic=TOPIC,
    learner_does="Where a column makes ten or more, writes the tens digit of that sum and carries its ones digit.",
    feedback="The ones digit of the column sum stays in its place; the tens digit is what moves on to the next place.",
    source=cite(FROM_MEMORY, ASHLOCK),
    evidence="memory",
)
def carry_digit_swapped(*addends: Numeral) -> Numeral | None:
    """Return the sum with written and carried digit swapped; the first column is written in full."""
    columns = lined_up(addends)
    total, carry, unit = 0, 0, 1
    for entry in columns.sums[:-1]:
        entry += carry
        if entry > 9:
            total += entry // 10 * unit
            carry = entry % 10
        else:
            total += entry * unit
            carry = 0
        unit *= 10
    return written(total + (columns.sums[-1] + carry) * unit, columns.places)


@mistake(
    "add.carry-to-the-right",
    name="Added from the left, carry to the right",
    topic=WHOLE_TOPIC,
    learner_does="Adds the columns from the left and passes the ten of a column on to the column at its right.",
    feedback="Ten units of a place make one unit of the place to the left, never of the place to the right. Start with "
    "the last column.",
    source=cite(LANGFORD, ASHLOCK),
    evidence="published",
)
def carry_to_the_right(*addends: Numeral) -> Numeral | None:
    """Return the sum with carries sent to the right.

    Mended: the catalogue is silent about the last column; nothing is to its right, so it is written in full,
    and its extra digit makes one more place where there are places.
    """
    columns = lined_up(addends)
    places = columns.places
    total = carry = 0
    for entry in columns.sums[:0:-1]:
        entry += carry
        total = total * 10 + entry % 10
        carry = entry // 10
    last = columns.sums[0] + carry
    if last > 9:
        return written(total * 100 + last, places and places + 1)
    return written(total * 10 + last, places)


@mistake(
    "add.carry-added-twice",
    name="Carry added twice",
    topic=TOPIC,
    learner_does="Adds each carry to its column two times, once before and once after adding the digits.",
    feedback="Each carry stands for one exchange and is added only once. Cross it out as soon as you have used it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_added_twice(*addends: Numeral) -> Numeral | None:
    """Return the sum with every carry doubled; the first column is written in full."""
    columns = lined_up(addends)
    total, carry, unit = 0, 0, 1
    for entry in columns.sums:
        entry += carry + carry
        total += entry % 10 * unit
        carry = entry // 10
        unit *= 10
    return written(total + carry * unit, columns.places)


@mistake(
    "add.carry-one-column-too-far",
    name="Carry put one column too far left",
    topic=TOPIC,
    learner_does="Adds each carry two columns to the left instead of in the next column.",
    feedback="Ten units of a place make one unit of the very next place. Write the carry directly above the next "
    "column to the left.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_one_column_too_far(*addends: Numeral) -> Numeral | None:
    """Return the sum with every carry one column too far left; the first column is written in full."""
    columns = lined_up(addends)
    total, carry, waiting, unit = 0, 0, 0, 1
    for entry in columns.sums:
        entry += waiting
        waiting = carry
        total += entry % 10 * unit
        carry = entry // 10
        unit *= 10
    return written(total + (waiting + carry) * unit, columns.places)


@mistake(
    "add.carry-when-not-needed",
    name="Carry added in every column",
    topic=TOPIC,
    learner_does="Adds a carry of one to every column after the last, whether or not the column before made ten.",
    feedback="Look whether the column really made ten or more. Only then is there a carry for the next place.",
    source=NO_SOURCE,
    evidence="common practice",
)
def carry_when_not_needed(*addends: Numeral) -> Numeral | None:
    """Return the sum with at least one carried into each column that holds a digit."""
    columns = lined_up(addends)
    total, carry, unit = 0, 0, 1
    for entry in columns.sums:
        if unit > 1:
            entry += carry or 1
        total += entry % 10 * unit
        carry = entry // 10
        unit *= 10
    return written(total + carry * unit, columns.places)
