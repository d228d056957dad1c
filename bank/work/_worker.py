"""A worker: seen from this process, and what runs in its own."""

from __future__ import annotations

import gc
import multiprocessing
import pickle
from collections import deque
from collections.abc import Callable
from multiprocessing.connection import Connection
from queue import SimpleQueue
from typing import TYPE_CHECKING, Any

from bank.errors import WorkerLost
from bank.work import _forks

if TYPE_CHECKING:
    from bank.work import Begun

_MOMENT = 5.0
"""Seconds that a process which has closed its end may take to be gone."""


class Worker:
    """A process that does tasks in the order in which they are given."""

    def __init__(self, station: Callable[[], Any] | None) -> None:
        methods = multiprocessing.get_all_start_methods()
        context = multiprocessing.get_context("fork" if "fork" in methods else "spawn")
        self.given: deque[Begun] = deque()
        self.connection, its_end = context.Pipe()
        _forks.keep_to_parent(self.connection)
        self._process = context.Process(target=_serve, args=(its_end, station), daemon=True)
        with _forks.signals_held():  # the fork begins with them held, until it ignores them
            self._process.start()
        its_end.close()

    def give(self, begun: Begun) -> None:
        """Hand a task over.

        Raises:
            WorkerLost: the process is gone.
        """
        message = pickle.dumps((begun.task, begun.arguments), pickle.HIGHEST_PROTOCOL)
        self.given.append(begun)
        try:
            self.connection.send_bytes(message)
        except OSError as error:
            raise self._lost() from error

    def take(self) -> None:
        """Take the next result in.

        Raises:
            WorkerLost: the process is gone.
        """
        try:
            message = self.connection.recv_bytes()
        except (EOFError, OSError) as error:
            raise self._lost() from error
        self.given.popleft().settle(*pickle.loads(message))

    def _lost(self) -> WorkerLost:
        self._process.join(_MOMENT)
        return WorkerLost(self._process.pid or 0, self._process.exitcode)

    def end(self) -> None:
        """End the process, whatever it is doing."""
        _forks.close(self.connection)
        self._process.kill()
        self._process.join()
        self._process.close()


def _serve(connection: Connection, station: Callable[[], Any] | None) -> None:
    """Do the tasks that come by *connection* until this process is ended, or the one that sends them is gone.

    One thread reads ahead and one writes behind, so that neither side ever waits for the other to take something in.
    """
    _forks.leave_ending_to_parent()
    gc.freeze()
    gc.set_threshold(100_000)  # tasks make no cycles, and looking for them costs some 4 % of the time
    tasks: SimpleQueue[bytes] = SimpleQueue()
    results: SimpleQueue[bytes] = SimpleQueue()

    def read() -> None:
        while True:
            tasks.put(connection.recv_bytes())

    def write() -> None:
        while True:
            connection.send_bytes(results.get())

    _forks.end_with_parent(read)
    _forks.end_with_parent(write)
    made: list[Any] = []
    while True:
        task, arguments = pickle.loads(tasks.get())
        results.put(_pickled(lambda: _work(made, station, task)(*arguments)))


def _work(made: list[Any], station: Callable[[], Any] | None, task: Any) -> Callable[..., Any]:
    if not isinstance(task, str):
        return task  # type: ignore[no-any-return]
    if not made and station is not None:
        made.append(station())
    return getattr(made[0], task)  # type: ignore[no-any-return]


def _pickled(work: Callable[[], Any]) -> bytes:
    try:
        outcome = True, work()
    except Exception as error:
        outcome = False, error
    try:
        return pickle.dumps(outcome, pickle.HIGHEST_PROTOCOL)
    except Exception as error:
        told = outcome[1] if not outcome[0] else error
        return pickle.dumps((False, RuntimeError(f"{type(told).__name__}: {told}")))
