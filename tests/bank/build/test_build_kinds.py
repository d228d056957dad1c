"""A bank with every kind of item, from the plan that comes along: alike with any number of processes, and sound."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from bank import checks
from bank.build import build
from bank.build._quizzes import SECTIONS
from bank.plans import load_plan
from bank.store import Bank, pack, unpack
from bank.summary import BuildSummary, from_json, kind_of, terminal_summary
from bank.templates import FOLDER

PLAN = FOLDER.parent / "plans" / "kinds.yaml"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, BuildSummary]:
    folder = tmp_path_factory.mktemp("kinds")
    return folder, build(load_plan(PLAN), folder, jobs=2)


def test_one_quiz_holds_every_kind_in_a_section_of_its_own(made: tuple[Path, BuildSummary]) -> None:
    with Bank.open(made[0] / "bank.sqlite") as bank:
        (quiz,) = bank.quizzes
        kinds = {item.identifier: kind_of(item.response) for item in bank.items(quiz.items)}
        assert set(kinds.values()) == set(dict(made[1].responses))
        for section in quiz.sections:
            assert {SECTIONS[kinds[name]] for name in section.items} == {section.title}
        titles = [section.title for section in quiz.sections]
        assert titles == [title for title in SECTIONS.values() if title in titles]


def test_the_bank_is_the_same_with_one_process(made: tuple[Path, BuildSummary], tmp_path: Path) -> None:
    again = build(load_plan(PLAN), tmp_path, jobs=1)
    assert (tmp_path / "bank.sqlite").read_bytes() == (made[0] / "bank.sqlite").read_bytes()
    assert (tmp_path / "review.html").read_bytes() == (made[0] / "review.html").read_bytes()
    assert again == made[1]


def test_every_item_is_sound_again_when_it_is_read_back(made: tuple[Path, BuildSummary]) -> None:
    with Bank.open(made[0] / "bank.sqlite") as bank:
        for item in bank.items():
            found = checks.run_item_checks(item, bank.info.locale)
            assert not [one for one in found if one.severity == "error"], (item.identifier, found)
            assert unpack(item.identifier, item.family, pack(item)) == item


def test_the_summary_tells_what_guessing_earns_and_nothing_is_over_its_bound(made: tuple[Path, BuildSummary]) -> None:
    assert made[1].guessing and not any(result.over for result in made[1].guessing)
    with Bank.open(made[0] / "bank.sqlite") as bank:
        assert from_json(bank.summary) == made[1]
        told = terminal_summary(made[1], bank)
    assert "guessing, put in order: " in told and "choose several" in told
    page = (made[0] / "review.html").read_text(encoding="utf-8")
    assert "Other kinds of response" in page and "by length down" in page


def test_a_line_that_names_no_kind_draws_the_usual_ones_only(tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text(
        "plan: p\ntitle: P\nseed: 1\nlocale: en-point\npool:\n  - {items: 30, topic: decimal-comparison}\n"
        "  - {items: 3, topic: decimal-comparison, response: put-in-order}\n"
        "  - {items: 3, topic: decimal-comparison, response: choose-in-line, mistake: compare.more-digits-wins}\n"
        "  - {items: 2, template: same-hundredths, mistake: multiply.wrong-direction}\n",
        encoding="utf-8",
    )
    summary = build(load_plan(plan), tmp_path / "out")
    assert dict(summary.responses) == {"choice": 30, "put-in-order": 3, "choose-in-line": 3, "choose-several": 2}
    assert {"compare.more-digits-wins", "multiply.wrong-direction"} <= set(dict(summary.mistake_use))


def test_draws_that_nobody_wanted_at_first_serve_a_line_that_other_templates_leave_short(tmp_path: Path) -> None:
    plan = tmp_path / "plan.yaml"
    plan.write_text(
        "plan: p\ntitle: P\nseed: 1\nlocale: en-point\npool:\n"
        "  - {items: 6, response: choose-several, mistake: multiply.wrong-direction}\n", encoding="utf-8",
    )
    summary = build(load_plan(plan), tmp_path / "out")
    kept = {row.template: row.kept for row in summary.families}
    assert kept["same-hundredths"] == 6 and sum(kept.values()) == 6
    found = next(row for row in summary.families if row.template == "same-hundredths")
    assert (found.tried, found.admissible) == (72, 64), "no draw is counted twice"


def test_a_damaged_bank_of_kinds_is_named_as_such(made: tuple[Path, BuildSummary], tmp_path: Path) -> None:
    path = tmp_path / "bank.sqlite"
    path.write_bytes((made[0] / "bank.sqlite").read_bytes())
    with sqlite3.connect(path) as connection:
        connection.execute("UPDATE items SET content = replace(content, '[', '[[')")
    connection.close()
    with Bank.open(path) as bank, pytest.raises(Exception, match="damaged"):
        list(bank.items())
