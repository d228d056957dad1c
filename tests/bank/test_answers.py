"""Typed answers: the list of spellings holds the key's value and nothing else, and is read back."""

from __future__ import annotations

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bank.answers import (
    POLICIES, accepted_forms, foreseen_forms, instruction, read_answer, wrong_mark_forms, wrong_places_forms,
)
from bank.model import Locale, Unit
from bank.numerals import Numeral

POINT = Locale(identifier="en-point", language="en")
COMMA = Locale(identifier="en-comma", language="en", decimal_mark=",", list_separator=";")
EITHER = Locale(identifier="en-either", language="en", decimal_mark=",", also_accepted_marks=(".",))
KILOGRAM = Unit(text="kg")
DOLLAR = Unit(text="$", before=True)

numerals = st.builds(Numeral, st.integers(-(10**7), 10**7), st.integers(0, 5))
locales = st.sampled_from((POINT, COMMA, EITHER))
units = st.sampled_from((None, KILOGRAM, DOLLAR))


def forms(written: str, locale: Locale = POINT, policy: str = "value", unit: Unit | None = None) -> tuple[str, ...]:
    return accepted_forms(Numeral.parse(written), locale, policy, unit)


@settings(max_examples=150)
@given(numerals, locales, st.sampled_from(POLICIES), units)
@example(Numeral(4700, 3), EITHER, "value", None)
@example(Numeral(0, 2), POINT, "value", DOLLAR)
def test_every_accepted_form_reads_as_the_key(key: Numeral, locale: Locale, policy: str, unit: Unit | None) -> None:
    accepted = accepted_forms(key, locale, policy, unit)
    assert accepted[0] == locale.number(key)
    assert len(set(accepted)) == len(accepted)
    for form in accepted:
        read = read_answer(form, locale, unit)
        assert read is not None and read == key, form
        if policy == "places":
            assert read.places == key.places


@settings(max_examples=150)
@given(numerals, locales, st.sampled_from(POLICIES))
def test_a_spelling_that_earns_a_hint_is_never_accepted_too(key: Numeral, locale: Locale, policy: str) -> None:
    hinted = {*wrong_mark_forms(key, locale), *wrong_places_forms(key, locale, policy)}
    assert not hinted & set(accepted_forms(key, locale, policy, None))


@settings(max_examples=150)
@given(numerals, numerals, locales)
def test_a_foreseen_wrong_answer_is_never_accepted(wrong: Numeral, key: Numeral, locale: Locale) -> None:
    foreseen = foreseen_forms(wrong, key, locale)
    assert locale.number(wrong) in foreseen
    assert all(read_answer(form, locale) == wrong for form in foreseen)
    if wrong != key:
        assert not set(foreseen) & set(accepted_forms(key, locale, "value", None))


@settings(max_examples=150)
@given(numerals, numerals, locales)
def test_two_values_share_no_accepted_form(one: Numeral, other: Numeral, locale: Locale) -> None:
    shared = set(accepted_forms(one, locale, "value", None)) & set(accepted_forms(other, locale, "value", None))
    assert bool(shared) <= (one == other)


@settings(max_examples=100)
@given(numerals, locales, st.integers(0, 2), st.integers(0, 3))
def test_zeros_within_the_bound_are_accepted(key: Numeral, locale: Locale, leading: int, trailing: int) -> None:
    longer = key.with_places(key.places + trailing)
    sign = "-" if key.coefficient < 0 else ""
    spelled = sign + "0" * leading + longer.text(locale.decimal_mark).lstrip("-")
    assert spelled in accepted_forms(key, locale, "value", None)


@pytest.mark.parametrize("right", ["4.7", "4.70", "04.70", "004.7", "4.700", "4.7000", "4.70000", "+4.70"])
def test_any_equal_spelling_is_right_by_value(right: str) -> None:
    assert right in forms("4.70")


@pytest.mark.parametrize("wrong", ["4,70", "4.71", "47", "4.7 ", "4.", "470", "4.07", "-4.7"])
def test_other_spellings_are_not_right(wrong: str) -> None:
    assert wrong not in forms("4.70")


def test_policy_places_wants_the_places_and_tells_so() -> None:
    accepted = forms("4.70", policy="places")
    assert {"4.70", "04.70", "004.70", "+4.70"} == set(accepted)
    assert wrong_places_forms(Numeral.parse("4.70"), POINT, "places") == ("4.7", "4.700")
    assert instruction("places", Numeral.parse("4.70")) == "Type the number only, with 2 decimal places."
    assert instruction("value", Numeral.parse("4.70")) == "Type the number only."


def test_a_zero_whole_part_may_be_left_out() -> None:
    assert {".7", "0.7", "00.7", "000.7", ".70", ".700", ".7000"} <= set(forms("0.7"))
    assert ".70" in forms("0.70", policy="places")


def test_the_mark_is_the_locales() -> None:
    assert forms("4.7", COMMA)[0] == "4,7"
    assert not any("." in form for form in forms("4.7", COMMA))
    assert not any("," in form for form in forms("4.7", POINT))
    assert wrong_mark_forms(Numeral.parse("4.7"), COMMA) == ("4.7",)
    assert wrong_mark_forms(Numeral.parse("4.7"), EITHER) == ()


def test_a_foreign_mark_before_three_digits_is_refused_as_ambiguous() -> None:
    accepted = forms("4.7", EITHER)
    assert {"4.7", "4.70", "4.7000", "4,700"} <= set(accepted)
    assert "4.700" not in accepted
    assert read_answer("4.700", EITHER) is None
    assert read_answer("4.700", POINT) == Numeral(4700, 3)


def test_a_unit_is_taken_where_the_item_has_one() -> None:
    assert {"4.7 kg", "4.7kg"} <= set(forms("4.7", unit=KILOGRAM))
    assert {"$4.70", "$ 4.70"} <= set(forms("4.70", policy="places", unit=DOLLAR))
    assert read_answer("4.7 kg", POINT) is None


def test_thousands_may_stand_in_groups_between_spaces() -> None:
    assert "23 481.6" in forms("23481.6")
    for space in (" ", "\u00a0", "\u2009", "\u202f"):
        assert read_answer(f"23{space}481.6", POINT) == Numeral(234816, 1)
    assert read_answer("23 48 1.6", POINT) is None


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("  4.7 ", "4.7"), ("\uff14.\uff17", "4.7"), ("\u22124.7", "-4.7"), ("- 4.7", "-4.7"), (".5", "0.5"),
        ("007", "7"),
    ],
)
def test_what_pupils_type_is_read(typed: str, value: str) -> None:
    assert read_answer(typed, POINT) == Numeral.parse(value)


@pytest.mark.parametrize(
    "typed",
    ["", " ", ".", "-", "4.7.1", "4,7", "1,234", "4.7x", "1e5", "4.", "--4", "9" * 61, "\u00bd", "\u00b2"],
)
def test_what_has_no_one_value_is_not_read(typed: str) -> None:
    assert read_answer(typed, POINT) is None


def test_an_unknown_policy_is_an_error() -> None:
    with pytest.raises(ValueError, match="no policy named"):
        forms("4.7", policy="exact")
