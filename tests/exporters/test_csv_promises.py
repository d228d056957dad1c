"""The tables promise what the packages hold: every row's feedback is said by the targets that it names, and no other."""

from __future__ import annotations

import csv
import io
from dataclasses import replace

import kept_kinds
import kind_items
import policy_items
import pytest
import sampler
from bank.model import ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, PutInOrder
from bank.templates import Template
from cartridge_rules import Question
from exported import QTI, version
from exporters import _cc_files
from exporters._cc_asked import orders, refusal
from exporters._cc_item import ItemWriter
from exporters._item import Renderer
from exporters._rows import ITEM_COLUMNS, OPTION_COLUMNS, Rows, header
from items import item
from lxml import etree
from qti_rules import Session
from template_items import TEMPLATES, items_of

ITEMS = (*sampler.ITEMS, *policy_items.ITEMS, *kept_kinds.ITEMS, *kind_items.ITEMS)
each_item = pytest.mark.parametrize("one", (*ITEMS, *TEMPLATES), ids=lambda one: one.identifier, indirect=True)
Row = dict[str, str]


@pytest.fixture
def one(request: pytest.FixtureRequest) -> Item:
    """An item as it is given, or the first one of a template."""
    return items_of(request.param, 1)[0] if isinstance(request.param, Template) else request.param


def rows_of(one: Item) -> tuple[Row, list[Row]]:
    """Return the row of *one* in the table of items, and those in the table of options."""
    texts = Rows(sampler.info(), {}).tables([one])
    (mine,), offered = (
        list(csv.DictReader(io.StringIO(header(columns) + text, newline=""), strict=True))
        for columns, text in zip((ITEM_COLUMNS, OPTION_COLUMNS), texts)
    )
    return mine, offered


def answer_of(one: Item, row: Row) -> object:
    """Return the answer that *row* speaks of, as `qti_rules` takes it; None where none can be given."""
    response, name = one.response, row["option"]
    if row["kind"] == "foreseen":
        typed = sampler.POINT.number(kept_kinds.number(row["value"]))
        return {"RESPONSE": response.right, "ANSWER": typed} if isinstance(response, FindMistake) else typed
    if isinstance(response, ChooseSeveral):
        right = [option.identifier for option in response.options if option.is_key]
        return [option for option in right if option != name] if row["is_key"] == "yes" else [name]
    if row["kind"] == "order":
        return name.split("; ")
    if row["kind"] == "pair":
        assert isinstance(response, MatchPairs)
        source = name.partition(" ")[0]
        return [name if pair[0] == source else " ".join(pair) for pair in response.pairs]
    return name if row["kind"] == "option" else None


@pytest.mark.parametrize("name", QTI)
@each_item
def test_what_a_row_says_qti_carries_is_shown_to_its_answer_and_the_rest_is_not(name: str, one: Item) -> None:
    session = Session(Renderer(version(name), sampler.info()).item(one, True))
    for row in rows_of(one)[1]:
        answer = answer_of(one, row) if row["feedback"] else None
        if answer is None:
            assert row["feedback_carried_by"] in ("", "none")
            continue
        session.answer(answer)  # type: ignore[arg-type]
        assert (row["feedback"] in " ".join(session.shown())) == ("qti" in row["feedback_carried_by"]), row


@each_item
def test_what_a_row_says_the_cartridge_carries_is_said_there_and_the_rest_is_not(one: Item) -> None:
    rows = [row for row in rows_of(one)[1] if row["feedback"]]
    if refusal(one):
        assert not any("cc13" in row["feedback_carried_by"] for row in rows)
        return
    element = ItemWriter(sampler.info()).item(one, True)
    question = Question(etree.fromstring(f'<items xmlns="{_cc_files.NAMESPACE}">{element}</items>')[0])
    for row in rows:
        answer = cartridge_answer(one, row)
        shown = [question.said(name) for name in question.mark(*answer)[1] if name != "solution"] if answer else []
        assert (row["feedback"] in " ".join(shown)) == ("cc13" in row["feedback_carried_by"]), row


def cartridge_answer(one: Item, row: Row) -> tuple[str, ...]:
    """Return the answer that *row* speaks of where the cartridge has it."""
    answer = answer_of(one, row)
    if isinstance(one.response, PutInOrder):
        known = {order: letter for letter, order, _ in orders(one.identifier, one.response)}
        return tuple([known[tuple(answer)]] if tuple(answer) in known else ())  # type: ignore[arg-type]
    if isinstance(one.response, FindMistake) or answer is None:
        return ()
    return (answer,) if isinstance(answer, str) else tuple(answer)  # type: ignore[arg-type]


@each_item
def test_no_row_says_more_than_one_remedy_and_the_key_is_what_a_pupil_answers(one: Item) -> None:
    mine, rows = rows_of(one)
    assert all(row["feedback"].count(". ") <= 1 for row in rows)
    assert mine["key"] and not mine["key"].isdigit() or one.key.places == 0
    if isinstance(one.response, ChooseInLine):
        assert mine["key"].lstrip("'") in ("<", "=", ">") and mine["key_value"] == ""


def test_the_key_of_every_kind_reads_as_an_answer() -> None:
    keys = {one.family.template: rows_of(one)[0]["key"] for one in kept_kinds.ITEMS}
    assert keys["which-sign"] == "'="  # guarded: a spreadsheet would run it
    assert keys["order-up"].count("; ") == 3 and keys["match-products"].count(" \u2192 ") == 3
    assert keys["worth-the-same"].split("; ")[0] == "0.6 \u00d7 0.4"
    assert keys["find-it"].startswith("Step ") and "; " in keys["find-it"] and keys["find-only"].startswith("Step ")
    assert rows_of(item("add", typed=True, policy="unit", of={"unit": "m"}))[0]["key"] == "17.35 m"


@pytest.mark.parametrize("one", [one for one in kept_kinds.ITEMS if isinstance(one.response, (PutInOrder, MatchPairs))],
                         ids=lambda one: one.identifier)
def test_the_stem_holds_the_numbers_that_it_speaks_of(one: Item) -> None:
    mine, rows = rows_of(one)
    for row in rows:
        if row["kind"] in ("offer", "source", "target"):
            assert row["text"] in mine["stem"]


@each_item
def test_of_an_item_that_tells_nothing_no_target_carries_anything(one: Item) -> None:
    silent = replace(one, shows_feedback=False)
    assert {row["feedback_carried_by"] for row in rows_of(silent)[1] if row["feedback"]} <= {"none"}
