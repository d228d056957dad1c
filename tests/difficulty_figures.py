"""Predicted against published difficulty, source by source; run as a script it prints the table.

Statistics of published figures only: nothing here feeds an item, so floats do no harm.
"""

from __future__ import annotations

import math
import random
from collections.abc import Sequence
from pathlib import Path
from statistics import fmean, stdev
from typing import Any, NamedTuple

import yaml
from bank import difficulty, methods
from bank.numerals import Numeral

CASES = Path(__file__).parent / "bank" / "cases" / "difficulty" / "published.yaml"
DRAWS = 200
"""Pairs of numbers drawn for a shape of which the source publishes no numbers."""


class Agreement(NamedTuple):
    """How the predicted order of one source's items agrees with the published one."""

    name: str
    n: int | None
    """Pupils, where published."""
    items: int
    pairs: int
    in_order: int
    against: int
    tied: int
    tau_b: float | None
    """None where all predictions or all facilities are equal, or where there is one item."""
    inside: int
    """Published facilities inside the predicted interval, the level not adjusted to the source."""
    seen: bool
    """Whether a weight was read off these very figures."""


def cases() -> dict[str, Any]:
    """Return the published figures."""
    found: dict[str, Any] = yaml.safe_load(CASES.read_text(encoding="utf-8"))
    return found


def logit(percent: float) -> float:
    """Return the logit of a percentage."""
    return math.log(percent / (100 - percent))


def predicted(operation: str, operands: Sequence[str], weights: difficulty.Weights, *,
              story: bool = False, response: str = "typed") -> difficulty.Prediction:
    """Return the prediction for one calculation."""
    numerals = tuple(Numeral.parse(one) for one in operands)
    trace = methods.run(operation, numerals)
    found = difficulty.features(numerals, trace, context=story, response=response)
    return difficulty.predict(found, weights)


def drawn(operation: str, shape: Sequence[int]) -> list[tuple[str, str]]:
    """Return pairs of whole numbers with these numbers of digits; dividends are multiples of their divisors."""
    source = random.Random(f"{operation} {shape}")
    pairs: list[tuple[str, str]] = []
    while len(pairs) < DRAWS:
        first, second = (source.randrange(10 ** (digits - 1), 10**digits) for digits in shape)
        if operation == "divide":
            first -= first % second
            if len(str(first)) != shape[0]:
                continue
        pairs.append((str(first), str(second)))
    return pairs


def outcome(item: dict[str, Any], weights: difficulty.Weights) -> tuple[float, bool]:
    """Return the (mean) predicted score of a published item and whether its facility lies in the interval."""
    shape = item.get("shape")
    pairs = drawn(item["operation"], shape) if shape else [item["operands"]]
    made = [predicted(item["operation"], pair, weights, story=item.get("story", False), response=item["response"])
            for pair in pairs]
    low, high = fmean(one.low_share for one in made), fmean(one.high_share for one in made)
    return fmean(one.score for one in made), low <= 10 * item["percent"] <= high


def order(scores: Sequence[float], percents: Sequence[float]) -> tuple[int, int, int, float | None]:
    """Return pairs in order (harder predicted, fewer right), against, tied, and Kendall's tau-b."""
    right = wrong = tied_scores = tied_percents = both = 0
    for i in range(len(scores)):
        for j in range(i):
            by_score, by_percent = scores[i] - scores[j], percents[j] - percents[i]
            if by_score == 0 or by_percent == 0:
                tied_scores += by_score == 0
                tied_percents += by_percent == 0
                both += by_score == 0 == by_percent
            elif (by_score > 0) == (by_percent > 0):
                right += 1
            else:
                wrong += 1
    pairs = len(scores) * (len(scores) - 1) // 2
    root = math.sqrt((pairs - tied_scores) * (pairs - tied_percents))
    return right, wrong, pairs - right - wrong, (right - wrong) / root if root else None


def agreement(source: dict[str, Any], weights: difficulty.Weights) -> Agreement:
    """Return how predictions agree with one source."""
    found = [outcome(item, weights) for item in source["items"]]
    percents = [item["percent"] for item in source["items"]]
    right, wrong, tied, tau = order([score for score, _ in found], percents)
    return Agreement(source["name"], source.get("n"), len(percents), right + wrong + tied, right, wrong, tied, tau,
                     sum(inside for _, inside in found), bool(source["used_for"]))


