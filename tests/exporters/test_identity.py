"""One identifier, one question: over seeds, plans, locales, quizzes and targets, as read back from the files."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, replace
from pathlib import Path

import identities
import items
import kept_kinds
import pytest
from identities import Case, Seen
from sweeps import sweep

from bank import difficulty
from bank.identity import identifier_of
from bank.model import Choice, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber
from bank.numerals import Numeral

NARROW = ("three wrong options", "two wrong options, no feedback")


@pytest.fixture(scope="module", params=sweep((2, 4), 2), ids=lambda seeds: f"{seeds} seeds")
def seen(tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest) -> list[Seen]:
    room = tmp_path_factory.mktemp("identities")
    asked = [*identities.cases(range(request.param), NARROW), Case("further kinds", 1, "en-point"), Case("further kinds", 2, "en-comma")]
    found: list[Seen] = []
    for number, case in enumerate(asked):
        found += identities.exported(case, identities.built(case, room / str(number)), room / str(number))
    return found


def test_what_differs_in_anything_noticed_never_shares_an_identifier(
    seen: list[Seen], request: pytest.FixtureRequest
) -> None:
    compared, twice, _ = identities.collisions(seen)
    assert compared > {2: 300, 4: 500}[request.node.callspec.params["seen"]]
    assert twice == []


def test_what_is_the_same_in_one_locale_has_one_identifier(seen: list[Seen]) -> None:
    _, _, doubled = identities.collisions(seen)
    assert doubled == []
    places = {(one.identifier, one.case.plan, one.case.seed) for one in seen}
    assert len(places) > len({one.identifier for one in seen}), "no item was met in two banks, so nothing was tried"


def test_a_rebuild_keeps_every_identifier_whatever_the_weights_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    case = Case(NARROW[0], 5, "en-point")
    first = set(identities.exported(case, identities.built(case, tmp_path / "one"), tmp_path / "one"))
    weights = difficulty.load_weights()
    heavier = weights._replace(
        level=weights.level + 700, half_width=2 * weights.half_width, table={
            operation: {feature: 3 * value for feature, value in row.items()} for operation, row in weights.table.items()
        })
    monkeypatch.setattr(difficulty, "load_weights", lambda *_: heavier)
    assert set(identities.exported(case, identities.built(case, tmp_path / "two"), tmp_path / "two")) == first


def named(item: Item, locale: Locale = items.POINT) -> str:
    return identifier_of(item, locale)


def _typed(item: Item) -> Iterator[Item]:
    response = item.response
    assert isinstance(response, TypedNumber)
    yield replace(item, response=replace(response, policy="places"))
    yield replace(item, response=replace(response, mistakes=response.mistakes[1:]))


def _choice(item: Item) -> Iterator[Item]:
    response = item.response
    assert isinstance(response, Choice)
    first, second, *rest = response.options
    yield replace(item, response=replace(response, options=(
        replace(first, numeral=second.numeral), replace(second, numeral=first.numeral), *rest)))
    yield replace(item, response=replace(response, options=(
        replace(first, is_key=not first.is_key), replace(second, is_key=not second.is_key), *rest)))
    yield replace(item, response=replace(response, options=response.options[:-1]))
    yield replace(item, response=replace(response, options=(
        replace(first, numeral=first.numeral.with_places(first.numeral.places + 1)), second, *rest)))
    yield replace(item, response=replace(response, options=(replace(first, identifier="E"), second, *rest)))
    wrong = next(option for option in response.options if option.mistakes)
    yield replace(item, response=replace(response, options=tuple([
        replace(option, mistakes=("add.multiplied-instead",)) if option is wrong else option
        for option in response.options
    ])))


def _further(item: Item) -> Iterator[Item]:
    response = item.response
    if isinstance(response, ChooseSeveral | PutInOrder | MatchPairs | FindMistake):
        yield replace(item, response=replace(response, credit="all" if response.credit != "all" else "each"))
    if isinstance(response, ChooseSeveral):
        first, *rest = response.options
        yield replace(item, response=replace(response, options=(replace(first, is_key=not first.is_key), *rest)))
        yield replace(item, response=replace(response, options=(*rest, first)))
    if isinstance(response, PutInOrder):
        yield replace(item, response=replace(response, right=response.right[::-1]))
        yield replace(item, response=replace(response, direction="descending" if response.direction == "ascending" else "ascending"))
        yield replace(item, response=replace(response, offers=response.offers[::-1]))
        yield replace(item, response=replace(response, mistakes=()))
    if isinstance(response, MatchPairs):
        yield replace(item, response=replace(response, targets=response.targets[::-1]))
        yield replace(item, response=replace(response, pairs=response.pairs[::-1]))
        yield replace(item, response=replace(response, mistakes=()))
    if isinstance(response, FindMistake):
        other = next(step.identifier for step in response.steps if step.identifier != response.right)
        yield replace(item, response=replace(response, right=other))
        yield replace(item, response=replace(response, typed=None if response.typed else TypedNumber()))
        working = response.working
        yield replace(item, response=replace(response, working=working._replace(steps=working.steps[1:])))
        if working.rows:
            yield replace(item, response=replace(response, working=working._replace(rows=working.rows[1:])))


def _any(item: Item) -> Iterator[Item]:
    """Give *item* changed in each thing that every kind has."""
    family = item.family
    yield replace(item, stem=(*item.stem, ("More.",)))
    yield replace(item, stem=tuple([line[1:] if len(line) > 1 else ("Other words.",) for line in item.stem]))
    yield replace(item, key=Numeral(item.key.coefficient * 10, item.key.places + 1))
    yield replace(item, shows_feedback=False)
    yield replace(item, operands=tuple([Numeral(one.coefficient * 10, one.places + 1) for one in item.operands]))
    for change in (
        {"title": "Another title"}, {"version": family.version + 1}, {"template": "another"}, {"hint": (("Another hint.",),)},
        {"praise": (("Another praise.",),)}, {"show_solution": not family.show_solution}, {"layout": "another"},
        {"rounding": 7}, {"unit": items.family(unit="mm").unit}, {"unit": items.family(unit={"text": "mm", "before": True}).unit},
    ):
        yield replace(item, family=replace(family, **change))


ITEMS = (items.item("add"), items.item("add", typed=True, of={"unit": "kg"}), *kept_kinds.ITEMS)


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: type(item.response).__name__)
def test_a_change_that_could_be_noticed_changes_the_identifier(item: Item) -> None:
    kind = {Choice: _choice, TypedNumber: _typed}.get(type(item.response), _further)
    names = [named(item), *map(named, _any(item)), *map(named, kind(item))]
    locale = items.POINT
    for change in (
        {"language": "de"}, {"decimal_mark": ",", "list_separator": ";"}, {"also_accepted_marks": (",",)},
        {"multiplication": "*"}, {"division": ":"}, {"minus": "-"}, {"list_separator": ";"},
    ):
        names.append(named(item, replace(locale, **change)))
    assert len(set(names)) == len(names)


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: type(item.response).__name__)
def test_the_mark_between_thousands_counts_where_something_is_typed(item: Item) -> None:
    typed = isinstance(item.response, TypedNumber) or getattr(item.response, "typed", None) is not None
    names = {named(item, replace(items.POINT, group_mark=mark)) for mark in (",", "", "'")}
    assert len(names) == (3 if typed else 1)


def test_every_field_of_a_locale_is_read_for_an_identifier() -> None:
    """A field that is added must be looked at here: it decides what is right, or how something looks, or is only a name."""
    others: dict[str, object] = {
        "language": "de", "decimal_mark": ",", "also_accepted_marks": (",",), "group_mark": "'", "multiplication": "*",
        "division": ":", "minus": "-", "list_separator": ";",
    }
    assert {field.name for field in fields(Locale)} == {"identifier", *others}
    typed = items.item("add", typed=True)
    for name, value in others.items():
        assert named(typed, replace(items.POINT, **{name: value})) != named(typed), name


@pytest.mark.parametrize("item", ITEMS, ids=lambda item: type(item.response).__name__)
def test_what_nobody_could_notice_leaves_the_identifier_alone(item: Item) -> None:
    family = item.family
    for other in (
        replace(item, identifier="x"), replace(item, parameters=(("z", "9"),)), replace(item, features=()),
        replace(item, prediction=replace(item.prediction, band="harder", score=9, reasons=())),
        replace(item, family=replace(family, topic="other", codes=("X 1",), checksum="9", context=not family.context)),
    ):
        assert named(other) == named(item)
    assert named(item, replace(items.POINT, identifier="renamed")) == named(item)
    silent = replace(item, shows_feedback=False)
    for change in ({"hint": (("Another hint.",),)}, {"praise": (("Other.",),)}, {"show_solution": not family.show_solution}):
        assert named(replace(silent, family=replace(family, **change))) == named(silent)
