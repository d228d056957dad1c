"""Checks of quizzes know every kind of response."""

from __future__ import annotations

import kind_items
import sampler
from bank import checks
from bank.checks.forms import mistakes_met_often_enough
from bank.model import Quiz, Section

ITEMS = {item.identifier: item for item in (*kind_items.ITEMS, *sampler.ITEMS)}
DIAGNOSIS = Quiz(
    identifier="d", title="D", week=1, use="diagnosis", sections=(Section(title="All", items=tuple(ITEMS)),)
)


def test_every_check_of_quizzes_takes_every_kind_of_item() -> None:
    assert isinstance(checks.run_quiz_checks(DIAGNOSIS, ITEMS), list)


def test_a_diagnosis_counts_the_mistakes_that_further_kinds_tell_of() -> None:
    only = {item.identifier: item for item in kind_items.ITEMS}
    quiz = Quiz(identifier="d", title="D", week=1, use="diagnosis", sections=(Section(title="A", items=tuple(only)),))
    counted = dict(wrong.split(" is among the answers ") for wrong, _, _ in mistakes_met_often_enough(quiz, only))
    assert counted["add.subtracted-instead"] == "2 times" and counted["compare.wrong-end"] == "2 times"
    assert "add.carry-forgotten" not in counted and "compare.more-digits-wins" not in counted
