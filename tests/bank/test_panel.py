"""The guesser's panel and its bound."""

from __future__ import annotations

from fractions import Fraction
from math import comb

import pytest

from bank import cues
from bank.panel import Tally, bound


def _tail(hits: int, items: int, chance: Fraction) -> Fraction:
    return sum(
        (comb(items, count) * chance**count * (1 - chance) ** (items - count) for count in range(hits + 1, items + 1)),
        Fraction(0),
    )


@pytest.mark.parametrize("items", [1, 5, 20, 60])
@pytest.mark.parametrize("size", [3, 4, 5])
@pytest.mark.parametrize("comparisons", [1, 28, 28 * 12])
def test_the_bound_is_the_smallest_count_that_chance_rarely_exceeds(items: int, size: int, comparisons: int) -> None:
    chance, allowed = Fraction(1, size), Fraction(1, 20) / comparisons
    most = bound(items, items * cues.UNIT // size, comparisons)
    assert _tail(most, items, chance) <= allowed
    assert most == 0 or _tail(most - 1, items, chance) > allowed


def test_a_strategy_that_always_hits_is_over_the_bound() -> None:
    tally = Tally()
    for _ in range(40):
        tally.add([cues.UNIT if cue.identifier == "longest" else cues.UNIT // 4 for cue in cues.PANEL], 4)
    results = {result.strategy: result for result in tally.results("bank", 1)}
    assert results["longest"].over
    assert results["longest"].hits_thousandths == 40_000
    assert not results["shortest"].over
    assert results["shortest"].expected_thousandths == 10_000


def test_more_scopes_at_once_allow_more_hits() -> None:
    assert bound(20, 300, 28 * 20) > bound(20, 300, 28) > bound(20, 300, 1)


def test_an_empty_scope_has_no_results() -> None:
    assert Tally().results("bank", 1) == []
