"""The next lesson: the mistakes that matter, examples that show them, quizzes of items that nobody has met."""

from __future__ import annotations

import zipfile
from dataclasses import replace
from pathlib import Path

import kept_kinds
import pytest
from audit_pages import Page
from bank import cli
from bank.answers import read_answer
from bank.audit.class_mistakes import ClassMistake, explain_answers
from bank.decisions import Decision
from bank.audit.explained import explainer
from bank.audit.offers import key_words
from bank.audit.lesson import QUIZ_ITEMS, Lesson, mattering, plan_lesson, write_lesson_bank
from bank.audit.records import Answers
from bank.audit.simulation import simulate
from bank.model import Choice, TypedNumber
from bank.store import Bank

QUIZZES = ("week-06-diagnosis", "week-06-differences", "week-05-sums")


def planned(built: Path, held: dict[tuple[str, int], Decision] | None = None, most: int = 3) -> tuple[Lesson, Answers]:
    with Bank.open(built) as bank:
        answers = simulate(bank, pupils=60, seed=5, quizzes=QUIZZES).answers
        used = {item for form in answers.forms for item in form.form.items}
        explainers = {item.identifier: explainer(item, bank.info.locale) for item in bank.items(sorted(used))}
        explained = explain_answers(answers, explainers)
        lesson = plan_lesson(bank, explained, used, held or {}, pupils=60, quizzes=QUIZZES, simulated=True, most=most)
        return lesson, answers


def row(**change: object) -> ClassMistake:
    plain = ClassMistake("add.x", "", 100, 10, 10, 0.05, 0.2, 30, 10.0, 0.5, 8, 25, 0, 0.0, 0.1)
    return plain._replace(**change)


def test_a_mistake_matters_that_comes_back_in_two_pupils_or_shows_far_beyond_guessing() -> None:
    assert mattering([row()]) == []
    assert mattering([row(pupils=1)]) == []
    assert mattering([row(pupils=2)]) and mattering([row(beyond_guessing=1e-5)])
    assert mattering([row(beyond_guessing=1e-5, shown=2)]) == []
    assert mattering([row(beyond_guessing=0.002)]) == []


def test_mistakes_of_most_pupils_come_first_and_groups_stay_apart() -> None:
    found = [row(pupils=2, mistake="b"), row(pupils=5, mistake="a"), row(pupils=9, mistake="c", group="north")]
    assert [one.mistake for one in mattering(found)] == ["a", "b"]
    assert [one.mistake for one in mattering(found, "north")] == ["c"]


def test_items_of_the_quizzes_are_fresh_and_each_shows_its_mistake(built: Path) -> None:
    lesson, answers = planned(built)
    met = {item for form in answers.forms for item in form.form.items}
    seen: list[str] = []
    assert len(lesson.parts) == 3
    for part in lesson.parts:
        assert 0 < len(part.fresh) <= QUIZ_ITEMS
        for one in part.fresh:
            assert one.item.identifier not in met
            known = explainer(one.item, lesson.info.locale)
            if isinstance(one.item.response, Choice):
                number = lesson.info.locale.number
                given = {number(option.numeral): option.identifier for option in one.item.response.options}
                assert part.mistake.identifier in known.explain(given[one.wrong])
            elif isinstance(one.item.response, TypedNumber):
                assert part.mistake.identifier in known.explain(one.wrong)
            seen.append(one.item.identifier)
    assert len(seen) == len(set(seen)), "an item serves one mistake only"


def test_the_example_is_an_item_they_answered_and_its_answer_is_wrong(built: Path) -> None:
    lesson, answers = planned(built)
    met = {item for form in answers.forms for item in form.form.items}
    for part in lesson.parts:
        assert part.example is not None and part.example.item.identifier in met
        assert read_answer(part.example.wrong, lesson.info.locale) != part.example.item.key
        assert part.example.item.solution.result == part.example.item.key


def test_examples_differ_from_one_another_and_keys_are_told_in_words(built: Path) -> None:
    lesson, _ = planned(built, most=6)
    shown = [part.example.item.identifier for part in lesson.parts if part.example]
    assert len(shown) == len(set(shown))
    for one in kept_kinds.ITEMS:
        words = key_words(one, lesson.info.locale)
        assert words.strip()
    assert key_words(kept_kinds.LINE, lesson.info.locale) == "="
    assert key_words(kept_kinds.ORDER, lesson.info.locale) == "0.305; 0.45; 0.62; 0.8"


def test_graded_and_diagnosis_quizzes_are_never_plundered(built: Path) -> None:
    lesson, _ = planned(built, most=8)
    with Bank.open(built) as bank:
        kept = {item for quiz in bank.quizzes if quiz.use != "practice" for item in quiz.items}
    assert not kept & {one.item.identifier for part in lesson.parts for one in part.fresh}


