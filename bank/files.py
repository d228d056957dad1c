"""Files written whole or not at all."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from bank.errors import BadInput, Place, Problem

SUFFIX = ".part"
"""Ending of files that are still being written; what a killed run left is replaced by the next."""


@contextmanager
def replacing(path: Path, *, flush: bool = True) -> Iterator[Path]:
    """Give the path of a file to write; on leaving well it takes the place of *path*, else it is removed.

    The new file lies in the same folder, is flushed to the disk, and replaces the old one in one step,
    so that whoever reads *path* sees the old content or the new one. Without *flush* a failing machine may lose it:
    for many small files that can be made again.

    Raises:
        BadInput: the folder cannot be made or written, or the disk is full (``cannot-write``).
    """
    part = path.with_name(f".{path.name}{SUFFIX}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.unlink(missing_ok=True)
        yield part
        if flush:
            with part.open("rb+") as written:
                os.fsync(written.fileno())
        os.replace(part, path)
    except OSError as error:
        part.unlink(missing_ok=True) if part.parent.is_dir() else None
        raise BadInput(cannot_write(path, error)) from error
    except BaseException:
        part.unlink(missing_ok=True)
        raise


def cannot_write(path: Path, error: OSError) -> Problem:
    """Return the problem that says why *path* could not be written."""
    return Problem(
        "cannot-write", Place(str(path)), "", f"cannot be written ({error.strerror or error}); nothing was changed",
        "name a folder that you may write to, on a disk with room",
    )
