"""A damaged bank gives one message and status 2, whatever is broken and whichever command opens it."""

from __future__ import annotations

import random
import shutil
import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
import sampler
from marked_banks import with_another_key_marked
from sweeps import sweep

from bank import cli
from bank.store import Bank

DEEP = "[" * 200_000
HUGE = "9" * 10_000
SQL: dict[str, str] = {
    "item deleted": "DELETE FROM items WHERE position = 2",
    "all items deleted": "DELETE FROM items",
    "quiz deleted": "DELETE FROM quizzes WHERE position = 1",
    "family deleted": "DELETE FROM families WHERE template = (SELECT template FROM items LIMIT 1)",
    "shared line deleted": "DELETE FROM shared WHERE number = 3",
    "info deleted": "DELETE FROM about WHERE name = 'info'",
    "fingerprint deleted": "DELETE FROM about WHERE name = 'fingerprint'",
    "fingerprint changed": "UPDATE about SET content = 'aaaa-bbbb-cccc-dddd' WHERE name = 'fingerprint'",
    "summary deleted": "DELETE FROM about WHERE name = 'summary'",
    "summary emptied": "UPDATE about SET content = '[]' WHERE name = 'summary'",
    "something added to about": "INSERT INTO about VALUES ('more', 'x')",
    "key changed": "UPDATE items SET content = replace(content, ']', '0]') WHERE position = 1",
    "items exchanged": "UPDATE items SET content = (SELECT content FROM items WHERE position = 2) WHERE position = 1",
    "identifier changed": "UPDATE items SET identifier = 'other' WHERE position = 1",
    "template changed": "UPDATE items SET template = (SELECT max(template) FROM items) WHERE position = 1",
    "band changed": "UPDATE items SET band = 'easy!' WHERE position = 1",
    "position moved": "UPDATE items SET position = 99999 WHERE position = 2",
    "position huge": "UPDATE items SET position = 9223372036854775807 WHERE position = 2",
    "position negative": "UPDATE items SET position = -5 WHERE position = 2",
    "item doubled": "INSERT INTO items (identifier, template, band, content)"
                    " SELECT identifier || 'x', template, band, content FROM items WHERE position = 1",
    "content no JSON": "UPDATE items SET content = 'x' WHERE position = 1",
    "content empty": "UPDATE items SET content = '' WHERE position = 1",
    "content a number": "UPDATE items SET content = 7 WHERE position = 1",
    "content a blob": "UPDATE items SET content = x'00ff00ff' WHERE position = 1",
    "content no UTF-8": "UPDATE items SET content = CAST(x'ff5b5d' AS TEXT) WHERE position = 1",
    "content with NUL": "UPDATE items SET content = content || char(0) || 'x' WHERE position = 1",
    "content of a wrong type": "UPDATE items SET content = '{\"a\": null}' WHERE position = 1",
    "deep content": f"UPDATE items SET content = '{DEEP}' WHERE position = 1",
    "deep info": f"UPDATE about SET content = '{DEEP}' WHERE name = 'info'",
    "deep summary": f"UPDATE about SET content = '{DEEP}' WHERE name = 'summary'",
    "deep family": f"UPDATE families SET content = '{DEEP}'",
    "deep quiz": f"UPDATE quizzes SET content = '{DEEP}'",
    "deep shared line": f"UPDATE shared SET content = '{DEEP}' WHERE number = 1",
    "huge number": f"UPDATE items SET content = replace(content, '[', '[{HUGE},') WHERE position = 1",
    "huge number in info": f"UPDATE about SET content = replace(content, '\"seed\":', '\"seed\":{HUGE}') WHERE name = 'info'",
    "number without end": "UPDATE families SET content = replace(content, ':1', ':1e999')",
    "info a list": "UPDATE about SET content = '[]' WHERE name = 'info'",
    "info with NUL": "UPDATE about SET content = char(0) || content WHERE name = 'info'",
    "family a number": "UPDATE families SET content = '3'",
    "quiz a text": "UPDATE quizzes SET content = '\"x\"'",
    "quiz names a stranger": "UPDATE quizzes SET content = replace(content, '\"items\":[\"', '\"items\":[\"x')",
    "shared line no JSON": "UPDATE shared SET content = 'x' WHERE number = 2",
    "items dropped": "DROP TABLE items",
    "shared dropped": "DROP TABLE shared",
    "about dropped": "DROP TABLE about",
    "families dropped": "DROP TABLE families",
    "quizzes dropped": "DROP TABLE quizzes",
    "index dropped": "DROP INDEX items_by_identifier",
    "index added": "CREATE INDEX more ON items (template)",
    "table added": "CREATE TABLE more (x)",
    "trigger added": "CREATE TRIGGER more AFTER INSERT ON items BEGIN DELETE FROM items; END",
    "view added": "CREATE VIEW more AS SELECT * FROM items",
    "items a view": "ALTER TABLE items RENAME TO kept; CREATE VIEW items AS SELECT * FROM kept",
    "items a view without end": "DROP TABLE items; CREATE VIEW items AS WITH RECURSIVE n(position) AS (SELECT 1 UNION ALL"
                                " SELECT position + 1 FROM n) SELECT position, 'a' identifier, 'b' template, 'c' band,"
                                " 'd' content FROM n",
    "families a view without end": "DROP TABLE families; CREATE VIEW families AS WITH RECURSIVE n(x) AS (SELECT 1 UNION"
                                   " ALL SELECT x + 1 FROM n) SELECT 'a' template, '{}' content FROM n",
    "column added": "ALTER TABLE items ADD COLUMN more TEXT",
    "column renamed": "ALTER TABLE items RENAME COLUMN band TO bands",
    "another layout": "PRAGMA user_version = 99",
    "an older layout": "PRAGMA user_version = 1",
    "another program's": "PRAGMA application_id = 1",
}


