"""A run takes effect in one step or not at all, whatever stops it."""

from __future__ import annotations

import errno
import json
import os
import shutil
import signal
import subprocess
import sys
import textwrap
from pathlib import Path

import pytest
from sweeps import sweep

from bank import files
from bank.errors import BadInput
from bank.files import replacing
from bank.run import LOCK, RECORD, Run, _lock, _record, leftovers, settle

NAMES = ("bank.sqlite", "review.html", "qti30/a.zip", "qti30/b.zip")

FEW = NAMES[:2]


def _write(folder: Path, content: str, names: tuple[str, ...] = NAMES) -> None:
    for name in names:
        with replacing(folder / name) as part:
            part.write_text(content)


def _read(folder: Path) -> dict[str, str]:
    found = {path.relative_to(folder).as_posix(): path for path in sorted(folder.rglob("*")) if path.is_file()}
    return {name: path.read_text() for name, path in found.items()}


def _codes(caught: pytest.ExceptionInfo[BadInput]) -> list[str]:
    return [problem.code for problem in caught.value.problems]


def test_files_take_their_places_together_at_the_end(tmp_path: Path) -> None:
    folder = tmp_path / "term"
    with Run(folder, "build"):
        _write(folder, "old")
        assert not any((folder / name).exists() for name in NAMES)
    assert _read(folder) == dict.fromkeys(NAMES, "old")
    with Run(folder, "build"):
        _write(folder, "new")
        assert {name: (folder / name).read_text() for name in NAMES} == dict.fromkeys(NAMES, "old")
    assert _read(folder) == dict.fromkeys(NAMES, "new")


def test_an_error_on_the_way_leaves_all_as_it_was(tmp_path: Path) -> None:
    _write(tmp_path, "old")
    with pytest.raises(KeyError), Run(tmp_path, "build"):
        _write(tmp_path, "new")
        _write(tmp_path, "more", ("cc13/c.imscc",))
        raise KeyError
    assert _read(tmp_path) == dict.fromkeys(NAMES, "old")
    assert not (tmp_path / "cc13").exists()


def test_a_run_that_fails_leaves_no_folder_that_it_made(tmp_path: Path) -> None:
    with pytest.raises(KeyError), Run(tmp_path / "deep" / "term", "build"):
        _write(tmp_path / "deep" / "term", "new")
        raise KeyError
    assert list(tmp_path.iterdir()) == []


def test_what_a_run_retires_is_gone_with_its_end_and_not_before(tmp_path: Path) -> None:
    _write(tmp_path, "old")
    with Run(tmp_path, "export") as run:
        run.retire([tmp_path / "qti30" / "b.zip", tmp_path / "qti30" / "a.zip", tmp_path / "none"])
        _write(tmp_path, "new", ("qti30/a.zip",))
        assert (tmp_path / "qti30" / "b.zip").exists()
    assert _read(tmp_path) == {"bank.sqlite": "old", "review.html": "old", "qti30/a.zip": "new"}


def test_paths_may_be_relative_and_folders_links(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "real").mkdir()
    (tmp_path / "link").symlink_to(tmp_path / "real")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "real" / "qti30").symlink_to(tmp_path / "elsewhere")
    monkeypatch.chdir(tmp_path)
    with Run(Path("link"), "build"):
        _write(Path("link"), "new")
        with replacing(Path("apart.csv")) as part:
            part.write_text("new")
    assert (tmp_path / "elsewhere" / "a.zip").read_text() == "new"
    assert (tmp_path / "apart.csv").read_text() == "new"
    assert not [path for path in tmp_path.rglob("*") if path.name.startswith(".stemwright")]


def test_a_second_run_is_refused_by_command_and_process(tmp_path: Path) -> None:
    with Run(tmp_path, "build"), pytest.raises(BadInput) as caught, Run(tmp_path, "export"):
        pass
    assert _codes(caught) == ["folder-busy"]
    assert "stemwright build" in str(caught.value) and str(os.getpid()) in str(caught.value)
    with Run(tmp_path, "export"):
        pass
    assert _read(tmp_path) == {}


