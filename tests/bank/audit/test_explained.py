"""Wrong answers explained: by one mistake, by several, by none; typed or offered, of every kind of response."""

from __future__ import annotations

from dataclasses import replace

import kept_kinds
import pytest
from bank import methods, mistakes
from bank.audit.explained import NO_READING, RIGHT_VALUE, explainer
from bank.audit.marking import NO_NUMBER, Marker
from bank.model import Choice, FindMistake, Item, TypedNumber
from bank.numerals import Numeral
from review_bank import COMMA, FAMILIES, POINT, family, item, make_bank


def typed_sum(*operands: str) -> Item:
    numerals = tuple(Numeral.parse(one) for one in operands)
    trace = methods.run("add", numerals)
    return replace(item(FAMILIES[0], 3, typed=True), operands=numerals, key=trace.result, solution=trace,
                   response=TypedNumber())


def test_a_typed_answer_is_run_through_every_mistake_foreseen_or_not() -> None:
    asked = typed_sum("38.41", "6.7")
    known = explainer(asked, POINT)
    for record, wrong in mistakes.outcomes(mistakes.of_operation("add"), asked.operands, asked.key):
        assert record.identifier in known.explain(POINT.number(wrong))
        assert record.identifier in known.possible


def test_an_answer_may_fit_several_mistakes_and_all_are_named() -> None:
    asked = typed_sum("4.8", "2.7")
    known = explainer(asked, POINT)
    by_value: dict[Numeral, set[str]] = {}
    for record, wrong in mistakes.outcomes(mistakes.of_operation("add"), asked.operands, asked.key):
        by_value.setdefault(wrong, set()).add(record.identifier)
    several = {value: names for value, names in by_value.items() if len(names) > 1}
    assert several, "numbers on which two mistakes give one answer"
    for value, names in several.items():
        assert set(known.explain(POINT.number(value))) == names


def test_an_answer_that_no_mistake_gives_fits_none() -> None:
    assert explainer(typed_sum("38.41", "6.7"), POINT).explain("99.99") == ()


def test_the_right_value_in_another_form_and_no_number_are_told_apart_from_unexplained() -> None:
    known = explainer(typed_sum("38.41", "6.7"), POINT)
    assert known.note("45.110") == RIGHT_VALUE
    assert known.note(NO_NUMBER) == NO_READING
    assert known.note("99.99") == ""


def test_answers_are_read_in_the_locale_of_the_bank() -> None:
    asked = typed_sum("38.41", "6.7")
    _, wrong = mistakes.outcomes(mistakes.of_operation("add"), asked.operands, asked.key)[0]
    assert explainer(asked, COMMA).explain(COMMA.number(wrong))


def test_options_fit_the_mistakes_that_made_them_and_the_key_fits_none() -> None:
    for one in make_bank(30).items():
        if isinstance(one.response, Choice):
            known = explainer(one, POINT)
            for option in one.response.options:
                assert set(known.explain(option.identifier)) == set(option.mistakes)
            assert len(known.wrong_options) == len(one.response.options) - 1


@pytest.mark.parametrize("one", kept_kinds.ITEMS, ids=lambda one: f"{type(one.response).__name__}-{one.identifier}")
def test_of_every_kind_the_right_response_fits_none_and_something_can_show(one: Item) -> None:
    known = explainer(one, POINT)
    assert known.explain(Marker(one, POINT).right) == ()
    asks_for_the_step_only = isinstance(one.response, FindMistake) and one.response.typed is None
    assert bool(known.possible) is not asks_for_the_step_only


@pytest.mark.parametrize("one", kept_kinds.ITEMS, ids=lambda one: f"{type(one.response).__name__}-{one.identifier}")
def test_what_a_simulated_pupil_with_a_mistake_answers_fits_that_mistake(one: Item) -> None:
    from bank.audit.simulation._ways import ways

    known, given = explainer(one, POINT), ways(one, POINT)
    if not known.possible:
        return  # who marks another step has not found the mistake; that is no sign of holding it
    for name, place in given.by_mistake:
        assert name in known.explain(given.answers[place].response)


def test_a_family_without_mistakes_explains_nothing() -> None:
    odd = replace(typed_sum("1", "2"), family=family("odd", "odd", "round"), operands=(Numeral(3),), key=Numeral(3))
    assert explainer(odd, POINT).explain("3") == ()
