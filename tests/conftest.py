"""Options of the whole test run.

Property tests run with fixed examples, so that a run says something of the code and not of luck. ``--hypothesis-profile
searching`` looks for new ones (`.ci/run` does); with the ``--hypothesis-seed`` that such a run prints it can be repeated.
"""

from __future__ import annotations

import pytest
from hypothesis import settings
from wanted import closing_line

# No deadlines: a busy machine is no fault of the code. No store of examples: a failure is repeated by its seed.
settings.register_profile("fixed", deadline=None, database=None, derandomize=True)
settings.register_profile("searching", deadline=None, database=None, derandomize=False, print_blob=True)
settings.load_profile("fixed")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--accept``: golden files are written anew from what the code makes now; read them before committing."""
    parser.addoption("--accept", action="store_true", default=False, help="write golden files anew")


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say in one line what this run did not try, and what it would take."""
    reasons = [report.longrepr[2] for report in terminalreporter.stats.get("skipped", ())]
    line = closing_line(reasons, left_out=config.option.markexpr == "not long")
    if line:
        terminalreporter.write_line(line)


@pytest.fixture
def accept(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written anew."""
    return bool(request.config.getoption("--accept"))
