"""The track record of predictions: how many items lay within their bands, use after use, in a table beside the bank.

It is written only where results are kept. The audit before use reads it: where bands covered too little with the same
weights and the same kind of class, it widens its own by what was found, and says so.
"""

from __future__ import annotations

import csv
from pathlib import Path
from typing import NamedTuple

from bank.audit.calibration import Coverage
from bank.audit.tables import rows_of, write_table
from bank.cells import unguarded
from bank.errors import BadInput, Place, Problem

HEADER = (
    "date", "quizzes", "class", "weights_version", "items", "inside", "factor", "shift_logits", "simulated",
)


class Entry(NamedTuple):
    """One line of the record."""

    date: str
    quizzes: str
    class_kind: str
    weights_version: int
    items: int
    inside: int
    factor: float
    """By how much bands would have to be widened; 1 where they covered enough."""
    shift: float
    simulated: bool


def file_beside(bank: Path) -> Path:
    """Return where the record of the bank file *bank* stands."""
    return bank.with_name(f"{bank.stem}.predictions.csv")


def read_record(path: Path) -> tuple[Entry, ...]:
    """Return the record at *path* in its order, none where there is no such file.

    Raises:
        BadInput: it is not of the form that `add_entry` gives it (``record-damaged``).
    """
    if not path.exists():
        return ()
    try:
        return tuple(_entry(row) for row in rows_of(path, HEADER))
    except (OSError, ValueError, csv.Error) as error:
        raise BadInput(Problem(
            "record-damaged", Place(str(path)), "", f"the record of predictions cannot be read ({error})",
            "mend it, or put the file aside: it begins anew",
        )) from error


def _entry(row: list[str]) -> Entry:
    day, quizzes, kind, version, items, inside, factor, shift, simulated = map(unguarded, row)
    made = Entry(
        day, quizzes, kind, int(version), int(items), int(inside), float(factor), float(shift), simulated == "yes"
    )
    if not (0 <= made.inside <= made.items and 1 <= made.factor < 100):
        raise ValueError(f"{made.inside} of {made.items} items, factor {made.factor}")
    return made


def add_entry(path: Path, today: str, quizzes: str, kind: str, version: int, found: Coverage, simulated: bool) -> None:
    """Add a line to the record at *path*; one that says the same of the same day and quizzes is not added twice.

    Raises:
        BadInput: what stands there cannot be read, or the file cannot be written.
    """
    record = read_record(path)
    entry = Entry(today, quizzes, kind, version, found.items, found.inside, found.factor, found.shift, simulated)
    key = (entry.date, entry.quizzes, entry.class_kind, entry.weights_version, entry.simulated)
    kept = [one for one in record
            if (one.date, one.quizzes, one.class_kind, one.weights_version, one.simulated) != key]
    write_table(path, HEADER, [tuple(one) for one in (*kept, entry)])


def widening(record: tuple[Entry, ...], kind: str, version: int) -> Entry | None:
    """Return the latest entry that asks for wider bands for this kind of class and these weights, None where none does.

    Simulated results ask for nothing.
    """
    meant = [one for one in record if one.class_kind == kind and one.weights_version == version and not one.simulated]
    return meant[-1] if meant and meant[-1].factor > 1 else None
