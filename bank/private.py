"""Files that only their owner can read: made so before anything is written into them, whatever the umask."""

from __future__ import annotations

import os
from pathlib import Path

OWNER_ONLY = 0o600
_FOLDER = 0o700


def make_private(path: Path) -> None:
    """Make the empty file *path*, readable and writable by its owner only.

    Raises:
        OSError: it cannot be made, or something is there already, even a link that leads nowhere.
    """
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY)
    try:
        if os.name != "nt":
            os.fchmod(handle, OWNER_ONLY)
    finally:
        os.close(handle)


def private_folder(path: Path) -> None:
    """Make the folder *path*, for its owner only where it is new; one that is there stays as it is.

    Raises:
        OSError: it cannot be made.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.mkdir(mode=_FOLDER)
    except FileExistsError:
        if not path.is_dir():
            raise
        return
    if os.name != "nt":
        path.chmod(_FOLDER)


def others_may_read(path: Path) -> bool:
    """Whether the file *path* gives anyone but its owner a right."""
    return os.name != "nt" and bool(path.stat().st_mode & 0o077)


def close_to_others(path: Path) -> None:
    """Take every right to the file *path* from all but its owner, where it can be taken."""
    if others_may_read(path):
        try:
            path.chmod(OWNER_ONLY)
        except OSError:
            return
