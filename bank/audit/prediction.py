"""Predicted difficulty for a named kind of class: bands and 80 % intervals, never a bare number.

The difficulty of an item, its interval and its band are those of `bank.difficulty.predict`, moved along with the class,
so that an item has one band wherever it is shown; what effects that pile up come to is spread over their features, so
that everything after this is linear in the weights. Shares of groups of items are worked out by integration over the
pupils of the class. Everything here is predicted: no answer has been seen, and the names say so.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from bank.audit.classes import ClassKind
from bank.difficulty import BANDS, OPERATIONS, Weights, chance_level, predict
from bank.model import Item

QUANTILE = 1.2815515655446004
"""90 % point of the normal distribution (tables): an 80 % interval leaves 10 % on either side."""
_NODES, _MASSES = np.polynomial.hermite_e.hermegauss(61)
_MASSES = _MASSES / _MASSES.sum()


class WeightVector(NamedTuple):
    """The weights as a vector, and where each feature of each operation stands in it."""

    names: tuple[str, ...]
    """``operation.feature`` (or ``any.feature``), F of them."""
    mean: np.ndarray
    """float [F], logits of the class's share; positive means harder."""
    sd: np.ndarray
    """float [F]"""
    place: dict[tuple[str, str], int]
    """Index by (operation, feature)."""
    knee: float = 0.0
    """Where effects that pile up begin to count less, logits."""
    most_beyond: float = 0.0
    """Most that a score goes beyond the knee; 0 where effects add up without end."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Predictions:
    """Predicted difficulty of J items for one kind of class. Logits are those of single pupils; higher is harder."""

    items: tuple[str, ...]
    class_kind: ClassKind
    version: int
    """Version of the weights' file."""
    features: np.ndarray
    """float [J, F]: what each weighted feature counts: how often it occurs, in proportion less where effects pile up."""
    middle: np.ndarray
    """float [J]: predicted difficulty; 0 is an item without any feature."""
    own_sd: np.ndarray
    """float [J]: standard deviation of what is the item's own: weights, what they leave unexplained, chance."""
    shared_sd: float
    """Standard deviation of what all items share: the class and the level."""
    ability: float
    """Mean ability of the class on the same scale."""
    low_share: np.ndarray
    """float [J]: lower end of the 80 % interval of the share right."""
    high_share: np.ndarray
    middle_share: np.ndarray
    """float [J]: share right at the middle of the interval; for drawing and ordering, not to be told alone."""
    bands: tuple[str, ...]
    """Of `bank.difficulty.BANDS`: by the sum of the weights, as in the bank, moved along with the class."""
    counts: np.ndarray
    """float [J, F]: how often each weighted feature occurs."""
    chance: np.ndarray
    """float [J]: share of the mark that guessing earns; no share is predicted under it."""
    widened: float = 1.0
    """By how much the intervals were widened because earlier ones covered too little."""

    @property
    def sd(self) -> np.ndarray:
        """float [J]: standard deviation of the difficulty seen from the class: own and shared parts together."""
        return np.hypot(self.own_sd, self.shared_sd)

    @property
    def low_logit(self) -> np.ndarray:
        """float [J]: lower (easier) end of the 80 % interval of the difficulty."""
        return self.middle - QUANTILE * self.widened * self.sd

    @property
    def high_logit(self) -> np.ndarray:
        """float [J]: upper (harder) end of the 80 % interval of the difficulty."""
        return self.middle + QUANTILE * self.widened * self.sd

    def place_of(self) -> dict[str, int]:
        """Return the index of each item by id."""
        return {item: place for place, item in enumerate(self.items)}


class GroupPrediction(NamedTuple):
    """Predicted mean share right of a set of items, such as a quiz, as an 80 % interval."""

    items: int
    predicted_low_share: float
    predicted_high_share: float
    predicted_middle_share: float


def weight_vector(weights: Weights) -> WeightVector:
    """Return *weights* as a vector in the order of their file."""
    place: dict[tuple[str, str], int] = {}
    for index, one in enumerate(weights.weights):
        for operation in OPERATIONS if one.operation == "any" else (one.operation,):
            place[operation, one.feature] = index
    return WeightVector(
        tuple(f"{one.operation}.{one.feature}" for one in weights.weights),
        np.array([one.value for one in weights.weights]) / 1000,
        np.array([one.deviation for one in weights.weights]) / 1000,
        place, weights.knee / 1000, weights.most_beyond / 1000,
    )


def feature_matrix(items: Iterable[Item], vector: WeightVector) -> tuple[tuple[str, ...], np.ndarray]:
    """Return the ids of *items* and their counts of the weighted features, float [J, F]."""
    identifiers, rows = [], []
    size = len(vector.names)
    for item in items:
        row = np.zeros(size)
        operation = item.features[0][0].removeprefix("operation-") if item.features else item.family.operation
        for name, count in item.features:
            found = vector.place.get((operation, name))
            if found is not None:
                row[found] += count
        identifiers.append(item.identifier)
        rows.append(row)
    return tuple(identifiers), np.array(rows).reshape(len(rows), size)


def saturated(total: np.ndarray, vector: WeightVector) -> tuple[np.ndarray, np.ndarray]:
    """Return the scores of effects that add up to *total*, as `bank.difficulty.saturated`, and how steeply they grow."""
    if not vector.most_beyond:
        return total, np.ones_like(total)
    over, most = np.maximum(0.0, total - vector.knee), vector.most_beyond
    return np.where(over > 0, vector.knee + most * over / (most + over), total), (most / (most + over)) ** 2


