"""Plans: read with what they name, lines matched with templates, settings passed on."""

from __future__ import annotations

from pathlib import Path

import pytest
from bad_input import CASES, found_in

from bank.errors import BadInput
from bank.plans import Plan, load_plan

GOOD = next(case for case in CASES if case.name == "plan: the good document")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with the good plan of the corpus, ``bad.yaml`` by name, and its two templates."""
    found_in(GOOD, tmp_path)
    return tmp_path


def changed(folder: Path, old: str, new: str) -> Plan:
    """Return the plan after a change in its file."""
    assert GOOD.text.count(old) == 1
    (folder / "bad.yaml").write_text(GOOD.text.replace(old, new), encoding="utf-8")
    return load_plan(folder / "bad.yaml")


def test_a_plan_is_read_with_its_templates_topics_and_locale(folder: Path) -> None:
    plan = load_plan(folder / "bad.yaml")
    assert (plan.identifier, plan.seed, plan.invented, plan.locale.identifier) == ("autumn", 7, True, "en-point")
    assert [template.identifier for template in plan.templates] == ["sum-one", "sum-two"]
    assert [quiz.identifier for quiz in plan.quizzes] == ["first-sums", "typed-sums"]
    assert "decimal-addition" in plan.topics


def test_lines_come_in_order_and_know_their_quiz_and_place(folder: Path) -> None:
    lines = load_plan(folder / "bad.yaml").lines
    assert [(line.quiz, line.items) for line in lines] == [("first-sums", 4), ("typed-sums", 3), ("", 5)]
    assert [GOOD.text.split("\n")[line.place.line - 1].strip()[2:7] for line in lines] == ["{item"] * 3


def test_lines_name_the_templates_that_fit(folder: Path) -> None:
    plan = load_plan(folder / "bad.yaml")
    fitting = [[template.identifier for template in line.fitting(plan.templates)] for line in plan.lines]
    assert fitting == [["sum-one"], ["sum-two"], ["sum-one", "sum-two"]]


def test_a_template_that_names_its_mistakes_fits_only_lines_on_them(folder: Path) -> None:
    path = folder / "templates" / "one.yaml"
    path.write_text(path.read_text(encoding="utf-8") + "mistakes: [add.sides-added-separately]\n", encoding="utf-8")
    plan = load_plan(folder / "bad.yaml")
    assert [template.identifier for template in plan.pool[0].fitting(plan.templates)] == ["sum-two"]


def test_feedback_is_shown_unless_graded_or_switched_off(folder: Path) -> None:
    practice, graded = load_plan(folder / "bad.yaml").quizzes
    assert practice.show_feedback and not graded.show_feedback
    assert (graded.use, graded.minutes, graded.calculator) == ("graded", 20, False)
    silent = changed(folder, "title: First sums", "title: First sums\n        feedback: false")
    assert not silent.quizzes[0].show_feedback


def test_the_plans_number_of_wrong_options_reaches_templates_that_name_none(folder: Path) -> None:
    plan = changed(folder, "invented: true", "invented: true\noptions: {distractors: 2}")
    assert [template.distractors for template in plan.templates] == [2, 0]
    assert load_plan(_written(folder)).templates[0].distractors == 3


def _written(folder: Path) -> Path:
    path = folder / "bad.yaml"
    path.write_text(GOOD.text, encoding="utf-8")
    return path


def test_templates_can_be_named_one_by_one(folder: Path) -> None:
    plan = changed(folder, "templates: templates", "templates: [templates/two.yaml, templates/one.yaml, templates]")
    assert [template.identifier for template in plan.templates] == ["sum-one", "sum-two"]


def test_a_plan_without_templates_takes_those_that_come_along(folder: Path) -> None:
    (folder / "bad.yaml").write_text(
        "plan: small\ntitle: Small\nseed: 1\nlocale: en-comma\npool: [{items: 2, topic: decimal-addition}]\n",
        encoding="utf-8",
    )
    plan = load_plan(folder / "bad.yaml")
    assert len(plan.templates) > 10 and plan.locale.decimal_mark == "," and not plan.invented


def test_a_plan_can_bring_topics_of_its_own(folder: Path) -> None:
    (folder / "topics").mkdir()
    (folder / "topics" / "hoses.yaml").write_text(
        "topic: hoses\ntitle: Hoses\ncodes: [OWN 1]\nafter: [decimal-addition]\n", encoding="utf-8"
    )
    path = folder / "templates" / "one.yaml"
    template = path.read_text(encoding="utf-8")
    path.write_text(template.replace("topic: decimal-addition", "topic: hoses"), encoding="utf-8")
    text = GOOD.text.replace("templates: templates\n", "templates: templates\ntopics: topics\n")
    (folder / "bad.yaml").write_text(text.replace("topic: decimal-addition", "topic: hoses"), encoding="utf-8")
    plan = load_plan(folder / "bad.yaml")
    assert plan.templates[0].codes == ("OWN 1",) and plan.topics["hoses"].title == "Hoses"


def test_the_checksum_follows_plan_and_templates(folder: Path) -> None:
    first = load_plan(folder / "bad.yaml").checksum
    assert load_plan(folder / "bad.yaml").checksum == first
    assert changed(folder, "seed: 7", "seed: 8").checksum != first
    path = folder / "templates" / "one.yaml"
    _written(folder)
    path.write_text(path.read_text(encoding="utf-8").replace("Work out", "Find"), encoding="utf-8")
    assert load_plan(folder / "bad.yaml").checksum != first


def test_problems_of_plan_and_templates_come_together(folder: Path) -> None:
    path = folder / "templates" / "one.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("key: a + b", "key: a + c"), encoding="utf-8")
    with pytest.raises(BadInput) as caught:
        changed(folder, "locale: en-point", "locale: en-pont")
    assert sorted(problem.code for problem in caught.value.problems) == ["unknown-locale", "unknown-name"]
