"""Which files may be opened: ordinary ones. A named pipe, a device or a socket could be waited for without end."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from bank.errors import BadInput, Place, Problem


NO_FILE = "there is no such file"


def is_ordinary(path: Path) -> bool:
    """Whether there is an ordinary file at *path*, or a link to one; never an error, whatever the name."""
    return odd_about(path) == ""


def odd_about(path: Path) -> str:
    """Return why there is no ordinary file at *path*, in words, empty where there is one."""
    try:
        mode = os.stat(path).st_mode
    except FileNotFoundError:
        return NO_FILE
    except ValueError:
        return "the name holds a character that no file name can have"
    except OSError as error:
        return f"cannot be read ({error.strerror or 'unknown reason'})"
    if stat.S_ISREG(mode):
        return ""
    kinds = (
        (stat.S_ISDIR, "is a folder"), (stat.S_ISFIFO, "is a named pipe, not a file"),
        (stat.S_ISSOCK, "is a socket, not a file"),
    )
    return next((words for test, words in kinds if test(mode)), "is a device, not a file")


def refuse_odd_file(path: Path, code: str, remedy: str) -> None:
    """Refuse *path* where it is no ordinary file.

    Raises:
        BadInput: there is none, or it is something else (*code*).
    """
    wrong = odd_about(path)
    if wrong:
        raise BadInput(Problem(code, Place(shown_path(path)), "", wrong, remedy))


def shown_path(path: Path) -> str:
    """Return *path* for a message: characters that cannot be shown replaced, a very long name cut."""
    return shown_name(str(path))


def shown_name(name: str | bytes) -> str:
    """Return the *name* of a file for a message, as `shown_path` does."""
    text = os.fsdecode(name).encode("utf-8", "replace").decode()
    text = "".join(letter if letter.isprintable() else "\ufffd" for letter in text)
    return text if len(text) <= _LONGEST else f"{text[: _LONGEST // 2]}...{text[-_LONGEST // 2 :]}"


_LONGEST = 300
