"""A bank without some of its items, as those read it who may not deliver them: positions, and quizzes made shorter."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Collection, Iterable
from dataclasses import replace
from pathlib import Path
from typing import NamedTuple

from bank.model import Quiz, Section


class Shelf(NamedTuple):
    """A bank file, and the items in it that are not to be given to anybody; each process opens it for itself."""

    path: Path
    without: frozenset[str] = frozenset()
    withdrawn: bool = False
    """Whether items that were withdrawn from quizzes are read as their last section, so that old answers are known."""
    unlisted: frozenset[str] = frozenset()
    """Items that quizzes hold but that are passed over where all items are asked for."""


Source = Path | Shelf
"""What a process opens a bank by."""


class Gaps:
    """Where the items left out stand in the bank: gives positions of those that are left."""

    def __init__(self, positions: Iterable[int]) -> None:
        found = sorted(positions)
        self.count = len(found)
        self._before = [position - place for place, position in enumerate(found)]
        """For each item left out, the number that the next item left has among those left."""

    def position(self, number: int) -> int:
        """Return the position in the bank of the *number*-th item that is left, counting from 1; 0 for 0."""
        return number + bisect_right(self._before, number)


def shortened(quiz: Quiz, without: Collection[str]) -> Quiz:
    """Return *quiz* without these items: empty sections gone, and no section asking for more than it has left."""
    if not any(item in without for item in quiz.items):
        return quiz
    sections = [_left(section, without) for section in quiz.sections]
    return replace(quiz, sections=tuple([section for section in sections if section.items]))


def _left(section: Section, without: Collection[str]) -> Section:
    items = tuple([item for item in section.items if item not in without])
    return replace(section, items=items, select=section.select if section.select < len(items) else 0)


def lengthened(quiz: Quiz) -> Quiz:
    """Return *quiz* with what was withdrawn from it as its last section."""
    if not quiz.withdrawn:
        return quiz
    return replace(quiz, sections=(*quiz.sections, Section(title="Withdrawn", items=quiz.withdrawn)))
