"""Cartridges of random items, of any words, numbers, locale: always valid, read back, marked as the bank marks them."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

import kind_items
import sampler
import schematron
import standards
from bank.answers import accepted_forms
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, PutInOrder, TypedNumber, Unit,
)
from bank.numerals import Numeral
from cartridge_rules import Question
from cartridge_schemas import ITEMS_SCHEMA, compiled, rules
from exporters._cc_asked import refusal
from exporters._cc_back import Comparer, difference, read_item
from exporters._cc_files import Cartridge, end, head
from exporters._cc_item import ItemWriter
from exporters._profile import Profile
from items import item

GERMAN = replace(sampler.EITHER, identifier="de-comma", language="de")
KINDS = tuple(one for one in kind_items.ITEMS if not refusal(one))
_LEGAL = st.characters(codec="utf-8", exclude_categories=("Cs", "Cc", "Cn"))
WORDS = st.text(_LEGAL, min_size=1, max_size=40).filter(str.strip)
LOCALES = st.sampled_from((sampler.POINT, sampler.EITHER, GERMAN, replace(sampler.POINT, multiplication="*")))
NUMBERS = st.builds(Numeral, st.integers(0, 10**7), st.integers(0, 4))
PROFILE = Profile(Cartridge(), "items")


@st.composite
def items(draw: st.DrawFn) -> Item:
    """Return an item of any kind that a cartridge can carry, with random words, and for sums random numbers."""
    if draw(st.booleans()):
        made = draw(st.sampled_from(KINDS))
    else:
        typed = draw(st.booleans())
        operands = [draw(NUMBERS).text(), draw(NUMBERS).text()]
        policy = draw(st.sampled_from(("value", "places", "exact", "unit"))) if typed else "value"
        made = item("add", operands=operands, typed=typed, policy=policy)
        if isinstance(made.response, Choice):
            values = draw(st.lists(NUMBERS, min_size=2, max_size=5, unique=True))
            offered = sorted({made.key, *values})
            made = item("add", operands=operands, offered=[one.text() for one in offered])
        units = st.builds(Unit, text=st.sampled_from(("m", "kg", "$", "\u20ac", "<&>")), before=st.booleans())
        unit = draw(units) if policy == "unit" else draw(st.none() | units)
        made = replace(made, family=replace(made.family, unit=unit))
    family = replace(
        made.family, title=draw(WORDS), topic="t", hint=((draw(WORDS),),) * draw(st.integers(0, 1)),
        praise=((draw(WORDS),),) * draw(st.integers(0, 1)), show_solution=draw(st.booleans()),
    )  # fmt: skip
    return replace(made, family=family, stem=(*made.stem, (draw(WORDS), made.key)))


def written(one: Item, locale: Locale, feedback: bool) -> etree._Element:
    """Return the root of a question bank with just this item, checked against our profile."""
    info = sampler.info(locale)
    content = (head(info, None) + ItemWriter(info).item(one, feedback) + end(None)).encode()
    return PROFILE.check(content, "random")


@settings(max_examples=60, deadline=None)
@given(one=items(), locale=LOCALES, feedback=st.booleans())
def test_a_random_item_is_valid_is_read_back_as_it_was_and_is_marked_right(
    one: Item, locale: Locale, feedback: bool
) -> None:
    if refusal(one):
        return
    root = written(one, locale, feedback)
    if standards.folder() is not None:
        compiled(ITEMS_SCHEMA).assertValid(root)
        assert schematron.broken(root, rules(ITEMS_SCHEMA)) == []
    (element,) = root.iter("{*}item")
    assert difference(one, read_item(element, "random"), locale, feedback) == ""
    question = Question(element)
    if isinstance(one.response, TypedNumber):
        forms = accepted_forms(one.key, locale, one.response.policy, one.family.unit)
        assert all(question.mark(form)[0] == 100 for form in forms)
        assert all(question.mark(f"{form}0x")[0] == 0 for form in forms)
    elif isinstance(one.response, Choice):
        scores = [question.mark(option.identifier)[0] for option in one.response.options]
        assert scores == [100 * option.is_key for option in one.response.options]
    assert question.mark()[0] == 0


def otherwise(one: Item) -> Item:
    """Return *one* with another right answer and nothing else changed."""
    response = one.response
    if isinstance(response, TypedNumber):
        return replace(one, key=Numeral(one.key.coefficient + 1, one.key.places))
    if isinstance(response, Choice):
        wrong = next(option for option in response.options if not option.is_key)
        moved = tuple([replace(option, is_key=option is wrong) for option in response.options])
        return replace(one, key=wrong.numeral, response=replace(response, options=moved))
    if isinstance(response, PutInOrder):
        return replace(one, response=replace(response, right=response.mistakes[0][0], mistakes=(
            (response.right, ("compare.wrong-end",)), *response.mistakes[1:])))
    if isinstance(response, FindMistake):
        other = next(step.identifier for step in response.steps if step.identifier != response.right)
        return replace(one, response=replace(response, right=other))
    assert isinstance(response, ChooseSeveral | ChooseInLine)
    first, *rest = response.options
    return replace(one, response=replace(response, options=(replace(first, is_key=not first.is_key), *rest)))


@settings(max_examples=40, deadline=None)
@given(one=items(), locale=LOCALES)
def test_another_right_answer_is_always_noticed(one: Item, locale: Locale) -> None:
    if refusal(one):
        return
    (element,) = written(one, locale, True).iter("{*}item")
    assert difference(otherwise(one), read_item(element, "random"), locale, True) != ""


def test_items_in_another_order_or_too_few_are_noticed() -> None:
    info = sampler.info()
    writer = ItemWriter(info)
    two = "".join([writer.item(one, True) for one in KINDS[:2]])
    root = PROFILE.check((head(info, None) + two + end(None)).encode(), "two")
    Comparer(info.locale).check_items(root, iter(KINDS[:2]), "two")
    for wrong in (KINDS[1::-1], KINDS[:1], KINDS[:3]):
        with pytest.raises(Exception, match="two"):
            Comparer(info.locale).check_items(root, iter(wrong), "two")
