"""``verify`` works a folder out again, names what is wrong in it, and says what it did not check."""

from __future__ import annotations

import json
import shutil
import sqlite3
import zipfile
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sampler
from marked_banks import with_another_key_marked

from bank import build, cli
from bank.decisions import Decision, add_decisions
from bank.identity import identifier_of
from bank.run import LOCK, RECORD, Run
from bank.store import Bank
from exporters._listing import LIST, read_list

ROOT = Path(__file__).resolve().parents[3]
FIRST_STEPS = ROOT / "bank" / "content" / "plans" / "first-steps.yaml"
TARGETS = ("qti30", "cc13", "csv")


def _build(folder: Path, seed: int = 1) -> None:
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(folder), "--seed", str(seed), "--jobs", "1"]) == 0


def _export(bank: Path, folder: Path, *more: str, targets: tuple[str, ...] = TARGETS) -> None:
    words = [word for target in targets for word in ("--as", target)]
    assert cli.main(["export", str(bank), *words, "-o", str(folder), "--jobs", "1", *more]) == 0


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("whole") / "term"
    _build(folder)
    _export(folder / "bank.sqlite", folder)
    _export(folder / "bank.sqlite", folder, "--trial", targets=("qti30",))
    return folder


@pytest.fixture
def term(whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    shutil.copytree(whole, tmp_path / "term")
    capsys.readouterr()
    return tmp_path / "term"


def _verified(folder: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, str, str]:
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    status = cli.main(["verify", str(folder), "--jobs", "1", *more])
    told = capsys.readouterr()
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before
    assert ("Nothing wrong was found" in told.out) == (status == 0)
    return status, told.out, told.err


def test_a_folder_as_it_was_written_passes_and_counts_what_was_checked(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    status, said, told = _verified(term, capsys)
    assert (status, told) == (0, "")
    for line in ("20 items, 2 quizzes", "Items: 20 read", "Review page: made again", "csv: 4 files", "cc13: 9 files",
                 "qti30: 13 files", "Not checked:"):
        assert line in said


def test_the_same_is_said_with_any_number_of_processes(term: Path, capsys: pytest.CaptureFixture[str]) -> None:
    alone = _verified(term, capsys)
    assert cli.main(["verify", str(term), "--jobs", "3"]) == 0
    assert capsys.readouterr().out == alone[1]


def _in_zip(path: Path, change: bytes, to: bytes) -> None:
    with zipfile.ZipFile(path) as package:
        files = {name: package.read(name) for name in package.namelist()}
    assert any(change in content for content in files.values())
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, content in files.items():
            package.writestr(name, content.replace(change, to))


def _append(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b" ")


FAULTS = {
    "a package with another feedback": lambda term: _in_zip(term / "qti30" / "bank.zip", b"<p>", b"<p>!"),
    "a package cut off": lambda term: (term / "cc13" / "bank.imscc").write_bytes(
        (term / "cc13" / "bank.imscc").read_bytes()[:-40]),
    "a package of text": lambda term: (term / "qti30" / "week-1-sums.zip").write_text("no zip"),
    "a table with another key": lambda term: (term / "csv" / "items.csv").write_bytes(
        (term / "csv" / "items.csv").read_bytes().replace(b"choice", b"chance", 1)),
    "a report changed": lambda term: _append(term / "qti30" / "bank.portability.html"),
    "a page on what to try changed": lambda term: _append(term / "qti30" / "trial.what-to-try.html"),
    "a review page changed": lambda term: _append(term / "review.html"),
    "a package gone": lambda term: (term / "qti30" / "week-1-sums.zip").unlink(),
    "a package of a stranger": lambda term: (term / "qti30" / "week-9.zip").write_text("mine"),
    "a part file left": lambda term: (term / ".stemwright-1-1.part").write_text(""),
    "a lock file left": lambda term: (term / LOCK).write_text("{}"),
}
CODES = {"file-differs", "file-unreadable", "file-missing", "file-unknown", "page-wrong", "left-over"}


@pytest.mark.parametrize("fault", FAULTS)
def test_what_is_wrong_in_a_folder_is_named(
    term: Path, capsys: pytest.CaptureFixture[str], fault: str
) -> None:
    FAULTS[fault](term)
    status, said, told = _verified(term, capsys)
    assert status == 2 and "Traceback" not in told and "fault of the tool" not in told
    assert 1 <= len(told.splitlines()) <= 3 and str(term) in told
    assert "changed before that" not in told, "what is made again elsewhere is no change"
    assert "Items: 20 read" in said, "the rest is checked all the same"


def test_every_code_of_a_folder_is_demanded(whole: Path, tmp_path: Path) -> None:
    from bank.commands._verifying import verify

    seen = set()
    for number, fault in enumerate(FAULTS.values()):
        term = tmp_path / str(number)
        shutil.copytree(whole, term)
        fault(term)
        seen |= {problem.code for problem in verify(term, term / "bank.sqlite", 1).wrong}
    assert seen == CODES


def test_an_item_whose_key_is_wrong_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with_another_key_marked().save(tmp_path / "bank.sqlite")
    status, said, told = _verified(tmp_path, capsys)
    assert status == 2 and "item " in told and "do not use it" in told
    assert "Review page: there is none" in said


def test_a_tampered_bank_is_one_message_and_nothing_else_is_claimed(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    connection = sqlite3.connect(term / "bank.sqlite", isolation_level=None)
    connection.execute("UPDATE items SET band = 'hard' WHERE position = 1")
    connection.close()
    status, said, told = _verified(term, capsys)
    assert (status, said) == (2, "") and len(told.splitlines()) == 1


def test_a_folder_that_is_not_there_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["verify", str(tmp_path / "none")]) == 2
    assert "no such folder" in capsys.readouterr().err


def test_a_folder_in_which_a_run_is_at_work_is_left_alone(term: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with Run(term, "build"):
        status, said, told = _verified(term, capsys)
    assert (status, said) == (2, "") and "stemwright build (process" in told


def test_a_run_that_was_killed_between_its_moves_is_completed_first(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (term / ".stemwright-1-2.part").write_bytes((term / "review.html").read_bytes())
    (term / "review.html").unlink()
    (term / RECORD).write_text(json.dumps({"moves": [[".stemwright-1-2.part", "review.html"]], "removed": []}))
    (term / "csv" / "items.csv").write_text("changed")
    assert cli.main(["verify", str(term), "--jobs", "1"]) == 2
    assert not (term / RECORD).exists() and (term / "review.html").exists()
    told = capsys.readouterr().err
    assert "as they were" not in told and f"changed before that: {term / 'review.html'}\n" in told


def test_packages_of_an_earlier_bank_are_said_by_build_and_verify_and_removed_by_export(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = read_list(term)["qti30"].bank
    (term / "qti30" / "notes.txt").write_text("mine")
    _build(term, seed=2)
    told = capsys.readouterr().err
    assert told.count(before) == 3 and "export it again --as qti30" in told
    status, _, told = _verified(term, capsys)
    assert status == 2 and told.count(f"made from the bank {before}") == 3
    _export(term / "bank.sqlite", term, "--quiz", "week-1-sums", targets=("qti30",))
    assert "csv was made from another bank" in capsys.readouterr().err
    names = sorted(path.name for path in (term / "qti30").iterdir())
    assert names == ["notes.txt", "week-1-sums.portability.csv", "week-1-sums.portability.html", "week-1-sums.zip"]
    _export(term / "bank.sqlite", term)
    capsys.readouterr()
    (term / "qti30" / "notes.txt").unlink()
    assert _verified(term, capsys)[0] == 0


def test_tables_of_an_audit_are_held_to_the_bank_by_its_fingerprint(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["audit", str(term / "bank.sqlite")]) == 0
    capsys.readouterr()
    status, said, _ = _verified(term, capsys)
    assert status == 0 and "only the name was compared" in said
    table = term / "audit" / "options.csv"
    table.write_text(table.read_text().replace(read_list(term)["csv"].bank, "aaaa-bbbb-cccc-dddd", 3))
    status, _, told = _verified(term, capsys)
    assert status == 2 and str(table) in told and "aaaa-bbbb-cccc-dddd" in told


def test_packages_elsewhere_are_held_against_the_bank_that_is_named(
    whole: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _export(whole / "bank.sqlite", tmp_path, "--quiz", "week-1-sums")
    _export(whole / "bank.sqlite", tmp_path / "trial", "--quiz", "week-1-sums", "--trial")
    capsys.readouterr()
    for folder in (tmp_path, tmp_path / "trial"):
        assert _verified(folder, capsys, "--bank", str(whole / "bank.sqlite"))[0] == 0
    assert cli.main(["verify", str(tmp_path)]) == 2
    told = capsys.readouterr().err
    assert "no bank in this folder" in told and "--bank" in told


def test_without_its_list_a_folder_is_still_held_against_the_bank(
    term: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (term / LIST).unlink()
    assert _verified(term, capsys)[0] == 0


@pytest.mark.parametrize("said", ["", "[]", '{"qti30": 7}', '{"qti30": {"bank": "x"}}', "[" * 100_000,
                                  '{"../x": {"bank": "a", "without": [], "files": {}}}'])
def test_a_list_that_is_none_says_nothing(tmp_path: Path, said: str) -> None:
    (tmp_path / LIST).write_text(said)
    assert read_list(tmp_path) == {}


def test_a_list_reaches_no_file_in_another_folder(tmp_path: Path) -> None:
    (tmp_path / "precious.txt").write_text("mine")
    files = {"../precious.txt": ["0", None, False], "a.zip": ["0", None, False]}
    (tmp_path / LIST).write_text(json.dumps({"qti30": {"bank": "old", "without": [], "files": files}}))
    assert list(read_list(tmp_path)["qti30"].files) == ["a.zip"]
    bank = sampler.bank().save(tmp_path / "bank.sqlite")
    _export(bank, tmp_path, targets=("qti30",))
    assert (tmp_path / "precious.txt").read_text() == "mine"


def test_an_identifier_that_is_not_that_of_the_content_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    items = [replace(item, identifier=identifier_of(item, sampler.bank().info.locale)) for item in sampler.bank().items()]
    sampler.bank(items=tuple(items), quizzes=()).save(tmp_path / "bank.sqlite")
    assert "identifier: " not in _verified(tmp_path, capsys)[2]
    items[3] = replace(items[3], identifier="ragged-sum-v1-aaaaaaaaaaaaa")
    sampler.bank(items=tuple(items), quizzes=()).save(tmp_path / "bank.sqlite")
    status, _, told = _verified(tmp_path, capsys)
    assert status == 2 and "item ragged-sum-v1-aaaaaaaaaaaaa: identifier: its content has" in told


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_a_decision_made_while_a_build_goes_on_is_on_its_page(
    term: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, jobs: str
) -> None:
    true = build._write

    def decided_meanwhile(*arguments: Any) -> Any:
        written = true(*arguments)
        with Bank.open(term / "bank.sqlite") as bank:
            item = bank.identifiers()[0]
        add_decisions(term / "bank.decisions.csv", [Decision("2026-01-01T00:00Z", "me", item, 1, "retire", "why", "", "")])
        return written

    monkeypatch.setattr(build, "_write", decided_meanwhile)
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(term), "--seed", "1", "--jobs", jobs]) == 0
    said = _verified(term, capsys)[1]
    assert "Review page: made again from the bank, the same byte for byte" in said
