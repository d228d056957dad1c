"""A progress bar on standard error for work that takes longer than a moment."""

from __future__ import annotations

import sys
import time

MOMENT = 1.0
"""Seconds of work before a bar appears."""
_WIDTH = 30


class Progress:
    """A bar for one piece of work; call it with (done, total). Nothing is shown where nobody looks at a terminal."""

    def __init__(self, title: str) -> None:
        self._title = title
        self._begun = time.monotonic()
        self._last = 0.0
        self._shown = False
        self._watched = sys.stderr.isatty()

    def __call__(self, done: int, total: int) -> None:
        """Show that *done* of *total* parts are done."""
        now = time.monotonic()
        if not self._watched or now - self._begun < MOMENT or (now - self._last < 0.1 and done < total):
            return
        self._last = now
        self._shown = True
        filled = _WIDTH * done // max(1, total)
        bar = "\u2588" * filled + "\u2591" * (_WIDTH - filled)
        rest = (now - self._begun) * (total - done) // max(1, done)
        print(f"\r{self._title} {bar} {done}/{total}, {rest:.0f} s left ", end="", file=sys.stderr, flush=True)

    def close(self) -> None:
        """Remove the bar."""
        if self._shown:
            print("\r\033[K", end="", file=sys.stderr, flush=True)

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()
