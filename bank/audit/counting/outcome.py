"""What a count gives beside the tables: the rows that did not count, and why."""

from __future__ import annotations

from dataclasses import dataclass, field

from bank.audit.records import Counts

LISTED = 1_000
"""Rows that did not count are listed up to this many, and counted beyond."""


@dataclass(slots=True)
class Rejected:
    """Collects rows that did not count: (file, row, reason), the header being row 1; row 0 stands for no single row."""

    listed: list[tuple[str, int, str]] = field(default_factory=list)
    number: int = 0
    """All of them."""

    def add(self, file: str, row: int, reason: str, rows: int = 1) -> None:
        """Take one row, or what is wrong with several *rows* alike."""
        self.number += rows
        if len(self.listed) < LISTED:
            self.listed.append((file, row, reason))

    def include(self, other: Rejected) -> None:
        """Take all that *other* has."""
        self.number += other.number
        self.listed = sorted([*self.listed, *other.listed])[:LISTED]

    def in_order(self) -> tuple[tuple[str, int, str], ...]:
        """Return those listed in order of file and row."""
        return tuple(sorted(self.listed))


@dataclass(frozen=True, kw_only=True, slots=True)
class Counted:
    """The tables of all quizzes that were answered, in the order of the keys, and what was left out."""

    counts: tuple[Counts, ...]
    answers: int
    """Answers in the tables, omitted and not reached ones too, but not those not given."""
    doubled: int = 0
    """Items that a pupil answered twice in one attempt alike: counted once."""
    contradicted: int = 0
    """Items that a pupil answered twice in one attempt in different ways: none of the answers counts."""
    rejected: tuple[tuple[str, int, str], ...] = ()
    rejected_rows: int = 0
    """All of them, also those beyond the ones listed."""

    @property
    def persons(self) -> int:
        """Return how many tests were taken: pupils of all quizzes together."""
        return sum(counts.persons for counts in self.counts)
