"""How numbers and lines are read aloud: whole part in words, digits after the mark one by one."""

from __future__ import annotations

from functools import lru_cache

from bank.model import Expression, Line, Unit
from bank.numerals import Numeral

_ONES = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS = ("", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_THOUSANDS = ("", " thousand", " million", " billion")
_MARKS = {".": "point", ",": "comma"}
SIGNS = {
    "+": "plus", "-": "minus", "*": "times", "/": "divided by", "=": "equals", "?": "blank",
    "<": "is less than", ">": "is greater than",
}  # fmt: skip
"""Words for the neutral signs; an empty place is said as "blank"."""


def _below_thousand(number: int) -> str:
    hundreds, rest = divmod(number, 100)
    words = [f"{_ONES[hundreds]} hundred"] if hundreds else []
    if rest >= 20:
        tens, ones = divmod(rest, 10)
        words.append(f"{_TENS[tens]}-{_ONES[ones]}" if ones else _TENS[tens])
    elif rest or not hundreds:
        words.append(_ONES[rest])
    return " ".join(words)


def _whole(digits: str) -> str:
    """Return a whole number in words, or digit by digit where it is too long for words."""
    if len(digits) > 3 * len(_THOUSANDS):
        return " ".join([_ONES[int(digit)] for digit in digits])
    number, groups, words = int(digits), 0, []
    while number:
        number, rest = divmod(number, 1000)
        if rest:
            words.append(_below_thousand(rest) + _THOUSANDS[groups])
        groups += 1
    return " ".join(reversed(words)) or "zero"


@lru_cache(maxsize=8192)
def _spoken(coefficient: int, places: int, mark: str) -> str:
    numeral = Numeral(coefficient, places)
    words = _whole(numeral.whole_digits)
    if places:
        digits = " ".join([_ONES[int(digit)] for digit in numeral.decimal_digits])
        words = f"{words} {_MARKS[mark]} {digits}"
    return f"minus {words}" if coefficient < 0 else words


def number(numeral: Numeral, mark: str) -> str:
    """Return how *numeral* is said: 4.70 as ``four point seven zero``, with the locale's decimal *mark*."""
    return _spoken(numeral.coefficient, numeral.places, mark)


def amount(numeral: Numeral, mark: str, unit: Unit | None) -> str:
    """Return how *numeral* with its *unit* is said where it stands alone: 4.70 m as ``Four point seven zero metres``."""
    said = _spoken(numeral.coefficient, numeral.places, mark)
    return said[:1].upper() + (f"{said[1:]} {unit.spoken or unit.text}" if unit else said[1:])


def expression(parts: Expression, mark: str) -> str:
    """Return how an expression is said."""
    return " ".join([SIGNS[p] if isinstance(p, str) else _spoken(p.coefficient, p.places, mark) for p in parts.parts])


def line(leaves: Line, mark: str, unit: Unit | None = None) -> str:
    """Return how a line is said, or an empty text where it is words only and needs no telling.

    The sign of *unit* beside a number is said in its own words, a currency after the number.
    """
    if len(leaves) == 1 and isinstance(leaves[0], str):
        return ""
    said, numbers = [], [isinstance(leaf, Numeral) for leaf in leaves]
    for place, leaf in enumerate(leaves):
        if isinstance(leaf, str):
            before, after = place and numbers[place - 1], place + 1 < len(leaves) and numbers[place + 1]
            said.append(leaf if unit is None else _unit_said(leaf, unit, bool(before), bool(after)))
        elif isinstance(leaf, Numeral):
            said.append(_spoken(leaf.coefficient, leaf.places, mark))
            if unit is not None and unit.before and place and str(leaves[place - 1]).endswith(unit.text):
                said.append(f" {unit.spoken or unit.text}")
        else:
            said.append(expression(leaf, mark))
    text = "".join(said)
    return text if isinstance(leaves[0], str) else text[:1].upper() + text[1:]


def _unit_said(words: str, unit: Unit, before: bool, after: bool) -> str:
    """Return *words* with the unit's sign after the number *before* them, or the currency before the one *after*."""
    if unit.before:
        return words.removesuffix(unit.text) if after else words
    rest = words[1 + len(unit.text) :]
    if before and unit.spoken and words[:1] in (" ", "\u00a0") and words[1:].startswith(unit.text):
        return words if rest[:1].isalnum() else f" {unit.spoken}{rest}"
    return words
