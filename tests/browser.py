"""A browser for the tests of pages: where it is found, how it is started, and how a test skips without one."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import pytest
from wanted import CHROMIUM, LIBRARIES, needs

if TYPE_CHECKING:
    from playwright.sync_api import Browser

VARIABLE = "STEMWRIGHT_CHROMIUM"
NAMES = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS = (
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
)  # fmt: skip
"""No sandbox, because containers forbid it; the rest keeps the browser from reaching out by itself."""


def executable() -> str | None:
    """Return the path of a browser: what `VARIABLE` names, or else the first of `NAMES` on the search path."""
    named = os.environ.get(VARIABLE)
    if named:
        return shutil.which(named)
    return next((found for found in map(shutil.which, NAMES) if found), None)


@contextmanager
def launched() -> Iterator[Browser]:
    """Give a running browser without a window; skip the test, saying why, where there is none."""
    playwright = pytest.importorskip("playwright.sync_api", reason=needs(LIBRARIES))
    path = executable()
    if path is None:
        pytest.skip(needs(CHROMIUM))
    with playwright.sync_playwright() as started:
        browser = started.chromium.launch(executable_path=path, args=list(ARGUMENTS))
        try:
            yield browser
        finally:
            browser.close()
