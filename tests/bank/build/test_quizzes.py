"""Quizzes: keys level, mixed without runs, siblings exchanged only where the plan's filters allow."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from bank.build._collect import Entry
from bank.build._quizzes import LONGEST_RUN, _mixed, _selected, level_keys
from bank.model import Section
from bank.plans import DrawLine


def _entry(name: str, place: int, template: str = "t", size: int = 4, in_order: bool = True) -> Entry:
    return Entry(template, int(name, 36), 0, size, place, 0, in_order, "choice")


def _collected(*lines: tuple[DrawLine, list[Entry]]) -> Any:
    quizzes = list(dict.fromkeys(line.quiz for line, _ in lines if line.quiz))
    collected = SimpleNamespace(
        plan=SimpleNamespace(quizzes=[SimpleNamespace(identifier=quiz) for quiz in quizzes]),
        lines=[line for line, _ in lines], entries=[list(entries) for _, entries in lines],
    )
    collected.settled = set()
    collected.withdrawn = {}
    collected.of_quiz = lambda quiz: [
        entry for line, entries in zip(collected.lines, collected.entries, strict=True) if line.quiz == quiz
        for entry in entries
    ]
    return collected


def _places(collected: Any, line: int) -> list[int]:
    return sorted(entry.key_place for entry in collected.entries[line])


def test_a_quiz_with_too_many_keys_at_one_place_gets_siblings_from_the_pool() -> None:
    crowded = [_entry(f"a{turn}", 2) for turn in range(12)]
    spare = [_entry(f"b{turn}", turn % 4) for turn in range(16)]
    collected = _collected((DrawLine(items=12, quiz="one"), crowded), (DrawLine(items=16), spare))
    level_keys(collected)
    # Of 12 keys chance allows 8 at one place: P(X > 8) < 1/400, P(X > 7) > 1/400 for a binomial (12, 1/4).
    assert _places(collected, 0).count(2) == 8
    starts = {entry.start for entries in collected.entries for entry in entries}
    assert starts == {entry.start for entry in crowded + spare}
    assert [len(entries) for entries in collected.entries] == [12, 16]


@pytest.mark.parametrize(
    "other",
    [
        (DrawLine(items=16, mistake="add.carry-forgotten"), "t"),
        (DrawLine(items=16, band="harder"), "t"),
        (DrawLine(items=16), "another-template"),
    ],
)
def test_items_of_other_filters_or_templates_are_not_exchanged(other: tuple[DrawLine, str]) -> None:
    crowded = [_entry(f"a{turn}", 2) for turn in range(12)]
    spare = [_entry(f"b{turn}", 1, template=other[1]) for turn in range(16)]
    collected = _collected((DrawLine(items=12, quiz="one"), crowded), (other[0], spare))
    level_keys(collected)
    assert collected.entries == [crowded, spare]


def test_an_exchange_does_not_crowd_the_other_quiz() -> None:
    crowded = [_entry(f"a{turn}", 2) for turn in range(12)]
    full = [_entry(f"b{turn}", 2) for turn in range(8)] + [_entry(f"c{turn}", 1) for turn in range(4)]
    collected = _collected((DrawLine(items=12, quiz="one"), crowded), (DrawLine(items=12, quiz="two"), full))
    level_keys(collected)
    assert _places(collected, 1).count(2) == 8


def test_options_that_stand_as_in_the_stem_are_left_alone() -> None:
    stays = [_entry(f"a{turn}", 2, in_order=False) for turn in range(12)]
    spare = [_entry(f"b{turn}", 1, in_order=False) for turn in range(12)]
    collected = _collected((DrawLine(items=12, quiz="one"), stays), (DrawLine(items=12), spare))
    level_keys(collected)
    assert collected.entries == [stays, spare]


@pytest.mark.parametrize("seed", range(20))
def test_mixing_leaves_no_long_run_and_loses_nothing(seed: int) -> None:
    entries = [_entry(f"a{turn}", 1 if turn < 9 else turn % 4) for turn in range(18)]
    mixed = _mixed(entries, seed, "quiz")
    assert sorted(entry.start for entry in mixed) == sorted(entry.start for entry in entries)
    places = [entry.key_place for entry in mixed]
    windows = [places[start : start + LONGEST_RUN + 1] for start in range(len(places) - LONGEST_RUN)]
    assert all(len(set(window)) > 1 for window in windows)


@pytest.mark.parametrize(
    ("sizes", "ask", "shares"),
    [((6, 4), 5, [3, 2]), ((6, 4), 4, [2, 2]), ((7, 2, 1), 5, [4, 1, 1]), ((3, 3, 3), 4, [2, 1, 1]),
     ((8, 1, 1), 2, [2, 1, 1]), ((6, 4), 0, [0, 0]), ((6, 4), 10, [0, 0]), ((6, 4), 99, [0, 0])],
)  # fmt: skip
def test_what_each_pupil_is_asked_is_shared_out_as_the_items_are(
    sizes: tuple[int, ...], ask: int, shares: list[int]
) -> None:
    sections = [Section(title="S", items=tuple(f"i{at}" for at in range(size))) for size in sizes]
    assert [section.select for section in _selected(sections, ask)] == shares
