"""What is said to a pupil about a wrong answer: one remedy, the one that fits the item.

A mistake has remedies for different items: words about the decimal point do not help with whole numbers, nor words about
exchanging where a class adds ten above and one below. Each remedy names the conditions under which it fits;
`bank.mistakes.remedy` chooses one for an answer, wherever it is shown.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from bank.model import Expression, Item, MatchPairs
from bank.numerals import POWERS, Numeral

_OPERATIONS = frozenset("+-*/")


class Seen(NamedTuple):
    """What remedies ask about an item."""

    decimals: bool
    """Whether an operand or the key is written with places."""
    sign: bool
    """Whether the question shows the sign of an operation."""
    layout: str
    below_one: bool
    """Whether an operand is below one."""
    divisor_below_one: bool
    """Whether a number below one is divided by."""


class Remedy(NamedTuple):
    """Words that help, and when they fit."""

    words: str
    """One or two sentences on what to look at; never blaming; no numbers of an item."""
    needs: tuple[str, ...]
    """Names of `CONDITIONS`, all of which must hold."""

    def fits(self, seen: Seen) -> bool:
        """Return whether the words fit an item."""
        return all([CONDITIONS[name](seen) for name in self.needs])


GENERAL = Remedy("Go through your working once more, step by step.", ())
"""What is said where no remedy of a mistake fits an item."""

CONDITIONS: dict[str, Callable[[Seen], bool]] = {
    "decimals": lambda seen: seen.decimals,
    "whole numbers": lambda seen: not seen.decimals,
    "sign": lambda seen: seen.sign,
    "words": lambda seen: not seen.sign,
    "exchanging": lambda seen: seen.layout != "equal-additions",
    "equal additions": lambda seen: seen.layout == "equal-additions",
    "one sought": lambda seen: seen.layout in ("largest", "smallest"),
    "order": lambda seen: seen.layout in ("ascending", "descending"),
    "relation": lambda seen: seen.layout == "relation",
    "number below one": lambda seen: seen.below_one,
    "divisor below one": lambda seen: seen.divisor_below_one,
    "divisor not below one": lambda seen: not seen.divisor_below_one,
}
"""Conditions by name: what of an item a remedy speaks about."""


def seen_of(item: Item) -> Seen:
    """Return what remedies ask about *item*."""
    shown = [leaf for line in item.stem for leaf in line if isinstance(leaf, Expression)]
    response = item.response
    if isinstance(response, MatchPairs):
        shown += [leaf for offer in response.sources for leaf in offer.text if isinstance(leaf, Expression)]
    parts = [part for leaf in shown for part in leaf.parts]
    divisors = [after for sign, after in zip(parts, parts[1:]) if sign == "/" and isinstance(after, Numeral)]
    if item.family.operation == "divide":
        divisors.append(item.operands[1])
    return Seen(
        any([numeral.places for numeral in item.operands]) or item.key.places > 0,
        any([part in _OPERATIONS for part in parts if isinstance(part, str)]), item.family.layout,
        any(map(_is_below_one, item.operands)), any(map(_is_below_one, divisors)),
    )


def _is_below_one(numeral: Numeral) -> bool:
    return numeral.coefficient < POWERS[numeral.places]
