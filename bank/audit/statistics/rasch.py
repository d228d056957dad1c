"""The Rasch model by marginal maximum likelihood: item difficulties on the logit scale, with standard errors.

P(right) = 1 / (1 + exp(-(theta - b))), theta normal with mean 0 and free standard deviation sigma; no factor 1.7. The
nodes lie on -8 to 8 sigma and move with sigma: nodes that stay at a fixed place cut off the ability of a mixed class
and shift every b. Standard errors come from the observed information of the marginal likelihood (Louis 1982, J. R.
Stat. Soc. B 44:226, from memory), covariances and sigma included.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.special import expit

from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile
from bank.audit.statistics.patterns import ScoreGroups

CONVENTIONS["rasch-b"] = (
    "Rasch difficulty in logits: ability normal with mean 0 and free sigma, slope 1, marginal maximum likelihood; SE "
    "from the observed information; higher is harder"
)
CONVENTIONS["rasch-sigma"] = "standard deviation of ability in logits, from the same model"
SPAN = 8.0
"""Nodes reach this many sigma either side."""
FEWEST_NODES, MOST_NODES = 41, 321
_CHUNK = 4096
_TOLERANCE = 1e-8
_EM_STEPS = 8
_ROUNDS = 200
_RUNAWAY = 15.0
"""Sigma in logits beyond which the search is running away: the answers stand in perfect order."""
_NO_SPREAD = 0.03
"""Sigma under which the data say nothing of differing ability; it is then taken as 0."""


@dataclass(frozen=True, kw_only=True, slots=True)
class RaschItem:
    """An item's difficulty."""

    item: str
    version: int
    difficulty: Estimate
    """Convention ``rasch-b``; n is the pupils who met it."""
    se: float | None


@dataclass(frozen=True, kw_only=True, slots=True)
class Rasch:
    """A Rasch model that was fitted, or the reason why it was not."""

    items: tuple[RaschItem, ...]
    sigma: Estimate
    log_likelihood: float | None
    """Of the answers, not of the scores."""
    persons: int
    nodes: int
    rounds: int
    left_out: tuple[tuple[str, str], ...]
    """(item, reason)."""
    why: str = ""
    """Why there are no results; empty where there are."""

    @property
    def b(self) -> np.ndarray:
        """float64 [K]: difficulties in order of the items."""
        return np.array([item.difficulty.value for item in self.items], dtype=float)


def fit_rasch(groups: ScoreGroups) -> Rasch:
    """Return the Rasch model of *groups*.

    There are no results, and ``why`` says so, for fewer than two usable items, or where the search did not end.
    """
    items = len(groups.items)
    if items < 2:
        return _nothing(groups, "fewer than two items were answered both right and wrong")
    search = _Search(groups)
    search.run()
    if search.sigma < _NO_SPREAD:
        search.without_spread()
    elif not search.ended:
        return _nothing(groups, "the search did not come to an end: the answers are too few or in too perfect an order")
    variance = search.variance()
    if variance is None:
        return _nothing(groups, "the answers do not determine the difficulties")
    errors = np.sqrt(variance)
    met = groups.met
    found = tuple(
        RaschItem(
            item=item, version=groups.versions[k], se=float(errors[k]),
            difficulty=_estimate(float(search.b[k]), float(errors[k]), int(met[k]), "rasch-b"),
        )
        for k, item in enumerate(groups.items)
    )
    sigma = Estimate(value=0.0, n=groups.persons, convention="rasch-sigma")
    if search.sigma:
        half = quantile() * float(errors[-1])
        sigma = Estimate(value=search.sigma, low=max(0.0, search.sigma - half), high=search.sigma + half,
                         n=groups.persons, convention="rasch-sigma")
    return Rasch(
        items=found, sigma=sigma, log_likelihood=search.likelihood, persons=groups.persons, nodes=len(search.z),
        rounds=search.rounds, left_out=groups.left_out,
    )


def _estimate(value: float, error: float, n: int, convention: str) -> Estimate:
    half = quantile() * error
    return Estimate(value=value, low=value - half, high=value + half, n=n, convention=convention)


