"""Infit and outfit of Rasch items conditional on the raw score.

P(x = 1 | score) follows from the difficulties alone (elementary symmetric functions), so no ability is estimated and
the expectation is 1 for short tests too. Scores of none and all right say nothing and are out. The difficulties are
those of conditional maximum likelihood, which rest on the same probabilities and on no distribution of ability; with
the marginal ones, outfit on the reference sets would differ by up to 0.08. Posterior-integrated and person-estimate
versions give other values from the same answers: never compare across conventions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import expit

from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile
from bank.audit.statistics.patterns import ScoreGroups

CONVENTIONS["outfit"] = (
    "mean squared standardised residual conditional on the raw score, scores 0 and all out; 1 is expected; low and "
    "high are where 95 % of items that fit would lie"
)
CONVENTIONS["infit"] = (
    "squared residuals over their expected sum, conditional on the raw score, scores 0 and all out; 1 is expected; low "
    "and high are where 95 % of items that fit would lie"
)
MOST_SETS = 200
"""Different sets of items that are taken in, the commonest first; n says how many pupils that leaves."""
_ROUNDS, _TOLERANCE = 2000, 1e-9
_RUNAWAY = 15.0
"""A difficulty in logits beyond which the search is running away."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Fit:
    """How well one item fits the Rasch model."""

    item: str
    infit: Estimate
    outfit: Estimate


def right_given_score(b: np.ndarray) -> np.ndarray:
    """Return P(item right | score) for items of difficulty *b*: float64 [K, K + 1], by item and score.

    The elementary symmetric functions are kept as probabilities of the scores of a pupil of middling ability, which
    no length of test makes too large or too small.
    """
    items = len(b)
    p = expit(float(np.mean(b)) - b) if items else b
    others = np.zeros((items, items + 1))
    others[:, 0] = 1.0
    for k in range(items):
        with_it = np.empty_like(others)
        with_it[:, 0] = others[:, 0] * (1 - p[k])
        with_it[:, 1:] = others[:, 1:] * (1 - p[k]) + others[:, :-1] * p[k]
        with_it[k] = others[k]
        others = with_it
    right = np.zeros((items, items + 1))
    right[:, 1:] = others[:, :-1] * p[:, None]
    wrong = others * (1 - p)[:, None]
    return right / (right + wrong)


def conditional_difficulties(groups: ScoreGroups) -> np.ndarray | None:
    """Return the conditional maximum likelihood difficulties of the items of *groups*, with sum zero.

    None where the answers do not determine them: two parts of the items that no pupil's answers compare, or an item
    that all who got anything right got right.
    """
    parts = _parts(groups)
    if not parts:
        return None
    right = sum((part.right.sum(axis=0) for part in parts), np.zeros(len(groups.items)))
    b = np.zeros(len(groups.items))
    for _ in range(_ROUNDS):
        expected, variance = np.zeros(len(b)), np.zeros(len(b))
        for part in parts:
            p = right_given_score(b[part.inside])[:, part.score].T
            expected[part.inside] += part.n @ p
            variance[part.inside] += part.n @ (p * (1 - p))
        step = np.clip((expected - right) / np.maximum(variance, 1e-12), -1, 1)
        b = b + step
        b -= b.mean()
        if np.abs(step).max() < _TOLERANCE:
            return b
        if np.abs(b).max() > _RUNAWAY:
            return None
    return None


class _Part(NamedTuple):
    """Pupils who met the same items and got some of them right and some wrong."""

    inside: np.ndarray
    """Places of the items met."""
    score: np.ndarray
    n: np.ndarray
    right: np.ndarray
    """float64 [G, K]"""


def _parts(groups: ScoreGroups) -> list[_Part]:
    found = []
    for which in _commonest(groups):
        inside = np.flatnonzero(groups.given[which])
        first, last = np.searchsorted(groups.which, (which, which + 1))
        score = groups.score[first:last]
        middle = np.flatnonzero((score > 0) & (score < len(inside)))
        if len(middle):
            here = first + middle
            found.append(_Part(inside, score[middle], groups.n[here].astype(float), groups.right[here].astype(float)))
    return found


def conditional_fit(groups: ScoreGroups, b: np.ndarray | None = None) -> tuple[Fit, ...]:
    """Return the fit of the items of *groups*, with `conditional_difficulties` unless *b* [K] is given."""
    if b is None:
        b = conditional_difficulties(groups)
    if b is None:
        why = "the answers do not determine difficulties conditional on the score"
        return tuple(
            Fit(item=item, infit=none("infit", 0, why), outfit=none("outfit", 0, why)) for item in groups.items
        )
    items = len(groups.items)
    squares, expected, count = np.zeros(items), np.zeros(items), np.zeros(items)
    standardised, outfit_variance, infit_variance = np.zeros(items), np.zeros(items), np.zeros(items)
    for part in _parts(groups):
        inside, n, right = part.inside, part.n[:, None], part.right[:, part.inside]
        p = right_given_score(b[inside])[:, part.score].T
        v = p * (1 - p)
        residual = right * (1 - p) ** 2 + (n - right) * p**2
        squares[inside] += residual.sum(axis=0)
        expected[inside] += (n * v).sum(axis=0)
        standardised[inside] += (residual / v).sum(axis=0)
        count[inside] += n.sum()
        outfit_variance[inside] += (n * (1 / v - 4)).sum(axis=0)
        infit_variance[inside] += (n * v * (1 - 4 * v)).sum(axis=0)
    found = []
    for k, item in enumerate(groups.items):
        n = int(count[k])
        if not n:
            why = "no pupil got some and not all items right"
            found.append(Fit(item=item, infit=none("infit", 0, why), outfit=none("outfit", 0, why)))
            continue
        found.append(Fit(
            item=item,
            infit=_estimate(squares[k] / expected[k], infit_variance[k], expected[k], n, "infit"),
            outfit=_estimate(standardised[k] / n, outfit_variance[k], n, n, "outfit"),
        ))
    return tuple(found)


def _estimate(value: float, variance: float, scale: float, n: int, convention: str) -> Estimate:
    half = quantile() * math.sqrt(max(0.0, float(variance))) / float(scale)
    return Estimate(value=float(value), low=max(0.0, 1 - half), high=1 + half, n=n, convention=convention)


def _commonest(groups: ScoreGroups) -> list[int]:
    persons = np.zeros(len(groups.given), dtype=np.int64)
    np.add.at(persons, groups.which, groups.n)
    order = np.argsort(-persons, kind="stable")[:MOST_SETS]
    return sorted(order.tolist())
