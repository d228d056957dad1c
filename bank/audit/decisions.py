"""Decisions about items: who kept, revised, suspended or retired which version of an item, when and why.

They stand in a file of their own beside the bank, a table that a person can read, to which lines are only added.
The last line about a version of an item is the one that holds.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

from bank.audit.tables import write_table
from bank.cells import unguarded
from bank.errors import BadInput, Place, Problem, did_you_mean

DECISIONS = ("keep", "revise", "suspend", "retire")
"""``keep``: use on; ``revise``: a new version is wanted; ``suspend``: not to be used until looked at; ``retire``:
not to be used again."""
OUT_OF_USE = ("suspend", "retire")
HEADER = ("when", "by", "item", "version", "decision", "why")
LONGEST = 2000
"""Characters of a reason or a name."""


class Decision(NamedTuple):
    """One line of the file."""

    when: str
    """Date and time in UTC, such as 2027-02-08T09:30Z."""
    by: str
    item: str
    version: int
    """Version of the item's template; a new version is a new item."""
    decision: str
    """One of `DECISIONS`."""
    why: str


def file_beside(bank: Path) -> Path:
    """Return where the decisions about the items of the bank file *bank* stand."""
    return bank.with_name(f"{bank.stem}.decisions.csv")


def read_decisions(path: Path) -> tuple[Decision, ...]:
    """Return the decisions in the file at *path* in their order, none where there is no such file.

    Raises:
        BadInput: the file is not of the form that `add_decisions` gives it (``decisions-damaged``), every line named.
    """
    if not path.exists():
        return ()
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = list(csv.reader(file, strict=True))
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BadInput(_damaged(path, 0, str(error))) from error
    if not rows or tuple(rows[0]) != HEADER:
        raise BadInput(_damaged(path, 1, f"its first line is not {','.join(HEADER)}"))
    problems, found = [], []
    for number, row in enumerate(rows[1:], 2):
        wrong = _wrong_row(row)
        if wrong:
            problems.append(_damaged(path, number, wrong))
        elif row:
            when, by, item, version, decision, why = map(unguarded, row)
            found.append(Decision(when, by, item, int(version), decision, why))
    if problems:
        raise BadInput(problems)
    return tuple(found)


def _wrong_row(row: list[str]) -> str:
    if not row:
        return ""
    if len(row) != len(HEADER):
        return f"{len(row)} cells stand where {len(HEADER)} should"
    if not (row[3].isascii() and row[3].isdigit()):
        return f"{row[3]!r} is no version"
    return "" if row[4] in DECISIONS else f"{row[4]!r} is none of {', '.join(DECISIONS)}"


def _damaged(path: Path, line: int, wrong: str) -> Problem:
    return Problem(
        "decisions-damaged", Place(str(path), line, 1 if line else 0), "",
        f"the file of decisions cannot be read: {wrong}",
        "mend that line, or put the file aside and record the decisions anew",
    )


def add_decisions(path: Path, decisions: Iterable[Decision]) -> None:
    """Add *decisions* to the file at *path*, which is written anew in one step.

    Raises:
        BadInput: what stands there cannot be read, a new one lacks a name or a reason (``decision-unsigned``), or the
            file cannot be written.
    """
    added = tuple(decisions)
    for one in added:
        for field, text in (("--by", one.by), ("--why", one.why)):
            if not text.strip() or len(text) > LONGEST:
                raise BadInput(Problem(
                    "decision-unsigned", Place(field), "", "a decision says who took it and why",
                    f"write a text of 1 to {LONGEST} characters after {field}",
                ))
        if one.decision not in DECISIONS:
            raise BadInput(Problem(
                "decision-unknown", Place("decide"), "", f"there is no decision {one.decision!r}",
                did_you_mean(one.decision, DECISIONS),
            ))
    write_table(path, HEADER, [*read_decisions(path), *added])


def standing(decisions: Iterable[Decision]) -> dict[tuple[str, int], Decision]:
    """Return the decision that holds for each (item, version): the last one about it."""
    return {(one.item, one.version): one for one in decisions}
