"""The two-parameter model against published and recomputed figures, its derivatives, and what holds its slopes."""

from __future__ import annotations

import math

import numpy as np
import pytest
from count_tables import by_item, quantities, reference_answers
from published_tables import lsat6

from bank.audit.statistics import twopl
from bank.audit.statistics.patterns import Scores, scores_of_answers
from bank.audit.statistics.twopl import BOUNDS, PRIOR, TwoPl, _patterns, _Work, fit_two_parameters

TWO_PL_SETS = ("lsat6", "fraction_subtraction", "fims_math", "ctt20", "math101_exam", "deayala_math",
               "verbal_aggression_dif")


def scores(x: np.ndarray) -> Scores:
    """Return *x* with names."""
    return Scores(items=tuple(f"item{k}" for k in range(x.shape[1])), versions=(1,) * x.shape[1], x=x.astype(np.int8))


def made(n: int, a: np.ndarray, b: np.ndarray, seed: int, gaps: float = 0.0) -> np.ndarray:
    """Return made-up answers."""
    source = np.random.default_rng(seed)
    x = (source.random((n, len(a))) < 1 / (1 + np.exp(-a * (source.normal(size=(n, 1)) - b)))).astype(np.int8)
    x[source.random(x.shape) < gaps] = -1
    return x


def test_lsat6_is_as_printed() -> None:
    # Rizopoulos 2006, J. Stat. Software 17(5): 21 Gauss-Hermite nodes, so the third decimal of a is theirs.
    result = fit_two_parameters(scores_of_answers([lsat6()]))
    slopes = [item.slope.value for item in result.items]
    assert slopes == pytest.approx([0.8254, 0.7229, 0.8905, 0.6886, 0.6575], abs=1e-3)
    assert [item.difficulty.value for item in result.items] == pytest.approx(
        [-3.3597, -1.3696, -0.2799, -1.8659, -3.1236], abs=3e-3)
    assert round(result.log_likelihood, 3) == -2466.653


@pytest.mark.parametrize("name", TWO_PL_SETS)
def test_slopes_and_likelihood_agree_with_the_references(name: str) -> None:
    # mirt 1.45.1, TAM 4.3-25 and an own numpy EM with 161 nodes. Not ltm (21 Gauss-Hermite nodes: up to 0.026 off in a,
    # 0.4 in the likelihood of the fraction set) and not girth (caps slopes).
    answers, _ = reference_answers(name)
    result = fit_two_parameters(scores_of_answers([answers]))
    reference, numpy_em = by_item(name, "reference_2pl.csv"), by_item(name, "reference_python.csv")
    meta = quantities(name, "reference_irt_meta.csv")
    for item in result.items:
        for tool in ("mirt", "TAM"):
            assert item.slope.value == pytest.approx(float(reference[item.item][f"a_{tool}"]), abs=2e-3)
            assert item.difficulty.value == pytest.approx(float(reference[item.item][f"b_{tool}"]), abs=1e-3)
        assert item.slope.value == pytest.approx(float(numpy_em[item.item]["a_2pl_numpy"]), abs=1e-6)
    assert result.log_likelihood == pytest.approx(meta["loglik_mirt_2pl"], abs=1e-3)
    assert result.log_likelihood == pytest.approx(meta["loglik_TAM_2pl"], abs=1e-3)


@pytest.mark.parametrize("prior", [None, (0.0, 0.5)])
def test_derivatives_are_those_of_the_likelihood(prior: tuple[float, float] | None) -> None:
    a, b = np.array([0.7, 1.2, 1.5, 0.9, 1.1]), np.array([-1.0, 0.2, 0.5, -0.3, 1.0])
    work = _Work(*_patterns(made(80, a, b, 2, gaps=0.2)), 61, prior)
    at, step = np.concatenate([a, -a * b]), 1e-5
    _, gradient = work.loss(at)
    information = work.information(at)
    for k in range(10):
        away = np.zeros(10)
        away[k] = step
        (high, more), (low, less) = work.loss(at + away), work.loss(at - away)
        assert (high - low) / (2 * step) == pytest.approx(gradient[k], abs=1e-6)
        assert (more - less) / (2 * step) == pytest.approx(information[k], abs=1e-5)


