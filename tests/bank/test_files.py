"""Files are written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import pytest

from bank.errors import BadInput
from bank.files import changes, forget_changes, replacing
from bank.run import Run


def test_a_new_file_takes_the_place_of_the_old_one(tmp_path: Path) -> None:
    target = tmp_path / "deep" / "page.html"
    with replacing(target) as part:
        part.write_text("one")
    with replacing(target) as part:
        part.write_text("two")
        assert target.read_text() == "one"
    assert target.read_text() == "two"
    assert [path.name for path in target.parent.iterdir()] == ["page.html"]


def test_a_failure_leaves_the_old_file_and_no_rest(tmp_path: Path) -> None:
    target = tmp_path / "page.html"
    target.write_text("old")
    with pytest.raises(KeyError), replacing(target) as part:
        part.write_text("half")
        raise KeyError("midway")
    assert target.read_text() == "old"
    assert [path.name for path in tmp_path.iterdir()] == ["page.html"]


def test_what_an_older_version_left_half_written_goes_with_the_next_run(tmp_path: Path) -> None:
    target = tmp_path / "page.html"
    (tmp_path / ".page.html.part").write_text("left over")
    with Run(tmp_path, "build"), replacing(target) as part:
        part.write_text("new")
    assert target.read_text() == "new"
    assert len(list(tmp_path.iterdir())) == 1


def test_what_was_changed_is_known(tmp_path: Path) -> None:
    forget_changes()
    with pytest.raises(KeyError), replacing(tmp_path / "page.html") as part:
        part.write_text("half")
        raise KeyError("midway")
    assert changes() == ()
    for _ in range(2):
        with replacing(tmp_path / "page.html") as part:
            part.write_text("whole")
    assert changes() == (tmp_path / "page.html",)


def test_a_folder_that_cannot_be_made_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(BadInput) as caught, replacing(tmp_path / "file" / "page.html") as part:
        part.write_text("x")
    assert [problem.code for problem in caught.value.problems] == ["cannot-write"]
