"""Items that have changed since an earlier use, the change of the class taken off.

Another class is better or worse at everything. What all common items share is therefore no drift: an item has drifted
where its change, on the logit scale, differs from the mean change of the other common items beyond both errors, all
common items of the quiz being tested together (Holm).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from bank.audit.settings import Settings
from bank.audit.statistics.adjusted import holm, two_sided
from bank.audit.statistics.classical import FormStatistics, ItemStatistics


@dataclass(frozen=True, kw_only=True, slots=True)
class Drift:
    """How an item has changed."""

    item: str
    version: int
    n_before: int
    n_now: int
    before: float
    """Share right then."""
    now: float
    """Share right now."""
    change: float
    """In logits, the shift of the others taken off; above 0 the item has become easier."""
    shift: float
    """Mean change of the other common items, logits."""
    error: float
    """Standard error of ``change``."""
    p_adjusted: float
    """Holm's, over the common items of the quiz."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Drifts:
    """A quiz set against an earlier use."""

    quiz: str
    items: tuple[Drift, ...]
    why: str = ""
    """Why nothing was tested."""


def drifts(
    now: FormStatistics, before: FormStatistics, settings: Settings, chance: Mapping[str, float] | None = None
) -> Drifts:
    """Return the change of every item that both uses have, each answered by enough pupils.

    *chance* is the share that guessing earns, by item. Where both uses are near it nobody knows the item, and it is not
    tested; where the lower facility is less than halfway from it to 1, a change smaller than the class's is no drift.
    """
    guessed = chance or {}
    fewest, wanted = settings["fewest_for_correlation"], int(settings["drift_items"])
    known = {(one.item, one.version): one for one in before.items}
    pairs = [
        (one, known[one.item, one.version]) for one in now.items
        if (one.item, one.version) in known and min(one.n, known[one.item, one.version].n) >= fewest
        and max(_low(one), _low(known[one.item, one.version])) > guessed.get(one.item, 0.0)
    ]
    if len(pairs) < wanted:
        return Drifts(
            quiz=now.quiz, items=(),
            why=f"{len(pairs)} items in common with {fewest:.0f} answers both times and not near chance; {wanted} are needed",
        )
    (one, error_one), (two, error_two) = (
        _logits([pair[place] for pair in pairs]) for place in (0, 1)
    )
    change, variance = one - two, error_one + error_two
    weight = 1 / variance
    others = weight.sum() - weight
    shift = ((weight * change).sum() - weight * change) / others
    error = np.sqrt(variance + 1 / others)
    away = change - shift
    # Where many guess an item changes less than the class does, down to not at all: only what goes beyond is its own.
    lowest = np.minimum(*(np.array([pair[at].facility.value for pair in pairs], dtype=float) for at in (0, 1)))
    chances = np.array([guessed.get(pair[0].item, 0.0) for pair in pairs])
    partly = (chances > 0) & (lowest < (1 + chances) / 2)
    away[partly] = (change - np.clip(change, np.minimum(0, shift), np.maximum(0, shift)))[partly]
    adjusted = holm(two_sided(away / error))
    return Drifts(quiz=now.quiz, items=tuple(
        Drift(
            item=mine.item, version=mine.version, n_before=then.n, n_now=mine.n, before=then.facility.value or 0.0,
            now=mine.facility.value or 0.0, change=float(away[k]), shift=float(shift[k]),
            error=float(error[k]), p_adjusted=adjusted[k],
        )
        for k, (mine, then) in enumerate(pairs)
    ))


def _low(one: ItemStatistics) -> float:
    return one.facility.low or 0.0


def _logits(items: list[ItemStatistics]) -> tuple[np.ndarray, np.ndarray]:
    """Return logits of the shares right of those who answered, and their variances, half a pupil added to either side.

    Haldane 1956 and Anscombe 1956 (from memory), so that shares of 0 and 1 have a logit and an error too.
    """
    reached = np.array([one.n for one in items], dtype=float)
    right = np.array([one.facility.value for one in items], dtype=float) * reached
    # Answers left out would set a ceiling at which items of able classes seem to change.
    n = reached * (1 - np.array([one.omitted.value for one in items], dtype=float))
    return np.log((right + 0.5) / (n - right + 0.5)), 1 / (right + 0.5) + 1 / (n - right + 0.5)
