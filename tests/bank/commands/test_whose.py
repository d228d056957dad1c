"""Files of single pupils are their owner's only, and a digest leads back to a code for who has list and salt."""

from __future__ import annotations

import csv
import os
import stat
from pathlib import Path

import pytest
from bank import cli
from bank.audit.codes import read_codes
from bank.audit.pseudonyms import Salt, load_salt
from bank.errors import BadInput
from bank.store import Bank
from results_bank import QUIZ, bank_path


def _results(folder: Path) -> tuple[Path, Path]:
    bank = folder / "term" / "bank.sqlite"
    bank.parent.mkdir()
    bank.write_bytes(bank_path().read_bytes())
    with Bank.open(bank) as opened:
        items = next(quiz for quiz in opened.quizzes if quiz.identifier == QUIZ).items
    rows = [f"P-{pupil:02},{item},{'ABCD'[(pupil + place) % 4]}" for pupil in range(12) for place, item in enumerate(items)]
    results = folder / "results.csv"
    results.write_text("\n".join(["pupil,item,response", *rows, ""]), encoding="utf-8")
    return bank, results


def _mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.mark.parametrize("umask", [0o000, 0o022, 0o277])
def test_files_of_single_pupils_are_their_owners_only_whatever_the_umask(tmp_path: Path, umask: int) -> None:
    bank, results = _results(tmp_path)
    out, salt = tmp_path / "out", tmp_path / "settings" / "salt"
    out.mkdir()
    (out / "pupils.csv").write_text("old", encoding="utf-8")
    (out / "pupils.csv").chmod(0o666)
    before = os.umask(umask)
    try:
        words = ["--results", str(results), "--salt", str(salt), "-o", str(out), "--pupils", "--keep"]
        (tmp_path / "settings").mkdir(mode=0o700)
        os.chmod(tmp_path / "settings", 0o700)
        assert cli.main(["audit", str(bank), *words]) == 0
    finally:
        os.umask(before)
    for path in (out / "pupils.csv", out / "pupils.html", bank.with_name("results.sqlite"), salt):
        assert _mode(path) == 0o600, path


def test_the_folder_of_the_salt_is_its_owners_only(tmp_path: Path) -> None:
    before = os.umask(0)
    try:
        salt = load_salt(tmp_path / "a" / "settings" / "salt")
    finally:
        os.umask(before)
    assert salt.created and _mode(tmp_path / "a" / "settings") == 0o700


def test_kept_answers_that_others_could_read_are_closed_to_them(tmp_path: Path) -> None:
    bank, results = _results(tmp_path)
    words = ["audit", str(bank), "--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path), "--keep"]
    assert cli.main(words) == 0
    bank.with_name("results.sqlite").chmod(0o644)
    assert cli.main(words) == 0
    assert _mode(bank.with_name("results.sqlite")) == 0o600


def test_a_link_put_where_a_file_of_pupils_goes_is_not_followed(tmp_path: Path) -> None:
    bank, results = _results(tmp_path)
    out, target = tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    (out / ".pupils.csv.part").symlink_to(target)
    words = ["--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(out), "--pupils"]
    assert cli.main(["audit", str(bank), *words]) == 0
    assert not target.exists() and _mode(out / "pupils.csv") == 0o600


def test_digests_lead_back_to_codes_for_who_has_list_and_salt(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bank, results = _results(tmp_path)
    salt = ["--salt", str(tmp_path / "salt")]
    assert cli.main(["audit", str(bank), "--results", str(results), *salt, "-o", str(tmp_path), "--pupils"]) == 0
    with (tmp_path / "pupils.csv").open(encoding="utf-8", newline="") as file:
        digests = sorted({row["pupil"] for row in csv.DictReader(file)})
    codes = tmp_path / "codes.csv"
    codes.write_text("name,code\n" + "".join(f"Invented {n},P-{n:02}\n" for n in range(12)), encoding="utf-8")
    capsys.readouterr()
    before = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")}
    assert digests and cli.main(["whose", *digests, "--codes", str(codes), *salt]) == 0
    said = capsys.readouterr()
    key = load_salt(tmp_path / "salt")
    assert said.out.splitlines() == [
        f"{digest}  {next(f'P-{n:02}' for n in range(12) if key.digest(f'P-{n:02}') == digest)}" for digest in digests
    ]
    assert "Invented" not in said.out + said.err
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*")} == before, "nothing is stored"
    assert cli.main(["whose", "--codes", str(codes), *salt]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 12


def test_a_digest_of_none_of_the_codes_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    load_salt(tmp_path / "salt")
    (tmp_path / "codes.txt").write_text("P-1\n", encoding="utf-8")
    words = ["--codes", str(tmp_path / "codes.txt"), "--salt", str(tmp_path / "salt")]
    assert cli.main(["whose", "0123456789abcdef", *words]) == 2
    assert "none of these codes" in capsys.readouterr().out
    assert cli.main(["whose", "Mika", *words]) == 2
    assert "Mika" not in capsys.readouterr().err
    assert cli.main(["whose", "--codes", str(tmp_path / "codes.txt"), "--salt", str(tmp_path / "none")]) == 2


@pytest.mark.parametrize("text,codes", [
    ("P-1\nP-2\n\nP-1\n", ("P-1", "P-2")), ("code;name\nP-1;A\nP-2;B\n", ("P-1", "P-2")),
    ("\ufeffName\tPupil\nA\tP-1\n", ("P-1",)), ("P-1,A\nP-2,B\n", ("P-1", "P-2")),
])
def test_lists_of_codes_are_read(tmp_path: Path, text: str, codes: tuple[str, ...]) -> None:
    path = tmp_path / "codes"
    path.write_text(text, encoding="utf-8")
    assert read_codes(path) == codes
    path.write_text(text.removeprefix("\ufeff"), encoding="utf-16")
    assert read_codes(path) == codes
    assert Salt(key=b"k").digest(codes[0])


@pytest.mark.parametrize("content,code", [(b"", "codes-none"), (b"\n\n", "codes-none"), (b"\xff\x00", "codes-unreadable")])
def test_a_list_without_codes_is_refused(tmp_path: Path, content: bytes, code: str) -> None:
    path = tmp_path / "codes"
    path.write_bytes(content)
    with pytest.raises(BadInput) as caught:
        read_codes(path)
    assert caught.value.problems[0].code == code


def test_words_that_are_no_digests_have_a_code(tmp_path: Path) -> None:
    from argparse import Namespace

    from bank.commands import whose

    with pytest.raises(BadInput) as caught:
        whose.run(Namespace(digests=["x"], codes=tmp_path, salt=None))
    assert caught.value.problems[0].code == "digest-form"
