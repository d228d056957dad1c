"""Results read: every form gives back what was written; attempts, gaps and scores follow the rules."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from results_bank import QUIZ, bank_of_kinds, bank_path

from bank.audit.pseudonyms import Salt
from bank.audit.reading import FILE_NAME, read_results
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Answers
from bank.audit.simulation import FORMS, Settings, Simulation, simulate, write_results
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")


def read(*paths: Path, **more: object) -> Answers:
    with Bank.open(bank_path()) as bank:
        return read_results(bank, list(paths), salt=SALT, remember=False, **more)  # type: ignore[arg-type]


def items(quiz: str = QUIZ) -> tuple[str, ...]:
    with Bank.open(bank_path()) as bank:
        return next(one.items for one in bank.quizzes if one.identifier == quiz)


def keys(quiz: str = QUIZ) -> list[str]:
    with Bank.open(bank_path()) as bank:
        return [next(option.identifier for option in item.response.options if option.is_key)  # type: ignore[union-attr]
                for item in bank.items(items(quiz))]


def made(pupils: int = 30) -> Simulation:
    with Bank.open(bank_path()) as bank:
        return simulate(bank, pupils=pupils, seed=8, groups=("5a", "5b"),
                        settings=Settings(slow_share=0.4, omitted=0.1, not_given=0.05))


def told(answers: Answers, digest: bool) -> dict[tuple[str, str, str], tuple[str, int, str]]:
    """Return (response or kind of gap, credit, group) by pupil, quiz and item."""
    found = {}
    for form in answers.forms:
        for row, pupil in enumerate(form.pupils.tolist()):
            name = answers.pupils[pupil]
            for place, item in enumerate(form.form.items):
                code = int(form.codes[row, place])
                response = form.form.responses[place][code] if code >= 0 else str(code)
                credit = form.form.credits[place][code] if code >= 0 else 0
                key = name if digest else SALT.digest(name)
                found[key, form.form.quiz, item] = (response, credit, answers.groups[int(form.groups[row])])
    return found


@pytest.mark.parametrize("form", FORMS)
def test_what_was_written_is_read_back(form: str, tmp_path: Path) -> None:
    simulation = made()
    target = tmp_path / ("results.zip" if form.startswith("qti") else "results.csv")
    write_results(simulation, target, form)
    answers = read(target)
    assert told(answers, digest=True) == told(simulation.answers, digest=False)
    assert answers.simulated and not answers.rejected
    if form != "wide":
        for one, other in zip(answers.forms, simulation.answers.forms):
            assert one.milliseconds is not None and other.milliseconds is not None
            same = other.codes >= 0
            assert np.array_equal(one.milliseconds[same] // 1000, other.milliseconds[same] // 1000)


@pytest.mark.parametrize("form", FORMS)
def test_every_kind_of_response_is_read_back(form: str, tmp_path: Path) -> None:
    with Bank.open(bank_of_kinds()) as bank:
        simulation = simulate(bank, pupils=60, seed=8)
        target = tmp_path / ("results.zip" if form.startswith("qti") else "results.csv")
        write_results(simulation, target, form)
        answers = read_results(bank, [target], salt=SALT, remember=False)
    assert told(answers, digest=True) == told(simulation.answers, digest=False)
    assert not answers.rejected and not answers.remarks


def test_giving_a_file_twice_and_in_another_order_changes_nothing(tmp_path: Path) -> None:
    simulation = made()
    for name, form in (("b.csv", "long"), ("a.csv", "wide"), ("c.zip", "qti30")):
        write_results(simulation, tmp_path / name, form)
    alone = read(tmp_path / "b.csv")
    again = read(tmp_path / "b.csv", tmp_path / "b.csv")
    assert told(again, digest=True) == told(alone, digest=True)
    (tmp_path / "copy.csv").write_bytes((tmp_path / "b.csv").read_bytes())
    copied = read(tmp_path / "copy.csv", tmp_path / "b.csv")
    assert told(copied, digest=True) == told(alone, digest=True)
    assert any("stand more than once and count once" in remark for remark in copied.remarks)


def test_responses_are_numbered_in_the_order_of_their_spelling(tmp_path: Path) -> None:
    write_results(made(), tmp_path / "r.csv", "long")
    for form in read(tmp_path / "r.csv").forms:
        for place, responses in enumerate(form.form.responses):
            assert list(responses) == sorted(responses)
            assert set(range(len(responses))) == set(form.codes[:, place][form.codes[:, place] >= 0].tolist())


def table(tmp_path: Path, text: str, name: str = "t.csv", encoding: str = "utf-8") -> Path:
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return path


def long_rows(rows: list[str], header: str = "pupil,quiz,item,response") -> str:
    return "\n".join([header, *rows]) + "\n"


def test_gaps_to_the_end_are_not_reached_but_for_the_first(tmp_path: Path) -> None:
    key = keys()
    rows = []
    for pupil, given in (("P1", 3), ("P2", 6), ("P3", 0)):
        rows += [f"{pupil},{QUIZ},{item},{key[place] if place < given and place != 1 else ''}"
                 for place, item in enumerate(items())]
    codes = read(table(tmp_path, long_rows(rows))).forms[0].codes
    assert (codes[0] >= 0).tolist() == [True, False, True, False, False, False]
    assert codes[0][1] == OMITTED and codes[0][3:].tolist() == [OMITTED, NOT_REACHED, NOT_REACHED]
    assert codes[1][1] == OMITTED and (codes[1] == NOT_REACHED).sum() == 0
    assert codes[2].tolist() == [OMITTED] + [NOT_REACHED] * 5


def test_items_without_a_row_are_not_given_unless_they_are_said_to_be_gaps(tmp_path: Path) -> None:
    key = keys()
    path = table(tmp_path, long_rows([f"P1,{QUIZ},{items()[0]},{key[0]}", f"P1,{QUIZ},{items()[2]},{key[2]}"]))
    answers = read(path)
    assert answers.forms[0].codes[0].tolist() == [0, NOT_GIVEN, 0, NOT_GIVEN, NOT_GIVEN, NOT_GIVEN]
    assert any("4 answers have no row" in remark for remark in answers.remarks)
    assert read(path, absent="blank").forms[0].codes[0].tolist() == [0, OMITTED, 0, OMITTED, NOT_REACHED, NOT_REACHED]


def test_the_first_attempt_counts_unless_another_is_asked_for(tmp_path: Path) -> None:
    first, second = items()[:2]
    rows = [f"P1,{QUIZ},{first},B,2", f"P1,{QUIZ},{first},A,1", f"P1,{QUIZ},{second},C,2", f"P2,{QUIZ},{first},D,1"]
    path = table(tmp_path, long_rows(rows, "pupil,quiz,item,response,attempt"))

    def given(attempts: str) -> list[list[str]]:
        form = read(path, attempts=attempts).forms[0]
        return [[form.form.responses[place][code] if code >= 0 else "" for place, code in enumerate(row[:2])]
                for row in form.codes.tolist()]

    assert given("first") == [["A", ""], ["D", ""]]
    assert given("last") == [["B", "C"], ["D", ""]]
    assert given("all") == [["A", ""], ["B", "C"], ["D", ""]]
    assert any("1 further attempts do not count" in remark for remark in read(path).remarks)


def test_dates_tell_tries_apart_where_no_attempt_is_numbered(tmp_path: Path) -> None:
    first = items()[0]
    rows = [f"P1,{QUIZ},{first},B,2027-02-02 10:00", f"P1,{QUIZ},{first},A,2027-02-01 10:00"]
    path = table(tmp_path, long_rows(rows, "pupil,quiz,item,response,date"))
    assert read(path).forms[0].form.responses[0] == ("A",)
    assert read(path, attempts="last").forms[0].form.responses[0] == ("B",)


def test_a_score_that_contradicts_the_key_is_told_and_the_key_decides(tmp_path: Path) -> None:
    first, key = items()[0], keys()[0]
    wrong = "A" if key != "A" else "B"
    rows = [f"P1,{QUIZ},{first},{key},1", f"P2,{QUIZ},{first},{key},0", f"P3,{QUIZ},{first},{wrong},0"]
    answers = read(table(tmp_path, long_rows(rows, "pupil,quiz,item,response,score")))
    assert answers.rows == 3 and not answers.rejected
    assert any(first in remark and "1 score contradicts the key" in remark and "row 3" in remark
               for remark in answers.remarks)


@pytest.mark.parametrize(("text", "encoding"), [
    ("pupil;quiz;item;response;score\nP1;{quiz};{item};{key};1,0\n", "utf-8-sig"),
    ("pupil\tquiz\titem\tresponse\tscore\r\nP1\t{quiz}\t{item}\t{key}\t1\r\n", "utf-16"),
    ("pupil,quiz,item,response,score\rP1,{quiz},{item},{key},1\r", "utf-8"),
    ("\n\npupil,quiz,item,response,score\nP1,{quiz},{item},\"{key}\",\"1,0\"\n", "utf-16-le"),
    ("Student ID,Test,Question,Answer,Points\nP1,{quiz},{item},{key},100%\n", "utf-8"),
    ("Student ID,Test,Question,Answer,Points\nP1,{quiz},1,{key},1\n", "utf-16-be"),
])
def test_tables_of_many_habits_are_read(text: str, encoding: str, tmp_path: Path) -> None:
    path = table(tmp_path, text.format(quiz=QUIZ, item=items()[0], key=keys()[0]), encoding=encoding)
    answers = read(path)
    assert answers.rows == 1 and answers.forms[0].form.credits[0] == (1000,) and not answers.rejected
    assert not any("contradict" in remark for remark in answers.remarks)


def test_a_wide_table_may_number_the_items_where_the_quiz_is_named(tmp_path: Path) -> None:
    path = table(tmp_path, "pupil,Q1,Q2,Q3,Q4,Q5,Q6\nP1," + ",".join(keys()) + "\n")
    answers = read(path, quiz=QUIZ)
    assert answers.forms[0].codes.tolist() == [[0] * 6] and set(answers.forms[0].form.credits) == {(1000,)}


def test_the_quiz_is_known_by_its_items_where_no_column_names_it(tmp_path: Path) -> None:
    lines: list[str] = []
    path = table(tmp_path, "pupil," + ",".join(items()) + "\nP1," + ",".join(keys()) + "\n")
    assert read(path, tell=lines.append).forms[0].form.quiz == QUIZ
    assert any(f"quiz (by its items): {QUIZ}" in line for line in lines)


def test_columns_are_shown_remembered_and_overruled(tmp_path: Path) -> None:
    copy = tmp_path / "bank.sqlite"
    copy.write_bytes(bank_path().read_bytes())
    before = copy.read_bytes()
    path = table(tmp_path, f"Kennung,item,response,B\nP1,{items()[0]},A,C\n")
    with Bank.open(copy) as bank:
        lines: list[str] = []
        mapping = {"pupil": "Kennung", "response": "B"}
        told_so = read_results(bank, [path], salt=SALT, mapping=mapping, tell=lines.append)
        assert told_so.forms[0].form.responses[0] == ("C",) and any("as told" in line for line in lines)
        lines.clear()
        again = read_results(bank, [path], salt=SALT, tell=lines.append)
        assert again.forms[0].form.responses[0] == ("C",) and any("remembered" in line for line in lines)
        overruled = read_results(bank, [path], salt=SALT, mapping={"response": "response"})
        assert overruled.forms[0].form.responses[0] == ("A",)
    kept = (tmp_path / FILE_NAME).read_text(encoding="utf-8")
    assert '"pupil": 0' in kept and "Kennung" not in kept and "P1" not in kept and copy.read_bytes() == before


def test_pupils_are_known_by_digests_that_need_the_salt(tmp_path: Path) -> None:
    path = table(tmp_path, long_rows([f"P-17,{QUIZ},{items()[0]},A"]))
    (pupil,) = read(path).pupils
    with Bank.open(bank_path()) as bank:
        (other,) = read_results(bank, [path], salt=Salt(key=b"another"), remember=False).pupils
    assert pupil == SALT.digest(" P-17 ") and "17" != pupil and other != pupil and len(pupil) == 16
