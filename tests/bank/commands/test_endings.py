"""How commands end that are stopped, lose a worker, or cannot print."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from processes import LONG_PLAN, children_of, runs, started, within
from sweeps import sweep

from bank import cli

pytestmark = pytest.mark.long

ROOT = Path(__file__).resolve().parents[3]
FIRST_STEPS = ROOT / "bank" / "content" / "plans" / "first-steps.yaml"
PATIENCE = 5.0
NEEDS_PROC = pytest.mark.skipif(not list(Path("/proc/self/task").glob("*/children")), reason="needs /proc with children")
NEEDS_CORES = pytest.mark.skipif((os.cpu_count() or 1) < 2, reason="needs two cores")


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("built")
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(folder), "--jobs", "1"]) == 0
    return folder


def _contents(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()}


def _long_build(folder: Path, built: Path) -> tuple[subprocess.Popen[str], dict[str, bytes], list[int]]:
    """Begin a build in *folder*, which holds what was *built*; return it, the files, and its workers."""
    folder.mkdir()
    for name in ("bank.sqlite", "review.html"):
        (folder / name).write_bytes((built / name).read_bytes())
    before = _contents(folder)
    plan = folder.parent / "long.yaml"
    plan.write_text(LONG_PLAN)
    running = started("build", str(plan), "-o", str(folder), "--jobs", "2")
    assert within(20, lambda: len(children_of(running.pid)) == 2 and (folder / ".stemwright-lock").exists())
    return running, before, children_of(running.pid)


@NEEDS_PROC
@pytest.mark.parametrize("sent", sweep([("SIGTERM", False), ("SIGINT", True), ("SIGTERM", True), ("SIGHUP", False)], 4))
def test_a_signal_ends_a_build_with_its_status_and_leaves_files_as_they_were(
    tmp_path: Path, built: Path, sent: tuple[str, bool]
) -> None:
    name, to_all = sent
    running, before, workers = _long_build(tmp_path / "term", built)
    number = getattr(signal, name)
    os.killpg(running.pid, number) if to_all else running.send_signal(number)
    said, told = running.communicate(timeout=PATIENCE)
    assert running.returncode == 128 + number
    assert said == "" and told.strip() == "stemwright: interrupted; files are as they were"
    assert within(PATIENCE, lambda: not any(map(runs, workers)))
    assert _contents(tmp_path / "term") == before


@NEEDS_PROC
def test_a_build_that_is_killed_leaves_no_worker_and_the_next_command_no_part(tmp_path: Path, built: Path) -> None:
    running, before, workers = _long_build(tmp_path / "term", built)
    running.kill()
    running.communicate(timeout=PATIENCE)
    assert within(PATIENCE, lambda: not any(map(runs, workers)))
    after = _contents(tmp_path / "term")
    assert {name: after[name] for name in before} == before
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(tmp_path / "term"), "--jobs", "1"]) == 0
    assert _contents(tmp_path / "term") == before


@NEEDS_PROC
@NEEDS_CORES
def test_a_worker_that_is_killed_is_named_and_files_are_as_they_were(tmp_path: Path, built: Path) -> None:
    running, before, workers = _long_build(tmp_path / "term", built)
    os.kill(workers[1], signal.SIGKILL)
    said, told = running.communicate(timeout=PATIENCE)
    assert running.returncode == 1
    assert f"process {workers[1]}" in told and "signal 9" in told and "files are as they were" in told
    assert said == "" and len(told.splitlines()) == 1
    assert within(PATIENCE, lambda: not any(map(runs, workers)))
    assert _contents(tmp_path / "term") == before


@NEEDS_PROC
def test_a_second_build_is_refused_while_the_first_goes_on(
    tmp_path: Path, built: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    running, _, _ = _long_build(tmp_path / "term", built)
    try:
        assert cli.main(["build", str(FIRST_STEPS), "-o", str(tmp_path / "term")]) == 2
        assert f"stemwright build (process {running.pid} on" in capsys.readouterr().err
        words = ["export", str(tmp_path / "term" / "bank.sqlite"), "--as", "csv", "-o", str(tmp_path / "term")]
        assert cli.main(words) == 2
        assert running.poll() is None
    finally:
        running.terminate()
        running.communicate(timeout=PATIENCE)


def test_what_was_changed_before_an_interrupt_is_said(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    import bank.summary

    def interrupted(*_: object) -> str:
        os.kill(os.getpid(), signal.SIGTERM)
        return ""

    monkeypatch.setattr(bank.summary, "terminal_summary", interrupted)
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(tmp_path), "--jobs", "1"]) == 128 + signal.SIGTERM
    told = capsys.readouterr().err
    assert "as they were" not in told and str(tmp_path / "bank.sqlite") in told and str(tmp_path / "review.html") in told
    assert signal.getsignal(signal.SIGTERM) is signal.SIG_DFL


def _shell(line: str, **environment: str) -> subprocess.CompletedProcess[str]:
    command = f"{sys.executable} -m bank.cli"
    return subprocess.run(
        ["bash", "-o", "pipefail", "-c", line.replace("stemwright ", f"{command} ", 1)], capture_output=True, text=True, check=False,
        errors="replace", env={**os.environ, **environment},
    )


def _commands(built: Path, folder: Path) -> list[str]:
    bank = built / "bank.sqlite"
    return [
        f"stemwright check {FIRST_STEPS}", f"stemwright build {FIRST_STEPS} -o {folder}/b --jobs 1",
        f"stemwright export {bank} --as csv -o {folder}/e --jobs 1", f"stemwright audit {bank} -o {folder}/a",
    ]


WRITTEN = {"b/bank.sqlite", "b/review.html", "e/csv/items.csv", "a/audit.html", "a/audit.csv"}


@pytest.mark.skipif(os.name == "nt", reason="needs a shell")
@pytest.mark.parametrize("end", sweep([">&-", "| true", "<&- >&- 2>&-"], 3))
def test_nobody_listening_changes_neither_work_nor_status(tmp_path: Path, built: Path, end: str) -> None:
    for line in ["stemwright --help", *_commands(built, tmp_path)]:
        done = _shell(f"{line} {end}")
        assert (done.returncode, done.stderr) == (0, ""), line
    assert {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*")} >= WRITTEN


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is full")
def test_a_full_output_is_said_after_the_work_is_done(tmp_path: Path, built: Path) -> None:
    for line in _commands(built, tmp_path):
        done = _shell(f"{line} > /dev/full")
        assert done.returncode == 2, line
        assert "standard output cannot be written" in done.stderr and len(done.stderr.splitlines()) == 1
        assert "Traceback" not in done.stderr and "Exception" not in done.stderr
        assert ("as they were" in done.stderr) == (" check " in line)
    assert {str(path.relative_to(tmp_path)) for path in tmp_path.rglob("*")} >= WRITTEN
    assert _shell(f"{_commands(built, tmp_path)[0]} > /dev/full 2> /dev/full").returncode == 2


@pytest.mark.skipif(os.name == "nt", reason="needs a shell")
@pytest.mark.parametrize("settings", sweep([
    {"LC_ALL": "C", "PYTHONCOERCECLOCALE": "0", "PYTHONUTF8": "0"}, {"PYTHONIOENCODING": "latin-1"},
], 2))
def test_an_output_that_knows_few_characters_is_no_fault(tmp_path: Path, built: Path, settings: dict[str, str]) -> None:
    for line in _commands(built, tmp_path):
        done = _shell(line, **settings)
        assert (done.returncode, done.stderr) == (0, ""), line
        assert done.stdout


def test_signs_that_an_output_does_not_know_are_spelled() -> None:
    from bank import console

    with console.opened():
        assert "3 \u2212 4 \u00d7 \u20ac5 \u2026".encode("ascii", console.ERRORS) == b"3 - 4 x \\u20ac5 ..."
        assert "a \u2192 b".encode("ascii", console.ERRORS) == b"a -> b"
        name = "\u00dcbung".encode().decode("ascii", "surrogateescape")  # as Python gives it in a C locale
        assert name.encode("ascii", console.ERRORS) == "\u00dcbung".encode()
