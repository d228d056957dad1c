"""Decisions: signed, added to and never rewritten, read after a spreadsheet saved them, and refused where unsafe."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from bank.decisions import (
    HEADER, NEEDED, Decision, accepted, add_decisions, file_beside, lapsed, out_of_use, read_decisions, standing,
)
from bank.errors import BadInput
from bank.model import Finding

KEEP = Decision("2027-02-08T09:30Z", "O. Maren", "ragged-sum-v1-abc", 1, "keep", "looked at with the class list, fine")
RETIRE = KEEP._replace(
    when="2027-03-01T10:00Z", decision="retire", why="=wrong key, see \"minutes\",\nline 2", question="abcd"
)
ACCEPT = KEEP._replace(decision="accept", check="neighbours", question="abcd", why="meant so; asked on purpose")


def test_decisions_come_back_as_they_were_recorded(tmp_path: Path) -> None:
    path = file_beside(tmp_path / "bank.sqlite")
    add_decisions(path, [KEEP])
    add_decisions(path, [RETIRE, ACCEPT])
    assert path.name == "bank.decisions.csv"
    assert read_decisions(path) == (KEEP, RETIRE, ACCEPT)


def test_a_text_that_looks_like_a_formula_is_guarded(tmp_path: Path) -> None:
    path = tmp_path / "bank.decisions.csv"
    add_decisions(path, [RETIRE])
    assert "'=wrong key" in path.read_text(encoding="utf-8")


def test_the_last_decision_about_a_version_holds() -> None:
    other = KEEP._replace(version=2)
    held = standing([KEEP, RETIRE, other, ACCEPT])
    assert held["ragged-sum-v1-abc", 1] == RETIRE
    assert held["ragged-sum-v1-abc", 2] == other


def test_a_suspended_item_comes_back_when_it_is_kept() -> None:
    suspended = KEEP._replace(decision="suspend")
    assert out_of_use([suspended]) == {KEEP.item: suspended}
    assert out_of_use([suspended, KEEP]) == {}


def test_an_accepted_warning_is_closed_for_this_very_content_only() -> None:
    about_item = Finding("neighbours", "warning", KEEP.item, "two numbers are close", "")
    about_quiz = about_item._replace(item="week-1")
    other = about_item._replace(check="unit-in-stem")
    quiz = ACCEPT._replace(item="week-1", version=0)
    found = accepted([about_item, about_quiz, other], [ACCEPT, quiz], {"week-1": "abcd"})
    assert [one.finding for one in found] == [about_item, about_quiz]
    assert [one.finding for one in accepted([about_item, about_quiz], [ACCEPT, quiz], {"week-1": "ffff"})] == [about_item]
    assert lapsed([ACCEPT, quiz], {KEEP.item}, {"week-1": "abcd"}) == ()
    assert lapsed([ACCEPT, quiz], {"another"}, {"week-1": "ffff"}) == (ACCEPT, quiz)


def test_errors_and_reports_are_never_accepted() -> None:
    for severity in ("error", "report"):
        assert accepted([Finding("neighbours", severity, KEEP.item, "", "")], [ACCEPT], {}) == ()


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


ROW = "2027-02-08T09:30Z,O. Maren,ragged-sum-v1-abc,1,keep,fine,,abcd"
SAVED = {
    "with a byte order mark": ("utf-8-sig", f"{','.join(HEADER)}\r\n{ROW}\r\n"),
    "with semicolons": ("utf-8", f"{';'.join(HEADER)}\r\n{ROW.replace(',', ';')}\r\n"),
    "with tabs, in utf-16": ("utf-16", "\t".join(HEADER) + "\n" + ROW.replace(",", "\t") + "\n"),
    "with single line feeds and no last one": ("utf-8", f"{','.join(HEADER)}\n{ROW}"),
    "with a separator line": ("utf-8-sig", f"sep=;\r\n{';'.join(HEADER)}\r\n{ROW.replace(',', ';')}\r\n"),
    "with columns turned round": (
        "utf-8", ",".join(reversed(HEADER)) + "\r\n" + ",".join(reversed(ROW.split(","))) + "\r\n"
    ),
    "with a column of somebody's own": ("utf-8", f"{','.join(HEADER)},Room\r\n{ROW},12\r\n"),
    "with headings in capitals and blank lines": ("utf-8", f"{','.join(HEADER).upper()}\r\n\r\n{ROW}\r\n,,,,,,,\r\n"),
    "as an older version wrote it": ("utf-8", f"{','.join(NEEDED)}\r\n{','.join(ROW.split(',')[:6])}\r\n"),
}


@pytest.mark.parametrize("name", SAVED)
def test_a_file_that_a_spreadsheet_saved_is_read_and_added_to(tmp_path: Path, name: str) -> None:
    encoding, text = SAVED[name]
    path = tmp_path / "bank.decisions.csv"
    path.write_bytes(text.encode(encoding))
    kept = KEEP._replace(why="fine", question="" if name.startswith("as an older") else "abcd")
    assert read_decisions(path) == (kept,)
    add_decisions(path, [RETIRE])
    add_decisions(path, [ACCEPT])
    assert read_decisions(path) == (kept, RETIRE, ACCEPT)
    assert "Room" not in text or "Room" in path.read_text("utf-8") and ",12" in path.read_text("utf-8")


@pytest.mark.parametrize("text", [
    "", "when,by\r\n", ",".join(HEADER) + "\r\na,b,c\r\n", ",".join(HEADER) + "\r\na,b,c,one,keep,e\r\n",
    ",".join(HEADER) + "\r\na,b,c,1,drop,e\r\n", "\x00", ",".join(HEADER) + "\r\n\"open",
    ",".join(HEADER) + ",when\r\na,b,c,1,keep,e,,,d\r\n", ",".join(HEADER) + "\r\na,b,c,1,keep,e,,,,f\r\n",
    ",".join(HEADER) + "\r\na,b,c,1,keep,e,,1.23457E+15\r\n", ",".join(HEADER) + "\r\na,b,c,1,accept,e,,\r\n",
    ",".join(HEADER) + "\r\na,b,,1,keep,e,,\r\n",
])
def test_a_damaged_file_is_refused_and_left_as_it_is(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bank.decisions.csv"
    path.write_text(text, encoding="utf-8", newline="")
    with pytest.raises(BadInput) as caught:
        add_decisions(path, [KEEP])
    assert {one.code for one in caught.value.problems} == {"decisions-damaged"}
    assert path.read_bytes().decode() == text


def test_a_file_in_an_old_code_page_is_refused_with_a_remedy(tmp_path: Path) -> None:
    path = tmp_path / "bank.decisions.csv"
    path.write_bytes((",".join(HEADER) + "\r\n" + ROW.replace("Maren", "Mår")).encode("latin-1"))
    with pytest.raises(BadInput) as caught:
        read_decisions(path)
    assert "UTF-8" in caught.value.problems[0].wrong and caught.value.problems[0].place.line == 2


ADDING = """
import sys
from pathlib import Path
from bank.decisions import Decision, add_decisions
for turn in range(20):
    add_decisions(Path(sys.argv[1]), [Decision("now", sys.argv[2], f"item-{turn}", 1, "keep", "so")])
"""


def test_decisions_recorded_at_the_same_time_are_all_kept(tmp_path: Path) -> None:
    path = tmp_path / "bank.decisions.csv"
    writers = [subprocess.Popen([sys.executable, "-c", ADDING, str(path), f"person-{one}"]) for one in range(4)]
    assert [one.wait() for one in writers] == [0] * 4
    found = {(one.by, one.item) for one in read_decisions(path)}
    assert len(found) == 80
    assert [one.name for one in tmp_path.iterdir()] == [path.name]
