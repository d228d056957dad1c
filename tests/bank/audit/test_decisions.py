"""Decisions: signed, added to and never rewritten, and refused where they are not signed."""

from __future__ import annotations

from pathlib import Path

import pytest
from bank.audit.decisions import HEADER, Decision, add_decisions, file_beside, read_decisions, standing
from bank.errors import BadInput

KEEP = Decision("2027-02-08T09:30Z", "O. Maren", "ragged-sum-v1-abc", 1, "keep", "looked at with the class list, fine")
RETIRE = KEEP._replace(when="2027-03-01T10:00Z", decision="retire", why="=wrong key, see \"minutes\",\nline 2")


def test_decisions_come_back_as_they_were_recorded(tmp_path: Path) -> None:
    path = file_beside(tmp_path / "bank.sqlite")
    add_decisions(path, [KEEP])
    add_decisions(path, [RETIRE])
    assert path.name == "bank.decisions.csv"
    assert read_decisions(path) == (KEEP, RETIRE)


def test_a_text_that_looks_like_a_formula_is_guarded(tmp_path: Path) -> None:
    path = tmp_path / "bank.decisions.csv"
    add_decisions(path, [RETIRE])
    assert "'=wrong key" in path.read_text(encoding="utf-8")


def test_the_last_decision_about_a_version_holds() -> None:
    other = KEEP._replace(version=2)
    held = standing([KEEP, RETIRE, other])
    assert held["ragged-sum-v1-abc", 1] == RETIRE
    assert held["ragged-sum-v1-abc", 2] == other


def test_without_a_file_nothing_was_decided(tmp_path: Path) -> None:
    assert read_decisions(tmp_path / "bank.decisions.csv") == ()


@pytest.mark.parametrize(("change", "code"), [
    ({"by": " "}, "decision-unsigned"), ({"why": ""}, "decision-unsigned"), ({"why": "x" * 2001}, "decision-unsigned"),
    ({"decision": "drop"}, "decision-unknown"),
])
def test_an_unsigned_decision_is_refused_and_leaves_no_file(tmp_path: Path, change: dict[str, str], code: str) -> None:
    path = tmp_path / "bank.decisions.csv"
    with pytest.raises(BadInput) as caught:
        add_decisions(path, [KEEP._replace(**change)])
    assert caught.value.problems[0].code == code
    assert not path.exists()


@pytest.mark.parametrize("text", [
    "", "when,by\r\n", ",".join(HEADER) + "\r\na,b,c\r\n", ",".join(HEADER) + "\r\na,b,c,one,keep,e\r\n",
    ",".join(HEADER) + "\r\na,b,c,1,drop,e\r\n", "\x00", ",".join(HEADER) + "\r\n\"open",
])
def test_a_damaged_file_is_refused_and_left_as_it_is(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bank.decisions.csv"
    path.write_text(text, encoding="utf-8", newline="")
    with pytest.raises(BadInput) as caught:
        add_decisions(path, [KEEP])
    assert {one.code for one in caught.value.problems} == {"decisions-damaged"}
    assert path.read_bytes().decode() == text
