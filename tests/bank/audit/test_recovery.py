"""What was put into simulated pupils is found again: mistakes with few false alarms, and the weights of difficulty."""

from __future__ import annotations

from pathlib import Path

import pytest
import recovery_figures as figures
from bank.store import Bank


@pytest.fixture(scope="module")
def bank(demo_bank: Path) -> Bank:
    return Bank.open(demo_bank)


def test_stable_mistakes_are_found_in_five_quizzes_and_false_alarms_are_rare(bank: Bank) -> None:
    known = figures.explainers_of(bank)
    found = figures.mistakes_found(bank, known, 100, 1, figures.WEEKS)
    assert found.stable_found > 0.45 * found.stable > 0
    assert found.false_alarms < 0.006 * found.none
    assert found.unstable_found < 0.3 * found.unstable
    assert found.class_found > 0.6 * found.class_held > 0


def test_a_class_without_mistakes_is_not_told_that_it_has_any(bank: Bank) -> None:
    from bank.audit.class_mistakes import explain_answers
    from bank.audit.lesson import mattering
    from bank.audit.simulation import Settings, simulate

    plain = Settings(held_from=1e-9, held_to=1e-9)
    made = simulate(bank, pupils=25, seed=2, quizzes=figures.WEEKS, settings=plain)
    explained = explain_answers(made.answers, figures.explainers_of(bank))
    assert sum(row.recurs for row in explained.pupils) <= 0.004 * 25 * len(explained.classes)
    assert len(mattering(explained.classes)) <= 0.05 * len(explained.classes)


def test_weights_come_nearer_to_the_truth_and_their_intervals_hold_it(bank: Bank) -> None:
    found = figures.weights_found(bank, 250, 3)
    assert found.error < 0.6 * found.prior_error
    assert found.inside >= 0.85 * found.weights
