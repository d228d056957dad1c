"""Predicted difficulty: features of an item, weights from ``difficulty.yaml``, a wide interval of the share right.

Strong theory with honest uncertainty: the weights are readings of published facilities or stated guesses.
Everything is whole numbers, thousandths of a logit, so that a prediction is the same on every machine, and one item has
one band wherever it is shown. What pupils really did is another room's matter: this one has never seen an answer.
"""

from __future__ import annotations

from bank.difficulty._features import features, features_of_kind
from bank.difficulty._predicting import NO_WEIGHT, PILED_UP, chance_level, predict, saturated, share_right
from bank.difficulty._weights import (
    BANDS, EVIDENCE, FILE, OPERATIONS, REASONS, Features, Part, Weight, Weights, basis, load_weights,
)

__all__ = [
    "BANDS", "EVIDENCE", "FILE", "NO_WEIGHT", "OPERATIONS", "PILED_UP", "REASONS", "Features", "Part", "Weight", "Weights",
    "basis", "chance_level", "features", "features_of_kind", "load_weights", "predict", "saturated", "share_right",
]