def _script(tmp_path: Path, text: str) -> subprocess.CompletedProcess[str]:
    script = tmp_path / "other.py"
    script.write_text(textwrap.dedent(text))
    return subprocess.run([sys.executable, str(script)], capture_output=True, text=True, check=False)


def test_another_process_is_refused_and_a_fork_does_not_keep_the_lock(tmp_path: Path) -> None:
    folder = tmp_path / "term"
    with Run(folder, "build"):
        done = _script(tmp_path, f"""
            from pathlib import Path
            from bank.run import Run
            try:
                Run(Path({str(folder)!r}), "export").__enter__()
            except Exception as error:
                print(error)
        """)
    assert f"stemwright build (process {os.getpid()} on" in done.stdout, done.stderr
    done = _script(tmp_path, f"""
        import os, sys, time
        from pathlib import Path
        from bank.run import Run
        run = Run(Path({str(folder)!r}), "build").__enter__()
        if not os.fork():
            os.close(1), os.close(2)
            time.sleep(3)
        os._exit(0)
    """)
    with Run(folder, "export"):
        pass
    assert done.returncode == 0, done.stderr


KILLED = """
    import os, signal
    from pathlib import Path
    from bank.files import replacing
    from bank.run import Run, _record

    folder, stop = Path({folder!r}), {stop!r}
    calls = 0

    def dying(work, name):
        def step(*arguments, **more):
            global calls
            if name.startswith(stop[0]):
                if calls == stop[1]:
                    os.kill(os.getpid(), signal.SIGKILL)
                calls += 1
            return work(*arguments, **more)
        return step

    with Run(folder, "build") as run:
        run.retire([folder / "old.zip"])
        os.replace, os.fsync = dying(os.replace, "replace"), dying(os.fsync, "fsync")
        Path.unlink = dying(Path.unlink, "unlink")
        for name in {names!r}:
            with replacing(folder / name) as part:
                part.write_text("new")
        if stop[0] == "end":
            os.kill(os.getpid(), signal.SIGKILL)
    print("done")
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="needs a system with signals")
@pytest.mark.parametrize("step", sweep(["replace", "fsync", "end", "unlink"], 2))
def test_killed_at_any_step_the_next_run_finds_files_of_one_run_only(tmp_path: Path, step: str) -> None:
    old, new = dict.fromkeys((*FEW, "old.zip"), "old"), dict.fromkeys(FEW, "new")
    outcomes = []
    for number in range(40):
        folder = tmp_path / f"{step}-{number}"
        _write(folder, "old", (*FEW, "old.zip"))
        done = _script(tmp_path, KILLED.format(folder=str(folder), stop=(step, number), names=FEW))
        seen = {name: text for name, text in _read(folder).items() if not name.rpartition("/")[2].startswith(".")}
        assert seen in (old, new) or (folder / RECORD).exists()
        assert len(set(seen.values())) <= 1 or seen.get("bank.sqlite") != "new", seen  # never the new bank by old files
        settle(folder)
        with Run(folder, "verify"):
            pass
        found = _read(folder)
        assert found in (old, new)
        outcomes.append(found == new)
        if done.returncode == 0:
            assert done.stdout == "done\n" and found == new
            break
        assert done.returncode == -signal.SIGKILL, done.stderr
        if step == "end":
            assert found == old
            break
    else:
        pytest.fail("the run never came to its end")
    assert sorted(outcomes) == outcomes, "once a run has taken effect it must stay so"
    assert step in ("end", "unlink") or {True, False} == set(outcomes)


def test_what_a_killed_run_left_is_seen_and_removed_by_the_next(tmp_path: Path) -> None:
    _write(tmp_path, "old")
    folder = str(tmp_path)
    _script(tmp_path.parent, KILLED.format(folder=folder, stop=("end", 0), names=NAMES))
    names = [path.name for path in leftovers(tmp_path)]
    assert LOCK in names and len([name for name in names if name.endswith(".part")]) == len(NAMES)
    with Run(tmp_path, "build"):
        assert leftovers(tmp_path) == []
    assert _read(tmp_path) == dict.fromkeys(NAMES, "old")


def test_what_a_killed_run_left_is_removed_where_its_folder_was_moved(tmp_path: Path) -> None:
    folder = tmp_path / "term"
    _script(tmp_path, KILLED.format(folder=str(folder), stop=("end", 0), names=NAMES))
    moved = folder.rename(tmp_path / "moved")
    assert len(leftovers(moved)) == 1 + len(NAMES)
    with Run(moved, "build"):
        pass
    assert _read(moved) == {}


def test_a_run_on_a_copy_takes_nothing_from_a_run_that_is_going_on(tmp_path: Path) -> None:
    folder, copy = tmp_path / "term", tmp_path / "copy"
    with Run(folder, "build"):
        _write(folder, "new", (*NAMES, "../apart.csv"))
        shutil.copytree(folder, copy)
        with Run(copy, "build"):
            pass
        assert _read(copy) == {}
    assert _read(folder) == dict.fromkeys(NAMES, "new")
    assert (tmp_path / "apart.csv").read_text() == "new"


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_disk_that_fills_before_the_record_is_written_changes_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, call: str
) -> None:
    _write(tmp_path, "old")

    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    files.forget_changes()
    with pytest.raises(BadInput) as caught, Run(tmp_path, "build"):
        _write(tmp_path, "new")
        monkeypatch.setattr(os, call, full)
    monkeypatch.undo()
    assert _codes(caught) == ["cannot-write"]
    assert files.changes() == ()
    assert _read(tmp_path) == dict.fromkeys(NAMES, "old")


def test_moves_that_fail_are_said_and_completed_by_the_next_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _write(tmp_path, "old")
    true, calls = os.replace, []

    def failing(old: Path, new: Path) -> None:
        calls.append(new)
        if len(calls) == 3:  # the record, the bank, and then no more
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        true(old, new)

    with pytest.raises(BadInput) as caught, Run(tmp_path, "build"):
        _write(tmp_path, "new")
        monkeypatch.setattr(os, "replace", failing)
    monkeypatch.undo()
    assert _codes(caught) == ["run-unfinished"]
    assert (tmp_path / "bank.sqlite").read_text() == "new" and not (tmp_path / "review.html").exists()
    settle(tmp_path)
    assert _read(tmp_path) == dict.fromkeys(NAMES, "new")


@pytest.mark.parametrize("early", [True, False])
def test_a_folder_in_the_place_of_a_file_is_refused_before_anything_changes(tmp_path: Path, early: bool) -> None:
    _write(tmp_path, "old", (*FEW, "qti30/old.zip"))
    (tmp_path / "qti30" / "gone.zip").mkdir()
    files.forget_changes()
    with pytest.raises(BadInput) as caught, Run(tmp_path, "export") as run:
        if early:
            (tmp_path / "qti30" / "b.zip").mkdir()
        run.retire([tmp_path / "qti30" / "old.zip"])
        _write(tmp_path, "new")
        (tmp_path / "qti30" / "b.zip").mkdir()
    assert _codes(caught) == ["cannot-write"] and "a folder has this name" in str(caught.value)
    assert _read(tmp_path) == dict.fromkeys((*FEW, "qti30/old.zip"), "old") and files.changes() == ()
    (tmp_path / "qti30" / "b.zip").rmdir()
    with Run(tmp_path, "export") as run:
        run.retire([tmp_path / "qti30" / "old.zip", tmp_path / "qti30" / "gone.zip"])
        _write(tmp_path, "new")
    assert _read(tmp_path) == dict.fromkeys(NAMES, "new")


@pytest.mark.parametrize("said", [
    "", "[]", "{}", '{"moves": [], "removed": "x"}', '{"moves": [["a", "b"]], "removed": []}',
    '{"moves": [[".stemwright-1-1.part", "../x"]], "removed": []}', '{"moves": [], "removed": ["/etc/hostname"]}',
    '{"moves": [], "removed": ["a/../../x"]}', '{"moves": [], "removed": [1]}', "[" * 100_000,
])
def test_a_record_that_is_none_or_reaches_beyond_the_folder_is_refused(tmp_path: Path, said: str) -> None:
    folder = tmp_path / "term"
    _write(folder, "old")
    (tmp_path / "x").write_text("not yours")
    (folder / RECORD).write_text(said)
    with pytest.raises(BadInput) as caught, Run(folder, "build"):
        pass
    assert _codes(caught) == ["record-damaged"]
    assert (tmp_path / "x").exists() and (folder / "bank.sqlite").exists()


def test_a_lock_file_removes_nothing_but_what_waited(tmp_path: Path) -> None:
    for name in ("precious.part", "precious.txt"):
        (tmp_path / name).write_text("mine")
    lines = [{"command": "build", "process": 1}, str(tmp_path / "precious.part"), str(tmp_path / "precious.txt"), 7]
    (tmp_path / LOCK).write_text("".join([json.dumps(line) + "\n" for line in lines]))
    with Run(tmp_path, "build"):
        pass
    assert sorted(_read(tmp_path)) == ["precious.part", "precious.txt"]


class TestWithoutLocks:
    """File systems that have no locks, and systems that know none."""

    @pytest.fixture(autouse=True)
    def _no_locks(self, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr(_lock, "fcntl", None)
        monkeypatch.setattr(_lock, "msvcrt", None)

    def test_a_second_run_is_refused(self, tmp_path: Path) -> None:
        with Run(tmp_path, "build"), pytest.raises(BadInput) as caught, Run(tmp_path, "export"):
            pass
        assert _codes(caught) == ["folder-busy"]
        assert _read(tmp_path) == {}

    def test_the_claim_of_a_dead_process_counts_for_nothing(self, tmp_path: Path) -> None:
        dead = subprocess.Popen([sys.executable, "-c", ""])
        dead.wait()
        who = {**_lock._who("build"), "process": dead.pid}
        (tmp_path / _lock.CLAIM).write_text(json.dumps(who) + "\n")
        with Run(tmp_path, "build"):
            _write(tmp_path, "new")
        assert _read(tmp_path) == dict.fromkeys(NAMES, "new")


def test_a_folder_that_nobody_may_write_to_is_read_and_not_written(tmp_path: Path) -> None:
    if os.geteuid() == 0:
        pytest.skip("whoever is root may write everywhere")
    _write(tmp_path, "old")
    tmp_path.chmod(0o555)
    try:
        settle(tmp_path)
        with pytest.raises(BadInput) as caught, Run(tmp_path, "build"):
            pass
        assert _codes(caught) == ["cannot-write"]
    finally:
        tmp_path.chmod(0o755)


def test_a_folder_on_a_read_only_file_system_is_refused() -> None:
    if not Path("/proc/self").exists():
        pytest.skip("needs a place that nobody can write to")
    with pytest.raises(BadInput) as caught, Run(Path("/proc/self"), "build"):
        pass
    assert _codes(caught) == ["cannot-write"]
    settle(Path("/proc/self"))


def test_the_step_is_taken_with_signals_held(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    true, seen = _record.Record.carry_out, []

    def sent(*arguments: object) -> None:
        os.kill(os.getpid(), signal.SIGTERM)
        seen.append((tmp_path / "bank.sqlite").read_text())
        true(*arguments)  # type: ignore[arg-type]

    class Came(Exception):
        pass

    def came(*_: object) -> None:
        raise Came

    _write(tmp_path, "old")
    monkeypatch.setattr(_record.Record, "carry_out", sent)
    before = signal.signal(signal.SIGTERM, came)
    files.forget_changes()
    try:
        with pytest.raises(Came), Run(tmp_path, "build"):
            _write(tmp_path, "new")
    finally:
        signal.signal(signal.SIGTERM, before)
    assert seen == ["old"] and _read(tmp_path) == dict.fromkeys(NAMES, "new")
    assert files.changes() == tuple([tmp_path / name for name in NAMES])
