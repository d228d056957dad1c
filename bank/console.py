"""Standard output and standard error as they are found: closed, full, ASCII only; and signals that end a command.

A command must not break off half way because nobody reads what it prints. What cannot be printed is remembered, and
said when the command is done.
"""

from __future__ import annotations

import codecs
import io
import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

ERRORS = "stemwright-spelled"
"""Name of the way in which characters are written that an output does not know."""
_SPELLED = {
    "\u2212": "-", "\u2013": "-", "\u2014": "-", "\u2011": "-", "\u00d7": "x", "\u00f7": "/", "\u22c5": "*", "\u2026": "...",
    "\u201c": '"', "\u201d": '"', "\u201e": '"', "\u2018": "'", "\u2019": "'", "\u00a0": " ", "\u202f": " ", "\u2009": " ",
    "\u2264": "<=", "\u2265": ">=", "\u2588": "#", "\u2591": ".", "\u2192": "->",
}  # fmt: skip


class Stopped(KeyboardInterrupt):
    """A signal that ends a command has come."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(number)


class _Output(io.RawIOBase):
    """Writes to an open file, and goes on where that fails."""

    def __init__(self, number: int) -> None:
        self._number = number
        self.lost: OSError | None = None
        """Why something could not be written."""

    def fileno(self) -> int:
        """Return the number of the open file."""
        return self._number

    def isatty(self) -> bool:
        """Return whether somebody looks at it."""
        return os.isatty(self._number)

    def writable(self) -> bool:
        """Return True."""
        return True

    def write(self, data: object) -> int:
        """Write *data*, or remember why that cannot be done."""
        content = bytes(data)  # type: ignore[call-overload]
        if self.lost is None:
            try:
                return os.write(self._number, content)
            except OSError as error:
                self.lost = error
        return len(content)


@contextmanager
def opened() -> Iterator[list[OSError]]:
    """Print through outputs that never fail; the list holds at the end why standard output could not be written.

    A reader that stopped reading is no failure. Where outputs have been exchanged for others, these are left alone.
    """
    lost: list[OSError] = []
    _open_missing()
    before = sys.stdout, sys.stderr
    codecs.register_error(ERRORS, _spelled)
    raws = {}
    for name, number in (("stdout", 1), ("stderr", 2)):
        found = getattr(sys, name)
        if found is None or found is getattr(sys, f"__{name}__"):
            raws[name] = _Output(number)
            setattr(sys, name, _text(raws[name], found))
    try:
        yield lost
    finally:
        for name in raws:
            getattr(sys, name).flush()
        if "stdout" in raws and (error := raws["stdout"].lost) is not None and not isinstance(error, BrokenPipeError):
            lost.append(error)
        sys.stdout, sys.stderr = before


def _text(raw: _Output, found: io.TextIOBase | None) -> io.TextIOWrapper:
    encoding = getattr(found, "encoding", None) or "utf-8"
    seen = raw.isatty() or raw.fileno() == 2
    return io.TextIOWrapper(io.BufferedWriter(raw), encoding=encoding, errors=ERRORS, line_buffering=seen)


def _open_missing() -> None:
    """Open nothing in place of what is closed, lest a file of ours be opened under the number of an output."""
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _spelled(error: UnicodeError) -> tuple[bytes, int]:
    if not isinstance(error, UnicodeEncodeError):
        raise error
    text = error.object[error.start : error.end]
    return b"".join([_spelled_one(one) for one in text]), error.end


def _spelled_one(character: str) -> bytes:
    if "\udc80" <= character <= "\udcff":  # a byte of a file's name, as the system gave it
        return os.fsencode(character)
    return (_SPELLED.get(character) or character).encode("ascii", "backslashreplace")


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """Let TERM and HUP raise `Stopped`, as an interrupt from the keyboard raises KeyboardInterrupt."""
    before = {}
    for name in ("SIGTERM", "SIGHUP"):
        number = getattr(signal, name, None)
        try:
            if number is not None and signal.getsignal(number) is signal.SIG_DFL:  # not where it is to be ignored
                before[number] = signal.signal(number, _stop)
        except ValueError:  # not in the main thread
            pass
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def _stop(number: int, _frame: FrameType | None) -> None:
    raise Stopped(number)
