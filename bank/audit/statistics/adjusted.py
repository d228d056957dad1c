"""p values of a family of tests, so corrected that chance rarely makes even one of them small."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from scipy.special import ndtr


def holm(values: Sequence[float]) -> list[float]:
    """Return *values*, p of a family of tests, adjusted: at most 5 % of families have one under 0.05 by chance.

    Holm 1979, Scandinavian Journal of Statistics 6:65 (from memory): the smallest is multiplied by the number of tests,
    the next by one less, and so on, none becoming smaller than the one before it.
    """
    order = sorted(range(len(values)), key=lambda place: values[place])
    adjusted, least = [0.0] * len(values), 0.0
    for rank, place in enumerate(order):
        least = max(least, min(1.0, values[place] * (len(values) - rank)))
        adjusted[place] = least
    return adjusted


def two_sided(z: np.ndarray) -> list[float]:
    """Return the two-sided p of normal deviates *z*."""
    return (2 * ndtr(-np.abs(z))).tolist()
