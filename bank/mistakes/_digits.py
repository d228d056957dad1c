"""What the mistakes share: columns of digits, and the way a learner's answer is written down.

Columns are counted from the right, the last place being column 0. The small caches are bounded and hold
only digits of integers, so they change nothing but the time.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank.numerals import POWERS, Numeral

LONGEST = 12
"""Most digits of a wrong answer; longer ones are no distractor for anybody (own choice)."""
_BEYOND = POWERS[LONGEST]


def written(coefficient: int, places: int) -> Numeral | None:
    """Return the numeral, None where it would be longer than `LONGEST` digits or places."""
    if -_BEYOND < coefficient < _BEYOND and 0 <= places <= LONGEST:
        return Numeral(coefficient, places)
    return None


def joined(whole: int, decimals: int, places: int) -> Numeral | None:
    """Return the numeral with *whole* before the point and *decimals* after it in at least *places* digits."""
    while decimals >= POWERS[places]:
        places += 1
    return written(whole * POWERS[places] + decimals, places)


def aligned(operands: Sequence[Numeral]) -> tuple[int, tuple[int, ...]]:
    """Return the largest number of places and the operands as integers of that place, zeros annexed."""
    if len(operands) == 2:
        first, second = operands
        gap = first.places - second.places
        if gap >= 0:
            return first.places, (first.coefficient, second.coefficient * POWERS[gap])
        return second.places, (first.coefficient * POWERS[-gap], second.coefficient)
    places = 0
    for operand in operands:
        if operand.places > places:
            places = operand.places
    return places, tuple([operand.coefficient * POWERS[places - operand.places] for operand in operands])


def whole_width(number: Numeral) -> int:
    """Return how many digits stand before the point, at least one."""
    width = len(str(number.coefficient)) - number.places
    return width if width > 1 else 1


POWERS_OF_TEN = {POWERS[exponent]: exponent for exponent in range(1, 10)}
"""The exponent of ten, a hundred and so on."""


def power_of_ten(number: Numeral) -> int:
    """Return 1 for ten, 2 for a hundred and so on, 0 for every other number."""
    return 0 if number.places else POWERS_OF_TEN.get(number.coefficient, 0)


_VALUES = bytes.maketrans(b"0123456789", bytes(range(10)))


@lru_cache(maxsize=256)
def digits(number: int, least: int = 1) -> tuple[int, ...]:
    """Return the digits of *number* from the right, at least *least* of them."""
    return tuple(str(number).zfill(least).encode().translate(_VALUES)[::-1])


def number_of(columns: Sequence[int]) -> int:
    """Return the integer whose digits from the right are *columns*; an entry above nine is written in full.

    Entries before the first column are below a hundred: a column sum of eleven addends.
    """
    total = 0
    for entry in reversed(columns):
        total = total * (10 if entry < 10 else 100) + entry
    return total


def ended(numerator: int, denominator: int, places: int | None) -> Numeral | None:
    """Return the quotient as a learner writes it: exact where it ends within *places*, else rounded to them.

    With *places* None the quotient must end within `LONGEST` places, or there is none. A half goes up.
    """
    if denominator <= 0 or numerator < 0:
        return None
    if places is None:
        scaled, rest = divmod(numerator * _BEYOND, denominator)
        return None if rest else shortened(scaled, LONGEST)
    if not 0 <= places <= LONGEST:
        return None
    return shortened((2 * numerator * POWERS[places] + denominator) // (2 * denominator), places)


def shortened(coefficient: int, places: int) -> Numeral | None:
    """Return the numeral without zeros at the end of its places, None where `written` gives none."""
    if places and not coefficient % 10:
        text = str(coefficient)
        zeros = len(text) - len(text.rstrip("0")) if coefficient else places
        if zeros > places:
            zeros = places
        return written(coefficient // POWERS[zeros], places - zeros)
    return written(coefficient, places)


def quotient_of(dividend: Numeral, divisor: Numeral, places: int | None) -> Numeral | None:
    """Return the quotient of a learner who divides rightly, by the rules of `ended`."""
    return ended(
        dividend.coefficient * POWERS[divisor.places], divisor.coefficient * POWERS[dividend.places], places
    )
