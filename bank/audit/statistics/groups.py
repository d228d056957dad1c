"""Score groups of an exact size: pupils who tie at a cut are counted with equal fractions.

So no order of rows decides who belongs to the upper or lower group. Kelley 1939, J. Educ. Psychol. 30:17, for the
27 % (from memory); the sharing of ties is our own choice.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from bank.audit.statistics.tables import exact_sum, exact_sums

UPPER_LOWER = Fraction(27, 100)
THIRD = Fraction(1, 3)


class Cut:
    """The lowest (or highest) *fraction* of the pupils of some cells by score."""

    __slots__ = ("size", "_at", "_tie", "_whole")

    def __init__(self, score: np.ndarray, n: np.ndarray, fraction: Fraction, *, highest: bool = False) -> None:
        order = -score if highest else score
        values, inverse = np.unique(order, return_inverse=True)
        pupils = np.zeros(len(values), dtype=np.int64)
        np.add.at(pupils, inverse, n)
        ends = np.cumsum(pupils)
        persons = int(ends[-1]) if len(ends) else 0
        self.size = persons * fraction
        """Pupils in the group, a fraction."""
        # The first value whose pupils do not all fit is the tied one.
        place = int(np.searchsorted(ends, self.size.numerator // self.size.denominator, side="right"))
        self._whole = inverse < place
        self._at = inverse == place
        if place < len(values):
            before = int(ends[place]) - int(pupils[place])
            self._tie = (self.size - before) / int(pupils[place])
        else:
            self._tie = Fraction(0)

    def sum(self, *factors: np.ndarray) -> Fraction:
        """Return the sum over the group of the products of *factors* (whole numbers by cell, n among them)."""
        whole = exact_sum(*(factor[self._whole] for factor in factors))
        if not self._tie:
            return Fraction(whole)
        return whole + self._tie * exact_sum(*(factor[self._at] for factor in factors))

    def counts(self, starts: np.ndarray, n: np.ndarray) -> tuple[list[int], int]:
        """Return how many of each run of cells are in the group, times a whole number, and that number.

        *starts* are the first cells of the runs, *n* is by cell.
        """
        whole = exact_sums(starts, np.where(self._whole, n, 0))
        if not self._tie:
            return whole, 1
        part, times = self._tie.numerator, self._tie.denominator
        tied = exact_sums(starts, np.where(self._at, n, 0))
        return [one * times + two * part for one, two in zip(whole, tied, strict=True)], times
