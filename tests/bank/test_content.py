"""The content that comes along: every template gives sound items from end to end, and the demo term is what it says."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from itertools import chain
from pathlib import Path

import pytest
from sweeps import sweep
from bank import checks, difficulty, locales, methods, mistakes
from bank.distractors import Wrong, wrong_answers
from bank.kinds import Maker, maker_for
from bank.checks.solution import written_answer
from bank.marking import earned_marks, most_marks
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, Expression, FindMistake, Item, Line, Locale, Numeral, Option, PutInOrder,
    TypedNumber,
)
from bank.plans import Plan, load_plan
from bank.sources import parse, read_file
from bank.templates import ChoiceWanted, Template, Values
from bank.topics import FOLDER, load_topics
from template_items import SEEDS, TEMPLATES, items_of

LOCALES = tuple(locales.load_locale(name) for name in ("en-point", "en-comma", "en-either"))
WEIGHTS = difficulty.load_weights()
PLANS = FOLDER.parent / "plans"
SAMPLE = 60
"""Kept draws looked at of each template, beside those at either end."""
LONGEST_SEARCH = 4000

STATED = frozenset((
    "US-CCSSM 4.MD.A.2", "US-CCSSM 4.NBT.B.4", "US-CCSSM 5.NBT.A.2", "US-CCSSM 5.NBT.A.3", "US-CCSSM 5.NBT.A.4",
    "US-CCSSM 5.NBT.B.5", "US-CCSSM 5.NBT.B.7", "US-CCSSM 6.NS.B.2", "US-CCSSM 6.NS.B.3",
    "ENG-NC-2014 Y4-AS-column", "ENG-NC-2014 Y4-FD-money", "ENG-NC-2014 Y5-FD-order", "ENG-NC-2014 Y5-FD-round",
    "ENG-NC-2014 Y5-FD-solve", "ENG-NC-2014 Y5-MD-p10", "ENG-NC-2014 Y5-ME-measure", "ENG-NC-2014 Y6-FD-div",
    "ENG-NC-2014 Y6-FD-mult", "ENG-NC-2014 Y6-FD-round", "ENG-NC-2014 Y6-OP-longmult",
    "AUS-V9 AC9M5N01", "AUS-V9 AC9M5N06", "AUS-V9 AC9M6N04", "AUS-V9 AC9M6N06", "AUS-V9 AC9M7N05",
    "AUS-V9 AC9M7N06",
))
"""Codes of the frameworks' statements that our topics may serve; those of England are our own handles."""

each_template = pytest.mark.parametrize("template", TEMPLATES, ids=lambda template: template.identifier)


@lru_cache(maxsize=1)
def demo() -> Plan:
    return load_plan(PLANS / "demo-term.yaml")


def kept(template: Template, indices: Iterator[int] | range, wanted: int) -> list[Values]:
    """Return the first *wanted* draws among *indices* that the template keeps."""
    found: list[Values] = []
    for _, index in zip(range(LONGEST_SEARCH * wanted), indices, strict=False):
        values = template.values_at(index)
        if template.check(values) < 0:
            found.append(values)
            if len(found) == wanted:
                break
    return found


def spread(size: int) -> Iterator[int]:
    """Yield indices below *size* from all over the space, the same ones every time."""
    place = 0
    while True:
        place = (place * 6_364_136_223_846_793_005 + 1_442_695_040_888_963_407) % 2**127
        yield (place >> 20) % size


def draws(template: Template) -> list[Values]:
    """Return the first and the last draw that *template* keeps, and draws in between."""
    size = template.space_size
    ends = kept(template, range(size), 1) + kept(template, range(size - 1, -1, -1), 1)
    return ends + kept(template, spread(size), SAMPLE)


def wrong_of(template: Template, operands: tuple[Numeral, ...], key: Numeral) -> list[Wrong]:
    known = mistakes.load()
    records = [known[name] for name in template.mistakes] or mistakes.of_operation(template.operation)
    options = mistakes.options_for(template.operation, template.layout, template.rounding)
    shown = mistakes.outcomes(records, operands, key, **options)
    return wrong_answers(shown, key, operands, places=template.places, as_written=template.operation == "round")


def choice_of(template: Template, operands: tuple[Numeral, ...], key: Numeral, wrong: list[Wrong]) -> Choice:
    """Return the options of the first wrong answers that come, or the numbers to compare."""
    if template.operation == "compare":
        names = {answer.numeral: answer.mistakes for answer in wrong}
        shown = [(operand, names.get(operand, ())) for operand in operands]
        order = "as-in-stem"
    else:
        shown = [(answer.numeral, answer.mistakes) for answer in wrong[: template.distractors]]
        shown = sorted([*shown, (key, ())], key=lambda pair: pair[0])
        order = "ascending"
    return Choice(order=order, options=tuple(
        Option(identifier="ABCDE"[place], numeral=numeral, is_key=numeral == key, mistakes=names)
        for place, (numeral, names) in enumerate(shown)
    ))


