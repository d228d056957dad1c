"""Working ahead: what is yielded next is made by a second thread while the first works on what it has."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from queue import Empty, Queue
from threading import Event, Thread
from typing import TypeVar

T = TypeVar("T")

_DEPTH = 2
"""Things that are made ahead at most."""
_PATIENCE = 0.1
"""Seconds after which the second thread looks whether it is still wanted."""


def ahead(things: Iterable[T]) -> Iterator[T]:
    """Yield *things* in their order; an exception of theirs is raised here."""
    queue: Queue[tuple[T | None, BaseException | None]] = Queue(_DEPTH)
    unwanted = Event()
    thread = Thread(target=_make, args=(things, queue, unwanted), daemon=True)
    thread.start()
    try:
        while True:
            thing, error = queue.get()
            if error is not None:
                if isinstance(error, _End):
                    return
                raise error
            yield thing  # type: ignore[misc]
    finally:
        unwanted.set()
        while thread.is_alive():
            try:
                queue.get_nowait()
            except Empty:
                thread.join(_PATIENCE)


class _End(Exception):
    """There is no more."""


def _make(things: Iterable[T], queue: Queue[tuple[T | None, BaseException | None]], unwanted: Event) -> None:
    try:
        for thing in things:
            queue.put((thing, None))
            if unwanted.is_set():
                return
    except BaseException as error:  # noqa: BLE001 - it is raised in the other thread
        queue.put((None, error))
    else:
        queue.put((None, _End()))
