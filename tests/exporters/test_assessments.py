"""Quizzes as tests of QTI: what is drawn for a pupil, how often it may be answered, what it is worth."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

import sampler
import standards
from bank.model import Quiz, Section
from exported import KIND_ITEMS, QTI, unzipped, write
from exporters import _package
from exporters._faults import ExportFault
from official import SCHEMAS, compiled, faults
from qti_rules import attributes, plain

NAMES = [item.identifier for item in KIND_ITEMS]
DRAWN = Quiz(
    identifier="drawn", title="Drawn", week=1, attempts=3, shuffled=True, sections=(
        Section(title="A", items=tuple(NAMES[:4]), select=2), Section(title="B", items=tuple(NAMES[4:])),
    ),
)  # fmt: skip


def written(name: str, quiz: Quiz, folder: Path) -> etree._Element:
    """Return the test of *quiz*."""
    (path,) = write(name, sampler.bank(items=KIND_ITEMS, quizzes=(quiz,)), folder, whole_bank=False)
    return etree.fromstring(unzipped(path)[f"{quiz.identifier}.xml"])


def said(root: etree._Element, element: str) -> list[dict[str, str]]:
    """Return the attributes of every *element*, in 2.x spelling."""
    return [attributes(one) for one in root.iter() if isinstance(one.tag, str) and plain(one.tag) == element]


@pytest.mark.long
@pytest.mark.parametrize("name", QTI)
def test_a_test_says_what_is_drawn_and_how_often_it_may_be_answered(name: str, tmp_path: Path) -> None:
    root = written(name, DRAWN, tmp_path)
    assert said(root, "selection") == [{"select": "2", "withReplacement": "false"}]
    assert said(root, "ordering") == [{"shuffle": "true"}, {"shuffle": "true"}]
    assert said(root, "itemSessionControl")[0]["maxAttempts"] == "3"
    order = [plain(one.tag) for section in root.iter("{*}assessmentSection", "{*}qti-assessment-section")
             for one in section][:3]
    assert order == ["selection", "ordering", "rubricBlock"]
    assert [one["variableIdentifier"] for one in said(root, "testVariables")] == ["SCORE", "MAXSCORE"]
    if standards.folder():
        assert faults(compiled(SCHEMAS[name][0]), root) == []


@pytest.mark.parametrize("name", QTI)
def test_a_quiz_that_asks_everything_has_its_order_and_its_marks_fixed(name: str, tmp_path: Path) -> None:
    plain_quiz = replace(DRAWN, shuffled=False, attempts=None, sections=(Section(title="A", items=tuple(NAMES)),))
    root = written(name, plain_quiz, tmp_path)
    assert said(root, "selection") == said(root, "ordering") == []
    assert [one["variableIdentifier"] for one in said(root, "testVariables")] == ["SCORE"]
    assert said(root, "itemSessionControl")[0]["maxAttempts"] == "0"


def test_attempts_follow_the_use_where_they_are_not_said() -> None:
    uses = {use: replace(DRAWN, attempts=None, use=use).most_attempts for use in ("practice", "diagnosis", "graded")}
    assert uses == {"practice": 0, "diagnosis": 1, "graded": 1} and DRAWN.most_attempts == 3


@pytest.mark.parametrize(
    ("attempts", "feedback", "mode"),
    [(1, False, "simultaneous"), (3, False, "individual"), (0, False, "individual"), (1, True, "individual")],
)
def test_answers_are_handed_in_together_only_where_one_attempt_is_given_without_feedback(
    attempts: int, feedback: bool, mode: str, tmp_path: Path
) -> None:
    root = written("qti30", replace(DRAWN, attempts=attempts, show_feedback=feedback), tmp_path)
    assert said(root, "testPart")[0]["submissionMode"] == mode


def test_a_section_that_asks_more_than_it_has_is_refused(tmp_path: Path) -> None:
    quiz = replace(DRAWN, sections=(Section(title="A", items=tuple(NAMES[:2]), select=3),))
    with pytest.raises(ExportFault, match="asks more items than it has"):
        write("qti30", sampler.bank(items=KIND_ITEMS, quizzes=(quiz,)), tmp_path, whole_bank=False)


@pytest.mark.parametrize("old", [b' select="2"', b' max-attempts="3"', b' shuffle="true"/>'])
def test_a_test_that_draws_otherwise_when_read_back_takes_no_place(
    old: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    deflate = _package.deflate
    new = old.replace(b"2", b"1").replace(b"3", b"4").replace(b' shuffle="true"/>', b"/>")
    monkeypatch.setattr(
        _package, "deflate",
        lambda name, content: deflate(name, content.replace(old, new, 1) if name == "drawn.xml" else content),
    )
    with pytest.raises(ExportFault, match="draws its items otherwise"):
        written("qti30", DRAWN, tmp_path)
    assert not list(tmp_path.rglob("*.zip"))
