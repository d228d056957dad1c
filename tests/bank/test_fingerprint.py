"""A bank's fingerprint: made of all that is in the file, found again by whoever checks it, carried by what is made."""

from __future__ import annotations

import csv
import importlib
import sqlite3
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
import sampler
from results_bank import bank_path

import exporters
from bank import cli, registry
from bank.errors import BadInput
from bank.store import Bank, fingerprint_of

TAMPERINGS = {
    "key": "UPDATE items SET content = replace(content, '],[', '],[0,') WHERE position = 1",
    "option": "UPDATE items SET content = replace(content, '],[', '],[1') WHERE position = 3",
    "right option": "UPDATE shared SET content = replace(content, '\"ascending\",[2]', '\"ascending\",[1]')",
    "template's words": "UPDATE families SET content = replace(content, 'decimals-add', 'decimals') WHERE template LIKE 'add%'",
    "band": "UPDATE items SET band = 'harder' WHERE position = 2",
    "prediction": "UPDATE shared SET content = replace(content, 'middle', 'harder')",
    "order": "UPDATE items SET position = -position WHERE position < 3",
    "id": "UPDATE items SET identifier = identifier || 'x' WHERE position = 4",
    "item gone": "DELETE FROM items WHERE position = 5",
    "item twice": "INSERT INTO items SELECT 99, identifier || '2', template, band, content FROM items WHERE position = 1",
    "quiz": "UPDATE quizzes SET content = replace(content, 'graded', 'practice')",
    "quiz gone": "DELETE FROM quizzes WHERE position = 1",
    "title": "UPDATE about SET content = replace(content, 'Sampler', 'Sample') WHERE name = 'info'",
    "seed": "UPDATE about SET content = replace(content, '\"seed\":7', '\"seed\":8') WHERE name = 'info'",
    "summary": "UPDATE about SET content = '{ }' WHERE name = 'summary'",
    "something more": "INSERT INTO about VALUES ('more', 'x')",
    "fingerprint": "UPDATE about SET content = 'aaaa-bbbb-cccc-dddd' WHERE name = 'fingerprint'",
    "number for words": "UPDATE items SET band = 3.5 WHERE position = 2",
    "bytes": "UPDATE items SET band = x'00ff' WHERE position = 2",
    "table": "CREATE TABLE more (x)",
    "view": "CREATE VIEW more AS SELECT * FROM items",
    "trigger": "CREATE TRIGGER more AFTER INSERT ON items BEGIN DELETE FROM items; END",
    "index gone": "DROP INDEX items_by_identifier",
}


@pytest.fixture
def kept(tmp_path: Path) -> Path:
    return sampler.bank().save(tmp_path / "bank.sqlite")


def _tamper(path: Path, how: str) -> None:
    before = _content(path)
    with sqlite3.connect(path) as connection:
        connection.execute(how)
    connection.close()
    assert _content(path) != before, "the tampering hits nothing"


def _content(path: Path) -> list[str]:
    tables = ("about", "families", "items", "quizzes", "shared", "sqlite_master")
    with sqlite3.connect(path) as connection:
        return [repr(row) for table in tables for row in connection.execute(f"SELECT * FROM {table}")]


def test_a_bank_as_it_was_written_passes(kept: Path) -> None:
    with Bank.open(kept) as bank:
        bank.check()
        assert bank.fingerprint == bank.info.fingerprint == sampler.bank().info.fingerprint
        groups = bank.fingerprint.split("-")
        assert [len(group) for group in groups] == [4, 4, 4, 4]
        assert not set(bank.fingerprint) & set("lo01")


@pytest.mark.parametrize("how", TAMPERINGS.values(), ids=TAMPERINGS.keys())
def test_any_change_to_a_bank_is_found(kept: Path, how: str) -> None:
    _tamper(kept, how)
    with pytest.raises(BadInput) as caught:
        Bank.checked(kept)
    code = "bank-damaged" if how.startswith(("CREATE", "DROP")) else "bank-altered"
    assert [(one.code, one.place.file) for one in caught.value.problems] == [(code, str(kept))]


