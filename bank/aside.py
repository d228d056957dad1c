"""Work done beside one's own, in a process of its own where there is a core for it."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TypeVar

from bank.errors import WorkerLost
from bank.work import _forks

_Got = TypeVar("_Got")


def begun(work: Callable[[], _Got]) -> Callable[[], _Got]:
    """Begin *work* in a fork of this process; return what waits for its result, which is pickled.

    Where this process cannot fork safely, there is one core only, or the fork fails or raises, *work* is done here
    when the result is asked for, so that it raises what it would have raised. The fork ends when this process does.
    Waiting for it raises WorkerLost where something else has ended it.
    """
    import threading

    if not hasattr(os, "fork") or (os.cpu_count() or 1) < 2 or threading.active_count() > 1:
        return work
    reading, writing = os.pipe()
    watched, life = os.pipe()
    _forks.keep_to_parent(end := _forks.OpenFile(life))
    try:
        with _forks.signals_held():
            child = os.fork()
            if not child:
                _do(work, reading, writing, watched)
    except OSError:
        for number in (reading, writing, watched):
            os.close(number)
        _forks.close(end)
        return work
    os.close(writing)
    os.close(watched)

    def wait() -> _Got:
        import pickle  # dear to import for the many commands that do without it

        with os.fdopen(reading, "rb") as pipe:
            content = pipe.read()
        _, ended = os.waitpid(child, 0)
        _forks.close(end)
        status = os.waitstatus_to_exitcode(ended)
        if status < 0:
            raise WorkerLost(child, status)
        return work() if status else pickle.loads(content)

    return wait


def _do(work: Callable[[], object], reading: int, writing: int, watched: int) -> None:
    """Do *work* in the fork, send its result, and end without what the parent will do at its own end."""
    status = 1
    try:
        import pickle

        os.close(reading)
        _forks.leave_ending_to_parent()
        _forks.end_with_parent(lambda: os.read(watched, 1))
        with os.fdopen(writing, "wb") as pipe:
            pickle.dump(work(), pipe, pickle.HIGHEST_PROTOCOL)
        status = 0
    finally:
        os._exit(status)
