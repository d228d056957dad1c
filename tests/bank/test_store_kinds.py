"""The further kinds of response in the bank file: what goes in comes out, as it was written."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import kept_kinds
import pytest
import sampler

from bank.errors import BadInput
from bank.model import Expression, FindMistake, Item, Numeral, Offer
from bank.store import KINDS, Bank, answers_of, kind_of, pack, unpack

every_item = pytest.mark.parametrize("item", kept_kinds.ITEMS, ids=lambda item: item.family.template)


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return sampler.bank(items=(*sampler.ITEMS, *kept_kinds.ITEMS)).save(tmp_path / "bank.sqlite")


def test_there_is_an_item_of_every_kind() -> None:
    assert {kind_of(item.response) for item in kept_kinds.ITEMS} == set(KINDS)


@every_item
def test_an_item_comes_back_as_it_was_packed(item: Item) -> None:
    again = unpack(item.identifier, item.family, pack(item))
    assert again == item
    assert str(again.response) == str(item.response) and str(again.solution) == str(item.solution)


def test_items_of_every_kind_come_out_of_one_bank(kept: Path) -> None:
    wanted = sampler.bank(items=(*sampler.ITEMS, *kept_kinds.ITEMS)).kept
    assert set(kept_kinds.ITEMS) < set(wanted)
    with Bank.open(kept) as bank:
        assert tuple(bank.items()) == wanted
        assert [repr(item.response) for item in bank.items(solutions=False)] == [repr(one.response) for one in wanted]
        for light, whole in zip(bank.items(answers_only=True), wanted, strict=True):
            assert (light.key, light.response) == (whole.key, whole.response)
            assert light.stem == () and light.solution.steps == ()


def test_answers_hold_the_response_of_a_further_kind_and_nothing_else_of_it(kept: Path) -> None:
    with Bank.open(kept) as bank:
        for one, item in zip(bank.answers(), bank.items(), strict=True):
            assert one == answers_of(item) and one.key.same_writing(item.key)
            further = one.kind in KINDS
            assert one.response == (item.response if further else None)
            assert not further or one.numerals == () and one.letters == ""


def _numerals(offer: Offer) -> list[str]:
    parts = [part for leaf in offer.text for part in (leaf.parts if isinstance(leaf, Expression) else (leaf,))]
    return [part.text() for part in parts if isinstance(part, Numeral)]


def test_numbers_of_offers_keep_their_zeros() -> None:
    again = unpack("x", kept_kinds.SEVERAL.family, pack(kept_kinds.SEVERAL)).response
    assert _numerals(again.options[4]) == ["0.240"]  # type: ignore[union-attr]
    assert again.options[4].value.text() == "0.24"  # type: ignore[union-attr]


def test_cells_of_a_wrong_working_with_several_characters_are_kept() -> None:
    working = kept_kinds.FIND.response.working  # type: ignore[union-attr]
    cells = ("12", "", "7", *[""] * (working.width - 3))
    odd = working._replace(rows=(working.rows[0]._replace(cells=cells), *working.rows[1:]))
    item = replace(kept_kinds.FIND, response=replace(kept_kinds.FIND.response, working=odd))  # type: ignore[type-var]
    again = unpack("x", item.family, pack(item)).response
    assert isinstance(again, FindMistake) and again.working == odd


def test_a_value_that_the_written_methods_do_not_give_is_noticed() -> None:
    options = kept_kinds.SEVERAL.response.options  # type: ignore[union-attr]
    wrong = replace(options[0], value=Numeral(25, 2))
    item = replace(kept_kinds.SEVERAL, response=replace(kept_kinds.SEVERAL.response, options=(wrong, *options[1:])))
    with pytest.raises(ValueError, match="is worth 0.24, not 0.25"):
        unpack("x", item.family, pack(item))


@pytest.mark.parametrize("damage", [
    "UPDATE shared SET content = replace(content, '[\"put-in-order\"', '[\"put-somewhere\"')",
    "UPDATE shared SET content = replace(content, ',true,', ',1,')",
    "UPDATE shared SET content = replace(content, '[\"S1\",\"S2\"', '[\"S1\"')",
    "UPDATE items SET content = replace(content, ',[[2,0,3,1],', ',[[2,0,3,9],')",
    "UPDATE items SET content = replace(content, ',[[2,0,3,1],', ',[')",
    "UPDATE items SET content = replace(content, '\"column-addition\"', '')",
])
def test_damage_to_further_kinds_is_named_as_such(kept: Path, damage: str) -> None:
    with sqlite3.connect(kept) as connection:
        connection.execute(damage)
        assert connection.total_changes
    connection.close()
    with Bank.open(kept) as bank, pytest.raises(BadInput) as caught:
        list(bank.items())
    assert [problem.code for problem in caught.value.problems] == ["bank-damaged"]
    with Bank.open(kept) as bank, pytest.raises(BadInput):
        list(bank.answers())


