"""Typed answers: the list of spellings holds the key's value and nothing else, and is read back."""

from __future__ import annotations

import re

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from bank.answers import (
    MOST_FORMS, accepted_forms, foreseen_forms, instruction, is_ambiguous,
    mark_scheme, read_answer, visible_forms, wrong_mark_forms, wrong_places_forms, wrong_unit_forms,
)
from bank.model import Locale, Unit
from bank.numerals import Numeral
from bank.policies import POLICIES, RULES

POINT = Locale(identifier="en-point", language="en")
COMMA = Locale(identifier="en-comma", language="en", decimal_mark=",", list_separator=";")
EITHER = Locale(identifier="en-either", language="en", decimal_mark=",", also_accepted_marks=(".",))
GROUPED = Locale(identifier="en-grouped", language="en", group_mark=",")
BOTH = Locale(identifier="en-both", language="en", decimal_mark=",", also_accepted_marks=(".",), group_mark=".")
KILOGRAM = Unit(text="kg")
DOLLAR = Unit(text="$", before=True)

numerals = st.builds(Numeral, st.integers(-(10**7), 10**7), st.integers(0, 5))
locales = st.sampled_from((POINT, COMMA, EITHER, GROUPED, BOTH))
units = st.sampled_from((None, KILOGRAM, DOLLAR))


def forms(written: str, locale: Locale = POINT, policy: str = "value", unit: Unit | None = None) -> tuple[str, ...]:
    return accepted_forms(Numeral.parse(written), locale, policy, unit)


@settings(max_examples=150)
@given(numerals, locales, st.sampled_from(POLICIES), units)
@example(Numeral(4700, 3), EITHER, "value", None)
@example(Numeral(0, 2), POINT, "value", DOLLAR)
def test_every_accepted_form_reads_as_the_key(key: Numeral, locale: Locale, policy: str, unit: Unit | None) -> None:
    unit = unit or (KILOGRAM if policy == "unit" else None)
    accepted = accepted_forms(key, locale, policy, unit)
    if policy == "unit":
        assert locale.number(key).lstrip("\u2212") in accepted[0]
    else:
        assert accepted[0] == locale.number(key)
    assert len(set(accepted)) == len(accepted)
    for form in accepted:
        read = read_answer(form, locale, unit)
        assert read is not None and read == key, form
        if policy in ("places", "exact"):
            assert read.places == key.places
        if unit is not None and RULES[policy].unit != "may":
            assert (unit.text in form) == (policy == "unit")


@settings(max_examples=150)
@given(numerals, locales, st.sampled_from(POLICIES))
def test_a_spelling_that_earns_a_hint_is_never_accepted_too(key: Numeral, locale: Locale, policy: str) -> None:
    unit = KILOGRAM if policy in ("unit", "exact") else None
    hinted = {
        *wrong_mark_forms(key, locale), *wrong_places_forms(key, locale, policy),
        *wrong_unit_forms(key, locale, policy, unit),
    }
    assert not hinted & set(accepted_forms(key, locale, policy, unit))


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


@pytest.mark.parametrize("right", ["4.7", "4.70", "04.70", "004.7", "4.700", "4.7000", "4.70000", "+4.70", "4.70 ", " 4.7", " 4.700 "])
def test_any_equal_spelling_is_right_by_value(right: str) -> None:
    assert right in forms("4.70")


@pytest.mark.parametrize("wrong", ["4,70", "4.71", "47", "  4.7", "\u00a04.7", " 04.7", "+4.7 ", "4.", "470", "4.07", "-4.7"])
def test_other_spellings_are_not_right(wrong: str) -> None:
    assert wrong not in forms("4.70")


def test_policy_places_wants_the_places_and_tells_so() -> None:
    accepted = forms("4.70", policy="places")
    assert {"4.70", "04.70", "004.70", "+4.70"} == {form for form in accepted if form == form.strip()}
    assert {form for form in accepted if form != form.strip()} == {"4.70 ", " 4.70", " 4.70 "}
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
    assert "4.700" not in accepted and "0.700" in forms("0.7", EITHER)
    assert read_answer("4.700", EITHER) is None
    assert read_answer("4.700", POINT) == Numeral(4700, 3)


@given(numerals, locales, st.sampled_from(("value", "places")), st.sampled_from((KILOGRAM, DOLLAR)))
def test_a_unit_that_may_stand_may_stand_with_every_spelling(key: Numeral, locale: Locale, policy: str, unit: Unit) -> None:
    """Only zeros in front and a plus sign, which hardly anyone writes, come without it."""
    accepted = set(visible_forms(key, locale, policy, unit))
    bare = [form for form in visible_forms(key, locale, policy, None) if not re.match(r"\+|\D?00?\d", form)]
    for form in bare:
        number = form.lstrip("-\u2212")
        sign = form.removesuffix(number)
        united = (f"{sign}{unit.text}{number}",) if unit.before else (f"{form} {unit.text}", f"{form}{unit.text}")
        assert accepted.issuperset(united), form


def test_a_unit_is_taken_where_the_item_has_one() -> None:
    assert {"4.70 kg", "4.700kg", "4.7 kg "} <= set(forms("4.7", unit=KILOGRAM))
    assert {"4.7 kg", "4.7kg"} <= set(forms("4.7", unit=KILOGRAM))
    assert {"$4.70", "$ 4.70"} <= set(forms("4.70", policy="places", unit=DOLLAR))
    assert read_answer("4.7 kg", POINT) is None


