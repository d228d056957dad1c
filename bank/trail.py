"""A table that people keep and lines are added to: read after a spreadsheet has saved it, added to without losing a line.

A spreadsheet may save the file with a byte order mark, in UTF-16, with semicolons or tabs, with other line ends, its
columns in another order, with columns of somebody's own or with blank lines. All that is read, and a new line is
written as the others are. What could be misread is refused.
"""

from __future__ import annotations

import codecs
import csv
import io
import os
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO, NamedTuple

from bank.cells import guarded, unguarded
from bank.errors import BadInput, Place, Problem
from bank.files import at_once, cannot_write, note_change, replacing

_DELIMITERS = (",", ";", "\t")
LARGEST = 64 << 20
"""Bytes of a trail that is still read. Our own bound."""


class _Table(NamedTuple):
    """A trail as it stands in its file."""

    encoding: str
    delimiter: str
    columns: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    """Line number and cells, as many as there are columns; blank lines are left out."""
    ended: bool
    """Whether the last line ends with a line break."""


def read_rows(path: Path, columns: Sequence[str], needed: Sequence[str]) -> tuple[tuple[int, dict[str, str]], ...]:
    """Return line number and cells by column of each row of the trail at *path*, none where there is no such file.

    Of *columns* those *needed* must be there; cells of the others are empty where they are missing. Further columns
    are passed over.

    Raises:
        BadInput: the file cannot be read safely (``decisions-damaged``).
    """
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise BadInput(damaged(path, 0, error.strerror or str(error))) from error
    table = _table(path, raw, needed)
    places = {name: place for place, name in enumerate(table.columns)}
    return tuple([
        (number, {name: unguarded(row[places[name]]).strip() if name in places else "" for name in columns})
        for number, row in table.rows
    ])


def _table(path: Path, raw: bytes, needed: Sequence[str]) -> _Table:
    if len(raw) > LARGEST:
        raise BadInput(damaged(path, 0, "it is too long"))
    text, encoding = _decoded(path, raw)
    if "\x00" in text:
        raise BadInput(damaged(path, 0, "it is not a table of text"))
    first = text.split("\n", 1)[0].rstrip("\r")
    skipped = 1 if first.lower().startswith("sep=") else 0  # a line of some spreadsheets, for themselves
    body = text.split("\n", 1)[1] if skipped and "\n" in text else text
    for delimiter in _DELIMITERS:
        reader = csv.reader(io.StringIO(body, newline=""), delimiter=delimiter, strict=True)
        try:
            columns = tuple([name.strip().lower() for name in next(reader, [])])
            if not set(needed) <= set(columns):
                continue
            while columns and not columns[-1]:
                columns = columns[:-1]
            if len(set(columns)) != len(columns):
                raise BadInput(damaged(path, 1 + skipped, "a column stands twice"))
            rows = tuple(_rows(path, reader, columns, skipped))
        except csv.Error as error:
            raise BadInput(damaged(path, reader.line_num + skipped, str(error))) from error
        return _Table(encoding, delimiter, columns, rows, text.endswith("\n"))
    raise BadInput(damaged(path, 1 + skipped, f"its first line does not name the columns {', '.join(needed)}"))


def _rows(path: Path, reader: Iterator[list[str]], columns: Sequence[str], skipped: int) -> Iterator[
    tuple[int, tuple[str, ...]]
]:
    problems = []
    before = skipped + 1
    for row in reader:
        number, before = before + 1, reader.line_num + skipped  # type: ignore[attr-defined]
        while row and not row[-1].strip():
            row.pop()
        if len(row) > len(columns):
            problems.append(damaged(path, number, f"{len(row)} cells stand where {len(columns)} should"))
        elif row:
            yield number, (*row, *[""] * (len(columns) - len(row)))
    if problems:
        raise BadInput(problems)


