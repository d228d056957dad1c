"""Options of the whole test run."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--accept``: golden files are written anew from what the code makes now; read them before committing."""
    parser.addoption("--accept", action="store_true", default=False, help="write golden files anew")


@pytest.fixture
def accept(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written anew."""
    return bool(request.config.getoption("--accept"))
