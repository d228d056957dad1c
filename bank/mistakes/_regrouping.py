"""What the mistakes in regrouping share: subtraction in columns with a rule for who pays for a ten."""

from __future__ import annotations

from collections.abc import Callable

from bank.mistakes._columns import taken_away
from bank.mistakes._digits import written
from bank.numerals import Numeral

Payment = Callable[[list[int], int], bool]
"""Changes the top digits from the given column on; False where nobody can pay."""


def regrouped(minuend: Numeral, subtrahend: Numeral, pay: Payment) -> Numeral | None:
    """Return the difference where *pay* gives the ten for each column that needs one.

    None where nobody can pay or a column would not hold a single digit.
    """
    columns = taken_away(minuend, subtrahend)
    tops = list(columns.tops)
    total, unit = 0, 1
    for following, bottom in enumerate(columns.bottoms, 1):
        digit = tops[following - 1] - bottom
        if digit < 0:
            digit += 10
            if digit < 0 or following == len(tops) or not pay(tops, following):
                return None
        elif digit > 9:
            return None
        total += digit * unit
        unit *= 10
    return written(total, columns.places) if tops else None


def regrouped_at_zeros(minuend: Numeral, subtrahend: Numeral, pay: Payment) -> Numeral | None:
    """Return what `regrouped` does, for a *pay* that goes wrong at zeros only: else the difference is right."""
    columns = taken_away(minuend, subtrahend)
    return regrouped(minuend, subtrahend, pay) if 0 in columns.tops[1:] else columns.right


def pay_rightly(tops: list[int], column: int) -> bool:
    """Take one from *column*, or from the next that is not zero, the zeros between becoming nine."""
    while column < len(tops):
        if tops[column] > 0:
            tops[column] -= 1
            return True
        tops[column] = 9
        column += 1
    return False


def pay_past_zeros(tops: list[int], column: int) -> bool:
    """Take one from the first column from *column* on that is not zero; zeros stay."""
    while column < len(tops):
        if tops[column] > 0:
            tops[column] -= 1
            return True
        column += 1
    return False
