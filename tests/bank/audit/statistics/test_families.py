"""Siblings: mean and spread of an item model, the pull to the mean, and their agreement with a second opinion."""

from __future__ import annotations

import math

import numpy as np
import pytest
from count_tables import counted, scored
from wanted import STATSMODELS, needs

from bank.audit.statistics.classical import form_statistics
from bank.audit.statistics.families import (
    Sibling, family_spreads, siblings_of_facilities, siblings_of_rasch,
)
from bank.audit.statistics.patterns import groups_of_counts
from bank.audit.statistics.rasch import fit_rasch


def siblings(values: list[float], errors: list[float], family: str = "f") -> list[Sibling]:
    """Return siblings with these values and errors."""
    return [Sibling(f"{family}{k}", family, y, se, 100) for k, (y, se) in enumerate(zip(values, errors, strict=True))]


VALUES, ERRORS = [0.1, 0.9, -0.6, 1.4, 0.3, 0.8], [0.2, 0.3, 0.25, 0.2, 0.3, 0.35]


def test_spread_makes_the_weighted_squares_as_large_as_expected() -> None:
    family, = family_spreads(siblings(VALUES, ERRORS))
    y, v = np.array(VALUES), np.array(ERRORS) ** 2
    weight = 1 / (family.spread.value**2 + v)
    mean = (weight @ y) / weight.sum()
    assert weight @ (y - mean) ** 2 == pytest.approx(len(y) - 1, abs=1e-9)
    assert family.mean.value == pytest.approx(mean) and family.mean.n == 6
    assert family.spread.low < family.spread.value < family.spread.high


@pytest.mark.long
def test_mean_and_spread_agree_with_a_second_implementation() -> None:
    module = pytest.importorskip("statsmodels.stats.meta_analysis", reason=needs(STATSMODELS))
    result = module.combine_effects(np.array(VALUES), np.array(ERRORS) ** 2, method_re="iterated", atol=1e-12)
    family, = family_spreads(siblings(VALUES, ERRORS))
    assert family.spread.value**2 == pytest.approx(result.tau2, rel=1e-6)
    assert family.mean.value == pytest.approx(result.mean_effect_re, abs=1e-7)


def test_siblings_are_pulled_by_as_much_as_their_errors_ask_for() -> None:
    family, = family_spreads(siblings(VALUES, ERRORS))
    for one in family.siblings:
        assert one.pull == pytest.approx(one.error**2 / (one.error**2 + family.used**2))
        assert one.pooled == pytest.approx(one.value + one.pull * (family.mean.value - one.value))
        assert one.pooled_error < one.error
    by_error = sorted(family.siblings, key=lambda one: one.error)
    assert [one.pull for one in by_error] == sorted(one.pull for one in by_error)


def test_small_families_use_the_common_spread() -> None:
    small = siblings([0.0, 0.1], [0.2, 0.2], "small")
    large = siblings([-1.5, 1.5, -1.0, 1.0, 0.5, -0.5], [0.2] * 6, "large")
    found = {one.family: one for one in family_spreads([*large, *small])}
    assert found["small"].common and found["small"].used > 0.5
    assert found["small"].spread.value is None and "2 of the 3" in found["small"].spread.why
    assert not found["large"].common and found["large"].used == found["large"].spread.value


def test_siblings_that_differ_by_chance_only_have_no_spread() -> None:
    family, = family_spreads(siblings([0.1, 0.4, -0.2, 0.3, 0.0, -0.05], [0.3] * 6))
    assert family.spread.value == 0 and family.spread.low == 0 and family.spread.high > 0
    alike, = family_spreads(siblings([0.1, 0.11, 0.1, 0.1], [0.3] * 4))
    assert (alike.spread.value, alike.spread.high) == (0, None), "an upper limit of nought would claim too much"
    assert all(one.pull == 1 and one.pooled == pytest.approx(family.mean.value) for one in family.siblings)


def test_spread_is_found_again_from_answers() -> None:
    # Six siblings whose true difficulties have an SD of 0.8, 400 pupils.
    source = np.random.default_rng(9)
    b = np.array([-0.9, 1.1, 0.3, -0.6, 0.9, -0.8])
    x = source.random((400, 6)) < 1 / (1 + np.exp(b - source.normal(size=(400, 1))))
    counts = counted(scored(x.astype(int).tolist()))
    family = {f"item{k + 1}": "model" for k in range(6)}
    by_rasch, = family_spreads(siblings_of_rasch(fit_rasch(groups_of_counts(counts)).items, family))
    by_facility, = family_spreads(siblings_of_facilities(form_statistics(counts).items, family))
    for found in (by_rasch, by_facility):
        assert found.spread.low < b.std(ddof=1) < found.spread.high


def test_coverage_of_the_spread_is_what_it_says() -> None:
    source, inside, rounds = np.random.default_rng(10), 0, 300
    for _ in range(rounds):
        errors = source.uniform(0.15, 0.35, size=8)
        values = source.normal(size=8) * 0.5 + source.normal(size=8) * errors
        family, = family_spreads(siblings(values.tolist(), errors.tolist()))
        inside += family.spread.low <= 0.5 <= family.spread.high
    assert 0.91 <= inside / rounds <= 0.985


def test_all_right_and_all_wrong_items_have_a_place() -> None:
    items = form_statistics(counted(scored([[1, 0, 1]] * 20))).items
    found = siblings_of_facilities(items, {"item1": "m", "item2": "m"})
    assert [one.item for one in found] == ["item1", "item2"]
    assert found[0].value == pytest.approx(math.log(0.5 / 20.5)) and found[1].value == -found[0].value


def test_the_order_of_siblings_never_matters() -> None:
    members = siblings(VALUES, ERRORS)
    assert family_spreads(members) == family_spreads(members[::-1])
    assert family_spreads([]) == ()


def test_interval_of_the_spread_is_where_the_weighted_squares_are_at_the_tails() -> None:
    from scipy.stats import chi2

    family, = family_spreads(siblings(VALUES, ERRORS))
    y, v = np.array(VALUES), np.array(ERRORS) ** 2
    for spread, tail in ((family.spread.low, 0.975), (family.spread.high, 0.025)):
        weight = 1 / (spread**2 + v)
        assert weight @ (y - (weight @ y) / weight.sum()) ** 2 == pytest.approx(chi2.ppf(tail, 5), rel=1e-9)


def test_a_sibling_that_nobody_answered_well_is_as_uncertain_as_a_new_one() -> None:
    # Its own answers say nothing, so it is the family's mean, give or take the spread and the mean's own error.
    family, = family_spreads(siblings([*VALUES, 0.0], [*ERRORS, 500.0]))
    blank, mean = family.siblings[-1], family.mean
    error = (mean.high - mean.low) / 2 / 1.959964
    assert blank.pooled == pytest.approx(mean.value, abs=1e-4)
    assert blank.pooled_error == pytest.approx(math.hypot(family.used, error), rel=1e-4)
