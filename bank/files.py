"""Files written whole or not at all, and what this command has changed so far.

Within a run (`bank.run`) all files that are written take their places together, at its end.
"""

from __future__ import annotations

import itertools
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from bank.errors import BadInput, Place, Problem

SUFFIX = ".part"
"""Ending of files that are still being written."""


class Stage(Protocol):
    """Where files wait that take their places together."""

    def part_of(self, path: Path) -> Path:
        """Return the path of the file to write, which is to take the place of *path*."""

    def drop(self, path: Path) -> None:
        """Forget what was to take the place of *path*."""


_stage: Stage | None = None
_number = itertools.count()
_changed: list[Path] = []


def set_stage(stage: Stage | None) -> Stage | None:
    """Let files wait on *stage* from now on, or take their places at once; return what was set before."""
    global _stage
    before, _stage = _stage, stage
    return before


@contextmanager
def at_once() -> Iterator[None]:
    """Let files take their places at once, even within a run: those that several commands add to."""
    before = set_stage(None)
    try:
        yield
    finally:
        set_stage(before)


def note_change(path: Path) -> None:
    """Note that the file at *path* has been changed, for good, by this command."""
    if path not in _changed:
        _changed.append(path)


def changes() -> tuple[Path, ...]:
    """Return what has been changed since `forget_changes`; so long as it is empty all files are as they were."""
    return tuple(_changed)


@contextmanager
def passing() -> Iterator[None]:
    """Count what is written meanwhile as no change: files in a folder that is removed again."""
    before = changes()
    try:
        yield
    finally:
        _changed[:] = before


def forget_changes() -> None:
    """Begin anew: nothing has been changed by this command."""
    _changed.clear()


@contextmanager
def replacing(path: Path) -> Iterator[Path]:
    """Give the path of a file to write; on leaving well it takes the place of *path*, else it is removed.

    The new file lies in the same folder, is flushed to the disk, and replaces the old one in one step,
    so that whoever reads *path* sees the old content or the new one. Within a run this is done at the run's end.

    Raises:
        BadInput: the folder cannot be made or written, or the disk is full (``cannot-write``).
    """
    stage = _stage
    part = new_part(path)
    try:
        if stage is not None:
            part = stage.part_of(path)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
        yield part
        if stage is None:
            flush(part)
            os.replace(part, path)
            note_change(path)
    except BaseException as error:
        _remove(part)
        if stage is not None:
            stage.drop(path)
        if isinstance(error, OSError):
            raise BadInput(cannot_write(path, error)) from error
        raise


def new_part(path: Path) -> Path:
    """Return a path beside *path* for a file that is to take its place; no two are the same."""
    return path.with_name(f".stemwright-{os.getpid()}-{next(_number)}{SUFFIX}")


def flush(path: Path) -> None:
    """Wait until the content of the file at *path* lies on the disk."""
    with path.open("rb+") as written:
        os.fsync(written.fileno())


def _remove(part: Path) -> None:
    try:
        part.unlink(missing_ok=True)
    except OSError:  # its folder is none, or gone
        pass


def cannot_write(path: Path, error: OSError) -> Problem:
    """Return the problem that says why *path* could not be written."""
    return Problem(
        "cannot-write", Place(str(path)), "", f"cannot be written ({error.strerror or error})",
        "name a folder that you may write to, on a disk with room",
    )
