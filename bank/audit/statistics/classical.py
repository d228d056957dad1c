"""Classical item statistics of one form, from its table of counts alone.

Formulas are in `estimates.CONVENTIONS`. Everything is computed here, however few the pupils; `withhold` says what
may be shown. Nothing is ever not-a-number: what cannot be said is None with a reason.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from bank.audit.records import OMITTED, Counts
from bank.audit.statistics.estimates import Estimate, feldt, fisher_z, newcombe, none, wilson, with_interval
from bank.audit.statistics.groups import THIRD, UPPER_LOWER, Cut
from bank.audit.statistics.tables import MARK, ItemTable, Table, arrange, exact_sum, exact_sums, is_dichotomous

THIRDS_BELOW = 100
"""Pupils under which the upper and lower groups are thirds instead of 27 %. Our own choice."""
ALL_ALIKE = "all credits are alike"
REST_ALIKE = "the totals of the other items are all alike"
NOBODY = "nobody was given this item and reached it"


@dataclass(frozen=True, kw_only=True, slots=True)
class ResponseRow:
    """A response (or leaving the item out), who gave it and where they stand."""

    response: str
    """As in the form; empty for omitted."""
    code: int
    """Index into the form's responses, or OMITTED."""
    credit: int
    """Thousandths of the item's mark."""
    n: int
    share: Estimate
    mean_rest: float
    """Mean total of the other items of those who gave it, in marks."""
    r_rest: Estimate
    """Convention ``choice-rest``."""
    thirds: tuple[float, float, float]
    """Share of the lower, middle and upper third by rest score that gave it; ties shared."""

    @property
    def is_key(self) -> bool:
        """Whether it earns the whole mark."""
        return self.credit == MARK


