"""Mantel-Haenszel: do pupils of two groups with equal totals answer an item unequally? A flag for people to look at.

Pupils are matched on the total with the studied item in it (Holland & Thayer 1988, from memory). A letter is never a
verdict of bias, and none found is not none there: with 500 or fewer a group, over half of the affected items were
missed in one study (Mazor, Clauser & Hambleton 1991, abstract read).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from scipy.special import chdtrc

from bank.audit.records import Counts, FormAnswers
from bank.audit.statistics.estimates import CONVENTIONS, Estimate, none, quantile
from bank.audit.statistics.patterns import scores_of_answers
from bank.audit.statistics.tables import MARK, ItemTable, arrange, is_dichotomous

CONVENTIONS["mh-odds"] = (
    "Mantel-Haenszel odds ratio over strata of equal totals, the item in them: above 1 the reference group does "
    "better; interval from the Robins-Breslow-Greenland error of its logarithm"
)
CONVENTIONS["mh-d-dif"] = "-2.35 ln(Mantel-Haenszel odds ratio): below 0 the item is harder for the focal group"
D_SCALE = -2.35
"""MH D-DIF per unit of ln(odds ratio): Holland & Thayer 1988, as on a stored NCES page."""
SMALLER_GROUP, BOTH_GROUPS = 200, 500
"""Fewest pupils for a letter: practice of ETS for assembling tests, from memory."""
MOST_ROUNDS = 10
_FLAGGED = 0.05
_TOO_FEW = "too few for a letter: it takes {} in the smaller group and {} in both"


@dataclass(frozen=True, kw_only=True, slots=True)
class Stratified:
    """Mantel-Haenszel statistics of several two-by-two tables."""

    alpha: float | None
    """Common odds ratio; None where no table tells."""
    se_log_alpha: float | None
    """Robins, Breslow & Greenland 1986, Biometrics 42:311 (from memory)."""
    chi2: float | None
    """With continuity correction (none for a difference under half a pupil), one degree of freedom."""
    chi2_plain: float | None
    p: float | None
    """Of ``chi2``."""
    strata: int
    """Tables that tell something: no margin of theirs is zero."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DifItem:
    """What Mantel-Haenszel says of one item."""

    item: str
    version: int
    n_reference: int
    n_focal: int
    odds_ratio: Estimate
    d_dif: Estimate
    se_d: float | None
    chi2: float | None
    p: float | None
    p_adjusted: float | None
    """Benjamini & Hochberg 1995 over the items of the form (from memory)."""
    letter: str
    """``A``, ``B`` or ``C``; empty where ``why`` says why there is none."""
    why: str
    strata: int


@dataclass(frozen=True, kw_only=True, slots=True)
class Dif:
    """A comparison of two groups on one form."""

    quiz: str
    reference: str
    focal: str
    items: tuple[DifItem, ...]
    rounds: int
    """1 where all items matched the pupils; more where flagged ones were taken out of the matching total."""
    anchors: tuple[str, ...]
    """Items of the matching total in the last round (the studied item always belongs to its own)."""
    settled: bool
    """Whether a further round would have changed nothing."""
    why: str = ""
    """Why purification stopped before it settled."""


