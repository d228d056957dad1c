"""Several forms together: what may be pooled, and what may not be put on one scale.

Totals of different forms are never mixed: correlations are pooled within form. Difficulties of two forms can be
compared only through common pupils or common items; without either they are two scales, and comparing them is refused.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from bank.audit.records import Counts, FormAnswers
from bank.audit.statistics.classical import ALL_ALIKE, NOBODY, REST_ALIKE
from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile, wilson, with_interval
from bank.audit.statistics.patterns import groups_of_scores, scores_of_answers
from bank.audit.statistics.rasch import Rasch, fit_rasch
from bank.audit.statistics.tables import MARK, ItemTable, arrange, exact_sum

CONVENTIONS["item-rest-pooled"] = (
    "Pearson r of credit and rest score within forms: covariances and variances added over the forms; Fisher z "
    "interval with n - 3 for each form"
)
CONVENTIONS["shift"] = (
    "mean difference of the difficulties of common items (second form less first), weighted by their errors; in logits"
)
NO_LINK = "no item and no pupil is common to both forms: their difficulties lie on two scales that cannot be compared"
WEAK_ITEMS = 5
"""Common items under which a link is called weak. Common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PooledItem:
    """One version of an item over all forms that it stood in."""

    item: str
    version: int
    quizzes: tuple[str, ...]
    n: int
    facility: Estimate
    rest_r: Estimate
    """Convention ``item-rest-pooled``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Link:
    """What two forms have in common."""

    items: tuple[str, ...]
    """Items that are in both, in the same version."""
    pupils: int
    why: str
    """Why their difficulties may not be compared; empty where they may."""
    caution: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class JointRasch:
    """One Rasch model of several forms whose pupils overlap, taken as one population."""

    quizzes: tuple[str, ...]
    model: Rasch


def pooled_items(counts: Sequence[Counts]) -> tuple[PooledItem, ...]:
    """Return each version of an item over the forms of *counts*, in order of first appearance."""
    places: dict[tuple[str, int], list[tuple[str, ItemTable]]] = {}
    for one in counts:
        for table in arrange(one).items:
            key = one.form.items[table.index], one.form.versions[table.index]
            places.setdefault(key, []).append((one.form.quiz, table))
    return tuple(_pooled(item, version, found) for (item, version), found in places.items())


def _pooled(item: str, version: int, found: list[tuple[str, ItemTable]]) -> PooledItem:
    tables = [table for _, table in found if table.persons]
    n = sum(table.persons for table in tables)
    if not n:
        return PooledItem(item=item, version=version, quizzes=tuple(quiz for quiz, _ in found), n=0,
                          facility=none("facility", 0, NOBODY), rest_r=none("item-rest-pooled", 0, NOBODY))
    earned = sum(exact_sum(table.credit, table.n) for table in tables)
    return PooledItem(
        item=item, version=version, quizzes=tuple(quiz for quiz, _ in found), n=n,
        facility=with_interval(earned / (MARK * n), n, "facility", wilson, n), rest_r=_within(tables, n),
    )


def _within(tables: list[ItemTable], n: int) -> Estimate:
    shared, spread_x, spread_y = Fraction(0), Fraction(0), Fraction(0)
    for table in tables:
        persons, x, y = table.persons, table.credit, table.rest
        x_sum, y_sum = exact_sum(x, table.n), exact_sum(y, table.n)
        shared += exact_sum(x, y, table.n) - Fraction(x_sum * y_sum, persons)
        spread_x += exact_sum(x, x, table.n) - Fraction(x_sum**2, persons)
        spread_y += exact_sum(y, y, table.n) - Fraction(y_sum**2, persons)
    if not spread_x:
        return none("item-rest-pooled", n, ALL_ALIKE)
    if not spread_y:
        return none("item-rest-pooled", n, REST_ALIKE)
    value = max(-1.0, min(1.0, float(shared) / math.sqrt(spread_x * spread_y)))
    freedom = sum(max(0, table.persons - 3) for table in tables)
    low = high = None
    if freedom and abs(value) < 1:
        half = quantile() / math.sqrt(freedom)
        low, high = math.tanh(math.atanh(value) - half), math.tanh(math.atanh(value) + half)
    return Estimate(value=value, low=low, high=high, n=n, convention="item-rest-pooled")


def link(one: FormAnswers, two: FormAnswers) -> Link:
    """Return what *one* and *two* have in common, and whether their difficulties may be compared."""
    theirs = set(zip(two.form.items, two.form.versions, strict=True))
    items = tuple(
        item for item, version in zip(one.form.items, one.form.versions, strict=True) if (item, version) in theirs
    )
    pupils = len(np.intersect1d(one.pupils, two.pupils))
    caution = ""
    if not pupils and 0 < len(items) < WEAK_ITEMS:
        caution = f"only {len(items)} common items carry the link; {WEAK_ITEMS} or more are usual"
    return Link(items=items, pupils=pupils, why="" if items or pupils else NO_LINK, caution=caution)


def shift(one: Rasch, two: Rasch) -> Estimate:
    """Return by how much the scale of *two* is to be lowered to lie on that of *one*, from their common items.

    The pupils of the two may differ in ability; n is the number of common items. The error is that of the weighted
    mean, or the one that the items' disagreement shows where that is larger.
    """
    ours = {(item.item, item.version): item for item in one.items}
    pairs = [(ours[item.item, item.version], item) for item in two.items if (item.item, item.version) in ours]
    if not pairs:
        return none("shift", 0, NO_LINK)
    difference = np.array([b.difficulty.value - a.difficulty.value for a, b in pairs])
    weight = 1 / np.array([a.se**2 + b.se**2 for a, b in pairs])
    value = float(weight @ difference / weight.sum())
    error = math.sqrt(1 / float(weight.sum()))
    if len(pairs) > 1:
        error *= math.sqrt(max(1.0, float(weight @ (difference - value) ** 2) / (len(pairs) - 1)))
    half = quantile() * error
    return Estimate(value=value, low=value - half, high=value + half, n=len(pairs), convention="shift")


def joint_models(forms: Sequence[FormAnswers]) -> tuple[JointRasch, ...]:
    """Return a Rasch model for each set of *forms* that common pupils hold together.

    Forms in different models are on different scales; `shift` may join two of them through common items. All pupils of
    a model are taken as one population, which is right for a class that sits many quizzes.
    """
    heads = list(range(len(forms)))

    def head(place: int) -> int:
        while heads[place] != place:
            place = heads[place]
        return place

    seen: dict[int, int] = {}
    for place, answers in enumerate(forms):
        for pupil in np.unique(answers.pupils).tolist():
            first, second = sorted((head(seen.setdefault(pupil, place)), head(place)))
            heads[second] = first
    sets: dict[int, list[FormAnswers]] = {}
    for place, answers in enumerate(forms):
        sets.setdefault(head(place), []).append(answers)
    return tuple(
        JointRasch(
            quizzes=tuple(answers.form.quiz for answers in members),
            model=fit_rasch(groups_of_scores(scores_of_answers(members))),
        )
        for members in sets.values()
    )