@dataclass(frozen=True, kw_only=True, slots=True)
class ItemStatistics:
    """What the answers to one version of an item say."""

    item: str
    version: int
    index: int
    """Place in the form, from 0."""
    n: int
    """Pupils who were given it and reached it."""
    not_given: int
    dichotomous: bool
    """Whether every response earned all or nothing."""
    facility: Estimate
    """Share right; with part marks the mean share of the mark."""
    rest_r: Estimate
    total_r: Estimate
    upper: float | None
    """Credit share in the upper group of `upper_lower`."""
    lower: float | None
    upper_lower: Estimate
    omitted: Estimate
    not_reached: Estimate
    alpha_if_deleted: Estimate
    responses: tuple[ResponseRow, ...]
    """By response code, omitted last where it occurs."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FormStatistics:
    """What the answers to one form say."""

    quiz: str
    persons: int
    mean: float | None
    """Mean total in marks."""
    deviation: float | None
    """Standard deviation of the totals in marks, with n - 1."""
    alpha: Estimate
    kr21: Estimate
    sem: Estimate
    totals: tuple[tuple[int, int], ...]
    """(total in thousandths, pupils), ascending."""
    items: tuple[ItemStatistics, ...]


def form_statistics(
    counts: Counts, *, groups: Iterable[str] | None = None, fraction: Fraction | None = None
) -> FormStatistics:
    """Return the statistics of *counts*, or of the pupils of *groups* only.

    *fraction* is the size of the upper and lower group: by default 27 %, under `THIRDS_BELOW` pupils a third.
    """
    table = arrange(counts, groups)
    moments = _Moments(table)
    items = tuple(
        _item_statistics(counts, item, moments, fraction or (THIRD if item.persons < THIRDS_BELOW else UPPER_LOWER))
        for item in table.items
    )
    alpha = moments.alpha()
    persons = table.persons
    deviation = math.sqrt(Fraction(moments.spread, persons * (persons - 1))) / MARK if persons > 1 else None
    return FormStatistics(
        quiz=counts.form.quiz,
        persons=persons,
        mean=moments.total / persons / MARK if persons else None,
        deviation=deviation,
        alpha=alpha,
        kr21=moments.kr21(all(is_dichotomous(credits) for credits in counts.form.credits)),
        sem=_sem(alpha, deviation),
        totals=tuple(zip(table.totals.tolist(), table.pupils.tolist(), strict=True)),
        items=items,
    )


class _Moments:
    """Whole sums of a form over all its pupils, not reached and omitted earning nothing.

    ``spread`` and the like are N sum(x^2) - (sum x)^2, that is N^2 times a variance with n.
    """

    def __init__(self, table: Table) -> None:
        self.persons = table.persons
        self.items = len(table.items)
        self.total = exact_sum(table.totals, table.pupils)
        self.spread = self.persons * exact_sum(table.totals, table.totals, table.pupils) - self.total**2
        self.not_given = sum(item.not_given for item in table.items)
        self.item_spreads = []
        self.shared = []
        for item in table.items:
            credit = exact_sum(item.credit, item.n)
            self.item_spreads.append(self.persons * exact_sum(item.credit, item.credit, item.n) - credit**2)
            self.shared.append(self.persons * exact_sum(item.credit, item.total, item.n) - credit * self.total)

    def alpha(self, without: int | None = None) -> Estimate:
        """Coefficient alpha, or that of the items but one: the spread of ``t - x`` follows from those of t and x."""
        convention = "alpha" if without is None else "alpha-if-deleted"
        items, spread, sum_of_items = self.items, self.spread, sum(self.item_spreads)
        if without is not None:
            items -= 1
            sum_of_items -= self.item_spreads[without]
            spread += self.item_spreads[without] - 2 * self.shared[without]
        if self.not_given:
            return none(convention, self.persons, "not all pupils were given the same items")
        if items < 2:
            return none(convention, self.persons, "it takes two items")
        if spread <= 0:
            return none(convention, self.persons, "all totals are alike")
        value = float(Fraction(items, items - 1) * (1 - Fraction(sum_of_items, spread)))
        return with_interval(value, self.persons, convention, feldt, self.persons, items)

    def kr21(self, dichotomous: bool) -> Estimate:
        """K/(K-1) (1 - m (K - m) / (K s2)) with s2 over n."""
        if not dichotomous or self.not_given or self.items < 2 or self.spread <= 0:
            why = "items that give part marks" if not dichotomous else self.alpha().why
            return none("kr-21", self.persons, why)
        mean = Fraction(self.total, MARK * self.persons)
        variance = Fraction(self.spread, (MARK * self.persons) ** 2)
        items = self.items
        value = Fraction(items, items - 1) * (1 - mean * (items - mean) / (items * variance))
        return Estimate(value=float(value), n=self.persons, convention="kr-21")


def _sem(alpha: Estimate, deviation: float | None) -> Estimate:
    if alpha.value is None or deviation is None:
        return none("sem", alpha.n, alpha.why)

    def at(reliability: float | None) -> float | None:
        return None if reliability is None else deviation * math.sqrt(max(0.0, 1 - reliability))

    return Estimate(value=at(alpha.value), low=at(alpha.high), high=at(alpha.low), n=alpha.n, convention="sem")


def _item_statistics(counts: Counts, item: ItemTable, moments: _Moments, fraction: Fraction) -> ItemStatistics:
    form, index, n = counts.form, item.index, item.persons
    given = n + item.not_reached
    omitted = exact_sum(item.n[item.response == OMITTED])
    facility = none("facility", 0, NOBODY)
    if n:
        facility = with_interval(exact_sum(item.credit, item.n) / (MARK * n), n, "facility", wilson, n)
    upper, lower, difference = _upper_lower(item, fraction)
    return ItemStatistics(
        item=form.items[index],
        version=form.versions[index],
        index=index,
        n=n,
        not_given=item.not_given,
        dichotomous=is_dichotomous(form.credits[index]),
        facility=facility,
        rest_r=_correlation("item-rest", item, item.rest, REST_ALIKE),
        total_r=_correlation("item-total", item, item.total, "the totals are all alike"),
        upper=upper,
        lower=lower,
        upper_lower=difference,
        omitted=_rate("omitted", omitted, n, NOBODY),
        not_reached=_rate("not-reached", item.not_reached, given, "nobody was given this item"),
        alpha_if_deleted=moments.alpha(index),
        responses=_responses(item, form.responses[index]) if n else (),
    )


def _rate(convention: str, part: int, whole: int, nobody: str) -> Estimate:
    if not whole:
        return none(convention, 0, nobody)
    return with_interval(part / whole, whole, convention, wilson, whole)


def _correlation(convention: str, item: ItemTable, score: np.ndarray, alike: str) -> Estimate:
    """Pearson r of credit and *score* by cell, over the pupils who reached the item."""
    n, weight, credit = item.persons, item.n, item.credit
    if not n:
        return none(convention, 0, NOBODY)
    x, y = exact_sum(credit, weight), exact_sum(score, weight)
    spread_x = n * exact_sum(credit, credit, weight) - x * x
    spread_y = n * exact_sum(score, score, weight) - y * y
    if not spread_x:
        return none(convention, n, ALL_ALIKE)
    if not spread_y:
        return none(convention, n, alike)
    value = pearson(n * exact_sum(credit, score, weight) - x * y, spread_x, spread_y)
    return with_interval(value, n, convention, fisher_z, n)


def pearson(shared: int, spread_x: int, spread_y: int) -> float:
    """Return *shared* / sqrt(*spread_x* *spread_y*) of whole numbers, within -1 and 1."""
    return max(-1.0, min(1.0, shared / math.sqrt(spread_x * spread_y)))


def _upper_lower(item: ItemTable, fraction: Fraction) -> tuple[float | None, float | None, Estimate]:
    convention = "upper-lower-thirds" if fraction == THIRD else "upper-lower-27"
    if not item.persons:
        return None, None, none(convention, 0, NOBODY)
    shares = []
    for highest in (True, False):
        cut = Cut(item.total, item.n, fraction, highest=highest)
        shares.append(cut.sum(item.credit, item.n) / (MARK * cut.size))
    upper, lower = shares
    size = float(cut.size)
    low, high = newcombe(float(upper), float(lower), size, size)
    value = float(upper - lower)
    estimate = Estimate(value=value, low=low, high=high, n=item.persons, convention=convention)
    return float(upper), float(lower), estimate


def _responses(item: ItemTable, names: tuple[str, ...]) -> tuple[ResponseRow, ...]:
    """Rows of the responses that occur, with r and thirds on the rest score."""
    rest, weight, n = item.rest, item.n, item.persons
    rest_sum = exact_sum(rest, weight)
    rest_spread = n * exact_sum(rest, rest, weight) - rest_sum**2
    codes, starts = np.unique(item.response, return_index=True)
    counts, rests = exact_sums(starts, weight), exact_sums(starts, weight, rest)
    thirds = _thirds(Cut(rest, weight, THIRD), Cut(rest, weight, THIRD, highest=True), starts, weight, counts)
    credits = item.credit[starts].tolist()
    rows = []
    for place, code in enumerate(codes.tolist()):
        count = counts[place]
        spread = count * (n - count)
        if not spread or not rest_spread:
            r = none("choice-rest", n, "everybody gave this response" if not spread else REST_ALIKE)
        else:
            value = pearson(n * rests[place] - count * rest_sum, spread, rest_spread)
            r = with_interval(value, n, "choice-rest", fisher_z, n)
        rows.append(ResponseRow(
            response=names[code] if code >= 0 else "",
            code=code,
            credit=credits[place],
            n=count,
            share=with_interval(count / n, n, "share", wilson, n),
            mean_rest=rests[place] / count / MARK,
            r_rest=r,
            thirds=thirds[place],
        ))
    return tuple(sorted(rows, key=lambda row: row.code < 0))


def _thirds(
    lower: Cut, upper: Cut, starts: np.ndarray, n: np.ndarray, counts: list[int]
) -> list[tuple[float, float, float]]:
    """Shares of the lower, middle and upper third by run of cells, each one division of whole numbers."""
    low, by_low = lower.counts(starts, n)
    high, by_high = upper.counts(starts, n)
    size, parts = lower.size.numerator, lower.size.denominator
    times = by_low * by_high
    found = []
    for one, two, count in zip(low, high, counts, strict=True):
        middle = count * times - one * by_high - two * by_low
        found.append((one * parts / (by_low * size), middle * parts / (times * size), two * parts / (by_high * size)))
    return found
