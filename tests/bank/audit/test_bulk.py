"""Large tables are read in columns, and give what reading row by row gives."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from results_bank import QUIZ, bank_of_kinds, bank_path

from bank.audit.marking import Marker
from bank.audit.pseudonyms import Salt
from bank.audit.reading import _bulk, quiz_keys, read_results
from bank.audit.records import Answers, FormAnswers
from bank.audit.simulation import Settings, simulate, write_results
from bank.errors import BadInput
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")


def by_pupil(answers: Answers, form: FormAnswers, table: np.ndarray) -> list[tuple[str, list[int]]]:
    return sorted((answers.pupils[pupil], row) for pupil, row in zip(form.pupils.tolist(), table.tolist()))


def both(monkeypatch: pytest.MonkeyPatch, bank: Bank, *paths: Path, plain: bool = True, **more: str) -> Answers:
    """Return what reading in columns gives, having compared it with reading row by row."""
    calls: list[bool] = []
    real = _bulk.read_bulk

    def counted(*arguments: object) -> Answers:
        found = real(*arguments)  # type: ignore[arg-type]
        calls.append(True)
        return found

    def read() -> Answers:
        return read_results(bank, list(paths), salt=SALT, remember=False, **more)  # type: ignore[arg-type]

    monkeypatch.setattr("bank.audit.reading.read_bulk", counted)
    monkeypatch.setattr(_bulk, "FROM_BYTES", 1 << 40)
    slow = read()
    monkeypatch.setattr(_bulk, "FROM_BYTES", 1)
    monkeypatch.setattr(_bulk, "FEW_REFUSED", float("inf"))
    fast = read()
    assert bool(calls) == plain
    assert [form.form for form in fast.forms] == [form.form for form in slow.forms]
    for one, other in zip(fast.forms, slow.forms):
        assert by_pupil(fast, one, one.codes) == by_pupil(slow, other, other.codes)
        mine, others = [fast.groups[group] for group in one.groups], [slow.groups[group] for group in other.groups]
        assert sorted(mine) == sorted(others)
        assert (one.milliseconds is None) == (other.milliseconds is None)
        if one.milliseconds is not None and other.milliseconds is not None:
            assert by_pupil(fast, one, one.milliseconds) == by_pupil(slow, other, other.milliseconds)
    assert sorted(row for _, row, _ in fast.rejected) == sorted(row for _, row, _ in slow.rejected)
    assert fast.simulated == slow.simulated
    return fast


@pytest.mark.parametrize("form", ["long", "wide"])
def test_both_ways_give_the_same_answers(form: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    for path in (bank_path(), bank_of_kinds()):
        with Bank.open(path) as bank:
            made = simulate(bank, pupils=120, seed=3, groups=("5a", "5b"),
                            settings=Settings(slow_share=0.3, omitted=0.1, not_given=0.05))
            write_results(made, tmp_path / "r.csv", form)
            assert both(monkeypatch, bank, tmp_path / "r.csv").simulated


def rows_of(lines: list[str]) -> str:
    return "\n".join(["pupil,group,quiz,item,response,score,seconds", *lines, ""])


@pytest.mark.parametrize(("change", "plain"), [
    (lambda line: line.replace(",", ";"), True),
    (lambda line: line + ",more", True),
    (lambda line: line.replace("week-1-sums", "week-9"), True),
    (lambda line: line.replace(",A,", ",\"A\",").replace(",B,", ",\"B\","), True),
    (lambda line: line + '"', False),
    (lambda line: line.replace(",1,", ",0,"), True),
    (lambda line: line.replace(",1,", ",good,").replace(",0,", ",good,"), False),
    (lambda line: line[:-2] + "soon", False),
    (lambda line: line.replace("-v1-", "-v7-"), True),
    (lambda line: "", True),
    (lambda line: line + "\n" + line, True),
    (lambda line: line.replace("5a", "5b"), True),
    (lambda line: line.replace(",A,", ",skipped,").replace(",B,", ",skipped,").replace(",C,", ",skipped,"), False),
    (lambda line: line.replace(",A,", ", a ,").replace(",B,", ", b ,"), True),
    (lambda line: " " + line, False),
])
def test_a_changed_row_is_judged_alike(
    change: object, plain: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Bank.open(bank_path()) as bank:
        quiz = next(one for one in bank.quizzes if one.identifier == QUIZ)
        lines = [
            f"P{pupil},5a,{QUIZ},{item},{'ABC'[(pupil + place) % 3]},{(pupil + place) % 2},{40 + place}"
            for pupil in range(20) for place, item in enumerate(quiz.items)
        ]
        lines[50] = change(lines[50])  # type: ignore[operator]
        (tmp_path / "r.csv").write_text(rows_of(lines), encoding="utf-8")
        fast = both(monkeypatch, bank, tmp_path / "r.csv", plain=plain)
    assert any("contradict" in remark for remark in fast.remarks)


@pytest.mark.parametrize(("rows", "plain"), [
    (["A,answered", "B,Finished", ",omitted", ",not reached"], True),
    (["A,answered", ",answered", "B,", ","], False),
    (["A,answered", "B,omitted", "B,", ","], False),
    (["A,lost", "B,", "B,", ","], False),
    (["A,", ",Skipped", "B,", ","], False),
])
def test_statuses_are_read_alike(
    rows: list[str], plain: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Bank.open(bank_path()) as bank:
        lines = [f"P1,{item},{row}" for item, row in zip(bank.quizzes[0].items, rows)]
        (tmp_path / "r.csv").write_text("\n".join(["pupil,item,response,status", *lines, ""]), encoding="utf-8")
        both(monkeypatch, bank, tmp_path / "r.csv", plain=plain)


def test_reasons_name_the_column_and_what_the_bank_knows(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Bank.open(bank_path()) as bank:
        item = bank.quizzes[0].items[0]
        lines = [f"P1,{item},A", f"P2,{item},F", f"P3,{item.replace('-v1-', '-v0-')},A", ""]
        (tmp_path / "r.csv").write_text("\n".join(["pupil,item,answer", *lines]), encoding="utf-8")
        fast = both(monkeypatch, bank, tmp_path / "r.csv")
    (_, _, offered), (_, _, older) = fast.rejected
    assert offered == "column 'answer': the item offers A, B, C, D, not 'F'"
    assert "is of version 0, the bank has version 1" in older


def test_several_attempts_and_files_are_read_alike(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with Bank.open(bank_path()) as bank:
        items = bank.quizzes[0].items
        for number, attempt in enumerate((2, 1)):
            lines = [f"P{pupil},{item},{'ABC'[(pupil * attempt + place) % 3]},{attempt}"
                     for pupil in range(9) for place, item in enumerate(items)]
            text = "\n".join(["pupil,item,response,attempt", *lines, ""])
            (tmp_path / f"{number}.csv").write_text(text, encoding="utf-8")
        for attempts in ("first", "last"):
            both(monkeypatch, bank, tmp_path / "0.csv", tmp_path / "1.csv", attempts=attempts)


def test_names_stop_the_import_here_too(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_bulk, "FROM_BYTES", 1)
    monkeypatch.setattr(_bulk, "FEW_REFUSED", float("inf"))
    with Bank.open(bank_path()) as bank:
        item = bank.quizzes[0].items[0]
        rows = [f"P{number},{item},A" for number in range(6_000)] + [f"mika.o@school.example,{item},A", ""]
        (tmp_path / "r.csv").write_text("\n".join(["pupil,item,response", *rows]), encoding="utf-8")
        with pytest.raises(BadInput, match="e-mail"):
            read_results(bank, [tmp_path / "r.csv"], salt=SALT, remember=False)


def test_the_keys_of_quizzes_mark_as_reading_does() -> None:
    with Bank.open(bank_of_kinds()) as bank:
        (key,) = quiz_keys(bank)
        assert quiz_keys(bank, ["other"]) == ()
        for place, item in enumerate(bank.items(key.items, solutions=False)):
            marker = Marker(item, bank.info.locale)
            assert key.score(place, marker.right) == (marker.right, 1000)
            if not item.identifier.startswith("typed"):
                with pytest.raises(ValueError, match="offers|lacks"):
                    key.score(place, "Z9")