def _nothing(groups: ScoreGroups, why: str) -> Rasch:
    return Rasch(
        items=(), sigma=none("rasch-sigma", groups.persons, why), log_likelihood=None, persons=groups.persons, nodes=0,
        rounds=0, left_out=groups.left_out, why=why,
    )


def count_of_nodes(items: int, sigma: float) -> int:
    """Return how many nodes *items* items need, so that even the narrowest posterior has 1.25 nodes to its SD.

    The trapezoid rule on a bell of SD s with step h errs by about 2 exp(-2 (pi s / h)^2): here under 1e-12.
    """
    narrowest = 1 / math.sqrt(1 + sigma * sigma * items / 4)
    wanted = math.ceil(2 * SPAN / (0.8 * narrowest)) + 1
    return min(MOST_NODES, max(FEWEST_NODES, wanted)) | 1


def nodes(count: int) -> tuple[np.ndarray, np.ndarray]:
    """Return *count* places from -`SPAN` to `SPAN` sigma and the logarithms of their normal weights."""
    z = np.linspace(-SPAN, SPAN, count)
    return z, -z * z / 2 - math.log(np.exp(-z * z / 2).sum())


class _Sums:
    """What one pass over the groups yields at given b and sigma."""

    __slots__ = ("gradient", "hessian", "information", "likelihood", "second_moment")

    def __init__(self, size: int) -> None:
        self.likelihood = 0.0
        self.gradient = np.zeros(size)
        self.hessian = np.zeros((size, size))
        self.information = np.zeros(size - 1)
        """Expected p(1 - p) by item."""
        self.second_moment = 0.0
        """Expected sum of z^2."""


