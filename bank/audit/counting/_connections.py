"""URLs of engines, connections, and files put where an engine can see them."""

from __future__ import annotations

import atexit
import re
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import cache
from itertools import islice
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, NamedTuple
from urllib.parse import parse_qs, unquote, urlsplit

from bank.audit.counting.keys import QuizKey
from bank.audit.counting.layout import COLUMNS, Layout, read_layout
from bank.audit.counting.outcome import Rejected
from bank.audit.counting.plain import read_rows
from bank.audit.counting.statement import literal
from bank.errors import BadInput, Place, Problem

ENGINES = {"duckdb": "big", "sqlite": "", "postgresql": "postgresql"}
"""What a URL may begin with, and the extra that installs the driver."""
MEMORY = "2GB"
"""What DuckDB may hold in memory; beyond it writes to a temporary folder."""
LOADED = "stemwright_answers"
"""Temporary relation that holds answers of files."""
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_]*(\.[A-Za-z_][A-Za-z0-9_]*){0,2}")
_BATCH = 10_000
_BLOCK = 1 << 22
_NEVER = "\\u0001"
"""Stands for null in DuckDB's reading of CSV, so that an empty field stays an empty text."""


class Engine(NamedTuple):
    """A URL taken apart."""

    name: str
    target: str
    """What the driver connects to."""
    relation: str
    shown: str
    """The URL without its password, for messages."""


def read_url(url: str) -> Engine:
    """Return the engine that *url* names.

    Raises:
        BadInput: it names none (``engine-url``).
    """
    parts = urlsplit(url)
    host = parts.netloc.rpartition("@")[2]
    shown = f"{parts.scheme}://{host}{parts.path}" if host else f"{parts.scheme}:{parts.path}"
    if parts.scheme not in ENGINES:
        raise BadInput(Problem(
            "engine-url", Place(shown), "", "no such engine",
            "write duckdb: or sqlite:FILE or postgresql://USER@HOST/NAME",
        ))
    (relation,) = parse_qs(parts.query).get("answers", ["answers"])[-1:]
    if not _NAME.fullmatch(relation):
        raise BadInput(Problem(
            "engine-url", Place(shown), "answers", "this is no name of a table or view",
            "write TABLE or SCHEMA.TABLE, in letters, digits and underscores",
        ))
    if parts.scheme == "postgresql":
        rest = "&".join([part for part in parts.query.split("&") if part and not part.startswith("answers=")])
        return Engine(parts.scheme, url.partition("?")[0] + (f"?{rest}" if rest else ""), relation, shown)
    return Engine(parts.scheme, unquote(parts.netloc + parts.path), relation, shown)


def connect(engine: Engine) -> Any:
    """Return a DB-API connection.

    Raises:
        BadInput: its driver is not installed (``engine-driver``), or the file is missing (``no-file``).
    """
    if engine.name != "postgresql" and engine.target and not Path(engine.target).is_file():
        raise BadInput(Problem("no-file", Place(engine.target), "", "no such file"))
    if engine.name == "sqlite":
        if not engine.target:
            return sqlite3.connect(":memory:")
        return sqlite3.connect(f"{Path(engine.target).resolve().as_uri()}?mode=ro", uri=True)
    try:
        if engine.name == "postgresql":
            import psycopg

            connection = psycopg.connect(engine.target)
            # It takes the joins for much smaller than they are, and would go through the pupils again for each answer.
            connection.execute("set enable_nestloop = off")
            connection.execute("set jit = off")
            return connection
        import duckdb
    except ImportError:
        raise BadInput(Problem(
            "engine-driver", Place(engine.shown), "", "the driver of this engine is not installed",
            f"install stemwright[{ENGINES[engine.name]}]",
        )) from None
    return duckdb.connect(
        engine.target or ":memory:", read_only=bool(engine.target),
        config={
            "memory_limit": MEMORY, "temp_directory": _private_room(),
            "preserve_insertion_order": False, "autoinstall_known_extensions": False,
            # It cannot know how many rows a file has, and would build its hash table of the answers, not of the key.
            "disabled_optimizers": "join_order,build_side_probe_side",
        },
    )


@cache
def _private_room() -> str:
    """Return a folder for what an engine does not hold in memory: its owner's only, removed when the run ends."""
    room = TemporaryDirectory(prefix="stemwright-", ignore_cleanup_errors=True)
    atexit.register(room.cleanup)
    return room.name


_QUOTED = re.compile(r"'([^']*)'|\"([^\"]*)\"")


def _safe(found: re.Match[str]) -> str:
    """Return what a driver quotes where it is the name of a column of ours, for it may be the content of a cell."""
    return found[0] if (found[1] or found[2] or "").lower() in COLUMNS else "(...)"


@contextmanager
def spoken(engine: Engine) -> Iterator[None]:
    """Turn what a driver says of an error into words for people.

    Raises:
        BadInput: the engine failed (``engine-failed``).
    """
    try:
        yield
    except Exception as error:
        module = type(error).__module__.partition(".")[0].strip("_")
        if module not in ("duckdb", "psycopg", "sqlite3"):
            raise
        first = _QUOTED.sub(_safe, str(error).strip().partition("\n")[0])
        raise BadInput(Problem("engine-failed", Place(engine.shown), "", f"the engine says: {first}")) from error


