"""The pool: order, errors, and what becomes of processes when one of them is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from processes import runs, within

from bank.errors import BadInput, Place, Problem, WorkerLost
from bank.work import Pool

NEEDS_FORK = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")
PATIENCE = 5.0
"""Seconds within which a process that should end has to be gone."""


class Station:
    """What the workers of these tests do."""

    def __init__(self) -> None:
        self.seen: list[int] = []

    def see(self, number: int) -> tuple[int, list[int]]:
        self.seen.append(number)
        return os.getpid(), list(self.seen)

    def long(self, length: int, data: bytes) -> bytes:
        return data[:1] * length

    def refuse(self, number: int) -> None:
        raise BadInput(Problem("refused", Place(str(number)), "", "is refused"))

    def unsendable(self) -> object:
        return lambda: 7

    def die(self) -> None:
        os.kill(os.getpid(), signal.SIGKILL)

    def wait(self) -> None:
        time.sleep(600)


def _square(number: int) -> int:
    return number * number


@pytest.mark.parametrize("processes", [0, 1, 2, 3])
@pytest.mark.parametrize("ahead", [None, 0, 1, 5])
@pytest.mark.parametrize("helping", [False, True])
def test_results_come_in_the_order_of_the_tasks(processes: int, ahead: int | None, helping: bool) -> None:
    with Pool(processes, Station, Station()) as pool:
        found = list(pool.each(_square, [(number,) for number in range(40)], ahead=ahead, helping=helping))
    assert found == [number * number for number in range(40)]


@pytest.mark.parametrize("processes", [0, 2])
def test_no_tasks_give_no_results_and_start_nothing(processes: int) -> None:
    with Pool(processes, Station, Station()) as pool:
        assert list(pool.each("see", [])) == []


def test_tasks_of_one_number_are_done_by_one_worker_in_their_order() -> None:
    with Pool(2, Station) as pool:
        begun = [pool.begin("see", number, at=number) for number in range(10)]
        found = [one.result() for one in begun]
    assert {pid for pid, _ in found[::2]}.isdisjoint({pid for pid, _ in found[1::2]})
    assert found[8][1] == [0, 2, 4, 6, 8] and found[9][1] == [1, 3, 5, 7, 9]


@pytest.mark.parametrize("processes", [1, 2])
def test_long_arguments_and_long_results_do_not_wait_for_one_another(processes: int) -> None:
    length = 3_000_000
    with Pool(processes, Station) as pool:
        begun = [pool.begin("long", length, b"x" * length, at=number) for number in range(6)]
        assert [len(one.result()) for one in begun] == [length] * 6


@pytest.mark.parametrize("processes", [0, 2])
def test_what_a_task_raises_is_raised_where_its_result_is_asked_for(processes: int) -> None:
    with Pool(processes, Station, Station()) as pool, pytest.raises(BadInput) as caught:
        list(pool.each("refuse", [(1,), (2,)]))
    assert [problem.place.file for problem in caught.value.problems] == ["1"]


def test_a_result_that_cannot_be_sent_is_an_error_of_its_task_alone() -> None:
    with Pool(1, Station) as pool:
        begun = pool.begin("unsendable")
        with pytest.raises(RuntimeError):
            begun.result()
        assert pool.begin("see", 1).result()[1] == [1]


@NEEDS_FORK
@pytest.mark.parametrize("at", [None, 1])
def test_a_worker_that_is_killed_is_named_at_once(at: int | None) -> None:
    begun_at = time.monotonic()
    with Pool(2, Station) as pool, pytest.raises(WorkerLost) as caught:
        begun = [pool.begin("wait", at=0), pool.begin("die", at=at)]
        begun[1].result()
    assert caught.value.process and caught.value.status == -signal.SIGKILL
    assert f"process {caught.value.process}" in str(caught.value) and "signal 9" in str(caught.value)
    assert time.monotonic() - begun_at < PATIENCE


@NEEDS_FORK
def test_a_worker_killed_while_another_is_waited_for_is_noticed_too() -> None:
    begun_at = time.monotonic()
    with Pool(2, Station) as pool, pytest.raises(WorkerLost):
        waiting = pool.begin("wait", at=0)
        pool.begin("die", at=1)
        waiting.result()
    assert time.monotonic() - begun_at < PATIENCE


@NEEDS_FORK
def test_no_worker_is_left_when_the_pool_is_closed() -> None:
    with Pool(2, Station) as pool:
        pids = {pool.begin("see", 1, at=number).result()[0] for number in range(2)}
        pool.begin("wait")
    assert len(pids) == 2
    for pid in pids:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)


_PARENT = """
import os, sys, time
from bank import aside
from bank.work import Pool

class Station:
    def pid(self): return os.getpid()
    def wait(self): time.sleep(600)
    def work(self):
        while True: pass

def beside():
    os.write(1, f"{os.getpid()}\\n".encode())
    time.sleep(600)

with Pool(2, Station) as pool:
    pids = [pool.begin("pid", at=number).result() for number in range(2)]
    print(*pids, sep="\\n", flush=True)
    waiting = pool.begin("wait", at=0)
    pool.begin("work", at=1)
    aside.begun(beside)
    print("ready", flush=True)
    waiting.result()
"""


@NEEDS_FORK
@pytest.mark.parametrize("number", [signal.SIGKILL, signal.SIGTERM])
def test_workers_and_forks_end_when_their_parent_is_killed(tmp_path: Path, number: int) -> None:
    script = tmp_path / "parent.py"
    script.write_text(_PARENT)
    parent = subprocess.Popen([sys.executable, str(script)], stdout=subprocess.PIPE, text=True)
    assert parent.stdout is not None
    lines: list[str] = []
    while len(lines) < 3 + ((os.cpu_count() or 1) > 1):
        lines.append(parent.stdout.readline().strip())
    parent.send_signal(number)
    assert parent.wait() == -number
    pids = [int(line) for line in lines if line != "ready"]
    try:
        assert within(PATIENCE, lambda: not any(map(runs, pids)))
    finally:
        parent.stdout.close()
        for pid in filter(runs, pids):
            os.kill(pid, signal.SIGKILL)
