"""From answers back to the weights of difficulty, and how well predictions held.

Observed Rasch difficulties, with their standard errors, are explained by the items' features: a ridge regression whose
penalty is the prior file (mean and SD of each weight), each form with a level of its own, and the SD of what features
leave unexplained found by restricted maximum likelihood. What comes out is a further version of the file; the prior
stays as it was. Errors are told leaving one item family out at a time, never for the items that the weights were
fitted to.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import minimize_scalar

from bank.audit.classes import SHRINKAGE
from bank.audit.prediction import QUANTILE, Predictions, WeightVector, expected_share, saturated, weight_vector
from bank.audit.statistics.adjusted import holm, two_sided
from bank.audit.statistics.estimates import wilson
from bank.difficulty import Weights

FEWEST_ITEMS = 8
"""Items that a calibration needs. Common practice, no source."""
FEWEST_ANSWERS = 100
"""Answers that each of these items needs; see METHODS in `bank.audit.statistics` for Rasch. Our own choice."""
_TURNS = 4
"""Times that the problem is made linear; the weights no longer move by then."""
POOR_COVERAGE = 0.65
"""Share of items within their 80 % bands under which bands are widened. Our own choice."""
LEVEL_SD = 10.0
"""SD of a form's own level before its answers are seen, logits: as good as unknown."""
_LOWEST, _HIGHEST = 0.01, 3.0


class ObservedItem(NamedTuple):
    """An item with an observed difficulty."""

    item: str
    family: str
    """Template id."""
    form: str
    """Forms are different scales unless pupils link them: each has its own level."""
    observed_logit: float
    """Rasch b on the scale where the form's pupils have mean 0; higher is harder."""
    standard_error: float
    sd: float
    """Standard deviation of ability of the form's pupils."""
    n: int


class CalibratedWeight(NamedTuple):
    """A weight before and after."""

    name: str
    prior_mean: float
    prior_sd: float
    mean: float
    sd: float
    items: int
    """Items that carry the feature."""
    families: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Calibration:
    """What answers say about the weights."""

    weights: tuple[CalibratedWeight, ...]
    """Those that at least one item carries."""
    item_sd: float
    """SD of what the features leave unexplained, logits of the class's share, by REML."""
    items: int
    forms: int
    families: int
    error: float | None
    """Root mean square error of predicted difficulties, leaving one family out at a time; logits of the class's share,
    the form's level taken from its other items. None where there is one family only."""
    prior_error: float | None
    """The same with the prior's weights."""
    spread: float
    """Standard deviation of the observed difficulties within forms: what a prediction without any feature would err."""


class Coverage(NamedTuple):
    """How many items lie within their predicted bands."""

    items: int
    inside: int
    low: float
    """Ends of the 95 % binomial interval of the share inside (Wilson)."""
    high: float
    factor: float
    """By how much the bands are widened: 1 where coverage is not poor."""
    shift: float
    """Mean of observed less predicted difficulty, logits of single pupils: what all items share."""
    inside_but_for_shift: int
    """Items within their bands once that is taken off."""

    @property
    def is_poor(self) -> bool:
        """Whether so few lie inside that bands are widened."""
        return self.inside < POOR_COVERAGE * self.items


def coverage(predictions: Predictions, places: Sequence[int], shares: np.ndarray, n: np.ndarray) -> Coverage | None:
    """Return how the observed *shares* right of the items at *places*, each of *n* pupils, lie in their bands.

    The bands are made for so many pupils: to what the prediction leaves open comes the sampling error of a share. None
    where there are no items.
    """
    if not len(places):
        return None
    chosen = np.asarray(places)
    away, sd_own = _residuals(predictions, chosen, shares, n)
    sd = np.hypot(sd_own, predictions.shared_sd)
    ends = observed_bands(predictions, places, n)
    inside = int(((shares >= ends[0]) & (shares <= ends[1])).sum())
    weight = 1 / sd_own**2
    shift = float((weight * away).sum() / weight.sum())
    rest = int((np.abs(away - shift) <= QUANTILE * sd_own).sum())
    low, high = wilson(inside / len(chosen), len(chosen)) or (0.0, 1.0)
    factor = 1.0
    if len(chosen) >= FEWEST_ITEMS and inside < POOR_COVERAGE * len(chosen):
        factor = max(1.0, float(np.quantile(np.abs(away) / sd, 0.8)) / QUANTILE)
    return Coverage(len(chosen), inside, low, high, factor, shift, rest)


