"""What is typed earns in every target what it earns in the audit: one rule, carried out by interpreters of the tests."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sampler
from bank.answers import accepted_forms, misread_forms, visible_forms
from bank.audit.explained import TWO_READINGS, explainer
from bank.audit.marking import Marker
from bank.model import FindMistake, Item, Locale
from exported import QTI, version
from exporters._item import Renderer
from items import item
from qti_rules import Session
from typed_strings import (
    ITEMS, LOCALES, TARGETS, audit_mark, package_mark, read_back_mark, typed_policy, typed_string,
)

POINT, COMMA, EITHER = LOCALES
named = {"ids": lambda one: one.identifier}


def disagreements(one: Item, locale: Locale, texts: list[str]) -> list[str]:
    """Return where a file's rules mark *texts* otherwise than the audit."""
    audit, found = audit_mark(one, locale), []
    wanted = [audit(text) for text in texts]
    for target in TARGETS:
        mark = package_mark(one, locale, target)
        if mark is not None:
            found += [f"{one.identifier}, {locale.identifier}, {target}: {text!r} earns {mark(text)}, in the audit {worth}"
                      for text, worth in zip(texts, wanted) if mark(text) != worth]  # fmt: skip
    return found


@pytest.mark.parametrize("locale", LOCALES, **named)
@pytest.mark.parametrize("one", ITEMS, **named)
def test_random_strings_earn_in_every_target_what_they_earn_in_the_audit(one: Item, locale: Locale) -> None:
    lots = random.Random(f"{one.identifier} {locale.identifier}")
    texts = [typed_string(one, lots) for _ in range(60)]
    assert disagreements(one, locale, texts) == []


@pytest.mark.long
def test_many_random_strings_earn_in_every_target_what_they_earn_in_the_audit() -> None:
    """A tenth of what `tests/marking_figures.py` sends."""
    for one in ITEMS:
        for locale in LOCALES:
            lots = random.Random(f"many {one.identifier} {locale.identifier}")
            assert disagreements(one, locale, [typed_string(one, lots) for _ in range(180)]) == []


@settings(max_examples=60)
@given(st.sampled_from(ITEMS), st.sampled_from(LOCALES), st.text("0123456789.,+- \u2212\u00a0\u2009\uff14kg$m'", max_size=12))
def test_any_text_earns_in_every_target_what_it_earns_in_the_audit(one: Item, locale: Locale, text: str) -> None:
    assert disagreements(one, locale, [text]) == []


@pytest.mark.parametrize("name", QTI)
def test_the_rules_read_back_say_the_same(name: str) -> None:
    for one in ITEMS:
        lots = random.Random(one.identifier)
        mark = read_back_mark(one, POINT, name)
        audit = audit_mark(one, POINT)
        for text in [typed_string(one, lots) for _ in range(40)] if mark else ():
            assert mark(text) == audit(text), (one.identifier, text)


@pytest.mark.parametrize("locale", LOCALES, **named)
@pytest.mark.parametrize("one", ITEMS, **named)
def test_every_listed_spelling_is_right_everywhere_with_a_blank_at_either_end(one: Item, locale: Locale) -> None:
    forms = accepted_forms(one.key, locale, typed_policy(one), one.family.unit)
    first = forms[0]
    texts = [*forms, f" {first}", f"{first} ", f" {first} "]
    audit = audit_mark(one, locale)
    assert {audit(text) for text in texts} == {2 if isinstance(one.response, FindMistake) and
                                               one.response.credit == "each" else 1}
    assert disagreements(one, locale, texts) == []


@pytest.mark.parametrize(("locale", "right", "wrong"), [
    (POINT, ("10142", "10,142", "10 142", "10,142.0", "10142.0"), ("10.142", "10142,0", "1,0142", "10,14,2")),
    (COMMA, ("10142", "10.142", "10 142", "10.142,0", "10142,0"), ("10,142", "10142.0")),
    (EITHER, ("10142", "10 142", "10.142,0", "10142,0", "10142.0"), ("10.142", "10,142")),
], ids=lambda one: getattr(one, "identifier", ""))  # fmt: skip
def test_a_key_of_four_digits_is_right_in_the_groups_of_its_class(
    locale: Locale, right: tuple[str, ...], wrong: tuple[str, ...]
) -> None:
    sum_of_wholes = item("add", operands=("9876", "266"), typed=True)
    audit = audit_mark(sum_of_wholes, locale)
    assert [audit(text) for text in right] == [1] * len(right)
    assert [audit(text) for text in wrong] == [0] * len(wrong)
    assert disagreements(sum_of_wholes, locale, [*right, *wrong]) == []


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize(("operands", "locale", "typed", "why"), [
    (("9876", "266"), EITHER, "10.142", "could be read in two ways"),
    (("9.1", "1.042"), EITHER, "10.142", "could be read in two ways"),
    (("3.2", "1.5"), EITHER, "4.700", "could be read in two ways"),
    (("9.1", "1.042"), POINT, "10,142", "a comma separates thousands"),
    (("9.1", "1.042"), COMMA, "10.142", "a point separates thousands"),
    (("9876", "266"), COMMA, "10,142", "a comma is the decimal mark"),
    (("9876", "266"), POINT, "10.142", "a point is the decimal mark"),
    (("0.1", "0.042"), POINT, "0,142", "write the decimal mark as a point"),
])  # fmt: skip
def test_a_mark_that_is_read_otherwise_here_is_wrong_and_the_pupil_is_told_why(
    name: str, operands: tuple[str, ...], locale: Locale, typed: str, why: str
) -> None:
    one = item("add", operands=operands, typed=True)
    session = Session(Renderer(version(name), sampler.info(locale)).item(one, True))
    assert session.answer(typed)["SCORE"] == 0 and why in session.shown()[0]
    assert Marker(one, locale).mark(typed).credit == 0
    said = explainer(one, locale).note(Marker(one, locale).mark(typed).response)
    assert (said == TWO_READINGS) == (why == "could be read in two ways")


@pytest.mark.parametrize("locale", LOCALES, **named)
@pytest.mark.parametrize("one", ITEMS, **named)
def test_a_spelling_that_is_explained_is_never_right_too(one: Item, locale: Locale) -> None:
    forms = accepted_forms(one.key, locale, typed_policy(one), one.family.unit)
    assert not set(misread_forms(one.key, locale, typed_policy(one))) & set(forms)
    assert set(visible_forms(one.key, locale, typed_policy(one), one.family.unit)) == {form.strip() for form in forms}


def test_a_blank_at_an_end_comes_through_a_table_of_results(tmp_path: Path) -> None:
    from bank.audit.pseudonyms import Salt
    from bank.audit.reading import read_results
    from bank.store import Bank
    from results_bank import bank_of_kinds

    key = item("add", typed=True).key
    texts = [str(key), f" {key}", f"{key} ", f" {key} ", f"  {key}", f"\u00a0{key}"]
    lines = [f'p{at},kinds,typed-v1-abc,"{text}"' for at, text in enumerate(texts)]
    path = tmp_path / "r.csv"
    path.write_text("\n".join(["pupil,quiz,item,response", *lines, ""]), encoding="utf-8")
    with Bank.open(bank_of_kinds()) as bank:
        (form,) = read_results(bank, [path], salt=Salt(key=b"only for tests"), remember=False).forms
        place = form.form.items.index("typed-v1-abc")
        credits = [form.form.credits[place][code] for code in form.codes[:, place]]
        audit = audit_mark(next(bank.items(["typed-v1-abc"])), bank.info.locale)
    assert credits == [1000, 1000, 1000, 1000, 0, 0] == [1000 * audit(text) for text in texts]
