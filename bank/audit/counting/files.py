"""Counting canonical CSV files, long and wide, in process: blocks of bytes, numpy and nothing else.

Rows may come in any order. What is kept in memory is two bytes for each pupil and item, and each different text once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from bank.audit.counting import columns
from bank.audit.counting._ahead import ahead
from bank.audit.counting._readers import LongReader, Reading, WideReader
from bank.audit.counting.blocks import Batch, read_batches
from bank.audit.counting.keys import QuizKey
from bank.audit.counting.layout import Layout, read_layout
from bank.audit.counting.outcome import Counted, Rejected
from bank.audit.records import NOT_GIVEN, FormAnswers


@dataclass(frozen=True, kw_only=True, slots=True)
class Read:
    """Answers of canonical CSV files in columns, and what was left out."""

    forms: tuple[FormAnswers, ...]
    """Of the quizzes that somebody answered, in the order of the keys."""
    pupils: tuple[str, ...]
    """As the files name them, in order of appearance; empty where they were not asked for."""
    groups: tuple[str, ...]
    doubled: int
    contradicted: int
    """As in `bank.audit.counting.outcome.Counted`."""
    rejected: tuple[tuple[str, int, str], ...]
    rejected_rows: int


def read_csv(
    paths: Sequence[Path], keys: Sequence[QuizKey], *, attempts: str = "first",
    pseudonym: Callable[[str], str] | None = str, layouts: Sequence[Layout] | None = None,
    watch: Callable[[Layout, Batch], None] | None = None,
) -> Read:
    """Return the answers in the canonical CSV files at *paths*, of the ``first`` or ``last`` attempt.

    *pseudonym* is asked once for each pupil; None leaves the pupils' names out. *layouts* are those of the files where
    they are known already, *watch* sees each batch of rows before it is taken.

    Raises:
        BadInput: a file cannot be read (``cannot-read``) or has no such header (``results-header``).
    """
    if layouts is None:
        layouts = [read_layout(path, keys) for path in paths]
    reading = Reading(keys, attempts)
    reading.several_attempts = any(layout.attempt >= 0 for layout in layouts)
    for path, layout in zip(paths, layouts, strict=True):
        reader = (WideReader if layout.wide else LongReader)(reading, layout, str(path))
        broken = Rejected()
        for batch in ahead(_prepared(read_batches(path, layout, broken, reading.long_texts), reader.columns())):
            if watch is not None:
                watch(layout, batch)
            reader.take(batch)
        reading.rejected.include(broken)
    doubles = [gathered.doubles() for gathered in reading.forms]
    forms, groups = reading.answers()
    return Read(
        forms=forms,
        pupils=() if pseudonym is None else tuple([pseudonym(name) for name in reading.pupil_names()]),
        groups=groups, doubled=sum(one for one, _ in doubles), contradicted=sum(other for _, other in doubles),
        rejected=reading.rejected.in_order(), rejected_rows=reading.rejected.number,
    )


def _prepared(batches: Iterable[Batch], columns: Sequence[int]) -> Iterator[Batch]:
    for batch in batches:
        for column in columns:
            batch.words(column)
        yield batch


def count_csv(paths: Sequence[Path], keys: Sequence[QuizKey], *, attempts: str = "first") -> Counted:
    """Return the tables of the canonical CSV files at *paths*; arguments and errors are those of `read_csv`."""
    read = read_csv(paths, keys, attempts=attempts, pseudonym=None)
    return Counted(
        counts=tuple([columns.count(form, read.groups) for form in read.forms]),
        answers=sum(int((form.codes != NOT_GIVEN).sum()) for form in read.forms),
        doubled=read.doubled, contradicted=read.contradicted, rejected=read.rejected, rejected_rows=read.rejected_rows,
    )
