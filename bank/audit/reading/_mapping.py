"""Which column of a table of results is what: guessed from the headings, shown, remembered, and overruled by options.

What was chosen is remembered in one small file beside the bank, by the headings: the next file with the same headings
is read the same way. The file holds a digest of the headings and the places of columns: headings may be names.
"""

from __future__ import annotations

import json
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from hashlib import blake2b
from pathlib import Path

from bank.audit.counting.layout import MOST_COLUMNS
from bank.audit.pseudonyms import NAMING_HEADERS, plain_heading
from bank.audit.reading._sources import problem
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.identity import ENDS, why_not_marked
from bank.files import replacing

FIELDS = (
    "pupil", "quiz", "item", "version", "response", "status", "score", "maximum", "seconds", "milliseconds", "group",
    "attempt", "date", "simulated", "bank",
)
"""What a column can be."""
FILE_NAME = "results-columns.json"
_FORMAT = 2
_HEADINGS: dict[str, tuple[str, ...]] = {
    "pupil": (
        "pupil", "pseudonym", "pupil id", "student", "student id", "candidate", "candidate id", "learner", "learner id",
        "person", "person id", "user", "user id", "code", "pupil code", "student code", "participant", "sourcedid",
    ),
    "quiz": ("quiz", "quiz id", "test", "test id", "assessment", "assessment id"),
    "item": ("item", "item id", "item identifier", "question", "question id"),
    "version": ("version", "item version", "question version"),
    "response": ("response", "answer", "given answer", "answer given", "response given", "choice", "option", "chosen"),
    "status": ("status", "state", "answered status"),
    "score": ("score", "mark", "marks", "points", "credit", "item score"),
    "maximum": ("max score", "maximum", "maximum score", "out of", "max marks", "max points", "max"),
    "seconds": (
        "seconds", "time", "duration", "time taken", "response time", "time in seconds", "seconds taken", "sec",
    ),
    "milliseconds": ("milliseconds", "ms", "time in ms", "duration ms", "time ms"),
    "group": ("group", "class", "set", "classroom", "group id", "class id"),
    "attempt": ("attempt", "attempt number", "attempt no", "try", "attempts"),
    "date": ("date", "timestamp", "submitted", "submitted at", "submitted on", "completed", "completed at", "finished"),
    "simulated": ("simulated",),
    "bank": ("bank", "bank fingerprint"),
}
_FIELD_OF = {heading: field for field, headings in _HEADINGS.items() for heading in headings}
_NUMBERED = re.compile(r"(?:q|question|item|i|no|nr|aufgabe|frage)?\s*0*([1-9][0-9]{0,3})")
"""A heading that names an item by its place in the quiz."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Columns:
    """What the columns of one table are."""

    header: tuple[str, ...]
    fields: tuple[tuple[str, int], ...]
    """(field, place of its column)."""
    items: tuple[tuple[int, str], ...] = ()
    """In a wide table (place of the column, item's id, or its number in the quiz as digits); empty in a long one."""
    how: str = "guessed"
    """``guessed``, ``remembered`` or ``as told``."""

    @property
    def wide(self) -> bool:
        """Whether a row is a pupil."""
        return bool(self.items)

    @property
    def numbered(self) -> bool:
        """Whether the items are named by their places in the quiz."""
        return bool(self.items) and self.items[0][1].isdigit()

    def place(self, field: str) -> int:
        """Return the place of the column that is *field*, -1 where there is none."""
        return dict(self.fields).get(field, -1)

    def heading(self, field: str) -> str:
        """Return the heading of the column that is *field*."""
        place = self.place(field)
        return self.header[place] if place >= 0 else field

    def shown(self, field: str) -> str:
        """Return what the column that is *field* is called in messages."""
        place = self.place(field)
        return shown_heading(self.header[place], place) if place >= 0 else f"column {field!r}"

    def told(self) -> str:
        """Return in words what the columns are."""
        parts = [f"{field} = {shown_heading(self.header[place], place)}" for field, place in self.fields]
        if self.items:
            first = self.items[0][0]
            parts.append(f"{len(self.items)} items from {shown_heading(self.header[first], first)} on")
        used = {place for _, place in self.fields} | {place for place, _ in self.items}
        unused = [
            shown_heading(heading, place) for place, heading in enumerate(self.header) if place not in used and heading
        ]
        if unused:
            parts.append("not used: " + ", ".join(unused[:8]) + (" ..." if len(unused) > 8 else ""))
        return f"columns ({self.how}): " + "; ".join(parts)


def shown_heading(heading: str, place: int) -> str:
    """Return what a column is called in messages: by its heading if that is a known one, else by its *place* (from 0).

    In a table without headings, or with a column a pupil, the first row may hold names.
    """
    plain = plain_heading(heading)
    if plain in _FIELD_OF or plain in NAMING_HEADERS or _item_like(heading) or _NUMBERED.fullmatch(plain):
        return f"column {heading.strip()!r}"
    return f"column {place + 1}"


def columns_of(
    header: Sequence[str], file: str, items: Mapping[str, object], told: Mapping[str, str] | None,
    remembered: Path | None,
) -> Columns:
    """Return what the columns of a table with this *header* are.

    *items* are the bank's item ids; *told* says fields' headings and goes before what is *remembered* in that file,
    which goes before guessing.

    Raises:
        BadInput: two columns have one heading, two could be the same field, or pupil, item or response are missing.
    """
    names = tuple([heading.strip().lstrip("\ufeff") for heading in header])
    _check_header(names, file)
    kept = _remembered(remembered, names) if remembered is not None else None
    wanted = dict(told or {})
    how = "as told" if wanted else "guessed"
    fields: dict[str, int] = {}
    if kept is not None:
        fields = {field: names.index(heading) for field, heading in kept.items() if heading in names}
        how = "as told" if wanted else "remembered"
    for field, heading in wanted.items():
        fields[field] = _told_place(field, heading, names, file)
    if kept is None:
        taken = set(fields.values())
        for place, heading in enumerate(names):
            field = _FIELD_OF.get(plain_heading(heading), "")
            if not field or place in taken or field in wanted:
                continue
            if field in fields:
                raise BadInput(problem(
                    "column-twice", file,
                    f"{shown_heading(names[fields[field]], fields[field])} could be the {field} as well",
                    f"say which with --map {field}=HEADING", 1, shown_heading(heading, place),
                ))
            fields[field] = place
    found = tuple(sorted(fields.items(), key=lambda one: one[1]))
    wide = _item_columns(names, set(fields.values()), items) if "item" not in fields else ()
    _check_complete(fields, wide, names, file)
    return Columns(header=names, fields=found, items=wide, how=how)


def _check_header(names: tuple[str, ...], file: str) -> None:
    if not any(names):
        raise BadInput(problem("no-header", file, "the first row is empty", "put the headings of the columns there", 1))
    if len(names) > MOST_COLUMNS:
        raise BadInput(problem(
            "too-many-columns", file, f"the table has {len(names):,} columns, more than {MOST_COLUMNS:,}",
            "see whether lines are broken or the delimiter is missing; hand in a table of one quiz", 1,
        ))
    twice = [name for name, count in Counter(names).items() if name and count > 1]
    if twice:
        first, second = [place for place, name in enumerate(names) if name == twice[0]][:2]
        raise BadInput(problem("heading-twice", file, f"columns {first + 1} and {second + 1} have the same heading",
                               "rename one of them", 1))


def _told_place(field: str, heading: str, names: tuple[str, ...], file: str) -> int:
    if field not in FIELDS:
        raise BadInput(Problem("map-unknown", Place("--map"), "", f"there is no field {field!r}",
                               did_you_mean(field, FIELDS)))
    if heading not in names:
        raise BadInput(problem("map-missing", file, f"there is no column {heading!r} for {field}",
                               "write a heading of this file as it stands there", 1))
    return names.index(heading)


def _item_columns(
    names: tuple[str, ...], taken: set[int], items: Mapping[str, object]
) -> tuple[tuple[int, str], ...]:
    free = [(place, heading) for place, heading in enumerate(names) if place not in taken]
    known = tuple([(place, heading) for place, heading in free if why_not_marked(heading)[0] in items or _item_like(heading)])
    if known:
        return known
    numbers = [(place, _NUMBERED.fullmatch(plain_heading(heading))) for place, heading in free]
    return tuple([(place, found[1]) for place, found in numbers if found])


_ITEM_LIKE = re.compile(r"[A-Za-z][\w.-]*-v[0-9]+-[a-z0-9]{13}(?:-(?:%s))?" % ENDS)


def _item_like(heading: str) -> bool:
    """Whether *heading* looks like the id of an item of some bank."""
    return _ITEM_LIKE.fullmatch(heading) is not None


def _check_complete(
    fields: Mapping[str, int], wide: tuple[tuple[int, str], ...], names: tuple[str, ...], file: str
) -> None:
    missing = [field for field in ("pupil",) if field not in fields]
    if not wide:
        missing += [field for field in ("item", "response") if field not in fields]
    if missing:
        raise BadInput([
            problem("column-missing", file, f"none of the {len(names)} columns is known to be the {field}",
                    f"name it with --map {field}=HEADING", 1)
            for field in missing
        ])


def _remembered(path: Path, header: tuple[str, ...]) -> dict[str, str] | None:
    for kept in _kept(path):
        if kept["header"] == _digest(header):
            return {field: header[place] for field, place in dict(kept["columns"]).items() if place < len(header)}
    return None


def _kept(path: Path) -> list[dict[str, object]]:
    """Return what the file remembers; a file that cannot be understood remembers nothing."""
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        found = [
            one for one in told["tables"]
            if isinstance(one["header"], str) and isinstance(one["columns"], dict)
            and set(one["columns"]) <= set(FIELDS)
            and all(type(place) is int and place >= 0 for place in one["columns"].values())
        ] if told["format"] == _FORMAT else []
    except (OSError, ValueError, KeyError, TypeError):
        return []
    return found


def _digest(header: Sequence[str]) -> str:
    return blake2b(json.dumps(list(header)).encode(), digest_size=16).hexdigest()


def remember(path: Path, columns: Columns) -> None:
    """Write what the *columns* are to the file *path*, beside what it remembers of other tables.

    Raises:
        BadInput: it cannot be written (``cannot-write``).
    """
    header = _digest(columns.header)
    entry = {"header": header, "columns": dict(columns.fields)}
    tables = _kept(path)
    if entry in tables:
        return
    tables = [one for one in tables if one["header"] != header] + [entry]
    text = json.dumps({"format": _FORMAT, "tables": tables}, ensure_ascii=False, indent=1)
    with replacing(path) as part:
        part.write_text(text + "\n", encoding="utf-8")
