"""Bad results: one clear message with its row, the good rows counted, the bad ones listed, and never a NaN."""

from __future__ import annotations

import dataclasses
import math
import re
import struct
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import yaml
from results_bank import QUIZ, bank_path

from bank import cli
from bank.audit import reading
from bank.audit.counting.columns import count_all
from bank.audit.pseudonyms import Salt
from bank.audit.reading import read_results
from bank.audit.records import Answers
from bank.audit.simulation import simulate, write_results
from bank.audit.statistics.classical import form_statistics
from bank.errors import BadInput
from bank.model import Choice
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")
CASES: dict[str, dict[str, Any]] = yaml.safe_load(Path(__file__).with_name("bad_results.yaml").read_text("utf-8"))


def _words() -> dict[str, str]:
    with Bank.open(bank_path()) as bank:
        quiz = next(quiz for quiz in bank.quizzes if quiz.identifier == QUIZ)
        other = next(quiz for quiz in bank.quizzes if quiz.identifier != QUIZ)
        words = {"q": QUIZ, "other": other.items[0], "long": "x" * 300_000}
        for number, item in enumerate(bank.items(quiz.items), 1):
            assert isinstance(item.response, Choice)
            options = item.response.options
            words[f"i{number}"] = item.identifier
            words[f"k{number}"] = next(one.identifier for one in options if one.is_key)
            words[f"w{number}"] = next(one.identifier for one in options if not one.is_key)
    return words


def read(*paths: Path, mapping: dict[str, str] | None = None) -> Answers:
    with Bank.open(bank_path()) as bank:
        return read_results(bank, list(paths), salt=SALT, mapping=mapping, remember=False)


def _numbers(value: object) -> list[float]:
    """Return all floats anywhere in a record."""
    if isinstance(value, float):
        return [value]
    if dataclasses.is_dataclass(value):
        return [one for part in dataclasses.fields(value) for one in _numbers(getattr(value, part.name))]
    if isinstance(value, (tuple, list)):
        return [one for part in value for one in _numbers(part)]
    return []


def _is_sound(answers: Answers) -> None:
    for counts in count_all(answers):
        assert all(math.isfinite(number) for number in _numbers(form_statistics(counts)))


def _refused(paths: list[Path], code: str, row: int, mapping: dict[str, str] | None = None) -> str:
    with pytest.raises(BadInput) as refusal:
        read(*paths, mapping=mapping)
    problems = refusal.value.problems
    assert [(one.code, one.place.line) for one in problems] == [(code, row)], str(refusal.value)
    assert problems[0].wrong and "None" not in str(problems[0]) and len(str(problems[0])) < 700
    return str(problems[0])


@pytest.mark.parametrize("name", CASES)
def test_tables_with_something_wrong(name: str, tmp_path: Path) -> None:
    case = CASES[name]
    path = tmp_path / "results.csv"
    path.write_text(case["text"].format(**_words()), encoding="utf-8", newline="")
    if "refused" in case:
        _refused([path], *case["refused"], mapping=case.get("mapping"))
        return
    answers = read(path)
    assert answers.rows == case["rows"]
    expected = case.get("rejected", {})
    assert [(file, row) for file, row, _ in answers.rejected] == [(str(path), row) for row in expected]
    for (_, row, reason) in answers.rejected:
        assert expected[row] in reason and len(reason) < 300
    if "remark" in case:
        assert any(case["remark"] in remark for remark in answers.remarks), answers.remarks
    _is_sound(answers)


RESULT = """<?xml version="1.0"?>
<assessmentResult xmlns="http://www.imsglobal.org/xsd/imsqti_result_v3p0">
<context sourcedId="{pupil}"/>
<testResult identifier="{q}" datestamp="2027-02-01T09:00:00"/>
<itemResult identifier="{i1}" datestamp="2027-02-01T09:00:00" sessionStatus="final">
<responseVariable identifier="RESPONSE" cardinality="single" baseType="identifier">{key}<candidateResponse>
<value>{k1}</value></candidateResponse></responseVariable></itemResult>
</assessmentResult>
"""


