"""What a pupil's name, address or note could be, put into every cell of results, is in no message and no file.

The pupils, names and places are invented.
"""

from __future__ import annotations

import csv
import sqlite3
import zipfile
from contextlib import closing
from pathlib import Path

import pytest
from bank import cli
from bank.audit.harmless import is_plain_file_name, looks_like_date, told
from bank.audit.reading import _bulk
from bank.store import Bank
from hypothesis import given
from hypothesis import strategies as st
from results_bank import QUIZ, bank_path
from sweeps import sweep
from wanted import LIBRARIES, needs

CANARIES = ("Mika Zeltoberon", "Zeltoberon, M.", "17 Zeltoberon Lane", "<b>Zeltoberon</b>", "zeltoberon",
            "=1+Zeltoberon", "B. Zeltoberon", "Zeltoberon-v1-x")
SEARCHED = "zeltoberon"
FIELDS = ("pupil", "group", "quiz", "item", "version", "response", "status", "score", "maximum", "seconds", "attempt",
          "date", "simulated", "remark")


@pytest.fixture
def bank(tmp_path: Path) -> Path:
    path = tmp_path / "term" / "bank.sqlite"
    path.parent.mkdir()
    path.write_bytes(bank_path().read_bytes())
    return path


def _rows(bank: Path) -> list[dict[str, str]]:
    with Bank.open(bank) as opened:
        (quiz,) = [one for one in opened.quizzes if one.identifier == QUIZ]
        items = list(opened.items(quiz.items))
    usual = {"group": "5a", "quiz": QUIZ, "version": "1", "score": "1", "maximum": "1", "seconds": "30",
             "attempt": "1", "date": "2027-02-01", "status": "answered", "remark": "x", "simulated": ""}
    return [
        {"pupil": f"P-{pupil:02}", "item": item.identifier, "response": "A", **usual}
        for pupil in range(14) for item in items
    ]


def _spoilt(rows: list[dict[str, str]], turn: int, fields: tuple[str, ...] = FIELDS) -> None:
    """Put one canary into each column, each into a row of its own."""
    for place, field in enumerate(fields):
        rows[3 + 5 * place][field] = CANARIES[(place + turn) % len(CANARIES)]


def _long(path: Path, rows: list[dict[str, str]], headings: tuple[str, ...] = FIELDS) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(headings)
        writer.writerows([[row[field] for field in FIELDS] for row in rows])
    return path


def _wide(path: Path, rows: list[dict[str, str]], turn: int) -> Path:
    items = list(dict.fromkeys(row["item"] for row in rows))
    pupils = list(dict.fromkeys(row["pupil"] for row in rows))
    table = [["pupil", "group", "quiz", "attempt", "note", *items]]
    table += [[pupil, "5a", QUIZ, "1", "", *["A"] * len(items)] for pupil in pupils]
    for column in range(len(table[0])):
        table[1 + column % 12][column] = CANARIES[(column + turn) % len(CANARIES)]
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows(table)
    return path


def _documents(path: Path, rows: list[dict[str, str]], turn: int) -> Path:
    """A zip file of one document a pupil, named after the pupil, each spoilt in another place."""
    names = list(dict.fromkeys(row["pupil"] for row in rows))
    with zipfile.ZipFile(path, "w") as packed:
        for number, pupil in enumerate(names):
            items = "".join(
                f'<itemResult identifier="{row["item"]}" datestamp="2027-02-01T10:00:00" sessionStatus="final">'
                '<responseVariable identifier="RESPONSE" cardinality="single" baseType="string"><candidateResponse>'
                '<value>A</value></candidateResponse></responseVariable></itemResult>'
                for row in rows if row["pupil"] == pupil
            )
            text = (
                '<assessmentResult xmlns="http://www.imsglobal.org/xsd/imsqti_result_v3p0">'
                f'<context sourcedId="{pupil}"/><testResult identifier="{QUIZ}" datestamp="2027-02-01T10:00:00"/>'
                f"{items}</assessmentResult>"
            )
            canary = CANARIES[(number + turn) % len(CANARIES)].replace("<", "").replace(">", "")
            spots = (">A<", QUIZ, "RESPONSE", "2027-02-01T10:00:00", '"final"', "<context", "results_v3p0", "<value>")
            spoils = (f">{canary}<", canary, canary, canary, f'"{canary}"', f"<context {canary}", canary, f"<{canary}>")
            if number < len(spots):
                text = text.replace(spots[number], spoils[number], 1)
            packed.writestr(f"{canary} {number}.xml", text)
    return path


