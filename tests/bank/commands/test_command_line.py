"""The command line as a person types it: what it prints, where, and its exit status."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[3]
FIRST_STEPS = ROOT / "bank" / "content" / "plans" / "first-steps.yaml"


def run(*words: str, cwd: Path | None = None, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run ``stemwright`` with *words*."""
    return subprocess.run(
        [sys.executable, "-m", "bank.cli", *words], capture_output=True, text=True, check=False, cwd=cwd,
        env={**os.environ, **environment},
    )


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("term")
    done = run("build", str(FIRST_STEPS), "-o", str(folder))
    assert done.returncode == 0, done.stderr
    return folder


def _is_one_clear_refusal(done: subprocess.CompletedProcess[str]) -> bool:
    return done.returncode == 2 and "Traceback" not in done.stderr and bool(done.stderr.strip()) and not done.stdout


def test_help_lists_the_commands_with_a_line_each() -> None:
    done = run("--help")
    assert done.returncode == 0
    assert [name for name in ("build", "check", "export") if f"\n    {name} " in done.stdout] == ["build", "check", "export"]


def test_a_command_that_does_not_exist_is_refused() -> None:
    done = run("brew")
    assert done.returncode == 2
    assert "brew" in done.stderr


def test_building_prints_a_summary_and_leaves_bank_and_page(built: Path) -> None:
    assert sorted(path.name for path in built.iterdir()) == ["bank.sqlite", "review.html"]


def test_building_with_another_seed_says_so(tmp_path: Path) -> None:
    done = run("build", str(FIRST_STEPS), "-o", str(tmp_path), "--seed", "5", "--jobs", "1")
    assert done.returncode == 0, done.stderr
    assert "seed 5" in done.stdout
    assert "guesser's panel" in done.stdout


@pytest.mark.parametrize("target", ["qti30", "qti22", "qti21", "cc13", "csv"])
def test_each_target_is_written_under_its_name(built: Path, tmp_path: Path, target: str) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", target, "-o", str(tmp_path))
    assert done.returncode == 0, done.stderr
    names = sorted(path.name for path in (tmp_path / target).iterdir() if ".portability." not in path.name)
    ending = "imscc" if target == "cc13" else "zip"
    packages = [f"bank.{ending}", f"week-1-differences.{ending}", f"week-1-sums.{ending}"]
    assert names == (["items.csv", "options.csv"] if target == "csv" else packages)
    of = ["tables"] if target == "csv" else ["bank", "week-1-differences", "week-1-sums"]
    reports = sorted(path.name for path in (tmp_path / target).iterdir() if ".portability." in path.name)
    assert reports == [f"{name}.portability.{kind}" for name in of for kind in ("csv", "html")]


@pytest.mark.parametrize("target", ["qti30", "cc13"])
def test_a_trial_package_comes_with_what_to_try(built: Path, tmp_path: Path, target: str) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", target, "--trial", "-o", str(tmp_path))
    assert done.returncode == 0, done.stderr
    names = sorted(path.name for path in (tmp_path / target).iterdir())
    package = "trial.imscc" if target == "cc13" else "trial.zip"
    assert names == sorted([package, "trial.portability.csv", "trial.portability.html", "trial.what-to-try.html"])


def test_one_quiz_alone_can_be_exported(built: Path, tmp_path: Path) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", "qti30", "--quiz", "week-1-sums", "-o", str(tmp_path))
    assert done.returncode == 0, done.stderr
    names = sorted(path.name for path in (tmp_path / "qti30").iterdir())
    assert names == ["week-1-sums.portability.csv", "week-1-sums.portability.html", "week-1-sums.zip"]


def test_an_unknown_target_is_refused_with_the_nearest(built: Path, tmp_path: Path) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", "qti3", "-o", str(tmp_path))
    assert _is_one_clear_refusal(done)
    assert "did you mean 'qti30'" in done.stderr


def test_an_unknown_quiz_is_refused_with_the_nearest(built: Path, tmp_path: Path) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", "csv", "--quiz", "week-1-sum", "-o", str(tmp_path))
    assert _is_one_clear_refusal(done)
    assert "did you mean 'week-1-sums'" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("content", [b"", b"plain words", b"SQLite format 3\x00" + bytes(100)])
def test_a_file_that_is_no_bank_is_refused(tmp_path: Path, content: bytes) -> None:
    (tmp_path / "bank.sqlite").write_bytes(content)
    assert _is_one_clear_refusal(run("export", str(tmp_path / "bank.sqlite"), "--as", "csv", "-o", str(tmp_path / "x")))
    assert not (tmp_path / "x").exists()


def test_an_output_folder_that_is_a_file_is_refused(built: Path, tmp_path: Path) -> None:
    (tmp_path / "out").write_text("")
    assert _is_one_clear_refusal(run("export", str(built / "bank.sqlite"), "--as", "csv", "-o", str(tmp_path / "out")))
    assert _is_one_clear_refusal(run("build", str(FIRST_STEPS), "-o", str(tmp_path / "out")))


@pytest.mark.skipif(os.geteuid() == 0 and not Path("/proc/1").exists(), reason="needs a place nobody may write to")
def test_a_folder_that_cannot_be_written_is_refused(built: Path) -> None:
    done = run("export", str(built / "bank.sqlite"), "--as", "qti30", "-o", "/proc/nothing")
    assert _is_one_clear_refusal(done)
    assert _is_one_clear_refusal(run("build", str(FIRST_STEPS), "-o", "/proc/nothing"))


@pytest.mark.parametrize("seed", ["-1", str(2**63)])
def test_a_seed_out_of_range_is_refused(tmp_path: Path, seed: str) -> None:
    assert _is_one_clear_refusal(run("build", str(FIRST_STEPS), "-o", str(tmp_path), f"--seed={seed}"))


@pytest.mark.parametrize("words", [("-o", ""), ("-o", "x", "--jobs", "-1"), ("-o", "x", "--jobs", "two"), ()])
def test_arguments_that_make_no_sense_are_refused(tmp_path: Path, words: tuple[str, ...]) -> None:
    done = run("build", str(FIRST_STEPS), *words, cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr and done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_plan_that_is_not_there_is_refused(tmp_path: Path) -> None:
    assert _is_one_clear_refusal(run("build", str(tmp_path / "none.yaml"), "-o", str(tmp_path / "x")))


def test_a_reader_that_stops_listening_ends_the_command_quietly() -> None:
    code = f"{sys.executable} -m bank.cli --help | head -n 1"
    done = subprocess.run(code, shell=True, capture_output=True, text=True, check=False)
    assert done.stderr == ""


def test_a_fault_of_the_tool_is_told_apart_from_bad_input(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    from bank import build, cli

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("a fault made for this test")

    monkeypatch.setattr(build, "build", broken)
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(tmp_path)]) == 1
    told = capsys.readouterr().err
    assert "a fault of the tool" in told
    assert "Traceback" not in told


def test_an_interrupted_build_says_that_files_are_as_they_were(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    from bank import build, cli

    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(build, "build", interrupted)
    assert cli.main(["build", str(FIRST_STEPS), "-o", str(tmp_path)]) == 130
    assert "files are as they were" in capsys.readouterr().err