def load_files(
    engine: Engine, connection: Any, paths: Sequence[Path], keys: Sequence[QuizKey], rejected: Rejected
) -> str:
    """Return the relation through which the engine sees the answers of the files at *paths*.

    DuckDB reads them itself; then the relation is empty where a file has rows that only the careful reader can tell.
    """
    layouts = [read_layout(path, keys) for path in paths]
    if engine.name == "duckdb":
        return _view(connection, list(zip(paths, layouts, strict=True)), keys)
    mark = "%s" if engine.name == "postgresql" else "?"
    cursor = connection.cursor()
    several = any(layout.attempt >= 0 for layout in layouts)
    cursor.execute(
        f"create temporary table {LOADED} (pupil text, pupil_group text, quiz text, item text, response text"
        f"{', attempt integer' if several else ''})"
    )
    insert = f"insert into {LOADED} values ({', '.join([mark] * (5 + several))})"
    for path, layout in zip(paths, layouts, strict=True):
        rows = read_rows(path, layout, keys, rejected)
        while batch := [
            (one.pupil, one.group, one.quiz, _versioned(one.item, one.version), one.response,
             *((one.attempt,) if several else ()))
            for one in islice(rows, _BATCH)
        ]:
            cursor.executemany(insert, batch)
    cursor.close()
    return LOADED


def _versioned(item: str, version: str) -> str:
    return f"{item}@{version}" if version else item


def _view(connection: Any, files: Sequence[tuple[Path, Layout]], keys: Sequence[QuizKey]) -> str:
    """Return the name of a view over CSV files, or nothing where the rows that DuckDB reads are not the lines."""
    selects = []
    several = any(layout.attempt >= 0 for _, layout in files)
    for path, layout in files:
        lines, quoted = _lines(path)
        source = _read_csv(path, layout, quoted)
        (rows,) = connection.execute(f"select count(*) from {source}").fetchone()
        if rows != lines - 1 or _odd_attempts(connection, source, layout):
            return ""
        selects.append(_wide(source, layout, keys, several) if layout.wide else _long(source, layout, several))
    connection.execute(f"create view {LOADED} as\n" + "\nunion all\n".join(selects))
    return LOADED


def _lines(path: Path) -> tuple[int, bool]:
    """Return how many lines the file has, and whether there is a quotation mark in it."""
    lines, quoted, last = 0, False, b"\n"
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            lines += block.count(b"\n")
            quoted = quoted or b'"' in block
            last = block[-1:]
    return lines + (last != b"\n"), quoted


def _read_csv(path: Path, layout: Layout, quoted: bool) -> str:
    names = ", ".join([f"'c{number}': 'VARCHAR'" for number in range(layout.columns)])
    quote = '"' if quoted else ""
    return (
        f"read_csv({literal(str(path))}, header = true, auto_detect = false, columns = {{{names}}},"
        f" delim = {literal(layout.separator)}, quote = '{quote}', escape = '{quote}', nullstr = '{_NEVER}',"
        " strict_mode = true, ignore_errors = true)"
    )


def _odd_attempts(connection: Any, source: str, layout: Layout) -> bool:
    if layout.attempt < 0:
        return False
    (odd,) = connection.execute(
        f"select count(*) from {source} where c{layout.attempt} <> ''"
        f" and coalesce(not regexp_full_match(c{layout.attempt}, '0*[1-9][0-9]{{0,5}}'), true)"
    ).fetchone()
    return bool(odd)


def _common(layout: Layout, several: bool) -> str:
    attempt = f"cast(coalesce(nullif(c{layout.attempt}, ''), '1') as integer)" if layout.attempt >= 0 else "1"
    return ", ".join([
        f"c{layout.pupil} as pupil", f"{_column(layout.group)} as pupil_group", f"{_column(layout.quiz)} as quiz",
        *([f"{attempt} as attempt"] if several else []),
    ])


def _column(number: int) -> str:
    return f"c{number}" if number >= 0 else "''"


def _long(source: str, layout: Layout, several: bool) -> str:
    item, response = f"c{layout.item}", f"c{layout.response}"
    if layout.version >= 0:
        item = f"case when c{layout.version} = '' then {item} else {item} || '@' || c{layout.version} end"
    if layout.status >= 0:
        response = f"case when {response} = '' then c{layout.status} else {response} end"
    return f"select {_common(layout, several)}, {item} as item, {response} as response from {source}"


def _wide(source: str, layout: Layout, keys: Sequence[QuizKey], several: bool) -> str:
    names = ['"' + item.replace('"', '""') + '"' for _, item in layout.items]
    cells = ", ".join([f"c{column} as {name}" for (column, _), name in zip(layout.items, names, strict=True)])
    text = f"""select pupil, pupil_group, quiz, {"attempt, " if several else ""}item, response
from (select {_common(layout, several)}, {cells} from {source}) unpivot (response for item in ({", ".join(names)}))"""
    if len(keys) == 1:
        return text
    # An empty cell of an item that is not in the row's quiz says nothing.
    members = ", ".join([f"({literal(key.quiz)}, {literal(item)})" for key in keys for item in key.items])
    return f"{text} where response <> '' or (quiz, item) in ({members})"
