"""Siblings of one item model: the mean and spread of their difficulties, small families leaning on the others.

Each sibling's value y has its own error se; within a family y ~ N(mean, spread^2 + se^2). The spread is found by
Paule & Mandel's rule: the spread at which the weighted squares of the deviations are as large as expected (Paule &
Mandel 1982, J. Res. NBS 87:377; for this use DerSimonian & Kacker 2007; from memory). Its interval is by the Q profile
(Viechtbauer 2007, Statistics in Medicine 26:37; from memory). Families with few siblings use the spread common to all
families, and each sibling's value is pulled to its family's mean by as much as its error asks for.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq
from scipy.stats import chi2

from bank.audit.statistics.classical import ItemStatistics
from bank.audit.statistics.estimates import CONVENTIONS, LEVEL, Estimate, none, quantile
from bank.audit.statistics.rasch import RaschItem

CONVENTIONS["family-mean"] = "mean difficulty of an item model's siblings in logits, weighted by spread and error"
CONVENTIONS["family-spread"] = (
    "SD of the siblings' difficulties in logits beyond their errors, by Paule and Mandel; interval by the Q profile"
)
_LARGEST = 100.0
"""Largest variance in square logits that is looked for."""


class Sibling(NamedTuple):
    """An item with a difficulty and its standard error, in logits (higher is harder)."""

    item: str
    family: str
    """Id of the item model (template)."""
    value: float
    error: float
    n: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Pulled:
    """A sibling's difficulty, alone and pulled to its family."""

    item: str
    value: float
    error: float
    pooled: float
    """Pulled to the family's mean."""
    pooled_error: float
    pull: float
    """0: stays where it is; 1: is the family's mean."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FamilySpread:
    """An item model by its siblings."""

    family: str
    mean: Estimate
    """n is the number of siblings."""
    spread: Estimate
    """The family's own; n is the number of siblings."""
    used: float
    """The spread that pulls its siblings: its own, or the one common to all families."""
    common: bool
    """Whether the common one was used, the siblings being too few."""
    siblings: tuple[Pulled, ...]


def siblings_of_facilities(items: Sequence[ItemStatistics], family: dict[str, str]) -> list[Sibling]:
    """Return siblings by minus the logit of facility, each item's family being ``family[item]``; others are left out.

    Half an answer is added to right and wrong (Haldane; Anscombe 1956, from memory), so that p of 0 and 1 have a place.
    Part marks count as their share. Only items answered by the same pupils are comparable.
    """
    found = []
    for item in items:
        if item.facility.value is None or item.item not in family:
            continue
        right = item.facility.value * item.n
        wrong = item.n - right
        error = math.sqrt(1 / (right + 0.5) + 1 / (wrong + 0.5))
        found.append(Sibling(item.item, family[item.item], math.log((wrong + 0.5) / (right + 0.5)), error, item.n))
    return found


def siblings_of_rasch(items: Sequence[RaschItem], family: dict[str, str]) -> list[Sibling]:
    """Return siblings by Rasch difficulty, each item's family being ``family[item]``; others are left out."""
    return [
        Sibling(item.item, family[item.item], item.difficulty.value, item.se, item.difficulty.n)
        for item in items
        if item.item in family and item.difficulty.value is not None and item.se is not None
    ]


def family_spreads(
    siblings: Sequence[Sibling], *, fewest: int = 3, own_from: int = 6
) -> tuple[FamilySpread, ...]:
    """Return the families of *siblings* in order of id.

    *fewest* siblings make a spread; from *own_from* on a family's siblings are pulled by its own spread, below by the
    one common to all families.
    """
    families: dict[str, list[Sibling]] = {}
    for sibling in sorted(siblings):
        families.setdefault(sibling.family, []).append(sibling)
    groups = [
        (np.array([one.value for one in members]), np.array([one.error for one in members]) ** 2)
        for members in families.values()
    ]
    shared = _paule_mandel(groups)
    return tuple(
        _family(name, members, values, variances, shared, fewest, own_from)
        for (name, members), (values, variances) in zip(families.items(), groups, strict=True)
    )


def _family(
    name: str, members: list[Sibling], values: np.ndarray, variances: np.ndarray, shared: float, fewest: int,
    own_from: int,
) -> FamilySpread:
    count = len(members)
    own = _paule_mandel([(values, variances)])
    if count < fewest:
        spread = none("family-spread", count, f"{count} of the {fewest} siblings needed")
    else:
        low, high = (_spread_where([(values, variances)], float(chi2.ppf(tail, count - 1)))
                     for tail in ((1 + LEVEL) / 2, (1 - LEVEL) / 2))
        # Siblings more alike than chance would have them give no upper limit.
        spread = Estimate(
            value=math.sqrt(own), low=math.sqrt(low), high=math.sqrt(high) if high else None, n=count,
            convention="family-spread",
        )
    common = count < own_from
    used = shared if common else own
    weight = 1 / (used + variances)
    mean = float(weight @ values / weight.sum())
    error = math.sqrt(1 / float(weight.sum()))
    half = quantile() * error
    pull = variances / (used + variances)
    # A pulled value is uncertain by what its own answers leave and by the mean that it is pulled to.
    left = np.sqrt((1 - pull) * variances + pull**2 * error**2)
    pooled = mean + (1 - pull) * (values - mean)
    return FamilySpread(
        family=name, spread=spread, used=math.sqrt(used), common=common,
        mean=Estimate(value=mean, low=mean - half, high=mean + half, n=count, convention="family-mean"),
        siblings=tuple(
            Pulled(item=one.item, value=one.value, error=one.error, pooled=float(pooled[k]),
                   pooled_error=float(left[k]), pull=float(pull[k]))
            for k, one in enumerate(members)
        ),
    )


def _q(groups: Sequence[tuple[np.ndarray, np.ndarray]], variance: float) -> float:
    """Weighted squares of the deviations from each group's mean, at a spread of sqrt(*variance*)."""
    total = 0.0
    for values, errors in groups:
        weight = 1 / (variance + errors)
        mean = weight @ values / weight.sum()
        total += float(weight @ (values - mean) ** 2)
    return total


def _paule_mandel(groups: Sequence[tuple[np.ndarray, np.ndarray]]) -> float:
    """Return the variance common to *groups* (values, squared errors), each with a mean of its own."""
    return _spread_where(groups, float(sum(len(values) - 1 for values, _ in groups)))


def _spread_where(groups: Sequence[tuple[np.ndarray, np.ndarray]], wanted: float) -> float:
    """Return the variance at which `_q` is *wanted*; 0 where it is below that from the start."""
    if wanted <= 0 or _q(groups, 0.0) <= wanted:
        return 0.0
    if _q(groups, _LARGEST) >= wanted:
        return _LARGEST
    return float(brentq(lambda variance: _q(groups, variance) - wanted, 0.0, _LARGEST, xtol=1e-14, rtol=1e-12))