def item_of(template: Template, values: Values) -> Item | None:
    """Return an item of this draw, None where too few mistakes show on it."""
    maker = maker_for(template)
    if maker is not None:
        return further_item_of(template, maker, values)
    operands, key = template.operands(values), template.key(values)
    wrong = wrong_of(template, operands, key)
    offers = isinstance(template.response, ChoiceWanted)
    numbers = {answer.numeral for answer in wrong}
    if template.operation == "compare":
        if not all(operand == key or operand in numbers for operand in operands):
            return None
    elif len(wrong) < (template.distractors if offers else 2):
        return None
    trace = methods.run(template.operation, operands, layout=template.layout, places=template.rounding)
    features = difficulty.features(
        operands, trace, context=template.context, response="choice" if offers else "number"
    )
    response = choice_of(template, operands, key, wrong) if offers else TypedNumber(
        policy=template.policy, mistakes=tuple((answer.numeral, answer.mistakes) for answer in wrong)
    )
    return Item(
        identifier=f"{template.identifier}-v{template.version}-example", family=template.family,
        parameters=template.parameters_as_written(values), stem=template.stem(values), operands=operands, key=key,
        response=response,
        solution=methods.closed(trace, key, response, template.unit), features=features, prediction=difficulty.predict(features, WEIGHTS),
    )


def further_item_of(template: Template, maker: Maker, values: Values) -> Item | None:
    """Return an item of a further kind of this draw, None where no mistake shows on it."""
    made = maker.make(values, "", (template.identifier, values))
    if isinstance(made, str):
        return None
    features = difficulty.features_of_kind(
        made.operands, made.solution, context=template.context, response=made.response, weights=WEIGHTS)
    return Item(
        identifier=f"{template.identifier}-v{template.version}-example", family=template.family,
        parameters=template.parameters_as_written(values), stem=template.stem(values), operands=made.operands,
        key=made.key, response=made.response,
        solution=methods.closed(made.solution, made.key, made.response, template.unit), features=features,
        prediction=difficulty.predict(features, WEIGHTS),
    )


def numerals(stem: tuple[Line, ...]) -> Iterator[Numeral]:
    """Yield the numbers of a stem, calculations included."""
    for leaf in chain.from_iterable(stem):
        for part in leaf.parts if isinstance(leaf, Expression) else (leaf,):
            if isinstance(part, Numeral):
                yield part


@each_template
def test_items_from_the_first_to_the_last_draw_pass_every_check(template: Template) -> None:
    found = [item for values in draws(template) if (item := item_of(template, values))]
    assert len(found) >= SAMPLE // 10
    for item in found:
        assert item.solution.result == item.key
        for locale in LOCALES:
            errors = [one for one in checks.run_item_checks(item, locale) if one.severity == "error"]
            assert not errors, [(one.check, one.wrong) for one in errors]


@each_template
@pytest.mark.parametrize("seed", sweep(SEEDS, 3))
def test_what_a_solution_ends_with_earns_the_mark_written_as_it_stands_there(template: Template, seed: int) -> None:
    found = items_of(template, seed)
    assert found
    for item in found:
        for locale in LOCALES:
            assert not wrong_end(item, locale), (item.operands, item.solution.steps[-1])


def wrong_end(item: Item, locale: Locale) -> bool:
    """Return whether the last step of *item*'s solution, taken as its answer, does not earn all marks."""
    last, response = item.solution.steps[-1], item.response
    numbers = list(numerals((last,)))
    if isinstance(response, TypedNumber):
        return earned_marks(item, written_answer(last, locale, item.family.unit), locale) != 1
    if isinstance(response, FindMistake):
        typed = response.typed and written_answer(last, locale, item.family.unit)
        return earned_marks(item, (response.right, typed or ""), locale) != most_marks(response)
    if isinstance(response, Choice):
        return [one.identifier for one in response.options if one.numeral.same_writing(numbers[-1])] != [
            one.identifier for one in response.options if one.is_key]
    if isinstance(response, ChooseInLine):
        signs = [part for leaf in last if isinstance(leaf, Expression) for part in leaf.parts if part in ("<", "=", ">")]
        return [(sign,) for sign in signs] != [one.text for one in response.options if one.is_key]
    if isinstance(response, PutInOrder):
        order = [one.identifier for number in numbers for one in response.offers
                 if isinstance(one.text[0], Numeral) and one.text[0].same_writing(number)]  # fmt: skip
        return earned_marks(item, tuple(order), locale) != most_marks(response)
    texts = {one.text for one in (response.options if isinstance(response, ChooseSeveral) else response.sources)}
    wanted = {one.text for one in response.options if one.is_key} if isinstance(response, ChooseSeveral) else texts
    return {text for text in texts if contains(last, text)} != wanted


