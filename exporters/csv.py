"""Comma-separated values: one table of items and one of options, for reading in a spreadsheet or by a program.

The form is that of RFC 4180: a header row, commas, CRLF, double quotes where needed; UTF-8. Numbers for reckoning
stand in columns whose names end in ``value`` or ``operands``, always with a point; the other columns show what the
pupil sees, in the bank's locale. Texts that a spreadsheet might run as formulas are guarded, see `bank.cells`;
the columns are described in `exporters._rows`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from bank.files import replacing
from bank.model import FindMistake, Quiz
from bank.store import Source
from exporters._clerks import Clerks, Readable, jobs_for, write_tables
from exporters._portability import (
    CHANGED, NOT_CARRIED, QuizRemark, Remark, any_quiz, asks, has_expression,
)
from exporters._rows import uses_of
from exporters._rows_back import ITEMS, OPTIONS, ReadItem, read_tables

NAME = "csv"
TITLE = "Comma-separated values (two tables: items and options)"
TABLES = True
"""All items stand in the same two files, whatever quiz they are in."""
REMARKS = (
    Remark("text-for-mathematics", CHANGED, "Expressions are text, such as 3.4 + 2.56.", has_expression),
    Remark("no-worked-solution", NOT_CARRIED, "The worked solution is not in the tables.",
           lambda item: item.family.show_solution),
    Remark("working-not-shown", NOT_CARRIED, "Of the working in which the mistake is to be found the tables hold the "
           "steps, not the columns.", asks(FindMistake)),
)  # fmt: skip
QUIZ_REMARKS = (
    QuizRemark("tables-are-no-quiz", NOT_CARRIED, "The tables are for reading and for programs. No LMS can give or "
               "mark a quiz from them; time limits, sections and switches are not in them.", any_quiz),
)  # fmt: skip


def write(
    source: Source,
    bank: Readable,
    quizzes: Sequence[Quiz],
    folder: Path,
    *,
    whole_bank: bool,
    jobs: int,
    progress: Callable[[int, int], None],
) -> list[Path]:
    """Write ``csv/items.csv`` and ``csv/options.csv`` under *folder* and return their paths.

    The items are those of the whole bank in bank order, or else of *quizzes* in the order of use, each once.
    *jobs* processes share the work where there is enough of it; *progress* is told how much is done, writing and
    reading back. Before the files take their places they are read back from the disk, and every key and option
    compared with the bank.

    Raises:
        ExportFault: what was read back differs from the bank; the older files stay as they were.
        BadInput: a file cannot be written, or *bank* is damaged; the older files stay as they were.
    """
    chosen = None if whole_bank else list(dict.fromkeys(item for quiz in quizzes for item in quiz.items))
    parts = jobs_for(chosen, bank.count)
    uses = uses_of(bank.quizzes if whole_bank else quizzes)
    targets = [folder / NAME / ITEMS, folder / NAME / OPTIONS]
    with (
        Clerks(source, bank, uses, min(jobs, len(parts))) as clerks,
        replacing(targets[0]) as items, replacing(targets[1]) as options,
    ):
        write_tables(clerks, parts, items, options, progress)
    return targets


def read_back(folder: Path) -> Iterator[ReadItem]:
    """Give the items that the files under *folder* hold, in their order.

    Raises:
        ExportFault: a file is not of the form that `write` gives it.
    """
    return read_tables(folder / NAME / ITEMS, folder / NAME / OPTIONS)
