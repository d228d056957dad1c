"""The record of a run: which file goes where, carried out by the run itself or by whoever comes after it."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Iterable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from bank import files
from bank.errors import BadInput, Place, Problem
from bank.work import signals_held

RECORD = ".stemwright-record"
"""Name of the record in the folder."""
PART = re.compile(r"\.stemwright-\d+-\d+\.part")
"""Names of files that wait."""


class Record(NamedTuple):
    """What is to be done, by paths in the folder with / between their parts."""

    moves: tuple[tuple[str, str], ...]
    """Of each file: where it waits, and the place that it takes."""
    removed: tuple[str, ...]
    """Old files that nothing takes the place of."""
    outside: tuple[Path, ...] = ()
    """Places in other folders; not recorded, for what stands in a folder must not reach beyond it."""

    @classmethod
    def of(cls, folder: Path, parts: Mapping[Path, Path], retired: Iterable[Path]) -> Record:
        """Return the record of a run on *folder* whose *parts* wait, by the places that they take."""
        moves, outside = [], []
        for path, part in parts.items():
            place = _inside(folder, path)
            if place:
                moves.append((f"{place.removesuffix(path.name)}{part.name}", place))
            else:
                outside.append(path)
        removed = {_inside(folder, path) for path in retired} - {place for _, place in moves} - {""}
        return cls(tuple(moves), tuple(sorted(removed)), tuple(outside))

    def write(self, folder: Path, part: Path) -> None:
        """Write it in *folder*, in one step, by way of *part*: from then on the run has taken effect."""
        try:
            part.write_text(json.dumps({"moves": self.moves, "removed": self.removed}), encoding="utf-8")
            files.flush(part)
            os.replace(part, folder / RECORD)
        except OSError:
            with suppress(OSError):
                part.unlink(missing_ok=True)
            raise
        sync(folder)

    def carry_out(self, folder: Path, outside: Mapping[Path, Path] | None = None) -> None:
        """Do what it says in *folder*, as far as it has not been done, and remove it.

        Raises:
            OSError: that cannot be done; the record stays.
        """
        for path, part in (outside or {}).items():
            os.replace(part, path)
        left = [(folder / part, folder / place) for part, place in self.moves if (folder / part).exists()]
        touched = {place.parent for _, place in left}
        for old in (*[folder / one for one in self.removed], *[place for _, place in left[1:]]):
            if old.parent.is_dir():
                touched.add(old.parent)
            old.unlink(missing_ok=True)
        for part, place in left:
            os.replace(part, place)
        for one in sorted(touched):
            sync(one)
        (folder / RECORD).unlink(missing_ok=True)
        sync(folder)


def finish(folder: Path) -> None:
    """Carry out the record that a killed run left in *folder*; the caller has locked it.

    Raises:
        BadInput: it is no record (``record-damaged``).
        OSError: it cannot be carried out.
    """
    path = folder / RECORD
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return
    except (ValueError, RecursionError):
        said = None
    record = _read(said)
    if record is None or not all([_inside(folder, folder / one) for one in _places(record)]):
        raise BadInput(Problem(
            "record-damaged", Place(str(path)), "", "this is not the record of a run of Stemwright",
            "remove the file, and build and export anew",
        ))
    with signals_held():
        for one in (*record.removed, *[place for _, place in record.moves]):
            files.note_change(folder / one)
        record.carry_out(folder)


def _read(said: object) -> Record | None:
    if not isinstance(said, dict) or set(said) != {"moves", "removed"}:
        return None
    moves, removed = said["moves"], said["removed"]
    if not isinstance(moves, list) or not isinstance(removed, list):
        return None
    if not all([isinstance(one, list) and len(one) == 2 for one in moves]):
        return None
    if not all([isinstance(name, str) for name in (*removed, *[name for one in moves for name in one])]):
        return None
    if not all([PART.fullmatch(part.rpartition("/")[2]) for part, _ in moves]):
        return None
    return Record(tuple([(part, place) for part, place in moves]), tuple(removed))


def _places(record: Record) -> list[str]:
    return [*record.removed, *[name for move in record.moves for name in move]]


def _inside(folder: Path, path: Path) -> str:
    """Return where *path* stands in *folder*, links followed; empty where it does not."""
    try:
        parent, root = path.parent.resolve(), folder.resolve()
        inside = parent.is_relative_to(root) and path.name not in ("", ".", "..")
    except (OSError, ValueError):
        return ""
    return (parent.relative_to(root) / path.name).as_posix() if inside else ""


def sync(folder: Path) -> None:
    """Wait until the names in *folder* lie on the disk, where the system can be asked for that."""
    try:
        opened = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(opened)
    except OSError:
        pass
    finally:
        os.close(opened)
