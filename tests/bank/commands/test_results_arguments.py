"""What commands that read results take and say."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest
from results_bank import bank_path

from bank.audit.kept import kept_answers, kept_path
from bank.audit.records import Answers
from bank.audit.simulation import simulate, write_results
from bank.commands._results import add_results_arguments, answers_from, mapping_from, reading_lines
from bank.errors import BadInput
from bank.store import Bank


def test_results_are_read_said_and_kept_when_asked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "bank.sqlite").write_bytes(bank_path().read_bytes())
    parser = argparse.ArgumentParser()
    add_results_arguments(parser)
    with Bank.open(tmp_path / "bank.sqlite") as bank:
        write_results(simulate(bank, pupils=5, seed=1), tmp_path / "r.csv", "long")
        words = ["--results", str(tmp_path / "r.csv"), "--salt", str(tmp_path / "salt"), "--keep"]
        answers = answers_from(parser.parse_args(words), bank)
    said = capsys.readouterr()
    assert "columns (guessed): pupil = column 'pupil'" in said.out and "SIMULATED" in said.out
    assert "50 answers of 5 pupils count" in said.out and "50 new answers" in said.out
    assert "lies beside the bank" in said.out and "a new salt was made" in said.out
    assert "personal data" in said.err
    assert answers.rows == len(list(kept_answers(kept_path(tmp_path / "bank.sqlite")))) == 50


def test_a_mapping_is_pairs() -> None:
    assert mapping_from(["pupil=Code", "Response=Your answer = x"]) == {"pupil": "Code", "response": "Your answer = x"}
    with pytest.raises(BadInput, match="no pair"):
        mapping_from(["pupil"])


def test_rows_that_do_not_count_are_listed_and_capped() -> None:
    answers = Answers(forms=(), pupils=(), rows=3, rejected=tuple(("f.csv", row, "why") for row in range(25)))
    lines = reading_lines(answers)
    assert lines[1] == "25 rows do not count:" and lines[2] == "  f.csv, row 0: why" and lines[-1] == "  ... and 15 more"