class _Search:
    """EM to come near, Newton to arrive; the Hessian is kept while it serves, as it costs most with many sets."""

    def __init__(self, groups: ScoreGroups) -> None:
        self.groups = groups
        self.items = len(groups.items)
        self.right = groups.right.sum(axis=0).astype(float)
        share = self.right / groups.met
        self.b = -np.log(share / (1 - share)) * 1.2
        self.sigma = 1.0
        self.rounds = 0
        self.ended = False
        self.likelihood = -math.inf
        self._set_nodes()

    def _set_nodes(self) -> None:
        self.z, self.log_weight = nodes(count_of_nodes(self.items, self.sigma))

    def run(self) -> None:
        factor = None
        size = math.inf
        for self.rounds in range(1, _ROUNDS + 1):
            self._set_nodes()
            newton = self.rounds > _EM_STEPS
            sums = self._pass(hessian=newton and factor is None)
            self.likelihood = sums.likelihood
            if not newton:
                self._em(sums)
                continue
            factor = factor if factor is not None else _factor(-sums.hessian)
            step = None if factor is None else cho_solve(factor, sums.gradient)
            if step is None or np.abs(step).max() > 2:
                self._em(sums)
                factor = None
                if self.sigma < _NO_SPREAD:
                    return
                continue
            self.b, self.sigma = self.b + step[:-1], abs(self.sigma + float(step[-1]))
            before, size = size, float(np.abs(step).max())
            if size < _TOLERANCE:
                self.ended = True
                return
            if self.sigma < _NO_SPREAD or self.sigma > _RUNAWAY:
                return
            if size > before / 5:
                factor = None

    def _em(self, sums: _Sums) -> None:
        self.b = self.b + sums.gradient[:-1] / np.maximum(sums.information, 1e-12)
        self.sigma *= math.sqrt(sums.second_moment / self.groups.persons)

    def without_spread(self) -> None:
        """Take sigma as 0: the items are then independent, and b is minus the logit of the share right."""
        self.sigma = 0.0
        met = self.groups.met
        share = self.right / met
        self.b = -np.log(share / (1 - share))
        self.likelihood = float((self.right * np.log(share) + (met - self.right) * np.log1p(-share)).sum())
        self.ended = True

    def variance(self) -> np.ndarray | None:
        """Return the variances of b and, where it is not 0, of sigma."""
        if not self.sigma:
            share = self.right / self.groups.met
            return 1 / (self.groups.met * share * (1 - share))
        sums = self._pass(hessian=True)
        self.likelihood = sums.likelihood
        factor = _factor(-sums.hessian)
        return None if factor is None else np.diag(cho_solve(factor, np.eye(self.items + 1)))

    def _pass(self, *, hessian: bool) -> _Sums:
        theta = self.sigma * self.z
        logit = theta[:, None] - self.b[None, :]
        p = expit(logit)
        sums = _Sums(self.items + 1)
        tables = (theta, p, p * (1 - p), np.logaddexp(0, logit))
        for chunk in _chunks(self.groups):
            self._add(sums, chunk, tables, hessian)
        sums.gradient[:-1] -= self.right
        sums.likelihood -= float(self.b @ self.right)
        if hessian:
            sums.hessian[:-1, :-1] -= np.diag(sums.information)
            sums.hessian = (sums.hessian + sums.hessian.T) / 2
        return sums

    def _add(
        self, sums: _Sums, chunk: tuple[np.ndarray, ...],
        tables: tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray], hessian: bool,
    ) -> None:
        """Add the groups of *chunk*; posterior weights are [G, Q], sums by set of items [M, Q]."""
        given, starts, which, score, n = chunk
        theta, p, pq, log_norm = tables
        z = self.z
        norm = given @ log_norm.T
        log_post = score[:, None] * theta[None, :] - norm[which] + self.log_weight[None, :]
        top = log_post.max(axis=1, keepdims=True)
        weight = np.exp(log_post - top)
        total = weight.sum(axis=1, keepdims=True)
        weight /= total
        sums.likelihood += float(n @ (np.log(total) + top)[:, 0])
        counted = weight * n[:, None]
        by_set = np.add.reduceat(counted, starts, axis=0)
        mean_p = given @ p.T
        surplus = z * (np.add.reduceat(counted * score[:, None], starts, axis=0) - by_set * mean_p)
        sums.gradient[:-1] += (given * (by_set @ p)).sum(axis=0)
        sums.gradient[-1] += float(surplus.sum())
        sums.information += (given * (by_set @ pq)).sum(axis=0)
        sums.second_moment += float((by_set @ (z * z)).sum())
        if not hessian:
            return
        square = sums.hessian
        for q in range(len(z)):
            square[:-1, :-1] += np.outer(p[q], p[q]) * ((given.T * by_set[:, q]) @ given)
        mean_b = given[which] * (weight @ p)
        u = z * (score[:, None] - mean_p[which])
        mean_u = (weight * u).sum(axis=1)
        square[:-1, :-1] -= (mean_b.T * n) @ mean_b
        cross = (given * (surplus @ p) + given * ((by_set * z) @ pq)).sum(axis=0) - mean_b.T @ (n * mean_u)
        square[:-1, -1] += cross
        square[-1, :-1] += cross
        square[-1, -1] += float((counted * u * u).sum() - n @ (mean_u * mean_u)
                                - (by_set * z * z * (given @ pq.T)).sum())


def _chunks(groups: ScoreGroups) -> Iterator[tuple[np.ndarray, ...]]:
    """Yield (given [M, K], first group of each set, set of each group, score, n), about `_CHUNK` groups each."""
    firsts = np.searchsorted(groups.which, np.arange(len(groups.given) + 1))
    start = 0
    while start < len(groups.given):
        stop = max(start + 1, int(np.searchsorted(firsts, firsts[start] + _CHUNK, side="right")) - 1)
        a, b = firsts[start], firsts[stop]
        yield (groups.given[start:stop].astype(float), firsts[start:stop] - a, groups.which[a:b] - start,
               groups.score[a:b].astype(float), groups.n[a:b].astype(float))
        start = stop


def _factor(matrix: np.ndarray) -> tuple[np.ndarray, bool] | None:
    try:
        return cho_factor(matrix)
    except (LinAlgError, ValueError):
        return None
