"""Results kept only where asked, twice without change; and forgotten without a trace in the file."""

from __future__ import annotations

import shutil
import stat
from pathlib import Path

import pytest
from results_bank import QUIZ, bank_path

from bank.audit.kept import forget, is_kept, keep, kept_answers, kept_path
from bank.audit.pseudonyms import load_salt
from bank.audit.reading import read_results
from bank.audit.records import NOT_GIVEN, Answers
from bank.audit.simulation import Settings, simulate, write_results
from bank.cli import main
from bank.errors import BadInput
from bank.store import Bank


@pytest.fixture
def room(tmp_path: Path) -> Path:
    """Return a folder with a bank, results of 12 pupils, and a salt."""
    shutil.copy(bank_path(), tmp_path / "bank.sqlite")
    with Bank.open(tmp_path / "bank.sqlite") as bank:
        made = simulate(bank, pupils=12, seed=2, settings=Settings(omitted=0.2, slow_share=0.3, not_given=0.1))
    write_results(made, tmp_path / "r.csv", "long")
    load_salt(tmp_path / "own" / "salt")
    return tmp_path


def answers(room: Path, *names: str) -> Answers:
    with Bank.open(room / "bank.sqlite") as bank:
        return read_results(bank, [room / name for name in names or ("r.csv",)], salt=room / "own" / "salt")


def given(found: Answers) -> list[object]:
    return [(form.form, [found.pupils[pupil] for pupil in form.pupils], form.codes.tolist()) for form in found.forms]


def test_nothing_is_kept_unless_asked_and_the_bank_never_changes(room: Path) -> None:
    before = (room / "bank.sqlite").read_bytes()
    answers(room)
    assert {path.name for path in room.iterdir()} == {"bank.sqlite", "r.csv", "own", "results-columns.json"}
    keep(kept_path(room / "bank.sqlite"), answers(room))
    assert (room / "bank.sqlite").read_bytes() == before


def test_keeping_twice_changes_nothing(room: Path) -> None:
    path = kept_path(room / "bank.sqlite")
    first = keep(path, answers(room))
    content = list(kept_answers(path))
    again = keep(path, answers(room))
    assert first.added == len(content) > 0 and first.known == first.differing == 0
    assert again == (0, first.added, 0) and list(kept_answers(path)) == content
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_no_answer_is_lost_where_pieces_meet(room: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("bank.audit.kept._PIECE", 7)
    found = answers(room)
    kept = keep(kept_path(room / "bank.sqlite"), found)
    assert kept.added == sum(int((form.codes != NOT_GIVEN).sum()) for form in found.forms) > 7


def test_kept_results_are_read_like_the_files_they_came_from(room: Path) -> None:
    path = kept_path(room / "bank.sqlite")
    fresh = answers(room)
    keep(path, fresh)
    kept = answers(room, "results.sqlite")

    def by_pupil(found: Answers) -> list[object]:
        return [
            (form.form, sorted(zip([found.pupils[pupil] for pupil in form.pupils], form.codes.tolist())))
            for form in found.forms
        ]

    assert by_pupil(kept) == by_pupil(fresh) and kept.simulated
    assert by_pupil(answers(room, "results.sqlite", "r.csv")) == by_pupil(fresh)


def test_another_answer_of_the_same_sitting_does_not_replace_the_kept_one(room: Path) -> None:
    path = kept_path(room / "bank.sqlite")
    keep(path, answers(room))
    before = list(kept_answers(path))
    text = (room / "r.csv").read_text(encoding="utf-8").split("\n")
    row = next(number for number, line in enumerate(text) if ",A,," in line)
    text[row] = text[row].replace(",A,,", ",B,,")
    (room / "r.csv").write_text("\n".join(text), encoding="utf-8")
    assert keep(path, answers(room)).differing == 1 and list(kept_answers(path)) == before


def test_a_forgotten_pupil_is_gone_from_the_bytes_of_the_file(room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = kept_path(room / "bank.sqlite")
    keep(path, answers(room))
    digest = load_salt(room / "own" / "salt").digest("pupil-03")
    assert digest.encode() in path.read_bytes()
    words = ["forget", str(room / "bank.sqlite"), "--pupil", "pupil-03", "--salt", str(room / "own" / "salt")]
    assert main(words) == 0
    assert "1 pupil deleted" in capsys.readouterr().out
    assert digest.encode() not in path.read_bytes() and len({one.pupil for one in kept_answers(path)}) == 11
    assert main(words) == 0 and "nothing was changed" in capsys.readouterr().out


def test_a_quiz_can_be_forgotten_and_all_of_it_is(room: Path) -> None:
    path = kept_path(room / "bank.sqlite")
    keep(path, answers(room))
    done = forget(path, quiz=QUIZ)
    assert done.pupils == 12 and QUIZ.encode() not in path.read_bytes()
    assert {one.quiz for one in kept_answers(path)} == {"week-1-differences"}


@pytest.mark.parametrize(("words", "said"), [
    ([], "nothing is named"), (["--quiz", "week-1"], "no results are kept"),
    (["--pupil", "P1", "--salt", "missing"], "no such salt"),
])
def test_forget_says_what_it_needs(words: list[str], said: str, room: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["forget", str(room / "bank.sqlite"), *words]) == 2
    assert said in capsys.readouterr().err


def test_another_file_is_not_taken_for_kept_results(room: Path) -> None:
    assert not is_kept(room / "bank.sqlite") and not is_kept(room / "r.csv") and not is_kept(room / "missing")
    with pytest.raises(BadInput, match="no file of kept results"):
        forget(room / "bank.sqlite", quiz=QUIZ)
