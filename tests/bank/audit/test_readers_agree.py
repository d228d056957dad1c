"""Random tables of results: the reader in columns and the careful one, row by row, say the same of every pupil."""

from __future__ import annotations

import csv
import tempfile
from collections.abc import Callable, Sequence
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from results_bank import bank_path

from bank.audit.pseudonyms import Salt
from bank.audit.reading import _bulk, read_results
from bank.errors import BadInput
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")
PLACES = 4
"""The last item and three others are answered, so that the quiz has both a beginning and an end."""
RESPONSES = ("A", "B", "A", "B", "", "", "omitted", "not reached", "not given", "Z9", "1e9", "a")
ROW_BY_ROW = 1 << 40


class Sitting(NamedTuple):
    """A pupil's answers at one attempt; a cell that is None has no row in a long table."""

    pupil: str
    group: str
    attempt: str
    cells: tuple[str | None, ...]


SITTINGS = st.builds(
    Sitting, st.sampled_from(["k1", "k2", "k3", ""]), st.sampled_from(["", "5a", "5b"]),
    st.sampled_from(["", "1", "2", "2", "3", "two"]),
    st.tuples(*[st.one_of(st.none(), st.sampled_from(RESPONSES))] * PLACES),
)
REFUSED, BLANK = ("Z9",) * PLACES, ("",) * PLACES


@lru_cache(maxsize=1)
def _items() -> tuple[str, ...]:
    with Bank.open(bank_path()) as bank:
        items = bank.quizzes[0].items
    return (*items[: PLACES - 1], items[-1])


def _write_wide(path: Path, sittings: Sequence[Sitting]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("pupil", "group", "attempt", *_items()))
        writer.writerows([(*sat[:3], *[cell or "" for cell in sat.cells]) for sat in sittings])


def _write_long(path: Path, sittings: Sequence[Sitting]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("pupil", "group", "attempt", "item", "response"))
        for sat in sittings:
            writer.writerows([
                (*sat[:3], item, cell) for item, cell in zip(_items(), sat.cells, strict=True) if cell is not None
            ])


def _read(path: Path, from_bytes: int, attempts: str) -> object:
    """Return how many answers count, and of each pupil quiz, group, and an answer or a state for each item."""
    with pytest.MonkeyPatch.context() as patch, Bank.open(bank_path()) as bank:
        patch.setattr(_bulk, "FROM_BYTES", from_bytes)
        try:
            answers = read_results(bank, [path], salt=SALT, attempts=attempts, remember=False)
        except BadInput as refused:
            return refused.problems[0].code
    return answers.rows, [
        (one.form.quiz, sorted([
            (answers.pupils[pupil], answers.groups[group],
             [one.form.responses[k][code] if code >= 0 else code for k, code in enumerate(codes)])
            for pupil, group, codes in zip(one.pupils.tolist(), one.groups.tolist(), one.codes.tolist(), strict=True)
        ]))
        for one in answers.forms
    ]


@pytest.mark.parametrize("write", [_write_long, _write_wide])
@settings(max_examples=60)
@given(sittings=st.lists(SITTINGS, min_size=1, max_size=5), attempts=st.sampled_from(["first", "last"]))
@example(sittings=[Sitting("k1", "", "1", REFUSED), Sitting("k1", "", "2", BLANK)], attempts="first")
@example(sittings=[Sitting("k1", "", "1", REFUSED), Sitting("k1", "", "2", ("A", "B", "A", "B"))], attempts="first")
@example(sittings=[Sitting("k1", "5a", "1", REFUSED), Sitting("k1", "5b", "1", ("A", "", "", ""))], attempts="first")
@example(sittings=[Sitting("k1", "", "", ("not given",) * 4), Sitting("k2", "", "", ("A", "", "", ""))],
         attempts="first")
def test_reading_in_columns_and_row_by_row_give_the_same(
    write: Callable[[Path, Sequence[Sitting]], None], sittings: list[Sitting], attempts: str
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "r.csv"
        write(path, sittings)
        assert _read(path, 1, attempts) == _read(path, ROW_BY_ROW, attempts)
