"""Tables written and read back by one process or several.

A job is a range of the bank or a list of identifiers. Where several processes work, each opens the bank itself and
hands back finished bytes. They are written in the order of the jobs, which do not hang on the number of processes, so
the tables are the same bytes with any number.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from bank.model import BankInfo, Item, Quiz
from bank.store import Bank, ItemAnswers, Source
from bank.work import Pool
from exporters._faults import ExportFault
from exporters._rows import END, ITEM_COLUMNS, OPTION_COLUMNS, Rows, header
from exporters._rows_back import ITEMS, OPTIONS, compare, read_items

JOB = 500
"""Items of one job: some 1 MB of text."""


class Readable(Protocol):
    """What this exporter reads of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def quizzes(self) -> tuple[Quiz, ...]:
        """All quizzes."""

    @property
    def count(self) -> int:
        """Number of items."""

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None,
        solutions: bool = True,
    ) -> Iterator[Item]:
        """Give items; without *solutions* their solutions may be empty."""

    def answers(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[ItemAnswers]:
        """Give what scoring hangs on of the same items."""


class Job(NamedTuple):
    """Items to work on: those from *start* up to before *stop* in the bank, or those with *identifiers*."""

    start: int
    stop: int
    identifiers: tuple[str, ...] | None = None

    @property
    def size(self) -> int:
        """Number of items."""
        return self.stop - self.start


def jobs_for(chosen: Sequence[str] | None, count: int) -> list[Job]:
    """Return the jobs for the items *chosen*, or for all *count* items of the bank."""
    total = count if chosen is None else len(chosen)
    return [
        Job(start, min(start + JOB, total), None if chosen is None else tuple(chosen[start : start + JOB]))
        for start in range(0, total, JOB)
    ]


class Piece(NamedTuple):
    """Bytes of a file as it lies on the disk."""

    path: Path
    start: int
    size: int

    def lines(self, name: str) -> Iterator[str]:
        """Give the lines that stand there; *name* is what the file will be called.

        Raises:
            ExportFault: they are cut off.
        """
        with self.path.open("rb") as opened:
            opened.seek(self.start)
            content = opened.read(self.size)
        if len(content) != self.size or content and not content.endswith(END.encode()):
            raise ExportFault(name, "", "it is cut off")
        return io.TextIOWrapper(io.BytesIO(content), encoding="utf-8", newline=END)


class Clerk:
    """Does jobs with a bank of its own."""

    def __init__(self, bank: Readable, uses: Mapping[str, str]) -> None:
        self._bank = bank
        self._rows = Rows(bank.info, uses)

    def write(self, job: Job) -> tuple[bytes, bytes]:
        """Return the rows of *job* for the table of items and for that of options."""
        items = self._bank.items(job.identifiers, start=job.start, stop=job.stop, solutions=False)
        item_rows, option_rows = self._rows.tables(items)
        return item_rows.encode(), option_rows.encode()

    def check(self, job: Job, items: Piece, options: Piece) -> None:
        """Read the rows of *job* back and compare them with the bank.

        Raises:
            ExportFault: they differ, or are not of the form that this tool writes.
        """
        bank = self._bank.answers(job.identifiers, start=job.start, stop=job.stop)
        compare(read_items(items.lines(ITEMS), options.lines(OPTIONS)), bank, self._bank.info.locale)


def _clerk(source: Source, known: str, uses: Mapping[str, str]) -> Clerk:
    return Clerk(Bank.open(source, known=known), uses)


class Clerks:
    """One clerk in this process and, where several are wanted, one in each of the others."""

    def __init__(self, source: Source, bank: Readable, uses: Mapping[str, str], processes: int) -> None:
        self._pool = Pool(max(0, processes - 1), partial(_clerk, source, bank.info.fingerprint, uses), Clerk(bank, uses))

    def __enter__(self) -> Clerks:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.__exit__(kind, error, trace)

    def run(self, task: str, arguments: Iterable[tuple[Any, ...]]) -> Iterator[Any]:
        """Give the results of the clerk's method *task*, in order, a bounded number of them ahead."""
        return self._pool.each(task, arguments, ahead=8 * self._pool.processes, helping=True)


def write_tables(
    clerks: Clerks, jobs: Sequence[Job], items: Path, options: Path, progress: Callable[[int, int], None]
) -> None:
    """Write the two tables to the files *items* and *options*, and read them back.

    Raises:
        ExportFault: what was read back differs from the bank.
    """
    done, total = 0, 2 * sum(job.size for job in jobs)
    pieces = []
    with items.open("wb") as item_file, options.open("wb") as option_file:
        item_file.write(header(ITEM_COLUMNS).encode())
        option_file.write(header(OPTION_COLUMNS).encode())
        for job, (item_rows, option_rows) in zip(jobs, clerks.run("write", [(job,) for job in jobs]), strict=True):
            item_piece = Piece(items, item_file.tell(), len(item_rows))
            pieces.append((job, item_piece, Piece(options, option_file.tell(), len(option_rows))))
            item_file.write(item_rows)
            option_file.write(option_rows)
            done += job.size
            progress(done, total)
        ends = item_file.tell(), option_file.tell()
    _check_frame(items, ITEMS, ITEM_COLUMNS, ends[0])
    _check_frame(options, OPTIONS, OPTION_COLUMNS, ends[1])
    for piece, _ in zip(pieces, clerks.run("check", pieces), strict=True):
        done += piece[0].size
        progress(done, total)


def _check_frame(path: Path, name: str, columns: Sequence[str], size: int) -> None:
    """Hold that what no job reads back is as it was written: the header row, and nothing behind the last job."""
    wanted = header(columns).encode()
    with path.open("rb") as opened:
        if opened.read(len(wanted)) != wanted or path.stat().st_size != size:
            raise ExportFault(name, "", "header row or length read back are not those written")