def surprises(
    predictions: Predictions, places: Sequence[int], shares: np.ndarray, n: np.ndarray, factor: float = 1.0
) -> list[float]:
    """Return for each item of a quiz the chance that a sound prediction is as far off as its share right is.

    What all items share (class and level) is taken off as the others show it, by its prior and their errors; bands that
    are widened by *factor* widen the errors too. Corrected for all the items (Holm).
    """
    if not len(places):
        return []
    away, sd = _residuals(predictions, np.asarray(places), shares, n)
    sd = sd * factor
    weight = 1 / sd**2
    prior = 1 / max(predictions.shared_sd * factor, 1e-6) ** 2
    others = weight.sum() - weight + prior
    shift = ((weight * away).sum() - weight * away) / others
    return holm(two_sided((away - shift) / np.sqrt(sd**2 + 1 / others)))


def _residuals(
    predictions: Predictions, chosen: np.ndarray, shares: np.ndarray, n: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Return observed less predicted difficulty, and the SD of what is each item's own, sampling error included.

    A share is turned into the difficulty at which the class would have it; none and all right count as half an
    answer, so that they have a difficulty.
    """
    kind = predictions.class_kind
    bounded = np.clip(shares, 0.5 / n, 1 - 0.5 / n)
    observed = predictions.ability - kind.stretch * np.log(bounded / (1 - bounded))
    expected = np.clip(predictions.middle_share[chosen], 0.05, 0.95)
    sampling = kind.stretch**2 / (n * expected * (1 - expected))
    return observed - predictions.middle[chosen], np.sqrt(predictions.own_sd[chosen] ** 2 + sampling)


def observed_bands(
    predictions: Predictions, chosen: Sequence[int], n: np.ndarray, factor: float = 1.0
) -> tuple[np.ndarray, np.ndarray]:
    """Return the ends of the 80 % bands of the share right of *n* pupils at the items *chosen*, widened by *factor*."""
    places = np.asarray(chosen, dtype=int)
    kind = predictions.class_kind
    expected = np.clip(predictions.middle_share[places], 0.05, 0.95)
    sampling = kind.stretch**2 / (n * expected * (1 - expected))
    half = QUANTILE * factor * np.sqrt(predictions.sd[places] ** 2 + sampling)
    middle = predictions.middle[places]
    return (
        expected_share(middle + half, predictions.ability, kind.sd),
        expected_share(middle - half, predictions.ability, kind.sd),
    )


def why_not(observed: Sequence[ObservedItem]) -> str:
    """Return why nothing can be calibrated from *observed*, empty where it can."""
    enough = [one for one in observed if one.n >= FEWEST_ANSWERS]
    if len(enough) >= FEWEST_ITEMS:
        return ""
    return (
        f"{len(enough)} items have an observed difficulty from at least {FEWEST_ANSWERS} answers;"
        f" {FEWEST_ITEMS} are needed"
    )


def calibrate(observed: Sequence[ObservedItem], features: np.ndarray, weights: Weights) -> Calibration:
    """Return what the *observed* difficulties say about *weights*; *features* are their counts, float [J, F].

    Where effects pile up a difficulty is not linear in the weights: it is made so about the prior first, then about what
    was found (Gauss and Newton's way).

    Raises:
        ValueError: there are too few of them, see `why_not`.
    """
    kept = [place for place, one in enumerate(observed) if one.n >= FEWEST_ANSWERS]
    if why_not(observed):
        raise ValueError(why_not(observed))
    chosen = [observed[place] for place in kept]
    vector = weight_vector(weights)
    mean = vector.mean
    for _ in range(_TURNS):
        problem = _Problem(chosen, features[kept], vector, mean)
        item_sd = problem.reml()
        mean, spread = problem.posterior(item_sd)
    carried = problem.design[:, : len(vector.names)] != 0
    families = np.array([one.family for one in chosen])
    rows = tuple(
        CalibratedWeight(
            name, float(vector.mean[place]), float(vector.sd[place]), float(mean[place]), float(spread[place]),
            int(carried[:, place].sum()), len(set(families[carried[:, place]].tolist())),
        )
        for place, name in enumerate(vector.names) if carried[:, place].any()
    )
    error, prior_error = problem.left_out(families, item_sd)
    return Calibration(
        weights=rows, item_sd=item_sd, items=len(chosen), forms=problem.forms, families=len(set(families.tolist())),
        error=error, prior_error=prior_error, spread=problem.spread(),
    )


class _Problem:
    """y = X beta + error: features and one level a form; prior means and SDs of beta; known sampling errors."""

    def __init__(
        self, observed: Sequence[ObservedItem], features: np.ndarray, vector: WeightVector, about: np.ndarray
    ) -> None:
        stretch = np.array([math.sqrt(1 + (SHRINKAGE * one.sd) ** 2) for one in observed])
        names = sorted({one.form for one in observed})
        level = np.array([[float(one.form == name) for name in names] for one in observed])
        self.forms = len(names)
        self.form = level.argmax(axis=1)
        self.y = np.array([one.observed_logit for one in observed]) / stretch
        self.error = (np.array([one.standard_error for one in observed]) / stretch) ** 2
        total = features @ about
        score, steep = saturated(total, vector)
        self.y += steep * total - score
        self.design = np.hstack([steep[:, None] * features, level])
        self.prior = np.concatenate([vector.mean, np.zeros(self.forms)])
        variance = np.concatenate([vector.sd**2, np.full(self.forms, LEVEL_SD**2)])
        self.precision = 1 / np.maximum(variance, 1e-9)
        self.features = features.shape[1]

    def _solve(self, item_sd: float, rows: np.ndarray | None = None) -> tuple[np.ndarray, np.ndarray, float]:
        """Return mean and covariance of beta, and the log-likelihood with beta integrated out."""
        design, y, error = self.design, self.y, self.error
        if rows is not None:
            design, y, error = design[rows], y[rows], error[rows]
        noise = item_sd**2 + error
        away = y - design @ self.prior
        weighted = design / noise[:, None]
        information = design.T @ weighted + np.diag(self.precision)
        factor = np.linalg.cholesky(information)
        right = weighted.T @ away
        step = np.linalg.solve(information, right)
        fit = float(away @ (away / noise) - right @ step)
        size = float(np.log(noise).sum() - np.log(self.precision).sum() + 2 * np.log(np.diag(factor)).sum())
        return self.prior + step, np.linalg.inv(information), -0.5 * (fit + size)

    def reml(self) -> float:
        """Return the SD of what features leave unexplained that makes the differences within forms most likely."""
        found = minimize_scalar(
            lambda log_sd: -self._solve(math.exp(log_sd))[2], bounds=(math.log(_LOWEST), math.log(_HIGHEST)),
            method="bounded", options={"xatol": 1e-4},
        )
        return float(math.exp(found.x))

    def posterior(self, item_sd: float) -> tuple[np.ndarray, np.ndarray]:
        """Return means and SDs of the weights."""
        mean, covariance, _ = self._solve(item_sd)
        return mean[: self.features], np.sqrt(np.diag(covariance))[: self.features]

    def left_out(self, families: np.ndarray, item_sd: float) -> tuple[float | None, float | None]:
        """Return the errors, calibrated and of the prior, leaving one family out at a time."""
        if len(set(families.tolist())) < 2:
            return None, None
        fitted, prior = np.full(len(self.y), np.nan), np.full(len(self.y), np.nan)
        plain = self.y - self.design[:, : self.features] @ self.prior[: self.features]
        for family in sorted(set(families.tolist())):
            out = families == family
            mean, _, _ = self._solve(item_sd, ~out)
            for place in np.flatnonzero(out).tolist():
                same = ~out & (self.form == self.form[place])
                if same.any():
                    fitted[place] = self.y[place] - self.design[place] @ mean
                    prior[place] = plain[place] - float(plain[same].mean())
        told = np.isfinite(fitted)
        if not told.any():
            return None, None
        return float(np.sqrt((fitted[told] ** 2).mean())), float(np.sqrt((prior[told] ** 2).mean()))

    def spread(self) -> float:
        """Return the standard deviation of the observed difficulties within forms."""
        by_form = [self.y[self.form == one] for one in range(self.forms)]
        within = np.concatenate([part - part.mean() for part in by_form])
        return float(np.sqrt((within**2).sum() / max(1, len(within) - self.forms)))
