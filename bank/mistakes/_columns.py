"""What all mistakes of an operation work on, laid out once for the operands and shared.

All procedures are run on one item's operands before those of the next come, so each layout remembers just the
operands that it was last made for, by identity: it holds them, and numerals never change. Whoever asks with
other operands gets a layout of these. What is remembered is read only and changes nothing but the time.
"""

from __future__ import annotations

from collections.abc import Sequence
from operator import add, is_, sub

from bank.mistakes._digits import aligned, digits, number_of, quotient_of, written
from bank.numerals import Numeral


class Sum:
    """Addends with their points lined up and zeros annexed; columns are counted from the right, up to the ones."""

    __slots__ = ("addends", "columns", "first", "last", "numbers", "places", "right", "sums", "total")

    def __init__(self, addends: tuple[Numeral, ...]) -> None:
        self.addends = addends
        self.first, self.last = addends[0], addends[-1]
        self.places, self.numbers = aligned(addends)
        self.total = sum(self.numbers)
        self.right = written(self.total, self.places)
        """The right sum as it is written."""
        rows = _rows(self.numbers, self.places)
        self.columns: tuple[tuple[int, ...], ...] = tuple(zip(*rows))
        """The digits of each column, a zero where an addend has none."""
        self.sums: tuple[int, ...] = tuple(map(add, *rows) if len(rows) == 2 else map(sum, self.columns))
        """The plain sum of each column."""


class Difference:
    """Minuend and subtrahend with their points lined up; columns are counted from the right, up to the ones.

    There are no columns where the subtrahend is larger than the minuend.
    """

    __slots__ = (
        "bottoms", "difference", "gaps", "lower", "minuend", "pairs", "places", "right", "smaller_from_larger",
        "subtrahend", "tops", "upper",
    )

    def __init__(self, minuend: Numeral, subtrahend: Numeral) -> None:
        self.minuend, self.subtrahend = minuend, subtrahend
        self.places, (self.upper, self.lower) = aligned((minuend, subtrahend))
        self.difference = self.upper - self.lower
        self.right = written(self.difference, self.places) if self.difference >= 0 else None
        """The right difference as it is written, None where it would be negative."""
        tops, bottoms = _rows((self.upper, self.lower), self.places) if self.difference >= 0 else ((), ())
        self.tops: tuple[int, ...] = tops
        """The upper digits."""
        self.bottoms: tuple[int, ...] = bottoms
        """The lower digits, zeros up to the first column."""
        self.pairs: tuple[tuple[int, int], ...] = tuple(zip(tops, bottoms))
        """The (top, bottom) digits of each column."""
        self.gaps: tuple[int, ...] = tuple(map(sub, tops, bottoms))
        """Top less bottom in each column, below zero where an exchange is needed."""
        self.smaller_from_larger = number_of([abs(gap) for gap in self.gaps])
        """The number made of the smaller digit taken from the larger in each column."""


def _rows(numbers: Sequence[int], places: int) -> list[tuple[int, ...]]:
    """Return the digits of the numbers from the right, equally many of each, at least up to the ones."""
    width = len(str(max(numbers)))
    if width <= places:
        width = places + 1
    return [digits(number, width) for number in numbers]


_zero = Numeral(0)
_sum = Sum((_zero, _zero))
_difference = Difference(_zero, _zero)
_quotient: tuple[Numeral, Numeral, int | None, Numeral | None] = (_zero, _zero, None, None)


def lined_up(addends: tuple[Numeral, ...]) -> Sum:
    """Return the *addends*, two or more, lined up for adding in columns."""
    global _sum
    known = _sum
    if addends[0] is known.first and addends[-1] is known.last and len(addends) == len(known.addends):
        if len(addends) == 2 or all(map(is_, addends, known.addends)):
            return known
    known = _sum = Sum(addends)
    return known


def taken_away(minuend: Numeral, subtrahend: Numeral) -> Difference:
    """Return both numbers lined up for subtracting in columns."""
    global _difference
    known = _difference
    if minuend is known.minuend and subtrahend is known.subtrahend:
        return known
    known = _difference = Difference(minuend, subtrahend)
    return known


def right_quotient(dividend: Numeral, divisor: Numeral, places: int | None) -> Numeral | None:
    """Return the quotient of a learner who divides rightly, remembered for the pair."""
    global _quotient
    known = _quotient
    if dividend is known[0] and divisor is known[1] and places == known[2]:
        return known[3]
    quotient = quotient_of(dividend, divisor, places)
    _quotient = (dividend, divisor, places, quotient)
    return quotient
