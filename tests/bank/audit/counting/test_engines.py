"""Whichever engine counts, the tables are the same to the last digit, and those of counting one answer at a time."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Protocol

import pytest
from hypothesis import given, settings
from results_tables import KEYS, Line, counted_plainly, named_cells, tables, write_long, write_wide
from servers import postgresql_url
from sweeps import examples
from wanted import LIBRARIES, needs

from bank.audit.counting import engines, statement
from bank.audit.counting.engines import count_with
from bank.audit.counting.files import count_csv
from bank.audit.counting.keys import QuizKey
from bank.audit.counting.outcome import Counted

pytestmark = pytest.mark.long

class Count(Protocol):
    """An engine that counts files."""

    def __call__(self, paths: Sequence[Path], attempts: str, keys: Sequence[QuizKey] = KEYS) -> Counted: ...


@pytest.fixture(scope="session", params=["in-process", "duckdb", "sqlite", "postgresql"])
def engine(request: pytest.FixtureRequest) -> Iterator[Count]:
    with ExitStack() as stack:
        if request.param == "in-process":
            yield lambda paths, attempts, keys=KEYS: count_csv(paths, keys, attempts=attempts)
            return
        if request.param == "duckdb":
            pytest.importorskip("duckdb", reason=needs(LIBRARIES))
        url = stack.enter_context(postgresql_url()) if request.param == "postgresql" else f"{request.param}:"
        yield lambda paths, attempts, keys=KEYS: count_with(url, keys, paths, attempts=attempts)


def _examine(counted: Counted, lines: Sequence[Line], attempts: str) -> None:
    cells, persons, rejected = counted_plainly(lines, attempts)
    assert named_cells(counted.counts) == cells
    assert {table.form.quiz: table.persons for table in counted.counts} == dict(persons)
    assert counted.rejected_rows == rejected


@given(lines=tables())
@settings(max_examples=examples(8, 25), deadline=None)
def test_every_engine_counts_long_tables_as_counting_by_hand_does(engine: Count, lines: list[Line]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        write_long(path, lines)
        for attempts in ("first", "last"):
            _examine(engine([path], attempts), lines, attempts)


@given(lines=tables(clean=True))
@settings(max_examples=examples(8, 25), deadline=None)
def test_every_engine_counts_clean_long_tables(engine: Count, lines: list[Line]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        write_long(path, lines, ";")
        _examine(engine([path], "first"), lines, "first")


@given(lines=tables(clean=True))
@settings(max_examples=examples(8, 25), deadline=None)
def test_every_engine_counts_wide_tables(engine: Count, lines: list[Line]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "wide.csv"
        wide = write_wide(path, lines)
        for attempts in ("first", "last"):
            _examine(engine([path], attempts), wide, attempts)


@given(lines=tables())
@settings(max_examples=examples(8, 15), deadline=None)
def test_every_number_of_the_tables_is_the_same_and_has_the_same_type(engine: Count, lines: list[Line]) -> None:
    with TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        write_long(path, lines)
        ours, theirs = count_csv([path], KEYS), engine([path], "first")
    assert (ours.answers, ours.doubled, ours.contradicted) == (theirs.answers, theirs.doubled, theirs.contradicted)
    for one, other in zip(ours.counts, theirs.counts, strict=True):
        assert (one.form, one.groups, one.persons) == (other.form, other.groups, other.persons)
        for column in ("group", "item", "response", "total", "n"):
            mine, given_column = getattr(one, column), getattr(other, column)
            assert mine.dtype == given_column.dtype and mine.tolist() == given_column.tolist()


def test_several_files_are_one_table(engine: Count, tmp_path: Path) -> None:
    lines = [Line("p1", "", "quiz-0", "", item, "", "A") for item in KEYS[0].items]
    write_long(tmp_path / "one.csv", lines[:2], ";")
    write_long(tmp_path / "two.csv", lines[1:])
    counted = engine([tmp_path / "one.csv", tmp_path / "two.csv"], "first")
    _examine(counted, lines, "first")
    assert (counted.answers, counted.doubled, counted.contradicted) == (4, 1, 0)


def test_more_items_than_a_sum_of_powers_holds_are_counted(engine: Count, tmp_path: Path) -> None:
    wide = tmp_path / "wide.csv"
    names = [f"step-{number}" for number in range(95)]
    wide.write_text("pupil," + ",".join(names) + "\n" + "".join([
        f"p{pupil}," + ",".join(["AB"[(pupil * place) % 3 % 2] for place in range(95)]) + "\n" for pupil in range(7)
    ]))
    key = QuizKey(quiz="long", items=tuple(names), versions=(1,) * 95, score=lambda item, text: (text, 1000))
    counted = engine([wide], "first", [key])
    assert [table.persons for table in counted.counts] == [7]
    assert counted.answers == 7 * 95 and counted.doubled == 0
    assert sum(counted.counts[0].n.tolist()) == 7 * 95


def test_a_key_with_very_many_responses_goes_into_a_temporary_table(
    engine: Count, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "long.csv"
    lines = [Line(f"p{number}", "", "quiz-0", "", item, "", f"it's {number % 50}")
             for number in range(120) for item in KEYS[0].items]
    write_long(path, [*lines, *lines[:3]])
    monkeypatch.setattr(engines, "MOST_WRITTEN", 20)
    monkeypatch.setattr(statement, "_INSERTED", 7)
    _examine(engine([path], "first"), lines, "first")


def test_thousands_of_pupils_with_blanks_are_counted_alike(engine: Count, tmp_path: Path) -> None:
    path = tmp_path / "long.csv"
    lines = [
        Line(f"p{pupil}", f"class-{pupil % 7}", "quiz-0", "", item, "2",
             "" if (pupil * 7 + place * pupil) % 5 == 0 else "ABC"[(pupil + place * pupil) % 3])
        for pupil in range(4_000) for place, item in enumerate(KEYS[0].items) if (pupil + place) % 11
    ]
    write_long(path, lines)
    _examine(engine([path], "first"), lines, "first")
