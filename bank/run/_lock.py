"""The lock of a folder: one run at a time, known by its command and the number of its process.

The system lets go of it when the process ends, however it ends; forks do not keep it. Where the file system has no
locks, a file beside it is the lock, and one whose process is gone counts for nothing.
"""

from __future__ import annotations

import errno
import json
import os
import time
from contextlib import suppress
from pathlib import Path

from bank.errors import BadInput, Place, Problem
from bank.run._record import PART, RECORD
from bank.work import close_end, keep_to_parent, open_file

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]
try:
    import msvcrt
except ImportError:
    msvcrt = None  # type: ignore[assignment]

LOCK = ".stemwright-lock"
"""Name of the lock file; it also lists the files that wait, so that what a killed run left can be removed."""
CLAIM = ".stemwright-claim"
"""Name of the file that is the lock where the file system has none."""
_FAR = 1 << 30
"""Byte that is locked where locked bytes cannot be read."""
_NO_LOCKS = {errno.ENOLCK, errno.EOPNOTSUPP, errno.ENOSYS, errno.EINVAL}


class Lock:
    """The lock of *folder*, for *command*."""

    def __init__(self, folder: Path, command: str) -> None:
        self._folder, self._path, self._command = folder, folder / LOCK, command
        self._file: int | None = None
        self._claimed = False

    def take(self) -> None:
        """Take it, and remove what a run left waiting that was killed.

        Raises:
            BadInput: another run has it (``folder-busy``).
            OSError: the lock file cannot be written.
        """
        while self._file is None:
            file = os.open(self._path, os.O_RDWR | os.O_CREAT | getattr(os, "O_CLOEXEC", 0), 0o666)
            try:
                if not self._locked(file):
                    raise BadInput(self.held_by())
                if self._is_still(file):
                    self._file = file
            finally:
                if self._file is None:
                    os.close(file)
        self._end = open_file(self._file)
        keep_to_parent(self._end)
        self._sweep()
        os.ftruncate(self._file, 0)
        self._write({**_who(self._command), "folder": os.path.abspath(self._folder)})

    def note(self, part: Path) -> None:
        """Note that a file waits at *part*: by its path in the folder, which may be moved or copied meanwhile."""
        folder, path = os.path.abspath(self._folder), os.path.abspath(part)
        self._write(os.path.relpath(path, folder) if Path(path).is_relative_to(folder) else path)

    def leave(self) -> None:
        """Let others in."""
        if self._file is None:
            return
        if os.name == "nt":  # an open file cannot be removed there
            close_end(self._end)
        with suppress(OSError):
            if os.name == "nt" or self._is_still(self._file):
                self._path.unlink(missing_ok=True)
        if os.name != "nt":
            close_end(self._end)
        if self._claimed:
            with suppress(OSError):
                (self._folder / CLAIM).unlink(missing_ok=True)
        self._file, self._claimed = None, False

    def is_free(self) -> bool:
        """Return whether nobody has it; changes nothing."""
        try:
            file = os.open(self._path, os.O_RDWR)
        except OSError:
            return not (self._folder / CLAIM).exists()
        try:
            return self._locked(file)
        finally:
            os.close(file)
            if self._claimed:
                (self._folder / CLAIM).unlink(missing_ok=True)

    def held_by(self) -> Problem:
        """Return the problem that says who has it."""
        return _busy(self._folder, self._said())

    def _write(self, said: object) -> None:
        assert self._file is not None, "the lock is held"
        os.lseek(self._file, 0, os.SEEK_END)
        os.write(self._file, f"{json.dumps(said)}\n".encode())

    def _locked(self, file: int) -> bool:
        try:
            return _system_lock(file)
        except OSError as error:
            if error.errno not in _NO_LOCKS:
                raise
        self._claimed = self._claim()
        return self._claimed

    def _claim(self) -> bool:
        """Make the file that is the lock here; one that a dead process left is removed first."""
        path = self._folder / CLAIM
        lines = _lines(path)
        if lines and isinstance(lines[0], dict) and not _runs(lines[0]):
            path.unlink(missing_ok=True)
        try:
            claim = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
        except FileExistsError:
            return False
        with os.fdopen(claim, "w", encoding="utf-8") as file:
            file.write(f"{json.dumps(_who(self._command))}\n")
        return True

    def _is_still(self, file: int) -> bool:
        """Return whether *file* is what lies there under this name: whoever had it may have removed it meanwhile."""
        try:
            there, here = os.stat(self._path), os.fstat(file)
        except FileNotFoundError:
            return False
        return (there.st_dev, there.st_ino) == (here.st_dev, here.st_ino)

    def _sweep(self) -> None:
        try:
            recorded = (self._folder / RECORD).read_text(encoding="utf-8")
        except (OSError, ValueError):
            recorded = ""
        first, *lines = _lines(self._path) or [None]
        moved = not isinstance(first, dict) or first.get("folder") != os.path.abspath(self._folder)
        for line in lines:
            part = Path(line) if isinstance(line, str) else None
            if part is None or not PART.fullmatch(part.name) or part.name in recorded or ".." in part.parts:
                continue
            if moved and part.is_absolute():  # this folder is a copy, and it may wait for a run on the other one
                continue
            with suppress(OSError):
                (self._folder / part).unlink(missing_ok=True)

    def _said(self) -> dict[str, object]:
        """Return what the run that has it says of itself; it may have taken it just now."""
        for _ in range(20):
            lines = _lines(self._path)
            if lines and isinstance(lines[0], dict):
                return lines[0]
            time.sleep(0.01)
        return {}


def _system_lock(file: int) -> bool:
    """Ask the system for the lock; return whether it is ours.

    Raises:
        OSError: there are no locks here.
    """
    if fcntl is not None:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN):
                return False
            raise
        return True
    if msvcrt is not None:
        try:
            os.lseek(file, _FAR, os.SEEK_SET)
            msvcrt.locking(file, msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined]
        except PermissionError:
            return False
        return True
    raise OSError(errno.ENOLCK, os.strerror(errno.ENOLCK))


def _machine() -> str:
    return os.uname().nodename if hasattr(os, "uname") else os.environ.get("COMPUTERNAME", "")


def _who(command: str) -> dict[str, object]:
    return {"command": command, "process": os.getpid(), "machine": _machine()}


def _lines(path: Path) -> list[object]:
    try:
        return [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    except (OSError, ValueError, RecursionError):
        return []


def _runs(said: dict[str, object]) -> bool:
    """Return whether the process that *said* so may still be there."""
    process = said.get("process")
    if said.get("machine") != _machine() or not isinstance(process, int) or os.name == "nt":
        return True
    try:
        os.kill(process, 0)
    except (ProcessLookupError, OverflowError):
        return False
    except OSError:
        pass
    return True


def _busy(folder: Path, said: dict[str, object]) -> Problem:
    who = "another command"
    if said:
        who = f"stemwright {said.get('command')} (process {said.get('process')} on {said.get('machine')})"
    return Problem("folder-busy", Place(str(folder)), "", f"{who} is writing in this folder",
                   "wait until it has ended, or name another folder")
