"""A plain walker over expressions with exact fractions and text: the second route beside the compiled code."""

from __future__ import annotations

import math
from collections.abc import Callable
from fractions import Fraction
from typing import Any

from bank.expressions import Calculation, Call, Comparison, Literal, Logic, Name, Negative, Not, Part, Words
from bank.numerals import Numeral


class NoValue(Exception):
    """The walker's word for a draw without a value."""


def walk(part: Part, drawn: dict[str, Any]) -> Any:
    """Return the value of *part* by plain arithmetic on fractions; words come as text."""
    match part:
        case Literal(value):
            return value.value
        case Words(value):
            return value
        case Name(name):
            return drawn[name].value if isinstance(drawn[name], Numeral) else drawn[name]
        case Negative(inner):
            return -walk(inner, drawn)
        case Not(inner):
            return not walk(inner, drawn)
        case Logic(word, parts):
            return (all if word == "and" else any)(walk(inner, drawn) for inner in parts)
        case Comparison(first, rest):
            left = walk(first, drawn)
            values = [(sign, walk(inner, drawn)) for sign, inner in rest]
            holds = True
            for sign, right in values:
                holds = holds and COMPARING[sign](left, right)
                left = right
            return holds
        case Calculation(sign, one, other):
            return calculate(sign, walk(one, drawn), walk(other, drawn))
        case Call(word, arguments):
            written = [
                drawn[inner.name] if isinstance(inner, Name) else None for inner in arguments
            ]
            found = REFERENCE[word](*zip([walk(inner, drawn) for inner in arguments], written, strict=True))
            return found if isinstance(found, bool) else Fraction(found)
    raise TypeError(part)


COMPARING: dict[str, Callable[[Any, Any], bool]] = {
    "<": lambda x, y: x < y, "<=": lambda x, y: x <= y, ">": lambda x, y: x > y, ">=": lambda x, y: x >= y,
    "==": lambda x, y: x == y, "!=": lambda x, y: x != y,
}


def calculate(sign: str, one: Fraction, other: Fraction) -> Fraction:
    """Return one calculation; a division by zero has no value."""
    if sign in ("/", "//", "%") and other == 0:
        raise NoValue
    return {
        "+": lambda: one + other, "-": lambda: one - other, "*": lambda: one * other, "/": lambda: one / other,
        "//": lambda: Fraction(math.floor(one / other)), "%": lambda: one - other * math.floor(one / other),
        "**": lambda: Fraction(one) ** int(other),
    }[sign]()


Given = tuple[Fraction, Numeral | None]


def digits_of(value: Fraction, most: int = 12) -> str:
    """Return *value* as text with as few places as it needs."""
    for places in range(most + 1):
        if (value * 10**places).denominator == 1:
            text = str(abs(int(value * 10**places))).zfill(places + 1)
            return f"{text[:len(text) - places]}.{text[len(text) - places:]}" if places else text
    raise NoValue


def text_of(given: Given) -> str:
    """Return a parameter as written and anything else as short as it can be, without its sign."""
    value, numeral = given
    return numeral.text().lstrip("-") if numeral is not None else digits_of(value)


def columns(*values: Fraction) -> list[list[int]]:
    """Return the digits of *values* by column from the right, aligned at the point."""
    texts = [digits_of(value).partition(".") for value in values]
    places = max(len(text[2]) for text in texts)
    whole = [text[0] + text[2].ljust(places, "0") for text in texts]
    width = max(map(len, whole))
    return [[int(text.rjust(width, "0")[-column]) for text in whole] for column in range(1, width + 1)]


def carries(*given: Given) -> int:
    """Return the carries of the written addition, column by column."""
    carry = count = 0
    for column in columns(*(value for value, _ in given)):
        carry = (sum(column) + carry) // 10
        count += carry > 0
    return count


def regrouping(one: Given, other: Given) -> tuple[int, int]:
    """Return the regroupings of larger minus smaller, and those that meet a zero above."""
    larger, smaller = sorted((abs(one[0]), abs(other[0])), reverse=True)
    borrow = count = at_zero = 0
    for upper, lower in columns(larger, smaller):
        at_zero += borrow and upper == 0
        borrow = int(upper - borrow < lower)
        count += borrow
    return count, at_zero


def whole_number(value: Fraction) -> int:
    """Return a whole number as int; anything else has no value here."""
    if value.denominator != 1:
        raise NoValue
    return int(value)


def rounded(value: Fraction, places: int) -> Fraction:
    """Return *value* rounded, a half going away from zero."""
    size = math.floor(abs(value) * 10**places + Fraction(1, 2))
    return Fraction(size if value >= 0 else -size, 10**places)


def divides(divisor: Given, number: Given) -> bool:
    """Return whether the second is a multiple of the first."""
    if divisor[0] == 0:
        raise NoValue
    return (number[0] / divisor[0]).denominator == 1


def ends(value: Fraction) -> bool:
    """Return whether no prime but 2 and 5 divides the denominator."""
    rest = value.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    return rest == 1


def digit(given: Given, place: Given) -> int:
    """Return the digit at a place."""
    digits_of(given[0])  # a quotient that does not end has no value here
    return math.floor(abs(given[0]) / place[0]) % 10


REFERENCE: dict[str, Callable[..., Any]] = {
    "places": lambda x: len(text_of(x).partition(".")[2]),
    "digits": lambda x: len(text_of(x).replace(".", "")) - (text_of(x)[0] == "0" and "." in text_of(x)),
    "last_digit": lambda x: int(text_of(x)[-1]),
    "digit": digit,
    "whole": lambda x: Fraction(math.trunc(x[0])),
    "part": lambda x: x[0] - math.trunc(x[0]),
    "round": lambda x, n: rounded(x[0], int(n[0])),
    "abs": lambda x: abs(x[0]),
    "min": lambda *xs: min(value for value, _ in xs),
    "max": lambda *xs: max(value for value, _ in xs),
    "gcd": lambda x, y: math.gcd(whole_number(x[0]), whole_number(y[0])),
    "lcm": lambda x, y: math.lcm(whole_number(x[0]), whole_number(y[0])),
    "divides": divides,
    "terminates": lambda x: ends(x[0]),
    "even": lambda x: whole_number(x[0]) % 2 == 0,
    "odd": lambda x: whole_number(x[0]) % 2 == 1,
    "zeros_inside": lambda x: digits_of(abs(x[0])).replace(".", "").strip("0").count("0"),
    "carries": lambda *xs: carries(*((abs(value), None) for value, _ in xs)),
    "regroupings": lambda x, y: regrouping(x, y)[0],
    "regroupings_at_zero": lambda x, y: regrouping(x, y)[1],
}
