"""What a build writes with: a file for items on their way."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from bank.errors import BadInput
from bank.files import cannot_write


@contextmanager
def spooled(folder: Path) -> Iterator[Spool]:
    """Give a spool in *folder* that leaves nothing behind.

    Raises:
        BadInput: nothing can be written there (``cannot-write``).
    """
    try:
        with tempfile.TemporaryFile(dir=folder) as file:
            yield Spool(file)
    except OSError as error:
        raise BadInput(cannot_write(folder, error)) from error


class Spool:
    """Packed items on their way from the processes to the bank, on the disk instead of in memory."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._end = 0
        self._written = True
        """Whether all lies in the file, nothing in a buffer."""

    def put(self, data: bytes) -> tuple[int, int]:
        """Keep *data* behind what was kept before; return where it starts and how long it is."""
        self._file.write(data)
        self._written = False
        start, self._end = self._end, self._end + len(data)
        return start, len(data)

    def flush(self) -> None:
        """Write what is still in a buffer, so that a fork has nothing of it to write once more."""
        if not self._written:
            self._file.flush()
            self._written = True

    def get(self, start: int, length: int) -> bytes:
        """Return what `put` kept there; a fork of this process may read at the same time."""
        self.flush()
        if hasattr(os, "pread"):
            return os.pread(self._file.fileno(), length, start)
        self._file.seek(start)
        found = self._file.read(length)
        self._file.seek(0, os.SEEK_END)
        return found
