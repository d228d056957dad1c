"""Exported items answered by a small interpreter: scores, and what a pupil is shown."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import sampler
from bank import mistakes
from bank.answers import accepted_forms, read_answer
from bank.model import Choice, Item, Locale, TypedNumber
from bank.numerals import Numeral
from exported import QTI, packages, version
from exporters._item import Renderer
from exporters._layout import caption
from exporters._words import PRAISE
from items import item
from qti_rules import Session

LOCALES = (sampler.POINT, sampler.EITHER)
CHOICES = [one for one in sampler.ITEMS if isinstance(one.response, Choice)]
TYPED = [one for one in sampler.ITEMS if isinstance(one.response, TypedNumber)]


def session(name: str, one: Item, locale: Locale = sampler.POINT, package: str = "bank") -> Session:
    """Return a session of the exported item."""
    return Session(packages(name, locale)[package][f"items/{one.identifier}.xml"])


def rationale(one: Item, names: tuple[str, ...]) -> str:
    """Return the one remedy for an answer that the mistakes *names* lead to, empty where none is known."""
    found = mistakes.remedy(mistakes.seen_of(one), names)
    return found[1].words if found else ""


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("one", CHOICES, ids=lambda one: one.identifier)
def test_the_key_scores_one_and_each_wrong_option_none_with_its_own_feedback(name: str, one: Item) -> None:
    assert isinstance(one.response, Choice)
    tried = session(name, one)
    for option in one.response.options:
        outcomes = tried.answer(option.identifier)
        assert outcomes["SCORE"] == (1 if option.is_key else 0) and outcomes["MAXSCORE"] == 1
        shown = tried.shown()
        said = rationale(one, option.mistakes)
        if option.is_key and not one.family.praise:
            assert shown[0] == PRAISE
        elif said:
            assert shown[0].startswith(said)
        working = [text for text in shown if text.startswith(caption(one.solution, sampler.POINT))]
        assert len(working) == one.family.show_solution


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("one", sampler.ITEMS, ids=lambda one: one.identifier)
def test_an_unanswered_item_scores_none_and_blames_nobody(name: str, one: Item) -> None:
    tried = session(name, one)
    outcomes = tried.answer(None)
    assert outcomes["SCORE"] == 0 and outcomes["FEEDBACK"] is None
    assert len(tried.shown()) == one.family.show_solution


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
@pytest.mark.parametrize("one", TYPED, ids=lambda one: one.identifier)
def test_every_accepted_spelling_scores_one_and_near_misses_none(name: str, one: Item, locale: Locale) -> None:
    assert isinstance(one.response, TypedNumber)
    tried, key = session(name, one, locale), one.key
    right = accepted_forms(key, locale, one.response.policy, one.family.unit)
    for spelling in right:
        assert tried.answer(spelling)["SCORE"] == 1, spelling
    assert tried.shown()[0].startswith(PRAISE if not one.family.praise else "Right")
    canonical = locale.number(key)
    near = [canonical + " ", canonical + "0" * 9, "-" + canonical, canonical + locale.decimal_mark, canonical[:-1],
            locale.number(key + Numeral(1, key.places)), str(key.coefficient) + "0", canonical + "x", ""]
    for wrong in near:
        if wrong not in right:
            assert tried.answer(wrong)["SCORE"] == 0, wrong


@pytest.mark.parametrize("name", QTI)
def test_a_foreseen_wrong_answer_gets_its_rationale_and_any_other_the_hint(name: str) -> None:
    rope = sampler.ITEMS[2]
    tried = session(name, rope)
    for typed, names in (("33.52", "subtract.ten-minus-bottom"), ("33.45", "subtract.zero-becomes-nine-only")):
        assert tried.answer(typed)["SCORE"] == 0
        assert rationale(rope, (names,)) in tried.shown()[0]
        assert tried.shown()[0].endswith("Which number is the whole?")
    assert tried.answer("9999")["SCORE"] == 0
    assert tried.shown()[0] == "Which number is the whole?"


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize(
    ("number", "locale", "typed", "hint"),
    [(2, sampler.POINT, "32,45", "decimal mark as a point"), (2, sampler.COMMA, "32.45", "decimal mark as a comma"),
     (5, sampler.POINT, "8.1", "with 2 decimal places"), (7, sampler.EITHER, "12,170", "with 2 decimal places")],
)
def test_a_right_number_in_another_form_is_told_which_form(
    name: str, number: int, locale: Locale, typed: str, hint: str
) -> None:
    tried = session(name, sampler.ITEMS[number], locale)
    assert tried.answer(typed)["SCORE"] == 0
    assert hint in tried.shown()[0]


@pytest.mark.parametrize("name", QTI)
def test_a_graded_quiz_scores_alike_and_tells_nothing(name: str) -> None:
    quiz = sampler.QUIZZES[1]
    for one in sampler.ITEMS:
        if one.identifier in quiz.items:
            tried = session(name, one, package=quiz.identifier)
            answers = (
                {option.identifier: option.is_key for option in one.response.options}
                if isinstance(one.response, Choice) else {str(one.key): True, "9999": False}
            )
            for answer, is_right in answers.items():
                outcomes = tried.answer(answer)
                assert outcomes == {"SCORE": int(is_right), "MAXSCORE": 1} and tried.shown() == []


@settings(max_examples=25, deadline=None)
@given(
    st.integers(1, 99999), st.integers(1, 3), st.integers(1, 9999), st.sampled_from(QTI),
    st.text("0123456789.,+ ", max_size=8),
)
def test_what_is_typed_scores_one_just_where_it_is_listed_and_reads_as_the_key(
    units: int, places: int, other: int, name: str, typed: str
) -> None:
    one = item("add", operands=(Numeral(units, places).text(), Numeral(other, 2).text()), typed=True, typed_mistakes=())
    tried = Session(Renderer(version(name), sampler.info()).item(one, True))
    listed = accepted_forms(one.key, sampler.POINT, "value", None)
    for answer in (typed, *listed[:3]):
        score = tried.answer(answer)["SCORE"]
        assert score == (answer in listed)
        assert not score or read_answer(answer, sampler.POINT) == one.key
