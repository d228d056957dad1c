"""Quizzes and items of too few pupils are shown nowhere; two reports together give nobody away, or say that they do."""

from __future__ import annotations

import csv
import random
import re
import stat
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from bank import cli
from bank.audit import earlier_reports
from bank.audit.earlier_reports import BUCKETS, HEADER, Shown, file_beside, read_reports, remember_reports, shown_of
from bank.audit.records import NOT_GIVEN, Answers
from bank.audit.simulation import simulate
from bank.audit.withholding import Left, shown_answers
from bank.errors import BadInput
from bank.model import Choice, ChooseInLine, TypedNumber
from bank.store import Bank
from hypothesis import given, settings
from hypothesis import strategies as st

QUIZZES = ("week-06-diagnosis", "week-07-graded", "week-05-mixed")
SMALL = "week-05-mixed"
DIAGNOSIS = "week-06-diagnosis"
ODD = "98765.4321"
"""A typed answer that nobody gives but those whose figures are withheld."""


def _long(path: Path, rows: list[tuple[str, ...]]) -> Path:
    with path.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("pupil", "group", "quiz", "item", "response"), *rows])
    return path


def _answers_of(bank: Bank, pupils: int, seed: int = 4) -> list[tuple[str, ...]]:
    """Return rows of a long table: code, group, quiz, item, response, by chance."""
    luck = random.Random(seed)
    rows = []
    for quiz in bank.quizzes:
        if quiz.identifier in QUIZZES:
            for item in bank.items(quiz.items):
                for pupil in range(pupils):
                    options = getattr(item.response, "options", None)
                    names = [one.identifier for one in options] if options else ["4.7", "0.5", "12", "3.05"]
                    if isinstance(item.response, (Choice, ChooseInLine, TypedNumber)):
                        rows.append((f"P-{pupil:02}", "north" if pupil < 12 else "south", quiz.identifier,
                                     item.identifier, luck.choice(names)))
    return rows


def _written(folder: Path) -> dict[str, str]:
    return {path.name: path.read_bytes().decode("utf-8", "replace") for path in folder.rglob("*") if path.is_file()}


