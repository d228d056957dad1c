"""Counting digits, carries and regroupings on whole numbers: what compiled expressions call while they run."""

from __future__ import annotations

from math import gcd, lcm

from bank.numerals import POWERS, lowest_terms, terminating_places


class Unworkable(ArithmeticError):
    """These drawn values give no number here: a division by zero, a quotient that does not end."""


def over(top: int, bottom: int) -> tuple[int, int]:
    """Return the fraction with a positive bottom."""
    if bottom > 0:
        return top, bottom
    if not bottom:
        raise Unworkable("division by zero")
    return -top, -bottom


def ended(top: int, bottom: int) -> int:
    """Return how many units of the twelfth place ``top / bottom`` is."""
    units, rest = divmod(top * 1_000_000_000_000, bottom)
    if rest:
        raise Unworkable("the quotient does not end")
    return units


def exactly(top: int, bottom: int) -> int:
    """Return the whole number ``top / bottom``."""
    whole, rest = divmod(top, bottom)
    if rest:
        raise Unworkable("the number is not whole")
    return whole


def shortest(top: int, scale: int) -> tuple[int, int]:
    """Return coefficient and places of ``top / 10**scale`` without trailing zeros."""
    while scale and not top % 10:
        top //= 10
        scale -= 1
    return top, scale


def ends(top: int, bottom: int) -> bool:
    """Return whether ``top / bottom`` ends as a decimal."""
    return terminating_places(lowest_terms(top, bottom)[1]) is not None


def nearest(top: int, unit: int) -> int:
    """Return ``top / unit`` to the nearest whole number, a half going away from zero."""
    size = (2 * abs(top) + unit) // (2 * unit)
    return -size if top < 0 else size


def towards_zero(top: int, unit: int) -> int:
    """Return the whole part of ``top / unit``."""
    return -(-top // unit) if top < 0 else top // unit


def digit_count(digits: int, places: int) -> int:
    """Return how many digits are written, a lone zero before the point not counted."""
    return max(len(str(abs(digits))), places)


def zeros_inside(digits: int) -> int:
    """Return how many zeros stand between digits that are not zero."""
    return str(abs(digits)).strip("0").count("0")


def carries(*addends: int) -> int:
    """Return in how many columns the addition carries, addends aligned at the point."""
    if len(addends) == 2:
        one, other = addends
        count = carry = 0
        while (one and other) or carry:
            carry = 1 if one % 10 + other % 10 + carry > 9 else 0
            count += carry
            one //= 10
            other //= 10
        return count
    count = carry = 0
    left = list(addends)
    while any(left) or carry:
        carry = (sum(number % 10 for number in left) + carry) // 10
        count += carry > 0
        left = [number // 10 for number in left]
    return count


def regroupings(one: int, other: int) -> int:
    """Return in how many columns of larger minus smaller the upper digit is too small."""
    if one < other:
        one, other = other, one
    count = borrow = 0
    while other or borrow:
        borrow = 1 if one % 10 < other % 10 + borrow else 0
        count += borrow
        one //= 10
        other //= 10
    return count


def regroupings_at_zero(one: int, other: int) -> int:
    """Return in how many columns of larger minus smaller a regrouping has to pass a zero of the upper number."""
    if one < other:
        one, other = other, one
    count = borrow = 0
    while other or borrow:
        if borrow and not one % 10:
            count += 1
        borrow = 1 if one % 10 < other % 10 + borrow else 0
        one //= 10
        other //= 10
    return count


RUNTIME = {
    "POWERS": POWERS, "over": over, "ended": ended, "exactly": exactly, "shortest": shortest, "ends": ends,
    "nearest": nearest, "towards_zero": towards_zero, "digit_count": digit_count, "zeros_inside": zeros_inside,
    "gcd": gcd, "lcm": lcm, "carries": carries, "regroupings": regroupings, "regroupings_at_zero": regroupings_at_zero,
}
"""What compiled code may call."""
