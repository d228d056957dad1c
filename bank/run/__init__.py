"""A run: all files that a command writes into a folder take their places in one step, or none does.

Files wait beside their places under names of their own. When all are there and flushed to the disk, a record is written
that says which goes where; with it the run has taken effect. Then old files are removed and new ones are moved, so
that files of two runs never stand together. A run that is killed before the record has changed nothing, and what it left
waiting is removed by the next one; killed behind it, its moves are completed by whoever opens the folder next
(`settle`). A folder takes one run at a time.
"""

from __future__ import annotations

import time
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from bank import files
from bank.errors import BadInput, Place, Problem
from bank.run import _record
from bank.run._lock import CLAIM, LOCK, Lock
from bank.run._record import RECORD, Record
from bank.work import signals_held

__all__ = ["LOCK", "RECORD", "Run", "leftovers", "refuse_busy", "settle"]

PATIENCE = 10.0
"""Seconds that a command which only reads waits for a run that is putting its files in place."""


class Run:
    """A run of *command* on *folder*; a context manager, in which `bank.files.replacing` lets files wait for its end.

    Leaving it well puts all files in place; leaving it by an error leaves them as they were.

    Raises:
        BadInput: another run is at work there (``folder-busy``), the folder is a file (``folder-is-a-file``), or it or
            a file in it cannot be written (``cannot-write``).
    """

    def __init__(self, folder: Path, command: str) -> None:
        self.folder, self._command = folder, command
        self._lock: Lock | None = None
        self._parts: dict[Path, Path] = {}
        """By the place that it is to take: the file that waits."""
        self._retired: list[Path] = []
        self._made: list[Path] = []
        """Folders that were made for this run."""
        self._before: files.Stage | None = None

    def __enter__(self) -> Run:
        place = Place(str(self.folder))
        if self.folder.exists() and not self.folder.is_dir():
            raise BadInput(Problem("folder-is-a-file", place, "", "is a file", "name a folder after -o"))
        try:
            self._make(self.folder)
            self._lock = Lock(self.folder, self._command)
            self._lock.take()
            _record.finish(self.folder)
            self._before = files.set_stage(self)
        except OSError as error:
            self._undo()
            raise BadInput(files.cannot_write(self.folder, error)) from error
        except BaseException:
            self._undo()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        files.set_stage(self._before)
        try:
            if kind is None:
                self._land()
        finally:
            self._undo()

    def part_of(self, path: Path) -> Path:
        """Return the path of the file that waits to take the place of *path*, to be written or read."""
        known = self._parts.get(path)
        if known is not None:
            return known
        _refuse_folder(path)
        self._make(path.parent)
        with suppress(OSError):  # what an older version of this tool left
            path.with_name(f".{path.name}{files.SUFFIX}").unlink(missing_ok=True)
        part = files.new_part(path)
        assert self._lock is not None, "a run is entered before files are written"
        self._lock.note(part)
        self._parts[path] = part
        return part

    def drop(self, path: Path) -> None:
        """Forget what was to take the place of *path*; it was not written whole."""
        self._parts.pop(path, None)

    def waiting(self) -> dict[Path, Path]:
        """Return the files that wait, by the place that each is to take."""
        return dict(self._parts)

    def retire(self, paths: Iterable[Path]) -> None:
        """Remove the files at *paths* at the run's end, unless it writes them anew."""
        self._retired += paths

    def _make(self, folder: Path) -> None:
        missing = []
        while not folder.exists():
            missing.append(folder)
            folder = folder.parent
        for one in reversed(missing):
            one.mkdir(exist_ok=True)
            self._made.append(one)

    def _land(self) -> None:
        if self._lock is None or not (self._parts or self._retired):
            return
        for path in self._parts:
            _refuse_folder(path)
        self._retired = [path for path in self._retired if not _is_folder(path)]
        record = Record.of(self.folder, self._parts, self._retired)
        first = next(iter(self._parts), self.folder)
        try:
            for part in self._parts.values():
                files.flush(part)
        except OSError as error:
            raise BadInput(files.cannot_write(first, error)) from error
        with signals_held():
            try:
                self._lock.note(part := files.new_part(self.folder / RECORD))
                record.write(self.folder, part)
            except OSError as error:
                raise BadInput(files.cannot_write(self.folder / RECORD, error)) from error
            self._made = []
            parts, self._parts = self._parts, {}
            for path in (*parts, *self._retired):
                files.note_change(path)
            try:
                record.carry_out(self.folder, {path: part for path, part in parts.items() if path in record.outside})
            except OSError as error:
                raise BadInput(_unfinished(self.folder, error)) from error

    def _undo(self) -> None:
        """Remove what waits and the folders made for it, and let others in."""
        with signals_held():
            self._clear()

    def _clear(self) -> None:
        for part in self._parts.values():
            with suppress(OSError):
                part.unlink(missing_ok=True)
        self._parts = {}
        if self._lock is not None:
            self._lock.leave()
            self._lock = None
        for made in reversed(self._made):
            with suppress(OSError):
                made.rmdir()
        self._made = []


def settle(folder: Path) -> None:
    """Put the files in place that a run on *folder* left waiting when it was killed; whoever reads there asks it first.

    Raises:
        BadInput: another run is at work (``folder-busy``), or this user may not write there (``run-unfinished``).
    """
    end = time.monotonic() + PATIENCE
    while (folder / RECORD).exists():
        lock = Lock(folder, "settling")
        try:
            lock.take()
            _record.finish(folder)
        except OSError as error:
            raise BadInput(_unfinished(folder, error)) from error
        except BadInput:
            if time.monotonic() > end:
                raise
            time.sleep(0.05)
        finally:
            lock.leave()


def _is_folder(path: Path) -> bool:
    return path.is_dir() and not path.is_symlink()


def _refuse_folder(path: Path) -> None:
    """Raise where a folder stands in the place of a file: found only after the record, it would stop the run half way.

    Raises:
        BadInput: one does (``cannot-write``).
    """
    if _is_folder(path):
        raise BadInput(Problem(
            "cannot-write", Place(str(path)), "", "cannot be written, because a folder has this name",
            "move that folder away, or name another after -o",
        ))


def _unfinished(folder: Path, error: OSError) -> Problem:
    return Problem(
        "run-unfinished", Place(str(folder)), "",
        "the files of a run are complete, but they cannot all be put in their places"
        f" ({error.strerror or error})", "call any command on this folder as a user who may write there",
    )


def refuse_busy(folder: Path) -> None:
    """Refuse to look at *folder* while a run is at work in it; changes nothing there.

    Raises:
        BadInput: one is (``folder-busy``).
    """
    lock = Lock(folder, "")
    if not lock.is_free():
        raise BadInput(lock.held_by())


def leftovers(folder: Path) -> list[Path]:
    """Return files in *folder* and the folders in it that a run left when it was killed; none while one is at work."""
    if not Lock(folder, "").is_free():
        return []
    found = [path for path in (folder / LOCK, folder / CLAIM, folder / RECORD) if path.exists()]
    inside = [one for one in sorted(folder.iterdir()) if one.is_dir()]
    for place in (folder, *inside):
        found += sorted(place.glob(f".stemwright-*{files.SUFFIX}"))
    return found