@pytest.mark.parametrize("few", [1, 3, 9])
def test_no_file_of_any_command_holds_a_figure_of_a_withheld_quiz_or_item(
    built: Path, tmp_path: Path, few: int, capsys: pytest.CaptureFixture[str]
) -> None:
    with Bank.open(built) as bank:
        rows = _answers_of(bank, 24)
        home, lonely = next(
            (quiz.identifier, item.identifier) for quiz in bank.quizzes if quiz.identifier in QUIZZES[:2]
            for item in bank.items(quiz.items) if isinstance(item.response, TypedNumber)
        )
        small = {item for quiz in bank.quizzes if quiz.identifier == SMALL for item in quiz.items}
    shown = {row[3] for row in rows if row[2] != SMALL}
    kept = [row for row in rows
            if (row[2] != SMALL and (row[2], row[3]) != (home, lonely)) or int(row[0][2:]) < few]
    kept = [(*row[:4], ODD) if row[3] == lonely else row for row in kept]
    results, salt = _long(tmp_path / "results.csv", kept), tmp_path / "salt"
    words = [str(built), "--results", str(results), "--salt", str(salt)]
    audit, lesson = tmp_path / "audit", tmp_path / "lesson"
    assert cli.main(["audit", *words, "-o", str(audit), "--usage-data", "3.0", "--calibrate",
                     str(audit / "weights.yaml"), "--compare", "north", "south"]) == 0
    assert cli.main(["lesson", *words, "-o", str(lesson)]) == 0
    capsys.readouterr()
    for name, text in (_written(audit) | _written(lesson)).items():
        if name.endswith(".sqlite"):
            continue
        assert ODD not in text, name
        if name != "audit.csv":  # where every item of the bank has its prediction
            assert SMALL not in text, name
            assert not [item for item in {*small - shown, lonely} if item in text], name
    with (audit / "audit.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["item"] == lonely or row["item"] in small - shown:
                figures = {column: value for column, value in row.items() if column.startswith("observed") and value}
                assert set(figures.values()) <= {"0"}, figures
            elif row["observed_n"] != "0":
                assert int(row["observed_n"]) >= 10
    page = (audit / "audit.html").read_text(encoding="utf-8")
    assert "1 quiz and 1 item answered by fewer than 10 pupils" in page
    assert "<b>24</b> pupils" in page


def test_a_quiz_that_a_few_pupils_tried_many_times_is_withheld_as_well(built: Path) -> None:
    with Bank.open(built) as bank:
        answers = simulate(bank, pupils=4, seed=1, quizzes=QUIZZES[:1]).answers
    form = answers.forms[0]
    often = replace(form, pupils=np.tile(form.pupils, 5), codes=np.tile(form.codes, (5, 1)),
                    groups=np.tile(form.groups, 5), milliseconds=None)
    found, left = shown_answers(replace(answers, forms=(often,)), 10)
    assert not found.forms and left.quizzes == 1 and not found.pupils


@given(st.integers(0, 10**6))
@settings(max_examples=40, deadline=None)
def test_what_is_left_holds_no_item_of_one_to_nine_pupils_and_nothing_of_those_taken_out(seed: int) -> None:
    answers = _sparse(seed)
    found, left = shown_answers(answers, 10)
    for form in found.forms:
        assert len(set(form.pupils.tolist())) >= 10
        reached = (form.codes != NOT_GIVEN).sum(axis=0)
        assert not ((reached > 0) & (reached < 10)).any()
        assert (form.codes != NOT_GIVEN).any(axis=1).all()
    told = {name for form in found.forms for name in (form.form.quiz, *form.form.items)}
    assert not told & left.names
    assert found.rows == sum(int((form.codes != NOT_GIVEN).sum()) for form in found.forms)
    assert set(found.pupils) <= set(answers.pupils)


def _sparse(seed: int) -> Answers:
    from bank.audit.records import Form, FormAnswers

    luck = np.random.default_rng(seed)
    forms = []
    for quiz in range(3):
        pupils = luck.permutation(30)[: luck.integers(1, 31)].astype(np.int32)
        codes = np.where(luck.random((len(pupils), 4)) < luck.random(4), 0, NOT_GIVEN).astype(np.int16)
        codes[:, 0] = 0
        items = tuple(f"q{quiz}-{place}" for place in range(4))
        forms.append(FormAnswers(
            form=Form(quiz=f"q{quiz}", items=items, versions=(1,) * 4, responses=(("A",),) * 4,
                      credits=((1000,),) * 4),
            pupils=pupils, codes=codes, groups=np.zeros(len(pupils), dtype=np.int16),
        ))
    rows = sum(int((form.codes != NOT_GIVEN).sum()) for form in forms)
    return Answers(forms=tuple(forms), pupils=tuple(f"{number:016x}" for number in range(30)), rows=rows)


def test_a_remark_that_names_what_is_withheld_is_left_out() -> None:
    left = Left(1, 0, frozenset({"week-05", "sum-v1-a"}))
    assert not left.may_stand("week-05, x: 2 scores contradict the key")
    assert not left.may_stand("item 'sum-v1-a' is unknown.")
    assert left.may_stand("week-051, x: 2 scores contradict the key")


def test_results_without_a_quiz_that_may_be_shown_are_refused(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Bank.open(built) as bank:
        rows = _answers_of(bank, 12)
    halves = [row for row in rows if (int(row[0][2:]) < 6) == (row[2] == DIAGNOSIS)]
    words = [str(built), "--results", str(_long(tmp_path / "r.csv", halves)), "--salt", str(tmp_path / "salt")]
    for command in ("audit", "lesson"):
        assert cli.main([command, *words, "-o", str(tmp_path / command)]) == 2
        assert "no quiz was answered by 10 pupils or more" in capsys.readouterr().err
        assert not (tmp_path / command).exists()


def _mistakes(folder: Path) -> list[dict[str, str]]:
    with (folder / "mistakes.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_a_group_of_a_few_in_one_quiz_is_not_told_from_the_others_there(built: Path, tmp_path: Path) -> None:
    # North has twelve pupils, of whom three answered this quiz; south has twelve who did.
    with Bank.open(built) as bank:
        rows = [row for row in _answers_of(bank, 24) if row[2] == DIAGNOSIS and (row[1] == "south" or row[0] < "P-03")]
        rows += [row for row in _answers_of(bank, 24) if row[2] == SMALL]
    both = {row[3] for row in rows if row[2] == SMALL}
    words = ["--results", str(_long(tmp_path / "r.csv", rows)), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path)]
    assert cli.main(["audit", str(built), *words]) == 0
    whole = {row["mistake"]: int(row["possible"]) for row in _mistakes(tmp_path) if not row["group"]}
    told: dict[str, int] = {}
    for row in _mistakes(tmp_path):
        if row["group"]:
            told[row["mistake"]] = told.get(row["mistake"], 0) + int(row["possible"])
            assert int(row["possible"]) >= 10, row
    assert both and told
    for mistake, count in told.items():
        assert whole[mistake] - count == 0 or whole[mistake] - count >= 10


def _audit(built: Path, results: Path, folder: Path, *more: str) -> int:
    words = ["--results", str(results), "--salt", str(folder.parent / "salt"), "-o", str(folder), *more]
    return cli.main(["audit", str(built), *words])


def test_two_reports_that_give_a_pupil_away_are_warned_of(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Bank.open(built) as bank:
        rows = _answers_of(bank, 26)
    early = _long(tmp_path / "early.csv", [row for row in rows if row[0] < "P-25"])
    late = _long(tmp_path / "late.csv", rows)
    assert _audit(built, early, tmp_path / "one") == 0
    assert "side by side" not in capsys.readouterr().out
    assert _audit(built, early, tmp_path / "again") == 0
    assert "side by side" not in capsys.readouterr().out, "the same report twice gives nobody away"
    assert _audit(built, late, tmp_path / "two") == 0
    said = capsys.readouterr().out
    assert said.count("fewer than 10 pupils, so whoever sees them side by side") == len(QUIZZES)
    assert "side by side" in (tmp_path / "two" / "audit.html").read_text(encoding="utf-8")
    held = file_beside(built).read_text(encoding="utf-8")
    assert not re.search(r"P-[0-9]|north|[0-9a-f]{16},", held.replace(",,", ",")) or "north" in held
    assert stat.S_IMODE(file_beside(built).stat().st_mode) == 0o600
    assert not re.search(r"P-\d\d", held)


def test_a_report_of_a_group_and_one_of_all_are_warned_of_where_the_rest_is_small(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file_beside(built).unlink(missing_ok=True)
    with Bank.open(built) as bank:
        rows = _answers_of(bank, 30)
    for number, (low, high) in enumerate([(0, 14), (14, 27), (0, 30)]):
        part = [row for row in rows if low <= int(row[0][2:]) < high]
        assert _audit(built, _long(tmp_path / f"{number}.csv", part), tmp_path / f"out-{number}") == 0
        said = capsys.readouterr().out
        assert ("two of" in said) == (number == 2), "two classes apart are fine, with the three left over they are not"


def test_reports_are_compared_by_pupils_and_answers_not_by_numbers_alone() -> None:
    answers = _sparse(3)
    form = replace(answers.forms[0], pupils=np.arange(30, dtype=np.int32), codes=np.zeros((30, 4), dtype=np.int16),
                   groups=np.zeros(30, dtype=np.int16))
    whole = replace(answers, forms=(form,))
    changed = replace(form, codes=form.codes.copy())
    changed.codes[7, 2] = NOT_GIVEN
    other = replace(answers, forms=(form,), pupils=tuple(f"{number:016x}" for number in range(100, 130)))
    (first,) = shown_of(whole, ["q0"], [""], "2027-01-01")
    assert earlier_reports.warnings([first], shown_of(whole, ["q0"], [""], "2027-01-02"), 10) == []
    (said,) = earlier_reports.warnings([first], shown_of(replace(answers, forms=(changed,)), ["q0"], [""], "d"), 10)
    assert "2027-01-01" in said
    assert earlier_reports.warnings([first], shown_of(other, ["q0"], [""], "d"), 10) == [], "another class"
    counted = [Shown("2027-01-01", "audit", "q0", "", 30, "")]
    assert earlier_reports.warnings(counted, [counted[0]._replace(pupils=33)], 10)
    assert not earlier_reports.warnings(counted, [counted[0]._replace(pupils=43)], 10)


@given(st.integers(0, 10**6), st.integers(1, 9))
@settings(max_examples=30, deadline=None)
def test_any_few_pupils_more_are_noticed_and_other_classes_are_not(seed: int, more: int) -> None:
    luck = random.Random(seed)
    base = _sparse(3)
    names = tuple(f"{luck.getrandbits(64):016x}" for _ in range(90))
    count = luck.randint(12, 40)

    def shown(chosen: range) -> Shown:
        size = len(chosen)
        form = replace(base.forms[0], pupils=np.array(chosen, dtype=np.int32), codes=np.zeros((size, 4), dtype=np.int16),
                       groups=np.zeros(size, dtype=np.int16))
        return shown_of(replace(base, forms=(form,), pupils=names), ["q0"], [""], "d")[0]

    one = shown(range(count))
    assert earlier_reports.warnings([one], [shown(range(count + more))], 10)
    assert not earlier_reports.warnings([one], [shown(range(count, 2 * count))], 10)
    assert len(one.sums) == 4 * BUCKETS


@pytest.mark.parametrize("text", ["", "date\r\n", ",".join(HEADER) + "\r\nd,audit,q,,x,\r\n",
                                  ",".join(HEADER) + "\r\nd,audit,q,,12,beef\r\n"])
def test_a_damaged_list_of_reports_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bank.reports.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        read_reports(path)
    assert caught.value.problems[0].code == "reports-damaged"


def test_what_is_remembered_comes_back_and_is_not_doubled(tmp_path: Path) -> None:
    path = tmp_path / "bank.reports.csv"
    one = Shown("2027-01-01", "audit", "q0", "north", 30, "0" * 4 * BUCKETS)
    remember_reports(path, (), [one])
    remember_reports(path, read_reports(path), [one._replace(date="2027-01-02")])
    assert read_reports(path) == (one,)


def test_pupils_set_aside_count_neither_for_a_group_nor_for_a_quiz(built: Path, tmp_path: Path) -> None:
    # Ten pupils of north answered; one of them in one letter. Nine are left, and nine are not shown.
    with Bank.open(built) as bank:
        rows = [row for row in _answers_of(bank, 30, seed=9) if row[2] == DIAGNOSIS]
        lettered = {item.identifier for quiz in bank.quizzes if quiz.identifier == DIAGNOSIS
                    for item in bank.items(quiz.items) if isinstance(item.response, Choice)}
    rows = [(code, "north" if code < "P-10" else "south", *rest) for code, _, *rest in rows]
    rows = [(*row[:4], "A") if row[0] == "P-00" else row for row in rows if row[3] in lettered]
    assert _audit(built, _long(tmp_path / "r.csv", rows), tmp_path / "out", "--count-unusual") == 0
    with_all = (tmp_path / "out" / "audit.html").read_text(encoding="utf-8")
    assert "north (10)" in with_all
    assert _audit(built, tmp_path / "r.csv", tmp_path / "less") == 0
    less = (tmp_path / "less" / "audit.html").read_text(encoding="utf-8")
    assert "<b>29</b> pupils" in less and "north (" not in less
    assert "north" not in {row["group"] for row in _mistakes(tmp_path / "less")}
    assert "side by side" in less, "with and without that pupil the reports differ by one"
