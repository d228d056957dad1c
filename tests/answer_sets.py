"""Random answers for tests of the audit's counting: groups, omissions, forms in part, ties, many spellings."""

from __future__ import annotations

from collections import Counter

import numpy as np
from hypothesis import strategies as st

from bank.audit.records import NOT_GIVEN, Counts, Form, FormAnswers

GROUPS = ("", "north", "south, upper", 'the "late" ones')
RESPONSES = ("A", "B", "C", "D", "0.5", "12,5", 'say "x"', "\u2212 3", "1 000")
CREDITS = (0, 1000, 500, 333, 1)


@st.composite
def answers(draw: st.DrawFn, most_pupils: int = 12, most_items: int = 5) -> tuple[FormAnswers, tuple[str, ...]]:
    """Return answers of a form in columns and the names of the groups."""
    items = draw(st.integers(1, most_items))
    pupils = draw(st.integers(0, most_pupils))
    groups = GROUPS[: draw(st.integers(1, len(GROUPS)))]
    responses = tuple(tuple(RESPONSES[: draw(st.integers(1, len(RESPONSES)))]) for _ in range(items))
    credits = tuple(tuple(draw(st.sampled_from(CREDITS)) for _ in known) for known in responses)
    codes = [[draw(st.integers(NOT_GIVEN, len(known) - 1)) for known in responses] for _ in range(pupils)]
    form = Form(
        quiz="q1", items=tuple(f"item-{item}" for item in range(items)), versions=(1,) * items,
        responses=responses, credits=credits,
    )
    return FormAnswers(
        form=form, pupils=np.arange(pupils, dtype=np.int32),
        codes=np.array(codes, dtype=np.int16).reshape(pupils, items),
        groups=np.array([draw(st.integers(0, len(groups) - 1)) for _ in range(pupils)], dtype=np.int16),
    ), groups


def plainly_counted(given: FormAnswers) -> list[tuple[int, int, int, int, int]]:
    """Return the cells (group, item, response, total, n) in order, counted one answer at a time."""
    counted: Counter[tuple[int, int, int, int]] = Counter()
    for group, codes in zip(given.groups.tolist(), given.codes.tolist(), strict=True):
        total = sum(given.form.credits[item][code] for item, code in enumerate(codes) if code >= 0)
        for item, code in enumerate(codes):
            counted[group, item, code, total] += 1
    return [(*cell, n) for cell, n in sorted(counted.items())]


def cells(counts: Counts) -> list[tuple[int, int, int, int, int]]:
    """Return the rows of *counts* as plain whole numbers."""
    columns = (counts.group, counts.item, counts.response, counts.total, counts.n)
    return list(zip(*(column.tolist() for column in columns), strict=True))
