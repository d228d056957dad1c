"""Looking at processes and sending them signals, for tests of how commands end."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

LONG_PLAN = "plan: long\ntitle: Long\nseed: 7\nlocale: en-point\ninvented: true\npool:\n  - {items: 20000}\n"
"""A plan whose build takes long enough to be stopped on the way."""


def started(*words: str, cwd: Path | None = None) -> subprocess.Popen[str]:
    """Return the command ``stemwright`` with *words*, begun."""
    return subprocess.Popen(
        [sys.executable, "-m", "bank.cli", *words], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, cwd=cwd,
        start_new_session=True,
    )


def children_of(pid: int) -> list[int]:
    """Return the processes that *pid* has started and that run; empty where the system does not say."""
    found: list[int] = []
    for task in Path(f"/proc/{pid}/task").glob("*/children"):
        try:
            found += map(int, task.read_text().split())
        except OSError:
            pass
    return [child for child in found if runs(child)]


def runs(pid: int) -> bool:
    """Return whether the process *pid* runs."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(") ")[2][0] not in "ZX"
    except (FileNotFoundError, ProcessLookupError):
        pass
    if Path("/proc/self/stat").exists():
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    return True


def within(seconds: float, holds: Callable[[], object]) -> bool:
    """Return whether what *holds* asks comes true within *seconds*."""
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(0.02)
    return True
