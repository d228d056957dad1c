"""Calibration and coverage: weights found again, errors that leave a family out, bands that widen when they should."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from bank import difficulty
from bank.audit.calibration import Calibration, ObservedItem, calibrate, coverage, observed_bands, why_not
from bank.audit.classes import SHRINKAGE, chosen_class
from bank.audit.prediction import predict_features, weight_vector
from bank.audit.weights_file import write_weights
from bank.errors import BadInput

WEIGHTS = difficulty.load_weights()
VECTOR = weight_vector(WEIGHTS)
CLASS = chosen_class(None)
NAMES = ("subtract.regroupings", "subtract.regroupings_at_zero", "subtract.operation-subtract")
TRUE = {"subtract.regroupings": 0.9, "subtract.regroupings_at_zero": 0.2, "subtract.operation-subtract": 0.3}
SD = 1.1


def made(items: int, seed: int, *, item_sd: float = 0.3, error: float = 0.1) -> tuple[list[ObservedItem], np.ndarray]:
    random = np.random.default_rng(seed)
    features = np.zeros((items, len(VECTOR.names)))
    place = {name: VECTOR.names.index(name) for name in NAMES}
    features[:, place["subtract.operation-subtract"]] = 1
    features[:, place["subtract.regroupings"]] = random.integers(0, 4, items)
    features[:, place["subtract.regroupings_at_zero"]] = random.integers(0, 2, items)
    score = features[:, list(place.values())] @ [TRUE[name] for name in place]
    stretch = math.sqrt(1 + (SHRINKAGE * SD) ** 2)
    level = np.where(np.arange(items) % 2, 2.0, 3.0)
    b = stretch * (score - level + random.normal(0, item_sd, items)) + random.normal(0, error, items)
    return [
        ObservedItem(f"i{at}", f"family-{at % 7}", f"form-{at % 2}", float(b[at]), error, SD, 400)
        for at in range(items)
    ], features


def test_weights_are_found_again_and_their_uncertainty_shrinks() -> None:
    observed, features = made(120, 5)
    found = {one.name: one for one in calibrate(observed, features, WEIGHTS).weights}
    for name in NAMES[:2]:
        assert abs(found[name].mean - TRUE[name]) < 3 * found[name].sd
        assert found[name].sd < 0.5 * found[name].prior_sd
    assert set(found) == set(NAMES)


def test_the_posterior_is_that_of_the_normal_equations_done_another_way() -> None:
    observed, features = made(40, 6)
    found = calibrate(observed, features, WEIGHTS)
    stretch = math.sqrt(1 + (SHRINKAGE * SD) ** 2)
    y = np.array([one.observed_logit for one in observed]) / stretch
    forms = np.array([[one.form == "form-0", one.form == "form-1"] for one in observed], dtype=float)
    design = np.hstack([features, forms])
    prior = np.concatenate([VECTOR.mean, [0, 0]])
    covariance = np.diag(np.concatenate([VECTOR.sd**2, [100, 100]]))
    noise = np.diag([found.item_sd**2 + (one.standard_error / stretch) ** 2 for one in observed])
    gain = covariance @ design.T @ np.linalg.inv(design @ covariance @ design.T + noise)
    mean = prior + gain @ (y - design @ prior)
    for one in found.weights:
        assert one.mean == pytest.approx(mean[VECTOR.names.index(one.name)], abs=1e-8)


@pytest.mark.parametrize("item_sd", [0.1, 0.5])
def test_what_features_leave_unexplained_is_found_by_reml(item_sd: float) -> None:
    found = [calibrate(*made(150, seed, item_sd=item_sd), WEIGHTS).item_sd for seed in range(6)]
    assert abs(float(np.mean(found)) - item_sd) < 0.05


def test_errors_leave_a_family_out_and_calibration_beats_a_wrong_prior() -> None:
    found = calibrate(*made(120, 7), WEIGHTS)
    assert found.error is not None and found.prior_error is not None
    assert 0.25 < found.error < found.prior_error < 1.5


def test_one_family_alone_cannot_be_left_out() -> None:
    observed, features = made(30, 8)
    found = calibrate([one._replace(family="only") for one in observed], features, WEIGHTS)
    assert found.error is None and found.prior_error is None


def test_too_few_items_or_answers_are_refused_with_the_reason() -> None:
    observed, features = made(30, 9)
    few = [one._replace(n=99) for one in observed]
    assert "8 are needed" in why_not(few) and why_not(observed) == ""
    with pytest.raises(ValueError, match="0 items have"):
        calibrate(few, features, WEIGHTS)


def coverage_of(shift: float, noise: float, items: int = 60) -> object:
    random = np.random.default_rng(3)
    features = np.zeros((items, len(VECTOR.names)))
    features[:, VECTOR.names.index("subtract.regroupings")] = random.integers(0, 4, items)
    predictions = predict_features(tuple(map(str, range(items))), features, WEIGHTS, CLASS, vector=VECTOR)
    logit = np.log(predictions.middle_share / (1 - predictions.middle_share))
    shares = 1 / (1 + np.exp(-(logit - shift + random.normal(0, noise, items))))
    return coverage(predictions, range(items), shares, np.full(items, 400.0))


def test_items_as_predicted_lie_within_and_nothing_is_widened() -> None:
    found = coverage_of(0.0, 0.8)
    assert found.inside >= 48 and found.factor == 1.0 and not found.is_poor
    assert found.low < found.inside / found.items <= found.high


def test_bands_that_cover_too_little_are_widened_until_they_cover_four_of_five() -> None:
    found = coverage_of(2.6, 1.0)
    assert found.is_poor and found.factor > 1
    assert found.shift > 2
    assert found.inside_but_for_shift > found.inside


def test_widened_bands_hold_four_of_five_of_these_items() -> None:
    random = np.random.default_rng(4)
    features = np.zeros((40, len(VECTOR.names)))
    predictions = predict_features(tuple(map(str, range(40))), features, WEIGHTS, CLASS, vector=VECTOR)
    shares = 1 / (1 + np.exp(-(random.normal(-0.5, 2.5, 40))))
    n = np.full(40, 300.0)
    found = coverage(predictions, range(40), shares, n)
    assert found is not None and found.factor > 1
    low, high = observed_bands(predictions, range(40), n, found.factor)
    assert 0.75 <= float(np.mean((shares >= low) & (shares <= high))) <= 0.85


def test_nothing_observed_has_no_coverage() -> None:
    predictions = predict_features(("a",), np.zeros((1, len(VECTOR.names))), WEIGHTS, CLASS, vector=VECTOR)
    assert coverage(predictions, [], np.array([]), np.array([])) is None


def test_calibrated_weights_are_a_further_version_beside_the_prior(tmp_path: Path) -> None:
    found: Calibration = calibrate(*made(80, 10), WEIGHTS)
    path = tmp_path / "weights.yaml"
    assert write_weights(path, WEIGHTS, found, "2027-06-30", False) == 2
    read = difficulty.load_weights(path)
    assert read.version == 2 and "80 items" in read.history
    by_name = {f"{one.operation}.{one.feature}": one for one in read.weights}
    for one in found.weights:
        assert by_name[one.name].value == round(1000 * one.mean)
        assert by_name[one.name].evidence == "answers" and "Version 1" in by_name[one.name].source
    for one in WEIGHTS.weights:
        if f"{one.operation}.{one.feature}" not in NAMES:
            assert by_name[f"{one.operation}.{one.feature}"] == one
    assert read.parts[0].deviation == round(1000 * found.item_sd)
    assert write_weights(tmp_path / "next.yaml", read, found, "2027-07-01", True) == 3


def test_a_version_is_never_written_over(tmp_path: Path) -> None:
    path = tmp_path / "weights.yaml"
    path.write_text("kept")
    with pytest.raises(BadInput) as caught:
        write_weights(path, WEIGHTS, calibrate(*made(40, 11), WEIGHTS), "2027-06-30", False)
    assert caught.value.problems[0].code == "weights-in-place"
    assert path.read_text() == "kept"
