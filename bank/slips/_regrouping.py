"""Column subtraction by decomposition, carried out column by column by whoever decides what is done in each."""

from __future__ import annotations

from collections.abc import Callable

from bank.methods._layout import (
    annexed_lines, annexed_note, digits_row, heading, inner_zeros, one_of, place_name, without_leading_zeros,
    written_digits,
)
from bank.methods.subtraction import START, START_WHOLE, column_line, exchange_line
from bank.model import Line, Row, Trace
from bank.numerals import Numeral
from bank.slips import Working, ending


class Columns:
    """A subtraction under way; columns are counted from the right."""

    def __init__(self, minuend: Numeral, subtrahend: Numeral) -> None:
        self.operands = (minuend, subtrahend)
        self.places = places = max(minuend.places, subtrahend.places)
        upper = written_digits(minuend) + "0" * (places - minuend.places)
        lower = written_digits(subtrahend) + "0" * (places - subtrahend.places)
        self.upper, self.lower = upper, lower
        self.first = [int(digit) for digit in reversed(upper)]
        """The upper digits as they are written."""
        self.top = list(self.first)
        """The upper digits as they are now."""
        self.bottom = [int(digit) for digit in reversed(lower)] + [0] * (len(upper) - len(lower))
        self.marks = [""] * len(upper)
        self.steps: list[Line] = [START if places else START_WHOLE, *annexed_lines(self.operands, places)]
        self.wrong: list[int] = []
        self.exchanges = 0

    def too_small(self, column: int) -> bool:
        """Whether the upper digit is smaller than the lower one."""
        return self.top[column] < self.bottom[column]

    def name(self, column: int) -> str:
        """Return the name of a column, such as ``tenths``."""
        return place_name(column - self.places)

    def say(self, column: int, words: str, wrong: bool = True) -> None:
        """Write a step on *column*."""
        if wrong:
            self.wrong.append(len(self.steps))
        self.steps.append((heading(column - self.places) + words,))

    def exchange(self, column: int) -> None:
        """Get a ten for *column* rightly."""
        source = self.source(column)
        here = self.top[column]
        self.mark(source, self.top[source] - 1)
        for between in range(column + 1, source):
            self.mark(between, 9)
        self.mark(column, here + 10)
        self.exchanges += 1
        left = self.top[source]
        self.steps.append(exchange_line(column - self.places, source - column, here, self.bottom[column], left))

    def exchange_wrongly(self, column: int, words: str, now: dict[int, int], gain: int = 10) -> None:
        """Get *gain* for *column* so that afterwards the columns of *now* hold what it says, as *words* tell."""
        counts = ", ".join([self.counted(other, count) for other, count in sorted(now.items(), reverse=True)])
        here = self.top[column]
        for other, count in now.items():
            if count != self.top[other]:
                self.mark(other, count)
        self.mark(column, here + gain)
        self.exchanges += 1
        self.say(
            column, f"{here} is less than {self.bottom[column]}. {words} Now there are {counts} and "
            f"{self.top[column]} {self.name(column)}.",
        )

    def counted(self, column: int, count: int) -> str:
        """Return such as ``1 ten``, ``3 tenths``."""
        position = column - self.places
        return f"{count} {one_of(position) if count == 1 else place_name(position)}"

    def one(self, column: int) -> str:
        """Return the name of one unit of a column, such as ``tenth``."""
        return one_of(column - self.places)

    def mark(self, column: int, digit: int) -> None:
        """Write a new upper digit above the old one."""
        self.top[column] = digit
        self.marks[column] = str(digit)

    def source(self, column: int) -> int:
        """Return the next column to the left that is not zero."""
        source = column + 1
        while not self.top[source]:
            source += 1
        return source

    def take(self, column: int) -> int:
        """Return the digit of the difference in *column*, rightly; the upper digit is large enough."""
        here, wanted = self.top[column], self.bottom[column]
        self.steps.append(column_line(column - self.places, here, wanted if column < len(self.lower) else -1))
        return here - wanted

    def rightly(self, column: int) -> int:
        """Return the digit of the difference in *column*, with an exchange where it is needed."""
        if self.too_small(column):
            self.exchange(column)
        return self.take(column)


Deciding = Callable[[Columns, int], int | None]
"""Works one column and returns its digit, None where the learner cannot go on."""


def in_columns(minuend: Numeral, subtrahend: Numeral, deciding: Deciding) -> tuple[Columns, Working] | None:
    """Return the subtraction in which each column is worked as *deciding* says, None where one cannot be."""
    if minuend < subtrahend:
        return None
    work = Columns(minuend, subtrahend)
    digits = []
    try:
        for column in range(len(work.top)):
            digit = deciding(work, column)
            if digit is None or not 0 <= digit <= 9:
                return None
            digits.append(str(digit))
    except IndexError:  # nobody is left to pay
        return None
    places, width = work.places, len(work.top)
    text = without_leading_zeros("".join(reversed(digits)), places)
    answer, point = Numeral(int(text), places), width - places if places else -1
    short, long = places - minuend.places, places - subtrahend.places
    rows = [digits_row("operand", work.upper, width, width, point, note=annexed_note(short))]
    if any(work.marks):
        rows.insert(0, Row("regrouped", tuple(reversed(work.marks)), note="digits after regrouping"))
    rows.append(digits_row("operand", work.lower, width, width, point, "-", note=annexed_note(long)))
    rows.append(digits_row("result", text, width, width, point, rule=True, note="difference"))
    facts = (
        ("annexed_zeros", short + long),
        ("columns", width),
        ("regroupings", work.exchanges),
        ("zeros_inside", inner_zeros(work.operands)),
    )
    steps = (*work.steps, ending(answer))
    trace = Trace(
        "column-subtraction", "subtract", "decomposition", work.operands, answer, tuple(rows), width, steps, facts
    )
    return work, Working(trace, tuple(work.wrong))
