"""Trees of content: which folders and files a plan, template or topic is read with. Data only, nothing is read here.

A tree holds folders ``templates``, ``topics`` and ``locales`` and files ``difficulty.yaml``, ``classes.yaml`` and
``audit.yaml``, each of them or some. One tree comes along with the tool. What lies in a writer's own tree adds to it,
and replaces what has the same id; a tree that holds all three folders and the weights, as a copy of the one that comes
along does, is read alone.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import NamedTuple

from bank.errors import BadInput, Place, Problem

SHIPPED = Path(__file__).parent / "content"
"""The tree that comes along."""
FOLDERS = ("templates", "topics", "locales")
"""Folders of a tree that a plan draws on; templates may lie in folders of their own there."""
WEIGHTS, CLASSES, THRESHOLDS = SETTINGS = ("difficulty.yaml", "classes.yaml", "audit.yaml")
"""Files of a tree: weights of difficulty, kinds of classes, thresholds of the audit."""
_INSIDE = (*FOLDERS, "plans")
"""Names of folders whose parent is a tree."""


class Tree(NamedTuple):
    """The content that belongs to a file."""

    own: Path | None
    """The writer's own tree, None where there is none."""
    is_alone: bool
    """Whether nothing of what comes along is read beside it."""

    def own_files(self, folder: str) -> list[Path]:
        """Return the files of *folder* in the own tree, sorted.

        Raises:
            BadInput: one of them is a link out of the tree (``climbs-out``).
        """
        return [] if self.own is None else _files(self.own, folder)

    def shipped_files(self, folder: str) -> list[Path]:
        """Return the files of *folder* that come along, sorted; none where the own tree is read alone."""
        return [] if self.is_alone else _files(SHIPPED, folder)

    def setting(self, name: str) -> Path:
        """Return the file *name*, one of `SETTINGS`: the own one where there is one."""
        if self.own is not None and (self.own / name).is_file():
            return self.own / name
        return SHIPPED / name

    def own_settings(self) -> list[Path]:
        """Return those of `SETTINGS` that lie in the own tree."""
        return [] if self.own is None else [self.own / name for name in SETTINGS if (self.own / name).is_file()]


def tree_of(path: Path) -> Tree:
    """Return the tree that the file at *path* belongs to.

    Its own folder, where that holds a part of a tree; else the folder above one called ``templates``, ``topics``,
    ``locales`` or ``plans`` in which the file lies.
    """
    own = next((folder for folder in _candidates(path) if _holds(folder)), None)
    if own is None or own.resolve() == SHIPPED.resolve():
        return Tree(None, False)
    whole = all((own / name).is_dir() for name in FOLDERS) and (own / WEIGHTS).is_file()
    return Tree(own, whole)


def _candidates(path: Path) -> list[Path]:
    found = [path.parent]
    absolute = Path(os.path.abspath(path))
    typed = [] if ".." in path.parts else list(path.parents)
    for up, folder in enumerate(absolute.parents):
        if folder.name in _INSIDE:
            found.append(typed[up + 1] if up + 1 < len(typed) else folder.parent)
            break
    return found


def _holds(folder: Path) -> bool:
    return any((folder / name).is_dir() for name in FOLDERS) or any((folder / name).is_file() for name in SETTINGS)


def _files(root: Path, folder: str) -> list[Path]:
    files = sorted((root / folder).rglob("*.yaml"))
    inside = root.resolve()
    outside = [path for path in files if not path.resolve().is_relative_to(inside)]
    if outside:
        raise BadInput([
            Problem("climbs-out", Place(str(path)), "", "this is a link to a file outside its folder", "copy the file")
            for path in outside
        ])
    return files


def passed_over(tree: Tree) -> list[str]:
    """Return a line for each file of the own folders that is not read because its name ends in ``.yml``."""
    if tree.own is None:
        return []
    files = [path for folder in FOLDERS for path in sorted((tree.own / folder).rglob("*.yml"))]
    return [f"{path}: not read: its name does not end in .yaml" for path in files]


def replaced(tree: Tree, folder: str, own: dict[str, str]) -> list[str]:
    """Return a line for each of *own* (file names by id) that stands for another text of *folder* that comes along.

    Files that come along are called by the ids in them.
    """
    if tree.is_alone:
        return []
    shipped = {path.stem: path for path in _files(SHIPPED, folder)}
    return [
        f"{folder[:-1]} {identifier}: {file} replaces {shipped[identifier]}, which comes along"
        for identifier, file in sorted(own.items())
        if identifier in shipped and Path(file).read_bytes() != shipped[identifier].read_bytes()
    ]
