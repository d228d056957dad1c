"""Options of the whole test run.

Property tests run with fixed examples, so that a run says something of the code and not of luck. ``--hypothesis-profile
searching`` looks for new ones (`.ci/run` does); with the ``--hypothesis-seed`` that such a run prints it can be repeated.
"""

from __future__ import annotations

import random
import time

import pytest
from hypothesis import settings
from wanted import closing_line

# No deadlines: a busy machine is no fault of the code. No store of examples: a failure is repeated by its seed.
settings.register_profile("fixed", deadline=None, database=None, derandomize=True)
settings.register_profile("searching", deadline=None, database=None, derandomize=False, print_blob=True)
settings.load_profile("fixed")

TIME_IS_UP = "the time of the search was up"


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add ``--accept``: golden files are written anew from what the code makes now; read them before committing."""
    parser.addoption("--accept", action="store_true", default=False, help="write golden files anew")
    parser.addoption("--until", type=float, metavar="SECONDS", help="start no test at or after this time since the epoch")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Take the modules of a search in an order of its seed, so that no module is always the one left out."""
    if config.option.until is not None:
        order = random.Random(str(config.option.hypothesis_seed))
        places = {module: order.random() for module in dict.fromkeys([item.path for item in items])}
        items.sort(key=lambda item: places[item.path])


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """Start nothing more once the time of a search is up; tests that have begun come to their end."""
    until = item.config.option.until
    if until is not None and time.time() >= until:
        pytest.skip(TIME_IS_UP)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, config: pytest.Config) -> None:
    """Say in one line what this run did not try, and what it would take."""
    reasons = [report.longrepr[2] for report in terminalreporter.stats.get("skipped", ())]
    if config.option.until is not None:
        late = sum(reason.endswith(TIME_IS_UP) for reason in reasons)
        begun = sum(len(terminalreporter.stats.get(name, ())) for name in ("passed", "failed"))
        terminalreporter.write_line(f"searched: {begun} tests; left when the time was up: {late}")
        return
    line = closing_line(reasons, left_out=config.option.markexpr == "not long")
    if line:
        terminalreporter.write_line(line)


@pytest.fixture
def accept(request: pytest.FixtureRequest) -> bool:
    """Whether golden files are to be written anew."""
    return bool(request.config.getoption("--accept"))
