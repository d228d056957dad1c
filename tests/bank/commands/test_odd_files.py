"""Names that lead to no ordinary file, tables and documents beyond measure: one clear message, status 2, no waiting."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from bank import cli
from bank.audit.reading import read_results
from bank.audit.pseudonyms import Salt
from bank.commands._checking import check_files
from bank.errors import BadInput
from bank.plans import DEVICES, RESERVED
from bank.store import Bank
from results_bank import QUIZ, bank_path
from wanted import LIBRARIES, needs

SALT = Salt(key=b"a salt for tests only")


def _odd(folder: Path, kind: str) -> str:
    path = folder / "odd"
    if kind == "a named pipe":
        os.mkfifo(path)
    elif kind == "a link to itself":
        path.symlink_to(path)
    elif kind == "a folder":
        path.mkdir()
    elif kind == "a name too long":
        path = folder / ("x" * 300)
    elif kind == "a path too long":
        path = folder.joinpath(*["y" * 200] * 30)
    elif kind == "a zero byte":
        return f"{folder}/a\0b"
    elif kind == "a file as a folder":
        (folder / "file").write_text("x", encoding="utf-8")
        path = folder / "file" / "inner"
    elif kind == "a device":
        path = Path("/dev/zero")
    return str(path)


KINDS = ("a named pipe", "a link to itself", "a folder", "a name too long", "a path too long", "a zero byte",
         "a file as a folder", "a device")
COMMANDS = {
    "audit": ["audit", "{odd}", "-o", "{out}"],
    "results": ["audit", "{bank}", "--results", "{odd}", "--salt", "{out}/salt", "-o", "{out}"],
    "salt": ["audit", "{bank}", "--results", "{results}", "--salt", "{odd}", "-o", "{out}"],
    "settings": ["audit", "{bank}", "--results", "{results}", "--salt", "{out}/salt", "--settings", "{odd}", "-o", "{out}"],
    "weights": ["audit", "{bank}", "--weights", "{odd}", "-o", "{out}"],
    "classes": ["audit", "{bank}", "--classes", "{odd}", "-o", "{out}"],
    "check": ["check", "{odd}"],
    "build": ["build", "{odd}", "-o", "{out}"],
    "export": ["export", "{odd}", "--as", "csv", "-o", "{out}"],
    "forget": ["forget", "{odd}", "--quiz", "x"],
    "decide": ["decide", "{odd}", "x", "--keep", "--by", "a", "--why", "b"],
    "whose": ["whose", "--codes", "{odd}", "--salt", "{out}/salt"],
}


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("command", COMMANDS)
def test_an_odd_file_gives_one_message_and_no_waiting(
    command: str, kind: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    if (command, kind) == ("check", "a folder"):
        pytest.skip("a folder is what check takes")
    results = tmp_path / "results.csv"
    with Bank.open(bank_path()) as bank:
        item = next(quiz for quiz in bank.quizzes if quiz.identifier == QUIZ).items[0]
    results.write_text("pupil,item,response\n" + "".join(f"P-{n},{item},A\n" for n in range(12)), encoding="utf-8")
    copy = tmp_path / "bank.sqlite"
    copy.write_bytes(bank_path().read_bytes())
    names = {"odd": _odd(tmp_path, kind), "bank": copy, "out": tmp_path / "out", "results": results}
    status = cli.main([word.format(**names) for word in COMMANDS[command]])
    said = capsys.readouterr().err
    assert status == 2, said
    assert "a fault of the tool" not in said and "Traceback" not in said and 0 < len(said) < 2_000


@pytest.mark.long
def test_a_table_of_two_hundred_thousand_columns_is_refused_at_once(tmp_path: Path) -> None:
    heading = ",".join(["pupil", "item", "response", *(f"c{number}" for number in range(200_000))])
    (tmp_path / "wide.csv").write_text(f"{heading}\nP1,a,b\n", encoding="utf-8")
    words = ["audit", str(bank_path()), "--results", str(tmp_path / "wide.csv"), "--salt", str(tmp_path / "salt"), "-o",
             str(tmp_path / "out")]
    for more in ([], ["--engine", "duckdb:"]):
        if more:
            pytest.importorskip("duckdb", reason=needs(LIBRARIES))
        done = subprocess.run([sys.executable, "-m", "bank.cli", *words, *more], capture_output=True, text=True, timeout=60)
        assert done.returncode == 2 and "200,003 columns" in done.stderr and len(done.stderr) < 1_000


def test_too_many_columns_have_a_code(tmp_path: Path) -> None:
    (tmp_path / "wide.csv").write_text("pupil" + ",x" * 6_000 + "\n", encoding="utf-8")
    with Bank.open(bank_path()) as bank, pytest.raises(BadInput) as caught:
        read_results(bank, [tmp_path / "wide.csv"], salt=SALT, remember=False)
    assert caught.value.problems[0].code == "too-many-columns"


@pytest.mark.parametrize("place", ["first", "after a long comment", "inside", "at the end", "in small letters"])
def test_a_doctype_anywhere_is_refused(tmp_path: Path, place: str) -> None:
    comment, kind = f"<!--{'x' * 300_000}-->", "<!DOCTYPE assessmentResult>"
    whole = '<assessmentResult xmlns="http://www.imsglobal.org/xsd/imsqti_result_v3p0"><context/></assessmentResult>'
    text = {
        "first": kind + whole, "after a long comment": comment + kind + whole, "inside": whole.replace("<context/>", kind),
        "at the end": whole + kind, "in small letters": comment + kind.replace("DOCTYPE", "doctype") + whole,
    }[place]
    (tmp_path / "r.xml").write_text(text, encoding="utf-8")
    with Bank.open(bank_path()) as bank, pytest.raises(BadInput) as caught:
        read_results(bank, [tmp_path / "r.xml"], salt=SALT, remember=False)
    assert [one.code for one in caught.value.problems] == ["xml-entities"]


@pytest.mark.parametrize("sign", ["\x1b[31m", "\x07", "\x0c", "\u202e", "\x85", "\ufffe"])
def test_characters_that_cannot_be_seen_reach_no_page(
    tmp_path: Path, sign: str, capsys: pytest.CaptureFixture[str]
) -> None:
    bank = tmp_path / "bank.sqlite"
    bank.write_bytes(bank_path().read_bytes())
    with Bank.open(bank) as opened:
        items = next(quiz for quiz in opened.quizzes if quiz.identifier == QUIZ).items
    rows = [[f"P-{pupil}", "5a", item, "A", ""] for pupil in range(30) for item in items]
    for row in rows[: 14 * len(items)]:
        row[1] = f"5{sign}b"
    rows[-1][3], rows[-2][0], rows[-3][4] = f"A{sign}", f"P{sign}", sign
    (tmp_path / "r.csv").write_text(
        f"pupil,group,item,response,no{sign}te\n" + "".join(",".join(row) + "\n" for row in rows), encoding="utf-8",
        newline="")
    words = ["--results", str(tmp_path / "r.csv"), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path / "out")]
    assert cli.main(["audit", str(bank), *words, "--usage-data", "3.0"]) == 0
    said = capsys.readouterr()
    texts = {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "out").iterdir()}
    texts |= {"said": said.out + said.err}
    for name, text in texts.items():
        assert sign not in text, name


def _plan(path: Path, names: list[str]) -> Path:
    quizzes = "".join(
        f"  - {{quiz: '{name}', title: T, use: practice, draw: [{{topic: decimal-addition, items: 2}}]}}\n" for name in names
    )
    path.write_text(
        f"plan: odd\ntitle: Odd\nseed: 1\nlocale: english-point\nweeks:\n- week: 1\n  title: One\n  quizzes:\n{quizzes}",
        encoding="utf-8")
    return path


def test_a_quiz_may_not_be_called_as_no_file_can_be(tmp_path: Path) -> None:
    names = sorted({*DEVICES, *RESERVED})
    found = check_files([_plan(tmp_path / "plan.yaml", names)], makes_items=False).problems
    reserved = [one for one in found if one.code == "id-reserved"]
    assert len(reserved) == len(names) and all(one.remedy and one.place.line for one in reserved)


def test_no_other_odd_name_gets_by_either(tmp_path: Path) -> None:
    names = ["con.", "nul..", "aux ", "CON", "a/b", "..", ".", "a:b", "x" * 65]
    found = check_files([_plan(tmp_path / "plan.yaml", names)], makes_items=False).problems
    assert len([one for one in found if one.code == "bad-name"]) == len(names)
