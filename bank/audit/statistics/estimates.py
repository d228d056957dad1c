"""A number found from answers, with what it rests on: n, an interval, the convention; and the usual intervals."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache

from scipy.special import ndtri
from scipy.stats import f as f_distribution

LEVEL = 0.95
"""Confidence level of every interval, unless a function says otherwise."""

CONVENTIONS: dict[str, str] = {
    "facility": "right / (right + wrong + omitted); not reached and not given are left out; part marks count as their "
                "share; Wilson interval (wider than needed where part marks are given)",
    "share": "chosen / (given and reached); Wilson interval",
    "item-rest": "Pearson r of the item's credit with the total of the other items; Fisher z interval",
    "item-total": "Pearson r of the item's credit with the total, the item itself in it: larger than item-rest r; "
                  "Fisher z interval",
    "choice-rest": "Pearson r of choosing this response with the total of the other items; Fisher z interval",
    "upper-lower-27": "credit share in the upper less that in the lower 27 % by total; pupils tied at the cut count "
                      "with equal fractions; Newcombe interval",
    "upper-lower-thirds": "credit share in the upper less that in the lower third by total; pupils tied at the cut "
                          "count with equal fractions; Newcombe interval",
    "omitted": "omitted / (given and reached); Wilson interval",
    "not-reached": "not reached / given; Wilson interval",
    "alpha": "coefficient alpha; omitted and not reached earn nothing; Feldt interval",
    "alpha-if-deleted": "coefficient alpha of the other items; Feldt interval",
    "kr-21": "as alpha if all items were equally hard; a lower bound, for checking only",
    "sem": "s sqrt(1 - alpha) in marks, s with n - 1; interval from that of alpha with s held fixed",
}
"""Name of a convention -> its words for the report. Further modules add theirs."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Estimate:
    """A number with its n, interval and convention, or none with the reason why."""

    value: float | None
    low: float | None = None
    high: float | None = None
    n: int
    """Pupils (or what the convention names) that it rests on."""
    convention: str
    """Key of `CONVENTIONS`."""
    why: str = ""
    """Where there is no value: why."""

    def without(self, why: str) -> Estimate:
        """Return the estimate with its value taken away for the reason *why*."""
        return replace(self, value=None, low=None, high=None, why=why)


def none(convention: str, n: int, why: str) -> Estimate:
    """Return an estimate without a value."""
    return Estimate(value=None, n=n, convention=convention, why=why)


def with_interval(
    value: float, n: int, convention: str, interval: Callable[..., tuple[float, float] | None], *arguments: float
) -> Estimate:
    """Return *value* with the interval that ``interval(value, *arguments)`` gives."""
    ends = interval(value, *arguments)
    low, high = ends if ends else (None, None)
    return Estimate(value=value, low=low, high=high, n=n, convention=convention)


@lru_cache(maxsize=8)
def quantile(level: float = LEVEL) -> float:
    """Return the normal quantile that cuts off half of 1 - *level* at either side."""
    return float(ndtri(0.5 + level / 2))


def wilson(share: float, n: float, level: float = LEVEL) -> tuple[float, float] | None:
    """Return Wilson's score interval of a share of *n* (Wilson 1927, J. Am. Stat. Assoc. 22:209; from memory)."""
    if n <= 0:
        return None
    z = quantile(level)
    middle = share + z * z / (2 * n)
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n))
    scale = 1 + z * z / n
    low = 0.0 if share <= 0 else max(0.0, (middle - half) / scale)
    high = 1.0 if share >= 1 else min(1.0, (middle + half) / scale)
    return low, high


def fisher_z(r: float, n: int, level: float = LEVEL) -> tuple[float, float] | None:
    """Return the interval of a correlation of *n* pairs by Fisher's z, SE 1/sqrt(n - 3); None under four pairs."""
    if n <= 3:
        return None
    if abs(r) >= 1:
        return r, r
    half = quantile(level) / math.sqrt(n - 3)
    return math.tanh(math.atanh(r) - half), math.tanh(math.atanh(r) + half)


def newcombe(upper: float, lower: float, n_upper: float, n_lower: float, level: float = LEVEL) -> tuple[float, float]:
    """Return the interval of ``upper - lower``, two independent shares.

    Newcombe 1998, Statistics in Medicine 17:873, method 10 (from memory): the Wilson limits of both, combined.
    """
    one, two = wilson(upper, n_upper, level), wilson(lower, n_lower, level)
    assert one and two
    difference = upper - lower
    return (
        difference - math.hypot(upper - one[0], two[1] - lower),
        difference + math.hypot(one[1] - upper, lower - two[0]),
    )


def feldt(alpha: float, n: int, items: int, level: float = LEVEL) -> tuple[float, float] | None:
    """Return Feldt's interval of coefficient alpha: 1 - (1 - alpha) F with n - 1 and (n - 1)(items - 1) degrees.

    Feldt 1965, Psychometrika 30:357 (from memory).
    """
    if n < 2 or items < 2:
        return None
    one, two = n - 1, (n - 1) * (items - 1)
    tail = (1 - level) / 2
    low = 1 - (1 - alpha) * float(f_distribution.ppf(1 - tail, one, two))
    high = 1 - (1 - alpha) * float(f_distribution.ppf(tail, one, two))
    return low, high
