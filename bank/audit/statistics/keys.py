"""Whether the answers speak against an item's key: by correlations where pupils are many, by agreement where few."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from bank.audit.records import Counts
from bank.audit.settings import Settings
from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile, wilson
from bank.audit.statistics.tables import MARK, ItemTable, arrange, exact_sum, exact_sums

CONVENTIONS["above-key"] = (
    "r(choosing this response, rest) less r(credit, rest), each with the total of the other items; error from the "
    "influence of each answer, so that the two being of the same pupils is allowed for; 90 % interval (5 % either side)"
)
_LEVEL = 0.90
_SURE = 2
"""A lead beyond so many times its limit counts even where the response is no commoner than guessing makes it. Our own
choice: it is then one in a thousand by chance."""
_FEWEST_FOR_Z = 4
"""Pupils from which Fisher's z has an error."""
BY_LEAD, BY_AGREEMENT = "correlation", "agreement"
"""How a key is tested: a wrong response goes with the rest better than the key; nearly all give one wrong response."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Doubt:
    """A wrong response that raises the alarm."""

    code: int
    n: int
    """Pupils who gave it."""
    key: int
    """Pupils who earned the whole mark."""
    lead: Estimate | None
    """Its lead over the key, where that is the reason."""
    with_rest: bool = False
    """Whether the reason is that it goes with the rest while hardly anyone gave the key; else agreement is."""


@dataclass(frozen=True, kw_only=True, slots=True)
class KeyTest:
    """Whether an item's key could be tested by its answers, and what speaks against it."""

    item: str
    version: int
    n: int
    way: str
    """`BY_LEAD` or `BY_AGREEMENT`; empty where it was not tested."""
    needed: int = 0
    """Pupils that a test takes, where there were fewer."""
    doubts: tuple[Doubt, ...] = ()


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


def key_test(counts: Counts, table: ItemTable, settings: Settings) -> KeyTest:
    """Return the test of the key of one item; *table* holds its cells of *counts*.

    From ``wrong_key_pupils`` on a wrong response raises the alarm that goes with the rest of the quiz better than the
    key does, beyond its error; where hardly anyone gave the key, the commonest wrong response must itself go with the
    rest beyond its error (Fisher's z). Where pupils are fewer, or answers too much alike for correlations, the rule is one of
    agreement: nearly all give one wrong response, hardly anyone the key, and those who gave it do no worse on the rest
    than the others. Both error rates were measured; they stand beside the thresholds.
    """
    form, n, few = counts.form, table.persons, int(settings["wrong_key_few"])
    item, version = form.items[table.index], form.versions[table.index]
    if n < few:
        return KeyTest(item=item, version=version, n=n, way="", needed=few)
    if n < settings["wrong_key_pupils"]:
        return KeyTest(item=item, version=version, n=n, way=BY_AGREEMENT, doubts=tuple(_agreed(table, settings)))
    doubts, key, fewest = [], int(table.n[table.credit == MARK].sum()), int(settings["wrong_key_givers"])
    # A correlation that one or two pupils carry has an error that nobody can tell.
    compared = leads(table, max(fewest, math.ceil(settings["wrong_key_share"] * n))) if key >= fewest else {}
    for code, (lead, error) in compared.items():
        if lead.value is not None and lead.value > settings["wrong_key_errors"] * error:
            given = int(table.n[table.response == code].sum())
            if lead.value > _SURE * settings["wrong_key_errors"] * error or _beyond_guessing(counts, table, given):
                doubts.append(Doubt(code=code, n=given, key=key, lead=lead))
    if key < fewest:
        doubts = _popular(counts, table, key, settings)
    if not doubts:
        doubts = _agreed(table, settings)
    return KeyTest(item=item, version=version, n=n, way=BY_LEAD, doubts=tuple(doubts))


def _beyond_guessing(counts: Counts, table: ItemTable, given: int) -> bool:
    """Whether more gave a response than if all that are known, the key among them, had been drawn by lot.

    Where a class guesses, all correlations are about nought, and one of them is ahead of the key by chance.
    """
    kinds = len(counts.form.responses[table.index])
    ends = wilson(given / table.persons, table.persons)
    return ends is not None and ends[0] > 1 / kinds


def _popular(counts: Counts, table: ItemTable, key: int, settings: Settings) -> list[Doubt]:
    """Return the commonest wrong response where it goes with the rest beyond its error, the key being hardly given."""
    n = table.persons
    wrong = table.response[(table.response >= 0) & (table.credit < MARK)]
    given = {code: int(table.n[table.response == code].sum()) for code in np.unique(wrong).tolist()}
    if not given or n < _FEWEST_FOR_Z:
        return []
    code = max(given, key=lambda one: given[one])
    rest = _standardised(table.rest.astype(float), table.n)
    choice = _standardised((table.response == code).astype(float), table.n)
    if rest is None or choice is None:
        return []
    r = max(-1 + 1e-9, min(1 - 1e-9, float((table.n / n * choice * rest).sum())))
    beyond = math.atanh(r) * math.sqrt(n - 3) > settings["wrong_key_popular"]
    if not beyond or not _beyond_guessing(counts, table, given[code]):
        return []
    return [Doubt(code=code, n=given[code], key=key, lead=None, with_rest=True)]


def _agreed(table: ItemTable, settings: Settings) -> list[Doubt]:
    """Return the response on which nearly all agree against the key, if there is one."""
    n, key = table.persons, int(table.n[table.credit == MARK].sum())
    found: list[Doubt] = []
    if key > settings["wrong_key_held"] * n:
        return found
    for code in np.unique(table.response[(table.response >= 0) & (table.credit < MARK)]).tolist():
        chosen = table.response == code
        given = int(table.n[chosen].sum())
        if given < settings["wrong_key_agreed"] * n:
            continue
        inside = exact_sum(table.rest[chosen], table.n[chosen])
        outside = exact_sum(table.rest[~chosen], table.n[~chosen])
        if inside * (n - given) >= outside * given:
            found.append(Doubt(code=code, n=given, key=key, lead=None))
    return found