def contains(line: Line, part: Line) -> bool:
    """Return whether the leaves of *part* stand one after the other in *line*; words may have words beside them."""
    shown = ["|".join([leaf if isinstance(leaf, str) else repr(leaf) for leaf in one]) for one in (line, part)]
    return shown[1] in shown[0]


@each_template
def test_numbers_of_a_stem_end_with_a_zero_only_as_amounts_of_money_or_to_be_compared(template: Template) -> None:
    unit = template.unit
    if unit is not None and unit.before or template.layout == "relation":
        return  # amounts are written in full, and equal numbers in two writings are what a relation may ask about
    for values in draws(template):
        for number in numerals(template.stem(values)):
            assert not number.places or number.coefficient % 10, number


@each_template
def test_every_constraint_says_why(template: Template) -> None:
    assert all(constraint.because for constraint in template.constraints)
    assert template.radicals


@each_template
def test_stories_are_stories(template: Template) -> None:
    shows_calculation = any(
        isinstance(leaf, Expression) for values in draws(template)[:1] for line in template.stem(values) for leaf in line
    )
    assert not (template.context and shows_calculation)
    assert template.context or template.unit is None


@pytest.mark.parametrize("name", sorted(load_topics()))
def test_a_topic_serves_known_codes_and_says_how_each_was_checked(name: str) -> None:
    topic = load_topics()[name]
    assert topic.codes and set(topic.codes) <= STATED
    entries = parse(read_file(FOLDER / f"{name}.yaml")).entries
    note = " ".join(next(value.text for key, value in entries if key.text == "note").split())
    seen, _, recalled = note.partition("From memory")
    for code in topic.codes:
        assert (code in seen) != (code in recalled)


@pytest.mark.parametrize("path", sorted(PLANS.glob("*.yaml")), ids=lambda path: path.stem)
def test_plans_that_come_along_load_and_say_that_they_are_invented(path: Path) -> None:
    plan = load_plan(path)
    assert plan.invented
    assert "nvented" in plan.rights


def test_the_demo_term_has_weeks_and_items_enough() -> None:
    plan = demo()
    assert len(plan.weeks) >= 12
    assert [week.number for week in plan.weeks] == list(range(1, len(plan.weeks) + 1))
    assert sum(line.items for quiz in plan.quizzes for line in quiz.lines) >= 360
    assert sum(line.items for line in plan.pool) >= 20
    for quiz in plan.quizzes:
        assert 12 <= sum(line.items for line in quiz.lines) <= 20, quiz.identifier


def test_the_demo_term_draws_every_operation_chosen_and_typed() -> None:
    plan = demo()
    drawn = {template for line in plan.lines for template in line.fitting(plan.templates)}
    assert len(drawn) >= 26
    for operation in ("add", "subtract", "multiply", "divide"):
        of_it = [template for template in drawn if template.operation == operation]
        assert {template.context for template in of_it} == {True, False}
        assert {isinstance(template.response, ChoiceWanted) for template in of_it} == {True, False}
    assert {template.operation for template in drawn} == {
        "add", "subtract", "multiply", "divide", "compare", "round", "evaluate"}
    assert {template.layout for template in drawn} >= {
        "decomposition", "equal-additions", "largest", "smallest", "ascending", "descending", "relation"}
    assert {template.kind for template in drawn} >= {
        "choice", "number", "choose-several", "put-in-order", "match-pairs", "choose-in-line"}
    assert {template.policy for template in drawn} == {"", "value", "places", "exact", "unit"}


def test_the_demo_term_uses_its_quizzes_in_three_ways() -> None:
    plan = demo()
    by_use = {use: [quiz for quiz in plan.quizzes if quiz.use == use] for use in ("practice", "diagnosis", "graded")}
    assert len(by_use["practice"]) > len(by_use["diagnosis"]) + len(by_use["graded"])
    assert len(by_use["diagnosis"]) >= 2 and len(by_use["graded"]) >= 2
    for quiz in by_use["diagnosis"]:
        assert all(line.mistake and line.items >= 3 for line in quiz.lines)
    for quiz in by_use["graded"]:
        assert quiz.minutes and not quiz.show_feedback
        families = Counter(line.template for line in quiz.lines)
        assert set(families.values()) == {1} and all(line.items == 1 for line in quiz.lines)
    assert any(line.band for line in plan.lines)


def test_topics_of_the_demo_term_return_and_mix() -> None:
    plan = demo()
    topic_of = {template.identifier: template.topic for template in plan.templates}
    weeks: dict[str, set[int]] = {}
    mixed = 0
    for quiz in plan.quizzes:
        topics = {line.topic or topic_of[line.template] for line in quiz.lines}
        mixed += len(topics) >= 3
        for topic in topics:
            weeks.setdefault(topic, set()).add(quiz.week)
    assert mixed >= 8
    returning = [topic for topic, found in weeks.items() if max(found) - min(found) >= 2]
    assert len(returning) >= 8
