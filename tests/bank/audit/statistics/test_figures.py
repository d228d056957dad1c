"""The figures that travel with the tests are those of the published answers."""

from __future__ import annotations

from pathlib import Path

import pytest
from count_tables import COUNTED, FIGURES, counted, counts_file, reference_answers, reference_counts, written_counts


def test_counts_are_those_of_the_answers(accept: bool) -> None:
    for name, group, keep in COUNTED:
        answers, names = reference_answers(name, group, keep)
        text = written_counts(counted(answers, names))
        if accept:
            counts_file(name, group, keep).write_text(text, encoding="utf-8")
        assert counts_file(name, group, keep).read_text("utf-8") == text


@pytest.mark.parametrize(("name", "group", "keep"), COUNTED)
def test_counts_are_read_as_they_were_written(name: str, group: str, keep: tuple[str, str] | None) -> None:
    counts, groups = reference_counts(name, group, keep)
    assert written_counts(counts) == counts_file(name, group, keep).read_text("utf-8")
    assert groups == counts.groups and (len(groups) == 1) == (not group)
    each = [int(counts.n[counts.item == item].sum()) for item in range(len(counts.form.items))]
    assert each == [counts.persons] * len(each), "every pupil has an answer, or an omission, to every item"


def test_every_set_names_its_source() -> None:
    told = Path(FIGURES / "README.md").read_text("utf-8")
    assert [folder.name for folder in FIGURES.iterdir() if folder.is_dir() and f"\n| {folder.name} | " not in told] == []