def _decoded(path: Path, raw: bytes) -> tuple[str, str]:
    """Return the text of *raw* and its encoding, by its byte order mark, else UTF-8."""
    for mark, encoding in ((codecs.BOM_UTF8, "utf-8-sig"), (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16")):
        if raw.startswith(mark):
            break
    else:
        encoding = "utf-8"
    try:
        return raw.decode(encoding), encoding
    except UnicodeDecodeError as error:
        wrong = "it is not in UTF-8; let the spreadsheet save it as CSV in UTF-8"
        raise BadInput(damaged(path, raw.count(b"\n", 0, error.start) + 1, wrong)) from error


def damaged(path: Path, line: int, wrong: str) -> Problem:
    """Return the problem that says why the trail at *path* cannot be read."""
    return Problem(
        "decisions-damaged", Place(str(path), line, 1 if line else 0), "",
        f"the file of decisions cannot be read: {wrong}",
        "mend that line, or put the file aside and record the decisions again",
    )


@contextmanager
def added(
    path: Path, columns: Sequence[str], needed: Sequence[str]
) -> Iterator[Callable[[Mapping[str, str]], None]]:
    """Give a function that takes a line, cells by column, for the trail at *path*; they are added on leaving well.

    Nobody else adds meanwhile. Lines are written as those that stand there are; columns that an old trail lacks are
    added to all its lines.

    Raises:
        BadInput: what stands there cannot be read (``decisions-damaged``), or it cannot be written (``cannot-write``).
    """
    lines: list[Mapping[str, str]] = []
    with _held(path, columns) as file:
        yield lines.append
        if not lines:
            return
        raw = path.read_bytes()
        table = _table(path, raw, needed)
        try:
            if set(columns) <= set(table.columns) and table.encoding != "utf-16":
                _append(file, table, lines)
                note_change(path)
            else:
                _write_anew(path, table, columns, lines)
        except OSError as error:
            raise BadInput(cannot_write(path, error)) from error


def _append(file: IO[bytes], table: _Table, lines: Sequence[Mapping[str, str]]) -> None:
    text = ("" if table.ended else "\r\n") + _written([_cells(table.columns, line) for line in lines], table.delimiter)
    file.write(text.encode())
    file.flush()
    os.fsync(file.fileno())


def _write_anew(path: Path, table: _Table, columns: Sequence[str], lines: Sequence[Mapping[str, str]]) -> None:
    header = (*table.columns, *[name for name in columns if name not in table.columns])
    rows = [[*row, *[""] * (len(header) - len(row))] for _, row in table.rows]
    rows += [_cells(header, line) for line in lines]
    with at_once(), replacing(path) as part:
        part.write_bytes(_written([header, *rows], table.delimiter).encode("utf-8-sig" if "sig" in table.encoding else "utf-8"))


def _cells(columns: Sequence[str], line: Mapping[str, str]) -> list[str]:
    return [guarded(line.get(name, "")) for name in columns]


def _written(rows: Sequence[Sequence[str]], delimiter: str) -> str:
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=delimiter, lineterminator="\r\n").writerows(rows)
    return text.getvalue()


@contextmanager
def _held(path: Path, columns: Sequence[str]) -> Iterator[IO[bytes]]:
    """Give the file at *path*, made with its header where it is missing, for adding, and keep all others waiting."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        while True:
            if not path.exists():
                _create(path, _written([columns], ",").encode())
            file = path.open("ab")
            _lock(file)
            if path.exists() and os.path.samestat(os.fstat(file.fileno()), path.stat()):
                break
            file.close()  # somebody has put another file in its place meanwhile
    except OSError as error:
        raise BadInput(cannot_write(path, error)) from error
    with file:
        yield file


def _create(path: Path, content: bytes) -> None:
    """Make the file *path* with its whole content at once, unless somebody else has made it meanwhile."""
    name = _set_aside(path, content)
    try:
        os.link(name, path)
    except FileExistsError:
        pass
    except OSError:  # a file system without links
        with suppress(FileExistsError), path.open("xb") as made:
            made.write(content)
    finally:
        os.unlink(name)


def _set_aside(path: Path, content: bytes) -> str:
    """Return the name of a file beside *path* that holds *content*, flushed to the disk."""
    number, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    with open(number, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.chmod(name, 0o666 & ~_umask())
    return name


def _umask() -> int:
    mask = os.umask(0o022)
    os.umask(mask)
    return mask


def _lock(file: IO[bytes]) -> None:
    try:
        import fcntl
    except ImportError:  # a system without it: lines added at once may then meet
        return
    fcntl.flock(file.fileno(), fcntl.LOCK_EX)
