"""What guessing earns on the further kinds: blind by listing every answer, strategies by what they would answer."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from itertools import chain, combinations, permutations
from typing import Any

import kept_kinds
import pytest
from items import POINT

from bank import guessing
from bank.guesses import STRATEGIES, UNIT, blind, looks, units_of, units_of_several
from bank.marking import earned_marks, most_marks
from bank.model import ChooseSeveral, Item
from bank.numerals import Numeral
from bank.store import KINDS, kind_of
from bank.summary import BuildSummary, from_json, to_json


def every_answer(item: Item) -> list[Any]:
    """Return every answer that a blind guess can be."""
    response: Any = item.response
    kind = kind_of(response)
    if kind == "choose-several":
        names = [one.identifier for one in response.options]
        return list(chain.from_iterable(combinations(names, size) for size in range(1, len(names) + 1)))
    if kind == "put-in-order":
        return list(permutations([one.identifier for one in response.offers]))
    if kind == "match-pairs":
        sources = [one.identifier for one in response.sources]
        targets = [one.identifier for one in response.targets]
        return [[f"{one} {other}" for one, other in zip(sources, some, strict=True)]
                for some in permutations(targets, len(sources))]
    if kind == "choose-in-line":
        return [one.identifier for one in response.options]
    return [[one.identifier, ""] for one in response.steps]


def with_credit(item: Item, credit: str) -> Item:
    return replace(item, response=replace(item.response, credit=credit))  # type: ignore[type-var]


ITEMS = [
    *kept_kinds.ITEMS, with_credit(kept_kinds.SEVERAL, "all"), with_credit(kept_kinds.ORDER, "all"),
    with_credit(kept_kinds.ORDER_DOWN, "places"), with_credit(kept_kinds.PAIRS, "all"), with_credit(kept_kinds.FIND, "all"),
]
each_item = pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.family.template)


@each_item
def test_a_blind_guess_earns_the_mean_over_all_answers(item: Item) -> None:
    answers = every_answer(item)
    marks = [Fraction(earned_marks(item, answer, POINT), most_marks(item.response)) for answer in answers]
    assert blind(item.response) == Fraction(sum(marks), len(marks))


@each_item
def test_strategies_give_answers_that_can_be_given(item: Item) -> None:
    possible = [set(answer) if not isinstance(answer, str) else {answer} for answer in every_answer(item)]
    for name, strategy in STRATEGIES[kind_of(item.response)].items():
        answer = strategy(item.response, item.stem)
        given = {answer} if isinstance(answer, str) else set(answer)
        assert not given or given in possible, name


def test_every_kind_has_strategies_and_their_units_divide_every_mark() -> None:
    assert set(STRATEGIES) == set(KINDS)
    assert all(UNIT % parts == 0 for parts in range(1, 7))


def named(item: Item) -> dict[str, int]:
    kind = kind_of(item.response)
    return dict(zip(STRATEGIES[kind], units_of(item, kind, POINT), strict=True))


def test_strategies_earn_what_their_answers_are_worth() -> None:
    assert named(kept_kinds.SEVERAL) == {
        "everything": UNIT // 2, "numbers": UNIT // 4, "calculations": UNIT // 4, "the-longer-half": 0,
        "the-shorter-half": UNIT // 2}
    assert named(kept_kinds.LINE) == {
        "less": 0, "equal": UNIT, "greater": 0, "longer-is-larger": 0, "shorter-is-larger": 0}
    assert named(kept_kinds.LINE_OF_SUMS)["shorter-is-larger"] == UNIT
    assert named(kept_kinds.ORDER)["turned-round"] == 0 and named(kept_kinds.ORDER)["as-shown"] == 0
    assert named(kept_kinds.PAIRS) == {"straight-across": UNIT, "crosswise": 0, "long-with-long": UNIT // 3}
    assert named(kept_kinds.FIND) == {"first-step": 0, "middle-step": 0, "last-step": 0}


@pytest.mark.parametrize("credit", ["all", "each"])
def test_units_of_several_from_looks_are_the_marks_of_what_strategies_answer(credit: str) -> None:
    for keys in ("110010", "010011", "000110", "111000"):
        options = tuple([replace(one, is_key=key == "1") for one, key in
                         zip(kept_kinds.SEVERAL.response.options, keys, strict=True)])  # type: ignore[union-attr]
        item = replace(kept_kinds.SEVERAL, response=ChooseSeveral(options=options, credit=credit))
        numbers = [len(one.text) == 1 and isinstance(one.text[0], Numeral) for one in options]
        found = units_of_several(
            [len(looks(one.text)) for one in options], numbers, [one.is_key for one in options], credit)
        assert found == units_of(item, "choose-several", POINT)


def test_a_tally_adds_up_and_finds_a_strategy_that_beats_chance() -> None:
    tally = guessing.Tally("choose-in-line")
    assert tally.results() == []
    packed = guessing.earned(kept_kinds.LINE, "choose-in-line", POINT)
    assert len(packed) == guessing.size_of("choose-in-line") and guessing.size_of("choice") == 0
    for _ in range(30):
        tally.add(packed)
    found = {result.strategy: result for result in tally.results()}
    assert found["equal"].over and not found["less"].over
    assert found["equal"].earned_thousandths == 30_000 and found["equal"].items == 30
    assert 9_990 <= found["equal"].blind_thousandths <= 10_000 < found["equal"].bound_thousandths < 30_000


def test_what_guessing_earns_is_kept_with_the_summary_and_may_be_missing_from_an_older_one() -> None:
    tally = guessing.Tally("choose-in-line")
    tally.add(guessing.earned(kept_kinds.LINE, "choose-in-line", POINT))
    summary = BuildSummary(guessing=tuple(tally.results()))
    assert from_json(to_json(summary)) == summary
    older = to_json(BuildSummary()).replace(',"guessing":[]', "")
    assert "guessing" not in older and from_json(older) == BuildSummary()
