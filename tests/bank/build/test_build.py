"""Building a bank: the same from the same, nothing twice, honest counts, clear words where a plan asks too much."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import time
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

import bank.build
from bank import draw
from bank.build import _drawing, build
from bank.errors import BadInput
from bank.model import Choice, Item, Trace, TypedNumber
from bank.numerals import Numeral
from bank.plans import load_plan
from bank.store import Bank
from bank.summary import BuildSummary

SUM = """
template: {name}
version: 1
title: A sum
topic: decimal-addition
parameters:
  a: {{from: {low}, to: {high}, step: 0.1}}
  b: {{from: 1.12, to: 9.89, step: 0.01}}
constraints:
  - last_digit(a) != 0
  - last_digit(b) != 0
operation: add
operands: [a, b]
key: {key}
stem: {stem}
response: {response}
"""
PLAN = """
plan: trial
title: A trial
seed: 11
locale: en-point
invented: true
templates: templates
weeks:
  - week: 1
    quizzes:
      - quiz: first
        title: First
        draw:
          - {{items: {items}, topic: decimal-addition}}
"""


class Desk:
    """A folder with a plan and templates, as a curriculum writer has it."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "templates").mkdir(parents=True)

    def template(self, name: str, **parts: str) -> None:
        values = {"low": "2.3", "high": "38.7", "key": "a + b", "stem": "Work out {{ work }}.", "response": "choice"}
        (self.folder / "templates" / f"{name}.yaml").write_text(SUM.format(name=name, **(values | parts)))

    def plan(self, items: int = 20, more: str = "") -> Path:
        path = self.folder / "plan.yaml"
        path.write_text(PLAN.format(items=items) + more)
        return path

    def build(self, out: str = "out", items: int = 20, more: str = "", **options: int) -> BuildSummary:
        return build(load_plan(self.plan(items, more)), self.folder / out, **options)

    def items(self, out: str = "out") -> list[Item]:
        with Bank.open(self.folder / out / "bank.sqlite") as bank:
            return list(bank.items())


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def _bytes(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir()}