def result(pupil: str = "P1", key: str = "") -> str:
    """Return a good result document of *pupil*."""
    return RESULT.format(pupil=pupil, key=key, **_words())


def _before_root(text: str) -> str:
    return result().replace("<assessmentResult", text + "<assessmentResult", 1)


DOCUMENTS: dict[str, tuple[Callable[[], str], str, int]] = {
    "cut off": (lambda: result()[:-60], "results-refused", 7),
    "a bomb of entities": (
        lambda: _before_root('<!DOCTYPE a [<!ENTITY b "bb"><!ENTITY c "&b;&b;">]>\n'), "xml-entities", 2,
    ),
    "an entity that names a file": (
        lambda: _before_root('<!DOCTYPE a SYSTEM "file:///nowhere">\n'), "xml-entities", 2,
    ),
    "an entity that is not declared": (lambda: result().replace("<value>", "<value>&what;", 1), "results-refused", 7),
    "another kind of document": (
        lambda: "<assessmentItem xmlns='http://www.imsglobal.org/xsd/imsqtiasi_v3p0' identifier='x'/>",
        "results-refused", 1,
    ),
    "another namespace": (lambda: result().replace("result_v3p0", "result_v9p9"), "results-refused", 2),
    "no pupil": (lambda: result(""), "results-refused", 2),
    "an address for the pupil": (lambda: result("mika.o@school.example"), "names-people", 1),
    "a name for the pupil": (lambda: result("Mika Oberon"), "names-people", 1),
    "another key": (
        lambda: result(key="<correctResponse><value>{w1}</value></correctResponse>".format(**_words())),
        "results-refused", 5,
    ),
    "a quiz of another bank": (
        lambda: result().replace(QUIZ, "week-40-maps").replace(_words()["i1"], "map-v1-aaaaaaaaaaaaa"),
        "results-foreign", 0,
    ),
    "nested without end": (lambda: "<a>" * 100_000, "results-refused", 1),
    "no results in it": (
        lambda: result().split("<itemResult")[0] + "</assessmentResult>", "results-empty", 0,
    ),
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents_with_something_wrong(name: str, tmp_path: Path) -> None:
    make, code, row = DOCUMENTS[name]
    path = tmp_path / "result.xml"
    path.write_text(make(), encoding="utf-8")
    _refused([path], code, row)


def _zip(path: Path, **files: str | bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in files.items():
            packed.writestr(name.replace("_", "."), content)
    return path


def _patched(path: Path, old: bytes, new: bytes) -> Path:
    content = path.read_bytes()
    assert old in content
    path.write_bytes(content.replace(old, new))
    return path


def _overlapping(path: Path) -> Path:
    """Return a zip file whose two entries are the same bytes."""
    _zip(path, a_csv="pupil,item\n" * 3, b_csv="pupil,item\n" * 3)
    with zipfile.ZipFile(path) as packed:
        second = packed.infolist()[1].header_offset
    content = bytearray(path.read_bytes())
    at = content.rindex(b"PK\x01\x02")
    assert struct.unpack_from("<L", content, at + 42)[0] == second
    struct.pack_into("<L", content, at + 42, 0)
    path.write_bytes(content)
    return path


def _locked(path: Path) -> Path:
    _zip(path, a_csv="pupil,item\n")
    content = bytearray(path.read_bytes())
    content[content.index(b"PK\x01\x02") + 8] |= 1
    path.write_bytes(content)
    return path


def _same_names(path: Path) -> Path:
    _zip(path, a_csv="pupil,item\n", b_csv="pupil,item\n")
    return _patched(path, b"b.csv", b"a.csv")


def _written(path: Path, content: bytes) -> Path:
    path.write_bytes(content)
    return path


BYTES: dict[str, tuple[Callable[[Path], Path], str, int]] = {
    "no such file": (lambda folder: folder / "missing.csv", "results-missing", 0),
    "an empty folder": (lambda folder: folder, "results-none", 0),
    "a zip file cut off": (
        lambda folder: _written(folder / "a.zip", _zip(folder / "b.zip", a_csv="x" * 99).read_bytes()[:-30]),
        "zip-damaged", 0,
    ),
    "a zip bomb": (lambda folder: _zip(folder / "a.zip", a_csv=b"\0" * (40 << 20)), "zip-bomb", 0),
    "a zip file with overlapping entries": (lambda folder: _overlapping(folder / "a.zip"), "zip-bomb", 0),
    "a zip file with a password": (lambda folder: _locked(folder / "a.zip"), "results-locked", 0),
    "a zip file with one name twice": (lambda folder: _same_names(folder / "a.zip"), "zip-damaged", 0),
    "a zip file without results": (lambda folder: _zip(folder / "a.zip", readme_md="hello"), "results-none", 0),
    "an entry that is damaged": (lambda folder: _damaged_entry(folder / "a.zip"), "results-refused", 0),
    "letters of an old encoding": (
        lambda folder: _written(folder / "a.csv", "pupil,item,response\nP1,x,gr\u00fcn\n".encode("latin-1")),
        "not-utf", 2,
    ),
    "four bytes a letter": (lambda folder: _written(folder / "a.csv", "pupil,item".encode("utf-32")), "not-utf", 0),
    "a picture": (lambda folder: _written(folder / "a.csv", b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR"), "not-utf", 0),
    "a line without end": (
        lambda folder: _written(folder / "a.csv", b"pupil,item,response\n" + b"x" * (5 << 20)), "line-too-long", 2,
    ),
}


def _damaged_entry(path: Path) -> Path:
    with zipfile.ZipFile(path, "w") as packed:
        packed.writestr("a.csv", "pupil,quiz,item,response\n")
    return _patched(path, b"response", b"respinse")


@pytest.mark.parametrize("name", BYTES)
def test_bytes_that_are_no_results(name: str, tmp_path: Path) -> None:
    make, code, row = BYTES[name]
    _refused([make(tmp_path)], code, row)


def test_one_bad_document_among_many_is_listed_and_the_others_count(tmp_path: Path) -> None:
    for number in range(5):
        (tmp_path / f"{number}.xml").write_text(result(f"P{number}"), encoding="utf-8")
    (tmp_path / "3.xml").write_text(result("P3")[:400], encoding="utf-8")
    answers = read(tmp_path)
    assert answers.rows == 4
    ((file, row, reason),) = answers.rejected
    assert file.endswith("3.xml") and row and "not complete XML" in reason
    _is_sound(answers)


def test_one_broken_row_among_many_is_listed_and_the_others_count(tmp_path: Path) -> None:
    with Bank.open(bank_path()) as bank:
        write_results(simulate(bank, pupils=2_000, seed=1, quizzes=[QUIZ]), tmp_path / "r.csv", "long")
    lines = (tmp_path / "r.csv").read_text(encoding="utf-8").split("\n")
    lines[7_000] = lines[7_000].replace(",", ";")
    (tmp_path / "r.csv").write_text("\n".join(lines), encoding="utf-8")
    answers = read(tmp_path / "r.csv")
    assert answers.rows == 11_999
    assert [(row, reason[:18]) for _, row, reason in answers.rejected] == [(7_001, "the row has 1 cell")]
    _is_sound(answers)


def test_there_are_at_least_forty_kinds() -> None:
    assert len(CASES) + len(DOCUMENTS) + len(BYTES) + 2 >= 40


def test_names_in_late_rows_stop_the_import_too(tmp_path: Path) -> None:
    words = _words()
    rows = [f"P{number},{words['i1']},{words['k1']}" for number in range(6_000)]
    for late in ("mika.o@school.example",):
        text = "\n".join(["pupil,item,response", *rows, f"{late},{words['i1']},{words['k1']}"])
        _refused([_written(tmp_path / "late.csv", text.encode())], "names-people", 1)


@pytest.mark.parametrize("command", ["audit", "lesson"])
def test_options_that_messages_of_reading_name_are_options_of_the_commands(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main([command, "--help"]) == 0
    known = set(re.findall(r"--[a-z][a-z-]+", capsys.readouterr().out))
    sources = Path(reading.__file__).parent.glob("*.py")
    named = {one for source in sources for one in re.findall(r"--[a-z][a-z-]+", source.read_text("utf-8"))}
    assert "--results-quiz" in named and named <= known
