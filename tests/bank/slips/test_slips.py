"""Every slip: the answer is its mistake's, the working is right up to the wrong step, its rows say what it gives."""

from __future__ import annotations

import re
from functools import lru_cache

import pytest
from bank import methods, mistakes, slips
from bank.model import ROLES, Expression, Line, Trace
from bank.numerals import Numeral
from bank.slips import FEWEST_STEPS, MOST_STEPS, Slip, Working
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import Operands, addends, dividend_and_divisor, factors, minuend_and_subtrahend, numerals

SLIPS = slips.load().values()
MODEST = settings(max_examples=100, deadline=None)
N = Numeral.parse

each_operation = pytest.mark.parametrize("operation", ["add", "subtract", "multiply", "divide"])
each_slip = pytest.mark.parametrize("record", SLIPS, ids=lambda record: record.mistake)


@st.composite
def ragged(draw: st.DrawFn) -> Operands:
    """Two decimals of a usual lesson, often with zeros inside and unequal places."""
    first, second = draw(numerals(digits=5, places=2, least=1)), draw(numerals(digits=4, places=2, least=1))
    return first, second


def operands_of(operation: str) -> st.SearchStrategy[Operands]:
    if operation == "add":
        return addends(most=3) | ragged()
    if operation == "subtract":
        return minuend_and_subtrahend() | ragged().map(lambda pair: (max(pair), min(pair)))
    if operation == "multiply":
        return factors() | ragged()
    return dividend_and_divisor() | dividend_and_divisor().map(lambda pair: (pair[0].normal(), pair[1].normal()))


def right_of(operation: str, operands: Operands) -> Trace:
    return methods.run(operation, operands)


def words_of(line: Line) -> str:
    return "".join([leaf for leaf in line if isinstance(leaf, str)])


@each_slip
def test_a_slip_belongs_to_a_mistake_of_its_operation(record: Slip) -> None:
    known = mistakes.load()
    assert record.mistake in known
    assert known[record.mistake].operation == record.operation
    assert record.procedure.__doc__ and record.procedure.__doc__.startswith("Return")


def test_every_operation_in_columns_has_slips() -> None:
    for operation in ("add", "subtract", "multiply", "divide"):
        assert len(slips.of_operation(operation)) >= 5
    assert slips.of_operation("round") == ()


@each_operation
@given(data=st.data())
@MODEST
def test_the_working_ends_with_the_answer_that_the_mistake_gives(operation: str, data: st.DataObject) -> None:
    operands = data.draw(operands_of(operation))
    for record in slips.of_operation(operation):
        working = record.procedure(*operands)
        answer = mistakes.load()[record.mistake].procedure(*operands)
        if working is not None and working.wrong and answer is not None:
            assert working.trace.result == answer, record.mistake


@each_operation
@given(data=st.data())
@MODEST
def test_the_working_is_right_up_to_its_first_wrong_step(operation: str, data: st.DataObject) -> None:
    operands = data.draw(operands_of(operation))
    right = methods.run(operation, operands)
    for record in slips.of_operation(operation):
        working = record.procedure(*operands)
        if working is None:
            continue
        steps = working.trace.steps
        assert working.trace.operands == right.operands
        if not working.wrong:
            assert steps[:-1] == right.steps[:-1], record.mistake
            assert working.trace.result == right.result
            continue
        first = working.wrong[0]
        assert steps[:first] == right.steps[:first], record.mistake
        assert first < len(steps) - 1, "the last step only reads the answer off"
        assert steps[first] != right.steps[first], record.mistake
        assert list(working.wrong) == sorted(set(working.wrong))


@each_operation
@given(data=st.data())
@MODEST
def test_the_rows_are_laid_out_and_say_the_answer(operation: str, data: st.DataObject) -> None:
    operands = data.draw(operands_of(operation))
    for record in slips.of_operation(operation):
        working = record.procedure(*operands)
        if working is not None:
            assert_well_formed(working.trace)


def assert_well_formed(trace: Trace) -> None:
    for row in trace.rows:
        assert row.role in ROLES and len(row.cells) == trace.width
        assert all(cell == "" or cell.isdigit() and len(cell) <= 2 for cell in row.cells)
        assert row.point == -1 or 0 < row.point < trace.width
    (row,) = [row for row in trace.rows if row.role in ("result", "quotient")]
    whole = "".join(row.cells[: row.point] if row.point >= 0 else row.cells)
    places = "".join(row.cells[row.point:] if row.point >= 0 else ())
    assert Numeral(int(whole + places), len(places)).same_writing(trace.result)
    assert trace.steps[-1] == slips.ending(trace.result)
    assert list(trace.facts) == sorted(trace.facts)
    for line in trace.steps:
        words = words_of(line)
        assert not re.search(r"[0-9][.,][0-9]", words), "a decimal in words could not be spelt for the class"
        assert not set(words) & set("*/+<>="), "a sign in words could not be spelt for the class"
        assert not any(isinstance(leaf, Expression) and "=" in leaf.parts for leaf in line)


@lru_cache(maxsize=1)
def served() -> dict[str, tuple[Operands, Working]]:
    """By mistake, operands of lessons on which the slip has one wrong step."""
    found: dict[str, tuple[Operands, Working]] = {}
    texts = ("12.6", "3.47", "7.38", "8.24", "4.07", "0.35", "20.6", "50.43", "7.86", "30.04", "6.9", "0.12", "0.3",
             "347", "26", "305", "4.5", "0.24", "2.4", "52", "8.16", "0.8", "36.5", "5", "7", "93", "0.27", "9", "3")
    for first in map(N, texts):
        for second in map(N, texts):
            for operation in ("add", "subtract", "multiply", "divide"):
                records = [record for record in slips.of_operation(operation) if record.mistake not in found]
                try:
                    right = methods.run(operation, (first, second))
                except methods.CannotCarryOut:
                    continue
                for record, working in slips.with_one_wrong_step(records, right):
                    if mistakes.load()[record.mistake].procedure(first, second) == working.trace.result:
                        found[record.mistake] = ((first, second), working)
    return found


@each_slip
def test_a_slip_serves_on_numbers_of_lessons(record: Slip) -> None:
    operands, working = served()[record.mistake]
    right = right_of(record.operation, operands)
    assert len(working.wrong) == 1
    assert working.trace.result != right.result
    assert FEWEST_STEPS <= len(working.trace.steps) <= MOST_STEPS


def test_workings_in_another_layout_are_not_served() -> None:
    operands = (N("53.4"), N("17.8"))
    known = slips.of_operation("subtract")
    assert slips.with_one_wrong_step(known, methods.run("subtract", operands))
    assert not slips.with_one_wrong_step(known, methods.run("subtract", operands, layout="equal-additions"))


def test_a_working_with_two_wrong_steps_is_not_served() -> None:
    operands = (N("7.86"), N("6.57"))
    forgotten = slips.load()["add.carry-forgotten"]
    assert forgotten.procedure(*operands).wrong == (2, 3)
    assert not slips.with_one_wrong_step([forgotten], methods.run("add", operands))


def test_two_slips_of_one_mistake_are_refused() -> None:
    with pytest.raises(ValueError, match="add.carry-forgotten"):
        slips.slip("add.carry-forgotten")(lambda *operands: None)
