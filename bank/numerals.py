"""Decimal numerals: value and written form kept apart, integers inside.

A numeral is a whole number of units of its last place: 2.50 is 250 units of a hundredth. 2.5 and 2.50
are equal and written differently. Nothing here makes or takes a float.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import gcd

MAX_DIGITS = 60
"""Longest numeral that is read; longer ones are refused so that no input can stall the arithmetic."""

_WRITTEN = re.compile(r"([+-]?)([0-9]*)(?:([.,])([0-9]*))?\Z", re.ASCII)
POWERS = tuple(10**exponent for exponent in range(MAX_DIGITS * 4 + 1))
"""Powers of ten, looked up instead of raised."""


class Numeral:
    """A decimal numeral: ``coefficient`` units of the place ``places`` digits after the point.

    Equality, order and hash go by value; `same_writing` compares the written form.
    """

    __slots__ = ("coefficient", "places")

    def __init__(self, coefficient: int, places: int = 0) -> None:
        self.coefficient = coefficient
        self.places = places

    @classmethod
    def parse(cls, text: str, mark: str = ".") -> Numeral:
        """Return the numeral that *text* writes, keeping its number of places.

        Raises:
            ValueError: *text* is no plain decimal numeral with this decimal *mark*, or is longer than
                `MAX_DIGITS` digits.
        """
        found = _WRITTEN.match(text)
        if not found or (found[3] and found[3] != mark) or not (found[2] or found[4]):
            raise ValueError(f"{text!r} is not a decimal numeral")
        whole, decimals = found[2], found[4] or ""
        if len(whole) + len(decimals) > MAX_DIGITS:
            raise ValueError(f"a numeral may have at most {MAX_DIGITS} digits")
        coefficient = int(whole + decimals)
        return cls(-coefficient if found[1] == "-" else coefficient, len(decimals))

    @classmethod
    def from_fraction(cls, value: Fraction | int, places: int | None = None) -> Numeral:
        """Return *value* written with *places* places, or with as few as it needs.

        Raises:
            ValueError: *value* cannot be written exactly so.
        """
        numerator, denominator = value.numerator, value.denominator
        if places is not None:
            scaled, rest = divmod(numerator * POWERS[places], denominator)
            if rest:
                raise ValueError(f"{value} has no exact form with {places} places")
            return cls(scaled, places)
        needed = terminating_places(denominator)
        if needed is None or needed > MAX_DIGITS:
            raise ValueError(f"{value} does not end as a decimal")
        return cls(numerator * POWERS[needed] // denominator, needed)

    @property
    def value(self) -> Fraction:
        """The exact value."""
        return Fraction(self.coefficient, POWERS[self.places])

    @property
    def whole_digits(self) -> str:
        """Digits written before the point, at least one, no sign."""
        return str(abs(self.coefficient) // POWERS[self.places])

    @property
    def decimal_digits(self) -> str:
        """Digits written after the point, ``places`` of them."""
        places = self.places
        return str(abs(self.coefficient) % POWERS[places]).zfill(places) if places else ""

    def text(self, mark: str = ".", minus: str = "-") -> str:
        """Return the written form, a zero before the mark for numbers below 1."""
        places = self.places
        digits = str(abs(self.coefficient))
        if places:
            if len(digits) <= places:
                digits = digits.zfill(places + 1)
            digits = f"{digits[:-places]}{mark}{digits[-places:]}"
        return minus + digits if self.coefficient < 0 else digits

    __str__ = text

    def __repr__(self) -> str:
        return f"Numeral({self.text()})"

    def same_writing(self, other: Numeral) -> bool:
        """Whether both are written alike."""
        return self.coefficient == other.coefficient and self.places == other.places

    def normal(self) -> Numeral:
        """Return the equal numeral without trailing zeros after the point."""
        coefficient, places = self.coefficient, self.places
        if not places or coefficient % 10:
            return self
        while places and not coefficient % 10:
            coefficient //= 10
            places -= 1
        return Numeral(coefficient, places)

    def with_places(self, places: int) -> Numeral:
        """Return the equal numeral with exactly *places* places.

        Raises:
            ValueError: digits other than zero would be lost.
        """
        if places >= self.places:
            return Numeral(self.coefficient * POWERS[places - self.places], places)
        coefficient, rest = divmod(self.coefficient, POWERS[self.places - places])
        if rest:
            raise ValueError(f"{self} cannot be written with {places} places")
        return Numeral(coefficient, places)

    def rounded(self, places: int) -> Numeral:
        """Return the nearest numeral with *places* places, a half going away from zero."""
        if places >= self.places:
            return self.with_places(places)
        unit = POWERS[self.places - places]
        size = (2 * abs(self.coefficient) + unit) // (2 * unit)
        return Numeral(-size if self.coefficient < 0 else size, places)

    def _aligned(self, other: Numeral) -> tuple[int, int]:
        if self.places == other.places:
            return self.coefficient, other.coefficient
        if self.places < other.places:
            return self.coefficient * POWERS[other.places - self.places], other.coefficient
        return self.coefficient, other.coefficient * POWERS[self.places - other.places]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Numeral):
            return NotImplemented
        left, right = self._aligned(other)
        return left == right

    def __hash__(self) -> int:
        plain = self.normal()
        return hash((plain.coefficient, plain.places))

    def __lt__(self, other: Numeral) -> bool:
        left, right = self._aligned(other)
        return left < right

    def __le__(self, other: Numeral) -> bool:
        left, right = self._aligned(other)
        return left <= right

    def __gt__(self, other: Numeral) -> bool:
        return other < self

    def __ge__(self, other: Numeral) -> bool:
        return other <= self

    def __add__(self, other: Numeral) -> Numeral:
        left, right = self._aligned(other)
        return Numeral(left + right, max(self.places, other.places))

    def __sub__(self, other: Numeral) -> Numeral:
        left, right = self._aligned(other)
        return Numeral(left - right, max(self.places, other.places))

    def __mul__(self, other: Numeral) -> Numeral:
        return Numeral(self.coefficient * other.coefficient, self.places + other.places)

    def __neg__(self) -> Numeral:
        return Numeral(-self.coefficient, self.places)

    def quotient(self, other: Numeral) -> Fraction:
        """Return the exact quotient.

        Raises:
            ZeroDivisionError: *other* is zero.
        """
        return Fraction(self.coefficient * POWERS[other.places], other.coefficient * POWERS[self.places])


def terminating_places(denominator: int) -> int | None:
    """Return how many places a fraction in lowest terms over *denominator* needs, None if it never ends."""
    twos = (denominator & -denominator).bit_length() - 1
    rest = denominator >> twos
    fives = 0
    while not rest % 5:
        rest //= 5
        fives += 1
    return max(twos, fives) if rest == 1 else None


def round_fraction(value: Fraction, places: int) -> Numeral:
    """Return *value* to the nearest numeral with *places* places, a half going away from zero."""
    scaled = abs(value.numerator) * POWERS[places]
    size = (2 * scaled + value.denominator) // (2 * value.denominator)
    return Numeral(-size if value.numerator < 0 else size, places)


def lowest_terms(numerator: int, denominator: int) -> tuple[int, int]:
    """Return the fraction in lowest terms, the denominator positive."""
    shared = gcd(numerator, denominator)
    if denominator < 0:
        shared = -shared
    return numerator // shared, denominator // shared
