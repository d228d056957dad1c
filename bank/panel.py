"""The guesser's panel: what strategies without arithmetic earn on a set of items, against what chance allows."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Context, Decimal
from functools import lru_cache

from bank import cues
from bank.summary import StrategyResult

LEVEL = Decimal("0.05")
"""Chance of a false alarm over all strategies of a scope together (Bonferroni). Common practice, no source."""
_EXACT_ENOUGH = Context(prec=40)


class Tally:
    """Adds up, item by item, what each strategy of the panel earns."""

    def __init__(self) -> None:
        self.items = 0
        self.chance = 0
        self.earned = [0] * len(cues.PANEL)

    def add(self, earned: Iterable[int], size: int) -> None:
        """Count an item of *size* options on which the strategies earned *earned* units."""
        self.items += 1
        self.chance += cues.UNIT // size
        self.earned = [total + units for total, units in zip(self.earned, earned, strict=True)]

    def results(self, scope: str, scopes: int) -> list[StrategyResult]:
        """Return one result a strategy for *scope*; the bound allows for all strategies and *scopes* at once."""
        if not self.items:
            return []
        most = bound(self.items, self.chance, len(cues.PANEL) * scopes)
        return [
            StrategyResult(
                scope=scope, strategy=cue.identifier, items=self.items,
                hits_thousandths=1000 * units // cues.UNIT, expected_thousandths=1000 * self.chance // cues.UNIT,
                bound_thousandths=1000 * most, over=units > most * cues.UNIT,
            )
            for cue, units in zip(cues.PANEL, self.earned, strict=True)
        ]


@lru_cache(maxsize=1024)
def bound(items: int, chance_units: int, comparisons: int) -> int:
    """Return the most hits that chance is allowed on *items* items.

    The smallest h with P(X > h) <= `LEVEL` / *comparisons* for a binomial X with the mean chance of the items;
    items of unequal chance vary less than that (Hoeffding 1956, Ann. Math. Stat. 27:713), as do shared hits.
    Decimal arithmetic of 40 digits, the same on every machine.
    """
    context = _EXACT_ENOUGH
    share = context.divide(Decimal(chance_units), Decimal(cues.UNIT * items))
    rest = context.subtract(Decimal(1), share)
    odds = context.divide(share, rest)
    allowed = context.subtract(Decimal(1), context.divide(LEVEL, Decimal(comparisons)))
    mass = context.power(rest, items)
    total, hits = mass, 0
    while total < allowed and hits < items:
        ratio = context.divide(context.multiply(Decimal(items - hits), odds), Decimal(hits + 1))
        mass = context.multiply(mass, ratio)
        total = context.add(total, mass)
        hits += 1
    return hits
