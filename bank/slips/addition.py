"""Slips in column addition: with carries, with a zero, with the lining up."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from bank.methods._layout import (
    annexed_lines, annexed_note, column_sum, digits_row, heading, inner_zeros, place_name, written_digits,
)
from bank.methods.addition import START, START_WHOLE, column_line
from bank.model import Line, Row, Trace
from bank.numerals import Numeral
from bank.slips import Working, ending, slip

ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth")


class _Column(NamedTuple):
    """A column before it is added."""

    position: int
    """0 for the ones, 1 for the tens, -1 for the tenths."""
    digits: tuple[str, ...]
    """Top to bottom, blanks where nothing is written."""
    carry: int
    """What was noted above it."""
    first: bool
    """Whether no column stands to its left."""

    @property
    def terms(self) -> list[str]:
        """The digits that are written."""
        return [digit for digit in self.digits if digit != " "]


class _Added(NamedTuple):
    """A column after it was added."""

    line: Line
    digit: str
    carry: int
    """What is noted above the next column."""
    wrong: bool = False


_Adding = Callable[[_Column], _Added]


def _rightly(column: _Column) -> _Added:
    digit, carry = column_sum(column.digits, column.carry)
    return _Added(column_line(column.position, column.digits, column.carry), digit, carry)


def _without_carry(column: _Column) -> _Added:
    return _rightly(column._replace(carry=0))._replace(wrong=True)


def _sentence(column: _Column, terms: list[str], total: int, written: str, carry: int) -> Line:
    onward = f", carry {carry} to the {place_name(column.position + 1)}" if carry else ""
    return (f"{heading(column.position)}{' plus '.join(terms)} is {total}; write {written}{onward}.",)


def _in_columns(addends: tuple[Numeral, ...], adding: _Adding) -> Working | None:
    """Return the working in which every column is added as *adding* says; a carry out of the first is written."""
    places = max([addend.places for addend in addends])
    texts = [written_digits(addend) + "0" * (places - addend.places) for addend in addends]
    annexed = annexed_lines(addends, places)
    steps = [START if places else START_WHOLE, *annexed]
    columns = list(zip(*[text.rjust(max(map(len, texts))) for text in texts]))
    wrong: list[int] = []
    carry, result, marks = 0, "", []
    for index, digits in enumerate(reversed(columns)):
        marks.append(str(carry) if carry else "")
        added = adding(_Column(index - places, digits, carry, index + 1 == len(columns)))
        if added.wrong:
            wrong.append(len(steps))
        steps.append(added.line)
        result, carry = added.digit + result, added.carry
    if carry:
        marks.append("")
        steps.append(column_line(len(columns) - places, (), carry))
        result = str(carry) + result
    notes = [annexed_note(places - addend.places) for addend in addends]
    return _written(addends, texts, notes, result, places, marks, steps, wrong)


def _written(
    addends: tuple[Numeral, ...], texts: list[str], notes: list[str], result: str, places: int, marks: list[str],
    steps: list[Line], wrong: list[int], lined_up: bool = True,
) -> Working | None:
    """Return the working with its rows, None where the result would begin with a needless zero."""
    if result[0] == "0" and len(result) > places + 1:
        return None
    answer, width = Numeral(int(result), places), len(result)
    marks += [""] * (width - len(marks))
    point = width - places if places else -1
    rows = [Row("carry", tuple(reversed(marks)), note="carries")] if any(marks) else []
    for index, text in enumerate(texts):
        own = places if lined_up else addends[index].places
        sign = "+" if index + 1 == len(texts) else ""
        rows.append(digits_row("operand", text, width, width, width - own if own else -1, sign, note=notes[index]))
    rows.append(digits_row("result", result, width, width, point, rule=True, note="sum"))
    facts = (
        ("annexed_zeros", sum([places - addend.places for addend in addends]) if lined_up else 0),
        ("carries", len(marks) - marks.count("")),
        ("columns", max(map(len, texts))),
        ("operands", len(addends)),
        ("zeros_inside", inner_zeros(addends)),
    )
    trace = Trace(
        "column-addition", "add", "", addends, answer, tuple(rows), width, (*steps, ending(answer)), facts
    )
    return Working(trace, tuple(wrong))


@slip("add.carry-forgotten")
def carry_forgotten(*addends: Numeral) -> Working | None:
    """Return the working in which every carry is noted and none is added."""
    return _in_columns(addends, lambda column: _without_carry(column) if column.carry else _rightly(column))


@slip("add.carry-forgotten-at-the-point")
def carry_forgotten_at_the_point(*addends: Numeral) -> Working | None:
    """Return the working in which the carry from the tenths is noted and not added, where there are others too."""
    carries = []

    def adding(column: _Column) -> _Added:
        if column.carry:
            carries.append(column.position)
        return _without_carry(column) if column.carry and not column.position else _rightly(column)

    working = _in_columns(addends, adding)
    return working if len(carries) > 1 else None


@slip("add.last-carry-lost")
def last_carry_lost(*addends: Numeral) -> Working | None:
    """Return the working in which the first column's carry is not written down."""

    def adding(column: _Column) -> _Added:
        added = _rightly(column)
        if not column.first or not added.carry:
            return added
        terms = [*column.terms, f"the carried {column.carry}"] if column.carry else column.terms
        line = _sentence(column, terms, 10 * added.carry + int(added.digit), added.digit, 0)
        return _Added(line, added.digit, 0, True)

    return _in_columns(addends, adding)


