"""What procedures share about their operands is that of these operands, whatever was asked before."""

from __future__ import annotations

from itertools import permutations
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bank import mistakes
from bank.mistakes import _columns
from bank.numerals import Numeral

Written = tuple[int, int] | None

numerals = st.builds(Numeral, st.integers(0, 99_999), st.integers(0, 3))


def _written(answer: Numeral | None) -> Written:
    return None if answer is None else (answer.coefficient, answer.places)


def _copies(operands: tuple[Numeral, ...]) -> tuple[Numeral, ...]:
    return tuple(Numeral(operand.coefficient, operand.places) for operand in operands)


@pytest.mark.parametrize("operation", ["add", "subtract", "multiply", "divide"])
@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_operands_asked_about_in_turns_get_the_answers_of_fresh_ones(operation: str, data: st.DataObject) -> None:
    pool = data.draw(st.lists(numerals, min_size=3, max_size=3))
    groups: list[tuple[Numeral, ...]] = [*permutations(pool, 2), (pool[0], pool[0])]
    if operation == "add":
        groups += [*permutations(pool), (pool[0], pool[2], pool[1], pool[0]), (pool[0], pool[1], pool[1], pool[0])]
    places: list[dict[str, Any]] = [{"places": 1}, {"places": None}] if operation == "divide" else [{}]
    groups += [group[::-1] for group in groups]
    asked = [(group, options) for group in groups for options in places]
    asked += [(group, options) for options in places for group in groups]
    for record in mistakes.of_operation(operation):
        in_turns = [_written(record.procedure(*group, **options)) for group, options in asked]
        fresh = [_written(record.procedure(*_copies(group), **options)) for group, options in asked]
        assert in_turns == fresh, record.identifier


def test_equal_numbers_written_otherwise_get_a_layout_of_their_own() -> None:
    short, long, whole = Numeral.parse("2.5"), Numeral.parse("2.50"), Numeral.parse("3")
    assert _columns.lined_up((short, whole)).places == 1
    assert _columns.lined_up((long, whole)).places == 2
    assert _columns.taken_away(whole, short).places == 1
    assert _columns.taken_away(whole, long).places == 2


def test_a_layout_is_made_once_for_the_same_operands() -> None:
    first, second, third = Numeral.parse("4.25"), Numeral.parse("1.9"), Numeral.parse("7")
    assert _columns.lined_up((first, second)) is _columns.lined_up((first, second))
    assert _columns.lined_up((first, third, second)) is _columns.lined_up((first, third, second))
    assert _columns.taken_away(first, second) is _columns.taken_away(first, second)
