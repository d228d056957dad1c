"""Predicted difficulty for a named class: intervals, integration over the class, and what they are made of."""

from __future__ import annotations

import math
from dataclasses import replace
from html import escape
from pathlib import Path

import numpy as np
import pytest
from bank import difficulty
from bank.audit import classes
from bank.audit.before import audit_before
from bank.audit.prediction import expected_share, feature_matrix, predict_group, predict_items, saturated, weight_vector
from bank.audit.report.before import write_before
from bank.build import build
from bank.errors import BadInput
from bank.model import Item
from bank.plans import load_plan
from bank.store import Bank
from bank.trees import SHIPPED
from review_bank import make_bank
from scipy.integrate import quad
from scipy.stats import norm

WEIGHTS = difficulty.load_weights()
CLASS = classes.chosen_class(None)


def made(size: int) -> list[Item]:
    """Return items whose features begin with the operation, as in a bank that was built."""
    return [
        replace(item, features=(("operation-" + item.family.operation, 1), *item.features))
        for item in make_bank(size).items()
    ]


@pytest.mark.parametrize("away", [-3.0, -0.7, 0.0, 1.4, 4.0])
@pytest.mark.parametrize("sd", [0.0, 0.91, 2.3])
def test_the_share_right_is_the_integral_over_the_class(away: float, sd: float) -> None:
    def right(theta: float) -> float:
        return float(norm.pdf(theta) / (1 + math.exp(-(away + sd * theta))))

    exact, _ = quad(right, -9, 9)
    assert abs(expected_share(np.array([-away]), 0.0, sd)[0] - exact) < 1e-6


def test_a_class_spread_out_gives_shares_nearer_to_one_half_than_its_mean_pupil() -> None:
    assert 0.5 < expected_share(np.array([0.0]), 2.0, 1.5)[0] < 1 / (1 + math.exp(-2.0))


def test_intervals_hold_their_middle_and_are_wide() -> None:
    found = predict_items(made(40), WEIGHTS, CLASS)
    assert np.all(found.low_share < found.middle_share) and np.all(found.middle_share < found.high_share)
    assert np.all(found.high_logit - found.low_logit > 2 * 1.28 * 0.5)


def test_the_interval_is_that_of_all_its_parts_together() -> None:
    items = made(12)
    found = predict_items(items, WEIGHTS, CLASS)
    parts = sum((part.deviation / 1000) ** 2 for part in WEIGHTS.parts)
    sd = {(one.operation, one.feature): one.deviation / 1000 for one in WEIGHTS.weights}
    for place, item in enumerate(items):
        own = sum(
            (count * sd.get((item.family.operation, name), sd.get(("any", name), 0))) ** 2
            for name, count in item.features
        )
        told = difficulty.predict(item.features, WEIGHTS)
        piled = sum(part for name, _, part in told.reasons if name == difficulty.PILED_UP)
        own *= (told.score / (told.score - piled)) ** 2 if piled else 1
        own += sum((WEIGHTS.unknown_deviation / 1000) ** 2 for _, _, part in told.reasons if not part)
        assert found.sd[place] == pytest.approx(math.sqrt(own + parts) * CLASS.stretch, rel=1e-3)


def test_bands_are_those_of_the_bank_for_the_class_of_the_weights() -> None:
    items = made(60)
    found = predict_items(items, WEIGHTS, CLASS)
    assert list(found.bands) == [difficulty.predict(item.features, WEIGHTS).band for item in items]


def test_a_stronger_class_is_predicted_to_get_more_right() -> None:
    items = made(20)
    usual, strong = (predict_items(items, WEIGHTS, classes.chosen_class(name)) for name in (None, "revision"))
    above = strong.low_share > strong.chance
    assert np.all(strong.low_share >= usual.low_share) and np.all(strong.high_share > usual.high_share)
    assert above.any() and np.all(strong.low_share[above] > usual.low_share[above])


def test_the_mean_of_a_quiz_is_surer_than_its_items_but_not_as_if_they_were_independent() -> None:
    items = made(40)
    found = predict_items(items, WEIGHTS, CLASS)
    group = predict_group(found, range(len(items)), WEIGHTS)
    assert group is not None
    width = group.predicted_high_share - group.predicted_low_share
    assert width < float(np.mean(found.high_share - found.low_share))
    assert width > float(np.mean(found.high_share - found.low_share)) / math.sqrt(len(items))


def test_no_items_give_no_prediction_of_a_group() -> None:
    assert predict_group(predict_items(made(4), WEIGHTS, CLASS), [], WEIGHTS) is None


def test_widening_widens_every_interval() -> None:
    items = made(10)
    plain, wide = (predict_items(items, WEIGHTS, CLASS, widened=factor) for factor in (1.0, 1.5))
    above = plain.low_share > plain.chance
    assert np.all(wide.low_share <= plain.low_share) and np.all(wide.high_share > plain.high_share)
    assert above.any() and np.all(wide.low_share[above] < plain.low_share[above])


def test_an_item_has_one_band_and_one_interval_in_bank_and_audit(tmp_path: Path) -> None:
    """Every kind of response once and more, as a build predicts it."""
    build(load_plan(SHIPPED / "plans" / "kinds.yaml"), tmp_path)
    with Bank.open(tmp_path / "bank.sqlite") as bank:
        items = list(bank.items())
        found = predict_items(items, WEIGHTS, CLASS)
        assert list(found.bands) == [item.prediction.band for item in items]
        assert [round(1000 * one) for one in found.low_share] == [item.prediction.low_share for item in items]
        assert [round(1000 * one) for one in found.high_share] == [item.prediction.high_share for item in items]
        assert len({type(item.response) for item in items}) >= 7
        for item in items:
            chance = difficulty.chance_level(item.response)
            assert chance <= item.prediction.low_share < item.prediction.high_share
        vector, scores = weight_vector(WEIGHTS), [one.prediction.score / 1000 for one in items]
        assert np.allclose(saturated(feature_matrix(items, vector)[1] @ vector.mean, vector)[0], scores, atol=0.002)
        assert np.allclose(found.features @ vector.mean, scores, atol=0.002)
        page = (tmp_path / "review.html").read_text(encoding="utf-8")
        assert escape(difficulty.basis(WEIGHTS), quote=False) in page.replace("&#39;", "'")
        write_before(audit_before(bank, WEIGHTS, CLASS), bank, (), tmp_path, "2027-01-01", ())
        assert escape(difficulty.basis(WEIGHTS), quote=False) in (tmp_path / "audit.html").read_text(encoding="utf-8")


def test_every_class_says_where_its_figures_are_from() -> None:
    for kind in classes.load_classes().values():
        assert kind.words and kind.source
        assert "guess" in kind.source or "published" in kind.source


def test_an_unknown_class_is_refused_with_the_nearest() -> None:
    with pytest.raises(BadInput) as caught:
        classes.chosen_class("revisions")
    assert caught.value.problems[0].code == "class-unknown"
    assert "revision" in caught.value.problems[0].remedy
