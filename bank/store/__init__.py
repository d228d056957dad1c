"""The bank file: one SQLite file that holds a term's items, its quizzes and what was said of them.

An item is kept as what cannot be derived, and what many items share is kept once, see `bank.store._packing`. A worked
solution is carried out anew on reading and must give the key that is kept, so that a solution always belongs to its
very item.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import replace
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from bank import sources
from bank.errors import BadInput, Place, Problem
from bank.files import cannot_write, replacing
from bank.model import BankInfo, Family, Item, Quiz
from bank.run import settle
from bank.store._fingerprint import FINGERPRINT, TABLES, Fingerprint, ItemRow, content_of, fingerprint_in, fingerprint_of, tables_are_ours
from bank.store._kinds import KINDS, kind_of
from bank.store._lines import SILENT, loads
from bank.store._packing import pack
from bank.store._reading import ItemAnswers, Reader, answers_of, unpack
from bank.store._records import family_in, family_out, info_in, own_setting, quiz_in
from bank.store._without import Gaps, Shelf, Source, lengthened, shortened

__all__ = [
    "Alike", "Bank", "KINDS", "ItemAnswers", "ItemRow", "Shelf", "Source", "answers_of", "family_in", "family_out",
    "fingerprint_of", "kind_of", "own_setting", "pack", "shortened",
    "unpack", "write_bank",
]

APPLICATION_ID = 0x53744D77
"""Marks an SQLite file as a bank of ours ("StMw")."""
FORMAT = 3
"""Version of the file's layout; a higher one was written by a newer tool. Up to 2 a bank had no fingerprint, and one id
could name two questions."""
_SQLITE_STAMP = (96, (3_040_000).to_bytes(4, "big"))
"""Header field that names the SQLite release which wrote last; made constant so that equal banks are equal bytes."""

_Read = TypeVar("_Read")
_Row = tuple[str, str, str]
"""Identifier, template and content of an item."""

_INSERTS = {
    "about": "INSERT INTO about VALUES (?, ?)", "families": "INSERT INTO families VALUES (?, ?)",
    "items": "INSERT INTO items VALUES (?, ?, ?, ?, ?)", "quizzes": "INSERT INTO quizzes VALUES (?, ?, ?)",
    "shared": "INSERT INTO shared VALUES (?, ?)",
}

Alike = tuple[str, str, str, int]
"""Equal for items that differ in numbers only: template, stem, manner of response, number of answers."""

LONGEST = 256 * 1024 * 1024
"""Bytes of a text in the file; the summary of a large bank has a few million."""
DAMAGE = (
    ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError, MemoryError, sqlite3.Error,
)
"""What reading something that no build wrote raises."""


def write_bank(
    path: Path,
    info: BankInfo,
    families: Iterable[Family],
    quizzes: Iterable[Quiz],
    items: Iterable[ItemRow],
    summary: str,
) -> None:
    """Write a bank file in one step; *items* gives (identifier, template, band, packed content) in bank order.

    Its fingerprint is worked out on the way and kept in it; one in *info* is of another bank and is not looked at.

    Raises:
        BadInput: the file cannot be written (``cannot-write``); an older file stays as it was.
    """
    with replacing(path) as part:
        try:
            with closing(sqlite3.connect(part, isolation_level=None)) as bank:
                for setting in (f"application_id={APPLICATION_ID}", f"user_version={FORMAT}", "page_size=8192",
                                "journal_mode=OFF", "synchronous=OFF", "locking_mode=EXCLUSIVE", "cache_size=-8000"):
                    bank.execute(f"PRAGMA {setting}")
                bank.execute("BEGIN")
                *tables, index = TABLES
                for statement in tables:
                    bank.execute(statement)
                fingerprint = Fingerprint()
                for table, rows in content_of(info, families, quizzes, items, summary):
                    bank.executemany(_INSERTS[table], fingerprint.through(table, rows))
                bank.execute(_INSERTS["about"], (FINGERPRINT, fingerprint.text()))
                bank.execute(index)
                bank.execute("COMMIT")
        except sqlite3.OperationalError as error:
            raise BadInput(cannot_write(path, OSError(str(error)))) from error
        with part.open("rb+") as written:
            written.seek(_SQLITE_STAMP[0])
            written.write(_SQLITE_STAMP[1])


class Bank:
    """A bank file open for reading; a context manager. See `Bank.open`."""

    def __init__(self, shelf: Shelf, connection: sqlite3.Connection) -> None:
        self.shelf = shelf
        """What was opened, for other processes to open it likewise."""
        self.path, self.without = shelf.path, shelf.without
        """Items that are passed over as if they were not there; quizzes are shorter by them."""
        self._connection = connection
        info = info_in(self._about("info"), self._about(FINGERPRINT))
        self.info: BankInfo = replace(info, in_part=True) if shelf.unlisted else info
        """What the bank says of itself; its fingerprint is the one kept, which `check` works out again."""
        self.summary: str = self._about("summary")
        self.families: dict[str, Family] = {
            template: family_in(content)
            for template, content in connection.execute("SELECT template, content FROM families ORDER BY template")
        }
        read = connection.execute("SELECT content FROM quizzes ORDER BY position")
        quizzes = [shortened(quiz_in(content), shelf.without) for (content,) in read]
        self.quizzes: tuple[Quiz, ...] = tuple(map(lengthened, quizzes) if shelf.withdrawn else quizzes)
        hidden = () if shelf.withdrawn else [item for quiz in quizzes for item in quiz.withdrawn]
        self._hidden = shelf.without.union(hidden, shelf.unlisted)
        """Items that are passed over; what was withdrawn or is not listed is given where it is named."""
        self._reader = Reader(self._shared_line)
        self._gaps = Gaps(self._positions(self._hidden))
        self.count: int = connection.execute("SELECT count(*) FROM items").fetchone()[0] - self._gaps.count

    @classmethod
    def checked(cls, where: Source) -> Bank:
        """Open a bank file as `open` does, and check that it holds what was written: whoever uses a bank asks this.

        Raises:
            BadInput: as `open` and `check`.
        """
        opened = cls.open(where)
        try:
            opened.check()
        except BaseException:
            opened.close()
            raise
        return opened

    @classmethod
    def open(cls, where: Source, *, known: str = "") -> Bank:
        """Open a bank file for reading, as if it did not hold the items that a shelf leaves out.

        Where a fingerprint is *known*, it must be the bank's.
        Items that a shelf does not list are read where they are named, and missed where all are asked for.

        Raises:
            BadInput: there is no such file (``bank-missing``), it is no bank (``bank-foreign``), a newer or older tool
                wrote it (``bank-newer``, ``bank-older``), it is damaged (``bank-damaged``), or it is another bank than
                the one that is known (``bank-replaced``).
        """
        shelf = where if isinstance(where, Shelf) else Shelf(where)
        path = shelf.path
        place = Place(str(path))
        settle(path.parent)
        if not path.is_file():
            raise BadInput(Problem(
                "bank-missing", place, "", "there is no such bank file", "name the bank.sqlite that a build wrote"
            ))
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        try:
            connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, LONGEST)
            application = connection.execute("PRAGMA application_id").fetchone()[0]
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            if application != APPLICATION_ID:
                raise BadInput(_foreign(place))
            if version > FORMAT:
                raise BadInput(Problem(
                    "bank-newer", place, "", f"the bank has layout {version}, this tool reads up to {FORMAT}",
                    "use the newer tool that wrote it, or build it anew with this one",
                ))
            if version < FORMAT:
                raise BadInput(Problem(
                    "bank-older", place, "", f"the bank has layout {version}; this tool reads layout {FORMAT}",
                    "build it again from its plan; read results of packages made from it with the version that wrote it",
                ))
            if not _is_whole(path):
                raise ValueError("it is not as long as it says")
            if not tables_are_ours(connection):
                raise ValueError("its tables are not those of a bank")
            opened = cls(shelf, connection)
            if known and opened.fingerprint != known:
                raise BadInput(Problem(
                    "bank-replaced", place, "", "another bank was put in its place while it was read", "try again",
                ))
            return opened
        except DAMAGE as error:
            connection.close()
            raise BadInput(_foreign(place) if "not a database" in str(error) else _damaged(place, error)) from error
        except BaseException:
            connection.close()
            raise

    def own_setting(self, name: str) -> sources.Source | None:
        """Return the file *name*, one of `bank.trees.SETTINGS`, that the bank was built with, None for the usual one."""
        return own_setting(self.info, name)

    def _about(self, name: str) -> str:
        found = self._connection.execute("SELECT content FROM about WHERE name = ?", (name,)).fetchone()
        if not found:
            raise ValueError(f"its part {name!r} is missing")
        return str(found[0])

    def _shared_line(self, number: int) -> str:
        found = self._connection.execute("SELECT content FROM shared WHERE number = ?", (number,)).fetchone()
        if not found:
            raise ValueError(f"the shared line {number} is missing")
        return str(found[0])

    @property
    def fingerprint(self) -> str:
        """Digest of all that the file holds, as it was when the bank was written: sixteen letters in groups of four."""
        return self.info.fingerprint

    def check(self) -> None:
        """Work the fingerprint out again over the whole file, in one pass.

        Raises:
            BadInput: the file holds something else than what was written (``bank-altered``) or is damaged
                (``bank-damaged``).
        """
        place = Place(str(self.path))
        try:
            found = fingerprint_in(self._connection)
        except (sqlite3.Error, MemoryError) as error:
            raise BadInput(_damaged(place, error)) from error
        except DAMAGE:
            found = ""
        if found != self.fingerprint:
            raise BadInput(Problem(
                "bank-altered", place, "",
                f"this bank was changed after it was written: its content is not what its fingerprint {self.fingerprint} "
                "says, so no key in it can be trusted",
                "build it again from its plan, or take a copy from before the change",
            ))

    def identifiers(self) -> list[str]:
        """Return the ids of all items in bank order, but for those that a shelf passes over."""
        found = self._connection.execute("SELECT identifier FROM items ORDER BY position")
        return [identifier for (identifier,) in found if identifier not in self._hidden]

    def _positions(self, identifiers: frozenset[str]) -> Iterator[int]:
        ask = "SELECT position FROM items WHERE identifier = ?"
        for identifier in identifiers:
            yield from (row[0] for row in self._connection.execute(ask, (identifier,)))

    def templates_of(self, identifiers: Sequence[str]) -> list[str]:
        """Return the template ids of the items named, in that order; no item is made for it.

        Raises:
            BadInput: the file is damaged: an item is not there (``bank-damaged``).
        """
        try:
            return [template for _, template, _ in self._rows_named(identifiers)]
        except DAMAGE as error:
            raise BadInput(_damaged(Place(str(self.path)), error)) from error

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None,
        solutions: bool = True, answers_only: bool = False,
    ) -> Iterator[Item]:
        """Yield the items named, in that order, or all of them in bank order from *start* up to before *stop*.

        Without *solutions* their solutions stay empty, with *answers_only* their stems too: enough to compare key,
        options and scoring.

        Raises:
            BadInput: the file is damaged: an item cannot be read or is not there, or its solution does not give
                its key (``bank-damaged``).
        """
        item = self._reader.item
        if answers_only or not solutions:
            item = partial(item, solutions=solutions, answers_only=answers_only)
        return self._read(item, self._rows(identifiers, start, stop))

    def answers(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[ItemAnswers]:
        """Yield what scoring hangs on of the same items as `items` does, at a third of the cost.

        Raises:
            BadInput: the file is damaged: an item cannot be read or is not there (``bank-damaged``).
        """
        return self._read(self._reader.answers, self._rows(identifiers, start, stop))

    def alike(self) -> Iterator[tuple[str, Alike | None]]:
        """Yield the ids of items in bank order, each with what it shares with others that differ in numbers only.

        That is the template, the words of the stem, the manner of response and the number of answers; None for the
        further kinds, whose words are their own. No item is made for it.

        Raises:
            BadInput: the file is damaged (``bank-damaged``).
        """
        identifier, plain = "", {}
        try:
            for identifier, template, content in self._rows(None, 0, None):
                stem, _, manner, *answers = _shared_numbers(content)
                if manner not in plain:
                    plain[manner] = self._shared_line(int(manner)).startswith(('["choice"', '["number"'))
                yield identifier, (template, stem, manner, len(answers)) if plain[manner] else None
        except DAMAGE as error:
            raise BadInput(_damaged(Place(str(self.path)), error, identifier)) from error

    def silent(self) -> frozenset[str]:
        """Return the ids of the items that show no feedback. No item is made for it.

        Raises:
            BadInput: the file is damaged (``bank-damaged``).
        """
        identifier, found, known = "", [], {}
        try:
            for identifier, _, content in self._rows(None, 0, None):
                manner = _shared_numbers(content)[2]
                if manner not in known:
                    known[manner] = tuple(loads(self._shared_line(int(manner)))[-1:]) == SILENT
                if known[manner]:
                    found.append(identifier)
        except (sqlite3.DatabaseError, *DAMAGE) as error:
            raise BadInput(_damaged(Place(str(self.path)), error, identifier)) from error
        return frozenset(found)

    def _rows(self, identifiers: Sequence[str] | None, start: int, stop: int | None) -> Iterator[_Row]:
        if identifiers is not None:
            return self._rows_named(identifiers)
        ends = start, self.count if stop is None else stop
        rows = self._connection.execute(
            "SELECT identifier, template, content FROM items WHERE position > ? AND position <= ? ORDER BY position",
            tuple(map(self._gaps.position, ends)),
        )
        return rows if not self._hidden else (row for row in rows if row[0] not in self._hidden)

    def _rows_named(self, identifiers: Sequence[str]) -> Iterator[_Row]:
        for first in range(0, len(identifiers), 500):
            wanted = identifiers[first : first + 500]
            marks = ",".join("?" * len(wanted))
            rows = self._connection.execute(
                f"SELECT identifier, template, content FROM items WHERE identifier IN ({marks})", list(wanted)
            )
            found = {row[0]: row for row in rows}
            for identifier in wanted:
                if identifier not in found or identifier in self.without:
                    raise ValueError(f"item {identifier} is missing")
                yield found[identifier]

    def _read(
        self, reading: Callable[[str, Family, list[Any]], _Read], rows: Iterator[_Row]
    ) -> Iterator[_Read]:
        identifier = ""
        families = self.families
        try:
            for identifier, template, content in rows:
                yield reading(identifier, families[template], loads(content))
        except DAMAGE as error:
            raise BadInput(_damaged(Place(str(self.path)), error, identifier)) from error

    def close(self) -> None:
        """Close the file."""
        self._connection.close()

    def __enter__(self) -> Bank:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()


def _is_whole(path: Path) -> bool:
    """Return whether the file is as long as its header says: pages of a size, 1 meaning 65,536, and their number."""
    with path.open("rb") as file:
        header = file.read(100)
        size = int.from_bytes(header[16:18], "big")
        return file.seek(0, 2) == (65_536 if size == 1 else size) * int.from_bytes(header[28:32], "big")


def _shared_numbers(content: str) -> list[str]:
    """Return the numbers of the shared lines in an item's *content*: stem, prediction, manner of response, answers."""
    return content[content.rindex("],") + 2 : -1].split(",")


def _foreign(place: Place) -> Problem:
    return Problem("bank-foreign", place, "", "this file is not a bank of Stemwright",
                   "name the bank.sqlite that a build wrote")


def _damaged(place: Place, error: Exception, identifier: str = "") -> Problem:
    where = f" at item {identifier}" if identifier else ""
    return Problem("bank-damaged", place, "", f"the bank file is damaged{where} ({error})", "build it anew")