def regroupings_fit(items: Sequence[dict[str, Any]], weights: difficulty.Weights) -> tuple[float, float, float]:
    """Return weight of a regrouping, its standard error, and weight of one at a zero, read off *items*.

    Least squares over the items without a regrouping at a zero, after the other weights are taken off; the
    item with one is then compared with that line (0 where there is none).
    """
    table = weights.table["operation-subtract"]
    plain: list[tuple[int, float]] = []
    at_zero: list[tuple[int, float]] = []
    for item in items:
        made = predicted("subtract", item["operands"], weights)
        counts = {name: count for name, count, _ in made.reasons}
        others = made.score - sum(counts.get(name, 0) * table[name][0] for name in ("regroupings", "regroupings_at_zero"))
        (at_zero if counts.get("regroupings_at_zero") else plain).append(
            (counts["regroupings"], -logit(item["percent"]) - others / 1000))
    x, y = [one for one, _ in plain], [one for _, one in plain]
    spread = sum((one - fmean(x)) ** 2 for one in x)
    slope = sum((one - fmean(x)) * (two - fmean(y)) for one, two in plain) / spread
    rest = [two - fmean(y) - slope * (one - fmean(x)) for one, two in plain]
    error = math.sqrt(sum(one * one for one in rest) / (len(plain) - 2) / spread)
    zero = fmean(two - fmean(y) - slope * (one - fmean(x)) for one, two in at_zero) if at_zero else 0.0
    return slope, error, zero


def with_weights(weights: difficulty.Weights, operation: str, **values: float) -> difficulty.Weights:
    """Return *weights* with other values (logits) for some features of *operation*."""
    name = f"operation-{operation}"
    changed = {**weights.table[name], **{one: (round(1000 * value), weights.table[name][one][1]) for one, value in values.items()}}
    return weights._replace(table={**weights.table, name: changed})


def leave_one_out(source: dict[str, Any], weights: difficulty.Weights) -> tuple[int, int, int, float | None]:
    """Return the order statistics of the subtractions when each is predicted from weights fitted without it."""
    items = source["items"]
    scores = []
    for item in items:
        slope, _, zero = regroupings_fit([one for one in items if one is not item], weights)
        refitted = with_weights(weights, "subtract", regroupings=slope, regroupings_at_zero=zero)
        scores.append(float(predicted("subtract", item["operands"], refitted).score))
    return order(scores, [item["percent"] for item in items])


def expected_right(row: dict[str, Any], kind: str) -> float:
    """Return the expected percent right on a kind of pair, from the prevalence of rules in one year."""
    right: float = row["expert"] + row["unknown"] / 2
    if kind in ("equal", "longer_is_larger"):
        right += row["longer_is_larger"]
    if kind in ("equal", "longer_is_smaller"):
        right += row["shorter_is_larger"]
    return right


def comparison_sources(found: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the comparison pairs of each year as sources like the others."""
    comparison = found["comparison"]
    return [{
        "name": f"{comparison['name']}, year {row['year']}", "n": row["n"],
        "used_for": ["compare.unequal_places_any", "compare.longer_is_not_the_answer"],
        "items": [{"operation": "compare", "operands": pair, "response": "choice", "percent": expected_right(row, kind)}
                  for kind, pair in comparison["pairs"].items()],
    } for row in comparison["prevalence"]]


def spreads(found: dict[str, Any]) -> list[float]:
    """Return the standard deviation of logit(p) of each published set."""
    return [stdev(logit(percent) for percent in one["percents"]) for one in found["spreads"]["sets"]]


def report() -> str:
    """Return the table of agreements in words, for people."""
    weights, found = difficulty.load_weights(), cases()
    lines = [f"least half width of the interval: {weights.half_width} thousandths of a logit, for {weights.class_words}"]
    all_sources = [agreement(source, weights) for source in (*found["sources"], *comparison_sources(found))]
    for one in all_sources:
        tau = "none" if one.tau_b is None else f"{one.tau_b:.2f}"
        lines.append(
            f"{one.name} (pupils: {one.n or 'not given'}; items: {one.items}): {one.in_order} of {one.pairs} pairs in "
            f"order, {one.against} against, {one.tied} tied, tau-b {tau}, {one.inside} of {one.items} facilities in "
            f"the interval, {'a' if one.seen else 'no'} weight was read off these figures")
    right, wrong, tied, tau = leave_one_out(found["sources"][0], weights)
    lines.append(f"first source again, each item predicted from weights fitted without it: {right} in order, {wrong} "
                 f"against, {tied} tied, tau-b {tau:.2f}")
    for words, chosen in (("seen", [one for one in all_sources if one.seen]),
                          ("not seen", [one for one in all_sources if not one.seen])):
        pairs, items = sum(one.pairs for one in chosen), sum(one.items for one in chosen)
        lines.append(f"sources {words}: {sum(one.in_order for one in chosen)} of {pairs} pairs in order, "
                     f"{sum(one.inside for one in chosen)} of {items} inside")
    return "\n".join(lines)


if __name__ == "__main__":
    print(report())
