"""Every written method against exact arithmetic, and its rows against themselves, on random operands."""

from __future__ import annotations

import re
from collections.abc import Sequence
from fractions import Fraction

from hypothesis import assume, example, given, settings
from hypothesis import strategies as st
from strategies import (
    Operands, addends, any_dividend_and_divisor, dividend_and_divisor, factors, minuend_and_subtrahend, near_numerals,
    numerals, powers_of_ten,
)

from bank.methods import run
from bank.model import ROLES, Expression, Line, Row, Trace
from bank.numerals import Numeral, round_fraction, terminating_places

MODEST = settings(max_examples=150, deadline=None)
N = Numeral.parse


def digits_of(row: Row) -> str:
    return "".join(row.cells)


def read(row: Row) -> Numeral:
    """The numeral that a row of single digits writes."""
    filled = [index for index, cell in enumerate(row.cells) if cell]
    assert filled == list(range(filled[0], filled[-1] + 1)), "digits stand side by side"
    return Numeral(int(digits_of(row)), 0 if row.point < 0 else filled[-1] + 1 - row.point)


def rows_of(trace: Trace, role: str) -> list[Row]:
    return [row for row in trace.rows if row.role == role]


def result_row(trace: Trace) -> Row:
    (row,) = rows_of(trace, "result") or rows_of(trace, "quotient")
    return row


def words_of(line: Line) -> str:
    return "".join([leaf for leaf in line if isinstance(leaf, str)])


def assert_well_formed(trace: Trace) -> None:
    for row in trace.rows:
        assert row.role in ROLES
        assert len(row.cells) == trace.width
        assert all([cell == "" or cell.isdigit() and len(cell) <= 2 for cell in row.cells])
        assert row.point == -1 or 0 < row.point < trace.width
        if row.point > 0:
            assert row.cells[row.point - 1] and row.cells[row.point], "digits on both sides of the point"
    assert read(result_row(trace)).same_writing(trace.result)
    assert list(trace.facts) == sorted(trace.facts)
    assert len(dict(trace.facts)) == len(trace.facts)
    assert all([isinstance(value, int) and value >= 0 for _, value in trace.facts])
    assert trace.steps
    for line in trace.steps:
        words = words_of(line)
        assert not re.search(r"[0-9][.,][0-9]", words), "a decimal in words could not be spelt for the class"
        assert not set(words) & set("*/+<>="), "a sign in words could not be spelt for the class"
        for leaf in line:
            if isinstance(leaf, Expression) and "=" in leaf.parts:
                assert value_of(leaf.parts[:leaf.parts.index("=")]) == leaf.parts[-1].value
    assert any([trace.result in (leaf.parts if isinstance(leaf, Expression) else (leaf,)) for leaf in trace.steps[-1]
                if not isinstance(leaf, str)])


def value_of(parts: Sequence[Numeral | str]) -> Fraction:
    value = parts[0].value
    for sign, number in zip(parts[1::2], parts[2::2]):
        if sign == "+":
            value += number.value
        elif sign == "-":
            value -= number.value
        elif sign == "*":
            value *= number.value
        else:
            value /= number.value
    return value


def by_column(row: Row, otherwise: Row) -> int:
    """What the columns hold together, in units of the last, with *otherwise* where *row* has no mark."""
    total = 0
    for mark, digit in zip(row.cells, otherwise.cells):
        total = total * 10 + int(mark or digit or 0)
    return total


@MODEST
@given(addends())
@example((N("9.95"), N("0.05")))
@example((N("99999"), N("0.0001"), N("0"), N("0.00"), N("1")))
def test_column_addition_gives_the_exact_sum(operands: Operands) -> None:
    trace = run("add", operands)
    assert_well_formed(trace)
    assert trace.result.value == sum([operand.value for operand in operands], Fraction(0))
    assert trace.result.places == max([operand.places for operand in operands])
    written = rows_of(trace, "operand")
    assert [read(row) for row in written] == list(operands)
    assert [row.sign for row in written] == [""] * (len(operands) - 1) + ["+"]


