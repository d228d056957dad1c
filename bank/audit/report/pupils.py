"""The teacher's own file: whose answers fit which mistake. It names pupils by pseudonym, and is written on request."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from bank.audit.after import AfterUse
from bank.audit.class_mistakes import PupilMistake, explain_answers
from bank.audit.explained import explainers_of
from bank.audit.pictures._svg import between
from bank.audit.records import Answers
from bank.audit.report._page import write_page
from bank.audit.report.after import mistake_name
from bank.audit.tables import Value, write_table
from bank.store import Bank

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


def write_pupils(audit: AfterUse, bank: Bank, answers: Answers, folder: Path, made_on: str) -> list[Path]:
    """Write ``pupils.csv`` and ``pupils.html``, which only their owner can read, into *folder*; return their paths.

    *answers* are all that count: what the report withholds, being of few pupils, their teacher may see. Pupils who were
    set aside, as their answers say nothing of the items, show no mistake either.

    Raises:
        BadInput: a file cannot be written.
    """
    paths = [folder / "pupils.csv", folder / "pupils.html"]
    met = [item for form in answers.forms for item in form.form.items]
    pairs = explain_answers(answers, explainers_of(bank, met)).pupils
    write_table(paths[0], HEADER, _rows(audit, pairs, answers), audit.before.info.fingerprint, private=True)
    rows = [_row(one, answers) for one in pairs]
    again = [row for row in rows if row.recurs]
    write_page(
        paths[1], "pupils.html", private=True, info=audit.before.info, audit=audit, again=again[:SHOWN],
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


def _rows(audit: AfterUse, pairs: Sequence[PupilMistake], answers: Answers) -> Iterator[tuple[Value, ...]]:
    for one in pairs:
        yield (
            answers.pupils[one.pupil], answers.groups[one.group], audit.simulated, one.mistake,
            mistake_name(one.mistake), one.shown, one.possible, one.low, one.high, one.by_accident, one.recurs,
            " ".join(one.as_well), " ".join(one.items),
        )
