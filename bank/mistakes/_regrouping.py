"""What the mistakes in regrouping share: subtraction in columns with a rule for who pays for a ten."""

from __future__ import annotations

from collections.abc import Callable

from bank.mistakes._columns import taken_away
from bank.mistakes._digits import written
from bank.numerals import POWERS, Numeral

Payment = Callable[[list[int], int], bool]
"""Changes the top digits from the given column on; False where nobody can pay."""


def regrouped(minuend: Numeral, subtrahend: Numeral, pay: Payment) -> Numeral | None:
    """Return the difference where *pay* gives the ten for each column that needs one.

    None where nobody can pay or a column would not hold a single digit.
    """
    columns = taken_away(minuend, subtrahend)
    tops = list(columns.tops)
    total = column = 0
    for bottom in columns.bottoms:
        digit = tops[column] - bottom
        if digit < 0:
            digit += 10
            if column + 1 == len(tops) or not pay(tops, column + 1) or digit < 0:
                return None
        elif digit > 9:
            return None
        total += digit * POWERS[column]
        column += 1
    return written(total, columns.places) if tops else None


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
    for payer in range(column, len(tops)):
        if tops[payer] > 0:
            tops[payer] -= 1
            return True
    return False
