"""Every check passes what is right, finds what is wrong, says what to change, and names its source."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import items
import kept_kinds
import pytest
import strategies
import yaml
from bank import checks, mistakes
from bank.model import Choice, FindMistake, Finding, Item, Quiz
from bank.numerals import Numeral
from hypothesis import given, settings
from hypothesis import strategies as st

FOLDER = Path(__file__).parent / "cases"
CASES = {path.stem: yaml.safe_load(path.read_text(encoding="utf-8")) for path in sorted(FOLDER.glob("*.yaml"))}
CHECKS = checks.load()
PASSES = [(name, case) for name, said in CASES.items() for case in said["passes"]]
FAILS = [(name, case) for name, said in CASES.items() for case in said["fails"]]
BY_SIZE = {"error": 0, "warning": 1, "report": 2}


def with_real_mistakes(value: Any) -> Any:
    """Put an id of the library where a case says A_MISTAKE_OF_ADD, so that cases do not name members."""
    if isinstance(value, dict):
        return {name: with_real_mistakes(one) for name, one in value.items()}
    if isinstance(value, list):
        return [with_real_mistakes(one) for one in value]
    return mistakes.of_operation("add")[0].identifier if value == "A_MISTAKE_OF_ADD" else value


def further(said: dict[str, Any]) -> Item:
    """Return one of the hand-made items of a further kind, changed as a case says.

    ``offers`` gives fields of offers by identifier; ``response``, ``numbers`` and ``fields`` replace fields.
    """
    made: Item = getattr(kept_kinds, said["further"])
    response = made.response
    for name in ("options", "offers", "sources", "targets", "steps"):
        kept = getattr(response, name, None)
        if kept is not None:
            changed = [replace(one, **_offer_fields(said.get("offers", {}).get(one.identifier, {}))) for one in kept]
            response = replace(response, **{name: tuple(changed)})
    response = replace(response, **{name: _tuples(one) for name, one in said.get("response", {}).items()})
    if isinstance(response, FindMistake):
        response = changed_working(response, said)
    numbers = {name: Numeral.parse(one) for name, one in said.get("numbers", {}).items()}
    if "stem" in said:
        made = replace(made, stem=items.lines(said["stem"]))
    if "steps" in said:
        made = replace(made, solution=made.solution._replace(steps=items.lines(said["steps"])))
    return replace(made, identifier="item-1", response=response, **numbers)


def changed_working(response: FindMistake, said: dict[str, Any]) -> FindMistake:
    """Return the response with the working that a case says: ``working`` gives fields, ``working_steps`` steps by
    identifier, ``first_steps`` how many are kept.
    """
    working = response.working
    for name, one in said.get("working", {}).items():
        if name == "result":
            one = Numeral.parse(one)
        elif name == "operands":
            one = tuple(Numeral.parse(part) for part in one)
        working = working._replace(**{name: _tuples(one)})
    changed = said.get("working_steps", {})
    if not changed and "first_steps" not in said:
        return replace(response, working=working)
    steps = tuple(
        replace(one, text=items.line(changed[one.identifier])) if one.identifier in changed else one
        for one in response.steps[: said.get("first_steps")]
    )
    return replace(response, steps=steps, working=working._replace(steps=tuple(one.text for one in steps)))


def _offer_fields(said: dict[str, Any]) -> dict[str, Any]:
    made: dict[str, Any] = {}
    for name, one in said.items():
        if name == "text":
            made[name] = kept_kinds.offer("X", one).text
        elif name == "value":
            made[name] = Numeral.parse(one)
        else:
            made[name] = _tuples(one)
    return made


def _tuples(value: Any) -> Any:
    return tuple(_tuples(one) for one in value) if isinstance(value, list) else value


def described(said: dict[str, Any], **more: Any) -> Item:
    """Return the item that a case describes; the locale's parts are not the item's."""
    if "further" in said:
        return further(said)
    fields = {name: one for name, one in with_real_mistakes(said).items()
              if name not in ("locale", "language", "decimal_mark")}
    other = fields.pop("solution_of", None)
    steps, width = fields.pop("solution_steps", None), fields.pop("solution_width", None)
    made = items.item(**fields, **more)
    trace = items.item(**other).solution if other else made.solution
    if steps is not None:
        trace = trace._replace(steps=items.lines(steps))
    if width is not None:
        trace = trace._replace(width=width)
    return replace(made, solution=trace)


def asked_of_item(said: dict[str, Any]) -> list[Finding]:
    locale = items.LOCALES[said.get("locale", "en-point")]
    changed = {name: said[name] for name in ("language", "decimal_mark") if name in said}
    if changed:
        locale = replace(locale, identifier="changed", **changed)
    return checks.run_item_checks(described(said), locale)


def keys_at(positions: str, longest: str = "") -> tuple[Quiz, dict[str, Item]]:
    """Return a quiz of sums whose keys stand at *positions*; only option *longest* has more digits than the rest."""
    found = {}
    for number, letter in enumerate(positions):
        place, tens = "ABCD".index(letter), 20 + number
        offered = [{"number": f"{tens + index - place}.4", "mistakes": [] if index == place else ["add.invented"]}
                   for index in range(4)]
        if longest:
            offered["ABCD".index(longest)]["number"] += "5"
        key = offered[place]["number"]
        found[f"k{number}"] = items.item(operands=(str(tens), "0.4"), key=key, offered=offered, identifier=f"k{number}")
    return items.quiz(list(found)), found


def asked_of_quiz(said: dict[str, Any]) -> list[Finding]:
    if "keys" in said:
        quiz, known = keys_at(said["keys"], said.get("longest", ""))
    else:
        known = {
            name: replace(further(one), identifier=name) if "further" in one else described(one, identifier=name)
            for name, one in said["items"].items()
        }
        fields = dict(said["quiz"])
        quiz = items.quiz(fields.pop("items", []), **fields)
    return checks.run_quiz_checks(quiz, known)


def asked(name: str, case: dict[str, Any]) -> list[Finding]:
    found = asked_of_quiz(case) if CHECKS[name].about == "quiz" else asked_of_item(case)
    return [finding for finding in found if finding.check == name]


@pytest.mark.parametrize(("name", "case"), PASSES, ids=lambda one: one if isinstance(one, str) else "")
def test_a_check_has_nothing_to_say_of_what_is_right(name: str, case: dict[str, Any]) -> None:
    assert asked(name, case) == []


@pytest.mark.parametrize(("name", "case"), FAILS, ids=lambda one: one if isinstance(one, str) else "")
def test_a_check_finds_what_is_wrong(name: str, case: dict[str, Any]) -> None:
    found = asked(name, case if CHECKS[name].about == "quiz" else case["item"])
    assert found
    assert any(case.get("says", "") in finding.wrong for finding in found), [finding.wrong for finding in found]
    for finding in found:
        assert finding.severity == CHECKS[name].severity
        assert finding.wrong and finding.remedy
        assert finding.item == case.get("of", "quiz-1" if CHECKS[name].about == "quiz" else "item-1")


AGAIN = CASES["mistake-gives-the-answer"]


@pytest.mark.parametrize("case", [*AGAIN["passes"], *[case["item"] for case in AGAIN["fails"]]], ids=str)
def test_what_mistakes_gave_a_moment_ago_is_judged_as_what_they_give_now(case: dict[str, Any]) -> None:
    made = described(case)
    made = replace(made, operands=tuple(list(made.operands)))  # other objects than those it was made with
    family, key = made.family, made.key
    options = mistakes.options_for(family.operation, family.layout, family.rounding)
    now = checks.run_item_checks(made, items.LOCALES["en-point"])
    assert mistakes.just_made(made.operands, options) == ({}, [])
    mistakes.outcomes(mistakes.of_operation(family.operation), made.operands, key, **options)
    places, answers = mistakes.just_made(made.operands, options)
    assert len(places) == len(answers) > 0
    assert checks.run_item_checks(made, items.LOCALES["en-point"]) == now
    assert mistakes.just_made(tuple(list(made.operands)), options) == ({}, [])


def test_every_check_has_a_case_file_and_every_case_file_a_check() -> None:
    assert set(CASES) == set(CHECKS)
    for name, said in CASES.items():
        assert said["check"] == name
        assert said["passes"] and said["fails"], name


def test_every_check_says_what_it_demands_why_and_on_whose_word() -> None:
    for record in CHECKS.values():
        assert record.rule and record.why.endswith(".") and record.source
        assert record.severity in checks.SEVERITIES and record.about in checks.ASKED


@pytest.mark.parametrize("item", kept_kinds.ITEMS, ids=lambda item: item.family.template)
def test_a_hand_made_item_of_a_further_kind_has_nothing_wrong_in_what_is_right(item: Item) -> None:
    found = {finding.check for finding in checks.run_item_checks(item, items.POINT) if finding.severity == "error"}
    assert not {name for name in found if CHECKS[name].about in ("every", "further")}


@pytest.mark.parametrize("operation", ["add", "subtract", "multiply", "divide", "compare", "round"])
@pytest.mark.parametrize("typed", [False, True])
def test_a_plain_item_has_no_error(operation: str, typed: bool) -> None:
    found = checks.run_item_checks(items.item(operation, typed=typed), items.POINT)
    assert [finding for finding in found if finding.severity == "error"] == []


def test_a_finding_is_told_with_rule_item_fault_reason_and_remedy() -> None:
    finding = next(one for one in checks.run_item_checks(items.item(key="17.25"), items.POINT)
                   if one.check == "key-found-again")
    told = checks.describe(finding)
    record = CHECKS["key-found-again"]
    for part in ("item-1", "error", record.rule, finding.wrong, finding.remedy, record.why, record.source):
        assert part in told


def test_a_wording_is_asked_once_and_answers_for_its_siblings_alone() -> None:
    kind = items.family()
    untidy = ["Work out  [4.75 + 12.6]."]
    tidy = ["Work out [4.75 + 12.6]."]
    for stem, wrong in ((untidy, True), (tidy, False), (untidy, True), (tidy, False)):
        found = checks.run_item_checks(items.item(stem=stem, of=kind), items.POINT)
        assert ("tidy-text" in {finding.check for finding in found}) == wrong


def test_the_same_words_are_judged_anew_for_another_family_and_another_locale() -> None:
    stem = ["Add 0,1 to the sum [4.75 + 12.6]."]
    item = items.item(stem=stem)
    marks = [{finding.check for finding in checks.run_item_checks(item, locale)}
             for locale in (items.POINT, items.COMMA)]
    assert ["one-decimal-mark" in found for found in marks] == [True, False]
    needs = items.item(stem=stem, of={"unit": "kg"})
    assert "unit-in-the-stem" in {finding.check for finding in checks.run_item_checks(needs, items.POINT)}


def test_a_swapped_key_never_passes() -> None:
    for operation in ("add", "subtract", "multiply", "divide"):
        item = items.item(operation)
        assert isinstance(item.response, Choice)
        for option in item.response.options:
            if not option.is_key:
                swapped = replace(item, key=option.numeral)
                found = {one.check for one in checks.run_item_checks(swapped, items.POINT) if one.severity == "error"}
                assert {"key-found-again", "one-right-option", "solution-gives-the-key"} <= found


def test_words_that_hold_control_characters_do_not_pass_for_numbers() -> None:
    plain = items.item(stem=["Work out [4.75 + 12.6]."])
    hostile = replace(plain, stem=(("Work out \x00", *plain.stem[0][1:]),))
    checks.run_item_checks(plain, items.POINT)
    assert "plain-characters" in {one.check for one in checks.run_item_checks(hostile, items.POINT)}


def test_the_bound_on_key_positions_is_the_exact_binomial_one() -> None:
    forms = next(record for record in CHECKS.values() if record.identifier == "keys-spread-over-positions").body
    most = forms.__globals__["most_by_chance"]
    assert most(4, 2, 1) == 4
    assert most(10, 2, 1) == 9
    assert most(12, 4, 4) == 8
    assert most(0, 4, 4) == 0


CALCULATIONS = {
    "add": strategies.addends(), "subtract": strategies.minuend_and_subtrahend(), "multiply": strategies.factors(),
    "divide": strategies.dividend_and_divisor(), "compare": strategies.near_numerals(),
    "round": st.tuples(strategies.numerals()),
}


@settings(max_examples=60)
@pytest.mark.parametrize("operation", sorted(CALCULATIONS))
@given(data=st.data(), places=st.integers(0, 3))
def test_the_second_way_confirms_every_key_of_a_written_method(
    operation: str, data: st.DataObject, places: int
) -> None:
    numbers = data.draw(CALCULATIONS[operation])
    made = items.item(operation, operands=[number.text() for number in numbers], typed=True, typed_mistakes=[],
                      of={"rounding": places if operation == "round" else None})
    found = {finding.check for finding in checks.run_item_checks(made, items.POINT)}
    assert not {"key-found-again", "solution-gives-the-key"} & found


@settings(max_examples=100)
@given(strategies.any_dividend_and_divisor(), st.integers(0, 3))
def test_the_second_way_confirms_every_rounded_quotient_and_no_neighbour(
    numbers: tuple[Numeral, Numeral], places: int
) -> None:
    made = items.item("divide", operands=[number.text() for number in numbers], typed=True, typed_mistakes=[],
                      of={"rounding": places})
    for unit, confirmed in ((0, True), (1, False), (-1, False)):
        key = made.key.with_places(places) + Numeral(unit, places)
        if key.coefficient >= 0:
            found = {one.check for one in checks.run_item_checks(replace(made, key=key), items.POINT)}
            assert ("key-found-again" not in found) == confirmed
