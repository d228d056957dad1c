"""What a build says of itself: counted, kept as JSON, told on a terminal."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from bank.model import Finding
from bank.summary import (
    BuildSummary, FamilyYield, StrategyResult, Tally, completed, from_json, mistakes_of, tally, terminal_summary,
    to_json,
)
from bank.summary.as_text import thousandths
from hypothesis import given
from hypothesis import strategies as some
from review_bank import make_bank, make_summary

texts = some.text(some.characters(exclude_categories=("Cs",)), max_size=20)
wholes = some.integers(0, 10**9)
pairs = some.lists(some.tuples(texts, wholes), max_size=3).map(tuple)


def several(record: some.SearchStrategy[object]) -> some.SearchStrategy[tuple[object, ...]]:
    """Return tuples of up to three records."""
    return some.lists(record, max_size=3).map(tuple)


summaries = some.builds(
    BuildSummary,
    families=several(some.builds(FamilyYield, texts, wholes, wholes, wholes, wholes, wholes, pairs)),
    panel=several(some.builds(StrategyResult, texts, texts, wholes, wholes, wholes, wholes, some.booleans())),
    mistake_use=pairs,
    key_places=several(some.tuples(texts, some.lists(wholes, max_size=5).map(tuple))),
    findings=several(some.builds(Finding, texts, texts, texts, texts, texts)),
    topic_bands=several(some.tuples(texts, texts, wholes)),
    responses=pairs,
)


@given(summaries)
def test_a_summary_comes_back_from_json_as_it_was(summary: BuildSummary) -> None:
    kept = to_json(summary)
    assert from_json(kept) == summary and to_json(from_json(kept)) == kept and "\n" not in kept


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("families", [{"template": "a"}]),
        ("families", "none"),
        ("panel", [["bank"]]),
        ("mistake_use", [["add.x", "3"]]),
        ("mistake_use", [["add.x", 3.5]]),
        ("mistake_use", [["add.x", True]]),
        ("key_places", [["4 options", [1, None]]]),
        ("findings", [{"check": "K1", "severity": "error", "item": 5, "wrong": "", "remedy": ""}]),
        ("topic_bands", [["addition", "easier"]]),
    ],
)
def test_a_damaged_summary_is_refused_by_field(field: str, value: object) -> None:
    data = json.loads(to_json(BuildSummary())) | {field: value}
    with pytest.raises(ValueError, match=f"summary: {field}"):
        from_json(json.dumps(data))


def test_a_summary_with_a_field_missing_is_refused() -> None:
    data = json.loads(to_json(BuildSummary()))
    del data["panel"]
    with pytest.raises(ValueError, match="panel missing"):
        from_json(json.dumps(data))


def test_counts_are_those_of_the_items_however_they_are_split() -> None:
    bank = make_bank(40)
    whole, first, second = tally(bank), Tally(), Tally()
    for place, item in enumerate(bank.items()):
        (first if place % 3 else second).add(item)
    first.merge(second)
    for name in ("mistake_use", "key_places", "topic_bands", "responses"):
        assert getattr(first, name) == getattr(whole, name)
    assert sum(count for *_, count in whole.topic_bands) == 40
    assert dict(whole.responses)["choice"] == sum(sum(places) for _, places in whole.key_places)
    one = next(identifier for item in bank.items() for identifier in mistakes_of(item))
    assert dict(whole.mistake_use)[one] == sum(one in set(mistakes_of(item)) for item in bank.items())


def test_a_bare_summary_is_completed_from_the_items_and_a_full_one_kept() -> None:
    bank = make_bank(20)
    full = make_summary(bank)
    assert completed(full, bank) is full
    bare = replace(full, topic_bands=(), responses=(), mistake_use=(), key_places=())
    assert completed(bare, bank) == full


@pytest.mark.parametrize(
    ("possible", "admissible", "kept", "thin"),
    [(1000, 400, 100, False), (1000, 399, 100, True), (50_000, 1000, 10, False), (50_001, 1000, 10, True)],
)
def test_a_template_is_thin_when_its_numbers_run_out_or_are_narrow(
    possible: int, admissible: int, kept: int, thin: bool
) -> None:
    assert FamilyYield("a", possible, admissible, 0, possible, kept).is_thin is thin


@pytest.mark.parametrize(
    ("value", "text"), [(0, "0.0"), (49, "0.0"), (50, "0.1"), (12_345, "12.3"), (-12_350, "-12.4"), (-49, "0.0")]
)
def test_thousandths_are_told_with_one_place(value: int, text: str) -> None:
    assert thousandths(value) == text


def test_the_terminal_gets_eighty_columns_and_the_figures_that_matter() -> None:
    bank = make_bank(40)
    summary = make_summary(bank)
    thin = FamilyYield("add-" + "very-" * 12 + "long", 10**7, 12, 3, 900, 9, (("a + b < 100", 7), ("no carry", 880)))
    text = terminal_summary(replace(summary, families=(*summary.families, thin)), bank)
    lines = text.splitlines()
    assert max(map(len, lines)) <= 80 and len(lines) <= 50 and text.endswith("\n")
    joined = " ".join(text.split())
    kinds = dict(summary.responses)
    told = f"40 items ({kinds['choice']} choose one, {kinds['typed']} typed number) in 5 quizzes from 10 templates"
    assert told in joined
    assert "predicted, not observed" in joined and "invented scenario" in joined
    assert "chance 10.0, bound 17.0; hits of each strategy:" in joined
    assert "most-like-the-rest 19.0 OVER" in joined
    assert "add-very-very-very-very-... 9 12 \u00b1 3 10.0 million thin; refused most by no carry (880 of 900 tried)" in joined
    assert "0 errors, 1 open warning, 1 report" in joined
    rows = [line.split() for line in lines if line.startswith("  ")]
    table = {row[0]: [int(cell) for cell in row[1:]] for row in rows if len(row) == 5 and row[1].isdigit()}
    total = table.pop("all")
    assert [sum(column) for column in zip(*table.values(), strict=True)] == total


def test_an_empty_bank_is_told_too() -> None:
    assert "0 items" in terminal_summary(BuildSummary(), make_bank(0))