def test_intervals_cover_as_often_as_they_say() -> None:
    a, b = np.array([0.8, 1.2, 1.0, 1.5, 0.9, 1.1]), np.array([-1.0, 0.0, 1.0, 0.5, -0.5, 0.2])
    inside = []
    for seed in range(25):
        for item, slope, level in zip(fit_two_parameters(scores(made(800, a, b, seed))).items, a, b, strict=True):
            inside += [item.slope.low <= slope <= item.slope.high,
                       item.difficulty.low <= level <= item.difficulty.high]
    assert 0.9 <= np.mean(inside) <= 0.99


def test_missing_answers_are_missing() -> None:
    a, b = np.array([0.8, 1.2, 1.0, 1.5]), np.array([-1.0, 0.0, 1.0, 0.5])
    result = fit_two_parameters(scores(made(3000, a, b, 3, gaps=0.1)))
    for item, slope, level in zip(result.items, a, b, strict=True):
        assert abs(item.slope.value - slope) < 2 * (item.slope.high - item.slope.low)
        assert abs(item.difficulty.value - level) < 0.25


def test_prior_and_bounds_are_said_and_hold() -> None:
    a, b = np.array([0.8, 1.2, 1.0, 2.0, 0.9]), np.array([-1.0, 0.0, 1.0, 0.5, -0.5])
    x = scores(made(250, a, b, 5))
    free, prior, bounded = (fit_two_parameters(x), fit_two_parameters(x, prior=PRIOR),
                            fit_two_parameters(x, bounds=(0.5, 1.2)))
    assert free.held == "" and "prior" in prior.held and "0.5 to 1.2" in bounded.held
    spread = [np.std([math.log(item.slope.value) for item in one.items]) for one in (free, prior)]
    assert spread[1] < spread[0]
    assert all(0.5 <= item.slope.value <= 1.2 for item in bounded.items)
    stuck = [item for item in bounded.items if item.at_bound]
    assert stuck and all(item.slope.low is None for item in stuck)
    assert BOUNDS[0] < BOUNDS[1]


def test_too_little_or_too_perfect_gives_a_reason() -> None:
    assert fit_two_parameters(scores(np.zeros((0, 4)))).why
    assert fit_two_parameters(scores(np.array([[1, 0], [0, 1], [1, 1]]))).why
    perfect = np.array([[int(k < score) for k in range(5)] for score in range(6)] * 10)
    assert "ran away" in fit_two_parameters(scores(perfect)).why
    held = fit_two_parameters(scores(perfect), prior=PRIOR)
    assert held.why == "" and all(math.isfinite(item.slope.value) for item in held.items)


def test_the_order_of_pupils_never_matters_even_when_they_are_thinned(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(twopl, "MOST_PATTERNS", 150)
    x = made(400, np.ones(4), np.linspace(-1, 1, 4), 7)

    def fit(rows: np.ndarray) -> TwoPl:
        return fit_two_parameters(scores(rows))

    one, two = fit(x), fit(x[np.random.default_rng(0).permutation(400)])
    assert one == two and (one.persons, one.of) == (150, 400)


def test_error_of_the_difficulty_allows_for_that_of_the_slope() -> None:
    # b = -d / a: the delta method with derivatives by differences and the covariance of (a, d).
    a, b = np.array([0.8, 1.2, 1.0, 1.5, 0.9]), np.array([-1.5, 0.0, 1.5, 0.5, -0.5])
    x = made(600, a, b, 11)
    result = fit_two_parameters(scores(x))
    slopes = np.array([item.slope.value for item in result.items])
    levels = np.array([-item.difficulty.value * item.slope.value for item in result.items])
    work = _Work(*_patterns(x), 61, None)
    covariance = np.linalg.inv(work.information(np.concatenate([slopes, levels])))
    for k, item in enumerate(result.items):
        step = 1e-6
        ways = np.zeros(10)
        ways[k] = (-levels[k] / (slopes[k] + step) + levels[k] / (slopes[k] - step)) / (2 * step)
        ways[5 + k] = -1 / slopes[k]
        half = 1.959964 * math.sqrt(ways @ covariance @ ways)
        assert item.difficulty.high - item.difficulty.value == pytest.approx(half, rel=1e-4)
