"""A teacher's own list of codes, read to turn digests back into codes: in memory only, nothing of it is kept."""

from __future__ import annotations

import csv
from pathlib import Path

from bank.audit.pseudonyms import Salt, plain_heading
from bank.errors import BadInput, Place, Problem
from bank.ordinary import refuse_odd_file

LARGEST = 16 << 20
"""Bytes of a list. Our own bound."""
_HEADINGS = frozenset(("code", "codes", "pupil", "pupil code", "student code", "pseudonym", "pupil id", "student id"))


def read_codes(path: Path) -> tuple[str, ...]:
    """Return the codes in the file *path*, each once: a code a line, or a table with a column headed code or pupil.

    In a table without such a heading the first column holds the codes; other columns, such as names, are passed over.

    Raises:
        BadInput: the file cannot be read (``codes-unreadable``) or holds no code (``codes-none``).
    """
    refuse_odd_file(path, "codes-unreadable", "name the file with your codes, a code a line")
    try:
        with path.open("rb") as file:
            content = file.read(LARGEST + 1)
        if len(content) > LARGEST:
            raise BadInput(_problem("codes-unreadable", path, "the list is too long", "name the list of codes"))
        text = content.decode("utf-16" if content[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except (OSError, ValueError) as error:
        why = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise BadInput(_problem("codes-unreadable", path, f"cannot be read ({why})", "save it as UTF-8 text")) from None
    lines = [line for line in text.splitlines() if line.strip()]
    first = lines[0] if lines else ""
    delimiter = max(",;\t", key=first.count)
    rows = list(csv.reader(lines, delimiter=delimiter))
    column = next((place for place, cell in enumerate(rows[0]) if plain_heading(cell) in _HEADINGS), -1) if rows else -1
    cells = [row[max(0, column)].strip() for row in rows[column >= 0 :] if len(row) > max(0, column)]
    codes = tuple(dict.fromkeys(cell for cell in cells if cell))
    if not codes:
        raise BadInput(_problem("codes-none", path, "there is no code in it", "write a code a line"))
    return codes


def codes_by_digest(codes: tuple[str, ...], salt: Salt) -> dict[str, str]:
    """Return *codes* by their digests, in their order."""
    return {salt.digest(code): code for code in codes}


def _problem(code: str, path: Path, wrong: str, remedy: str) -> Problem:
    return Problem(code, Place(str(path)), "", wrong, remedy)