def test_items_in_no_quiz_go_first_and_borrowed_ones_are_named(built: Path) -> None:
    lesson, _ = planned(built)
    with Bank.open(built) as bank:
        planned_items = {item for quiz in bank.quizzes for item in quiz.items}
    for part in lesson.parts:
        for one in part.fresh:
            assert bool(one.quiz) is (one.item.identifier in planned_items)
            assert not one.quiz or one.quiz in part.borrowed


def test_suspended_and_retired_items_are_not_offered(built: Path) -> None:
    first, _ = planned(built)
    out = first.parts[0].fresh[0].item
    held = {(out.identifier, 1): Decision("2027-02-08T09:30Z", "O. Maren", out.identifier, 1, "suspend", "unclear")}
    second, _ = planned(built, held)
    assert out.identifier not in {one.item.identifier for part in second.parts for one in part.fresh}
    kept, _ = planned(built, {key: one._replace(decision="keep") for key, one in held.items()})
    assert kept == first


def test_the_quizzes_are_a_bank_that_is_read_and_exported(built: Path, tmp_path: Path) -> None:
    lesson, _ = planned(built)
    path = tmp_path / "lesson.sqlite"
    write_lesson_bank(lesson, path)
    with Bank.open(path) as bank:
        assert list(bank.quizzes) == [part.quiz for part in lesson.parts if part.quiz]
        assert {item.identifier for item in bank.items()} == {item for quiz in bank.quizzes for item in quiz.items}
        names = [part.mistake.name.lower() for part in lesson.parts]
        assert not any(name in quiz.title.lower() for quiz in bank.quizzes for name in names), "pupils see titles"
    assert cli.main(["export", str(path), "--as", "qti30", "-o", str(tmp_path), "--jobs", "1"]) == 0
    for part in lesson.parts:
        assert part.quiz is not None
        assert zipfile.is_zipfile(tmp_path / "qti30" / f"{part.quiz.identifier}.zip")


def test_one_command_leads_from_results_to_page_and_quizzes(built: Path, tmp_path: Path) -> None:
    results, salt, out = tmp_path / "r.csv", tmp_path / "salt", tmp_path / "out"
    quizzes = [word for quiz in QUIZZES for word in ("--quiz", quiz)]
    words = ["--groups", "north", "south", "-o", str(results)]
    assert cli.main(["sample", str(built), "--pupils", "60", "--seed", "5", *quizzes, *words]) == 0
    base = ["lesson", str(built), "--results", str(results), "--salt", str(salt), "-o", str(out)]
    assert cli.main(base) == 0
    page = Page((out / "lesson.html").read_text(encoding="utf-8"))
    assert not page.open and not page.unclosed
    assert "Simulated results" in page.says and "A name describes answers, not a child" in page.says
    assert "these answers fit the mistake" in page.says and "What to look at" in page.says
    assert (out / "lesson.sqlite").is_file()
    assert cli.main([*base, "--group", "north"]) == 0
    assert "30 pupils of north" in Page((out / "lesson.html").read_text(encoding="utf-8")).says


@pytest.mark.parametrize("words", [
    ("--group", "nord"), ("--most", "0"), ("--least", "0"), ("--least", "31", "--group", "north"),
])
def test_a_lesson_that_cannot_be_made_is_refused(built: Path, tmp_path: Path, words: tuple[str, ...]) -> None:
    results, salt = tmp_path / "r.csv", tmp_path / "salt"
    assert cli.main(["sample", str(built), "--pupils", "60", "--seed", "5", "--quiz", QUIZZES[0], "--groups", "north",
                     "south", "-o", str(results)]) == 0
    base = ["lesson", str(built), "--results", str(results), "--salt", str(salt), "-o", str(tmp_path / "out")]
    assert cli.main([*base, *words]) == 2
    assert not (tmp_path / "out").exists()


def test_without_results_there_is_no_lesson(built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["lesson", str(built), "-o", str(tmp_path / "out")]) == 2
    assert "--results" in capsys.readouterr().err


def test_everyone_right_is_a_lesson_without_parts(built: Path) -> None:
    with Bank.open(built) as bank:
        answers = simulate(bank, pupils=12, seed=5, quizzes=QUIZZES[:1]).answers
        form = answers.forms[0]
        right = replace(form, codes=form.codes * 0)
        explainers = {item.identifier: explainer(item, bank.info.locale) for item in bank.items(list(form.form.items))}
        explained = explain_answers(replace(answers, forms=(right,)), explainers)
        lesson = plan_lesson(bank, explained, set(form.form.items), {}, pupils=12, quizzes=QUIZZES[:1])
    assert lesson.parts == ()
