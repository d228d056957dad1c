"""From features and weights to a band: the sum of effects, saturated, and how far the share right may lie from it."""

from __future__ import annotations

from functools import lru_cache
from math import isqrt

from bank.difficulty._weights import Features, Weights
from bank.guesses import blind
from bank.model import Choice, Prediction, Response, TypedNumber

PILED_UP = "piled_up"
"""The reason that tells by how much effects that pile up count less than their sum."""
NO_WEIGHT = "operation_without_weight"
"""The reason that puts an operation of which nothing is known in the middle of the scale."""
_SCALE = 10**40
_STEP = 10
"""Thousandths of a logit between two entries of the table."""
_END = 10_000
"""Largest logit in the table, in thousandths; beyond it a share differs from 0 or 1 by less than 0.00005."""


def predict(
    features: Features, weights: Weights, chance: int = 0, *, shift: int = 0, widened: int = 1000,
    small_class: bool = True,
) -> Prediction:
    """Return the predicted difficulty of an item with *features*, on which guessing earns *chance*, in thousandths.

    The score is the sum of count times weight, saturated (`saturated`). The interval is that of the share right, in
    thousandths, for the class that *weights* name, or one *shift* thousandths of a logit above it: on the logit scale
    half a width either side of level less score, never under *chance*. The width comes from the weights' own
    deviations, the parts that the file lists (that of a *small class* may be left out), and features without a weight;
    *widened* stretches it, in thousandths. A reason with a contribution of 0 is a feature without a weight.
    """
    operation = features[0][0]
    table, covered = weights.table.get(operation, {}), weights.covered.get(operation, frozenset())
    total = of_weights = unknown = 0
    reasons = []
    for name, count in features:
        weight = table.get(name)
        if weight is not None:
            value, deviation = weight[0] * count, weight[1] * count
            if value:
                total += value
                of_weights += deviation * deviation
                reasons.append((name, count, value))
        elif name not in covered:
            unknown += weights.unknown_deviation**2
            reasons.append((name, count, 0))
            if name == operation:
                middle = (weights.easier_below + weights.harder_from) // 2
                total += middle
                reasons.append((NO_WEIGHT, 1, middle))
    score = saturated(total, weights)
    if score != total:
        of_weights = of_weights * score * score // (total * total)
        reasons.append((PILED_UP, 1, score - total))
    reasons.sort(key=_by_size)
    half = weights.half_width_with(of_weights + unknown, small_class=small_class) * widened // 1000
    middle, seen = weights.level + shift - score, score - shift
    return Prediction(
        band="easier" if seen < weights.easier_below else "middle" if seen < weights.harder_from else "harder",
        score=score,
        low_share=max(chance, share_right(middle - half)),
        high_share=max(chance, share_right(middle + half)),
        reasons=tuple(reasons),
    )


def saturated(total: int, weights: Weights) -> int:
    """Return the score of effects that add up to *total*, in thousandths of a logit.

    Up to the file's knee it is their sum; what goes beyond, x, counts as most * x / (most + x), so that the score grows
    ever more slowly and stays under knee + most. The form is our own choice; the file says what it rests on.
    """
    over = total - weights.knee
    if over <= 0 or not weights.most_beyond:
        return total
    return weights.knee + weights.most_beyond * over // (weights.most_beyond + over)


def chance_level(response: Response) -> int:
    """Return the mean share of the mark of a blind guess, in thousandths, rounded down; 0 where a number is typed."""
    if isinstance(response, Choice):
        return 1000 // len(response.options)
    return 0 if isinstance(response, TypedNumber) else int(1000 * blind(response))


def _by_size(reason: tuple[str, int, int]) -> int:
    return -abs(reason[2])


def share_right(logit: int) -> int:
    """Return the share right in thousandths (1 to 999) that belongs to *logit*, in thousandths of a logit.

    The logistic function 1 : (1 + exp(-x)), read off a table of whole numbers with straight lines between
    its entries; a share is off by less than one thousandth.
    """
    size = -logit if logit < 0 else logit
    table = _logistic()
    if size >= _END:
        share = 999
    else:
        index, rest = divmod(size, _STEP)
        low = table[index]
        share = (low + (table[index + 1] - low) * rest // _STEP + 500) // 1000
        if share > 999:
            share = 999
    return 1000 - share if logit < 0 else share


@lru_cache(maxsize=1)
def _logistic() -> tuple[int, ...]:
    """Shares in millionths at logits of 0, 0.01, 0.02 ... 10, from the power series of exp in whole numbers."""
    term, step, count = _SCALE, _SCALE, 0
    while term:
        count += 1
        term = term // (100 * count)
        step += term
    power, shares = _SCALE, []
    for _ in range(_END // _STEP + 1):
        shares.append((1_000_000 * power + (power + _SCALE) // 2) // (power + _SCALE))
        power = power * step // _SCALE
    return tuple(shares)
