"""Items of quizzes without feedback: of their own, without feedback in every file, in the bank's package only if asked for."""

from __future__ import annotations

import csv
import zipfile
from pathlib import Path

import identities
import pytest
import sampler
from exported import exporter, ignore
from identities import Case

from bank import cli
from bank.store import Bank, Shelf
from exporters._faults import ExportFault

PACKED = ("qti30", "qti22", "qti21", "cc13")


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return identities.built(Case("three wrong options", 7, "en-point"), tmp_path_factory.mktemp("graded"))


def export(source: Path, folder: Path, *words: str) -> None:
    targets = [word for target in (*PACKED, "csv") for word in ("--as", target)]
    assert cli.main(["export", str(source), *targets, "--jobs", "1", "-o", str(folder), *words]) == 0


def package(folder: Path, name: str) -> str:
    (path,) = [path for path in folder.iterdir() if path.stem == name]
    with zipfile.ZipFile(path) as files:
        return "\n".join([name + files.read(name).decode() for name in files.namelist()])


def silent_in(source: Path) -> tuple[list[str], list[str]]:
    """Return the items that the graded quiz holds, and all others."""
    with Bank.open(source) as bank:
        graded = [item for quiz in bank.quizzes if quiz.use == "graded" for item in quiz.items]
        assert [item.identifier for item in bank.items() if not item.shows_feedback] == graded
        return graded, [name for name in bank.identifiers() if name not in graded]


@pytest.mark.parametrize("jobs", ["1", "2"])
def test_the_package_of_the_bank_leaves_graded_items_out_and_says_so(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], jobs: str
) -> None:
    export(source, tmp_path, "--jobs", jobs)
    told = capsys.readouterr().err
    graded, others = silent_in(source)
    assert len(graded) == 12
    for target in PACKED:
        assert f"{target}: the package of the whole bank leaves out the 12 items of test," in told
        whole = package(tmp_path / target, "bank")
        assert not [name for name in graded if name in whole]
        assert all(name in whole for name in others)
        assert all(name in package(tmp_path / target, "test") for name in graded)
    assert "--graded puts them in" in told and "csv: the package" not in told


def test_asked_for_they_are_there_without_feedback_under_their_own_names(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    export(source, tmp_path, "--graded")
    assert "leaves out" not in capsys.readouterr().err
    graded, _ = silent_in(source)
    for target in ("qti30", "qti22", "qti21"):
        with zipfile.ZipFile(tmp_path / target / "bank.zip") as whole, zipfile.ZipFile(tmp_path / target / "test.zip") as quiz:
            for name in graded:
                content = whole.read(f"items/{name}.xml")
                assert content == quiz.read(f"items/{name}.xml")
                assert b"FEEDBACK" not in content and b"stemwright-method" not in content
    for name in graded:
        assert name in package(tmp_path / "cc13", "bank")


def test_the_tables_hold_all_items_and_mark_these(source: Path, tmp_path: Path) -> None:
    export(source, tmp_path)
    graded, others = silent_in(source)
    with (tmp_path / "csv" / "items.csv").open(encoding="utf-8", newline="") as file:
        marked = {row["item"]: row["shows_feedback"] for row in csv.DictReader(file)}
    assert marked == {**dict.fromkeys(others, "yes"), **dict.fromkeys(graded, "no")}
    with (tmp_path / "csv" / "tables.portability.csv").open(encoding="utf-8", newline="") as file:
        assert {row["item"] for row in csv.DictReader(file) if row["item"]} == set(marked)
    with (tmp_path / "qti30" / "bank.portability.csv").open(encoding="utf-8", newline="") as file:
        assert {row["item"] for row in csv.DictReader(file) if row["item"]} == set(others)


def test_a_trial_tries_no_graded_item_where_there_are_others(source: Path, tmp_path: Path) -> None:
    export(source, tmp_path, "--trial")
    graded, _ = silent_in(source)
    assert not [name for name in graded if name in package(tmp_path / "qti30", "trial")]
    export(source, tmp_path / "test", "--trial", "--quiz", "test")
    tried = package(tmp_path / "test" / "qti30", "trial")
    assert [name for name in graded if name in tried] and "FEEDBACK" not in tried


@pytest.mark.parametrize("name", PACKED)
def test_an_item_that_shows_what_its_quiz_keeps_back_is_never_written(name: str, tmp_path: Path) -> None:
    bank = sampler.SamplerBank(sampler.info(), sampler.QUIZZES, sampler.ITEMS)
    for quiz in (sampler.QUIZZES[0],):
        wrong = sampler.replace(quiz, show_feedback=False)
        with pytest.raises(ExportFault, match="otherwise than its quiz"):
            exporter(name).write(
                Shelf(tmp_path), bank, [wrong], tmp_path, whole_bank=False, jobs=1, progress=ignore
            )
        assert not list(tmp_path.glob("*/*"))


def test_an_item_that_is_to_show_feedback_elsewhere_is_another_item(source: Path) -> None:
    from bank import identity

    with Bank.open(source) as bank:
        silent = next(item for item in bank.items() if not item.shows_feedback)
        shown = identity.with_feedback(silent, bank.info.locale)
    assert shown.shows_feedback and shown.identifier != silent.identifier
    assert shown == sampler.replace(silent, shows_feedback=True, identifier=shown.identifier)
