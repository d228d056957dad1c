"""What one item costs in predicting and checking; run as a script it prints the table. Never asserted."""

from __future__ import annotations

import timeit
from collections.abc import Callable

import items
from bank import checks, difficulty

RUNS = 2000


def cost(work: Callable[[], object]) -> float:
    """Return microseconds a call, the least of five series."""
    return min(timeit.repeat(work, number=RUNS, repeat=5)) / RUNS * 1e6


def measured() -> dict[str, tuple[float, float]]:
    """Return microseconds an item of predicting (features and prediction) and of all item checks, by kind of item."""
    found = {}
    weights = items.weights()
    for operation in ("add", "subtract", "multiply", "divide", "compare", "round"):
        for typed in (False, True):
            item = items.item(operation, typed=typed)
            response = "number" if typed else "choice"

            def predict(item: object = item, response: str = response) -> object:
                features = difficulty.features(item.operands, item.solution, context=False, response=response)
                return difficulty.predict(features, weights)

            def check(item: object = item) -> object:
                return checks.run_item_checks(item, items.POINT)

            found[f"{operation}, {response}"] = (cost(predict), cost(check))
    return found


if __name__ == "__main__":
    for kind, (predicting, checking) in measured().items():
        print(f"{kind}: predicting {predicting:.1f} us, checking {checking:.1f} us")
