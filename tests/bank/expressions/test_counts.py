"""Carries and regroupings: the words of the language count what the written methods do."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bank import methods
from bank.expressions import _counts
from bank.numerals import Numeral

UNITS = st.integers(1, 5).flatmap(lambda digits: st.integers(0, 10**digits))


@given(st.lists(UNITS, min_size=2, max_size=5))
def test_carries_are_those_of_the_written_addition(units: list[int]) -> None:
    facts = dict(methods.run("add", [Numeral(unit, 2) for unit in units]).facts)
    assert _counts.carries(*units) == facts["carries"]


@given(UNITS, UNITS)
def test_regroupings_are_those_of_the_written_subtraction(one: int, other: int) -> None:
    larger, smaller = max(one, other), min(one, other)
    facts = dict(methods.run("subtract", [Numeral(larger, 2), Numeral(smaller, 2)], layout="decomposition").facts)
    assert _counts.regroupings(one, other) == facts["regroupings"]
    assert _counts.regroupings_at_zero(one, other) == facts["regroupings_at_zero"]
