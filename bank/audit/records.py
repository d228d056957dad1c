"""What the parts of the audit hand to one another: answers in columns, and the one table of counts.

Nothing here holds a name of a pupil: pupils are numbered, and known only by a salted digest.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

OMITTED, NOT_REACHED, NOT_GIVEN = -1, -2, -3
"""Codes of the three kinds of no answer: seen and left out; a run of blanks to the end of the quiz, but for its first
(which counts as omitted); not in this pupil's form. They stay apart everywhere.

An answer that is refused (the item takes no such response) is coded as not given: the pupil did something, so it is
neither omitted nor not reached, but nobody can say what. It still belongs to its attempt, and that attempt is the one
that counts. A later attempt never stands in for it: it was made by somebody who had met the questions, and a blank one
would say that the pupil left out what they had answered. So a pupil whose first attempt holds only refused answers
counts nowhere. Whatever names no item of the quiz, or another version of it, is no attempt at this quiz. All readers
keep this rule."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Form:
    """A quiz as pupils met it, one version of each item: what its answer codes mean."""

    quiz: str
    items: tuple[str, ...]
    """Item ids in the order of the quiz, K of them."""
    versions: tuple[int, ...]
    """Version of each item that was answered; statistics belong to a version."""
    responses: tuple[tuple[str, ...], ...]
    """For each item the distinct responses that occur, code 0 upwards: option identifiers (several joined by one
    space, in the form's canonical order), or typed answers in canonical spelling."""
    credits: tuple[tuple[int, ...], ...]
    """For each item and response the credit by the bank's own key, in thousandths of the item's mark (0 to 1000)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FormAnswers:
    """First (or chosen) attempts of N pupils at one form, in columns."""

    form: Form
    pupils: np.ndarray
    """int32 [N]: index into `Answers.pupils`."""
    codes: np.ndarray
    """int16 [N, K]: index into ``form.responses[k]``, or OMITTED, NOT_REACHED, NOT_GIVEN."""
    groups: np.ndarray
    """int16 [N]: index into `Answers.groups`; 0 is the unnamed group."""
    milliseconds: np.ndarray | None = None
    """int32 [N, K], -1 where unknown; None where no times were given."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Answers:
    """Everything read from results: forms, pseudonyms, groups, and what was noticed on the way."""

    forms: tuple[FormAnswers, ...]
    pupils: tuple[str, ...]
    """Salted digests, in order of first appearance."""
    groups: tuple[str, ...] = ("",)
    rows: int = 0
    """Rows (or item results) that counted."""
    rejected: tuple[tuple[str, int, str], ...] = ()
    """(file, row, reason) of rows that did not count."""
    foreign: str = ""
    """What is to be said first where some answers are to items of another bank; empty where none is."""
    remarks: tuple[str, ...] = ()
    """Things to tell the reader of the report: scores that contradict the key, further attempts left out ..."""
    refused: tuple[tuple[str, str, int], ...] = ()
    """(quiz, item, number) of answers to items of the bank that did not count."""
    refused_rows: int = 0
    """All answers or rows that did not count, also those beyond the ones listed."""
    simulated: bool = False
    """True where a file says that its answers are simulated: every page made of them says so."""

    def pupil_groups(self) -> np.ndarray:
        """Return int16 [pupils]: the group of each pupil, that of the last form that they answered."""
        group = np.zeros(len(self.pupils), dtype=np.int16)
        for form in self.forms:
            group[form.pupils] = form.groups
        return group

    def group_sizes(self) -> dict[str, int]:
        """Return the number of pupils of each group."""
        sizes = np.bincount(self.pupil_groups(), minlength=len(self.groups))
        return {name: int(size) for name, size in zip(self.groups, sizes, strict=True)}


@dataclass(frozen=True, kw_only=True, slots=True)
class Counts:
    """n[group, item, response, total]: the one table that carries every statistic of a form but those that need
    whole patterns (2PL, missing data)."""

    form: Form
    groups: tuple[str, ...]
    group: np.ndarray
    """int16 [C]"""
    item: np.ndarray
    """int16 [C]: index into ``form.items``."""
    response: np.ndarray
    """int16 [C]: response code, or one of the three codes of no answer."""
    total: np.ndarray
    """int32 [C]: the pupil's total credit on the form in thousandths of a mark (omitted and not reached earn 0)."""
    n: np.ndarray
    """int64 [C]: how many; cells in ascending order of (group, item, response, total), each once, none of zero."""
    persons: int
    """N: pupils in the table."""