def _cut(content: bytes) -> bytes:
    return content[: len(content) // 2]


BYTES: dict[str, Callable[[bytes], bytes]] = {
    "empty": lambda content: b"",
    "one byte": lambda content: content[:1],
    "only a header": lambda content: content[:100],
    "cut in the middle": _cut,
    "cut by one page": lambda content: content[:-8192],
    "cut by one byte": lambda content: content[:-1],
    "wrong page size": lambda content: content[:16] + b"\x03\x07" + content[18:],
    "page size of one byte": lambda content: content[:16] + b"\x00\x01" + content[18:],
    "other page size": lambda content: content[:16] + b"\x20\x00" + content[18:],
    "said to be UTF-16": lambda content: content[:56] + b"\x00\x00\x00\x02" + content[60:],
    "page count huge": lambda content: content[:28] + b"\xff\xff\xff\xff" + content[32:],
    "schema of zeros": lambda content: content[:100] + bytes(2000) + content[2100:],
    "a page of zeros": lambda content: content[:8192] + bytes(8192) + content[16384:],
    "all noise behind the header": lambda content: content[:100] + bytes([7]) * (len(content) - 100),
    "reversed": lambda content: content[::-1],
    "text": lambda content: b"not a bank\n" * 1000,
}
ALLOWED = {"bank-altered", "bank-damaged", "bank-foreign", "bank-newer", "bank-older"}


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return sampler.bank().save(tmp_path_factory.mktemp("sound") / "bank.sqlite")


def _commands(bank: Path, folder: Path) -> dict[str, list[str]]:
    out = str(folder / "out")
    item = "some-item"
    return {
        "csv": ["export", str(bank), "--as", "csv", "-o", out, "--jobs", "1"],
        "qti30": ["export", str(bank), "--as", "qti30", "-o", out, "--jobs", "1"],
        "cc13": ["export", str(bank), "--as", "cc13", "-o", out, "--jobs", "1"],
        "audit": ["audit", str(bank), "-o", out],
        "sample": ["sample", str(bank), "--pupils", "20", "--seed", "1", "-o", f"{out}.csv"],
        "lesson": ["lesson", str(bank), "--results", str(folder / "none.csv"), "-o", out],
        "compare": ["compare", str(bank), str(folder)],
        "verify": ["verify", str(folder)],
        "decide": ["decide", str(bank), item, "--retire", "--by", "O. Maren", "--why", "no reason"],
        
    }


def _is_refused_once(words: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = {path: path.read_bytes() for path in folder.iterdir()}
    assert cli.main(words) == 2, words
    told = capsys.readouterr()
    lines = [line for line in told.err.splitlines() if "bank.sqlite" in line]
    assert len(lines) == 1 and len(told.err.splitlines()) <= 2, told.err
    assert "Traceback" not in told.err and "fault of the tool" not in told.err and len(told.err) < 1000
    assert words[0] == "verify" or told.out == ""
    assert {path: path.read_bytes() for path in folder.iterdir()} == before


def _changed(sound: Path, folder: Path, sql: str) -> Path:
    bank = folder / "bank.sqlite"
    shutil.copy(sound, bank)
    connection = sqlite3.connect(bank, isolation_level=None)
    connection.executescript(sql)
    connection.close()
    assert bank.read_bytes() != sound.read_bytes()
    return bank


@pytest.mark.parametrize("damage", sweep(SQL, 8))
def test_whatever_is_changed_in_a_bank_every_command_refuses_it_once(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], damage: str
) -> None:
    bank = _changed(sound, tmp_path, SQL[damage])
    for words in _commands(bank, tmp_path).values():
        _is_refused_once(words, tmp_path, capsys)


@pytest.mark.parametrize("damage", sweep(BYTES, 4))
def test_whatever_the_file_is_every_command_refuses_it_once(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], damage: str
) -> None:
    bank = tmp_path / "bank.sqlite"
    bank.write_bytes(BYTES[damage](sound.read_bytes()))
    for words in _commands(bank, tmp_path).values():
        _is_refused_once(words, tmp_path, capsys)


