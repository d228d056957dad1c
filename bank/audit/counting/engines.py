"""Counting by an SQL engine where the answers lie, through any DB-API connection, with one statement.

    duckdb:                                    counts canonical CSV files; needs the extra [big]
    duckdb:PATH?answers=TABLE                  a database file
    sqlite:PATH?answers=TABLE                  in the standard library
    postgresql://USER@HOST/NAME?answers=TABLE  a server; needs the extra [postgresql]

TABLE (or view; ``answers`` where none is named) has the columns of `bank.audit.counting.statement.RELATION`. Where an
item's version is known, the item may be written ITEM@VERSION. A response may also be one of the words of
`bank.audit.counting.keys.STATES`. Files that are given are put into a temporary table, gone when the connection closes.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import closing
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from bank.audit.counting import columns, files
from bank.audit.counting._connections import connect, load_files, read_url, spoken
from bank.audit.counting.keys import REFUSED, Codebook, QuizKey
from bank.audit.counting.outcome import Counted, Rejected
from bank.audit.counting.resolve import Resolver
from bank.audit.counting.statement import (
    RELATION, Known, counting_statement, doubles_statement, key_statements, spellings_statement,
)
from bank.audit.records import NOT_GIVEN, Counts, Form
from bank.errors import BadInput, Place, Problem

MOST_WRITTEN = 2_000
"""Rows of the key that are written into the statement; more go into a temporary table, which needs the right to make
one."""
_FETCHED = 50_000
"""Rows fetched at a time."""


def count_with(
    url: str, keys: Sequence[QuizKey], paths: Sequence[Path] = (), *, attempts: str = "first"
) -> Counted:
    """Return what the engine at *url* counts: the answers in its table, or in the canonical CSV files at *paths*.

    Where DuckDB meets rows in files that do not count, the files are counted by `bank.audit.counting.files`, which says
    which rows they are; the tables are the same.

    Raises:
        BadInput: the URL, the driver, the table or a file is at fault; or the engine says that it failed.
    """
    engine = read_url(url)
    if paths and engine.name == "duckdb":
        engine = engine._replace(target="")  # cursors of one connection share no temporary view
    with spoken(engine), closing(connect(engine)) as connection:
        if not paths:
            return count_connection(connection, engine.relation, keys, attempts=attempts, named=engine.shown)
        rejected = Rejected()
        relation = load_files(engine, connection, paths, keys, rejected)
        if relation:
            counted = count_connection(
                connection, relation, keys, attempts=attempts, named=engine.shown, rejected=rejected
            )
            if engine.name != "duckdb" or not counted.rejected_rows:
                return counted
    return files.count_csv(paths, keys, attempts=attempts)


def count_connection(
    connection: Any, relation: str, keys: Sequence[QuizKey], *, attempts: str = "first", named: str = "",
    rejected: Rejected | None = None,
) -> Counted:
    """Return what a DB-API *connection* counts in *relation*; *named* stands for it in messages.

    Raises:
        BadInput: the relation lacks a column (``engine-columns``).
    """
    rejected = Rejected() if rejected is None else rejected
    # One cursor for all: some drivers share nothing temporary between cursors.
    with closing(connection.cursor()) as cursor:
        present = _columns(cursor, relation)
        missing = [name for name in RELATION if name not in present]
        if missing:
            raise BadInput(Problem(
                "engine-columns", Place(named), relation, f"lacks the columns {', '.join(missing)}",
                "make a view with the columns " + ", ".join(RELATION),
            ))
        books = [Codebook(key) for key in keys]
        attempts = attempts if "attempt" in present else ""
        spellings = _rows(cursor, spellings_statement(relation))
        known = _known(spellings, keys, books, named, rejected, bool(attempts))
        if all(one.code == REFUSED for one in known):
            return Counted(counts=(), answers=0, **_left_out(rejected))
        found, doubles = _found(cursor, relation, known, max(len(key.items) for key in keys), attempts)
    counts = _tables(found, books)
    return Counted(
        counts=counts, answers=sum(int(one.n[one.response != NOT_GIVEN].sum()) for one in counts),
        doubled=doubles.get(0, 0), contradicted=doubles.get(1, 0), **_left_out(rejected),
    )


def _found(
    cursor: Any, relation: str, known: Sequence[Known], items: int, attempts: str
) -> tuple[_Found, dict[int, int]]:
    """Return what the statement finds, and how many doubles there are (0: alike, 1: different)."""
    if len(known) > MOST_WRITTEN:
        for statement in key_statements(known, items):
            cursor.execute(statement)
        known = ()
    found = _Found(_rows(cursor, counting_statement(relation, known, items, attempts=attempts)))
    if found.once:
        return found, {}
    found = _Found(_rows(cursor, counting_statement(relation, known, items, attempts=attempts, careful=True)))
    doubles = _rows(cursor, doubles_statement(relation, known, items, attempts=attempts))
    return found, {int(differ): int(n) for differ, n in doubles}


def _left_out(rejected: Rejected) -> dict[str, Any]:
    return {"rejected": rejected.in_order(), "rejected_rows": rejected.number}


def _columns(cursor: Any, relation: str) -> set[str]:
    cursor.execute(f"select * from {relation} where 1 = 0")
    cursor.fetchall()
    return {column[0].lower() for column in cursor.description}


def _rows(cursor: Any, statement: str) -> Iterator[tuple[Any, ...]]:
    cursor.execute(statement)
    while fetched := cursor.fetchmany(_FETCHED):
        yield from fetched


def _known(
    triples: Iterable[tuple[Any, ...]], keys: Sequence[QuizKey], books: Sequence[Codebook], named: str,
    rejected: Rejected, attempts: bool,
) -> list[Known]:
    """Return the rows of the key that the relation needs; what is none is added to *rejected*.

    Refused responses are among them, with the code `REFUSED`, where there are several *attempts*: they say which one
    is the first.
    """
    resolver = Resolver(keys)
    known = []
    for quiz, item, response, n in sorted(triples):
        name, _, version = item.partition("@")
        try:
            form, place = resolver.place(quiz, name, version)
        except ValueError as error:
            rejected.add(named, 0, f"{error} ({n} rows)", int(n))
            continue
        try:
            code = books[form].code(place, response)
        except ValueError as error:
            rejected.add(named, 0, f"{error} ({n} rows)", int(n))
            if not attempts:
                continue
            code = REFUSED
        known.append(Known(quiz, item, response, form, place, code, books[form].credit(place, code)))
    return known


class _Found:
    """Rows that the statement gave, as columns of whole numbers."""

    def __init__(self, rows: Iterable[tuple[Any, ...]]) -> None:
        self.groups: dict[str, int] = {"": 0}
        """Names of groups as they are met, with a number each."""
        self.once = True
        """Whether no pupil has two answers to one item."""
        parts = [np.zeros((0, 6), dtype=np.int64)]
        rows = iter(rows)
        while batch := list(islice(rows, _FETCHED)):
            form, group, place, code, total, n, answers, *sums = zip(*batch, strict=True)
            numbers = [self.groups.setdefault(_seen(name), len(self.groups)) for name in group]
            parts.append(np.array([form, numbers, place, code, total, n], dtype=np.int64).T)
            self.once = self.once and _all_once(np.array([answers, *sums], dtype=np.int64))
        self.rows = np.concatenate(parts)
        """int64 [rows, 6]: form, group, place, code, total, n."""


def _seen(name: str) -> str:
    """Return *name* with a mark in the place of each character that cannot be seen."""
    return name if name.isprintable() else "".join(one if one.isprintable() else "\ufffd" for one in name)


def _all_once(columns: np.ndarray) -> bool:
    """Return whether every sum of powers of two has as many ones in binary as there are answers."""
    sums = np.ascontiguousarray(columns[1:].T)
    ones = np.unpackbits(sums.view(np.uint8), axis=1).sum(axis=1, dtype=np.int64)
    return bool((ones == columns[0]).all())


def _tables(found: _Found, books: Sequence[Codebook]) -> tuple[Counts, ...]:
    groups = sorted(found.groups)
    rows = found.rows
    rows[:, 1] = np.array([groups.index(name) for name in found.groups], dtype=np.int64)[rows[:, 1]]
    tables = []
    for form in np.unique(rows[:, 0]).tolist():
        described, renumbered = books[form].form()
        tables.append(_table(described, renumbered, tuple(groups), rows[rows[:, 0] == form][:, 1:]))
    return tuple(tables)


def _table(
    form: Form, renumbered: Sequence[Sequence[int]], groups: tuple[str, ...], rows: np.ndarray
) -> Counts:
    """Return the table of *form* from rows (group, place, code, total, n), the pupils' rows having place -1."""
    pupils = rows[rows[:, 1] < 0]
    group, place, code, total, n = rows[rows[:, 1] >= 0].T
    answered = code >= 0
    starts = np.concatenate(([0], np.cumsum([len(new) for new in renumbered])))
    renumbering = np.array([new for one in renumbered for new in one], dtype=np.int64)
    code = code.copy()
    code[answered] = renumbering[starts[place[answered]] + code[answered]]
    # How many pupils of each group and total there are, less those who were given the item.
    span = int(rows[:, 3].max()) + 1
    levels, at = np.unique(pupils[:, 0] * span + pupils[:, 3], return_inverse=True)
    persons = np.zeros(len(levels), dtype=np.int64)
    np.add.at(persons, at, pupils[:, 4])
    lacking = np.repeat(persons[:, None], len(form.items), axis=1)
    np.subtract.at(lacking, (np.searchsorted(levels, group * span + total), place), n)
    level, item = np.nonzero(lacking)
    parts = [
        (group, place, code, total, n),
        (levels[level] // span, item, np.full(len(level), NOT_GIVEN), levels[level] % span, lacking[level, item]),
    ]
    return columns.table(form, groups, parts, int(persons.sum()))
