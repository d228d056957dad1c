"""Streams of chance that names decide, in columns: the same on every machine.

A counter-based generator (Philox, Salmon and others 2011) is keyed with a digest of the names; its raw output is turned
into shares here, so that no later change of a library's sampling can change what a seed means.
"""

from __future__ import annotations

import numpy as np
from scipy.special import ndtri

from bank.chance import digest_numbers


def shares(count: int, *names: object) -> np.ndarray:
    """Return *count* numbers, evenly spread over the open interval from 0 to 1, float64."""
    first, second, _, _ = digest_numbers("simulated", *names)
    raw = np.random.Philox(key=np.array([first, second], dtype=np.uint64)).random_raw(count)
    return ((np.atleast_1d(raw) >> np.uint64(11)).astype(np.float64) + 0.5) * 2.0**-53


def normals(count: int, *names: object) -> np.ndarray:
    """Return *count* numbers of the standard normal distribution, float64."""
    return np.asarray(ndtri(shares(count, *names)))


def logistic(logits: np.ndarray) -> np.ndarray:
    """Return the shares that belong to *logits*."""
    return np.asarray(1.0 / (1.0 + np.exp(-logits)))
