"""Work done beside one's own, in a process of its own where there is a core for it."""

from __future__ import annotations

import os
from collections.abc import Callable
from typing import TypeVar

_Got = TypeVar("_Got")


def begun(work: Callable[[], _Got]) -> Callable[[], _Got]:
    """Begin *work* in a fork of this process; return what waits for its result, which is pickled.

    Where this process cannot fork safely, there is one core only, or the fork fails or raises, *work* is done here
    when the result is asked for, so that it raises what it would have raised.
    """
    import pickle  # both are dear to import for the many commands that need neither
    import threading

    if not hasattr(os, "fork") or (os.cpu_count() or 1) < 2 or threading.active_count() > 1:
        return work
    reading, writing = os.pipe()
    try:
        child = os.fork()
    except OSError:
        os.close(reading)
        os.close(writing)
        return work
    if not child:
        status = 1
        try:
            os.close(reading)
            with os.fdopen(writing, "wb") as pipe:
                pickle.dump(work(), pipe, pickle.HIGHEST_PROTOCOL)
            status = 0
        finally:
            os._exit(status)  # without what the parent will do at its own end

    os.close(writing)

    def wait() -> _Got:
        with os.fdopen(reading, "rb") as pipe:
            content = pipe.read()
        _, status = os.waitpid(child, 0)
        return work() if status else pickle.loads(content)

    return wait
