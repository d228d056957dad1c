"""The bank of the demo term, built once for all tests of the audit; each module works on a copy of its own."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
import recovery_figures


@pytest.fixture(scope="session")
def demo_bank(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The bank file; not to be written beside."""
    return recovery_figures.built(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def built(demo_bank: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of it."""
    return Path(shutil.copy(demo_bank, tmp_path_factory.mktemp("term")))
