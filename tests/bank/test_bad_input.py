"""Bad input: each case of the corpus is found, all of it and nothing else, in its place, without a traceback."""

from __future__ import annotations

import os
import pickle
import re
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from bad_input import CASES, Case, found_in
from hypothesis import given, settings
from hypothesis import strategies as st

import bank
from bank import cli, sources
from bank.commands._checking import check_files
from bank.errors import BadInput, Place, Problem

ROOM = Path(bank.__file__).parent
READERS = [
    ROOM / name for name in ("sources.py", "fields.py", "topics.py", "locales.py", "plans.py", "supplies.py", "trees.py",
                           "commands/_checking.py", "commands/_making.py")
] + sorted(ROOM.glob("expressions/*.py")) + sorted(ROOM.glob("templates/*.py"))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_problems_are_found_in_their_places(case: Case, tmp_path: Path) -> None:
    found = found_in(case, tmp_path)
    places = tuple(sorted(((one.code, one.place.line, one.place.column) for one in found), key=lambda one: one[1:]))
    assert places == case.expected, "\n".join(map(str, found))


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_problems_say_in_words_what_is_wrong(case: Case, tmp_path: Path) -> None:
    for problem in found_in(case, tmp_path, makes_items=any(code == "no-item" for code, _, _ in case.expected)):
        text = str(problem)
        assert problem.wrong and "None" not in text and "<" not in problem.wrong.replace("<<", "")
        if problem.code == "unseen-character" and not problem.source_line:
            continue  # showing the line would show the character
        assert not problem.place.line or problem.source_line == case.text.split("\n")[problem.place.line - 1]


def _bytes_cases() -> dict[str, tuple[bytes, str, int, int]]:
    good = b"topic: hose\ntitle: Hose\n"
    return {
        "latin letters": (b"topic: hose\ntitle: gr\xfcn\n", "not-utf-8", 2, 10),
        "utf-16": ("topic: hose\n".encode("utf-16"), "not-utf-8", 0, 0),
        "half a letter at the end": (good + b"note: caf\xc3", "not-utf-8", 3, 10),
        "a zero byte": (b"topic: ho\x00se\n", "unseen-character", 1, 10),
        "an escape sequence of terminals": (b"topic: hose\ntitle: \x1b[31mred\n", "unseen-character", 2, 8),
        "larger than a mebibyte": (b"# " + b"x" * (1 << 20), "too-large", 0, 0),
        "a list of two hundred thousand": (b"[" + b"a, " * 200_000 + b"a]", "too-many-nodes", 1, 299_999),
        "nested nine hundred deep": (b"[" * 900, "too-deep", 1, 18),
    }


@pytest.mark.parametrize("name", _bytes_cases())
def test_bytes_that_are_no_document_are_refused(name: str, tmp_path: Path) -> None:
    raw, code, line, column = _bytes_cases()[name]
    path = tmp_path / "bad.yaml"
    path.write_bytes(raw)
    problems = check_files([path]).problems
    assert [(one.code, one.place.line, one.place.column) for one in problems] == [(code, line, column)]


def test_a_hundred_thousand_brackets_are_refused_whichever_reader_counts_them(tmp_path: Path) -> None:
    path = tmp_path / "bad.yaml"
    path.write_bytes(b"[" * 100_000)
    assert {one.code for one in check_files([path]).problems} <= {"too-deep", "no-yaml"}


def test_a_byte_order_mark_at_the_beginning_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "marked.yaml"
    path.write_bytes(b"\xef\xbb\xbftopic: hose\ntitle: Hose\n")
    assert check_files([path]).problems == []


def test_windows_line_ends_are_read_and_counted(tmp_path: Path) -> None:
    path = tmp_path / "windows.yaml"
    path.write_bytes(b"topic: hose\r\ntitel: Hose\r\ntitle: Hose\r\n")
    problems = check_files([path]).problems
    assert [(one.code, one.place.line, one.source_line) for one in problems] == [("unknown-key", 2, "titel: Hose")]


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    (tmp_path / "folder").mkdir()
    paths = [tmp_path / "missing.yaml", tmp_path / "pipe.yaml", tmp_path / "folder"]
    problems = check_files(paths).problems
    assert sorted(one.code for one in problems) == ["no-file", "no-files", "unreadable"]
    for name, code in (("missing.yaml", "no-file"), ("folder", "is-folder")):
        with pytest.raises(BadInput) as caught:
            sources.read_file(tmp_path / name)
        assert [one.code for one in caught.value.problems] == [code]


