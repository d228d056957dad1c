"""Canonical CSV row by row in plain Python: slow, and what the fast reader is held against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from bank.audit.counting.keys import QuizKey
from bank.audit.counting.layout import Layout, fields_of
from bank.audit.counting.outcome import Rejected
from bank.audit.counting.resolve import Resolver
from bank.audit.harmless import told
from bank.identity import answered

LARGEST_ATTEMPT = 1_000_000


class Answer(NamedTuple):
    """One answer as a file has it."""

    row: int
    pupil: str
    group: str
    quiz: str
    item: str
    version: str
    response: str
    attempt: int


def read_rows(path: Path, layout: Layout, keys: Sequence[QuizKey], rejected: Rejected) -> Iterator[Answer]:
    """Yield the answers of the file at *path*; rows that are none are added to *rejected*.

    A wide table's empty cells of items that are not in the row's quiz are passed over.
    """
    resolver, name = Resolver(keys), str(path)
    members = [frozenset(key.items) for key in keys]
    with path.open("rb") as file:
        for number, line in enumerate(file, start=1):
            if number == 1:
                continue
            line = _without_end(line)
            if not line:
                continue
            cells = _cells(line, layout)
            if isinstance(cells, str):
                rejected.add(name, number, cells)
                continue
            try:
                attempt = attempt_of(cells[layout.attempt]) if layout.attempt >= 0 else 1
                if not cells[layout.pupil]:
                    raise ValueError("the row names no pupil or no item")
                form = resolver.form(cells[layout.quiz] if layout.quiz >= 0 else "")
            except ValueError as error:
                rejected.add(name, number, str(error))
                continue
            group = cells[layout.group] if layout.group >= 0 else ""
            for item, version, response in _answers(cells, layout):
                if response or not layout.wide or answered(item) in members[form]:
                    yield Answer(number, cells[layout.pupil], group, keys[form].quiz, item, version, response, attempt)


def attempt_of(text: str) -> int:
    """Return the number of an attempt; an empty one is the first.

    Raises:
        ValueError: it is no whole number from 1 up.
    """
    if not text:
        return 1
    if text.isascii() and text.isdigit() and len(text) <= 7 and 0 < int(text) <= LARGEST_ATTEMPT:
        return int(text)
    raise ValueError(f"the attempt {told(text)} is no whole number from 1 to {LARGEST_ATTEMPT:,}")


def _without_end(line: bytes) -> bytes:
    line = line.removesuffix(b"\n").removesuffix(b"\r")
    return line


def _cells(line: bytes, layout: Layout) -> list[str] | str:
    cells = fields_of(line, layout.separator)
    if isinstance(cells, str):
        return cells
    if len(cells) != layout.columns:
        return wrong_number(len(cells), layout.columns)
    return [cell.decode() for cell in cells]


def wrong_number(found: int, wanted: int) -> str:
    """Return the words for a row with too many or too few fields."""
    return f"the row has {found} {'field' if found == 1 else 'fields'}, the header {wanted}"


def _answers(cells: Sequence[str], layout: Layout) -> Iterator[tuple[str, str, str]]:
    """Yield (item, version, response) of a row."""
    if layout.wide:
        for column, item in layout.items:
            yield item, "", cells[column]
        return
    response = cells[layout.response] or (cells[layout.status] if layout.status >= 0 else "")
    yield cells[layout.item], cells[layout.version] if layout.version >= 0 else "", response
