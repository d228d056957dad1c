"""``stemwright decide``: what it takes, what it refuses, and where a decision is seen afterwards."""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from bank import cli
from bank.build import build
from bank.decisions import add_decisions, file_beside, read_decisions
from bank.plans import load_plan
from bank.store import Bank
from bank.summary import from_json, reviewed, terminal_summary

FIRST_STEPS = Path(cli.__file__).parent / "content" / "plans" / "first-steps.yaml"
SIGNED = ("--by", "O. Maren", "--why", "asked on purpose")


@pytest.fixture(scope="module")
def term(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("term")
    build(load_plan(FIRST_STEPS), folder, jobs=1)
    return folder


@pytest.fixture
def desk(term: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(term, tmp_path / "term")) / "bank.sqlite"


def decide(bank: Path, *words: str) -> int:
    return cli.main(["decide", str(bank), *words, *SIGNED])


def open_warnings(path: Path) -> list[tuple[str, str]]:
    with Bank.open(path) as bank:
        found = reviewed(from_json(bank.summary).findings, bank, read_decisions(file_beside(path))).open_warnings
    return [(one.check, one.item) for one in found]


def test_an_accepted_warning_is_open_nowhere_any_more(desk: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = open_warnings(desk)
    check, item = before[0]
    assert decide(desk, item, "--accept", check) == 0
    assert f"{len(before) - 1} warnings still open" in capsys.readouterr().out
    assert open_warnings(desk) == before[1:]
    page = desk.with_name("review.html").read_text(encoding="utf-8")
    assert f"{len(before) - 1} open warnings" in page and "1 warning accepted" in page
    assert re.search(rf"{check}: .*Accepted by O. Maren, .*asked on purpose", page)
    with Bank.open(desk) as bank:
        text = terminal_summary(from_json(bank.summary), bank, read_decisions(file_beside(desk)))
    assert f"{len(before) - 1} open warnings" in text and f"accepted by O. Maren: {check} (asked on purpose)" in text
    assert cli.main(["audit", str(desk)]) == 0
    assert "1 warning accepted by O. Maren" in capsys.readouterr().out
    audit = (desk.parent / "audit" / "audit.html").read_text(encoding="utf-8")
    assert re.search(rf"{check}: .*Accepted by O. Maren, .*asked on purpose", audit) and "1 warning accepted" in audit


def test_what_was_accepted_of_an_item_that_changed_since_is_said_and_not_carried_over(desk: Path) -> None:
    check, item = open_warnings(desk)[0]
    decide(desk, item, "--accept", check)
    path = file_beside(desk)
    (line,) = read_decisions(path)
    path.unlink()
    add_decisions(path, [line._replace(item=f"{item[:-3]}zzz")])
    with Bank.open(desk) as bank:
        text = terminal_summary(from_json(bank.summary), bank, read_decisions(path))
    assert (check, item) in open_warnings(desk)
    assert "1 acceptance no longer holds" in text


@pytest.mark.parametrize(("words", "code"), [
    (("{item}", "--accept", "no-such-check"), "there is no check"),
    (("{item}", "--accept", "key-is-first"), "there is no check"),
    (("{clean}", "--accept", "{check}"), "does not warn of"),
    (("week-1-sums", "--accept", "{check}"), "does not warn of"),
    (("week-1-sums", "--retire"), "is a quiz"),
    (("{item}x", "--retire"), "has no item"),
    (("{item}x", "--accept", "{check}"), "has no item"),
])
def test_what_cannot_be_decided_is_refused_and_nothing_is_recorded(
    desk: Path, capsys: pytest.CaptureFixture[str], words: tuple[str, ...], code: str
) -> None:
    warned = open_warnings(desk)
    check, item = warned[0]
    with Bank.open(desk) as bank:
        clean = next(name for name in bank.identifiers() if (check, name) not in warned)
    assert decide(desk, *[word.format(item=item, clean=clean, check=check) for word in words]) == 2
    assert code in capsys.readouterr().err
    assert not file_beside(desk).exists()


def test_an_item_that_a_rebuild_replaced_can_still_be_decided_about(desk: Path) -> None:
    with Bank.open(desk) as bank:
        item = bank.identifiers()[0]
    assert decide(desk, item, "--suspend") == 0
    (line,) = read_decisions(file_beside(desk))
    gone = line._replace(item=f"{item[:-3]}zzz")
    add_decisions(file_beside(desk), [gone])
    assert decide(desk, gone.item, "--keep") == 0
    last = read_decisions(file_beside(desk))[-1]
    assert (last.item, last.decision, last.question) == (gone.item, "keep", line.question)


def test_decisions_taken_at_the_same_time_are_all_recorded_and_on_the_page(desk: Path) -> None:
    with Bank.open(desk) as bank:
        items = bank.identifiers()[:4]
    words = [sys.executable, "-m", "bank.cli", "decide", str(desk)]
    running = [subprocess.Popen([*words, item, "--keep", *SIGNED], stdout=subprocess.DEVNULL) for item in items]
    assert [one.wait() for one in running] == [0] * 4
    assert {one.item for one in read_decisions(file_beside(desk))} == set(items)
    page = desk.with_name("review.html").read_text(encoding="utf-8")
    assert all(f'<span class="src">{item}</span>: asked on purpose' in page for item in items)