def test_the_same_files_give_the_same_bytes_with_any_number_of_processes(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(draw, "SHARD", 15)
    desk.template("one")
    desk.template("two", low="40.1", high="90.1", response="number")
    desk.build("alone", items=80, jobs=1)
    desk.build("together", items=80, jobs=3)
    assert _bytes(desk.folder / "alone") == _bytes(desk.folder / "together")
    assert set(_bytes(desk.folder / "alone")) == {"bank.sqlite", "review.html"}


def test_another_seed_draws_other_numbers_and_equal_numbers_keep_their_id(desk: Desk) -> None:
    desk.template("one", low="2.3", high="6.3")
    desk.build("plan", items=60)
    desk.build("other", items=60, seed=12)
    first = {item.parameters: item.identifier for item in desk.items("plan")}
    second = {item.parameters: item.identifier for item in desk.items("other")}
    assert first.keys() != second.keys()
    assert all(first[values] == second[values] for values in first.keys() & second.keys())


def test_editing_one_template_leaves_the_items_of_another_alone(desk: Desk) -> None:
    desk.template("one")
    desk.template("two", low="40.1", high="90.1")
    desk.build("before", items=40)
    desk.template("two", low="40.1", high="95.1", stem="Find {{ work }}.")
    desk.build("after", items=40)

    def of_one(out: str) -> list[Item]:
        return [item for item in desk.items(out) if item.family.template == "one"]

    assert sorted(of_one("before"), key=lambda item: item.identifier) == sorted(
        of_one("after"), key=lambda item: item.identifier
    )
    assert len(of_one("before")) == 20


def test_no_question_stands_twice_even_where_templates_overlap(desk: Desk) -> None:
    for name in ("one", "two", "three"):
        desk.template(name, low="2.3", high="2.7")
    desk.build(items=400)
    asked = [(tuple(sorted(item.operands)), item.family.operation) for item in desk.items()]
    assert len(asked) == len(set(asked)) == 400


def test_every_item_has_its_key_from_two_ways_and_options_from_mistakes(desk: Desk) -> None:
    desk.template("one")
    desk.template("two", response="number", stem="How much is {{ work }}?")
    desk.build(items=60)
    kinds = set()
    for item in desk.items():
        assert item.key.value == item.solution.result.value == sum((o.value for o in item.operands), Fraction(0))
        kinds.add(type(item.response))
        if isinstance(item.response, Choice):
            values = [option.numeral for option in item.response.options]
            assert values == sorted(values)
            assert len(set(values)) == 4
            assert [option.is_key for option in item.response.options].count(True) == 1
            assert all(option.is_key or option.mistakes for option in item.response.options)
        else:
            assert len(item.response.mistakes) >= 2
    assert kinds == {Choice, TypedNumber}


def test_a_small_space_is_counted_exactly(desk: Desk) -> None:
    (desk.folder / "templates" / "few.yaml").write_text(
        SUM.format(name="few", low="2.3", high="3.2", key="a + b", stem="Work out {{ work }}.", response="choice")
        .replace("from: 1.12, to: 9.89", "from: 1.12, to: 1.41")
    )
    summary = desk.build(items=5)
    (found,) = summary.families
    assert (found.possible, found.admissible_error, found.tried) == (10 * 30, 0, 300)
    # Nine of ten values of a and 27 of 30 of b do not end in zero; every such sum shows at least three mistakes.
    assert found.admissible == 9 * 27
    assert sum(count for reason, count in found.refused if reason.startswith("last_digit")) == 300 - 9 * 27
    assert found.kept == 5


def test_a_large_space_is_estimated_with_an_error_that_covers_the_truth(desk: Desk) -> None:
    desk.template("one", low="2.1", high="9.0")
    (found,) = desk.build(items=10).families
    truth = 63 * 790
    assert found.possible == 70 * 878
    assert found.admissible_error > 0
    assert abs(found.admissible - truth) <= 2 * found.admissible_error


def test_a_plan_that_asks_too_much_is_told_both_numbers_and_the_tightest_constraint(desk: Desk) -> None:
    desk.template("one", low="2.3", high="2.4")
    path = desk.folder / "templates" / "one.yaml"
    path.write_text(path.read_text().replace("- last_digit(a) != 0", "- a + b > 12.1"))
    with pytest.raises(BadInput) as caught:
        desk.build(items=900)
    (problem,) = caught.value.problems
    assert problem.code == "plan-too-much"
    assert problem.place.line == 14
    assert "900 items" in problem.wrong
    assert "of 1756" in problem.wrong
    assert "a + b > 12.1" in problem.wrong
    assert not (desk.folder / "out").exists()


def test_a_plan_whose_items_a_check_refuses_is_told_the_rule_of_the_check(desk: Desk) -> None:
    desk.template("one")
    path = desk.folder / "templates" / "one.yaml"
    path.write_text(re.sub("stem: .*", "stem: '{{ work }} is how much'", path.read_text()))
    with pytest.raises(BadInput) as caught:
        desk.build(items=3)
    wrong, remedy = caught.value.problems[0].wrong, caught.value.problems[0].remedy
    assert "and ends as a sentence or with the calculation): " in wrong
    assert re.search(r"such as a = [0-9.]+, b = [0-9.]+: the last line breaks off; end it with", wrong)
    assert "has about 0 " in wrong and "mend what that rule names" in remedy


def test_a_mistake_asked_for_stands_among_the_options(desk: Desk) -> None:
    desk.template("one")
    more = "          - {items: 12, mistake: add.carry-forgotten}\n"
    summary = desk.build(items=1, more=more)
    showing = [
        item for item in desk.items()
        if isinstance(item.response, Choice)
        and any("add.carry-forgotten" in option.mistakes for option in item.response.options)
    ]
    assert len(showing) >= 12
    assert dict(summary.mistake_use)["add.carry-forgotten"] == len(showing)


def test_a_band_asked_for_is_the_band_of_the_items(desk: Desk) -> None:
    desk.template("one")
    band = desk.build("probe", items=1) and desk.items("probe")[0].prediction.band
    more = f"          - {{items: 8, band: {band}}}\n"
    desk.build(items=1, more=more)
    assert [item.prediction.band for item in desk.items()].count(band) >= 8


def test_a_written_method_that_differs_from_the_key_stops_the_build_and_names_the_item(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.template("one")
    right = draw.methods.run

    def wrong_on_some(operation: str, operands: tuple[Numeral, ...], **options: Any) -> Trace:
        trace = right(operation, operands, **options)
        return trace._replace(result=trace.result + Numeral(1, 2)) if trace.result.coefficient % 5 == 0 else trace

    monkeypatch.setattr(draw.methods, "run", wrong_on_some)
    with pytest.raises(BadInput) as caught:
        desk.build()
    (problem,) = caught.value.problems
    assert problem.code == "key-differs"
    assert problem.wrong.startswith("one with a = ")
    assert not (desk.folder / "out").exists()


def test_a_template_may_limit_its_items(desk: Desk) -> None:
    desk.template("one")
    desk.template("two", low="40.1", high="90.1")
    path = desk.folder / "templates" / "two.yaml"
    path.write_text(path.read_text() + "draws: 3\n")
    kept = {found.template: found.kept for found in desk.build(items=30).families}
    assert kept == {"one": 27, "two": 3}


def test_what_a_narrow_template_lacks_is_asked_of_the_others_at_once(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    desk.template("wide")
    (desk.folder / "templates" / "few.yaml").write_text(
        SUM.format(name="few", low="40.3", high="40.9", key="a + b", stem="Work out {{ work }}.", response="choice")
        .replace("from: 1.12, to: 9.89", "from: 1.12, to: 1.19")
    )
    drawn = []
    draw = _drawing._draw
    monkeypatch.setattr(_drawing, "_draw", lambda task: drawn.append(task.template.identifier) or draw(task))
    kept = {found.template: found.kept for found in desk.build(items=200).families}
    assert kept["few"] + kept["wide"] == 200
    assert 0 < kept["few"] <= 7 * 8  # of the 7 and 8 values, those that end in zero are refused
    assert drawn.count("few") == 1
    assert drawn.count("wide") <= 2  # once more where checks refuse some of the few


def test_keys_never_stand_four_times_running_at_one_place(desk: Desk) -> None:
    desk.template("one")
    desk.build(items=60)
    places = [
        next(place for place, option in enumerate(item.response.options) if option.is_key)
        for item in desk.items() if isinstance(item.response, Choice)
    ]
    runs = [places[start : start + 4] for start in range(len(places) - 3)]
    assert all(len(set(run)) > 1 for run in runs)


def test_a_folder_that_is_a_file_or_cannot_be_written_is_named(desk: Desk) -> None:
    desk.template("one")
    (desk.folder / "out").write_text("")
    with pytest.raises(BadInput) as caught:
        desk.build()
    assert caught.value.problems[0].code == "folder-is-a-file"


@pytest.mark.skipif(not hasattr(os, "geteuid") or not Path("/dev/full").exists(), reason="needs a device that is full")
def test_a_full_disk_leaves_the_old_bank(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    desk.template("one")
    desk.build(items=5)
    before = _bytes(desk.folder / "out")
    import errno

    from bank.build import _spool

    def full(self: object, data: bytes) -> tuple[int, int]:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(_spool.Spool, "put", full)
    with pytest.raises(BadInput) as caught:
        desk.build(items=8)
    assert caught.value.problems[0].code == "cannot-write"
    assert _bytes(desk.folder / "out") == before


def test_a_build_that_is_killed_leaves_the_old_bank_and_the_next_cleans_up(desk: Desk) -> None:
    desk.template("one")
    desk.build(items=5)
    before = _bytes(desk.folder / "out")
    command = [sys.executable, "-m", "bank.cli", "build", str(desk.plan(4000)), "-o", str(desk.folder / "out")]
    running = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True)
    time.sleep(1.0)
    assert running.poll() is None, "the build ended before it could be killed"
    os.killpg(running.pid, signal.SIGKILL)
    running.wait()
    after = _bytes(desk.folder / "out")
    assert {name: after[name] for name in before} == before
    desk.build(items=5)
    assert _bytes(desk.folder / "out") == before


def test_building_twice_into_one_folder_replaces_the_bank(desk: Desk) -> None:
    desk.template("one")
    desk.build(items=5)
    desk.build(items=7)
    assert len(desk.items()) == 7
