"""Numerals: value and written form kept apart, exact throughout."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from strategies import numerals

from bank.numerals import MAX_DIGITS, Numeral, lowest_terms, round_fraction, terminating_places

MODEST = settings(max_examples=150, deadline=None)
SIGNED = numerals(digits=8, places=6, signed=True)
FRACTIONS = st.fractions(min_value=-1000, max_value=1000, max_denominator=2000)


@MODEST
@given(SIGNED, st.sampled_from([".", ","]))
@example(Numeral(-5, 3), ",")
def test_a_written_numeral_is_read_back_as_it_was(number: Numeral, mark: str) -> None:
    assert Numeral.parse(number.text(mark), mark).same_writing(number)


@pytest.mark.parametrize(("written", "coefficient", "places", "shown"), [
    ("2.50", 250, 2, "2.50"), ("007", 7, 0, "7"), (".5", 5, 1, "0.5"), ("5.", 5, 0, "5"), ("+1.2", 12, 1, "1.2"),
    ("-0.04", -4, 2, "-0.04"), ("0.000", 0, 3, "0.000"), ("0010.0", 100, 1, "10.0"),
])
def test_parsing_keeps_the_number_of_places(written: str, coefficient: int, places: int, shown: str) -> None:
    number = Numeral.parse(written)
    assert (number.coefficient, number.places) == (coefficient, places)
    assert str(number) == shown


@pytest.mark.parametrize("written", [
    "", ".", "-", "+.", "1.2.3", "1,2", "1e3", " 1", "1 ", "1\n", "--1", "1_000", "1 000", "½", "١", "NaN", "0x1f",
    "1" * (MAX_DIGITS + 1), "0." + "1" * MAX_DIGITS,
])
def test_what_is_no_plain_decimal_numeral_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match="numeral"):
        Numeral.parse(written)


def test_the_decimal_mark_must_be_the_one_asked_for() -> None:
    with pytest.raises(ValueError, match="numeral"):
        Numeral.parse("1.2", ",")


def test_the_longest_numeral_is_read() -> None:
    longest = "9" * MAX_DIGITS
    assert str(Numeral.parse(longest)) == longest


def test_minus_and_mark_are_written_as_asked() -> None:
    assert Numeral(-1234, 2).text(",", "\u2212") == "\u221212,34"


@pytest.mark.parametrize(("written", "whole", "decimals"), [
    ("0.07", "0", "07"), ("12", "12", ""), ("-3.40", "3", "40"), ("100.0", "100", "0"), ("0", "0", ""),
])
def test_digits_before_and_after_the_point(written: str, whole: str, decimals: str) -> None:
    number = Numeral.parse(written)
    assert (number.whole_digits, number.decimal_digits) == (whole, decimals)


@MODEST
@given(SIGNED, st.integers(0, 4))
def test_equal_values_are_equal_and_hash_alike_however_they_are_written(number: Numeral, zeros: int) -> None:
    longer = number.with_places(number.places + zeros)
    assert longer == number
    assert hash(longer) == hash(number) == hash(number.normal())
    assert longer.same_writing(number) == (zeros == 0)
    assert longer.normal().same_writing(number.normal())


@MODEST
@given(SIGNED, SIGNED)
def test_order_and_equality_are_those_of_the_values(first: Numeral, second: Numeral) -> None:
    assert (first == second) == (first.value == second.value)
    assert (first < second) == (first.value < second.value)
    assert (first <= second) == (first.value <= second.value)
    assert (first > second) == (first.value > second.value)
    assert (first >= second) == (first.value >= second.value)


def test_a_numeral_is_not_equal_to_what_is_no_numeral() -> None:
    assert Numeral(2) != 2
    assert Numeral(25, 1) != "2.5"


@MODEST
@given(SIGNED, SIGNED)
def test_sums_differences_and_products_are_exact(first: Numeral, second: Numeral) -> None:
    assert (first + second).value == first.value + second.value
    assert (first - second).value == first.value - second.value
    assert (first * second).value == first.value * second.value
    assert (-first).value == -first.value
    assert (first * second).places == first.places + second.places


@MODEST
@given(SIGNED, numerals(digits=5, least=1, signed=True))
def test_the_quotient_is_the_exact_fraction(first: Numeral, second: Numeral) -> None:
    if second.coefficient:
        assert first.quotient(second) == first.value / second.value


def test_a_quotient_by_zero_is_an_error() -> None:
    with pytest.raises(ZeroDivisionError):
        Numeral(1).quotient(Numeral(0, 2))


@pytest.mark.parametrize(("written", "normal"), [
    ("2.50", "2.5"), ("3.000", "3"), ("100", "100"), ("0.00", "0"), ("10.10", "10.1"), ("-0.50", "-0.5"),
])
def test_the_normal_form_drops_zeros_after_the_point_alone(written: str, normal: str) -> None:
    assert str(Numeral.parse(written).normal()) == normal


def test_dropping_a_digit_other_than_zero_is_refused() -> None:
    assert str(Numeral.parse("2.500").with_places(1)) == "2.5"
    with pytest.raises(ValueError, match="cannot be written with 1 place"):
        Numeral.parse("2.54").with_places(1)


@pytest.mark.parametrize(("written", "places", "rounded"), [
    ("0.25", 1, "0.3"), ("-0.25", 1, "-0.3"), ("0.249", 1, "0.2"), ("9.96", 1, "10.0"), ("0.5", 0, "1"),
    ("-0.5", 0, "-1"), ("0.4", 0, "0"), ("2.3", 3, "2.300"),
])
def test_a_half_is_rounded_away_from_zero(written: str, places: int, rounded: str) -> None:
    assert str(Numeral.parse(written).rounded(places)) == rounded
    assert str(round_fraction(Numeral.parse(written).value, places)) == rounded


@MODEST
@given(FRACTIONS, st.integers(0, 5))
def test_a_rounded_fraction_is_within_half_a_unit(value: Fraction, places: int) -> None:
    rounded = round_fraction(value, places)
    unit = Fraction(1, 10**places)
    assert rounded.places == places
    assert abs(rounded.value - value) <= unit / 2
    if abs(rounded.value - value) == unit / 2:
        assert abs(rounded.value) > abs(value)


@MODEST
@given(FRACTIONS)
@example(Fraction(1, 3))
@example(Fraction(-7, 40))
def test_a_fraction_is_written_with_as_few_places_as_it_needs_or_refused(value: Fraction) -> None:
    needed = terminating_places(value.denominator)
    if needed is None:
        assert 10**60 % value.denominator, "a denominator that divides a power of ten ends"
        with pytest.raises(ValueError, match="does not end"):
            Numeral.from_fraction(value)
        return
    number = Numeral.from_fraction(value)
    assert number.value == value
    assert number.places == needed
    assert number.same_writing(number.normal())
    assert Numeral.from_fraction(value, needed + 2).places == needed + 2


def test_a_fraction_that_needs_more_places_than_asked_for_is_refused() -> None:
    assert str(Numeral.from_fraction(Fraction(3, 4), 3)) == "0.750"
    assert str(Numeral.from_fraction(7)) == "7"
    with pytest.raises(ValueError, match="no exact form with 1 places"):
        Numeral.from_fraction(Fraction(3, 4), 1)


@MODEST
@given(st.integers(-500, 500), st.integers(-500, 500).filter(bool))
def test_lowest_terms_keep_the_value_and_make_the_denominator_positive(numerator: int, denominator: int) -> None:
    value = Fraction(numerator, denominator)
    assert lowest_terms(numerator, denominator) == (value.numerator, value.denominator)
