"""Thresholds: all there with their sources; a school's own file changes some; faults are named in their places."""

from __future__ import annotations

from pathlib import Path

import pytest

from bank.audit.settings import BASIS_WORDS, FILE, THRESHOLDS, load_settings
from bank.errors import BadInput


def own(tmp_path: Path, text: str) -> Path:
    """Return a file of thresholds with *text* under the head."""
    path = tmp_path / "own.yaml"
    path.write_text("audit: thresholds\nthresholds:\n" + text, encoding="utf-8")
    return path


def test_every_threshold_comes_along_with_basis_and_source() -> None:
    settings = load_settings()
    assert list(settings.thresholds) == list(THRESHOLDS.fields)
    for threshold in settings.thresholds.values():
        assert threshold.basis in BASIS_WORDS and threshold.basis != "local"
        assert len(threshold.source) > 15 and threshold.says
        if threshold.basis == "common":
            assert threshold.source.startswith("Common practice, no source")


def test_own_thresholds_take_the_place_of_those_that_come_along(tmp_path: Path) -> None:
    path = own(tmp_path, "  too_hard_graded: {value: 0.3}\n  smallest_group: {value: 20, source: school rule 7}\n")
    settings, before = load_settings(path), load_settings()
    assert settings["too_hard_graded"] == 0.3 and settings["smallest_group"] == 20
    assert settings.thresholds["smallest_group"].basis == "local"
    assert settings.thresholds["smallest_group"].source == "school rule 7"
    assert settings["too_easy_graded"] == before["too_easy_graded"]


@pytest.mark.parametrize(("text", "code", "field", "line"), [
    ("  too_hard_graded: {value: 2}\n", "out-of-range", "thresholds.too_hard_graded.value", 3),
    ("  too_hard_graded: {value: hard}\n", "bad-number", "thresholds.too_hard_graded.value", 3),
    ("  too_hard_grade: {value: 0.2}\n", "unknown-key", "thresholds.too_hard_grade", 3),
    ("  smallest_group: {value: 2.5}\n", "bad-whole", "thresholds.smallest_group.value", 3),
    ("  misfit_high: {}\n", "missing-key", "thresholds.misfit_high.value", 3),
    ("  drift_logits: {value: 2, basis: hearsay}\n", "unknown-word", "thresholds.drift_logits.basis", 3),
    ("  too_hard_graded: {value: 0.5}\n  too_easy_graded: {value: 0.4}\n", "out-of-order",
     "thresholds.too_easy_graded", 4),
    ("  too_hard_graded: 0.2\n", "wrong-kind", "thresholds.too_hard_graded", 3),
])
def test_faults_are_named_in_their_places(tmp_path: Path, text: str, code: str, field: str, line: int) -> None:
    with pytest.raises(BadInput) as caught:
        load_settings(own(tmp_path, text))
    problem, = caught.value.problems
    assert (problem.code, problem.field, problem.place.line) == (code, field, line)
    assert problem.remedy


def test_missing_file_is_refused_in_words(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match="there is no such file"):
        load_settings(tmp_path / "none.yaml")


def test_the_file_that_comes_along_is_short_enough_to_be_read() -> None:
    assert all(len(line) <= 140 for line in FILE.read_text(encoding="utf-8").splitlines())