def expected_share(difficulty: np.ndarray, ability: float, sd: float) -> np.ndarray:
    """Return the share right of items of *difficulty* in a class of mean *ability* and spread *sd*, logits all.

    The integral of 1 / (1 + exp(-(theta - b))) over theta ~ N(ability, sd^2), by 61 Gauss-Hermite nodes.
    """
    away = np.subtract.outer(ability + sd * _NODES, np.asarray(difficulty))
    return np.tensordot(_MASSES, _logistic(away), axes=1)


def _logistic(logit: np.ndarray) -> np.ndarray:
    return 0.5 * (1 + np.tanh(0.5 * logit))


def predict_items(
    items: Iterable[Item], weights: Weights, kind: ClassKind, *, widened: float = 1.0, chance: bool = True
) -> Predictions:
    """Return the predictions of *items* for a class of *kind*.

    Without *chance* the part of the interval that comes from a small class is left out, as where what is observed
    brings an error of its own. *widened* stretches the intervals, see `bank.audit.calibration.widening`.
    """
    vector = weight_vector(weights)
    known = list(items)
    identifiers, counts = feature_matrix(known, vector)
    total = counts @ vector.mean
    score, _ = saturated(total, vector)
    features = counts * np.divide(score, total, out=np.ones_like(total), where=score < total)[:, None]
    found = predict_features(identifiers, features, weights, kind, vector=vector, widened=widened, chance=chance)
    guessed = [chance_level(item.response) for item in known]
    told = [
        predict(
            item.features, weights, floor, shift=round(1000 * kind.shift), widened=round(1000 * widened),
            small_class=chance,
        )
        for item, floor in zip(known, guessed, strict=True)
    ]
    floors = np.array(guessed, dtype=float) / 1000
    unknown = np.array([sum(not part for _, _, part in one.reasons) for one in told], dtype=float)
    own = found.own_sd**2 + unknown * (weights.unknown_deviation / 1000 * kind.stretch) ** 2
    middle = np.array([one.score for one in told], dtype=float) / 1000 * kind.stretch
    return replace(
        found, counts=counts, middle=middle, own_sd=np.sqrt(own), chance=floors, bands=tuple([one.band for one in told]),
        low_share=np.array([one.low_share for one in told], dtype=float) / 1000,
        high_share=np.array([one.high_share for one in told], dtype=float) / 1000,
        middle_share=np.maximum(floors, expected_share(middle, found.ability, kind.sd)),
    )


def predict_features(
    identifiers: tuple[str, ...], features: np.ndarray, weights: Weights, kind: ClassKind, *,
    vector: WeightVector, widened: float = 1.0, chance: bool = True,
) -> Predictions:
    """Return the predictions of items whose *features* are counted already."""
    stretch = kind.stretch
    parts = {"items": 0.0, "class": 0.0, "chance": 0.0, "level": 0.0, "other": 0.0}
    for part in weights.parts:
        parts[part.kind] += (part.deviation / 1000) ** 2
    own = features**2 @ vector.sd**2 + parts["items"] + (parts["chance"] if chance else 0.0)
    score = features @ vector.mean
    level = weights.level / 1000 + kind.shift
    shared = math.sqrt(parts["class"] + parts["level"] + parts["other"])
    half = QUANTILE * widened * np.sqrt(own + shared**2) * stretch
    middle, ability = score * stretch, level * stretch
    return Predictions(
        items=identifiers, class_kind=kind, version=weights.version, features=features, middle=middle,
        own_sd=np.sqrt(own) * stretch, shared_sd=shared * stretch, ability=ability,
        low_share=expected_share(middle + half, ability, kind.sd),
        high_share=expected_share(middle - half, ability, kind.sd),
        middle_share=expected_share(middle, ability, kind.sd),
        bands=tuple(
            [band_of(round(1000 * one), weights) for one in (score - kind.shift).tolist()]
        ), counts=features, chance=np.zeros(len(score)), widened=widened,
    )


def band_of(score: int, weights: Weights) -> str:
    """Return the band of an item whose weights sum up to *score*, in thousandths, for the class that *weights* name."""
    return BANDS[0] if score < weights.easier_below else BANDS[1] if score < weights.harder_from else BANDS[2]


def predict_group(predictions: Predictions, places: Sequence[int], weights: Weights) -> GroupPrediction | None:
    """Return the predicted mean share right of the items at *places*, or None where there are none.

    What is each item's own averages out among them; the errors of the weights do so only as far as the items differ,
    the class and the level not at all.
    """
    if not len(places):
        return None
    chosen = np.asarray(places)
    kind = predictions.class_kind
    stretch = kind.stretch
    sd = weight_vector(weights).sd
    mean_row = predictions.features[chosen].mean(axis=0)
    from_weights = float(mean_row**2 @ sd**2) * stretch**2
    rest = predictions.own_sd[chosen] ** 2 - predictions.features[chosen] ** 2 @ sd**2 * stretch**2
    variance = from_weights + float(rest.mean()) / len(chosen) + predictions.shared_sd**2
    half = QUANTILE * predictions.widened * math.sqrt(variance)
    middle, ability = predictions.middle[chosen], predictions.ability
    low, high, centre = (
        float(np.maximum(predictions.chance[chosen], expected_share(middle + away, ability, kind.sd)).mean())
        for away in (half, -half, 0.0)
    )
    return GroupPrediction(len(chosen), low, high, centre)
