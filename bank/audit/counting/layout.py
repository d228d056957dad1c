"""Where what stands in a results table: the columns of canonical CSV, long (a row a pupil and item) or wide (a row a
pupil, a column an item), and the careful reading of single lines.

Canonical CSV is UTF-8 with a header. A line break always ends a row: a row whose quotation mark is not closed on its
line harms no other row.
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bank.audit.counting.keys import QuizKey
from bank.errors import BadInput, Place, Problem

COLUMNS = ("pupil", "group", "quiz", "item", "version", "response", "status", "attempt")
"""Names of columns that mean something beside the items of a wide table; others are passed over."""

SEPARATORS = (",", ";", "\t")
MARK = b"\xef\xbb\xbf"
"""Byte order mark of UTF-8."""
LONGEST_HEADER = 1 << 22
MOST_COLUMNS = 5_000
"""Columns of a table. Our own bound: a column an item of the longest quiz that a plan can hold, several times."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Layout:
    """Columns of one file, counted from 0; -1 where there is none."""

    separator: str
    columns: int
    pupil: int
    group: int = -1
    quiz: int = -1
    attempt: int = -1
    item: int = -1
    """-1 in a wide table."""
    response: int = -1
    version: int = -1
    status: int = -1
    items: tuple[tuple[int, str], ...] = ()
    """(column, item) of a wide table."""
    start: int = 0
    """Bytes before the second line."""

    @property
    def wide(self) -> bool:
        """Return whether it has a column an item."""
        return self.item < 0


def read_layout(path: Path, keys: Sequence[QuizKey]) -> Layout:
    """Return the layout of the canonical CSV file at *path*, by its header.

    Raises:
        BadInput: it cannot be read (``cannot-read``) or the header is none of a canonical table (``results-header``).
    """
    try:
        with path.open("rb") as file:
            line = file.readline(LONGEST_HEADER)
    except OSError as error:
        raise BadInput(Problem("cannot-read", Place(str(path)), "", error.strerror or str(error))) from None
    text = line.removeprefix(MARK).rstrip(b"\r\n")
    separator = max(SEPARATORS, key=lambda one: text.count(one.encode()))
    cells = fields_of(text, separator)
    if isinstance(cells, str):
        raise _bad_header(path, f"the header cannot be read: {cells}")
    names = [cell.decode().strip() for cell in cells]
    if len(names) > MOST_COLUMNS:
        raise _bad_header(path, f"the header has {len(names):,} columns, more than {MOST_COLUMNS:,}")
    if any(count > 1 for name, count in Counter(names).items() if name):
        raise _bad_header(path, "the header names a column twice")
    place = {name.lower(): at for at, name in enumerate(names) if name.lower() in COLUMNS}
    known = {item for key in keys for item in key.items}
    layout = Layout(
        separator=separator, columns=len(names), start=len(line),
        **{name: place.get(name, -1) for name in COLUMNS},
        items=() if "item" in place else tuple((at, name) for at, name in enumerate(names) if name in known),
    )
    _check(path, layout, keys)
    return layout


def _check(path: Path, layout: Layout, keys: Sequence[QuizKey]) -> None:
    if layout.pupil < 0:
        raise _bad_header(path, "no column is named pupil")
    if layout.wide and not layout.items:
        raise _bad_header(path, "no column is named item, and none after an item of the quizzes")
    if not layout.wide and layout.response < 0:
        raise _bad_header(path, "no column is named response")
    if layout.quiz < 0 and len(keys) != 1:
        raise _bad_header(path, f"no column is named quiz, but there are {len(keys)} quizzes")


def _bad_header(path: Path, wrong: str) -> BadInput:
    remedy = "the first line must name the columns: pupil, group, quiz, item, response; or pupil, group, and the items"
    return BadInput(Problem("results-header", Place(str(path), 1, 1), "", wrong, remedy))


def fields_of(line: bytes, separator: str) -> list[bytes] | str:
    """Return the fields of one *line* without its end, or why it has none."""
    if b"\0" in line:
        return "the row holds a zero byte"
    if b"\r" in line:
        return "the row holds a carriage return"
    try:
        text = line.decode()
    except UnicodeDecodeError as error:
        return f"the row is not UTF-8 (byte {error.start + 1} of it)"
    if '"' not in text:
        return line.split(separator.encode())
    try:
        (cells,) = csv.reader([text], delimiter=separator, strict=True)
    except csv.Error:
        return "a quotation mark is not closed on its line, or something follows it"
    return [cell.encode() for cell in cells]
