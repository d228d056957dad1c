"""What guessers earn on the further kinds of response, over the items of a bank, against what chance allows."""

from __future__ import annotations

from bank import panel
from bank.guesses import STRATEGIES, UNIT, blind, units_of
from bank.model import Item, Locale
from bank.summary import GuessResult

SCALE = 1_000_000
"""A blind guess's mean share of the mark is kept in millionths."""
_SIZE = 3
"""Bytes that hold it."""


def earned(item: Item, kind: str, locale: Locale) -> bytes:
    """Return what guessing earns on *item*, packed for `Tally`: blind in millionths, each strategy in units."""
    return int(SCALE * blind(item.response)).to_bytes(_SIZE, "big") + bytes(units_of(item, kind, locale))


def size_of(kind: str) -> int:
    """Return how many bytes `earned` gives for an item of *kind*; 0 for the kinds of `bank.panel`."""
    return _SIZE + len(STRATEGIES[kind]) if kind in STRATEGIES else 0


class Tally:
    """Adds up, item by item, what guessing earns on one kind."""

    def __init__(self, kind: str) -> None:
        self.kind = kind
        self._items = self._blind = 0
        self._units = [0] * len(STRATEGIES[kind])

    def add(self, packed: bytes) -> None:
        """Count an item on which `earned` gave *packed*."""
        self._items += 1
        self._blind += int.from_bytes(packed[:_SIZE], "big")
        self._units = [total + units for total, units in zip(self._units, packed[_SIZE:], strict=True)]

    def results(self) -> list[GuessResult]:
        """Return one result a strategy; the bound allows for all strategies of the kind at once."""
        if not self._items:
            return []
        chance = -(-self._blind * UNIT // SCALE)  # up, so that the bound is never too strict
        most = panel.bound(self._items, max(1, chance), len(self._units))
        return [
            GuessResult(
                kind=self.kind, strategy=name, items=self._items, earned_thousandths=1000 * units // UNIT,
                blind_thousandths=1000 * self._blind // SCALE, bound_thousandths=1000 * most,
                over=units > most * UNIT,
            )
            for name, units in zip(STRATEGIES[self.kind], self._units, strict=True)
        ]
