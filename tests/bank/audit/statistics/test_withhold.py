"""What few pupils do not allow to say is taken away, with the reason; what they allow stays."""

from __future__ import annotations

import numpy as np
import pytest
from count_tables import counted, scored

from bank.audit.settings import load_settings
from bank.audit.statistics.classical import FormStatistics, form_statistics
from bank.audit.statistics.withhold import RULES, reason, shown, withheld

SETTINGS = load_settings()


def statistics_of(n: int) -> FormStatistics:
    """Return the statistics of *n* made-up pupils on five items."""
    source = np.random.default_rng(6)
    x = source.random((n, 5)) < 1 / (1 + np.exp(np.linspace(-1, 1, 5) - source.normal(size=(n, 1))))
    return form_statistics(counted(scored(x.astype(int).tolist())))


def test_under_thirty_only_shares_and_counts_stay() -> None:
    found = shown(statistics_of(29), SETTINGS)
    for item in found.items:
        assert item.facility.value is not None and item.facility.low is not None
        for one in (item.rest_r, item.total_r, item.upper_lower, item.alpha_if_deleted):
            assert one.value is None and one.low is None and "29 of the 30" in one.why and one.n == 29
        assert item.upper is None and item.lower is None
        for row in item.responses:
            assert row.share.value is not None and row.r_rest.value is None and sum(row.thirds) > 0
    assert found.alpha.value is None and found.sem.value is None and found.kr21.value is None


def test_from_thirty_on_correlations_are_shown() -> None:
    before = statistics_of(30)
    assert shown(before, SETTINGS) == before


FEW = {"use", "correlation", "upper-lower", "alpha", "label", "rasch", "two-parameters", "slopes-without-prior"}


@pytest.mark.parametrize(("n", "statistics"), [
    (9, {*FEW, "wrong-key", "band"}), (10, {*FEW, "band"}), (20, FEW), (29, FEW),
    (30, {"label", "rasch", "two-parameters", "slopes-without-prior"}),
    (100, {"two-parameters", "slopes-without-prior"}), (200, {"slopes-without-prior"}), (500, set()),
])
def test_rules_follow_the_small_numbers(n: int, statistics: set[str]) -> None:
    assert {rule.statistic for rule in RULES if reason(rule.statistic, n, SETTINGS)} == statistics
    sentences = withheld(n, SETTINGS)
    assert len(sentences) == len(statistics)
    assert all(f"{n} of the" in one and "Look instead at" in one for one in sentences)
    assert all(one.startswith(("Withheld: ", "Not tested: ")) for one in sentences)


def test_what_is_a_test_is_said_to_be_not_made_and_never_to_have_found_nothing() -> None:
    found = withheld(9, SETTINGS)
    tests = [one for one in found if one.startswith("Not tested: ")]
    assert [one.split(":")[1].split()[:3] for one in tests] == [
        ["the", "keys", "(9"], ["whether", "items", "lie"], ["whether", "items", "are"], ["low", "discrimination,", "answers"],
    ]
    assert all("of the" in one and "pupils needed" in one for one in tests)


def test_reasons_of_what_never_had_a_value_are_kept() -> None:
    found = shown(form_statistics(counted(scored([[1, 0], [1, 1], [1, 0]]))), SETTINGS)
    assert found.items[0].rest_r.why == "all credits are alike"
