"""The judge of workings: finds nothing wrong in right ones, and in wrong ones just the steps that are."""

from __future__ import annotations

import pytest
from bank import methods, slips
from bank.checks._judging import Addition, Judge, Subtraction
from bank.checks._judging_rows import Division, Multiplication
from bank.model import Line, Trace
from bank.numerals import Numeral
from hypothesis import example, given, settings
from hypothesis import strategies as st
from strategies import Operands, addends, dividend_and_divisor, factors, minuend_and_subtrahend

JUDGES: dict[str, type[Judge]] = {
    "add": Addition, "subtract": Subtraction, "multiply": Multiplication, "divide": Division,
}
OPERANDS = {
    "add": addends(), "subtract": minuend_and_subtrahend(), "multiply": factors(), "divide": dividend_and_divisor(),
}
N = Numeral.parse
MODEST = settings(max_examples=100, deadline=None)
each_operation = pytest.mark.parametrize("operation", JUDGES)


def as_told(right: Trace) -> tuple[Line, ...]:
    """The steps of a right working, its last one told as a learner's."""
    return (*right.steps[:-1], slips.ending(right.result))


def worked(operation: str, operands: Operands) -> Trace | None:
    """The written method, None where it has no columns, nothing to multiply, or places without names."""
    right = methods.run(operation, operands)
    if operation == "multiply" and not right.result.coefficient:
        return None
    too_long = any("place" in str(step) and "unit" in str(step).lower() for step in right.steps)
    return None if right.method == "moving-digits" or too_long else right


@each_operation
@given(data=st.data())
@MODEST
def test_a_right_working_has_no_wrong_step(operation: str, data: st.DataObject) -> None:
    operands = data.draw(OPERANDS[operation])
    right = worked(operation, operands)
    if right is not None:
        assert JUDGES[operation](operands).judge(as_told(right)) == ((), ())


@each_operation
@given(data=st.data())
@MODEST
def test_the_judge_finds_just_the_steps_that_a_slip_says_are_wrong(operation: str, data: st.DataObject) -> None:
    operands = data.draw(OPERANDS[operation])
    if worked(operation, operands) is None:
        return
    for record in slips.of_operation(operation):
        working = record.procedure(*operands)
        if working is not None:
            judged = JUDGES[operation](operands).judge(working.trace.steps)
            assert judged == (working.wrong, ()), record.mistake


CHANGES = [
    ("add", "3.47", "12.8", "carry 1 to the ones", "carry 1 to the tens"),
    ("add", "3.47", "12.8", "plus the carried 1 is 6; write 6", "plus the carried 1 is 5; write 5"),
    ("add", "3.47", "12.8", "Tenths: 4 plus 8", "Tenths: 4 plus 7"),
    ("add", "3.47", "12.8", "is 12; write 2", "is 13; write 3"),
    ("subtract", "50.43", "7.86", "Now there are 4 tens, 9 ones", "Now there are 4 tens, 10 ones"),
    ("subtract", "50.43", "7.86", "Exchange 1 ten for 10 ones", "Exchange 1 ten for 10 tenths"),
    ("subtract", "50.43", "7.86", "13 minus 8 is 5", "13 minus 8 is 6"),
    ("subtract", "50.43", "7.86", "nothing to take away; write 4", "nothing to take away; write 5"),
    ("multiply", "34.7", "2.6", "first write 1 zero", "first write 2 zeros"),
    ("multiply", "34.7", "2.6", "6 times 7 is 42", "6 times 7 is 48"),
    ("multiply", "34.7", "2.6", "That makes 6940", "That makes 6930"),
    ("multiply", "34.7", "2.6", "is 9022", "is 9012"),
    ("multiply", "34.7", "2.6", "is 1 hundredth", "is 1 tenth"),
    ("multiply", "34.7", "2.6", "together 2", "together 3"),
    ("divide", "8.16", "0.8", "both points 1 place", "both points 2 places"),
    ("divide", "8.16", "0.8", "Bring down 6: 16", "Bring down 6: 6"),
    ("divide", "8.16", "0.8", "8 goes 1 time into 8", "8 goes 2 times into 8"),
    ("divide", "8.16", "0.8", "16 minus 16 leaves 0", "16 minus 16 leaves 1"),
]


@pytest.mark.parametrize(("operation", "first", "second", "said", "instead"), CHANGES)
def test_a_step_that_is_changed_is_found(operation: str, first: str, second: str, said: str, instead: str) -> None:
    operands = (N(first), N(second))
    steps = as_told(methods.run(operation, operands))
    (changed,) = [
        index for index, step in enumerate(steps) if any(said in leaf for leaf in step if isinstance(leaf, str))
    ]
    line = tuple([leaf.replace(said, instead) if isinstance(leaf, str) else leaf for leaf in steps[changed]])
    judged = JUDGES[operation](operands).judge((*steps[:changed], line, *steps[changed + 1 :]))
    assert judged.wrong[0] == changed and not judged.not_read


@each_operation
@given(data=st.data())
@settings(max_examples=40, deadline=None)
@example(data=None)
def test_a_step_left_out_is_missed(operation: str, data: st.DataObject | None) -> None:
    operands = (N("48.6"), N("1.8")) if data is None else data.draw(OPERANDS[operation])
    right = worked(operation, operands)
    if right is None or not right.result.coefficient:
        return
    steps = as_told(right)
    told = [index for index, step in enumerate(steps[:-1]) if "; write " in str(step) or "That makes" in str(step)]
    left_out = told[0 if data is None else data.draw(st.integers(0, len(told) - 1))]
    judged = JUDGES[operation](operands).judge((*steps[:left_out], *steps[left_out + 1 :]))
    assert judged.wrong


def test_what_cannot_be_read_is_never_taken_for_right() -> None:
    judged = Addition((N("3.4"), N("2.8"))).judge((("Think of a number.",),))
    assert judged.not_read == (0,)
