"""A disk that fills at any moment: one message, status 2, files as they were, nothing left waiting."""

from __future__ import annotations

import subprocess
import sys
from functools import partial
from pathlib import Path

import pytest

from bank import cli
from wanted import FILE_LIMITS, needs

pytestmark = pytest.mark.long

resource = pytest.importorskip("resource", reason=needs(FILE_LIMITS))

ROOT = Path(__file__).resolve().parents[3]
FIRST_STEPS = ROOT / "bank" / "content" / "plans" / "first-steps.yaml"
SIZES = {"build": (0, 100, 5_000, 60_000, 200_000), "export": (0, 1_000, 20_000, 60_000), "audit": (0, 20_000)}
"""Bytes that no file may exceed: from the lock file to the review page, which is the largest."""


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("built")
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(folder), "--jobs", "1"]) == 0
    assert cli.main(["export", str(folder / "bank.sqlite"), "--as", "qti30", "-o", str(folder), "--jobs", "1"]) == 0
    return folder


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def _limited(size: int, words: list[str]) -> subprocess.CompletedProcess[str]:
    limit = partial(resource.setrlimit, resource.RLIMIT_FSIZE, (size, size))
    return subprocess.run(
        [sys.executable, "-B", "-m", "bank.cli", *words], capture_output=True, text=True, check=False, preexec_fn=limit
    )


@pytest.mark.parametrize(("command", "size"), [(command, size) for command, sizes in SIZES.items() for size in sizes])
def test_a_file_that_cannot_grow_further_stops_a_run_without_a_trace(
    built: Path, tmp_path: Path, command: str, size: int
) -> None:
    for name, content in _contents(built).items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_bytes(content)
    bank = str(tmp_path / "bank.sqlite")
    words = {
        "build": ["build", str(FIRST_STEPS), "-o", str(tmp_path), "--seed", "5", "--jobs", "1"],
        "export": ["export", bank, "--as", "qti30", "--as", "csv", "-o", str(tmp_path), "--jobs", "1"],
        "audit": ["audit", bank, "-o", str(tmp_path)],
    }[command]
    before = _contents(tmp_path)
    done = _limited(size, words)
    if done.returncode == 0:
        assert size >= 60_000 and command != "build", "it has room for all its files"
        return
    assert done.returncode == 2 and done.stdout == ""
    assert "cannot be written" in done.stderr and "Traceback" not in done.stderr
    assert done.stderr.splitlines()[-1] == "files are as they were" and len(done.stderr.splitlines()) == 2
    assert _contents(tmp_path) == before
