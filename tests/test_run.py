"""The run of the tests itself: examples are the same every time, and what it did not try is said in one line."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sweeps import sweep
from wanted import CHROMIUM, OFFICIAL_SCHEMAS, Wanted, closing_line, needs

HERE = Path(__file__).parent
_SKIPS = re.compile(r"(?:pytest\.skip|importorskip|mark\.skipif)\((?:[^()]|\([^()]*\))*\)")
_WANTS = re.compile(r"importorskip|install|beside|on this machine|search path|missing|schemas|evidence")
PROPERTY = """
from hypothesis import given, strategies as st

@given(st.integers())
def test_of_any_number(number):
    with open("drawn", "a") as file:
        file.write(f"{number} ")
"""
SKIPPING = """
import pytest
from wanted import CHROMIUM, OFFICIAL_SCHEMAS, needs

@pytest.mark.skipif(True, reason=needs(OFFICIAL_SCHEMAS))
@pytest.mark.parametrize("number", range(3))
def test_marked(number): ...

def test_within():
    pytest.skip(needs(OFFICIAL_SCHEMAS))

@pytest.fixture(scope="module")
def browser():
    pytest.skip(needs(CHROMIUM))

def test_one_page(browser): ...
def test_another_page(browser): ...
def test_that_runs(): ...

@pytest.mark.skip(reason="today is Tuesday")
def test_other(): ...

@pytest.mark.long
def test_that_takes_long(): ...
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the options that these tests run with."""
    for name in ("conftest.py", "wanted.py"):
        shutil.copy(HERE / name, tmp_path)
    (tmp_path / "pytest.ini").write_text('[pytest]\naddopts = -m "not long"\nmarkers = long\n', encoding="utf-8")
    return tmp_path


def run(folder: Path, text: str, *words: str) -> str:
    """Return what pytest prints of a module with this *text*, run on its own."""
    (folder / "test_small.py").write_text(text, encoding="utf-8")
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", *words]
    return subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=120, check=True).stdout


def drawn(folder: Path, *words: str) -> str:
    """Return the numbers that a property test was given."""
    (folder / "drawn").unlink(missing_ok=True)
    run(folder, PROPERTY, *words)
    return (folder / "drawn").read_text(encoding="utf-8")


@pytest.mark.long
def test_examples_are_the_same_every_time_unless_new_ones_are_sought(folder: Path) -> None:
    fixed = drawn(folder)
    assert len(fixed.split()) > 50
    assert fixed == drawn(folder)
    sought = drawn(folder, "--hypothesis-profile=searching", "--hypothesis-seed=1")
    assert sought == drawn(folder, "--hypothesis-profile=searching", "--hypothesis-seed=1")
    assert len({fixed, sought, drawn(folder, "--hypothesis-profile=searching", "--hypothesis-seed=2")}) == 3


NUMBERED = """
import pytest

@pytest.mark.parametrize("number", range(5))
def test_of_a_number(number):
    assert number != {wrong}
