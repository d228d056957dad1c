"""Items of the further kinds, made from templates of a few lines: what is right, what is wrong, what lots settle."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from bank import checks, difficulty
from bank.chance import Shuffle
from bank.checks.kinds import exact
from bank.errors import BadInput
from bank.guesses import STRATEGIES, UNIT, blind, looks, units_of_several
from bank.kinds import Made, Maker, maker_for
from bank.kinds.choose_in_line import SIGNS, InLine
from bank.model import ChooseInLine, ChooseSeveral, Locale, MatchPairs, Numeral, PutInOrder
from bank.templates import Template, built_in, load_template, load_templates
from template_items import TEMPLATES

FURTHER = [one for one in TEMPLATES if one.kind not in ("choice", "number", "find-mistake")]
every_template = pytest.mark.parametrize("template", FURTHER, ids=lambda template: template.identifier)
WEIGHTS = difficulty.load_weights()
POINT = Locale(identifier="en-point", language="en")

_HEAD = """template: lengths
version: 1
title: Lengths of twine
topic: decimal-comparison
parameters:
  {parameters}
operation: {operation}
{lines}
"""


def template(folder: Path, operation: str, parameters: str, *lines: str) -> Template:
    """Return the template that these lines make."""
    path = folder / "made.yaml"
    path.write_text(_HEAD.format(parameters=parameters, operation=operation, lines="\n".join(lines)), encoding="utf-8")
    return load_template(path)


def made_of(one: Template, count: int = 40) -> Iterator[tuple[Maker, Made]]:
    """Give what the first draws of a template make."""
    maker = maker_for(one)
    assert maker is not None
    found = 0
    order = Shuffle(one.space_size, "tried")
    for number in range(min(4000, one.space_size)):
        values = one.values_at(order[number])
        if one.check(values) < 0:
            made = maker.make(values, "", (1, one.identifier, number))
            if isinstance(made, Made):
                yield maker, made
                found += 1
                if found == count:
                    return


def test_the_usual_kinds_have_no_maker() -> None:
    usual = [one for one in load_templates(built_in()[:6]) if one.kind in ("choice", "number")]
    assert usual and all(maker_for(one) is None for one in usual)


def test_each_kind_has_at_least_two_templates() -> None:
    counts = Counter(one.kind for one in FURTHER)
    assert set(counts) == {"choose-several", "put-in-order", "match-pairs", "choose-in-line"}
    assert min(counts.values()) >= 2


@every_template
def test_exact_and_written_ways_agree_on_every_draw_tried(template: Template) -> None:
    found = 0
    for _, made in made_of(template):
        found += 1
        assert made.solution.result == made.key
        assert made.mistakes and set(made.mistakes) <= set(made.possible)
        response = made.response
        if isinstance(response, ChooseSeveral):
            for option in response.options:
                worth = exact(option.text)
                assert option.value is not None and option.value.value == (option.value.value if worth is None else worth)
                assert option.is_key == (option.value == made.key)
        elif isinstance(response, PutInOrder):
            values = {offer.identifier: offer.value for offer in response.offers}
            standing = [values[name] for name in response.right]
            assert standing == sorted(values.values(), reverse=response.direction == "descending")  # type: ignore[type-var]
        elif isinstance(response, MatchPairs):
            targets = {target.identifier: target.value for target in response.targets}
            for (_, target), source in zip(response.pairs, response.sources, strict=True):
                assert targets[target] == source.value and source.value.value == exact(source.text)  # type: ignore[union-attr]
    assert found >= 20


@every_template
def test_a_draw_made_again_gives_the_same(template: Template) -> None:
    first = [made._replace(work=None) for _, made in made_of(template, 10)]  # type: ignore[arg-type]
    assert first == [made._replace(work=None) for _, made in made_of(template, 10)]  # type: ignore[arg-type]


@every_template
def test_features_begin_with_an_operation_and_name_the_kind(template: Template) -> None:
    for _, made in made_of(template, 8):
        found = difficulty.features_of_kind(
            made.operands, made.solution, context=False, response=made.response, weights=WEIGHTS)
        assert found[0][0].startswith("operation-") and found[0][0] != "operation-evaluate"
        assert template.kind.replace("-", "_") in dict(found)
        assert difficulty.predict(found, WEIGHTS).band in difficulty.BANDS


@every_template
def test_the_mistake_that_a_plan_asks_for_is_there(template: Template) -> None:
    maker = maker_for(template)
    assert maker is not None
    asked = Counter(name for _, made in made_of(template, 25) for name in made.possible).most_common(3)
    for name, _ in asked:
        met = 0
        order = Shuffle(template.space_size, "tried")
        for number in range(min(300, template.space_size)):
            values = template.values_at(order[number])
            if template.check(values) < 0:
                made = maker.make(values, name, (2, number))
                met += isinstance(made, Made) and name in made.mistakes
        assert met >= 5, name


def test_right_options_stand_at_every_place() -> None:
    template = next(one for one in FURTHER if one.identifier == "same-difference")
    places: Counter[int] = Counter()
    counts: Counter[int] = Counter()
    for maker, made in made_of(template, 120):
        assert isinstance(made.response, ChooseSeveral) and maker.accepts(made, (1,), patient=True)
        right = [at for at, option in enumerate(made.response.options) if option.is_key]
        places.update(right)
        counts[len(right)] += 1
    assert set(places) == set(range(6)) and min(places.values()) * 3 > max(places.values())
    assert set(counts) == {2, 3}, "how many are right is settled by lot, and never more than half where each counts"


def test_guessers_by_looks_earn_little_more_than_chance_on_several() -> None:
    for template in [one for one in FURTHER if one.kind == "choose-several"]:
        earned, chance, items = [0] * len(STRATEGIES["choose-several"]), 0, 0
        for maker, made in made_of(template, 60):
            response = made.response
            assert isinstance(response, ChooseSeveral) and maker.accepts(made, (1,), patient=True)
            looked = [len(looks(one.text)) for one in response.options]
            numbers = [len(one.text) == 1 and isinstance(one.text[0], Numeral) for one in response.options]
            units = units_of_several(looked, numbers, [one.is_key for one in response.options], response.credit)
            earned = [one + more for one, more in zip(earned, units, strict=True)]
            chance += int(UNIT * blind(response))
            items += 1
        assert max(earned) <= chance + 10 * UNIT, (template.identifier, earned, chance)


def test_the_order_first_shown_is_none_that_anyone_would_give() -> None:
    template = next(one for one in FURTHER if one.identifier == "order-ragged")
    seen: Counter[tuple[int, ...]] = Counter()
    for _, made in made_of(template, 80):
        response = made.response
        assert isinstance(response, PutInOrder)
        shown = tuple(offer.identifier for offer in response.offers)
        assert shown not in (response.right, response.right[::-1], *[order for order, _ in response.mistakes])
        seen[tuple(shown.index(name) for name in response.right)] += 1
    assert len(seen) > 12, "many different orders are shown"


def test_signs_come_as_often_as_lots_fall_whatever_the_draws_give() -> None:
    template = next(one for one in FURTHER if one.identifier == "which-sign")
    maker = InLine(template)
    taken: Counter[str] = Counter()
    offered: Counter[str] = Counter()
    order = Shuffle(template.space_size, "tried")
    for number in range(6000):
        values = template.values_at(order[number])
        made = maker.make(values, "", (1, number)) if template.check(values) < 0 else ""
        if isinstance(made, Made):
            assert isinstance(made.response, ChooseInLine)
            sign = next(SIGNS[at] for at, option in enumerate(made.response.options) if option.is_key)
            offered[sign] += 1
            taken[sign] += maker.accepts(made, (1, "which-sign", 0), patient=True)
        if sum(taken.values()) == 150:
            break
    assert offered["="] * 5 < offered["<"] + offered[">"]
    assert all(35 <= taken[sign] <= 65 for sign in SIGNS), taken


def test_a_draw_that_nobody_waits_for_is_taken_whatever_its_sign() -> None:
    template = next(one for one in FURTHER if one.identifier == "which-sign")
    maker = InLine(template)
    for _, made in made_of(template, 10):
        assert maker.accepts(made, (1,), patient=False)


def test_values_left_over_come_from_the_mistakes_that_the_template_names() -> None:
    template = next(one for one in FURTHER if one.identifier == "match-products")
    for _, made in made_of(template):
        response = made.response
        assert isinstance(response, MatchPairs)
        used = {target for _, target in response.pairs}
        spare = [target for target in response.targets if target.identifier not in used]
        assert len(spare) == 1 and spare[0].mistakes and set(spare[0].mistakes) <= set(template.mistakes)
        values = [target.value for target in response.targets]
        assert values == sorted(values) and len(set(values)) == len(values)  # type: ignore[type-var]


def test_what_the_written_methods_cannot_carry_out_is_not_offered(tmp_path: Path) -> None:
    one = template(
        tmp_path, "evaluate", "a: {from: 2.5, to: 6.5, step: 0.1}\n  b: {from: 3.15, to: 4.95, step: 0.1}\n"
        "  more: {derive: a + b}",
        "key: a + b", "stem: Which are worth {{ a }} plus {{ b }}?",
        "response: {choose-several: {options: 4, right: [b + a, more, a + b], wrong: [a - b, more + b, "
        "{of: [a, b], mistake: add.carry-forgotten}, {of: [a, b], mistake: add.lined-up-on-the-right}]}}",
    )
    seen = 0
    for _, made in made_of(one, 60):
        assert isinstance(made.response, ChooseSeveral)
        assert all(option.value is not None and option.value.coefficient >= 0 for option in made.response.options)
        seen += 1
    assert seen > 20


def test_a_right_one_that_only_some_draws_make_wrong_stops_the_build(tmp_path: Path) -> None:
    one = template(
        tmp_path, "evaluate", "a: {whole: [1, 40000]}\n  b: {derive: a - a // 39999}",
        "key: 2 * a", "stem: Which are worth two times {{ a }}?",
        "response: {choose-several: {options: 4, right: [a + a, a + b, 2 * a], wrong: [a * a, "
        "{of: [a, a], mistake: add.carry-forgotten}, {of: [a, a], mistake: add.one-step-too-few}]}}",
    )
    maker = maker_for(one)
    assert maker is not None
    with pytest.raises(BadInput) as caught:
        for values in ((40000,), (39999,)):
            maker.make(values, "", (1,))
    problem = caught.value.problems[0]
    assert problem.code == "offer-differs" and "a = 39999" in problem.wrong or "a = 40000" in problem.wrong


def test_numbers_on_which_no_mistake_shows_are_refused(tmp_path: Path) -> None:
    one = template(
        tmp_path, "compare", "a: {list: [1.1]}\n  b: {list: [1.2]}\n  c: {list: [1.3]}", "operands: [a, b, c]",
        "mistakes: [compare.more-digits-wins, compare.wrong-end]", "stem: Put the lengths in order.", "response: put-in-order",
    )
    maker = maker_for(one)
    assert maker is not None and maker.make(one.values_at(0), "", (1,)) == "no documented mistake gives a wrong order"


def asked(made: Made, one: Template, **fields: Any) -> set[str]:
    from bank.model import Item, Prediction

    item = Item(
        identifier="lengths-v1-x", family=one.family, parameters=(), stem=one.stem(one.values_at(0)),
        operands=made.operands, key=made.key, response=made.response, solution=made.solution, features=(),
        prediction=Prediction(band="middle", score=0, low_share=1, high_share=2),
    )
    return {finding.check for finding in checks.run_item_checks(item, POINT) if finding.severity == "error"}


def test_an_equal_pair_and_a_sign_between_them(tmp_path: Path) -> None:
    one = template(
        tmp_path, "compare", "a: {list: [0.5]}\n  b: {list: [0.50]}", "operands: [a, b]",
        "stem: Which sign belongs in the gap of {{ work }}?", "response: choose-in-line",
    )
    maker = maker_for(one)
    assert maker is not None
    made = maker.make(one.values_at(0), "", (1,))
    assert isinstance(made, Made) and isinstance(made.response, ChooseInLine)
    assert [option.is_key for option in made.response.options] == [False, True, False]
    assert "compare.more-digits-wins" in made.response.options[0].mistakes
    assert "compare.fewer-places-wins" in made.response.options[2].mistakes
    assert made.key == Numeral(5, 1) and not asked(made, one)
