"""The bank file: what goes in comes out; what is no bank is refused."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from pathlib import Path

import pytest
import sampler

from bank.errors import BadInput
from bank.model import Choice, Expression
from bank.numerals import Numeral
from bank.store import Bank, answers_of, family_in, family_out, pack, unpack


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


def test_items_read_without_solutions_agree_in_all_else(kept: Path) -> None:
    with Bank.open(kept) as bank:
        for whole, light in zip(bank.items(), bank.items(solutions=False), strict=True):
            assert light.solution.rows == () and replace(light, solution=whole.solution) == whole


@pytest.mark.parametrize("order", [1, -1])
def test_answers_are_those_of_the_items_and_written_alike(kept: Path, order: int) -> None:
    with Bank.open(kept) as bank:
        wanted = bank.identifiers()[::order]
        for one, item in zip(bank.answers(wanted), bank.items(wanted), strict=True):
            assert one == answers_of(item) and one.family is item.family
            for mine, its in zip((one.key, *one.numerals), (item.key, *answers_of(item).numerals), strict=True):
                assert mine.same_writing(its)
            if isinstance(item.response, Choice):
                assert list(one.letters) == [option.identifier for option in item.response.options]
            else:
                assert one.letters == "" and not any(one.keys)
        ranged = [one.identifier for one in bank.answers(start=2, stop=5)]
        assert ranged == bank.identifiers()[2:5]


def test_a_number_of_the_stem_that_is_no_operand_comes_back_as_written() -> None:
    stem = ((Numeral(250, 2), " is not ", Numeral(25, 1)), (Expression((Numeral(1), "+", Numeral(10, 1), "=", "?")),))
    for item in sampler.bank().items():
        read = unpack(item.identifier, item.family, pack(replace(item, stem=stem)))
        assert read.operands == item.operands and read.stem == stem
        assert [one.text() for one in read.stem[0] if isinstance(one, Numeral)] == ["2.50", "2.5"]
        assert [str(part) for part in read.stem[1][0].parts] == ["1", "+", "1.0", "=", "?"]  # type: ignore[union-attr]


def test_what_was_packed_before_changes_nothing_of_what_is_packed_now() -> None:
    item = next(sampler.bank().items())
    equal = replace(item, features=tuple([(name, value == 1 or value) for name, value in item.features]))
    assert equal == item
    assert pack(equal) == pack(item)


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


def test_a_bank_from_before_there_were_fingerprints_is_refused(kept: Path) -> None:
    with sqlite3.connect(kept) as connection:
        connection.execute("PRAGMA user_version = 2")
    connection.close()
    assert _codes(kept) == ["bank-older"]


@pytest.mark.parametrize(
    "damage",
    [
        "UPDATE items SET content = 'x' WHERE position = 2",
        "UPDATE items SET content = '[]' WHERE position = 2",
        "UPDATE items SET content = content || '!' WHERE position = 2",
        "UPDATE items SET content = replace(content, '],[', '],[7,') WHERE position = 2",
        "UPDATE items SET content = replace(content, '}', '}}') WHERE position = 2",
        "UPDATE items SET content = replace(content, '],[', '],[[],') WHERE position = 2",
        "UPDATE items SET content = substr(content, 1, length(content) - 1) || ',99999]' WHERE position = 2",
        "UPDATE items SET content = substr(content, 1, length(content) - 1) || ',-1]' WHERE position = 2",
        "UPDATE shared SET content = replace(content, '[\"choice\"', '[\"other\"')",
        "UPDATE shared SET content = 'x' WHERE number = 3",
        "DELETE FROM shared WHERE number = 3",
        "DROP TABLE shared",
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


@pytest.mark.parametrize("damage", ["content = 'x'", "content = content || '!'", "template = 'gone'"])
def test_damage_is_noticed_where_only_answers_are_read(kept: Path, damage: str) -> None:
    with sqlite3.connect(kept) as connection:
        connection.execute(f"UPDATE items SET {damage} WHERE position = 2")
    connection.close()
    with Bank.open(kept) as bank, pytest.raises(BadInput) as caught:
        list(bank.answers())
    assert [problem.code for problem in caught.value.problems] == ["bank-damaged"]


def test_an_item_that_is_not_there_is_named(kept: Path) -> None:
    with Bank.open(kept) as bank, pytest.raises(BadInput) as caught:
        list(bank.items(["nobody"]))
    assert "nobody is missing" in caught.value.problems[0].wrong


def test_a_key_that_the_worked_solution_does_not_give_is_noticed(tmp_path: Path) -> None:
    first, *rest = sampler.ITEMS
    wrong = Numeral(7, first.key.places)
    kept = sampler.bank(items=(replace(first, key=wrong), *rest)).save(tmp_path / "bank.sqlite")
    assert _codes(kept) == ["bank-damaged"]
    with Bank.open(kept) as bank:
        assert list(bank.items(solutions=False))[0].key == wrong


def test_what_items_share_is_kept_once(kept: Path) -> None:
    with sqlite3.connect(kept) as connection:
        lines = [line for (line,) in connection.execute("SELECT content FROM shared ORDER BY number")]
        contents = [content for (content,) in connection.execute("SELECT content FROM items")]
    connection.close()
    assert len(lines) == len(set(lines)) and '["choice","as-in-stem",[1]]' in lines
    assert not any("choice" in content for content in contents)


def test_a_cut_off_file_is_refused(kept: Path) -> None:
    kept.write_bytes(kept.read_bytes()[:5000])
    assert _codes(kept)[0] in ("bank-damaged", "bank-foreign")