"""


@pytest.mark.long
@pytest.mark.parametrize("words", sweep([(), ("-n", "2")], 2))
def test_a_search_ends_with_success_when_its_time_is_up_and_counts(folder: Path, words: tuple[str, ...]) -> None:
    nothing = run(folder, NUMBERED.format(wrong=9), "--until=1", *words)
    assert "searched: 0 tests; left when the time was up: 5\n" in nothing
    whole = run(folder, NUMBERED.format(wrong=9), f"--until={time.time() + 1000}", *words)
    assert "searched: 5 tests; left when the time was up: 0\n" in whole
    with pytest.raises(subprocess.CalledProcessError) as caught:
        run(folder, NUMBERED.format(wrong=0), f"--until={time.time() + 1000}", "-x", *words)
    assert caught.value.returncode != 0 and "1 failed" in caught.value.stdout


@pytest.mark.long
def test_a_search_takes_modules_in_an_order_of_its_seed(folder: Path) -> None:
    names = [f"test_{letter}" for letter in "abcdef"]
    for name in names:
        (folder / f"{name}.py").write_text(f"def {name}(): ...\n", encoding="utf-8")
    orders = set()
    for seed in (1, 1, 2, 3):
        printed = run(folder, "", "-v", "--until=1", f"--hypothesis-seed={seed}")
        orders.add(tuple(re.findall(r"^(test_[a-f])\.py", printed, re.MULTILINE)))
    assert len(orders) > 1 and all(sorted(order) == names for order in orders)


@pytest.mark.parametrize("words", sweep([(), ("-n", "2")], 2))
def test_the_last_line_counts_what_was_not_tried_and_says_how_to_get_it(folder: Path, words: tuple[str, ...]) -> None:
    lines = run(folder, SKIPPING, *words).strip().splitlines()
    (line,) = [line for line in lines if "skipped:" in line]
    assert line == (
        "7 tests skipped: 4 need the standard body's schemas (put them into the folder that STEMWRIGHT_STANDARDS"
        " names), 2 need Chromium (Debian package chromium), 1 for other reasons (pytest -rs says which); tests that take long"
        " were left out: pytest -m long"
    )


def test_a_run_that_misses_nothing_says_nothing(folder: Path) -> None:
    printed = run(folder, SKIPPING, "-m", "", "-k", "runs or takes_long")
    assert "2 passed" in printed and "skipped" not in printed and "left out" not in printed


@pytest.mark.parametrize(("reasons", "line"), [
    ([], ""),
    ([needs(CHROMIUM)], "1 test skipped: 1 needs Chromium (Debian package chromium)"),
    (["Skipped: " + needs(CHROMIUM), needs(OFFICIAL_SCHEMAS), needs(OFFICIAL_SCHEMAS), "other"],
     f"4 tests skipped: 2 need {needs(OFFICIAL_SCHEMAS)[6:]}, 1 needs {needs(CHROMIUM)[6:]}, 1 for other reasons"
     " (pytest -rs says which)"),
])
def test_the_closing_line(reasons: list[str], line: str) -> None:
    assert closing_line(reasons) == line


def test_every_skip_for_want_of_something_says_how_to_get_it() -> None:
    """What an import or a file or a program is wanted for skips by `needs`; other skips speak of the machine."""
    wordless = []
    for path in sorted(HERE.rglob("*.py")):
        calls = _SKIPS.findall(path.read_text(encoding="utf-8")) if path != Path(__file__) else []
        wordless += [(path.name, call) for call in calls if "needs(" not in call and _WANTS.search(call)]
    assert wordless == [], "skip with the reason that tests/wanted.py makes"


def test_what_is_wanted_has_a_name_and_a_remedy() -> None:
    import wanted

    all_of_them = [one for one in vars(wanted).values() if isinstance(one, Wanted)]
    assert len(all_of_them) > 4
    assert all(one.name and one.remedy for one in all_of_them)
    assert len({one.name for one in all_of_them}) == len(all_of_them)


STUBS = ("npm", "chromium", "pdftotext", "initdb")
README = """<!-- test command -->
```sh
python3 -c "open('calls', 'a').write('as the README says\\n')"
```
"""
PYTEST = """#!/bin/sh
echo "$*" >> calls
case "$*" in *"$FAILING"*) exit 1;; esac
"""


def whole_run(folder: Path, failing: str = "nothing") -> tuple[int, str, list[str]]:
    """Return status and output of `.ci/run` with tools that only note their calls, and these; *failing* fails."""
    tools = {f"tools/{name}": "#!/bin/sh\n" for name in STUBS}
    for name, text in {**tools, ".venv/bin/pip": "#!/bin/sh\n", ".venv/bin/pytest": PYTEST}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
        (folder / name).chmod(0o755)
    (folder / "README.md").write_text(README, encoding="utf-8")
    (folder / ".ci").mkdir()
    shutil.copy(HERE.parent / ".ci/run", folder / ".ci/run")
    told = {"PATH": f"{folder / 'tools'}:{os.environ['PATH']}", "FAILING": failing, "STEMWRIGHT_SEARCH": "1"}
    command = ["bash", str(folder / ".ci/run")]
    done = subprocess.run(command, env=os.environ | told, capture_output=True, text=True, timeout=60)
    return done.returncode, done.stdout, (folder / "calls").read_text("utf-8").splitlines()


def test_the_whole_run_calls_the_readme_first_and_then_what_is_left(tmp_path: Path) -> None:
    status, printed, calls = whole_run(tmp_path)
    assert status == 0
    assert calls[:2] == ["as the README says", "-n auto -m long"]
    search = (r"-n auto -q --ignore=\S+test_engines.py -m hypothesis --hypothesis-profile=searching"
              r" --hypothesis-seed=(\d+) --until=\d+")
    seeds = [re.fullmatch(search, call) for call in calls[2:]]
    assert seeds and all(seeds)
    assert [one[1] for one in seeds if one] == re.findall(r"^\+ .*--hypothesis-seed=(\d+) ", printed, re.MULTILINE)


@pytest.mark.parametrize(("failing", "number"), [("-m long", 2), ("searching", 3)])
def test_the_whole_run_fails_where_a_part_does(failing: str, number: int, tmp_path: Path) -> None:
    status, printed, calls = whole_run(tmp_path, failing)
    assert status != 0 and len(calls) == number
    if failing == "searching":
        repeat = calls[-1].removeprefix("-n auto -q ").partition(" --until")[0]
        assert "--hypothesis-seed=" in repeat and f"To repeat it: .venv/bin/pytest {repeat}\n" in printed


def test_the_readme_runs_the_tests_side_by_side() -> None:
    readme = (HERE.parent / "README.md").read_text("utf-8")
    command = readme.partition("<!-- test command -->")[2].partition("```sh")[2].partition("```")[0].strip()
    assert command.startswith("python3 -m venv") and "'.[test]'" in command and command.endswith("/pytest -n auto")