def test_thousands_may_stand_in_groups_between_spaces() -> None:
    assert "23 481.6" in forms("23481.6")
    for space in (" ", "\u00a0", "\u2009", "\u202f"):
        assert read_answer(f"23{space}481.6", POINT) == Numeral(234816, 1)
    assert read_answer("23 48 1.6", POINT) is None and read_answer("0 142", POINT) is None


def test_the_mark_between_groups_is_the_locales() -> None:
    assert {"10,142", "10 142", "10,142.0"} <= set(forms("10142", GROUPED)) and "10,142" not in forms("10142")
    assert read_answer("10,142.5", GROUPED) == Numeral(101425, 1) and read_answer("1,2", GROUPED) is None
    assert read_answer("10.142", BOTH) is None and read_answer("1.234.567", BOTH) == Numeral(1234567)
    assert "1.234.567" in forms("1234567", BOTH) and "10.142" not in forms("10142", BOTH)
    assert [is_ambiguous(text, BOTH) for text in ("10.142", "0.142", "10,142", "1.234.567", "x.142")] == [
        True, False, False, False, False]


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
        forms("4.7", policy="nearly")


@settings(max_examples=150)
@given(st.builds(Numeral, st.integers(-(10**9) + 1, 10**9 - 1), st.integers(0, 3)), locales, units)
@example(Numeral(-100, 3), EITHER, KILOGRAM)
def test_the_list_of_spellings_stays_short(key: Numeral, locale: Locale, unit: Unit | None) -> None:
    marks = 1 + len(locale.also_accepted_marks)
    for policy in POLICIES:
        assert len(accepted_forms(key, locale, policy, unit or KILOGRAM)) <= MOST_FORMS * marks


@settings(max_examples=300)
@given(numerals, locales, st.sampled_from(POLICIES), st.text("0123456789.,+- \u2212kg$", max_size=9))
def test_nothing_with_another_value_is_accepted(key: Numeral, locale: Locale, policy: str, typed: str) -> None:
    accepted = typed in accepted_forms(key, locale, policy, KILOGRAM)
    assert accepted <= (read_answer(typed, locale, KILOGRAM) == key)


@settings(max_examples=150)
@given(numerals, numerals, locales)
def test_a_foreseen_wrong_answer_is_not_accepted_with_a_unit(wrong: Numeral, key: Numeral, locale: Locale) -> None:
    foreseen = foreseen_forms(wrong, key, locale, "unit", KILOGRAM)
    assert f"{locale.number(wrong)} kg" in foreseen and locale.number(wrong) in foreseen
    if wrong != key:
        assert not set(foreseen) & set(accepted_forms(key, locale, "unit", KILOGRAM))


def test_policy_exact_takes_the_key_as_it_is_written_and_nothing_else() -> None:
    def shown(written: str, **more: object) -> set[str]:
        return {form.strip() for form in forms(written, policy="exact", **more)}  # type: ignore[arg-type]

    assert shown("4.70", unit=KILOGRAM) == {"4.70"} and shown("0.5", locale=EITHER) == {"0,5"}
    assert shown("-4.7") == {"-4.7", "\u22124.7"} and shown("10142", locale=GROUPED) == {"10142"}
    assert wrong_places_forms(Numeral.parse("4.70"), POINT, "exact") == ("4.7", "4.700")
    assert wrong_unit_forms(Numeral.parse("4.70"), POINT, "exact", KILOGRAM) == ("4.70 kg", "4.70kg")
    assert instruction("exact", Numeral.parse("4.7")) == "Type the number only, without zeros that can be left out."
    assert instruction("exact", Numeral.parse("4.70")) == (
        "Type the number only, with 2 decimal places and without zeros in front that can be left out."
    )


def test_policy_unit_wants_the_unit_in_its_place() -> None:
    accepted = set(forms("4.7", policy="unit", unit=KILOGRAM))
    assert {"4.7 kg", "4.7kg", "4.70 kg", "04.7kg"} <= accepted
    assert not accepted & {"4.7", "kg 4.7", "4.7 g", "4.7 KG"}
    assert {"$4.7", "$ 4.7", "$4.70"} <= set(forms("4.7", policy="unit", unit=DOLLAR))
    assert "-$4.7" in forms("-4.7", policy="unit", unit=DOLLAR)
    assert wrong_unit_forms(Numeral.parse("4.7"), POINT, "unit", KILOGRAM) == ("4.7",)
    assert instruction("unit", Numeral.parse("4.7"), KILOGRAM) == "Type the number with kg after it."
    assert instruction("unit", Numeral.parse("4.7"), DOLLAR) == "Type the number with $ before it."
    with pytest.raises(ValueError, match="wants a unit"):
        forms("4.7", policy="unit")


def test_the_mark_scheme_says_the_key_and_what_else_is_right() -> None:
    key = Numeral.parse("4.70")
    assert mark_scheme("value", key, POINT, None) == "4.70 (any spelling of this value)"
    assert mark_scheme("places", key, COMMA, None) == "4,70 (this value with just this number of decimal places)"
    assert mark_scheme("exact", key, POINT, KILOGRAM) == "4.70 (only as it is written here, without a unit)"
    assert mark_scheme("unit", key, POINT, KILOGRAM) == "4.70 kg (any spelling of this value, with the unit)"


@pytest.mark.parametrize("policy", ["value", "places", "unit"])
def test_needless_zeros_in_front_and_a_bare_point_are_decided_alike(policy: str) -> None:
    half, longer = forms("0.5", policy=policy, unit=KILOGRAM), forms("2.5", policy=policy, unit=KILOGRAM)
    ending = " kg" if policy == "unit" else ""
    assert f".5{ending}" in half and f"02.5{ending}" in longer and f"002.5{ending}" in longer
    assert f"0002.5{ending}" not in longer and f"2.5.{ending}" not in longer