def mantel_haenszel(tables: np.ndarray) -> Stratified:
    """Return the statistics of *tables*, whole numbers [S, 4].

    The columns are reference right, reference wrong, focal right, focal wrong. Tables with a margin of zero drop out.
    """
    right = tables[:, 0] + tables[:, 2]
    wrong = tables[:, 1] + tables[:, 3]
    reference = tables[:, 0] + tables[:, 1]
    focal = tables[:, 2] + tables[:, 3]
    tells = (right > 0) & (wrong > 0) & (reference > 0) & (focal > 0)
    a, b, c, d = (column.astype(float) for column in tables[tells].T)
    strata = int(tells.sum())
    if not strata:
        return Stratified(alpha=None, se_log_alpha=None, chi2=None, chi2_plain=None, p=None, strata=0)
    n = a + b + c + d
    expected = (a + b) * (a + c) / n
    variance = float(((a + b) * (c + d) * (a + c) * (b + d) / (n * n * (n - 1))).sum())
    delta = abs(float((a - expected).sum()))
    # As R's mantelhaen.test: a difference of less than half a pupil is left as it is.
    chi2 = (delta - 0.5 if delta >= 0.5 else delta) ** 2 / variance
    r, s = a * d / n, b * c / n
    r_sum, s_sum = float(r.sum()), float(s.sum())
    alpha = error = None
    if r_sum and s_sum:
        p, q = (a + d) / n, (b + c) / n
        alpha = r_sum / s_sum
        mixed = (p * s + q * r).sum() / (2 * r_sum * s_sum)
        error = math.sqrt(float((p * r).sum() / (2 * r_sum**2) + mixed + (q * s).sum() / (2 * s_sum**2)))
    return Stratified(
        alpha=alpha, se_log_alpha=error, chi2=chi2, chi2_plain=delta**2 / variance, p=float(chdtrc(1, chi2)),
        strata=strata,
    )


def letter(d: float, se: float, p: float) -> str:
    """Return the letter of the full rule: size and significance both.

    A: size of D under 1, or not different from 0 at 5 %; C: size 1.5 or more, and above 1 by a one-sided test at 5 %;
    else B. Dorans & Holland 1993; Zwick 2012, ETS RR-12-08 (rule from memory).
    """
    if abs(d) < 1 or p >= _FLAGGED:
        return "A"
    return "C" if abs(d) >= 1.5 and abs(d) - 1.645 * se > 1 else "B"


def benjamini_hochberg(values: Sequence[float | None]) -> list[float | None]:
    """Return *values* (p of a family of tests, None where there is none) adjusted for the false discovery rate."""
    ranked = sorted((p, place) for place, p in enumerate(values) if p is not None)
    adjusted: list[float | None] = [None] * len(values)
    least = 1.0
    for rank in range(len(ranked), 0, -1):
        p, place = ranked[rank - 1]
        least = min(least, p * len(ranked) / rank)
        adjusted[place] = least
    return adjusted


def dif(
    counts: Counts, reference: str, focal: str, *, smaller: int = SMALLER_GROUP, both: int = BOTH_GROUPS
) -> Dif:
    """Return the comparison of two groups of *counts*, pupils matched on the total of all items.

    *smaller* and *both* are the fewest pupils for a letter.

    Raises:
        KeyError: there is no such group.
    """
    form = counts.form
    ours, theirs = arrange(counts, [reference]), arrange(counts, [focal])
    given = sum(item.not_given for table in (ours, theirs) for item in table.items)
    found = []
    for k, item in enumerate(form.items):
        why = ""
        if not is_dichotomous(form.credits[k]):
            why = "it gives part marks"
        elif given:
            why = "not all pupils were given the same items"
        one, two = ours.items[k], theirs.items[k]
        tables = np.zeros((0, 4), dtype=np.int64) if why else _tables(one, two)
        found.append(_item(item, form.versions[k], one.persons, two.persons, mantel_haenszel(tables), why))
    return Dif(
        quiz=form.quiz, reference=reference, focal=focal, items=_lettered(found, smaller, both), rounds=1,
        anchors=form.items, settled=True,
    )


