"""The two-parameter model by marginal maximum likelihood, where there are enough answers.

P(right) = 1 / (1 + exp(-a (theta - b))), theta normal with mean 0 and standard deviation 1; logistic metric, no factor
1.7 (a of the normal ogive is a / 1.702). 61 nodes from -8 to 8, more where steep items make ability so certain that
they would be too coarse. With few answers slopes are held by a prior or by bounds, and the result says so. Standard
errors come from the observed information (Louis 1982, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, cho_factor, cho_solve
from scipy.optimize import minimize
from scipy.special import expit

from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile
from bank.audit.statistics.patterns import Scores, without_constants

CONVENTIONS["2pl-a"] = "slope of the two-parameter logistic model (D = 1), ability normal with mean 0 and SD 1"
CONVENTIONS["2pl-b"] = (
    "difficulty of the two-parameter logistic model (D = 1) in SDs of ability, ability normal with mean 0 and SD 1; "
    "higher is harder; error by the delta method"
)
NODES, MOST_NODES = 61, 241
SPAN = 8.0
MOST_PATTERNS = 50_000
"""Pupils who are taken in at the most: evenly spaced ones in order of their answers, so no order of rows matters."""
PRIOR = (0.0, 0.5)
"""Mean and SD of ln(a) where a prior is used. Common practice, no source: half of all slopes between 0.7 and 1.4."""
BOUNDS = (0.2, 4.0)
"""Slopes that are looked at where bounds are used (reference notes, from memory)."""
_WIDE = 25.0
_CHUNK = 2048
_FIRST = 4000
"""Patterns that the first, rough search looks at."""
_NEWTON = 12


@dataclass(frozen=True, kw_only=True, slots=True)
class TwoPlItem:
    """An item's slope and difficulty."""

    item: str
    version: int
    slope: Estimate
    difficulty: Estimate
    at_bound: bool
    """Whether the slope lies at a bound: it is then no estimate."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TwoPl:
    """A two-parameter model that was fitted, or the reason why it was not."""

    items: tuple[TwoPlItem, ...]
    log_likelihood: float | None
    """Of the answers of ``persons``, the prior not in it."""
    persons: int
    """Pupils taken in."""
    of: int
    """Pupils there were."""
    held: str
    """Words for what held the slopes; empty where nothing did."""
    left_out: tuple[tuple[str, str], ...]
    why: str = ""


def fit_two_parameters(
    scores: Scores, *, prior: tuple[float, float] | None = None, bounds: tuple[float, float] | None = None
) -> TwoPl:
    """Return the two-parameter model of *scores*, missing answers allowed.

    *prior* is the mean and SD of a normal prior on ln(a); *bounds* are the least and largest slope.
    """
    usable = without_constants(scores)
    x, n = _patterns(usable.x)
    held = _held(prior, bounds)
    persons, everyone = int(n.sum()), int((usable.x >= 0).any(axis=1).sum()) if usable.x.size else 0
    if len(usable.items) < 3 or persons < 3:
        return TwoPl(items=(), log_likelihood=None, persons=persons, of=everyone, held=held, left_out=usable.left_out,
                     why="the model takes three items and three pupils")
    low, high = bounds or (-_WIDE, _WIDE)
    if prior is not None:
        low = max(low, 0.01)
    count = len(usable.items)
    share = (n @ (x == 1)) / (n @ (x >= 0))
    start = np.concatenate([np.full(count, 1.0), 1.15 * np.log(share / (1 - share))])
    every = -(-len(n) // _FIRST)
    best = _searched(_Work(x[::every], n[::every], NODES, prior), start, low, high)
    work = _Work(x, n, max(NODES, _nodes_for(best[:count])), prior)
    best, ended = _refined(work, best, low, high)
    if not ended:
        best, ended = _refined(work, _searched(work, best, low, high), low, high)
    a = best[:count]
    if not np.isfinite(best).all() or (bounds is None and np.abs(a).max() > _WIDE - 1):
        return TwoPl(items=(), log_likelihood=None, persons=persons, of=everyone, held=held, left_out=usable.left_out,
                     why="a slope ran away: the answers do not hold it; use a prior")
    covariance = _covariance(work, best, low, high)
    return TwoPl(
        items=tuple(
            _item(usable, k, best, covariance, int(n @ (x[:, k] >= 0)), low, high) for k in range(count)
        ),
        log_likelihood=-work.pure_loss(best), persons=persons, of=everyone, held=held, left_out=usable.left_out,
    )


def _searched(work: _Work, start: np.ndarray, low: float, high: float) -> np.ndarray:
    """The place near which a quasi-Newton search from *start* stops."""
    persons, count = float(work.n.sum()), work.count
    done = minimize(
        work.loss, np.clip(start, [low] * count + [-40] * count, [high] * count + [40] * count), jac=True,
        method="L-BFGS-B", bounds=[(low, high)] * count + [(-40, 40)] * count,
        options={"maxiter": 400, "maxfun": 800, "ftol": 1e-10, "gtol": 1e-6 * persons, "maxcor": 30},
    )
    return done.x


def _nodes_for(a: np.ndarray) -> int:
    """Nodes for the narrowest posterior that slopes *a* can give, 1.25 to its SD, as in the Rasch model."""
    narrowest = 1 / math.sqrt(1 + float(a @ a) / 4)
    return min(MOST_NODES, math.ceil(2 * SPAN / (0.8 * narrowest)) + 1) | 1


def _held(prior: tuple[float, float] | None, bounds: tuple[float, float] | None) -> str:
    words = []
    if prior is not None:
        words.append(f"prior on slopes: ln(a) normal with mean {prior[0]:g} and SD {prior[1]:g}")
    if bounds is not None:
        words.append(f"slopes kept from {bounds[0]:g} to {bounds[1]:g}")
    return "; ".join(words)


def _patterns(x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Distinct rows in order with their counts; evenly spaced ones of the sorted rows where there are too many."""
    x = x[(x >= 0).any(axis=1)] if x.size else x[:0]
    if not len(x):
        return x, np.zeros(0)
    packed = np.ascontiguousarray(np.concatenate([np.packbits(x >= 0, axis=1), np.packbits(x == 1, axis=1)], axis=1))
    keys = packed.view([("", np.void, packed.shape[1])]).ravel()
    if len(x) > MOST_PATTERNS:
        order = np.argsort(keys, kind="stable")
        chosen = order[np.linspace(0, len(x) - 1, MOST_PATTERNS).round().astype(np.int64)]
        x, keys = x[chosen], keys[chosen]
    _, first, n = np.unique(keys, return_index=True, return_counts=True)
    return x[first], n.astype(float)


