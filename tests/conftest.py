"""Options of the whole test run."""

from __future__ import annotations

import pytest
from hypothesis import settings

settings.register_profile("unhurried", deadline=None)  # a busy machine is no fault of the code
settings.load_profile("unhurried")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--accept``: golden files are written anew from what the code makes now; read them before committing."""
    parser.addoption("--accept", action="store_true", default=False, help="write golden files anew")


@pytest.fixture
def accept(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written anew."""
    return bool(request.config.getoption("--accept"))
