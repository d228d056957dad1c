"""A short round of the figures about killed and concurrent runs."""

from __future__ import annotations

import sys
from pathlib import Path

import folder_figures
import pytest


@pytest.mark.long
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="needs /proc")
def test_no_kill_and_no_pair_leaves_files_of_two_runs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["folder_figures.py", "--kills", "16", "--pairs", "4", "--seed", "3"])
    folder_figures.main()
    said = capsys.readouterr().out
    assert "16 kills" in said and "4 pairs" in said and "SIGKILL" in said
    assert "WRONG" not in said
