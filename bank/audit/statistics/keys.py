"""Whether a wrong response goes with the rest of the test better than the key does, and how sure that is."""

from __future__ import annotations

import math

import numpy as np

from bank.audit.records import Counts
from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile
from bank.audit.statistics.tables import MARK, ItemTable, arrange, exact_sums

CONVENTIONS["above-key"] = (
    "r(choosing this response, rest) less r(credit, rest), each with the total of the other items; error from the "
    "influence of each answer, so that the two being of the same pupils is allowed for; 90 % interval (5 % either side)"
)
_LEVEL = 0.90


def leads_over_key(counts: Counts, item: int) -> dict[int, tuple[Estimate, float]]:
    """Return, by code of each response that earns less than the whole mark, its lead over the key and the SE of that.

    *item* is its place in the form. A response, or a form, in which something does not vary has no lead.
    """
    return leads(arrange(counts).items[item])


def leads(table: ItemTable, fewest: int = 1) -> dict[int, tuple[Estimate, float]]:
    """Return the same as `leads_over_key` from the cells of one item, for responses that *fewest* pupils gave."""
    found: dict[int, tuple[Estimate, float]] = {}
    n = table.persons
    credit, rest = (_standardised(one.astype(float), table.n) for one in (table.credit, table.rest))
    codes, starts = np.unique(table.response, return_index=True)
    for code, first, count in zip(codes.tolist(), starts.tolist(), exact_sums(starts, table.n), strict=True):
        if code < 0 or count < fewest or table.credit[first] == MARK:
            continue
        chosen = table.response == code
        choice = _standardised(chosen.astype(float), table.n)
        if credit is None or rest is None or choice is None:
            found[code] = none("above-key", n, "too much is alike for two correlations to compare"), math.inf
            continue
        weight = table.n / n
        one, two = float((weight * choice * rest).sum()), float((weight * credit * rest).sum())
        influence = choice * rest - one / 2 * (choice**2 + rest**2) - credit * rest + two / 2 * (credit**2 + rest**2)
        error = math.sqrt(float((weight * influence**2).sum()) / n)
        half = quantile(_LEVEL) * error
        value = one - two
        found[code] = (
            Estimate(value=value, low=value - half, high=value + half, n=n, convention="above-key"), error
        )
    return found


def _standardised(values: np.ndarray, n: np.ndarray) -> np.ndarray | None:
    if not len(values) or values.min() == values.max():
        return None
    centred = values - (values * n).sum() / n.sum()
    return centred / math.sqrt(float((centred**2 * n).sum()) / float(n.sum()))