def test_a_file_name_that_is_not_utf_8_is_shown_all_the_same(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = os.fsdecode(os.fsencode(tmp_path) + b"/caf\xe9.yaml")
    assert cli.main(["check", path]) == 2
    assert "no such file" in capsys.readouterr().err


def test_links_out_of_the_plans_folder_are_refused(tmp_path: Path) -> None:
    case = next(case for case in CASES if case.name == "plan: the good document")
    outside = tmp_path / "outside"
    outside.mkdir()
    inside = tmp_path / "inside"
    inside.mkdir()
    found_in(case, inside)
    (outside / "one.yaml").write_bytes((inside / "templates" / "one.yaml").read_bytes())
    (inside / "templates" / "one.yaml").unlink()
    (inside / "templates" / "one.yaml").symlink_to(outside / "one.yaml")
    assert [one.code for one in check_files([inside / "bad.yaml"]).problems] == ["climbs-out"]
    (inside / "templates").rename(outside / "templates")
    (inside / "templates").symlink_to(outside / "templates")
    assert [one.code for one in check_files([inside / "bad.yaml"]).problems] == ["climbs-out"]


@pytest.mark.parametrize("kind", ["topic", "locale", "template", "plan"])
def test_an_id_that_two_files_use_is_refused(kind: str, tmp_path: Path) -> None:
    good = {case.kind: case for case in CASES if case.name.endswith("the good document")}
    found_in(good[kind], tmp_path)
    (tmp_path / "again.yaml").write_bytes((tmp_path / "bad.yaml").read_bytes())
    problems = check_files([tmp_path / "bad.yaml", tmp_path / "again.yaml"]).problems
    assert [(one.code, Path(one.place.file).name) for one in problems] == [("duplicate-id", "again.yaml")]


def test_everything_wrong_in_several_files_is_reported_at_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    for number in range(3):
        (tmp_path / f"topic-{number}.yaml").write_text(f"topic: hose-{number}\ntitel: Hose\n", encoding="utf-8")
    (tmp_path / "good.yaml").write_text("topic: hose\ntitle: Hose\n", encoding="utf-8")
    assert cli.main(["check", str(tmp_path)]) == 2
    out, err = capsys.readouterr()
    assert out == f"{tmp_path / 'good.yaml'}: topic hose\n"
    assert err.count("titel") == 6 and err.endswith("6 problems in 3 of 4 files\n")


@pytest.mark.long
@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_the_command_says_so_with_status_2_and_no_traceback(
    case: Case, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    found_in(case, tmp_path)
    status = cli.main(["check", str(tmp_path / "bad.yaml")])
    out, err = capsys.readouterr()
    assert status == (2 if case.expected else 0)
    assert "Traceback" not in err and "fault of the tool" not in err
    assert bool(out) != bool(err)


def test_every_code_of_the_readers_occurs_in_a_case() -> None:
    codes: set[str] = set()
    for path in READERS:
        text = path.read_text(encoding="utf-8")
        codes |= set(re.findall(
            r"(?:report|problem|ExpressionError|_refuse|_stop|Rule|Problem)\(\s*"
            r"(?:problems,\s*|event,\s*|inner,\s*|behind,\s*)?"
            r"\"([a-z0-9]+(?:-[a-z0-9]+)+|alias|anchor|tag|tab|tie|twice|empty|unexpected|unreadable)\"", text,
        ))
        codes |= {f"unknown-{kind}" for kind in re.findall(r"report_unknown\([^\n]*?\"([a-z]+)\", [a-z]", text)}
    assert len(codes) > 90
    used = {code for case in CASES for code, _, _ in case.expected}
    used |= {code for _, code, _, _ in _bytes_cases().values()}
    used |= {"no-file", "no-files", "unreadable", "is-folder"}
    used |= {"climbs-out", "misnamed"}  # links and locales beside a plan: tests/bank/test_trees.py
    used |= {"no-value"}  # refuses a draw, never a file
    assert codes - used == set()


GOOD = sorted({case.text for case in CASES if not case.expected})
SCRAPS = st.sampled_from([
    "{", "}", "[", "]", ":", ": ", "- ", "\n", "\n  ", "'", '"', "|", ">", "&a ", "*a", "!x ", "#", ",", "%", "{{",
    "}}", "{%", "%}", "{{ a }}", "{% if a > 1 %}", "{% endif %}", "a", "b", "0", "9", ".", "-", "+", "*", "/", "**",
    "(", ")", "1e9", "true", "~", "derive", "list", "whole", "from", "\u00e9", "\u4e2d", "thing", "==",
    "and ", "not ", "round(", "digit(",
])


@settings(max_examples=250)
@given(data=st.data())
def test_any_change_of_a_good_document_is_read_or_refused(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(GOOD))
    for _ in range(data.draw(st.integers(1, 4))):
        start = data.draw(st.integers(0, len(text)))
        stop = min(len(text), start + data.draw(st.integers(0, 12)))
        text = text[:start] + data.draw(st.one_of(SCRAPS, st.just(""))) + text[stop:]
    with TemporaryDirectory() as folder:
        makes_items = data.draw(st.integers(0, 4)) == 0  # dear
        found = found_in(Case("made", "made", text, ()), Path(folder), makes_items=makes_items)
    for problem in found:
        assert problem.code and problem.wrong and str(problem)
        assert problem.place.line <= text.count("\n") + 1


def test_an_error_for_people_can_be_handed_from_one_process_to_another() -> None:
    problem = Problem("code", Place("file", 3, 4), "field", "it is wrong", "write it right")
    copied = pickle.loads(pickle.dumps(BadInput(problem)))
    assert copied.problems == (problem,) and str(copied) == str(BadInput(problem))
