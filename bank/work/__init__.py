"""One pool of processes for everything that is shared out: tasks go out, results come back in order.

A worker that is killed is noticed as soon as its results are waited for, and named (`bank.errors.WorkerLost`); workers
end when this process does, however it ends. With no other processes the tasks are done here, when their results are
asked for. What is made does not hang on the number of processes: results come in the order of the tasks.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any, TypeAlias

from bank.work import _forks
from bank.work._forks import OpenFile as open_file
from bank.work._forks import close as close_end
from bank.work._forks import keep_to_parent, signals_held

if TYPE_CHECKING:
    from bank.work._worker import Worker

__all__ = ["Begun", "Pool", "Task", "close_end", "keep_to_parent", "open_file", "signals_held"]

Task: TypeAlias = "str | Callable[..., Any]"
"""The name of a method of the pool's station, or a function that can be pickled by its name."""
IN_HAND = 2
"""Tasks that a worker has at a time, so that it need not wait for the next; more are dealt out as results come."""


class Begun:
    """A task that was begun."""

    def __init__(self, pool: Pool, task: Task, arguments: tuple[Any, ...]) -> None:
        self.task, self.arguments = task, arguments
        self._pool = pool
        self._outcome: tuple[bool, Any] | None = None

    def settle(self, well: bool, result: Any) -> None:
        """Note what came of it: a result, or where it did not go *well* the error."""
        self._outcome = well, result

    def done(self) -> bool:
        """Return whether it is done; does not wait."""
        if self._outcome is None:
            self._pool.take_in(wait=False)
        return self._outcome is not None

    def result(self) -> Any:
        """Return what came of it, waiting for it where need be.

        Raises:
            WorkerLost: the process that was at work on it is gone.
            Exception: what the task raised.
        """
        while self._outcome is None:
            self._pool.take_in(wait=True, wanted=self)
        well, result = self._outcome
        if not well:
            raise result
        return result


class Pool:
    """Processes that do tasks; a context manager. They are started with the first task.

    Each makes a station of its own, by calling *station* once, whose methods are what tasks name; *here* is the one of
    this process. Arguments and results are pickled.
    """

    def __init__(self, processes: int, station: Callable[[], Any] | None = None, here: Any = None) -> None:
        self.processes = processes
        """Other processes than this one."""
        self._station, self._here = station, here
        self._workers: list[Worker] = []
        self._waiting: deque[Begun] = deque()

    def begin(self, task: Task, *arguments: Any, at: int | None = None) -> Begun:
        """Begin *task*; those with one number *at* are done by one worker, in the order in which they were begun."""
        begun = Begun(self, task, arguments)
        if self.processes:
            self._start()
            if at is None:
                self._waiting.append(begun)
                self._deal_out()
            else:
                self._workers[at % self.processes].give(begun)
        return begun

    def each(
        self, task: Task, arguments: Iterable[tuple[Any, ...]], *, ahead: int | None = None, helping: bool = False
    ) -> Iterator[Any]:
        """Give the results of *task* for each of *arguments*, in order, no more than *ahead* begun before they are taken.

        Where this process is *helping*, it does itself what would only wait for a worker.
        """
        under_way: deque[Begun] = deque()
        if not self.processes:
            ahead = 0
        for one in arguments:
            if helping and self.processes and self._busy():
                begun = Begun(self, task, one)
                self._do(begun)
            else:
                begun = self.begin(task, *one)
            under_way.append(begun)
            while under_way and (under_way[0].done() or (ahead is not None and len(under_way) > ahead)):
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()

    def take_in(self, *, wait: bool, wanted: Begun | None = None) -> None:
        """Take in results that have come, waiting for one where *wait*, and deal out what is waiting."""
        if not self.processes:
            if wanted is not None:
                self._do(wanted)
            return
        for worker in _forks.ready(self._workers, None if wait else 0):
            worker.take()
        self._deal_out()

    def _do(self, begun: Begun) -> None:
        """Do a task here."""
        work = getattr(self._here, begun.task) if isinstance(begun.task, str) else begun.task
        begun.settle(True, work(*begun.arguments))

    def _busy(self) -> bool:
        self.take_in(wait=False)
        return bool(self._waiting) or (
            bool(self._workers) and all([len(worker.given) >= IN_HAND for worker in self._workers])
        )

    def _deal_out(self) -> None:
        while self._waiting:
            worker = min(self._workers, key=lambda one: len(one.given))
            if len(worker.given) >= IN_HAND:
                return
            worker.give(self._waiting.popleft())

    def _start(self) -> None:
        if not self._workers:
            from bank.work._worker import Worker  # multiprocessing is dear to import

            with signals_held():  # lest one be started and not known
                for _ in range(self.processes):
                    self._workers.append(Worker(self._station))

    def __enter__(self) -> Pool:
        return self

    def __exit__(self, *_: object) -> None:
        with signals_held():
            for worker in self._workers:
                worker.end()
            self._workers = []