class _Work:
    """The marginal likelihood and its derivatives in (slopes, intercepts): logit = a theta + d."""

    def __init__(self, x: np.ndarray, n: np.ndarray, nodes: int, prior: tuple[float, float] | None) -> None:
        self.right, self.given, self.n = (x == 1), (x >= 0), n
        self.theta = np.linspace(-SPAN, SPAN, nodes)
        weight = np.exp(-self.theta**2 / 2)
        self.log_weight = np.log(weight / weight.sum())
        self.prior = prior
        self.count = x.shape[1]

    def _chunks(self) -> Iterator[tuple[np.ndarray, np.ndarray, np.ndarray]]:
        for start in range(0, len(self.n), _CHUNK):
            part = slice(start, start + _CHUNK)
            yield self.right[part].astype(float), self.given[part].astype(float), self.n[part]

    def _tables(self, at: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        logit = self.theta[:, None] * at[None, : self.count] + at[None, self.count :]
        return logit, expit(logit), np.logaddexp(0, logit)

    def _posterior(self, right: np.ndarray, given: np.ndarray, logit: np.ndarray, norm: np.ndarray) -> tuple:
        """Weights [N, Q] and log-likelihoods [N]."""
        log_post = right @ logit.T - given @ norm.T + self.log_weight
        top = log_post.max(axis=1, keepdims=True)
        weight = np.exp(log_post - top)
        total = weight.sum(axis=1, keepdims=True)
        return weight / total, (np.log(total) + top)[:, 0]

    def pure_loss(self, at: np.ndarray) -> float:
        """Minus the log-likelihood, without the prior."""
        logit, _, norm = self._tables(at)
        return -sum(float(n @ self._posterior(right, given, logit, norm)[1]) for right, given, n in self._chunks())

    def loss(self, at: np.ndarray) -> tuple[float, np.ndarray]:
        """Minus the log-likelihood (and prior), and its gradient."""
        logit, p, norm = self._tables(at)
        value, slope, level = 0.0, np.zeros(self.count), np.zeros(self.count)
        for right, given, n in self._chunks():
            weight, each = self._posterior(right, given, logit, norm)
            weight *= n[:, None]
            value -= float(n @ each)
            surplus = weight.T @ right - (weight.T @ given) * p
            level -= surplus.sum(axis=0)
            slope -= self.theta @ surplus
        if self.prior is not None:
            mean, deviation = self.prior
            away = (np.log(at[: self.count]) - mean) / deviation
            value += float((away**2).sum()) / 2
            slope += away / (deviation * at[: self.count])
        return value, np.concatenate([slope, level])

    def information(self, at: np.ndarray) -> np.ndarray:
        """Minus the Hessian of the log-likelihood (and prior), exactly: set by set of items met."""
        logit, p, norm = self._tables(at)
        count = self.count
        found = np.zeros((2 * count, 2 * count))
        for part in self._sets():
            inside = np.flatnonzero(self.given[part.start])
            x, n = self.right[part][:, inside].astype(float), self.n[part]
            weight, _ = self._posterior(x, np.ones_like(x), logit[:, inside], norm[:, inside])
            block = self._block(x, n, weight, p[:, inside])
            where = np.concatenate([inside, count + inside])
            found[np.ix_(where, where)] += block
        if self.prior is not None:
            center, deviation = self.prior
            a = at[:count]
            second = (1 - (np.log(a) - center)) / (deviation * a) ** 2
            found[np.arange(count), np.arange(count)] += second
        return found

    def _sets(self) -> Iterator[slice]:
        """Yield runs of patterns of the same items met; patterns are in order of these."""
        changes = np.flatnonzero((self.given[1:] != self.given[:-1]).any(axis=1)) + 1
        for start, stop in zip([0, *changes.tolist()], [*changes.tolist(), len(self.n)], strict=True):
            for first in range(start, stop, _CHUNK):
                yield slice(first, min(stop, first + _CHUNK))

    def _block(self, x: np.ndarray, n: np.ndarray, weight: np.ndarray, p: np.ndarray) -> np.ndarray:
        """Information of pupils who met the same items.

        With u = (x - p) (theta, 1): the expected p (1 - p) less the posterior variance of u (Louis). The sums over
        pupils of products of x and p are taken apart, so that no pupil meets every pair of items at every node.
        """
        theta, count = self.theta, x.shape[1]
        counted = weight * n[:, None]
        by_node, hits = counted.sum(axis=0), counted.T @ x
        blocks = []
        for power in (2, 1, 0):
            scale = (theta**power)[:, None]
            mixed = (hits * scale).T @ p
            products = (x.T * (counted @ scale)[:, 0]) @ x - mixed - mixed.T + (p * by_node[:, None] * scale).T @ p
            blocks.append(np.diag(by_node @ (p * (1 - p) * scale)) - products)
        mean = np.empty((len(x), 2 * count))
        for place, moment in ((0, weight * theta), (count, weight)):
            mean[:, place : place + count] = x * moment.sum(axis=1)[:, None] - moment @ p
        return np.block([[blocks[0], blocks[1]], [blocks[1], blocks[2]]]) + (mean.T * n) @ mean


def _free(at: np.ndarray, low: float, high: float) -> np.ndarray:
    count = len(at) // 2
    inside = np.ones(len(at), dtype=bool)
    inside[:count] = (at[:count] > low + 1e-9) & (at[:count] < high - 1e-9)
    return inside


def _refined(work: _Work, at: np.ndarray, low: float, high: float) -> tuple[np.ndarray, bool]:
    """Newton steps, shortened until they lower the loss, and whether they came to an end."""
    count = len(at) // 2
    value, gradient = work.loss(at)
    for _ in range(_NEWTON):
        free = _free(at, low, high)
        try:
            step = cho_solve(cho_factor(work.information(at)[np.ix_(free, free)]), gradient[free])
        except (LinAlgError, ValueError):
            return at, False
        for _ in range(6):
            moved = at.copy()
            moved[free] -= step
            moved[:count] = np.clip(moved[:count], low, high)
            new_value, new_gradient = work.loss(moved)
            if new_value <= value + 1e-9 * max(1.0, abs(value)):
                break
            step = step / 2
        else:
            return at, False
        at, value, gradient = moved, new_value, new_gradient
        if np.abs(step).max(initial=0.0) < 1e-6:
            return at, True
    return at, False


def _covariance(work: _Work, at: np.ndarray, low: float, high: float) -> np.ndarray | None:
    free = _free(at, low, high)
    try:
        inner = cho_solve(cho_factor(work.information(at)[np.ix_(free, free)]), np.eye(int(free.sum())))
    except (LinAlgError, ValueError):
        return None
    found = np.zeros((len(at), len(at)))
    found[np.ix_(free, free)] = inner
    return found


def _item(
    scores: Scores, k: int, at: np.ndarray, covariance: np.ndarray | None, n: int, low: float, high: float
) -> TwoPlItem:
    count = len(scores.items)
    a, d = float(at[k]), float(at[count + k])
    bound = not _free(at, low, high)[k]
    slope = Estimate(value=a, n=n, convention="2pl-a")
    if abs(a) < 1e-6:
        difficulty = none("2pl-b", n, "the slope is nought, so the item has no difficulty")
    else:
        difficulty = Estimate(value=-d / a, n=n, convention="2pl-b")
    if covariance is not None and not bound:
        here = covariance[np.ix_([k, count + k], [k, count + k])]
        slope = _widened(slope, float(here[0, 0]))
        if difficulty.value is not None:
            ways = np.array([d / a**2, -1 / a])
            difficulty = _widened(difficulty, float(ways @ here @ ways))
    return TwoPlItem(
        item=scores.items[k], version=scores.versions[k], slope=slope, difficulty=difficulty, at_bound=bound
    )


def _widened(estimate: Estimate, variance: float) -> Estimate:
    half = quantile() * math.sqrt(max(0.0, variance))
    return Estimate(value=estimate.value, low=estimate.value - half, high=estimate.value + half, n=estimate.n,
                    convention=estimate.convention)