@pytest.mark.parametrize("command", [
    *(["export", "BANK", "--as", target, "-o", "OUT"] for target in registry.module_names(exporters)),
    ["export", "BANK", "--as", "csv", "--trial", "-o", "OUT"],
    ["audit", "BANK", "-o", "OUT"],
    ["audit", "BANK", "--results", "RESULTS", "-o", "OUT"],
    ["lesson", "BANK", "--results", "RESULTS", "-o", "OUT"],
    ["sample", "BANK", "--pupils", "3", "--seed", "1", "-o", "OUT/results.csv"],
], ids=" ".join)
def test_no_command_works_with_a_tampered_key(
    command: list[str], kept: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    results = tmp_path / "results.csv"
    results.write_text("pupil,quiz,item,response\na,week-01-a,x,A\n", encoding="utf-8")
    _tamper(kept, TAMPERINGS["right option"])
    told = {"BANK": str(kept), "OUT": str(tmp_path / "out"), "RESULTS": str(results)}
    line = [told.get(word, word).replace("OUT/", f"{tmp_path}/out/") for word in command]
    assert cli.main(line) == 2
    assert "was changed after it was written" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()


def test_two_banks_that_differ_in_anything_have_two_fingerprints() -> None:
    made = sampler.bank()
    first, *rest = made.items()
    families = made.families.values()

    def prints() -> Iterator[str]:
        rows = sampler.rows(made.kept)
        yield fingerprint_of(made.info, families, made.quizzes, rows, "{}")
        yield fingerprint_of(replace(made.info, seed=8), families, made.quizzes, rows, "{}")
        yield fingerprint_of(made.info, families, made.quizzes[1:], rows, "{}")
        yield fingerprint_of(made.info, families, made.quizzes, rows[1:], "{}")
        yield fingerprint_of(made.info, families, made.quizzes, rows[::-1], "{}")
        yield fingerprint_of(made.info, families, made.quizzes, rows, "{ }")
        renamed = [replace(one, title=f"{one.title}!") for one in families]
        yield fingerprint_of(made.info, renamed, made.quizzes, rows, "{}")
        changed = replace(first, parameters=(*first.parameters, ("z", "1")))
        yield fingerprint_of(made.info, families, made.quizzes, sampler.rows([changed, *rest]), "{}")

    found = list(prints())
    assert len(set(found)) == len(found)
    other = replace(made.info, fingerprint="of-some-other-bank")
    assert fingerprint_of(other, families, made.quizzes, sampler.rows(made.kept), "{}") == found[0]


def test_what_is_made_from_a_bank_carries_its_fingerprint(tmp_path: Path) -> None:
    source = bank_path()
    with Bank.open(source) as bank:
        fingerprint = bank.fingerprint
    assert fingerprint in (source.parent / "review.html").read_text(encoding="utf-8")
    assert cli.main(["sample", str(source), "--pupils", "12", "--seed", "1", "-o", str(tmp_path / "long.csv")]) == 0
    assert cli.main(["sample", str(source), "--pupils", "12", "--seed", "1", "-o", str(tmp_path / "wide.csv")]) == 0
    for name in ("long.csv", "wide.csv"):
        with (tmp_path / name).open(encoding="utf-8", newline="") as file:
            assert {row["bank"] for row in csv.DictReader(file)} == {fingerprint}
    assert cli.main(["audit", str(source), "-o", str(tmp_path / "before")]) == 0
    salt = ["--salt", str(tmp_path / "salt")]
    after = ["audit", str(source), "--results", str(tmp_path / "long.csv"), *salt, "--pupils", "-o", str(tmp_path / "after")]
    assert cli.main(after) == 0
    tables = [*(tmp_path / "before").glob("*.csv"), *(tmp_path / "after").glob("*.csv")]
    assert len(tables) == 7
    for table in tables:
        with table.open(encoding="utf-8", newline="") as file:
            assert {row["bank_fingerprint"] for row in csv.DictReader(file)} <= {fingerprint}
    for page in (*(tmp_path / "before").glob("*.html"), *(tmp_path / "after").glob("*.html")):
        assert fingerprint in page.read_text(encoding="utf-8")


def test_packages_and_tables_carry_the_fingerprint(tmp_path: Path) -> None:
    import zipfile

    bank = sampler.bank()
    source = bank.save(tmp_path / "bank.sqlite")
    for name in registry.module_names(exporters):
        exporter = importlib.import_module(f"exporters.{name}")
        paths = exporter.write(
            source, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=1, progress=lambda done, total: None
        )
        assert paths
        for path in paths:
            if zipfile.is_zipfile(path):
                with zipfile.ZipFile(path) as files:
                    assert bank.info.fingerprint in files.read("imsmanifest.xml").decode()
    with (tmp_path / "csv" / "items.csv").open(encoding="utf-8", newline="") as file:
        assert {row["bank_fingerprint"] for row in csv.DictReader(file)} == {bank.info.fingerprint}
