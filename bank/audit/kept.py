"""Results kept beside the bank, only where that is asked for: one SQLite file, pupils by digest; and how to forget.

Keeping the same results twice changes nothing. What is forgotten is overwritten in the file (`secure_delete`) and the
file is written anew, so that no deleted answer stays behind in free pages. Copies and backups are beyond this tool.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from itertools import islice
from pathlib import Path
from typing import NamedTuple

from bank.audit.records import NOT_GIVEN, NOT_REACHED, Answers, Form, FormAnswers
from bank.errors import BadInput, Place, Problem
from bank.files import note_change
from bank.ordinary import is_ordinary
from bank.private import close_to_others, make_private

FILE_NAME = "results.sqlite"
APPLICATION_ID = 0x53745273
"""Marks an SQLite file as kept results of ours ("StRs")."""
FORMAT = 1
_TABLES = (
    "CREATE TABLE responses (number INTEGER PRIMARY KEY, quiz TEXT NOT NULL, item TEXT NOT NULL, version INTEGER"
    " NOT NULL, response TEXT NOT NULL, credit INTEGER NOT NULL, UNIQUE (quiz, item, version, response))",
    "CREATE TABLE answers (quiz TEXT NOT NULL, pupil TEXT NOT NULL, sitting INTEGER NOT NULL, item TEXT NOT NULL,"
    " version INTEGER NOT NULL, code INTEGER NOT NULL, milliseconds INTEGER NOT NULL, grouped TEXT NOT NULL,"
    " PRIMARY KEY (quiz, pupil, sitting, item, version)) WITHOUT ROWID",
    "CREATE TABLE forms (quiz TEXT NOT NULL, place INTEGER NOT NULL, item TEXT NOT NULL, version INTEGER NOT NULL,"
    " PRIMARY KEY (quiz, place, item, version)) WITHOUT ROWID",
    "CREATE TABLE about (name TEXT PRIMARY KEY, content TEXT NOT NULL) WITHOUT ROWID",
)
_PIECE = 1000


class Kept(NamedTuple):
    """What keeping did."""

    added: int
    """Answers that are new in the file."""
    known: int
    """Answers that it held already."""
    differing: int
    """Answers of which it held another for the same pupil, item and sitting; the older one stays."""


class Forgotten(NamedTuple):
    """What forgetting did."""

    answers: int
    pupils: int
    """Pupils of whom something was deleted."""


def kept_path(bank: Path) -> Path:
    """Return where results of the *bank* are kept."""
    return bank.with_name(FILE_NAME)


def keep(path: Path, answers: Answers) -> Kept:
    """Add *answers* to the kept results at *path*, made where they are missing, and return what that did.

    The file is for its owner only (0600), also one that others could read until now. A pupil's several rows in one form are told apart as sittings in order.

    Raises:
        BadInput: the file is none of kept results, or cannot be written.
    """
    if not path.exists():
        _create(path)
    close_to_others(path)
    with _open(path) as store:
        store.execute("BEGIN IMMEDIATE")
        counts = Kept(0, 0, 0)
        for form in answers.forms:
            one = _keep_form(store, form, answers)
            counts = Kept(counts.added + one.added, counts.known + one.known, counts.differing + one.differing)
        if answers.simulated and counts.added:
            store.execute("INSERT OR REPLACE INTO about VALUES ('simulated', 'yes')")
        store.execute("COMMIT")
    note_change(path)
    return counts


def _keep_form(store: sqlite3.Connection, sat: FormAnswers, answers: Answers) -> Kept:
    form = sat.form
    store.executemany("INSERT OR IGNORE INTO forms VALUES (?, ?, ?, ?)",
                      [(form.quiz, place, item, version)
                       for place, (item, version) in enumerate(zip(form.items, form.versions))])
    numbers = [
        [_number(store, form, place, response, credit)
         for response, credit in zip(form.responses[place], form.credits[place])]
        for place in range(len(form.items))
    ]
    before = store.total_changes
    total = differing = 0
    rows = _rows(sat, answers, numbers)
    while piece := list(islice(rows, _PIECE)):
        held = _held(store, piece)
        new = []
        for row in piece:
            total += 1
            known = held.get(row[:5])
            if known is None:
                new.append(row)
            elif known != row[5]:
                differing += 1
        store.executemany("INSERT OR IGNORE INTO answers VALUES (?, ?, ?, ?, ?, ?, ?, ?)", new)
    added = store.total_changes - before
    return Kept(added, total - added - differing, differing)


_Row = tuple[str, str, int, str, int, int, int, str]


def _rows(sat: FormAnswers, answers: Answers, numbers: list[list[int]]) -> Iterator[_Row]:
    form = sat.form
    sittings: dict[int, int] = {}
    for row, pupil in enumerate(sat.pupils.tolist()):
        sitting = sittings[pupil] = sittings.get(pupil, 0) + 1
        group = answers.groups[int(sat.groups[row])]
        codes = sat.codes[row].tolist()
        times = sat.milliseconds[row].tolist() if sat.milliseconds is not None else [-1] * len(codes)
        for place, code in enumerate(codes):
            if code != NOT_GIVEN:
                yield (form.quiz, answers.pupils[pupil], sitting, form.items[place], form.versions[place],
                       numbers[place][code] if code >= 0 else code, times[place], group)


def _held(store: sqlite3.Connection, piece: list[_Row]) -> dict[tuple[str, str, int, str, int], int]:
    """Return the codes that are held already for the pupils and the quiz of *piece*."""
    pupils = sorted({row[1] for row in piece})
    marks = ",".join("?" * len(pupils))
    found = store.execute(
        f"SELECT quiz, pupil, sitting, item, version, code FROM answers WHERE quiz = ? AND pupil IN ({marks})",
        (piece[0][0], *pupils),
    )
    return {row[:5]: row[5] for row in found}


def _number(store: sqlite3.Connection, form: Form, place: int, response: str, credit: int) -> int:
    key = (form.quiz, form.items[place], form.versions[place], response)
    store.execute("INSERT OR IGNORE INTO responses (quiz, item, version, response, credit) VALUES (?, ?, ?, ?, ?)",
                  (*key, credit))
    found = store.execute(
        "SELECT number FROM responses WHERE quiz = ? AND item = ? AND version = ? AND response = ?", key
    )
    return int(found.fetchone()[0])


class KeptAnswer(NamedTuple):
    """An answer as it was kept."""

    quiz: str
    pupil: str
    sitting: int
    item: str
    version: int
    response: str
    """Canonical spelling; empty where there was no answer."""
    credit: int
    code: int
    """0 for an answer, or a code of no answer (`bank.audit.records`)."""
    milliseconds: int
    group: str


def kept_answers(path: Path) -> Iterator[KeptAnswer]:
    """Yield the kept answers, by quiz and pupil.

    Raises:
        BadInput: the file is none of kept results.
    """
    with _open(path) as store:
        yield from map(KeptAnswer._make, store.execute(
            "SELECT a.quiz, a.pupil, a.sitting, a.item, a.version, coalesce(r.response, ''), coalesce(r.credit, 0),"
            " min(a.code, 0), a.milliseconds, a.grouped FROM answers a LEFT JOIN responses r ON r.number = a.code"
            " ORDER BY a.quiz, a.pupil, a.sitting, a.item, a.version"
        ))


def kept_items(path: Path) -> frozenset[str]:
    """Return the ids of the items that pupils have met: those that somebody answered or left out.

    Raises:
        BadInput: the file is none of kept results.
    """
    with _open(path) as store:
        return frozenset([item for (item,) in store.execute(
            "SELECT DISTINCT item FROM answers WHERE code <> ?", (NOT_REACHED,)
        )])


def kept_is_simulated(path: Path) -> bool:
    """Whether simulated answers are among the kept ones."""
    with _open(path) as store:
        return store.execute("SELECT 1 FROM about WHERE name = 'simulated'").fetchone() is not None


def is_kept(path: Path) -> bool:
    """Whether the file at *path* holds kept results."""
    if not is_ordinary(path):
        return False
    try:
        with path.open("rb") as file:
            head = file.read(72)
    except OSError:
        return False
    return head[:16] == b"SQLite format 3\x00" and head[68:72] == APPLICATION_ID.to_bytes(4, "big")


def forget(path: Path, *, pupil: str = "", quiz: str = "") -> Forgotten:
    """Delete the answers of the *pupil* (a digest), or to the *quiz*, or that pupil's to that quiz; return how many.

    Raises:
        BadInput: there are no kept results, or they cannot be written.
        ValueError: neither is named.
    """
    if not pupil and not quiz:
        raise ValueError("say whose answers, or to which quiz")
    wanted = [(name, value) for name, value in (("pupil", pupil), ("quiz", quiz)) if value]
    where = " AND ".join([f"{name} = ?" for name, _ in wanted])
    values = tuple(value for _, value in wanted)
    with _open(path) as store:
        store.execute("PRAGMA secure_delete = ON")
        store.execute("BEGIN IMMEDIATE")
        answers, pupils = store.execute(f"SELECT count(*), count(DISTINCT pupil) FROM answers WHERE {where}",
                                        values).fetchone()
        store.execute(f"DELETE FROM answers WHERE {where}", values)
        store.execute("DELETE FROM responses WHERE number NOT IN (SELECT code FROM answers)")
        store.execute("DELETE FROM forms WHERE quiz NOT IN (SELECT quiz FROM answers)")
        store.execute("DELETE FROM about WHERE name = 'simulated' AND NOT EXISTS (SELECT 1 FROM answers)")
        store.execute("COMMIT")
        note_change(path)
        store.execute("VACUUM")
    return Forgotten(int(answers), int(pupils))


def _create(path: Path) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        make_private(path)
    except OSError as error:
        raise BadInput(_problem("cannot-write", path, f"cannot be written ({error.strerror or error})",
                                "name a folder that you may write to")) from error
    with closing(sqlite3.connect(path, isolation_level=None)) as store:
        store.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        store.execute(f"PRAGMA user_version = {FORMAT}")
        for statement in _TABLES:
            store.execute(statement)


@contextmanager
def _open(path: Path) -> Iterator[sqlite3.Connection]:
    if not is_ordinary(path):
        raise BadInput(_problem("kept-missing", path, "no results are kept there", "keep some first, or name the file"))
    if not is_kept(path):
        remedy = f"name the {FILE_NAME} beside a bank"
        raise BadInput(_problem("kept-foreign", path, "is no file of kept results", remedy))
    with closing(sqlite3.connect(path, isolation_level=None)) as store:
        try:
            version = store.execute("PRAGMA user_version").fetchone()[0]
            if version > FORMAT:
                raise BadInput(_problem("kept-newer", path, f"has layout {version}, this tool reads up to {FORMAT}",
                                        "use the newer tool that wrote it"))
            yield store
        except sqlite3.OperationalError as error:
            raise BadInput(_problem("cannot-write", path, f"cannot be used ({error})",
                                    "see that nobody else uses it and that there is room")) from error
        except sqlite3.DatabaseError as error:
            remedy = "restore it, or import anew"
            raise BadInput(_problem("kept-damaged", path, f"is damaged ({error})", remedy)) from error


def _problem(code: str, path: Path, wrong: str, remedy: str) -> Problem:
    return Problem(code, Place(str(path)), "", wrong, remedy)
