"""What earlier reports showed, remembered beside the bank, so that two reports together do not give a pupil away.

Who sees a report of 25 pupils and one of the same 25 and one more can subtract. So each report leaves, for each quiz and
group that it shows, the number of pupils and check sums: pupils fall into `BUCKETS` by their digests, and a bucket keeps
16 bits of the sum of digests of each pupil with their answers. Nobody's answers or digests can be read from them. Two
reports differ in at least as many pupils as buckets differ; sums add up, so two reports together can be compared with
a third. The sizes are our own choice.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping, Sequence
from hashlib import blake2b
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bank.audit.records import NOT_GIVEN, Answers, Counts, Form, FormAnswers
from bank.audit.tables import rows_of, write_table
from bank.cells import unguarded
from bank.errors import BadInput, Place, Problem

BUCKETS = 128
_DIGITS = 4 * BUCKETS
_LOOKED_AT = 40
"""Earlier lines of a quiz that are compared, the latest."""
HEADER = ("date", "report", "quiz", "group", "pupils", "check_sums")


class Shown(NamedTuple):
    """A quiz, of everyone or of a group, as a report shows it."""

    date: str
    report: str
    """``audit`` or ``lesson``."""
    quiz: str
    group: str
    """Empty for everyone."""
    pupils: int
    sums: str
    """Four hexadecimal digits a bucket; empty where an engine counted and pupils are not known."""


def file_beside(bank: Path) -> Path:
    """Return where the reports of the bank file *bank* are remembered."""
    return bank.with_name(f"{bank.stem}.reports.csv")


def shown_of(
    answers: Answers, quizzes: Sequence[str], groups: Sequence[str], today: str, report: str = "audit"
) -> list[Shown]:
    """Return what a report shows of *answers*, all that were read: these *quizzes*, everyone ("") or *groups* of them."""
    made = []
    for form in answers.forms:
        if form.form.quiz in quizzes:
            buckets, values = _values(form, answers.pupils)
            for group in groups:
                inside = form.groups == answers.groups.index(group) if group else np.ones(len(form.pupils), dtype=bool)
                count = len(np.unique(form.pupils[inside]))
                if count:
                    sums = np.zeros(BUCKETS, dtype=np.uint64)
                    np.add.at(sums, buckets[inside], values[inside])
                    made.append(Shown(today, report, form.form.quiz, group, count, _text(sums & np.uint64(0xFFFF))))
    return made


def shown_of_counts(counts: Sequence[Counts], today: str) -> list[Shown]:
    """Return what an audit shows of *counts*: numbers of pupils only."""
    return [Shown(today, "audit", one.form.quiz, "", one.persons, "") for one in counts]


def _values(form: FormAnswers, pupils: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Return for each row of *form* its bucket and a digest of pupil and answers."""
    answered = np.zeros(len(form.pupils), dtype=np.uint64)
    for place in range(len(form.form.items)):
        answered += _digests_of(form.form, place)[form.codes[:, place]]
    buckets, values = np.zeros(len(answered), dtype=np.int64), np.zeros(len(answered), dtype=np.uint64)
    for row, (pupil, answer) in enumerate(zip(form.pupils.tolist(), answered.tolist(), strict=True)):
        name = pupils[pupil].encode()
        buckets[row] = blake2b(name, digest_size=2).digest()[0] % BUCKETS
        values[row] = int.from_bytes(blake2b(name + answer.to_bytes(8), digest_size=2).digest())
    return buckets, values


def _digests_of(form: Form, place: int) -> np.ndarray:
    """Return a digest for each code of the item at *place*; those of no answer stand at the end, as they count back."""
    told = [*form.responses[place], *map(str, range(NOT_GIVEN, 0))]
    kinds = ["answer"] * len(form.responses[place]) + ["none"] * -NOT_GIVEN
    return np.array([
        int.from_bytes(blake2b(f"{form.items[place]}\n{kind}\n{text}".encode(), digest_size=8).digest())
        for kind, text in zip(kinds, told, strict=True)
    ], dtype=np.uint64)


def _text(sums: np.ndarray) -> str:
    return "".join(f"{one:04x}" for one in sums.tolist())


def _sums(text: str) -> np.ndarray:
    return np.array([int(text[at : at + 4], 16) for at in range(0, _DIGITS, 4)], dtype=np.int64)


def read_reports(path: Path) -> tuple[Shown, ...]:
    """Return what is remembered at *path*, nothing where there is no such file.

    Raises:
        BadInput: it is not of the form that `remember_reports` gives it (``reports-damaged``).
    """
    if not path.exists():
        return ()
    try:
        return tuple(_read(row) for row in rows_of(path, HEADER))
    except (OSError, ValueError, csv.Error) as error:
        raise BadInput(Problem(
            "reports-damaged", Place(str(path)), "", f"the list of earlier reports cannot be read ({error})",
            "restore it, or move it away: then reports are no longer compared with earlier ones",
        )) from error


def _read(row: list[str]) -> Shown:
    day, report, quiz, group, pupils, sums = map(unguarded, row)
    if sums and (len(sums) != _DIGITS or not set(sums) <= set("0123456789abcdef")):
        raise ValueError("check sums are of another length")
    return Shown(day, report, quiz, group, int(pupils), sums)


def remember_reports(path: Path, known: Sequence[Shown], made: Sequence[Shown]) -> None:
    """Write *known* and what is new in *made* to *path*, for its owner only.

    Raises:
        BadInput: it cannot be written (``cannot-write``).
    """
    held = {one[2:] for one in known}
    new = [one for one in made if one[2:] not in held]
    if new:
        write_table(path, HEADER, [tuple(one) for one in (*known, *new)], private=True)


def warnings(known: Sequence[Shown], made: Sequence[Shown], least: int) -> list[str]:
    """Return a warning for each quiz of *made* that, set beside *known* reports, gives away fewer than *least* pupils."""
    said: dict[str, str] = {}
    earlier: dict[str, list[Shown]] = {}
    for one in known:
        earlier.setdefault(one.quiz, []).append(one)
    for one in made:
        near = next(_near(earlier.get(one.quiz, [])[-_LOOKED_AT:], one, least), None)
        if near is not None and one.quiz not in said:
            dates = " and ".join(dict.fromkeys(one.date for one in near))
            may = "may differ" if any(not one.sums for one in (*near, one)) else "differ"
            said[one.quiz] = (
                f"{one.quiz}: this report and {'one' if len(near) == 1 else 'two'} of {dates} {may} in the answers of"
                f" fewer than {least} pupils, so whoever sees them side by side can work these answers out. Show people"
                " one or the other"
            )
    return list(said.values())


def _near(earlier: Sequence[Shown], now: Shown, least: int) -> Iterator[tuple[Shown, ...]]:
    """Give the *earlier* reports, one or two together, that are other than *now* by fewer than *least* pupils."""
    alike = {one.sums for one in earlier if one.sums}
    if now.sums in alike:
        return
    sums: Mapping[str, np.ndarray] = {one.sums: _sums(one.sums) for one in (*earlier, now) if one.sums}
    for near in (*((one,) for one in earlier), *combinations([one for one in earlier if one.sums], 2)):
        apart = abs(sum(one.pupils for one in near) - now.pupils)
        if apart >= least:
            continue
        if not now.sums or not near[0].sums:
            if apart:
                yield near
            continue
        other = sum((sums[one.sums] for one in near), np.zeros(BUCKETS, dtype=np.int64)) & 0xFFFF
        if 0 < np.count_nonzero(other != sums[now.sums]) < least:
            yield near
