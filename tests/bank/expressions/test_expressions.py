"""Expressions: compiled integer code against a plain walker over exact fractions; print and read; words by cases."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml
from expression_walker import COMPARING, REFERENCE, NoValue, walk
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from bank import expressions
from bank.expressions import (
    WORDS, Amount, Calculation, Call, Comparison, Emitter, ExpressionError, Literal, Logic, Name, Negative, Not, Part,
    Verdict, Wording,
)
from bank.numerals import POWERS, Numeral

CASES = Path(__file__).parent / "cases"
DRAWN = {"a": Numeral(34, 1), "b": Numeral(250, 2), "n": Numeral(7), "z": Numeral(0), "m": Numeral(-45, 1)}
"""Parameters of the property tests: 3.4, 2.50, 7, 0 and -4.5, each the smallest of a range."""


def scope(drawn: dict[str, Any]) -> dict[str, expressions.Value]:
    """Return what the names of *drawn* stand for, each in a range around its value."""
    found: dict[str, expressions.Value] = {}
    for name, value in drawn.items():
        if isinstance(value, str):
            found[name] = Wording(name, (value, "other"))
            continue
        low, high = value.coefficient, value.coefficient + 1
        unit = POWERS[value.places]
        size = max(abs(low), abs(high))
        places = str(value.places)
        found[name] = Amount(name, value.places, "", Fraction(low, unit), Fraction(high, unit), size, 1, places)
    return found


def run(part: Part, drawn: dict[str, Any]) -> Any:
    """Return the value of *part* by the compiled code.

    Raises:
        NoValue: as `walk`.
        ExpressionError: the compiler refuses it.
    """
    emitter = Emitter(scope(drawn))
    value = emitter.value(part)
    if isinstance(value, Amount):
        emitter.say(f"return {value.top}, {value.bottom or POWERS[value.scale]}")
    else:
        emitter.say(f"return {value.code}")
    function = emitter.function("made", ", ".join(drawn))
    try:
        found = function(*[one if isinstance(one, str) else one.coefficient for one in drawn.values()])
    except ArithmeticError:
        raise NoValue from None
    if isinstance(value, Verdict):
        assert isinstance(found, bool)
        assert value.known in (None, found), "what is settled before any draw must hold for this one"
        return found
    if isinstance(value, Amount):
        top, bottom = found
        assert bottom > 0
        exact = Fraction(top, bottom)
        assert value.low is None or value.low <= exact, "below its smallest value"
        assert value.high is None or exact <= value.high, "above its largest value"
        assert abs(top) <= value.size and (not value.bottom or bottom <= value.bottom_size)
        return exact
    return found


def outcome(function: Callable[[], Any]) -> Any:
    """Return what *function* returns, ``no value`` where it has none."""
    try:
        return function()
    except NoValue:
        return "no value"


LITERALS = st.builds(
    lambda coefficient, places: Literal(Numeral(coefficient, places), 0), st.integers(0, 1200), st.integers(0, 3)
)
NAMES = st.sampled_from(sorted(DRAWN)).map(lambda name: Name(name, 0))
SMALL = st.integers(0, 4).map(lambda number: Literal(Numeral(number), 0))
PLACES = st.sampled_from([Numeral(10), Numeral(1), Numeral(1, 1), Numeral(1, 2)]).map(lambda n: Literal(n, 0))


def _wider(inner: st.SearchStrategy[Part]) -> st.SearchStrategy[Part]:
    def call(word: str, *arguments: st.SearchStrategy[Part]) -> st.SearchStrategy[Part]:
        return st.tuples(*arguments).map(lambda given: Call(word, given, 0))

    one = [word for word in WORDS.values() if word.fewest == 1 and not isinstance_of_truth(word.name)]
    return st.one_of(
        st.builds(Negative, inner, st.just(0)),
        st.builds(Calculation, st.sampled_from(["+", "-", "*", "/", "//", "%"]), inner, inner, st.just(0)),
        st.builds(Calculation, st.just("**"), inner, SMALL, st.just(0)),
        st.sampled_from(one).flatmap(lambda word: call(word.name, inner)),
        st.sampled_from(["gcd", "lcm", "min", "max", "carries", "regroupings", "regroupings_at_zero"]).flatmap(
            lambda word: call(word, inner, inner)
        ),
        st.sampled_from(["min", "max", "carries"]).flatmap(lambda word: call(word, inner, inner, inner)),
        call("round", inner, SMALL), call("digit", inner, PLACES),
    )


def isinstance_of_truth(word: str) -> bool:
    """Whether a word of the language is true or false."""
    return word in ("divides", "terminates", "even", "odd")


NUMBERS: st.SearchStrategy[Part] = st.recursive(st.one_of(LITERALS, NAMES), _wider, max_leaves=6)
COMPARISONS = st.builds(
    lambda first, rest: Comparison(first, tuple(rest), 0), NUMBERS,
    st.lists(st.tuples(st.sampled_from(sorted(COMPARING)), NUMBERS), min_size=1, max_size=2),
)
TRUTHS: st.SearchStrategy[Part] = st.recursive(
    st.one_of(
        COMPARISONS,
        st.builds(lambda word, x: Call(word, (x,), 0), st.sampled_from(["terminates", "even", "odd"]), NUMBERS),
        st.builds(lambda x, y: Call("divides", (x, y), 0), NUMBERS, NUMBERS),
    ),
    lambda inner: st.one_of(
        st.builds(Not, inner, st.just(0)),
        st.builds(lambda word, parts: Logic(word, tuple(parts), 0), st.sampled_from(["and", "or"]),
                  st.lists(inner, min_size=2, max_size=3)),
    ),
    max_leaves=4,
)


def bare(part: Any) -> Any:
    """Return *part* without offsets, numerals as written, so that two readings can be compared."""
    if isinstance(part, Literal):
        return part.value.text()
    if isinstance(part, tuple):
        fields = part[:-1] if hasattr(part, "_fields") else part
        return (type(part).__name__, *map(bare, fields))
    return part


@settings(max_examples=400)
@given(NUMBERS)
def test_compiled_numbers_are_those_of_exact_fractions(part: Part) -> None:
    try:
        found = outcome(lambda: run(part, DRAWN))
    except ExpressionError as refused:
        assert refused.code in ("too-many-digits", "division-by-zero")
        assume(False)
    assert found == outcome(lambda: walk(part, DRAWN)), expressions.write(part)


@settings(max_examples=400)
@given(TRUTHS)
def test_compiled_truths_are_those_of_exact_fractions(part: Part) -> None:
    try:
        found = outcome(lambda: run(part, DRAWN))
    except ExpressionError as refused:
        assert refused.code in ("too-many-digits", "division-by-zero")
        assume(False)
    assert found == outcome(lambda: walk(part, DRAWN)), expressions.write(part)


@settings(max_examples=300)
@given(st.one_of(NUMBERS, TRUTHS))
def test_what_is_written_reads_back_as_the_same(part: Part) -> None:
    text = expressions.write(part)
    assume(len(text) <= 500)
    try:
        read = expressions.read(text)
    except ExpressionError as refused:
        assert refused.code in ("expression-too-long", "expression-too-deep")
        assume(False)
    assert bare(read) == bare(part)
    assert expressions.write(read) == text


@settings(max_examples=300)
@given(st.text("ab1.+-*/%()<>=!, \"'andort_é", max_size=30))
def test_any_text_is_read_or_refused_with_a_place(text: str) -> None:
    try:
        part = expressions.read(text)
    except ExpressionError as refused:
        assert 0 <= refused.at <= len(text) and refused.wrong
    else:
        assert bare(expressions.read(expressions.write(part))) == bare(part)


def _written_cases() -> list[tuple[str, dict[str, Any]]]:
    found = []
    for path in sorted(CASES.glob("*.yaml")):
        document = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        found += [(f"{path.stem}: {case['is']}", case) for case in document["cases"]]
    return found


@pytest.mark.parametrize(("name", "case"), _written_cases(), ids=lambda value: value if isinstance(value, str) else "")
def test_words_give_what_their_cases_say(name: str, case: dict[str, Any]) -> None:
    drawn = {key: Numeral.parse(value) for key, value in case.get("drawn", {}).items()}
    text, _, wanted = case["is"].rpartition(" = ")
    found = outcome(lambda: run(expressions.read(text), drawn))
    if wanted in ("yes", "no"):
        assert found is (wanted == "yes")
    elif wanted == "no value":
        assert found == wanted
    else:
        assert found == Numeral.parse(wanted).value


def test_every_word_has_cases_and_a_line_that_says_what_it_is() -> None:
    for word in WORDS.values():
        assert word.says.startswith(f"{word.name}(")
        assert any(f"{word.name}(" in name for name, _ in _written_cases()), word.name
    assert set(REFERENCE) == set(WORDS)


def test_words_of_a_list_are_compared_by_sameness() -> None:
    drawn = {"thing": "hose"}
    for text, wanted in (('thing == "hose"', True), ('thing != "other"', True), ('"other" == thing', False)):
        assert run(expressions.read(text), drawn) is wanted


def test_a_later_part_is_left_alone_where_an_earlier_one_settles_the_matter() -> None:
    for text in ("z != 0 and a / z > 1", "not (z == 0 or a / z > 1)", "z == 0 or terminates(a / z)"):
        assert run(expressions.read(text), DRAWN) is (not text.startswith(("z !=", "not")))


def test_code_holds_no_text_of_the_template() -> None:
    emitter = Emitter({"thing": Wording("p0", ("__import__('os')", "rope"))})
    verdict = emitter.truth(expressions.read("thing == \"__import__('os')\""))
    emitter.say(f"return {verdict.code}")
    assert "import" not in "\n".join(emitter.lines)
    assert emitter.function("made", "p0")("rope") is False


def test_long_calculations_stay_within_what_python_can_nest() -> None:
    part = expressions.read(" + ".join(["a"] * 100))
    assert run(part, DRAWN) == 340
