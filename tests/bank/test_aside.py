"""Work done beside one's own."""

from __future__ import annotations

import os
import signal
import threading

import pytest

from bank import aside
from bank.errors import WorkerLost

NEEDS_FORK = pytest.mark.skipif(
    not hasattr(os, "fork") or (os.cpu_count() or 1) < 2 or threading.active_count() > 1, reason="no process beside this"
)


@NEEDS_FORK
def test_the_result_comes_from_another_process_and_is_whole() -> None:
    waiting = aside.begun(lambda: (os.getpid(), "x" * 10**6))
    pid, text = waiting()
    assert pid != os.getpid()
    assert len(text) == 10**6


@NEEDS_FORK
def test_what_is_done_there_leaves_this_process_as_it_was() -> None:
    here = [1]
    assert aside.begun(lambda: here.append(2) or list(here))() == [1, 2]
    assert here == [1]


def test_work_that_fails_there_is_done_again_here_and_fails_here() -> None:
    with pytest.raises(ZeroDivisionError):
        aside.begun(lambda: 1 // 0)()


def test_what_cannot_be_sent_is_made_here() -> None:
    assert aside.begun(lambda: lambda: 7)()() == 7


def test_with_one_core_or_beside_threads_it_is_done_here(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert aside.begun(os.getpid)() == os.getpid()
    monkeypatch.undo()
    stop = threading.Event()
    thread = threading.Thread(target=stop.wait)
    thread.start()
    try:
        assert aside.begun(os.getpid)() == os.getpid()
    finally:
        stop.set()
        thread.join()


def test_a_fork_that_fails_is_no_harm(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse() -> int:
        raise OSError("no more processes")

    monkeypatch.setattr(os, "fork", refuse, raising=False)
    assert aside.begun(os.getpid)() == os.getpid()


@NEEDS_FORK
def test_a_process_beside_this_that_is_killed_is_named() -> None:
    waiting = aside.begun(lambda: os.kill(os.getpid(), signal.SIGKILL))
    with pytest.raises(WorkerLost) as caught:
        waiting()
    assert caught.value.status == -signal.SIGKILL
