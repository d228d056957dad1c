"""The teacher's own file: whose answers fit which mistake. It names pupils by pseudonym, and is written on request."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from bank.audit.after import AfterUse
from bank.audit.class_mistakes import PupilMistake
from bank.audit.pictures._svg import between
from bank.audit.records import Answers
from bank.audit.report._page import write_page
from bank.audit.report.after import mistake_name
from bank.audit.tables import Value, write_table

HEADER = (
    "pupil", "group", "simulated", "mistake", "name", "shown", "possible", "share_low", "share_high",
    "chance_by_accident", "again_and_again", "fits_as_well", "items",
)
SHOWN = 300
"""Rows on the page; the table has them all."""


class PupilRow(NamedTuple):
    """A pupil's answers and a mistake, in words."""

    pupil: str
    group: str
    mistake: str
    shown: int
    possible: int
    interval: str
    as_well: str
    recurs: bool


def write_pupils(audit: AfterUse, answers: Answers, folder: Path, made_on: str) -> list[Path]:
    """Write ``pupils.csv`` and ``pupils.html`` into *folder* and return their paths.

    Raises:
        BadInput: a file cannot be written.
    """
    paths = [folder / "pupils.csv", folder / "pupils.html"]
    write_table(paths[0], HEADER, _rows(audit, answers))
    rows = [_row(one, answers) for one in audit.explained.pupils]
    again = [row for row in rows if row.recurs]
    write_page(
        paths[1], "pupils.html", info=audit.before.info, audit=audit, again=again[:SHOWN],
        more=max(0, len(again) - SHOWN), once=sum(not row.recurs for row in rows),
        pupils=len({row.pupil for row in again}),
        facts=(("Made on", made_on), ("For", "the teacher of these pupils only")),
    )
    return paths


def _row(one: PupilMistake, answers: Answers) -> PupilRow:
    return PupilRow(
        answers.pupils[one.pupil], answers.groups[one.group], mistake_name(one.mistake), one.shown, one.possible,
        between(one.low, one.high), "; ".join(mistake_name(name) for name in one.as_well), one.recurs,
    )


def _rows(audit: AfterUse, answers: Answers) -> Iterator[tuple[Value, ...]]:
    for one in audit.explained.pupils:
        yield (
            answers.pupils[one.pupil], answers.groups[one.group], audit.simulated, one.mistake,
            mistake_name(one.mistake), one.shown, one.possible, one.low, one.high, one.by_accident, one.recurs,
            " ".join(one.as_well), " ".join(one.items),
        )
