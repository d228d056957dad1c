"""What some tests need that a plain installation lacks: each skips by name, and the run's last line counts them.

A skip for want of something is made by `needs`, so that what a newcomer misses, and how to get it, stands in one place.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from typing import NamedTuple


class Wanted(NamedTuple):
    """Something that tests need."""

    name: str
    remedy: str
    """How to get it."""


OFFICIAL_SCHEMAS = Wanted("the standard body's schemas", "put them into the folder that STEMWRIGHT_STANDARDS names")
EVIDENCE = Wanted("the collected evidence", "put it into the folder that STEMWRIGHT_EVIDENCE names")
CHROMIUM = Wanted("Chromium", "Debian package chromium")
PLAYER = Wanted("the independent player", ".ci/run fetches it with npm")
POSTGRESQL = Wanted("PostgreSQL", "Debian package postgresql")
STATSMODELS = Wanted("a second opinion of statistics", "pip install statsmodels")
PDFTOTEXT = Wanted("pdftotext", "Debian package poppler-utils")
FILE_LIMITS = Wanted("a system that can limit the size of files", "run them on Linux or macOS")
LIBRARIES = Wanted("libraries of the tests", "pip install '.[test]'")
"""Of the extra ``test``."""

_SIGN = "needs "


def needs(wanted: Wanted) -> str:
    """Return the reason with which a test skips for want of something."""
    return f"{_SIGN}{wanted.name} ({wanted.remedy})"


def closing_line(reasons: Iterable[str], *, left_out: bool = False) -> str:
    """Return what a run misses, in one line, from the *reasons* of its skipped tests; empty where it misses nothing.

    *left_out* says that the tests which take long were not asked for.
    """
    found = Counter([reason.removeprefix("Skipped: ") for reason in reasons])
    parts = []
    if found:
        number = found.total()
        wants = [f"{n} {_verb(n)}{reason.removeprefix(_SIGN)}" for reason, n in found.most_common() if _is_want(reason)]
        others = sum(n for reason, n in found.items() if not _is_want(reason))
        wants += [f"{others} for other reasons (pytest -rs says which)"] if others else []
        parts.append(f"{number} {'test' if number == 1 else 'tests'} skipped: {', '.join(wants)}")
    if left_out:
        parts.append("tests that take long were left out: pytest -m long")
    return "; ".join(parts)


def _is_want(reason: str) -> bool:
    return reason.startswith(_SIGN)


def _verb(number: int) -> str:
    return "needs " if number == 1 else "need "
