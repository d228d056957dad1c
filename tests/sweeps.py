"""A part of a long sweep stays in the quick run; the whole of it runs with ``-m long`` beside that part."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest
from hypothesis import settings


def sweep(cases: Iterable[Any], every: int) -> list[Any]:
    """Return *cases* for one argument of `parametrize`: the first of each *every* are quick, the others take long."""
    return [case if place % every == 0 else pytest.param(case, marks=pytest.mark.long) for place, case in enumerate(cases)]


def examples(fixed: int, sought: int) -> int:
    """Return how many examples a costly property test has: *fixed* in the run of the README, *sought* in a search."""
    return fixed if settings.default is not None and settings.default.derandomize else sought
