"""The trail of decisions: who kept, revised, suspended or retired which item, or accepted which warning, when and why.

It stands in a file of its own beside the bank, ``bank.decisions.csv``, a table that a person can read and that outlives
the bank's rebuilds; lines are only added to it. The last line about a version of an item is the one that holds. How the
file is read after a spreadsheet has saved it is the business of `bank.trail`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from pathlib import Path
from typing import NamedTuple

from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.model import Finding
from bank.trail import added, damaged, read_rows

DECISIONS = ("keep", "revise", "suspend", "retire", "accept")
"""``keep``: use on, as it is; ``revise``: a new version is wanted; ``suspend``: not to be used until looked at;
``retire``: not to be used again; ``accept``: the warning named in ``check`` is known and no reason against it."""
OUT_OF_USE = ("suspend", "retire")
HEADER = ("when", "by", "item", "version", "decision", "why", "check", "question")
NEEDED = HEADER[:6]
"""Columns that a trail always had; the others may be missing in an old one."""
LONGEST = 2000
"""Characters of a reason or a name."""


class Decision(NamedTuple):
    """One line of the trail."""

    when: str
    """Date and time in UTC, such as 2027-02-08T09:30Z."""
    by: str
    item: str
    """Id of the item; of the quiz where a warning about a quiz was accepted."""
    version: int
    """Version of the item's template, a new version being a new item; 0 for a quiz."""
    decision: str
    """One of `DECISIONS`."""
    why: str
    check: str = ""
    """Id of the check whose warning was accepted; else empty."""
    question: str = ""
    """What the item asks, or what the quiz holds, as a digest in letters (`bank.questions`): so a question that was
    retired is known again when it is drawn anew, and an accepted warning does not pass to a quiz that has changed.
    Empty in old trails."""


class Acceptance(NamedTuple):
    """A warning that somebody accepted."""

    finding: Finding
    decision: Decision


def file_beside(bank: Path) -> Path:
    """Return where the decisions about the items of the bank file *bank* stand."""
    return bank.with_name(f"{bank.stem}.decisions.csv")


def read_decisions(path: Path) -> tuple[Decision, ...]:
    """Return the decisions in the file at *path* in their order, none where there is no such file.

    Raises:
        BadInput: the file cannot be read safely (``decisions-damaged``), every line named.
    """
    problems, found = [], []
    for number, row in read_rows(path, HEADER, NEEDED):
        wrong = _wrong_row(row)
        if wrong:
            problems.append(damaged(path, number, wrong))
        else:
            found.append(Decision(**{**row, "version": int(row["version"])}))  # type: ignore[arg-type]
    if problems:
        raise BadInput(problems)
    return tuple(found)


def _wrong_row(row: Mapping[str, str]) -> str:
    if not row["item"]:
        return "it names no item"
    if not (row["version"].isascii() and row["version"].isdigit() and len(row["version"]) <= 6):
        return f"{row['version']!r} is not a version"
    if row["decision"] not in DECISIONS:
        return f"{row['decision']!r} is none of {', '.join(DECISIONS)}"
    if (row["decision"] == "accept") != bool(row["check"]):
        return "a check is named where a warning is accepted, and only there"
    if row["question"] and not (row["question"].isascii() and row["question"].isalpha() and row["question"].islower()):
        return f"{row['question']!r} is not the digest of a question: only lower case letters"
    return ""


def add_decisions(path: Path, decisions: Iterable[Decision]) -> None:
    """Add *decisions* to the file at *path*; two that add at the same time wait for each other, and no line is lost.

    Raises:
        BadInput: what stands there cannot be read, a new one lacks a name or a reason (``decision-unsigned``), or the
            file cannot be written.
    """
    new = tuple(decisions)
    for one in new:
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
    with added(path, HEADER, NEEDED) as add:
        read_decisions(path)
        for one in new:
            add({name: str(value) for name, value in one._asdict().items()})


def standing(decisions: Iterable[Decision]) -> dict[tuple[str, int], Decision]:
    """Return the decision that holds for each (item, version): the last one about it; accepted warnings are none."""
    return {(one.item, one.version): one for one in decisions if one.decision != "accept"}


def out_of_use(decisions: Iterable[Decision]) -> dict[str, Decision]:
    """Return the items that are suspended or retired, each with the decision that says so."""
    return {item: one for (item, _), one in standing(decisions).items() if one.decision in OUT_OF_USE}


def kept(decisions: Iterable[Decision]) -> dict[str, Decision]:
    """Return the items that are to stay as they are, each with the decision that says so."""
    return {item: one for (item, _), one in standing(decisions).items() if one.decision == "keep"}


def accepted(
    findings: Iterable[Finding], decisions: Iterable[Decision], holds: Mapping[str, str]
) -> tuple[Acceptance, ...]:
    """Return the warnings among *findings* that were accepted, in their order, each with the last word on it.

    *holds* gives by quiz the digest of what it holds now: an acceptance of a quiz's warning is for that content only.
    """
    said = {
        (one.check, one.item): one for one in decisions
        if one.decision == "accept" and holds.get(one.item, one.question) == one.question
    }
    return tuple([
        Acceptance(one, said[one.check, one.item]) for one in findings
        if one.severity == "warning" and (one.check, one.item) in said
    ])


def lapsed(decisions: Iterable[Decision], items: Collection[str], holds: Mapping[str, str]) -> tuple[Decision, ...]:
    """Return the acceptances that hold no longer: their item is not among *items*, or their quiz has changed.

    An item whose content changes gets another id, so nothing that was decided about it passes over in silence.
    """
    return tuple([
        one for one in decisions if one.decision == "accept"
        and (holds[one.item] != one.question if one.item in holds else one.item not in items)
    ])
