"""Gathering answers that come in any order into columns, a row a pupil: attempts, doubles, groups, blanks."""

from __future__ import annotations

import numpy as np

from bank.audit.counting.keys import BLANK, REFUSED, Codebook
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, FormAnswers

EMPTY = REFUSED
"""No answer has come for this cell, or only refused ones."""
CONTRADICTED = -32_767
"""Different answers have come for this cell."""
_NO_GROUP, _TWO_GROUPS = 0, -1
_STAMPS = 30_000
"""Answers taken at a time: their numbers must fit into 16 bits."""
_ROWS = 20_000
"""Pupils whose blanks are told apart at a time."""


class Gathered:
    """Answers to one quiz as they come: 16-bit codes, a row a pupil in order of appearance."""

    def __init__(self, book: Codebook, attempts: str) -> None:
        self.book = book
        self.items = len(book.key.items)
        self.size = 0
        self._last = attempts == "last"
        self._none = 0 if self._last else np.iinfo(np.int32).max
        self._row_of = np.full(1024, -1, dtype=np.int32)
        self._pupils = np.zeros(1024, dtype=np.int32)
        self._groups = np.zeros(1024, dtype=np.int32)
        self._attempts = np.full(1024, self._none, dtype=np.int32)
        self._codes = np.full((1024, self.items), EMPTY, dtype=np.int16)
        self._doubled: set[int] = set()

    def rows(self, pupils: np.ndarray) -> np.ndarray:
        """Return the row of each pupil's number, new ones for new pupils (int64)."""
        if not len(pupils):
            return np.zeros(0, dtype=np.int64)
        top = int(pupils.max()) + 1
        if top > len(self._row_of):
            self._row_of = _longer(self._row_of, top, -1)
        row = self._row_of[pupils]
        if row.min() < 0:
            new, first = np.unique(pupils[row < 0], return_index=True)
            new = new[np.argsort(first)]
            size = self.size + len(new)
            if size > len(self._pupils):
                self._pupils, self._groups, self._attempts, self._codes = (
                    _longer(old, size, fill) for old, fill in
                    ((self._pupils, 0), (self._groups, _NO_GROUP), (self._attempts, self._none), (self._codes, EMPTY))
                )
            self._pupils[self.size : size] = new
            self._row_of[new] = np.arange(self.size, size, dtype=np.int32)
            self.size = size
            row = self._row_of[pupils]
        return row.astype(np.int64)

    def in_attempt(self, row: np.ndarray, attempts: np.ndarray) -> np.ndarray:
        """Return which answers belong to the attempt that counts so far; rows that turn to another are emptied."""
        old = self._attempts[row]
        (np.maximum if self._last else np.minimum).at(self._attempts, row, attempts)
        now = self._attempts[row]
        turned = np.unique(row[(now != old) & (old != self._none)])
        if len(turned):
            self._codes[turned] = EMPTY
            self._groups[turned] = _NO_GROUP
        if self._doubled and len(turned):
            gone = set(turned.tolist())
            self._doubled = {cell for cell in self._doubled if cell // self.items not in gone}
        return now == attempts

    def name_groups(self, row: np.ndarray, groups: np.ndarray) -> None:
        """Take the groups (from 1 up; 0 is none) that rows name; a pupil in two is in none."""
        if not len(row):
            return
        change = (row[1:] != row[:-1]) | (groups[1:] != groups[:-1])
        heads = np.concatenate(([0], np.flatnonzero(change) + 1))
        heads = heads[groups[heads] != _NO_GROUP]
        row, groups = row[heads], groups[heads]
        fresh = self._groups[row] == _NO_GROUP
        self._groups[row[fresh]] = groups[fresh]
        self._groups[row[self._groups[row] != groups]] = _TWO_GROUPS

    def add(self, row: np.ndarray, place: np.ndarray, codes: np.ndarray) -> None:
        """Take answers: row, item's place, code (int16)."""
        cell = row * self.items + place
        for at in range(0, len(cell), _STAMPS):
            self._add(cell[at : at + _STAMPS], codes[at : at + _STAMPS])

    def add_rows(self, row: np.ndarray, codes: np.ndarray) -> None:
        """Take whole rows: row, codes int16 [n, K], `EMPTY` where there is no answer."""
        if len(row) and row[-1] - row[0] == len(row) - 1 and bool((row[1:] > row[:-1]).all()):
            part = self._codes[int(row[0]) : int(row[-1]) + 1]
            if bool((part == EMPTY).all()):
                part[:] = codes
                return
        line, place = np.nonzero(codes != EMPTY)
        self.add(row[line], place, codes[line, place])

    def _add(self, cell: np.ndarray, codes: np.ndarray) -> None:
        table = self._codes.reshape(-1)
        before = table[cell]
        once = bool((before == EMPTY).all())
        if once and not bool((cell[1:] > cell[:-1]).all()):
            stamps = np.arange(len(cell), dtype=np.int16)
            table[cell] = stamps
            once = bool((table[cell] == stamps).all())
            table[cell] = before
        if once:
            table[cell] = codes
            return
        order = np.argsort(cell, kind="stable")
        cell, codes = cell[order], codes[order]
        first = np.flatnonzero(np.concatenate(([True], cell[1:] != cell[:-1])))
        low, high = np.minimum.reduceat(codes, first), np.maximum.reduceat(codes, first)
        several = np.diff(first, append=len(cell)) > 1
        cell = cell[first]
        before = table[cell]
        new = before == EMPTY
        agree = (low == high) & (new | (before == low))
        table[cell] = np.where(agree, low, CONTRADICTED)
        self._doubled.update(cell[several | ~new].tolist())

    def doubles(self) -> tuple[int, int]:
        """Return how many cells had several like answers, and how many different ones."""
        contradicted = int((self._codes[: self.size] == CONTRADICTED).sum())
        return len(self._doubled) - contradicted, contradicted

    def answers(self) -> FormAnswers | None:
        """Return what was gathered, or None where nobody answered; the groups have the numbers they were taken with."""
        codes = self._codes[: self.size]
        codes[codes <= CONTRADICTED] = NOT_GIVEN
        for at in range(0, self.size, _ROWS):
            tell_blanks_apart(codes[at : at + _ROWS])
        form, renumbered = self.book.form()
        for item, new in enumerate(renumbered):
            column = codes[:, item]
            codes[:, item] = np.array((*new, NOT_GIVEN, NOT_REACHED, OMITTED), dtype=np.int16)[column]
        taken = np.flatnonzero((codes != NOT_GIVEN).any(axis=1))
        if not len(taken):
            return None
        if len(taken) < self.size:
            codes = codes[taken]
        groups = np.maximum(self._groups[taken], _NO_GROUP)
        return FormAnswers(form=form, pupils=self._pupils[taken], codes=codes, groups=groups)


def tell_blanks_apart(codes: np.ndarray) -> None:
    """Make the blanks in *codes* [N, K] omitted or not reached, in place.

    A pupil reached the last item with an answer, or with a blank that the file itself calls omitted: that was seen too.
    Blanks before it were omitted. Of the run after it, which what the file calls not reached belongs to, the first was
    seen and omitted and the others were not reached.

    Source: common practice of large surveys, no source.
    """
    rows = np.flatnonzero((codes == BLANK).any(axis=1))
    if not len(rows):
        return
    part = codes[rows]
    items = part.shape[1]
    seen = part >= OMITTED
    reached = np.where(seen.any(axis=1), items - 1 - seen[:, ::-1].argmax(axis=1), -1)
    places = np.arange(items)
    after = places > reached[:, None]
    run = after & ((part == BLANK) | (part == NOT_REACHED))
    first = np.where(run.any(axis=1), run.argmax(axis=1), -1)
    later = after & (places != first[:, None])
    blank = part == BLANK
    part[blank & later] = NOT_REACHED
    part[blank & ~later] = OMITTED
    codes[rows] = part


def _longer(old: np.ndarray, size: int, fill: int) -> np.ndarray:
    """Return *old* with room for *size* rows, and half as much again."""
    new = np.full((size + size // 2, *old.shape[1:]), fill, dtype=old.dtype)
    new[: len(old)] = old
    return new
