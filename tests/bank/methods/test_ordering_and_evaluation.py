"""Putting in order, comparing two, and working expressions out: against exact arithmetic, and refused where it must."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import Operands, factors, near_numerals, numerals

from bank import methods
from bank.checks.kinds import exact
from bank.model import ChooseInLine, ChooseSeveral, Expression, Line, MatchPairs, Numeral, Offer, TypedNumber

MODEST = settings(max_examples=120, deadline=None)
N = Numeral.parse
SIGNS = {-1: "<", 0: "=", 1: ">"}


def expression(text: str) -> Expression:
    return Expression(tuple([part if part in "+-*/?" else N(part) for part in text.split()]))


def written(line: Line) -> str:
    return "".join([
        leaf if isinstance(leaf, str) else leaf.text() if isinstance(leaf, Numeral)
        else " ".join([part if isinstance(part, str) else part.text() for part in leaf.parts]) for leaf in line
    ])


@MODEST
@given(near_numerals(), st.sampled_from(["ascending", "descending"]))
def test_digits_put_numbers_in_the_order_that_exact_values_have(operands: Operands, layout: str) -> None:
    trace = methods.run("compare", operands, layout=layout)
    wanted = sorted([one.value for one in operands], reverse=layout == "descending")
    results = [row for row in trace.rows if row.role == "result"]
    found = []
    for row in results:
        digits = "".join(row.cells)
        filled = [at for at, cell in enumerate(row.cells) if cell]
        found.append(Fraction(int(digits), 10 ** (0 if row.point < 0 else filled[-1] + 1 - row.point)))
    assert found == wanted and trace.result.value == wanted[0]
    assert [one.value for one in trace.steps[-1] if isinstance(one, Numeral)] == wanted
    assert [row.rule for row in results] == [True] + [False] * (len(results) - 1)
    assert all(len(row.cells) == trace.width for row in trace.rows)


@MODEST
@given(near_numerals())
def test_digits_find_the_sign_that_exact_values_have(operands: Operands) -> None:
    left, right = operands[:2]
    trace = methods.run("compare", (left, right), layout="relation")
    sign = SIGNS[(left > right) - (left < right)]
    assert trace.steps[-1] == ("So ", Expression((left, sign, right)), ".")
    assert trace.result == max(left, right) and methods.relation(left, right) == sign
    assert dict(trace.facts)["deciding_column"] > 0 or sign == "="


def test_steps_name_the_place_that_decides() -> None:
    trace = methods.run("compare", (N("0.62"), N("0.305"), N("0.65")), layout="ascending")
    assert [written(line) for line in trace.steps[3:]] == [
        "0.305 is less than 0.62: the tenths are the first digits that differ, 3 and 6.",
        "0.62 is less than 0.65: the hundredths are the first digits that differ, 2 and 5.",
        "In order, smallest first: 0.305; 0.62; 0.65.",
    ]
    longer = methods.run("compare", (N("12"), N("9.5")), layout="descending")
    assert "the tens are the first digits that differ, 1 and none" in written(longer.steps[-2])


@MODEST
@given(numerals(digits=3, places=2), numerals(digits=3, places=2), factors(), st.sampled_from("+*"))
def test_written_methods_give_what_exact_fractions_give(
    first: Numeral, second: Numeral, pair: Operands, sign: str
) -> None:
    for parts in ((first, sign, second), (*pair[:1], "*", pair[1], "+", second), (first, "+", pair[0], "*", pair[1])):
        worth, traces = methods.work_out(Expression(parts))
        assert worth.value == exact((Expression(parts),))
        assert len(traces) == len(parts) // 2
        assert worth.same_writing(worth.normal())


@pytest.mark.parametrize(("text", "worth"), [
    ("3.5 - 1.25 - 0.5", "1.75"), ("2 + 3 * 0.4", "3.2"), ("24 / 10 / 10", "0.24"), ("6 * 4 / 100", "0.24"),
    ("7.25", "7.25"), ("7.20", "7.2"),
])
def test_times_and_divided_come_first_and_then_from_the_left(text: str, worth: str) -> None:
    found, _ = methods.work_out(expression(text))
    assert found.text() == worth


@pytest.mark.parametrize("text", ["3 - 4", "2 / 0", "2 / 3", "3 +", "+ 3", "3 4", "3 ? 4", ""])
def test_what_has_no_written_method_is_refused(text: str) -> None:
    with pytest.raises(methods.CannotCarryOut):
        methods.work_out(expression(text))


def offers(*pairs: tuple[Line, str]) -> tuple[Offer, ...]:
    return tuple([Offer(identifier=f"A{at}", text=text, value=N(worth)) for at, (text, worth) in enumerate(pairs)])


SOME = offers(((expression("0.6 * 0.4"),), "0.24"), ((N("24"), " hundredths"), "0.24"), ((N("0.240"),), "0.24"),
              ((expression("6 * 0.4"),), "2.4"), ((expression("12 / 5 / 10"),), "0.24"))


def test_an_evaluation_says_what_each_is_worth_and_which_are_worth_the_key() -> None:
    response = ChooseSeveral(options=SOME)
    trace = methods.evaluate(*methods.evaluated((), response), (N("0.6"),), N("0.24"))
    assert [written(line) for line in trace.steps] == [
        "0.6 * 0.4 = 0.24.", "24 hundredths is 0.24.", "0.240 is 0.24.", "6 * 0.4 = 2.4.",
        "12 / 5 / 10:", "12 / 5 = 2.4.", "2.4 / 10 = 0.24.",
        "Worth 0.24: 0.6 * 0.4; 24 hundredths; 0.240; 12 / 5 / 10.",
    ]
    assert (trace.rows, trace.width, trace.operation, trace.layout) == ((), 0, "evaluate", "several")
    assert dict(trace.facts)["expressions"] == 5 and list(trace.facts) == sorted(trace.facts)


def test_an_evaluation_of_pairs_begins_with_the_first_value() -> None:
    response = MatchPairs(sources=SOME[:1] + SOME[3:4], targets=(), pairs=())
    trace = methods.evaluate(*methods.evaluated((), response), (), N("0.24"), layout="pairs")
    assert trace.result == N("0.24")
    assert written(trace.steps[-1]) == "Match each with its value: 0.6 * 0.4 with 0.24; 6 * 0.4 with 2.4."


def test_an_evaluation_of_a_line_compares_both_sides_of_its_gap() -> None:
    stem = (("Which sign?",), (expression("3.4 * 0.5 ? 3.4"),))
    trace = methods.evaluate(*methods.evaluated(stem, ChooseInLine(options=())), (), N("3.4"), layout="relation")
    assert [written(line) for line in trace.steps] == ["3.4 * 0.5 = 1.7.", "So 1.7 < 3.4."]
    assert trace.result == N("3.4")


@pytest.mark.parametrize(("texts", "values", "layout"), [
    (((expression("0.6 * 0.4"),),), (N("0.25"),), "several"), ((("four tenths",),), (None,), "several"),
    (((N("0.3"),),), (None,), "several"), (((N("0.24"),),), (None,), "largest"),
])
def test_an_evaluation_that_cannot_be_is_refused(
    texts: tuple[Line, ...], values: tuple[Numeral | None, ...], layout: str
) -> None:
    with pytest.raises(methods.WrongOperands):
        methods.evaluate(texts, values, (), N("0.24"), layout=layout)


def test_a_stem_without_just_one_gap_has_no_sides() -> None:
    for stem in ((), (("?",),), ((expression("1 ? 2"), expression("1 ? 2")),), ((expression("1 ? 2 ? 3"),),)):
        with pytest.raises(methods.WrongOperands):
            methods.sides(stem)
    with pytest.raises(methods.WrongOperands):
        methods.evaluated((), TypedNumber())
