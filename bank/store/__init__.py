"""The bank file: one SQLite file that holds a term's items, its quizzes and what was said of them.

An item is kept as what cannot be derived, and what many items share is kept once, see `bank.store._packing`. A worked
solution is carried out anew on reading and must give the key that is kept, so that a solution always belongs to its
very item.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing
from dataclasses import asdict
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any, TypeVar

from bank.errors import BadInput, Place, Problem
from bank.files import cannot_write, replacing
from bank.model import BankInfo, Expression, Family, Item, Leaf, Line, Locale, Quiz, Section, Unit
from bank.numerals import Numeral
from bank.store._kinds import KINDS, kind_of
from bank.store._lines import dumps, loads
from bank.store._packing import Sharing, pack
from bank.store._reading import ItemAnswers, Reader, answers_of, unpack
from bank.store._without import Gaps, Shelf, Source, shortened

__all__ = [
    "Alike", "Bank", "KINDS", "ItemAnswers", "Shelf", "Source", "answers_of", "family_in", "family_out", "kind_of", "pack", "shortened",
    "unpack", "write_bank",
]

APPLICATION_ID = 0x53744D77
"""Marks an SQLite file as a bank of ours ("StMw")."""
FORMAT = 2
"""Version of the file's layout; a higher one was written by a newer tool. 1 knew choices and typed numbers only, kept
just as now."""
_SQLITE_STAMP = (96, (3_040_000).to_bytes(4, "big"))
"""Header field that names the SQLite release which wrote last; made constant so that equal banks are equal bytes."""

_Read = TypeVar("_Read")
_Row = tuple[str, str, str]
"""Identifier, template and content of an item."""

Alike = tuple[str, str, str, int]
"""Equal for items that differ in numbers only: template, stem, manner of response, number of answers."""

_TABLES = """
CREATE TABLE about (name TEXT PRIMARY KEY, content TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE families (template TEXT PRIMARY KEY, content TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE quizzes (position INTEGER PRIMARY KEY, identifier TEXT NOT NULL, content TEXT NOT NULL);
CREATE TABLE items (position INTEGER PRIMARY KEY, identifier TEXT NOT NULL, template TEXT NOT NULL,
    band TEXT NOT NULL, content TEXT NOT NULL);
CREATE TABLE shared (number INTEGER PRIMARY KEY, content TEXT NOT NULL);
"""
_INDEX = "CREATE UNIQUE INDEX items_by_identifier ON items (identifier)"
DAMAGE = (ValueError, TypeError, KeyError, IndexError, AttributeError)
"""What reading something that no build wrote raises."""


def _leaf_out(leaf: Leaf) -> Any:
    if isinstance(leaf, str):
        return leaf
    if isinstance(leaf, Numeral):
        return [leaf.coefficient, leaf.places]
    return {"x": [_leaf_out(part) for part in leaf.parts]}


def _leaf_in(kept: Any) -> Leaf:
    if isinstance(kept, str):
        return kept
    if isinstance(kept, list):
        return Numeral(kept[0], kept[1])
    return Expression(tuple([_leaf_in(part) for part in kept["x"]]))  # type: ignore[misc]


def _lines_out(lines: Iterable[Line]) -> list[list[Any]]:
    return [[_leaf_out(leaf) for leaf in line] for line in lines]


def _lines_in(kept: list[list[Any]]) -> tuple[Line, ...]:
    return tuple([tuple([_leaf_in(leaf) for leaf in line]) for line in kept])


def family_out(family: Family) -> str:
    """Return *family* as JSON."""
    kept = asdict(family)
    kept["hint"], kept["praise"] = _lines_out(family.hint), _lines_out(family.praise)
    return dumps(kept)


def family_in(content: str) -> Family:
    """Return the family that `family_out` wrote."""
    kept = json.loads(content)
    unit = kept.pop("unit")
    return Family(
        **{
            **kept,
            "unit": Unit(**unit) if unit else None,
            "codes": tuple(kept["codes"]),
            "hint": _lines_in(kept["hint"]),
            "praise": _lines_in(kept["praise"]),
        }
    )


def _quiz_in(content: str) -> Quiz:
    kept = json.loads(content)
    sections = tuple(Section(**{**part, "items": tuple(part["items"])}) for part in kept.pop("sections"))
    return Quiz(sections=sections, **kept)


def _info_in(content: str) -> BankInfo:
    kept = json.loads(content)
    locale = kept.pop("locale")
    locale["also_accepted_marks"] = tuple(locale["also_accepted_marks"])
    return BankInfo(locale=Locale(**locale), **kept)


def write_bank(
    path: Path,
    info: BankInfo,
    families: Iterable[Family],
    quizzes: Iterable[Quiz],
    items: Iterable[tuple[str, str, str, str]],
    summary: str,
) -> None:
    """Write a bank file in one step; *items* gives (identifier, template, band, packed content) in bank order.

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
                for statement in _TABLES.strip().split(";\n"):
                    bank.execute(statement)
                about = [("info", dumps(asdict(info))), ("summary", summary)]
                bank.executemany("INSERT INTO about VALUES (?, ?)", about)
                bank.executemany(
                    "INSERT INTO families VALUES (?, ?)", [(family.template, family_out(family)) for family in families]
                )
                sharing = Sharing()
                kept = sharing.kept
                bank.executemany(
                    "INSERT INTO items (identifier, template, band, content) VALUES (?, ?, ?, ?)",
                    ((identifier, template, band, kept(content)) for identifier, template, band, content in items),
                )
                bank.executemany("INSERT INTO shared VALUES (?, ?)", sharing.lines())
                bank.executemany(
                    "INSERT INTO quizzes (identifier, content) VALUES (?, ?)",
                    [(quiz.identifier, dumps(asdict(quiz))) for quiz in quizzes],
                )
                bank.execute(_INDEX)
                bank.execute("COMMIT")
        except sqlite3.OperationalError as error:
            raise BadInput(cannot_write(path, OSError(str(error)))) from error
        with part.open("rb+") as written:
            written.seek(_SQLITE_STAMP[0])
            written.write(_SQLITE_STAMP[1])


class Bank:
    """A bank file open for reading; a context manager. See `Bank.open`."""

    def __init__(self, path: Path, connection: sqlite3.Connection, without: frozenset[str] = frozenset()) -> None:
        self.path = path
        self.without = without
        """Items that are passed over as if they were not there; quizzes are shorter by them."""
        self._connection = connection
        self.info: BankInfo = _info_in(self._about("info"))
        self.summary: str = self._about("summary")
        self.families: dict[str, Family] = {
            template: family_in(content)
            for template, content in connection.execute("SELECT template, content FROM families ORDER BY template")
        }
        self.quizzes: tuple[Quiz, ...] = tuple(
            shortened(_quiz_in(content), without) for (content,) in connection.execute("SELECT content FROM quizzes ORDER BY position")
        )
        self._reader = Reader(self._shared_line)
        self._gaps = Gaps(self._positions(without))
        self.count: int = connection.execute("SELECT count(*) FROM items").fetchone()[0] - self._gaps.count

    @classmethod
    def open(cls, where: Source) -> Bank:
        """Open a bank file for reading, as if it did not hold the items that a shelf leaves out.

        Raises:
            BadInput: there is no such file (``bank-missing``), it is no bank (``bank-foreign``), a newer tool
                wrote it (``bank-newer``), or it is damaged (``bank-damaged``).
        """
        path, without = where if isinstance(where, Shelf) else Shelf(where)
        place = Place(str(path))
        if not path.is_file():
            raise BadInput(Problem(
                "bank-missing", place, "", "there is no such bank file", "name the bank.sqlite that a build wrote"
            ))
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro&immutable=1", uri=True)
        try:
            application = connection.execute("PRAGMA application_id").fetchone()[0]
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            if application != APPLICATION_ID:
                raise BadInput(_foreign(place))
            if version > FORMAT:
                raise BadInput(Problem(
                    "bank-newer", place, "", f"the bank has layout {version}, this tool reads up to {FORMAT}",
                    "use the newer tool that wrote it, or build it anew with this one",
                ))
            return cls(path, connection, without)
        except sqlite3.DatabaseError as error:
            connection.close()
            raise BadInput(_foreign(place) if "not a database" in str(error) else _damaged(place, error)) from error
        except DAMAGE as error:
            connection.close()
            raise BadInput(_damaged(place, error)) from error
        except BaseException:
            connection.close()
            raise

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

    def identifiers(self) -> list[str]:
        """Return the item ids in bank order."""
        found = self._connection.execute("SELECT identifier FROM items ORDER BY position")
        return [identifier for (identifier,) in found if identifier not in self.without]

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
        except (sqlite3.DatabaseError, *DAMAGE) as error:
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
                stem, _, manner, *answers = content[content.rindex("],") + 2 : -1].split(",")
                if manner not in plain:
                    plain[manner] = self._shared_line(int(manner)).startswith(('["choice"', '["number"'))
                yield identifier, (template, stem, manner, len(answers)) if plain[manner] else None
        except (sqlite3.DatabaseError, *DAMAGE) as error:
            raise BadInput(_damaged(Place(str(self.path)), error, identifier)) from error

    def _rows(self, identifiers: Sequence[str] | None, start: int, stop: int | None) -> Iterator[_Row]:
        if identifiers is not None:
            return self._rows_named(identifiers)
        ends = start, self.count if stop is None else stop
        rows = self._connection.execute(
            "SELECT identifier, template, content FROM items WHERE position > ? AND position <= ? ORDER BY position",
            tuple(map(self._gaps.position, ends)),
        )
        return rows if not self.without else (row for row in rows if row[0] not in self.without)

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
        except (sqlite3.DatabaseError, *DAMAGE) as error:
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


def _foreign(place: Place) -> Problem:
    return Problem("bank-foreign", place, "", "this file is not a bank of Stemwright",
                   "name the bank.sqlite that a build wrote")


def _damaged(place: Place, error: Exception, identifier: str = "") -> Problem:
    where = f" at item {identifier}" if identifier else ""
    return Problem("bank-damaged", place, "", f"the bank file is damaged{where} ({error})", "build it anew")
