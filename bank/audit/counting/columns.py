"""Counting answers that stand in columns in memory."""

from __future__ import annotations

import numpy as np

from bank.audit.records import NOT_GIVEN, Answers, Counts, Form, FormAnswers

NO_ANSWERS = -NOT_GIVEN
"""How many codes of no answer there are; they are the whole numbers from -1 down."""

_DENSE = 4
"""A dense table of cells is made where it has at most this many cells a pupil ..."""
_SMALL = 1 << 20
"""... or at most this many in all; otherwise the pupils' cells are sorted."""


def count_all(answers: Answers) -> tuple[Counts, ...]:
    """Return the table of every form of *answers*, in their order."""
    return tuple(count(form, answers.groups) for form in answers.forms)


def count(answers: FormAnswers, groups: tuple[str, ...] = ("",)) -> Counts:
    """Return the table of one form: how many pupils of each group gave each response to each item at each total.

    Cells of no answer (omitted, not reached, not given) are counted too. *groups* are the names of `Answers.groups`.

    Raises:
        ValueError: a code, a group or a shape is none that the form and *groups* have.
    """
    form = answers.form
    _check(answers, groups)
    total, level = np.unique(totals(answers), return_inverse=True)
    by_group = answers.groups.astype(np.int64)
    tables = []
    for item in range(len(form.items)):
        responses = len(form.responses[item]) + NO_ANSWERS
        code = answers.codes[:, item].astype(np.int64) + NO_ANSWERS
        cells, n = _tally((by_group * responses + code) * len(total) + level, len(groups) * responses * len(total))
        rest, at = np.divmod(cells, max(1, len(total)))
        group, response = np.divmod(rest, responses)
        tables.append((
            group.astype(np.int16), np.full(len(n), item, dtype=np.int16), (response - NO_ANSWERS).astype(np.int16),
            total[at].astype(np.int32), n,
        ))
    return table(form, groups, tables, len(answers.pupils), by_item=True)


def totals(answers: FormAnswers) -> np.ndarray:
    """Return each pupil's total credit, int64 [N], in thousandths of a mark; no answer earns nothing."""
    total = np.zeros(len(answers.pupils), dtype=np.int64)
    for item, credits in enumerate(answers.form.credits):
        # Codes of no answer are negative: they reach the zeros from the end.
        total += np.array((*credits, *(0,) * NO_ANSWERS), dtype=np.int64)[answers.codes[:, item]]
    return total


def table(
    form: Form, groups: tuple[str, ...], parts: list[tuple[np.ndarray, ...]], persons: int, *, by_item: bool = False
) -> Counts:
    """Return the table made of *parts*: columns group, item, response, total, n of cells that occur once each.

    Cells may come in any order, and are put in ascending order. *by_item* says that the parts are those of one item
    after the other, each in order; that is quicker.
    """
    kinds = (np.int16, np.int16, np.int16, np.int32, np.int64)
    group, item, response, total, n = (
        np.concatenate([np.zeros(0, dtype=kind), *[part[at].astype(kind, copy=False) for part in parts]])
        for at, kind in enumerate(kinds)
    )
    order = np.argsort(group, kind="stable") if by_item else np.lexsort((total, response, item, group))
    return Counts(
        form=form, groups=groups, group=group[order], item=item[order], response=response[order],
        total=total[order], n=n[order], persons=persons,
    )


def _tally(cells: np.ndarray, size: int) -> tuple[np.ndarray, np.ndarray]:
    """Return the distinct *cells* (whole numbers under *size*) and how often each occurs."""
    if size <= max(_SMALL, _DENSE * len(cells)):
        counted = np.bincount(cells, minlength=size)
        found = np.flatnonzero(counted)
        return found, counted[found].astype(np.int64)
    found, n = np.unique(cells, return_counts=True)
    return found, n.astype(np.int64)


def _check(answers: FormAnswers, groups: tuple[str, ...]) -> None:
    form, pupils = answers.form, len(answers.pupils)
    if answers.codes.shape != (pupils, len(form.items)) or answers.groups.shape != (pupils,):
        raise ValueError(f"{form.quiz}: codes or groups do not have one row for each pupil and a column for each item")
    if not (len(form.responses) == len(form.credits) == len(form.items)):
        raise ValueError(f"{form.quiz}: responses and credits are not those of its items")
    if not pupils:
        return
    if answers.groups.min() < 0 or answers.groups.max() >= len(groups):
        raise ValueError(f"{form.quiz}: a group has no name")
    for item, responses in enumerate(form.responses):
        codes = answers.codes[:, item]
        if codes.min() < NOT_GIVEN or codes.max() >= len(responses) or len(form.credits[item]) != len(responses):
            raise ValueError(f"{form.quiz}, {form.items[item]}: a response code means nothing")
