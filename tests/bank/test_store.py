"""The bank file: what goes in comes out; what is no bank is refused."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
import sampler

from bank.errors import BadInput
from bank.store import Bank, family_in, family_out, pack, unpack


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return sampler.bank().save(tmp_path / "bank.sqlite")


def _codes(path: Path) -> list[str]:
    with pytest.raises(BadInput) as caught:
        with Bank.open(path) as bank:
            list(bank.items())
    return [problem.code for problem in caught.value.problems]


def test_every_item_comes_back_as_it_was(kept: Path) -> None:
    with Bank.open(kept) as bank:
        assert tuple(bank.items()) == tuple(sampler.bank().items())
        assert bank.families == sampler.bank().families
        assert bank.quizzes == sampler.bank().quizzes
        assert bank.info == sampler.bank().info


def test_numerals_come_back_with_their_places(kept: Path) -> None:
    with Bank.open(kept) as bank:
        for item, original in zip(bank.items(), sampler.bank().items(), strict=True):
            assert [operand.text() for operand in item.operands] == [operand.text() for operand in original.operands]
            assert item.key.text() == original.key.text()


def test_items_come_in_the_order_asked_for(kept: Path) -> None:
    with Bank.open(kept) as bank:
        wanted = bank.identifiers()[::-1]
        assert [item.identifier for item in bank.items(wanted)] == wanted
        assert [item.identifier for item in bank.items(start=2, stop=5)] == bank.identifiers()[2:5]


def test_items_read_for_their_answers_only_agree_in_all_that_scoring_needs(kept: Path) -> None:
    with Bank.open(kept) as bank:
        for whole, light in zip(bank.items(), bank.items(answers_only=True), strict=True):
            assert (light.identifier, light.key, light.response) == (whole.identifier, whole.key, whole.response)
            assert light.family is whole.family
            assert light.stem == () and light.solution.rows == ()


def test_two_equal_banks_are_equal_bytes(tmp_path: Path) -> None:
    first = sampler.bank().save(tmp_path / "one" / "bank.sqlite")
    second = sampler.bank().save(tmp_path / "two" / "bank.sqlite")
    assert first.read_bytes() == second.read_bytes()


def test_packing_and_families_round_trip() -> None:
    for item in sampler.bank().items():
        assert unpack(item.identifier, item.family, pack(item)) == item
        assert family_in(family_out(item.family)) == item.family


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    assert _codes(tmp_path / "none.sqlite") == ["bank-missing"]


def test_a_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    text = tmp_path / "text.sqlite"
    text.write_text("not a bank, just words " * 100)
    assert _codes(text) == ["bank-foreign"]
    empty = tmp_path / "empty.sqlite"
    empty.write_bytes(b"")
    assert _codes(empty) == ["bank-foreign"]
    other = tmp_path / "other.sqlite"
    with sqlite3.connect(other) as connection:
        connection.execute("CREATE TABLE things (name TEXT)")
    connection.close()
    assert _codes(other) == ["bank-foreign"]


def test_a_bank_of_a_newer_tool_is_refused(kept: Path) -> None:
    with sqlite3.connect(kept) as connection:
        connection.execute("PRAGMA user_version = 99")
    connection.close()
    assert _codes(kept) == ["bank-newer"]


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE items SET content = 'x' WHERE position = 2",
        "UPDATE items SET content = '[]' WHERE position = 2",
        "UPDATE items SET template = 'gone' WHERE position = 2",
        "DELETE FROM about WHERE name = 'info'",
        "UPDATE about SET content = '{}' WHERE name = 'info'",
        "UPDATE families SET content = '{\"x\": 1}'",
        "UPDATE quizzes SET content = '3'",
        "DROP TABLE items",
    ],
)
def test_a_damaged_bank_is_named_as_such(kept: Path, damage: str) -> None:
    with sqlite3.connect(kept) as connection:
        connection.execute(damage)
    connection.close()
    assert _codes(kept) == ["bank-damaged"]


def test_a_key_that_the_worked_solution_does_not_give_is_noticed(kept: Path) -> None:
    with sqlite3.connect(kept) as connection:
        content = connection.execute("SELECT content FROM items WHERE position = 1").fetchone()[0]
        item = next(sampler.bank().items())
        wrong = content.replace(f"[{item.key.coefficient},{item.key.places}],[\"", f"[7,{item.key.places}],[\"")
        assert wrong != content
        connection.execute("UPDATE items SET content = ? WHERE position = 1", (wrong,))
    connection.close()
    assert _codes(kept) == ["bank-damaged"]


def test_a_cut_off_file_is_refused(kept: Path) -> None:
    kept.write_bytes(kept.read_bytes()[:5000])
    assert _codes(kept)[0] in ("bank-damaged", "bank-foreign")