@slip("add.carry-digit-swapped")
def carry_digit_swapped(*addends: Numeral) -> Working | None:
    """Return the working in which the tens digit of a column's sum is written and its ones digit carried.

    None where that digit is zero: there would be no carry to see.
    """
    unseen = []

    def adding(column: _Column) -> _Added:
        added = _rightly(column)
        if column.first or not added.carry:
            return added
        if added.digit == "0":
            unseen.append(column)
        terms = [*column.terms, f"the carried {column.carry}"] if column.carry else column.terms
        written, onward = str(added.carry), int(added.digit)
        line = _sentence(column, terms, 10 * added.carry + int(added.digit), written, onward)
        return _Added(line, written, onward, written != added.digit)

    working = _in_columns(addends, adding)
    return None if unseen else working


@slip("add.carry-added-twice")
def carry_added_twice(*addends: Numeral) -> Working | None:
    """Return the working in which each carry is added two times."""

    def adding(column: _Column) -> _Added:
        if not column.carry:
            return _rightly(column)
        digit, onward = column_sum(column.digits, 2 * column.carry)
        terms = [*column.terms, f"the carried {column.carry}", f"the carried {column.carry}"]
        return _Added(_sentence(column, terms, 10 * onward + int(digit), digit, onward), digit, onward, True)

    return _in_columns(addends, adding)


@slip("add.carry-when-not-needed")
def carry_when_not_needed(*addends: Numeral) -> Working | None:
    """Return the working in which one is carried out of every column but the first, needed or not."""

    def adding(column: _Column) -> _Added:
        added = _rightly(column)
        if column.first or added.carry:
            return added
        terms = [*column.terms, f"the carried {column.carry}"] if column.carry else column.terms
        return _Added(_sentence(column, terms, int(added.digit), added.digit, 1), added.digit, 1, True)

    return _in_columns(addends, adding)


@slip("add.zero-plus-n-is-zero")
def zero_plus_n_is_zero(*addends: Numeral) -> Working | None:
    """Return the working in which a written zero swallows the digit above or below it; two addends."""
    if len(addends) != 2 or any([not addend.coefficient and not addend.places for addend in addends]):
        return None
    last = -min([addend.places for addend in addends])

    def adding(column: _Column) -> _Added:
        if column.position < last or "0" not in column.digits or " " in column.digits or column.digits == ("0", "0"):
            return _rightly(column)
        terms = [*column.terms, f"the carried {column.carry}"] if column.carry else column.terms
        return _Added(_sentence(column, terms, column.carry, str(column.carry), 0), str(column.carry), 0, True)

    return _in_columns(addends, adding)


@slip("add.lined-up-on-the-right")
def lined_up_on_the_right(*addends: Numeral) -> Working | None:
    """Return the working with last digits under each other, the point where it is in the longest decimal."""
    places = max([addend.places for addend in addends])
    texts = [written_digits(addend) for addend in addends]
    width = max(map(len, texts))
    if len({addend.places for addend in addends}) == 1 or width > len(ORDINALS):
        return None
    steps: list[Line] = [("Write the numbers one below the other, last digit under last digit.",)]
    carry, result, marks = 0, "", []
    for ordinal, digits in zip(ORDINALS, reversed(list(zip(*[text.rjust(width) for text in texts])))):
        marks.append(str(carry) if carry else "")
        terms = [digit for digit in digits if digit != " "]
        digit, onward = column_sum(digits, carry)
        if carry:
            terms.append(f"the carried {carry}")
        carrying = f", carry {onward} to the next column" if onward else ""
        start = f"{ordinal} column from the right: "
        if len(terms) == 1:
            steps.append((f"{start}only {terms[0]} is here; write {digit}.",))
        else:
            total = 10 * onward + int(digit)
            steps.append((f"{start}{' plus '.join(terms)} is {total}; write {digit}{carrying}.",))
        result, carry = digit + result, onward
    if carry:
        marks.append("")
        steps.append((f"One more column: only the carried {carry} is here; write {carry}.",))
        result = str(carry) + result
    return _written(addends, texts, [""] * len(texts), result, places, marks, steps, [0], lined_up=False)
