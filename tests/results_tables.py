"""Random results tables for tests of the audit's engines, and their count one answer at a time, by other means."""

from __future__ import annotations

import csv
from collections import Counter, defaultdict
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from hypothesis import strategies as st

from bank.audit.counting.keys import QuizKey
from bank.audit.records import Counts

ITEMS = (("gate-1", "gate-2", "gate-3", "pond-1"), ("pond-1", "pond-2", "pond-3"))
"""Items of two quizzes; one item is in both."""
RESPONSES = ("", "", "", "A", "B", "C", "0,5", "0.5", ".50", "omitted", "not reached", "not given", "no such thing")
PUPILS = tuple(f"{number * 2654435761 % 4294967296:08x}{number:04d}" for number in range(12)) + ("k", "\u00e9t\u00e9")
GROUPS = ("", "", "north", "south", "upper, \"late\"")


class Line(NamedTuple):
    """A row of a long table."""

    pupil: str
    group: str
    quiz: str
    attempt: str
    item: str
    version: str
    response: str


def score(item: int, text: str) -> tuple[str, int]:
    """Return canonical spelling and credit; equal spellings of a half are one response."""
    if text == "no such thing":
        raise ValueError("the item offers A, B, C")
    if text in ("0,5", "0.5", ".50"):
        return "0.5", 333
    return text, 1000 if text == "ABC"[item % 3] else 500 * (text == "C")


KEYS = tuple(
    QuizKey(quiz=f"quiz-{number}", items=items, versions=(2,) * len(items), score=score)
    for number, items in enumerate(ITEMS)
)


@st.composite
def tables(draw: st.DrawFn, clean: bool = False) -> list[Line]:
    """Return the rows of a long table; *clean* ones have no unknown names, no other version, and one row an item."""
    pupils = draw(st.lists(st.sampled_from(PUPILS), min_size=1, max_size=6, unique=True))
    lines = []
    for pupil in pupils:
        group = draw(st.sampled_from(GROUPS))
        for number, items in enumerate(ITEMS):
            for attempt in draw(st.sampled_from([("",), ("1",), ("2", "1"), (), ("3",)])):
                for item in items:
                    if draw(st.integers(0, 5)):
                        response = draw(st.sampled_from(RESPONSES[:-1] if clean else RESPONSES))
                        version = draw(st.sampled_from(["", "2"]))
                        lines.append(Line(pupil, group, f"quiz-{number}", attempt, item, version, response))
    if not clean and lines:
        for _ in range(draw(st.integers(0, 4))):
            lines.append(_broken(draw, draw(st.sampled_from(lines))))
    return draw(st.permutations(lines))


def _broken(draw: st.DrawFn, line: Line) -> Line:
    changes = draw(st.sampled_from([
        {}, {"response": "B"}, {"response": ""}, {"group": "other"}, {"item": "pond-9"}, {"quiz": "quiz-9"},
        {"version": "1"}, {"pupil": ""}, {"item": ""}, {"attempt": "two"}, {"attempt": "2"}, {"response": "not given"},
    ]))
    return line._replace(**changes)


def write_long(path: Path, lines: Sequence[Line], separator: str = ",") -> None:
    """Write a long table."""
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, delimiter=separator, lineterminator="\n")
        writer.writerow(Line._fields)
        writer.writerows(lines)


def write_wide(path: Path, lines: Sequence[Line]) -> list[Line]:
    """Write a wide table of the rows that fit into one, and return it as rows of a long one."""
    names = list(dict.fromkeys(item for items in ITEMS for item in items))
    people: dict[tuple[str, str, str, str], dict[str, str]] = defaultdict(dict)
    for line in lines:
        if line.item in names:
            people[line.pupil, line.group, line.quiz, line.attempt].setdefault(line.item, line.response)
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\r\n")
        writer.writerow(("pupil", "group", "quiz", "attempt", "remark", *names))
        for person, cells in people.items():
            writer.writerow((*person, "x", *[cells.get(name, "") for name in names]))
    wide = []
    for (pupil, group, quiz, attempt), cells in people.items():
        members = next((key.items for key in KEYS if key.quiz == quiz), ())
        for name in names:
            response = cells.get(name, "")
            if response or name in members:
                wide.append(Line(pupil, group, quiz, attempt, name, "", response))
    return wide


Cells = dict[tuple[str, str, str, str, int], int]
"""(quiz, group, item, response or state, total) and how many."""


_Given = tuple[str, str, tuple[str, int]]
"""Item, group, and response with credit."""
_STATES = ("omitted", "not reached", "not given")


def counted_plainly(lines: Sequence[Line], attempts: str = "first") -> tuple[Cells, Counter[str], int]:
    """Return cells, persons by quiz, and the number of rows that do not count."""
    rejected = 0
    found: dict[tuple[int, str], dict[int, list[_Given]]] = defaultdict(lambda: defaultdict(list))
    for line in lines:
        quiz = next((number for number, key in enumerate(KEYS) if key.quiz == line.quiz), None)
        known = quiz is not None and line.item in ITEMS[quiz] and line.version in ("", "2")
        if not known or not line.pupil or line.attempt == "two":
            rejected += 1
            continue
        if line.response == "no such thing":
            rejected += 1
            found[quiz, line.pupil][int(line.attempt or 1)]  # the pupil sat this attempt, whatever the answer was
            continue
        state = line.response in ("", "omitted", "not reached", "not given")
        place = ITEMS[quiz].index(line.item)
        answer = (line.response or "blank", -1) if state else score(place, line.response)
        found[quiz, line.pupil][int(line.attempt or 1)].append((line.item, line.group, answer))
    cells: Counter[tuple[str, str, str, str, int]] = Counter()
    persons: Counter[str] = Counter()
    for (quiz, _), sittings in found.items():
        rows = sittings[min(sittings) if attempts == "first" else max(sittings)]
        groups = {group for _, group, _ in rows if group}
        group = groups.pop() if len(groups) == 1 else ""
        row = [_one([answer for item, _, answer in rows if item == name]) for name in ITEMS[quiz]]
        if all(response == "not given" and credit < 0 for response, credit in row):
            continue
        persons[f"quiz-{quiz}"] += 1
        total = sum(max(0, credit) for _, credit in row)
        for name, response in zip(ITEMS[quiz], _without_blanks(row), strict=True):
            cells[f"quiz-{quiz}", group, name, response, total] += 1
    return dict(cells), persons, rejected


def _one(answers: list[tuple[str, int]]) -> tuple[str, int]:
    return answers[0] if len(set(answers)) == 1 else ("not given", -1)


def _without_blanks(row: list[tuple[str, int]]) -> list[str]:
    """Return the responses, blanks told apart by walking back from the end."""
    names = [response for response, _ in row]
    given = [place for place, name in enumerate(names) if name != "not given"]
    while given and names[given[-1]] in ("blank", "not reached"):
        place = given.pop()
        before = names[given[-1]] if given else "omitted"
        if names[place] == "blank":
            names[place] = "not reached" if before in ("blank", "not reached") else "omitted"
    return ["omitted" if name == "blank" else name for name in names]


def named_cells(counts: Sequence[Counts]) -> Cells:
    """Return tables with names in the place of numbers."""
    cells: Cells = {}
    for table in counts:
        columns = (table.group, table.item, table.response, table.total, table.n)
        for group, item, code, total, n in zip(*(column.tolist() for column in columns), strict=True):
            response = table.form.responses[item][code] if code >= 0 else _STATES[-code - 1]
            place = (table.form.quiz, table.groups[group], table.form.items[item], response, total)
            assert place not in cells and n > 0
            cells[place] = n
    return cells
