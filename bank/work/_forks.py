"""What forks need: to see that their parent is gone, and not to keep what others see that by."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar


class _End(Protocol):
    def close(self) -> None: ...


class OpenFile:
    """An open file known by its number."""

    def __init__(self, number: int) -> None:
        self.number = number

    def close(self) -> None:
        """Close it."""
        os.close(self.number)


class _Readable(Protocol):
    connection: Any


_Of = TypeVar("_Of", bound=_Readable)
_parents_ends: dict[int, _End] = {}


def keep_to_parent(end: _End) -> None:
    """Close *end* in every fork of this process, so that its other end sees at once when this process is gone."""
    _parents_ends[id(end)] = end


def close(end: _End) -> None:
    """Close *end*, which was kept to the parent."""
    _parents_ends.pop(id(end), None)
    end.close()


def _close_in_child() -> None:
    for end in list(_parents_ends.values()):
        end.close()
    _parents_ends.clear()


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_close_in_child)


@contextmanager
def signals_held() -> Iterator[None]:
    """Hold back the signals that end a command, so that none arrives half way through a step; they come behind it.

    Not by the mask of this thread: another thread, of a library, would take the signal, and the handler run here.
    """
    import signal

    came: list[int] = []
    before: dict[int, Any] = {}
    try:
        for number in _ending_signals():
            before[number] = signal.signal(number, lambda number, _: came.append(number))
    except ValueError:  # not in the main thread, where handlers run
        pass
    try:
        yield
    finally:
        for number, handler in before.items():
            if handler is not None:  # else it was set by no Python code
                signal.signal(number, handler)
        for number in came:
            signal.raise_signal(number)


def leave_ending_to_parent() -> None:
    """Ignore the signals that end a command: in this fork the parent decides, and ends it."""
    import signal

    for number in _ending_signals():
        signal.signal(number, signal.SIG_IGN)


def _ending_signals() -> list[int]:
    import signal

    return [getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)]


def ready(workers: Sequence[_Of], timeout: float | None) -> list[_Of]:
    """Return those of *workers* that have sent something or are gone, waiting for one for *timeout* seconds."""
    from multiprocessing.connection import wait

    by_connection = {worker.connection: worker for worker in workers}
    return [by_connection[found] for found in wait(list(by_connection), timeout)]  # type: ignore[index]


def end_with_parent(wait: Callable[[], object]) -> None:
    """End this process as soon as *wait*, which waits in a thread of its own for the parent's end, returns or fails."""
    from threading import Thread

    def watch() -> None:
        try:
            wait()
        finally:
            os._exit(1)

    Thread(target=watch, daemon=True).start()
