"""A bank's fingerprint: a digest of all that the file holds, made while it is written and again by whoever checks it.

It tells two banks apart and finds damage and changes by hand. It is no seal: who changes a bank with a program can
work it out anew; then it differs from the one on the review page and in the packages.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from hashlib import blake2b
from typing import Any

from bank.digests import letters
from bank.model import BankInfo, Family, Quiz
from bank.store._lines import dumps
from bank.store._packing import Sharing
from bank.store._records import family_out, info_out, quiz_out

Row = tuple[Any, ...]
"""A row of a table: texts and whole numbers."""
ItemRow = tuple[str, str, str, str]
"""Identifier, template, band and packed content of an item."""

TABLES = """
CREATE TABLE about (name TEXT PRIMARY KEY, content TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE families (template TEXT PRIMARY KEY, content TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE items (position INTEGER PRIMARY KEY, identifier TEXT NOT NULL, template TEXT NOT NULL,
    band TEXT NOT NULL, content TEXT NOT NULL);
CREATE TABLE quizzes (position INTEGER PRIMARY KEY, identifier TEXT NOT NULL, content TEXT NOT NULL);
CREATE TABLE shared (number INTEGER PRIMARY KEY, content TEXT NOT NULL);
CREATE UNIQUE INDEX items_by_identifier ON items (identifier)
""".strip().split(";\n")
"""What makes the tables and their index."""
FINGERPRINT = "fingerprint"
"""Name of the one row that is no content: the fingerprint itself."""
_SELECTS = {
    "about": f"SELECT name, content FROM about WHERE name <> '{FINGERPRINT}' ORDER BY name",
    "families": "SELECT template, content FROM families ORDER BY template",
    "items": "SELECT position, identifier, template, band, content FROM items ORDER BY position",
    "quizzes": "SELECT position, identifier, content FROM quizzes ORDER BY position",
    "shared": "SELECT number, content FROM shared ORDER BY number",
}
"""All rows of each table, in the order in which they are digested."""


def content_of(
    info: BankInfo, families: Iterable[Family], quizzes: Iterable[Quiz], items: Iterable[ItemRow], summary: str
) -> Iterator[tuple[str, Iterable[Row]]]:
    """Yield each table with its rows, to be taken in the order of `_SELECTS` and to their ends."""
    yield "about", [("info", info_out(info)), ("summary", summary)]
    yield "families", sorted([(family.key, family_out(family)) for family in families])
    sharing = Sharing()
    yield "items", (
        (position, identifier, template, band, sharing.kept(content))
        for position, (identifier, template, band, content) in enumerate(items, 1)
    )
    yield "quizzes", [(place, quiz.identifier, quiz_out(quiz)) for place, quiz in enumerate(quizzes, 1)]
    yield "shared", sharing.lines()


class Fingerprint:
    """The digest on its way."""

    def __init__(self) -> None:
        self._digest = blake2b(digest_size=16)
        for statement in TABLES:
            self._add(statement)

    def _add(self, *row: Any) -> None:
        line = dumps(row).encode("utf-8", "surrogatepass")
        self._digest.update(b"%d:%b" % (len(line), line))

    def through(self, table: str, rows: Iterable[Row]) -> Iterator[Row]:
        """Give the *rows* of *table*, each digested on its way."""
        self._add(table)
        update = self._digest.update
        for row in rows:
            line = dumps(row).encode("utf-8", "surrogatepass")
            update(b"%d:%b" % (len(line), line))
            yield row

    def text(self) -> str:
        """Return it as it is written: sixteen letters (80 bits) in groups of four."""
        whole = letters(self._digest.digest(), 16)
        return "-".join([whole[first : first + 4] for first in range(0, 16, 4)])


def fingerprint_of(
    info: BankInfo, families: Iterable[Family], quizzes: Iterable[Quiz], items: Iterable[ItemRow], summary: str
) -> str:
    """Return the fingerprint that a bank with this content will have."""
    made = Fingerprint()
    for table, rows in content_of(info, families, quizzes, items, summary):
        for _ in made.through(table, rows):
            pass
    return made.text()


def tables_are_ours(connection: sqlite3.Connection) -> bool:
    """Return whether an open file has the tables and the index of a bank and nothing else: no view, no trigger.

    Asked before anything is read from them, for what stands in place of a table may never come to an end.

    Raises:
        sqlite3.Error: the file cannot be read.
    """
    found = connection.execute("SELECT type, sql FROM sqlite_master WHERE sql IS NOT NULL").fetchmany(2 * len(TABLES))
    return sorted(found) == sorted([("index" if " INDEX " in sql else "table", sql) for sql in TABLES])


def fingerprint_in(connection: sqlite3.Connection) -> str:
    """Return the fingerprint of what an open bank file holds now.

    Raises:
        sqlite3.DatabaseError: the file cannot be read.
        TypeError: a row holds what no build writes.
    """
    made = Fingerprint()
    for table, select in _SELECTS.items():
        for _ in made.through(table, connection.execute(select)):
            pass
    return made.text()
