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
    width = 1
    while number.coefficient >= POWERS[number.places + width]:
        width += 1
    return width


_EXPONENTS = {POWERS[exponent]: exponent for exponent in range(1, 10)}


def power_of_ten(number: Numeral) -> int:
    """Return 1 for ten, 2 for a hundred and so on, 0 for every other number."""
    return 0 if number.places else _EXPONENTS.get(number.coefficient, 0)


@lru_cache(maxsize=256)
def digits(number: int, least: int = 1) -> tuple[int, ...]:
    """Return the digits of *number* from the right, at least *least* of them."""
    found = []
    while number > 0:
        number, digit = divmod(number, 10)
        found.append(digit)
    found.extend([0] * (least - len(found)))
    return tuple(found)


def column_sums(operands: Sequence[Numeral]) -> tuple[int, tuple[int, ...]]:
    """Return the places and the plain sum of each column from the right, at least up to the ones."""
    if len(operands) == 2:
        first, second = operands
        return _two_sums(first.coefficient, first.places, second.coefficient, second.places)
    return _sums(*aligned(operands))


@lru_cache(maxsize=64)
def _two_sums(first: int, first_places: int, second: int, second_places: int) -> tuple[int, tuple[int, ...]]:
    return _sums(*aligned((Numeral(first, first_places), Numeral(second, second_places))))


def _sums(places: int, numbers: Sequence[int]) -> tuple[int, tuple[int, ...]]:
    rows = [digits(number, places + 1) for number in numbers]
    width = max(map(len, rows))
    return places, tuple(map(sum, zip(*(row + (0,) * (width - len(row)) for row in rows), strict=True)))


def column_pairs(minuend: Numeral, subtrahend: Numeral) -> tuple[int, tuple[tuple[int, int], ...]]:
    """Return the places and the (top, bottom) digits of each column from the right, at least up to the ones.

    There are no columns where the subtrahend is larger than the minuend.
    """
    return _pairs(minuend.coefficient, minuend.places, subtrahend.coefficient, subtrahend.places)


@lru_cache(maxsize=64)
def _pairs(upper: int, upper_places: int, lower: int, lower_places: int) -> tuple[int, tuple[tuple[int, int], ...]]:
    places, (top, bottom) = aligned((Numeral(upper, upper_places), Numeral(lower, lower_places)))
    if bottom > top:
        return places, ()
    above, below = digits(top, places + 1), digits(bottom, places + 1)
    return places, tuple(zip(above, below + (0,) * (len(above) - len(below)), strict=False))


def number_of(columns: Sequence[int]) -> int:
    """Return the integer whose digits from the right are *columns*; an entry above nine is written in full."""
    total, column = 0, 0
    for entry in columns:
        total += entry * POWERS[column]
        column += 1
        while entry > 9:
            entry //= 10
            column += 1
    return total


def ended(numerator: int, denominator: int, places: int | None) -> Numeral | None:
    """Return the quotient as a learner writes it: exact where it ends within *places*, else rounded to them.

    With *places* None the quotient must end within `LONGEST` places, or there is none. A half goes up.
    """
    if denominator <= 0 or numerator < 0:
        return None
    if places is not None:
        if not 0 <= places <= LONGEST:
            return None
        scaled = (2 * numerator * POWERS[places] + denominator) // (2 * denominator)
        return _short(scaled, places)
    scaled, rest = divmod(numerator * _BEYOND, denominator)
    return None if rest else _short(scaled, LONGEST)


def _short(coefficient: int, places: int) -> Numeral | None:
    while places and not coefficient % 10:
        coefficient //= 10
        places -= 1
    return written(coefficient, places)


def right_quotient(dividend: Numeral, divisor: Numeral, places: int | None) -> Numeral | None:
    """Return the quotient of a learner who divides rightly, by the rules of `ended`."""
    return _quotient(dividend.coefficient, dividend.places, divisor.coefficient, divisor.places, places)


@lru_cache(maxsize=64)
def _quotient(
    dividend: int, dividend_places: int, divisor: int, divisor_places: int, places: int | None
) -> Numeral | None:
    return ended(dividend * POWERS[divisor_places], divisor * POWERS[dividend_places], places)
