"""Right and wrong answers grouped by what a Rasch model needs: the set of items met, the score on them, how many.

Omitted counts as wrong; not reached and not given are missing. Items that give part marks, and items that everybody
got right or wrong, are left out and named.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Counts, FormAnswers
from bank.audit.statistics.tables import MARK, arrange, is_dichotomous

PART_MARKS = "it gives part marks"
ALL_RIGHT = "everybody got it right"
ALL_WRONG = "nobody got it right"
NOBODY = "nobody met it"


@dataclass(frozen=True, kw_only=True, slots=True)
class ScoreGroups:
    """Pupils who met the same items and got the same number right, in order of set and score."""

    items: tuple[str, ...]
    """Ids of the K items that are in."""
    versions: tuple[int, ...]
    given: np.ndarray
    """bool [M, K]: the distinct sets of items met."""
    which: np.ndarray
    """int64 [G]: the set of each group, ascending."""
    score: np.ndarray
    """int64 [G]: items right of those met, ascending within a set."""
    n: np.ndarray
    """int64 [G]: pupils."""
    right: np.ndarray
    """int64 [G, K]: right answers to each item within the group."""
    left_out: tuple[tuple[str, str], ...] = ()
    """(item, reason) of items that are not in."""

    @property
    def persons(self) -> int:
        """Pupils in all groups."""
        return int(self.n.sum())

    @property
    def met(self) -> np.ndarray:
        """int64 [K]: pupils who met each item."""
        by_set = np.zeros(len(self.given), dtype=np.int64)
        np.add.at(by_set, self.which, self.n)
        return by_set @ self.given


@dataclass(frozen=True, kw_only=True, slots=True)
class Scores:
    """Answers of pupils to items as 1 (right), 0 (wrong, omitted) and -1 (missing)."""

    items: tuple[str, ...]
    versions: tuple[int, ...]
    x: np.ndarray
    """int8 [N, K]"""
    left_out: tuple[tuple[str, str], ...] = ()


def needs_answers(counts: Counts) -> str:
    """Return why the answers themselves are needed for a Rasch model, or nothing where the counts will do."""
    if not all(is_dichotomous(credits) for credits in counts.form.credits):
        return "some items give part marks, so the number right does not follow from the total"
    if np.isin(counts.response, (NOT_REACHED, NOT_GIVEN)).any():
        return "some pupils did not meet all items, so it matters which ones"
    return ""


def groups_of_counts(counts: Counts, groups: Iterable[str] | None = None) -> ScoreGroups:
    """Return the score groups of complete answers from their counts alone, of the pupils of *groups* (None: all).

    Raises:
        ValueError: `needs_answers`.
    """
    why = needs_answers(counts)
    if why:
        raise ValueError(why)
    table = arrange(counts, groups)
    items = len(table.items)
    by_score = np.zeros(items + 1, dtype=np.int64)
    by_score[table.totals // MARK] = table.pupils
    right = np.zeros((items + 1, items), dtype=np.int64)
    for item in table.items:
        hit = item.credit == MARK
        np.add.at(right[:, item.index], item.total[hit] // MARK, item.n[hit])
    keep, left_out = _usable(counts.form.items, right.sum(axis=0), np.full(items, table.persons))
    always = int((right.sum(axis=0) == table.persons).sum()) if table.persons else 0
    score = np.arange(items + 1) - always
    inside = by_score > 0
    return ScoreGroups(
        items=_picked(counts.form.items, keep), versions=_picked(counts.form.versions, keep),
        given=np.ones((1, len(keep)), dtype=bool), which=np.zeros(int(inside.sum()), dtype=np.int64),
        score=score[inside], n=by_score[inside], right=right[inside][:, keep], left_out=left_out,
    )


def scores_of_answers(forms: Sequence[FormAnswers]) -> Scores:
    """Return right and wrong answers to the items of *forms* that give all or nothing.

    An item is told from others by id and version, a pupil by number: one who answered several forms has one row. Where
    a pupil answered an item in more than one form, the first form counts. Rows are in ascending order of pupil.
    """
    column: dict[tuple[str, int], int] = {}
    left_out: dict[str, str] = {}
    for answers in forms:
        for item, version, credits in zip(
            answers.form.items, answers.form.versions, answers.form.credits, strict=True
        ):
            if is_dichotomous(credits):
                column.setdefault((item, version), len(column))
            else:
                left_out[item] = PART_MARKS
    pupils = np.unique(np.concatenate([answers.pupils for answers in forms])) if forms else np.zeros(0, dtype=np.int32)
    x = np.full((len(pupils), len(column)), -1, dtype=np.int8)
    for answers in forms:
        rows = np.searchsorted(pupils, answers.pupils)
        form = answers.form
        for k, (item, version) in enumerate(zip(form.items, form.versions, strict=True)):
            place = column.get((item, version))
            if place is None or not is_dichotomous(form.credits[k]):
                continue
            codes = answers.codes[:, k]
            by_code = np.array([*(credit == MARK for credit in form.credits[k]), False], dtype=np.int8)
            value = np.where(codes >= OMITTED, by_code[np.maximum(codes, OMITTED)], np.int8(-1))
            x[rows, place] = np.where(x[rows, place] >= 0, x[rows, place], value)
    names = tuple(column)
    return Scores(
        items=tuple(item for item, _ in names), versions=tuple(version for _, version in names), x=x,
        left_out=tuple(left_out.items()),
    )


def without_constants(scores: Scores) -> Scores:
    """Return *scores* without the items that everybody, or nobody, got right or met."""
    keep, left_out = _usable(scores.items, (scores.x == 1).sum(axis=0), (scores.x >= 0).sum(axis=0))
    return Scores(
        items=_picked(scores.items, keep), versions=_picked(scores.versions, keep), x=scores.x[:, keep],
        left_out=scores.left_out + left_out,
    )


def groups_of_scores(scores: Scores) -> ScoreGroups:
    """Return the score groups of *scores*, missing answers allowed; pupils who met no item are not in any."""
    usable = without_constants(scores)
    x = usable.x
    met = x >= 0
    keys = np.packbits(met, axis=1) if met.shape[1] else np.zeros((len(x), 0), dtype=np.uint8)
    score = (x == 1).sum(axis=1)
    table = np.column_stack([keys, score.astype(">u4").view(np.uint8).reshape(len(x), 4)])
    whole = np.ascontiguousarray(table[met.any(axis=1)])
    here = x[met.any(axis=1)]
    if not len(whole):
        return ScoreGroups(
            items=usable.items, versions=usable.versions, given=np.zeros((0, met.shape[1]), dtype=bool),
            which=np.zeros(0, dtype=np.int64), score=np.zeros(0, dtype=np.int64), n=np.zeros(0, dtype=np.int64),
            right=np.zeros((0, met.shape[1]), dtype=np.int64), left_out=usable.left_out,
        )
    _, first, inverse, n = np.unique(
        whole.view([("", np.void, whole.shape[1])]).ravel(), return_index=True, return_inverse=True, return_counts=True
    )
    right = np.zeros((len(n), met.shape[1]), dtype=np.int64)
    order = np.argsort(inverse, kind="stable")
    starts = np.concatenate([[0], np.cumsum(n)[:-1]])
    right[:] = np.add.reduceat((here[order] == 1).astype(np.int64), starts, axis=0)
    masks = here[first] >= 0
    new = np.concatenate([[True], (masks[1:] != masks[:-1]).any(axis=1)])
    return ScoreGroups(
        items=usable.items, versions=usable.versions, given=masks[new], which=np.cumsum(new) - 1,
        score=(here[first] == 1).sum(axis=1), n=n.astype(np.int64), right=right, left_out=usable.left_out,
    )


def _usable(
    items: tuple[str, ...], right: np.ndarray, met: np.ndarray
) -> tuple[list[int], tuple[tuple[str, str], ...]]:
    keep, left_out = [], []
    for k, (hits, n) in enumerate(zip(right.tolist(), met.tolist(), strict=True)):
        if 0 < hits < n:
            keep.append(k)
        else:
            left_out.append((items[k], NOBODY if not n else ALL_RIGHT if hits else ALL_WRONG))
    return keep, tuple(left_out)


def _picked(values: tuple, keep: list[int]) -> tuple:
    return tuple(values[k] for k in keep)
