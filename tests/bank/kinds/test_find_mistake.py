"""Items with a mistake to find: the working, its one wrong step, the answer to be typed, and how they spread."""

from __future__ import annotations

from collections import Counter

import pytest
from bank import checks, locales, mistakes
from bank.checks._judging import Addition
from bank.difficulty import features_of_kind, load_weights
from bank.further import FurtherDrawer
from bank.draw import Demand
from bank.kinds import Made, maker_for
from bank.kinds.find_mistake import NO_WORKING
from bank.model import FindMistake, Item
from bank.store import unpack
from bank.templates import Template
from template_items import TEMPLATES as EVERY_TEMPLATE

TEMPLATES = tuple(one for one in EVERY_TEMPLATE if one.kind == "find-mistake")
WEIGHTS = load_weights()
POINT = locales.load_locale("en-point")
each_template = pytest.mark.parametrize("template", TEMPLATES, ids=lambda one: one.identifier)


def drawn(template: Template, wanted: int, mistake: str = "") -> list[Item]:
    drawer = FurtherDrawer(template, POINT, WEIGHTS, 20270301, wanted, 0, 1)
    batch = drawer.more([Demand(0, wanted, mistake)])
    assert not [reason for reason in batch.refused if reason.startswith("check ")], "what is made passes the checks"
    return [unpack(kept.identifier, template.family, kept.content) for kept in batch.kept]


def test_each_operation_in_columns_has_a_template() -> None:
    assert {one.operation for one in TEMPLATES} == {"add", "subtract", "multiply", "divide"}


@each_template
def test_items_ask_for_the_one_wrong_step_of_a_documented_mistake(template: Template) -> None:
    for item in drawn(template, 12):
        response = item.response
        assert isinstance(response, FindMistake)
        assert response.working.operands == item.operands
        assert response.working.result != item.key == item.solution.result
        assert mistakes.load()[response.mistake].procedure(*item.operands) == response.working.result
        at = [step.identifier for step in response.steps].index(response.right)
        assert response.working.steps[:at] == item.solution.steps[:at]
        assert [one for one in checks.run_item_checks(item, POINT) if one.severity == "error"] == []
        assert (response.typed is not None) == bool(template.response.policy)
        assert response.credit == template.response.credit


@each_template
def test_mistakes_and_places_of_the_wrong_step_are_spread(template: Template) -> None:
    responses = [item.response for item in drawn(template, 40)]
    assert len(responses) == 40
    used = Counter(one.mistake for one in responses)
    places = Counter(one.right for one in responses)
    assert len(used) >= 5 and max(used.values()) <= 20
    assert len(places) >= 3 and max(places.values()) <= 20  # an exchange past a zero has few steps to go wrong


def test_a_wanted_mistake_is_the_one_that_is_shown() -> None:
    (template,) = [one for one in TEMPLATES if one.operation == "add"]
    items = drawn(template, 5, "add.lined-up-on-the-right")
    assert [item.response.mistake for item in items] == ["add.lined-up-on-the-right"] * 5
    assert {item.response.right for item in items} == {"S1"}


def test_an_answer_that_is_typed_has_the_wrong_answers_foreseen() -> None:
    (template,) = [one for one in TEMPLATES if one.operation == "add"]
    for item in drawn(template, 6):
        typed = item.response.typed
        foreseen = dict(typed.mistakes)
        assert item.response.mistake in foreseen[item.response.working.result]
        assert item.key not in foreseen


def test_numbers_on_which_no_mistake_makes_one_wrong_step_give_no_item() -> None:
    (template,) = [one for one in TEMPLATES if one.operation == "multiply"]
    only = template.response._replace(slips=("multiply.trailing-zero-dropped-first",))
    maker = maker_for(template._replace(response=only))
    refused = [maker.make(template.values_at(index), "", ("lot", index)) for index in range(0, 3000, 100)]
    assert NO_WORKING in refused
    for made in refused:
        if isinstance(made, Made):
            assert made.mistakes == ("multiply.trailing-zero-dropped-first",)


def test_finding_a_step_and_typing_the_answer_are_features_of_the_item() -> None:
    for template in TEMPLATES:
        (item,) = drawn(template, 1)
        found = dict(features_of_kind(
            item.operands, item.solution, context=True, response=item.response, weights=WEIGHTS))
        assert found["find_mistake"] == 1
        assert ("typed" in found) == bool(template.response.policy)


def test_the_judge_of_the_check_is_not_told_which_step_was_made_wrong() -> None:
    (template,) = [one for one in TEMPLATES if one.operation == "add"]
    for item in drawn(template, 8):
        working = item.response.working
        wrong, not_read = Addition(item.operands).judge(working.steps)
        assert [item.response.steps[place].identifier for place in wrong] == [item.response.right]
        assert not not_read
