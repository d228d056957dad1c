"""Results belong to the bank whose items they name: those of another are refused, saying whose they are."""

from __future__ import annotations

import csv
import shutil
from pathlib import Path

import identities
import pytest
from identities import Case

from bank import cli
from bank.store import Bank

FORMS = ("long.csv", "wide.csv", "results.zip")


@pytest.fixture(scope="module")
def banks(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """Return two banks of one plan and two seeds, in folders side by side."""
    room = tmp_path_factory.mktemp("belonging")
    made = []
    for name, seed in (("mine", 1), ("other", 2)):
        (room / name).mkdir()
        built = identities.built(Case("further kinds", seed, "en-point"), room / f"built-{name}")
        made.append(Path(shutil.copy(built, room / name / "bank.sqlite")))
        shutil.rmtree(room / f"built-{name}")
    return made[0], made[1]


def fingerprint(path: Path) -> str:
    with Bank.open(path) as bank:
        return bank.fingerprint


def sample(path: Path, target: Path) -> None:
    assert cli.main(["sample", str(path), "--pupils", "25", "--seed", "3", "--quiz", "practice", "-o", str(target)]) == 0


def perfect(path: Path, target: Path) -> None:
    """Write the right answers of 25 pupils to the quiz ``practice`` of the bank at *path*."""
    with Bank.open(path) as bank, target.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file).writerow
        write(("pupil", "quiz", "item", "response"))
        for item in bank.items(next(quiz for quiz in bank.quizzes if quiz.identifier == "practice").items):
            response = item.response
            right = " ".join(getattr(response, "right", ())) or " ".join(
                [one.identifier for one in getattr(response, "options", ()) if one.is_key]
            ) or " ".join([name for pair in getattr(response, "pairs", ()) for name in pair])
            for pupil in range(25):
                write((f"c{pupil:02}", "practice", item.identifier, right))


def audit(path: Path, results: Path, folder: Path) -> int:
    return cli.main([
        "audit", str(path), "--results", str(results), "--salt", str(folder / "salt"), "-o", str(folder / "audit")
    ])


@pytest.mark.parametrize("form", FORMS)
def test_results_of_another_seed_are_refused_and_their_bank_is_named(
    banks: tuple[Path, Path], form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, other = banks
    sample(other, tmp_path / form)
    capsys.readouterr()
    assert audit(mine, tmp_path / form, tmp_path) == 2
    told = capsys.readouterr().err
    assert "9 of the 9 items in these results are not in this bank" in told
    assert fingerprint(mine) in told and fingerprint(other) in told and str(other) in told
    assert not (tmp_path / "audit").exists()


def test_what_is_no_fingerprint_is_not_repeated_from_results(
    banks: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, other = banks
    sample(other, tmp_path / "results.csv")
    text = (tmp_path / "results.csv").read_text(encoding="utf-8")
    (tmp_path / "results.csv").write_text(text.replace(fingerprint(other), "Tansy Quill 4 Elm Row"), encoding="utf-8")
    capsys.readouterr()
    assert audit(mine, tmp_path / "results.csv", tmp_path) == 2
    told = "".join(capsys.readouterr())
    assert "are not in this bank" in told and "Tansy" not in told and "Elm" not in told


def test_perfect_answers_to_another_seed_are_refused_without_a_fingerprint_in_the_file(
    banks: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, other = banks
    perfect(other, tmp_path / "results.csv")
    assert audit(mine, tmp_path / "results.csv", tmp_path) == 2
    told = capsys.readouterr().err
    assert "are not in this bank" in told and f"{other} (fingerprint {fingerprint(other)}) has them" in told
    assert audit(other, tmp_path / "results.csv", tmp_path) == 0


def test_a_few_items_of_another_bank_are_left_out_and_said_first(
    banks: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, other = banks
    perfect(mine, tmp_path / "results.csv")
    perfect(other, tmp_path / "other.csv")
    lines = (tmp_path / "other.csv").read_text(encoding="utf-8").splitlines()[1:]
    few = [line for line in lines if line.split(",")[2] == lines[0].split(",")[2]]
    with (tmp_path / "results.csv").open("a", encoding="utf-8", newline="") as file:
        file.write("\r\n".join([*few, ""]))
    assert audit(mine, tmp_path / "results.csv", tmp_path) == 0
    told = capsys.readouterr().out
    assert "! 25 answers are to 1 item that this bank does not have" in told
    assert "25 answers are to 1 item " in (tmp_path / "audit" / "audit.html").read_text(encoding="utf-8")


def test_a_teacher_s_own_questions_are_no_items_of_another_bank(
    banks: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    mine, _ = banks
    perfect(mine, tmp_path / "results.csv")
    with (tmp_path / "results.csv").open("a", encoding="utf-8", newline="") as file:
        file.writelines([f"c00,practice,my-question-{number},7\r\n" for number in range(40)])
    assert audit(mine, tmp_path / "results.csv", tmp_path) == 0
    told = capsys.readouterr().out
    assert "this bank does not have" not in told and "rows do not count" in told


def test_a_quiz_is_known_by_the_name_that_its_package_gives_it(
    banks: tuple[Path, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    from bank import identity

    mine, _ = banks
    perfect(mine, tmp_path / "results.csv")
    with Bank.open(mine) as bank:
        quiz = next(quiz for quiz in bank.quizzes if quiz.identifier == "practice")
        name = identity.test_identifier_of(quiz, bank.info.locale)
    text = (tmp_path / "results.csv").read_text(encoding="utf-8").replace(",practice,", f",{name},")
    (tmp_path / "results.csv").write_text(text, encoding="utf-8")
    assert audit(mine, tmp_path / "results.csv", tmp_path) == 0
    assert "225 answers of 25 pupils count" in capsys.readouterr().out