@MODEST
@given(addends())
def test_carries_and_digits_of_each_column_make_the_digit_below(operands: Operands) -> None:
    trace = run("add", operands)
    carries = (rows_of(trace, "carry") or [Row("carry", ("",) * trace.width)])[0]
    written, result = rows_of(trace, "operand"), result_row(trace)
    counted = 0
    for column in range(trace.width - 1, -1, -1):
        digits = [row.cells[column] for row in written]
        if not any(digits):  # the carry out of the last column stands in the sum alone
            assert column == 0 and not carries.cells[0]
            continue
        total = int(carries.cells[column] or 0) + sum([int(digit or 0) for digit in digits])
        assert result.cells[column] == str(total % 10)
        onward = str(total // 10) if total > 9 else ""
        counted += 1 if onward else 0
        if column and any([row.cells[column - 1] for row in written]):
            assert carries.cells[column - 1] == onward
        elif column:
            assert result.cells[column - 1] == onward
        else:
            assert not onward
    assert dict(trace.facts)["carries"] == counted


@MODEST
@given(minuend_and_subtrahend(), st.sampled_from(["decomposition", "equal-additions"]))
@example((N("10.00"), N("9.99")), "decomposition")
@example((N("10000"), N("0.0001")), "equal-additions")
@example((N("1.01"), N("0.92")), "equal-additions")
def test_column_subtraction_gives_the_exact_difference(operands: Operands, layout: str) -> None:
    trace = run("subtract", operands, layout=layout)
    assert_well_formed(trace)
    assert trace.layout == layout
    assert trace.result.value == operands[0].value - operands[1].value
    assert [read(row) for row in rows_of(trace, "operand")] == list(operands)


@MODEST
@given(minuend_and_subtrahend())
def test_regrouped_digits_are_worth_the_minuend_and_cover_each_column(operands: Operands) -> None:
    trace = run("subtract", operands)
    minuend, subtrahend = rows_of(trace, "operand")
    regrouped = (rows_of(trace, "regrouped") or [Row("regrouped", ("",) * trace.width)])[0]
    assert by_column(regrouped, minuend) == int(digits_of(minuend))
    for mark, top, bottom, digit in zip(
        regrouped.cells, minuend.cells, subtrahend.cells, result_row(trace).cells
    ):
        assert int(mark or top) - int(bottom or 0) == int(digit or 0)
    assert (dict(trace.facts)["regroupings"] > 0) == any(regrouped.cells)


@MODEST
@given(minuend_and_subtrahend())
def test_equal_additions_add_the_same_above_and_below(operands: Operands) -> None:
    trace = run("subtract", operands, layout="equal-additions")
    minuend, subtrahend = rows_of(trace, "operand")
    marked = rows_of(trace, "regrouped")
    if not marked:
        assert dict(trace.facts)["regroupings"] == 0
        return
    above, below = marked
    added = by_column(above, minuend) - int(digits_of(minuend))
    assert added == by_column(below, subtrahend) - int(digits_of(subtrahend)) > 0


@MODEST
@given(minuend_and_subtrahend())
def test_both_layouts_of_subtraction_count_alike(operands: Operands) -> None:
    first, second = run("subtract", operands), run("subtract", operands, layout="equal-additions")
    assert first.facts == second.facts
    assert first.result.same_writing(second.result)


@MODEST
@given(factors())
@example((N("0.00"), N("0.3")))
@example((N("99999"), N("9999")))
def test_written_multiplication_gives_the_exact_product(operands: Operands) -> None:
    trace = run("multiply", operands)
    assert_well_formed(trace)
    assert trace.result.value == operands[0].value * operands[1].value
    assert trace.operands == operands


@MODEST
@given(factors())
def test_partial_products_add_up_to_the_product_without_its_point(operands: Operands) -> None:
    trace = run("multiply", operands)
    assume(trace.method == "long-multiplication")
    upper, lower = [int(digits_of(row)) for row in rows_of(trace, "operand")]
    partials = [int(digits_of(row)) for row in rows_of(trace, "partial")]
    assert sum(partials) == int(digits_of(result_row(trace))) == upper * lower
    shifts = [(place, int(digit)) for place, digit in enumerate(reversed(str(lower))) if digit != "0"]
    assert partials == [upper * digit * 10**place for place, digit in shifts]
    assert dict(trace.facts)["partial_products"] == len(partials)


@MODEST
@given(dividend_and_divisor())
def test_long_division_gives_the_exact_quotient(operands: Operands) -> None:
    trace = run("divide", operands)
    assert_well_formed(trace)
    assert trace.result.value == operands[0].value / operands[1].value
    assert trace.result.places == places_of_quotient(*operands)


def places_of_quotient(dividend: Numeral, divisor: Numeral) -> int:
    """As many as the dividend keeps when both points moved, more where the quotient needs them."""
    needed = terminating_places((dividend.value / divisor.value).denominator)
    return max(dividend.places - divisor.normal().places, needed or 0)


@MODEST
@given(any_dividend_and_divisor(), st.integers(0, 4))
@example((N("9.996"), N("3")), 1)
@example((N("9.98"), N("1")), 1)
@example((N("2.9985"), N("3")), 2)
@example((N("0.005"), N("1")), 2)
def test_a_rounded_quotient_is_the_nearest_and_a_half_goes_up(operands: Operands, places: int) -> None:
    trace = run("divide", operands, places=places)
    assert_well_formed(trace)
    assert trace.result.same_writing(round_fraction(operands[0].value / operands[1].value, places))


@MODEST
@given(any_dividend_and_divisor(), st.integers(0, 4))
def test_quotient_times_divisor_and_remainder_make_the_dividend(operands: Operands, places: int) -> None:
    trace = run("divide", operands, places=places)
    assume(trace.method == "long-division")
    (dividend,), (quotient,) = rows_of(trace, "dividend"), rows_of(trace, "quotient")
    divisor = int(dividend.sign)
    end = max([index for index, cell in enumerate(quotient.cells) if cell]) + 1
    worked = int("".join(dividend.cells[:end]))
    remainders = rows_of(trace, "remainder")
    left = int(digits_of(remainders[-1])) if remainders else worked
    assert int(digits_of(quotient)) * divisor + left == worked
    assert left < divisor


@MODEST
@given(any_dividend_and_divisor(), st.integers(0, 4))
def test_each_product_is_taken_from_what_stands_right_above_it(operands: Operands, places: int) -> None:
    trace = run("divide", operands, places=places)
    assume(trace.method == "long-division")
    (dividend,), (quotient,) = rows_of(trace, "dividend"), rows_of(trace, "quotient")
    products, remainders = rows_of(trace, "product"), rows_of(trace, "remainder")
    assert len(products) == len(remainders) == dict(trace.facts)["steps"]
    for index, (product, remainder) in enumerate(zip(products, remainders)):
        end = max([column for column, cell in enumerate(product.cells) if cell]) + 1
        assert int(digits_of(product)) == int(quotient.cells[end - 1]) * int(dividend.sign)
        above = int("".join(dividend.cells[:end])) if index == 0 else int(digits_of(remainders[index - 1]))
        brought = max([column for column, cell in enumerate(remainder.cells) if cell]) + 1
        down = "".join(dividend.cells[end:brought])
        assert int(digits_of(remainder)) == int(f"{above - int(digits_of(product))}{down}")


@MODEST
@given(numerals(), powers_of_ten())
def test_powers_of_ten_move_the_digits(number: Numeral, power: Numeral) -> None:
    product, quotient = run("multiply", (number, power)), run("divide", (number, power))
    for trace in (product, quotient, run("multiply", (power, number))):
        assert trace.method == "moving-digits"
        assert_well_formed(trace)
    assert product.result.value == number.value * power.value
    assert quotient.result.value == number.value / power.value
    assert quotient.result.places == places_of_quotient(number, power)
    if str(number.coefficient).strip("0") != "1":  # else the number itself may be the one that is taken as the power
        assert digits_of(rows_of(product, "operand")[0]).strip("0") == digits_of(result_row(product)).strip("0")


@MODEST
@given(numerals(), powers_of_ten(), st.integers(0, 4))
@example(N("99.96"), N("10"), 2)
def test_moved_digits_are_rounded_where_that_is_asked_for(number: Numeral, power: Numeral, places: int) -> None:
    trace = run("divide", (number, power), places=places)
    assert_well_formed(trace)
    assert trace.result.same_writing(round_fraction(number.value / power.value, places))


@MODEST
@given(near_numerals(), st.sampled_from(["largest", "smallest"]))
@example((N("0.5"), N("0.50"), N("0.05")), "largest")
@example((N("7"), N("12")), "smallest")
def test_comparison_finds_the_extreme_number_as_it_was_written(operands: Operands, layout: str) -> None:
    trace = run("compare", operands, layout=layout)
    assert_well_formed(trace)
    extreme = (max if layout == "largest" else min)([operand.value for operand in operands])
    assert trace.result.value == extreme
    assert trace.result is [operand for operand in operands if operand.value == extreme][0]
    assert [read(row) for row in rows_of(trace, "compared")] == list(operands)


@MODEST
@given(near_numerals(), st.sampled_from(["largest", "smallest"]))
def test_columns_left_of_the_deciding_one_cannot_settle_the_comparison(operands: Operands, layout: str) -> None:
    trace = run("compare", operands, layout=layout)
    deciding = dict(trace.facts)["deciding_column"]
    starts = [int("".join(row.cells[:deciding]) or 0) for row in rows_of(trace, "compared")]
    extreme = (max if layout == "largest" else min)(starts)
    winners = [operand for operand, start in zip(operands, starts) if start == extreme]
    assert all([winner.value == trace.result.value for winner in winners])
    if deciding > 1:
        before = [int("".join(row.cells[:deciding - 1]) or 0) for row in rows_of(trace, "compared")]
        best = (max if layout == "largest" else min)(before)
        assert len([start for start in before if start == best]) > len(winners)


@MODEST
@given(numerals(), st.integers(-4, 5))
@example(N("9.996"), 2)
@example(N("0.5"), 0)
@example(N("49"), -2)
@example(N("5"), -1)
@example(N("999.95"), 1)
def test_rounding_gives_the_nearest_number_with_exactly_the_places(number: Numeral, places: int) -> None:
    trace = run("round", (number,), places=places)
    assert_well_formed(trace)
    unit = Fraction(10) ** -places
    assert trace.result.value == unit * ((2 * number.value + unit) // (2 * unit))
    assert trace.result.places == max(places, 0)


@MODEST
@given(numerals(digits=60, places=40), numerals(digits=60, places=40))
def test_long_numerals_still_fit_into_their_columns(first: Numeral, second: Numeral) -> None:
    assert_well_formed(run("add", (first, second)))
    assert_well_formed(run("subtract", (max(first, second), min(first, second))))
    product = run("multiply", (first, second))
    assert_well_formed(product)
    assert product.result.value == first.value * second.value
    if second.coefficient:
        rounded = run("divide", (first, second), places=3)
        assert_well_formed(rounded)
        assert rounded.result.same_writing(round_fraction(first.value / second.value, 3))
