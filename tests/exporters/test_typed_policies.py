"""Typed numbers under every policy: what is taken, what is hinted at, where the unit stands."""

from __future__ import annotations

from functools import lru_cache

import pytest

import policy_items
import sampler
from bank.answers import accepted_forms, foreseen_forms, wrong_unit_forms
from bank.model import Item, Locale, TypedNumber
from bank.policies import RULES
from exported import QTI, version
from exporters._item import Renderer
from qti_rules import Session, children, descendants, text_of

LOCALES = (sampler.POINT, sampler.EITHER)


@lru_cache(maxsize=None)
def content(name: str, item: Item, locale: Locale) -> bytes:
    """Return the exported item."""
    return Renderer(version(name), sampler.info(locale)).item(item, True)


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
@pytest.mark.parametrize("item", policy_items.ITEMS, ids=lambda item: item.identifier)
def test_what_the_policy_takes_earns_the_mark_and_nothing_else(name: str, locale: Locale, item: Item) -> None:
    assert isinstance(item.response, TypedNumber)
    session, unit = Session(content(name, item, locale)), item.family.unit
    right = {policy: set(accepted_forms(item.key, locale, policy, unit)) for policy in RULES}
    mine = right[item.response.policy]
    for form in mine:
        assert session.answer(form)["SCORE"] == 1, form
    for form in set().union(*right.values()) - mine:
        assert session.answer(form)["SCORE"] == 0, form


@pytest.mark.parametrize("item", policy_items.ITEMS, ids=lambda item: item.identifier)
def test_the_unit_stands_beside_the_field_but_where_it_is_to_be_typed(item: Item) -> None:
    assert isinstance(item.response, TypedNumber) and item.family.unit is not None
    session = Session(content("qti30", item, sampler.POINT))
    field = descendants(children(session.root, "itemBody")[0], "div")[0]
    assert (item.family.unit.text in text_of(field)) == (item.response.policy != "unit")


@pytest.mark.parametrize("item", policy_items.ITEMS, ids=lambda item: item.identifier)
def test_a_number_that_is_right_but_for_its_unit_is_told_so(item: Item) -> None:
    assert isinstance(item.response, TypedNumber)
    session = Session(content("qti30", item, sampler.POINT))
    forms = wrong_unit_forms(item.key, sampler.POINT, item.response.policy, item.family.unit)
    assert bool(forms) == (item.response.policy in ("exact", "unit"))
    for form in forms:
        assert session.answer(form)["SCORE"] == 0
        assert "The number is right, but write it" in session.shown()[0], form


@pytest.mark.parametrize("item", policy_items.ITEMS, ids=lambda item: item.identifier)
def test_a_foreseen_answer_is_known_with_its_unit_too_where_one_is_wanted(item: Item) -> None:
    assert isinstance(item.response, TypedNumber)
    session, policy = Session(content("qti30", item, sampler.POINT)), item.response.policy
    for wrong, _ in item.response.mistakes:
        for form in foreseen_forms(wrong, item.key, sampler.POINT, policy, item.family.unit):
            outcomes = session.answer(form)
            assert outcomes["SCORE"] == 0 and str(outcomes["FEEDBACK"]).startswith("mistake"), form
