"""``stemwright sample`` as a person types it."""

from __future__ import annotations

from pathlib import Path

import pytest
from results_bank import QUIZ, bank_path

from bank.cli import main


def test_sample_says_that_its_results_are_simulated(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    target, truth = tmp_path / "s.csv", tmp_path / "t.csv"
    words = ["sample", str(bank_path()), "--pupils", "12", "--seed", "4", "--groups", "5a", "5b", "-o", str(target)]
    assert main([*words, "--truth", str(truth)]) == 0
    said = capsys.readouterr().out
    assert said.startswith("Simulated, nobody gave these answers") and "120 answers" in said
    assert target.read_text(encoding="utf-8").count(",yes,") == 120 and truth.stat().st_size


@pytest.mark.parametrize(("more", "said"), [
    (["-o", "x.txt"], "--as"), (["-o", "x.csv", "--quiz", "week-7"], "no quiz 'week-7'"),
    (["-o", "x.csv", "--seed", "-1"], "no seed"), (["-o", "x.csv", "--pupils", "0"], "no number of pupils"),
])
def test_sample_refuses_what_it_cannot_make(
    more: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    assert main(["sample", str(bank_path()), "--pupils", "5", "--seed", "1", *more]) == 2
    assert said in capsys.readouterr().err and not list(tmp_path.iterdir())


def test_the_name_or_the_option_says_the_form(tmp_path: Path) -> None:
    words = ["sample", str(bank_path()), "--pupils", "3", "--seed", "4", "--quiz", QUIZ]
    assert main([*words, "-o", str(tmp_path / "a-wide.csv")]) == 0
    assert main([*words, "-o", str(tmp_path / "b.zip")]) == 0
    assert main([*words, "--as", "wide", "-o", str(tmp_path / "c.txt")]) == 0
    assert (tmp_path / "a-wide.csv").read_bytes() == (tmp_path / "c.txt").read_bytes()
    assert (tmp_path / "b.zip").read_bytes()[:2] == b"PK"