def dif_purified(
    answers: FormAnswers, groups: Sequence[str], reference: str, focal: str, *, most_rounds: int = 2,
    smaller: int = SMALLER_GROUP, both: int = BOTH_GROUPS,
) -> Dif:
    """Return the comparison after items that were flagged left the matching total, round by round.

    *groups* are the names of the answers' groups. Two rounds by default, at most `MOST_ROUNDS`: the flags can go in
    circles. It helps where differences go one way and hurts where they balance (Zwick, on a stored page). Where every
    item is flagged no anchor is left: the round before is returned, and ``why`` says so.

    Raises:
        ValueError: there is no such group.
    """
    scores = scores_of_answers([answers])
    order = np.argsort(answers.pupils, kind="stable")
    group = answers.groups[order]
    ours, theirs = group == list(groups).index(reference), group == list(groups).index(focal)
    x = scores.x
    anchors = np.ones(x.shape[1], dtype=bool)
    result, rounds, settled, why = (), 0, False, ""
    while rounds < max(1, min(most_rounds, MOST_ROUNDS)):
        found = []
        for k, item in enumerate(scores.items):
            chosen = anchors.copy()
            chosen[k] = True
            total = (x[:, chosen] == 1).sum(axis=1)
            columns = [
                np.bincount(total[mask & (x[:, k] == hit)], minlength=x.shape[1] + 1)
                for mask in (ours, theirs) for hit in (1, 0)
            ]
            n = [int((mask & (x[:, k] >= 0)).sum()) for mask in (ours, theirs)]
            found.append(_item(item, scores.versions[k], *n, mantel_haenszel(np.stack(columns, axis=1)), ""))
        rounds += 1
        result, used = found, anchors
        flagged = np.array([one.p is not None and one.p < _FLAGGED for one in found], dtype=bool)
        if (anchors == ~flagged).all():
            settled = True
            break
        if flagged.all():
            why = "every item is flagged, so none is left to match pupils by"
            break
        anchors = ~flagged
    return Dif(
        quiz=answers.form.quiz, reference=reference, focal=focal, items=_lettered(result, smaller, both), rounds=rounds,
        anchors=tuple(item for item, inside in zip(scores.items, used, strict=True) if inside),
        settled=settled, why=why,
    )


def _tables(one: ItemTable, two: ItemTable) -> np.ndarray:
    """Two-by-two tables by total; the pupils of either group who reached the item."""
    totals = np.unique(np.concatenate([one.total, two.total]))
    tables = np.zeros((len(totals), 4), dtype=np.int64)
    for column, item in ((0, one), (2, two)):
        place = np.searchsorted(totals, item.total)
        right = item.credit == MARK
        np.add.at(tables[:, column], place[right], item.n[right])
        np.add.at(tables[:, column + 1], place[~right], item.n[~right])
    return tables


def _item(item: str, version: int, reference: int, focal: int, found: Stratified, why: str) -> DifItem:
    n = reference + focal
    alpha, error = found.alpha, found.se_log_alpha
    if alpha is None or error is None:
        why = why or "no stratum of equal totals has right and wrong answers of both groups to compare"
        odds, d, se = none("mh-odds", n, why), none("mh-d-dif", n, why), None
    else:
        half = quantile() * error
        odds = Estimate(
            value=alpha, low=alpha * math.exp(-half), high=alpha * math.exp(half), n=n, convention="mh-odds"
        )
        value, se = D_SCALE * math.log(alpha), -D_SCALE * error
        d = Estimate(value=value, low=value - quantile() * se, high=value + quantile() * se, n=n, convention="mh-d-dif")
    return DifItem(
        item=item, version=version, n_reference=reference, n_focal=focal, odds_ratio=odds, d_dif=d, se_d=se,
        chi2=found.chi2, p=found.p, p_adjusted=None, letter="", why=why, strata=found.strata,
    )


def _lettered(items: Sequence[DifItem], smaller: int, both: int) -> tuple[DifItem, ...]:
    adjusted = benjamini_hochberg([item.p for item in items])
    found = []
    for item, p in zip(items, adjusted, strict=True):
        sign, why = "", item.why
        if not why and (min(item.n_reference, item.n_focal) < smaller or item.n_reference + item.n_focal < both):
            why = _TOO_FEW.format(smaller, both)
        if not why:
            sign = letter(item.d_dif.value, item.se_d, item.p)
        found.append(replace(item, p_adjusted=p, letter=sign, why=why))
    return tuple(found)