@pytest.mark.parametrize("seed", sweep(range(40), 8))
def test_random_bytes_changed_are_found_or_change_nothing(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], seed: int
) -> None:
    lots = random.Random(seed)
    content = bytearray(sound.read_bytes())
    for _ in range(lots.choice((1, 1, 1, 10, 1000))):
        content[lots.randrange(len(content))] ^= 1 << lots.randrange(8)
    bank = tmp_path / "bank.sqlite"
    bank.write_bytes(content)
    words = _commands(bank, tmp_path)["csv"]
    if cli.main(words) == 0:  # a byte that holds nothing: of a free place, or a number that only a writer asks for
        capsys.readouterr()
        with Bank.checked(bank) as changed, Bank.checked(sound) as one:
            assert changed.fingerprint == one.fingerprint and list(changed.items()) == list(one.items())
        return
    capsys.readouterr()
    _is_refused_once(words, tmp_path, capsys)


@pytest.mark.parametrize("beside", ["-wal", "-journal", "-shm"])
@pytest.mark.parametrize("content", [b"", b"noise" * 5000])
def test_what_another_program_left_beside_a_bank_is_not_read(
    sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], beside: str, content: bytes
) -> None:
    bank = tmp_path / "bank.sqlite"
    shutil.copy(sound, bank)
    (tmp_path / f"bank.sqlite{beside}").write_bytes(content)
    assert cli.main(_commands(bank, tmp_path)["csv"]) == 0
    assert (tmp_path / f"bank.sqlite{beside}").read_bytes() == content


def test_a_change_that_another_program_has_not_finished_is_not_read(sound: Path, tmp_path: Path) -> None:
    bank = tmp_path / "bank.sqlite"
    shutil.copy(sound, bank)
    other = sqlite3.connect(bank, isolation_level=None)
    try:
        other.execute("PRAGMA journal_mode = WAL")
        other.execute("PRAGMA wal_autocheckpoint = 0")
        other.execute("UPDATE items SET content = '[]'")
        with Bank.checked(bank) as found, Bank.checked(sound) as one:
            assert list(found.items()) == list(one.items())
    finally:
        other.close()


def test_every_kind_of_refusal_occurs_here(sound: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from bank.errors import BadInput

    codes = set()
    for number, sql in enumerate(SQL.values()):
        (tmp_path / str(number)).mkdir()
        with pytest.raises(BadInput) as caught:
            Bank.checked(_changed(sound, tmp_path / str(number), sql))
        codes |= {problem.code for problem in caught.value.problems}
    assert codes == ALLOWED


def test_workers_refuse_a_bank_that_was_exchanged_under_them(sound: Path, tmp_path: Path) -> None:
    from bank.errors import BadInput

    with pytest.raises(BadInput) as caught:
        Bank.open(sound, known="aaaa-bbbb-cccc-dddd")
    assert [problem.code for problem in caught.value.problems] == ["bank-replaced"]


def test_an_audit_whose_check_of_a_key_fails_ends_with_status_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bank = with_another_key_marked().save(tmp_path / "bank.sqlite")
    assert cli.main(["audit", str(bank), "-o", str(tmp_path / "audit")]) == 2
    told = capsys.readouterr()
    assert "do not use it" in told.err and "error" in told.err
    assert (tmp_path / "audit" / "audit.html").exists(), "the page shows which"
