"""Checks of items and quizzes: one decorated function each, found by folder, each with its reason and source.

A check is asked one of six things: a wording (the words of a stem, numbers left out: one answer serves
all items with these words), a family (asked once), an item, only an item with options or only one with a typed
answer, or a quiz. It answers with pairs (what is wrong, what to change), or with `FINE`. Checks read and never
change anything.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from bank import registry
from bank.checks._look import Look, wording_of
from bank.model import Family, Finding, Item, Locale, Quiz

SEVERITIES = ("error", "warning", "report")
"""``error``: the item leaves the bank; ``warning``: a reviewer accepts it by name; ``report``: counted only."""

ASKED = ("wording", "family", "every", "item", "choice", "typed", "further", "quiz")
"""What a check may be asked about; ``choice`` and ``typed`` are items with that kind of answer, ``item`` those of both
(and of one with a mistake to find), ``further`` those of any other kind, ``every`` those of all kinds."""
_MEANT = {
    "choice": ("every", "item", "choice"), "typed": ("every", "item", "typed"), "further": ("every", "further"),
    "find": ("every", "item", "typed", "further"),
}
"""By kind of item, what checks are asked that are about."""

Complaint = tuple[str, str]
"""What is wrong, and what to change."""

Complaints = Sequence[Complaint]

QuizComplaints = Sequence[tuple[str, str, str]]
"""What is wrong, what to change, and the id of the item meant, or of the quiz where it is meant as a whole."""

FINE: tuple[()] = ()
"""Nothing to say."""

Body = Callable[..., Complaints | QuizComplaints]

REMEMBERED = 1024
"""How many families, and wordings of each, are remembered; more would only cost memory."""


class Check(NamedTuple):
    """A record with a reason: what is demanded, why, and on whose word."""

    identifier: str
    """Plain words with hyphens, such as ``one-right-option``."""
    about: str
    """One of `ASKED`."""
    severity: str
    """One of `SEVERITIES`."""
    rule: str
    """What is demanded, in one line."""
    why: str
    source: str
    """Published source spelt out, ``common practice, no source``, or ``from memory``."""
    body: Body


Told = tuple[tuple[str, str, str, str], ...]
"""Check, severity, what is wrong, what to change: findings that still lack their item."""


class _Known(NamedTuple):
    """What was found about a family and about each wording of it."""

    family: Family
    told: Told
    wordings: dict[tuple[object, ...], Told]


MEMBERS: registry.Members[Check] = registry.Members("check")
_bodies: dict[str, tuple[tuple[Check, Body], ...]] = {}
_families: dict[int, _Known] = {}


def check(
    identifier: str, *, severity: str, rule: str, why: str, source: str, about: str = "item"
) -> Callable[[Body], Body]:
    """Register the decorated function as a check *about* a wording, family, item (of one kind) or quiz.

    The function takes a `bank.checks._look.Wording`, a `Family`, a `bank.checks._look.Look`, or a quiz
    with its items by id; it returns `Complaints`.

    Raises:
        ValueError: *severity* or *about* is unknown, or the id is taken.
    """
    if severity not in SEVERITIES or about not in ASKED:
        raise ValueError(f"{identifier}: severity is one of {SEVERITIES}, about is one of {ASKED}")

    def register(body: Body) -> Body:
        record = Check(identifier, about, severity, rule, why, source, body)
        MEMBERS.add(identifier, record, f"{body.__module__}.{body.__name__}")
        return body

    return register


def load() -> registry.Members[Check]:
    """Import the room's modules once and return all checks."""
    if not _bodies:
        registry.import_members(sys.modules[__name__])
        for about in ASKED:
            _bodies[about] = tuple((one, one.body) for one in MEMBERS.values() if one.about == about)
        for kind, meant in _MEANT.items():
            _bodies[kind] = tuple((one, one.body) for one in MEMBERS.values() if one.about in meant)
    return MEMBERS


def run_item_checks(item: Item, locale: Locale) -> list[Finding]:
    """Return what the checks of wordings, families and items find in *item*, in order of the checks' ids in each."""
    if not _bodies:
        load()
    look = Look(item, locale)
    known = _families.get(id(item.family))
    if known is None or known.family is not item.family:
        known = _ask_family(item.family)
    about_words = known.wordings.get(look.wording_key)
    if about_words is None:
        about_words = _ask_wording(known, look)
    found = []
    for record, body in _bodies[look.kind]:
        complaints = body(look)
        if complaints:
            for wrong, remedy in complaints:
                found.append(Finding(record.identifier, record.severity, item.identifier, wrong, remedy))
    if about_words or known.told:
        told = (*about_words, *known.told)
        return [Finding(name, severity, item.identifier, *words) for name, severity, *words in told] + found
    return found


def run_quiz_checks(quiz: Quiz, items: Mapping[str, Item]) -> list[Finding]:
    """Return what the checks of quizzes find; *items* holds at least the items of *quiz* by id.

    The ``item`` of a finding is the id of the item meant, or of the quiz where it is meant as a whole.
    """
    load()
    found = []
    for record, body in _bodies["quiz"]:
        for wrong, remedy, where in body(quiz, items):
            found.append(Finding(record.identifier, record.severity, where, wrong, remedy))
    return found


def describe(finding: Finding) -> str:
    """Return a finding in full for people: rule, item, what is wrong, why it matters, what to change."""
    record = load()[finding.check]
    return (
        f"{finding.item}: {finding.severity}: {finding.check} ({record.rule}): {finding.wrong}; "
        f"{finding.remedy}. Why: {record.why} Source: {record.source}."
    )


def _told(about: str, asked: Any) -> Told:
    return tuple(
        (record.identifier, record.severity, wrong, remedy)
        for record, body in _bodies[about]
        for wrong, remedy in body(asked)
    )


def _ask_wording(known: _Known, look: Look) -> Told:
    if len(known.wordings) >= REMEMBERED:
        known.wordings.clear()
    told = known.wordings[look.wording_key] = _told("wording", wording_of(look))
    return told


def _ask_family(family: Family) -> _Known:
    if len(_families) >= REMEMBERED:
        _families.clear()
    known = _families[id(family)] = _Known(family, _told("family", family), {})
    return known
