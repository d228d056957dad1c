"""A judge of workings: reads their steps as sentences and says which are wrong, given what the steps before them wrote.

It knows nothing of how a working was made. It keeps what a reader sees (digits noted, written, left over) and reckons
each claim anew with whole numbers. A step that it cannot read counts as not understood, never as right. Additions and
subtractions are judged here, multiplications and divisions in `bank.checks._judging_rows`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import NamedTuple

from bank.model import Expression, Line
from bank.numerals import POWERS, Numeral

PLACES = {
    "ones": 0, "tens": 1, "hundreds": 2, "thousands": 3, "ten-thousands": 4, "hundred-thousands": 5, "millions": 6,
    "ten-millions": 7, "hundred-millions": 8, "billions": 9,
    "tenths": -1, "hundredths": -2, "thousandths": -3, "ten-thousandths": -4, "hundred-thousandths": -5,
    "millionths": -6, "ten-millionths": -7, "hundred-millionths": -8, "billionths": -9,
}
"""Positions of columns by their names: 0 for the ones, -1 for the tenths."""
_COLUMNS = {f"{name} column from the right": place for place, name in enumerate(
    ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth"))}


class Judged(NamedTuple):
    """What the judge says of a working."""

    wrong: tuple[int, ...]
    """Indices of the steps that are wrong given the steps before them."""
    not_read: tuple[int, ...]
    """Indices of steps that could not be read."""


class Judge:
    """Reads one working step by step; a subclass for each operation has `forms`."""

    def __init__(self, operands: Sequence[Numeral]) -> None:
        self.operands = tuple(operands)

    def forms(self) -> Sequence[tuple[re.Pattern[str], Callable[[re.Match[str]], bool]]]:
        """Return the sentences that are known, each with what says whether it is right and keeps what it wrote."""
        raise NotImplementedError

    def judge(self, steps: Sequence[Line]) -> Judged:
        """Return which of *steps* are wrong."""
        forms = self.forms()
        wrong, not_read = [], []
        for index, step in enumerate(steps):
            text = plain(step)
            for pattern, asked in forms:
                found = pattern.fullmatch(text)
                if found:
                    if not asked(found):
                        wrong.append(index)
                    break
            else:
                not_read.append(index)
        return Judged(tuple(wrong), tuple(not_read))


def plain(line: Line) -> str:
    """Return *line* as text, numerals with a point, signs neutral."""
    return "".join([" ".join(map(str, leaf.parts)) if isinstance(leaf, Expression) else str(leaf) for leaf in line])


def number(text: str) -> Numeral:
    """Return the numeral that *text* writes with a point."""
    return Numeral.parse(text)


def place_of(name: str) -> int | None:
    """Return the position of the place named, in the singular or plural and in any case, None for no such place."""
    name = name.lower()
    return PLACES.get(name, PLACES.get(f"{name}s"))


HEAD = r"(?P<head>[A-Z][a-z -]*?): "


class Columns(Judge):
    """What additions and subtractions share: numbers one below the other, digits written from the right."""

    def __init__(self, operands: Sequence[Numeral]) -> None:
        super().__init__(operands)
        self.places = max([operand.places for operand in self.operands])
        self.by_name = True
        self.written = ""
        self.lay_out(True)

    def lay_out(self, lined_up: bool) -> None:
        """Write the operands below one another, points lined up or else last digits."""
        self.by_name = lined_up
        texts = [
            str(one.with_places(self.places).coefficient if lined_up else one.coefficient).zfill(
                (self.places if lined_up else one.places) + 1)
            for one in self.operands
        ]
        width = max(map(len, texts))
        self.columns = [
            tuple([text.rjust(width)[width - 1 - at] for text in texts]) for at in range(width)
        ]
        """Digits of each column from the right, blanks where nothing is written."""

    @property
    def column(self) -> int:
        """The column that is worked next."""
        return len(self.written)

    def here(self, head: str) -> bool:
        """Whether *head* names the column that is worked next."""
        if self.by_name:
            return place_of(head) == self.column - self.places
        return _COLUMNS.get(head) == self.column or (head == "One more column" and self.column == len(self.columns))

    def digits(self) -> list[str]:
        """Return the digits that are written in the column that is worked next."""
        return [digit for digit in self.columns[self.column] if digit != " "] if self.column < len(self.columns) else []

    def annexed(self, found: re.Match[str]) -> bool:
        """Judge a step on annexing zeros."""
        short, long = number(found["short"]), number(found["long"])
        return short == long and long.places == self.places and any([one.same_writing(short) for one in self.operands])

    def finished(self) -> bool:
        """Whether every column has been worked."""
        return self.column >= len(self.columns)

    def answered(self, found: re.Match[str]) -> bool:
        """Judge the step that reads the answer off."""
        return self.finished() and number(found["answer"]) == Numeral(int(self.written or "0"), self.places)

    def started(self, found: re.Match[str]) -> bool:
        """Judge the first step."""
        lined_up = found["how"] != "last digit under last digit"
        self.lay_out(lined_up)
        return lined_up or len({one.places for one in self.operands}) == 1

    def common(self) -> list[tuple[re.Pattern[str], Callable[[re.Match[str]], bool]]]:
        """Return the sentences that both operations know."""
        return [
            (re.compile(r"Write the numbers? (?:to take away )?(?:one )?below the other, (?P<how>ones under ones|point "
                        r"under point and ones under ones|last digit under last digit)\."), self.started),
            (re.compile(r"Write (?:a zero|zeros) at the end: (?P<short>[0-9.]+) is the same as (?P<long>[0-9.]+)\."),
             self.annexed),
            (re.compile(r"The answer is (?P<answer>[0-9.]+)\."), self.answered),
        ]


class Addition(Columns):
    """Judges column additions."""

    carry = 0

    def forms(self) -> Sequence[tuple[re.Pattern[str], Callable[[re.Match[str]], bool]]]:
        """Return the sentences of additions."""
        return [
            *self.common(),
            (re.compile(HEAD + r"only (?P<carried>the carried )?(?P<one>\d+) is here; write (?P<write>\d+)\."),
             self.alone),
            (re.compile(HEAD + r"(?P<terms>.+) is (?P<sum>\d+); write (?P<write>\d)"
                        r"(?:, carry (?P<carry>\d+) to the (?P<to>[a-z -]+))?\."), self.added),
        ]

    def finished(self) -> bool:
        """Whether every column has been worked and nothing noted is left."""
        return super().finished() and not self.carry

    def alone(self, found: re.Match[str]) -> bool:
        """Judge a column with one number in it."""
        wanted = [str(self.carry)] if found["carried"] and not self.digits() else self.digits()
        carry = 0 if found["carried"] else self.carry
        right = self.here(found["head"]) and [found["one"]] == wanted and not carry and found["write"] == found["one"]
        self.written, self.carry = found["write"] + self.written, 0
        return right

    def added(self, found: re.Match[str]) -> bool:
        """Judge a column of several numbers."""
        terms = found["terms"].split(" plus ")
        carried = [f"the carried {self.carry}"] if self.carry else []
        total, write = int(found["sum"]), found["write"]
        onward = int(found["carry"] or 0)
        to = found["to"]
        goes = to == "next column" if not self.by_name else place_of(to or "") == self.column + 1 - self.places
        right = (
            self.here(found["head"]) and terms == self.digits() + carried
            and total == sum([int(term.rpartition(" ")[2]) for term in terms])
            and write == str(total % 10) and onward == total // 10 and (goes or not onward)
        )
        self.written, self.carry = write + self.written, onward
        return right


class Subtraction(Columns):
    """Judges column subtractions by decomposition."""

    def lay_out(self, lined_up: bool) -> None:
        """Write the numbers below one another and read the upper digits."""
        super().lay_out(lined_up)
        self.top = [int(column[0]) if column[0] != " " else 0 for column in self.columns]

    def bottom(self) -> int:
        """Return the lower digit of the column that is worked next, 0 where there is none."""
        lower = self.columns[self.column][1] if self.column < len(self.columns) else " "
        return int(lower) if lower != " " else 0

    def forms(self) -> Sequence[tuple[re.Pattern[str], Callable[[re.Match[str]], bool]]]:
        """Return the sentences of subtractions."""
        return [
            *self.common(),
            (re.compile(HEAD + r"(?P<here>\d+) is less than (?P<wanted>\d+)\. (?P<words>.+) Now there (?:are|is) "
                        r"(?P<now>.+)\."), self.exchanged),
            (re.compile(HEAD + r"(?P<top>\d+) minus (?P<bottom>\d+) is (?P<left>\d+); write (?P<write>\d)\."),
             self.taken),
            (re.compile(HEAD + r"nothing to take away; write (?P<write>\d)\."), self.brought_down),
        ]

    def exchanged(self, found: re.Match[str]) -> bool:
        """Judge an exchange: what the columns hold afterwards must be worth what they held before."""
        column = self.column
        before, now = self.top, self._now(found["now"])
        if now is None or column >= len(before):
            return False
        after = [now.get(place, digit) for place, digit in enumerate(before)]
        right = (
            self.here(found["head"]) and int(found["here"]) == before[column] < self.bottom() == int(found["wanted"])
            and sum([digit * POWERS[place] for place, digit in enumerate(before)])
            == sum([digit * POWERS[place] for place, digit in enumerate(after)])
            and all([digit < 10 for place, digit in enumerate(after) if place > column])
            and all([_next_to(one, ten) for one, ten in _TRADES.findall(found["words"])])
        )
        self.top = after
        return right

    def _now(self, words: str) -> dict[int, int] | None:
        """Return the digits of columns as a step lists them, None where a column has no such name."""
        now: dict[int, int] = {}
        for count, name in _COUNTED.findall(words):
            if name in ("here", "in the next column"):
                place: int | None = self.column + (name != "here")
            else:
                position = place_of(name)
                place = None if position is None else position + self.places
            if place is None or not 0 <= place < len(self.top):
                return None
            now[place] = int(count)
        return now

    def taken(self, found: re.Match[str]) -> bool:
        """Judge a column in which a digit is taken away."""
        column = self.column
        top, bottom = int(found["top"]), int(found["bottom"])
        right = (
            column < len(self.top) and self.here(found["head"]) and top == self.top[column] and bottom == self.bottom()
            and int(found["left"]) == top - bottom and found["write"] == found["left"]
        )
        self.written = found["write"] + self.written
        return right

    def brought_down(self, found: re.Match[str]) -> bool:
        """Judge a column with nothing below."""
        column = self.column
        right = (
            column < len(self.top) and self.here(found["head"]) and self.columns[column][1] == " "
            and int(found["write"]) == self.top[column]
        )
        self.written = found["write"] + self.written
        return right


_COUNTED = re.compile(r"(\d+) (in the next column|[a-z-]+)")
_TRADES = re.compile(r"xchange 1 ([a-z-]+) for 10 ([a-z-]+)")


def _next_to(one: str, ten: str) -> bool:
    """Whether one unit of the first place is ten of the second."""
    larger, smaller = place_of(one), place_of(ten)
    return larger is not None and smaller is not None and larger == smaller + 1