def _everything(bank: Path, words: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> dict[str, str]:
    """Return all that the commands say and write."""
    salt = ["--salt", str(folder / "salt")]
    said = {}
    for name, more in (("audit", ["--usage-data", "3.0", "--keep", "--calibrate", str(folder / "w.yaml")]),
                       ("audit", ["--compare", "5a", "5b"]), ("lesson", []), ("lesson", ["--group", "5b"])):
        out = folder / f"{name}-{len(said)}"
        status = cli.main([name, str(bank), *words, *salt, "-o", str(out), *more])
        found = capsys.readouterr()
        assert status in (0, 2) and "a fault of the tool" not in found.err, found.err
        said[f"what {name} {' '.join(more[:1])} said"] = found.out + found.err
        said.update({str(path.relative_to(folder)): path.read_bytes().decode("utf-8", "replace")
                     for path in [*out.rglob("*"), *bank.parent.rglob("*")] if path.is_file()})
    return said


def _assert_quiet(said: dict[str, str], *more: str) -> None:
    for name, text in said.items():
        if not name.endswith("results.sqlite"):  # what is kept are the answers, for their owner only
            assert SEARCHED not in text.casefold(), f"{name}: ...{_around(text)}..."
            for word in more:
                assert word not in text, name


def _around(text: str) -> str:
    at = text.casefold().index(SEARCHED)
    return text[max(0, at - 100) : at + 40]


@pytest.mark.parametrize("turn", sweep([0, 3, 6], 3))
@pytest.mark.parametrize("way", ["long", "bulk", "wide", "wide bulk", "documents"])
def test_no_cell_of_refused_rows_is_in_any_message_or_file(
    bank: Path, tmp_path: Path, way: str, turn: int, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    if "bulk" in way:
        monkeypatch.setattr(_bulk, "FROM_BYTES", 1)
    rows = _rows(bank)
    if way in ("long", "bulk"):
        _spoilt(rows, turn)
        path = _long(tmp_path / "r.csv", rows)
    elif "wide" in way:
        path = _wide(tmp_path / "r.csv", rows, turn)
    else:
        path = _documents(tmp_path / "r.zip", rows, turn)
    said = _everything(bank, ["--results", str(path)], tmp_path, capsys)
    _assert_quiet(said)
    assert "do not count" in said["what audit --usage-data said"]


HEADINGS = ("no headings", "a column a pupil", "a heading", "an address", "two headings alike")


@pytest.mark.parametrize("case", sweep(HEADINGS, 3))
def test_no_heading_is_in_any_message_or_file(
    bank: Path, tmp_path: Path, case: str, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = _rows(bank)
    headings = list(FIELDS)
    if case == "a heading":
        headings[-1] = "Mika Zeltoberon"
    elif case == "an address":
        headings[-1] = "mika@zeltoberon.example"
    elif case == "two headings alike":
        headings[-1] = headings[-2] = "Zeltoberon"
    elif case == "no headings":
        headings = [f"Zeltoberon {number}" for number in range(len(FIELDS))]
    path = _long(tmp_path / "r.csv", rows, tuple(headings))
    if case == "a column a pupil":
        path.write_text("item,Mika Zeltoberon,Ada Zeltoberon\nq1,A,B\n", encoding="utf-8")
    _assert_quiet(_everything(bank, ["--results", str(path)], tmp_path, capsys))


@pytest.mark.parametrize("field", sweep(FIELDS, 5))
def test_no_address_is_in_any_message_or_file(
    bank: Path, tmp_path: Path, field: str, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = _rows(bank)
    rows[20][field] = "mika@zeltoberon.example"
    words = ["--results", str(_long(tmp_path / "r.csv", rows)), "--salt", str(tmp_path / "salt")]
    status = cli.main(["audit", str(bank), *words, "-o", str(tmp_path / "out")])
    found = capsys.readouterr()
    said = {"said": found.out + found.err}
    said |= {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "out").rglob("*")}
    _assert_quiet(said)
    assert status == (0 if field in ("response",) else 2) or field == "response"


def test_groups_that_are_pupils_names_stop_the_import(
    bank: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = _rows(bank)
    for row in rows:
        row["group"] = f"Mika {'ABCDEFGHIJKLMN'[int(row['pupil'][2:])]}zeltoberon"
    said = _everything(bank, ["--results", str(_long(tmp_path / "r.csv", rows))], tmp_path, capsys)
    _assert_quiet(said)
    assert "looks like names" in said["what lesson  said"]


@pytest.mark.parametrize("engine", ["sqlite", "duckdb"])
def test_an_engine_tells_no_cell(
    bank: Path, tmp_path: Path, engine: str, capsys: pytest.CaptureFixture[str]
) -> None:
    if engine == "duckdb":
        pytest.importorskip("duckdb", reason=needs(LIBRARIES))
    rows = _rows(bank)
    _spoilt(rows, 1, ("quiz", "item", "version", "response"))
    words = ["--engine", "duckdb:", "--results", str(_long(tmp_path / "r.csv", rows))]
    if engine == "sqlite":
        path = tmp_path / "answers.sqlite"
        with closing(sqlite3.connect(path)) as store, store:
            store.execute(f"CREATE TABLE spring ({', '.join(map(repr, FIELDS))})")
            store.executemany(f"INSERT INTO spring VALUES ({', '.join('?' * len(FIELDS))})",
                              [tuple(row[field] for field in FIELDS) for row in rows])
        words = ["--engine", f"sqlite:{path}?answers=spring"]
    assert cli.main(["audit", str(bank), *words, "-o", str(tmp_path / "out")]) in (0, 2)
    found = capsys.readouterr()
    said = {"said": found.out + found.err}
    said |= {path.name: path.read_text(encoding="utf-8") for path in (tmp_path / "out").rglob("*")}
    _assert_quiet(said)


def test_only_names_of_files_that_name_nobody_are_told() -> None:
    assert is_plain_file_name("results/quiz-01-result-0012.xml") and not is_plain_file_name("Mika Oberon.xml")


@given(st.text(max_size=30))
def test_what_is_quoted_is_short_numbers_letters_and_ids_only(text: str) -> None:
    quoted = told(text)
    if quoted.startswith("'"):
        inner = quoted.strip("'")
        assert inner == text.strip() and (sum(map(str.isalpha, inner)) <= 1 or "-v" in inner)
        assert sum(map(str.isdigit, inner)) <= 6 or "-v" in inner
    else:
        assert quoted.startswith("(") and (len(text.strip()) < 6 or text.strip() not in quoted)


@pytest.mark.parametrize("text", ["03.Apr", "3. Apr", "Apr-03", "03-Apr-2027", "3/4/2027", "2027-04-03", "2027-04-03T10:00",
                                  "M\u00e4r 27", "1/5/2027"])
def test_dates_are_known_as_such(text: str) -> None:
    assert looks_like_date(text) and told(text) == "(a date)"


@pytest.mark.parametrize("text", ["3.4", "4.70", "A", "3/4", "week-40", "1.2.3", "10-2-3", "1 2 3"])
def test_what_is_no_date_is_not_taken_for_one(text: str) -> None:
    assert not looks_like_date(text)
