"""The further kinds of response in the two tables: every offer, every wrong answer, the right one, and the credit."""

from __future__ import annotations

import csv
from pathlib import Path

import kept_kinds
import pytest
import sampler
from bank.model import Item
from bank.store import answers_of
from exporters import csv as exporter
from exporters._faults import ExportFault
from exporters._rows_back import compare, read_tables, scoring
from items import COMMA, POINT



def _bank(locale: object = POINT) -> sampler.SamplerBank:
    return sampler.bank(items=(*sampler.ITEMS[:3], *kept_kinds.ITEMS, *sampler.ITEMS[3:5]), quizzes=(), locale=locale)  # type: ignore[arg-type]


def _written(folder: Path, bank: sampler.SamplerBank) -> tuple[list[dict[str, str]], list[dict[str, str]]]:
    paths = exporter.write(
        folder / "bank.sqlite", bank, (), folder, whole_bank=True, jobs=1, progress=lambda done, total: None)
    tables = []
    for path in paths:
        with path.open(encoding="utf-8", newline="") as opened:
            tables.append(list(csv.DictReader(opened, strict=True)))
    return tables[0], tables[1]


def test_rows_say_credit_right_answer_and_how_much_is_offered(tmp_path: Path) -> None:
    items, _ = _written(tmp_path, _bank())
    said = {row["template"]: (row["response"], row["options"], row["policy"], row["credit"], row["right"]) for row in items}
    assert said["worth-the-same"] == ("choose-several", "6", "", "each", "A; B; D; E")
    assert said["order-up"] == ("put-in-order", "4", "", "places", "C; A; D; B")
    assert said["order-down"] == ("put-in-order", "3", "", "all", "B; A; C")
    assert said["match-products"] == ("match-pairs", "7", "", "each", "S1 T1; S2 T2; S3 T3")
    assert said["which-sign"] == ("choose-in-line", "3", "", "all", "B")
    assert said["find-it"][:4] == ("find-mistake", str(len(kept_kinds.FIND.response.steps)), "places", "each")  # type: ignore[union-attr]
    assert said["find-only"][2:] == ("", "all", kept_kinds.FIND_ONLY.response.right)  # type: ignore[union-attr]
    assert {(row["credit"], row["right"]) for row in items if row["response"] in ("choice", "typed")} == {("", "")}


def test_every_offer_and_every_wrong_answer_has_a_row(tmp_path: Path) -> None:
    _, options = _written(tmp_path, _bank())

    def of(item: Item) -> list[tuple[str, str, str, str, str, str]]:
        return [(row["kind"], row["option"], row["text"], row["value"], row["is_key"], row["mistakes"])
                for row in options if row["item"] == item.identifier]

    assert of(kept_kinds.SEVERAL)[2:4] == [
        ("option", "C", "6 \u00d7 0.4", "2.4", "no", "multiply.no-exchange-over-the-point; multiply.one-place-too-many"),
        ("option", "D", "24 hundredths", "0.24", "yes", "")]
    assert of(kept_kinds.ORDER)[4:] == [
        ("order", "B; A; D; C", "", "", "no", "compare.part-as-whole-number; compare.more-digits-wins"),
        ("order", "C; D; A; B", "", "", "no", "compare.decimal-as-denominator")]
    assert [row[:2] for row in of(kept_kinds.PAIRS)] == [
        ("source", "S1"), ("source", "S2"), ("source", "S3"), ("target", "T1"), ("target", "T2"), ("target", "T3"),
        ("target", "T4"), ("pair", "S1 T2"), ("pair", "S1 T4")]
    assert [row[2] for row in of(kept_kinds.LINE)] == ["<", "'=", ">"]  # guarded: a spreadsheet would run the second
    assert of(kept_kinds.FIND)[-1] == ("foreseen", "", "5.27", "5.27", "no", "add.carry-forgotten")


@pytest.mark.parametrize("locale", [POINT, COMMA], ids=["point", "comma"])
def test_what_was_written_is_read_back_as_the_bank_has_it(tmp_path: Path, locale: object) -> None:
    bank = _bank(locale)
    _written(tmp_path, bank)
    assert list(exporter.read_back(tmp_path)) == [scoring(answers_of(item), bank.info.locale) for item in bank.items()]


@pytest.mark.parametrize(("old", "new"), [
    ("C; A; D; B", "C; A; B; D"), (",each,S1 T1;", ",all,S1 T1;"), ("S1 T2", "S1 T3"), (",B,'=,,yes,", ",B,'=,,no,"),
    (",0.24,yes,multiply", ",0.25,yes,multiply"), ("compare.decimal-as-denominator", "compare.point-ignored"),
    ("put-in-order", "match-pairs"), (",offer,D,", ",target,D,"),
])
def test_a_changed_cell_is_noticed(tmp_path: Path, old: str, new: str) -> None:
    bank = _bank()
    _written(tmp_path, bank)
    found = 0
    for path in (tmp_path / "csv").iterdir():
        content = path.read_bytes()
        found += content.count(old.encode())
        path.write_bytes(content.replace(old.encode(), new.encode(), 1))
    assert found
    with pytest.raises(ExportFault):
        compare(read_tables(tmp_path / "csv" / "items.csv", tmp_path / "csv" / "options.csv"), bank.answers(), POINT)


def test_a_sign_that_a_spreadsheet_would_run_is_guarded(tmp_path: Path) -> None:
    _, options = _written(tmp_path, sampler.bank(items=(kept_kinds.LINE,), quizzes=()))
    assert not any(row["text"].startswith("=") for row in options)
