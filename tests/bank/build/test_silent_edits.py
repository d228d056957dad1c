"""Edits of a template under its version: refused where a pupil could notice, until they are said to be a correction."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from bank import cli
from bank.audit.kept import kept_path
from bank.build import build
from bank.errors import BadInput
from bank.plans import load_plan
from bank.store import Bank
from sweeps import sweep

TEMPLATE = """
template: ropes
version: 1
title: Two ropes
topic: decimal-addition
codes: [US-CCSSM 5.NBT.B.7]
parameters:
  a: {from: 2.3, to: 9.7, step: 0.1}
  b: {from: 1.12, to: 4.89, step: 0.01}
constraints: [last_digit(a) != 0, last_digit(b) != 0]
operation: add
operands: [a, b]
key: a + b
places: 3
unit: m
stem: Two ropes of {{ a|unit }} and {{ b|unit }} are tied end to end. How long are they together?
response: {choice: {distractors: 3}}
feedback: {wrong: Look at the points., right: That is right.}
show_solution: true
context: true
note: first thoughts
"""
PLAN = """
plan: trial
title: A trial
seed: 11
locale: en-point
templates: templates
weeks:
  - week: 1
    quizzes:
      - quiz: first
        title: First
        draw:
          - {items: 6, template: ropes}
"""
SEEN = {
    "the stem": ("are tied end to end", "are knotted end to end"),
    "the title": ("Two ropes\n", "Ropes\n"),
    "the unit": ("unit: m\n", "unit: cm\n"),
    "the hint": ("Look at the points.", "Line up the points."),
    "the praise": ("That is right.", "Yes."),
    "the kind of response": ("{choice: {distractors: 3}}", "number"),
    "the number of options": ("distractors: 3", "distractors: 4"),
    "the policy of a typed answer": ("{choice: {distractors: 3}}", "{number: {policy: unit}}"),
    "the places": ("places: 3\n", "places: 2\n"),
    "the key": ("key: a + b", "key: b + a"),
    "whether the solution is shown": ("show_solution: true", "show_solution: false"),
    "the order of the operands": ("operands: [a, b]", "operands: [b, a]"),
}
DIVISION = (("operation: add", "operation: divide"), ("key: a + b", "key: a / b"),
            ("places: 3", "rounding: {places: 2, asked: two places}"),
            ("How long are they together?", "How often does one go into the other, to two places?"))
DIFFERENCE = (("operation: add", "operation: subtract"), ("key: a + b", "key: a - b"), ("last_digit(b) != 0]", "a > b]"))
UNSEEN = {
    "the note": ("first thoughts", "second thoughts"), "the codes": ("[US-CCSSM 5.NBT.B.7]", "[US-CCSSM 6.NS.B.3]"),
    "a range": ("to: 9.7", "to: 8.7"), "a constraint": ("last_digit(a) != 0, ", ""),
    "a comment": ("template: ropes", "# ours\ntemplate: ropes"), "the most draws": ("context: true", "context: true\ndraws: 50"),
    "the order of the keys": ("unit: m\n", ""), "how it is written": ("[a, b]", "[ 'a',  b ]"),
}


class Desk:
    """A folder with a plan and one template, built once."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.term = folder, folder / "term"
        (folder / "templates").mkdir(parents=True)
        (folder / "plan.yaml").write_text(PLAN)

    def write(self, *changes: tuple[str, str], more: str = "") -> None:
        text = TEMPLATE
        for old, new in changes:
            assert text.count(old) == 1, old
            text = text.replace(old, new)
        (self.folder / "templates" / "ropes.yaml").write_text(text + more)

    def build(self, correction: str = "") -> None:
        build(load_plan(self.folder / "plan.yaml"), self.term, correction=correction)

    def files(self) -> dict[str, bytes]:
        return {path.name: path.read_bytes() for path in self.term.iterdir()}


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    return Desk(tmp_path)


def refused(desk: Desk, correction: str = "") -> str:
    """Build, which must be refused and leave all as it was; return the message."""
    before = desk.files()
    with pytest.raises(BadInput) as caught:
        desk.build(correction)
    (problem,) = caught.value.problems
    assert problem.code == "edited-under-its-version" and problem.place.file.endswith("ropes.yaml")
    assert desk.files() == before
    return str(problem)


@pytest.mark.parametrize("name", sweep([*SEEN, "the rounding", "the layout"], 3))
def test_an_edit_that_a_pupil_could_notice_is_refused_under_its_version(desk: Desk, name: str) -> None:
    before, edit = (), SEEN.get(name, ("", ""))
    if name == "the rounding":
        before, edit = DIVISION, ("rounding: {places: 2", "rounding: {places: 1")
    if name == "the layout":
        before, edit = DIFFERENCE, ("operation: subtract", "operation: subtract\nlayout: equal-additions")
    desk.write(*before)
    desk.build()
    desk.write(*before, edit)
    with Bank.open(desk.term / "bank.sqlite") as bank:
        named = ", ".join(bank.identifiers()[:5])
    said = refused(desk)
    assert f"6 items of the bank there ({named} and 1 more)" in said and "not known" in said and "version: 2" in said
    desk.write(*before, edit, ("version: 1\n", "version: 2\n"))
    desk.build()


@pytest.mark.parametrize("name", UNSEEN)
def test_an_edit_that_no_pupil_could_notice_goes_on(desk: Desk, name: str) -> None:
    desk.write()
    desk.build()
    desk.write(UNSEEN[name], more="unit: m\n" if name == "the order of the keys" else "")
    desk.build()
    with Bank.open(desk.term / "bank.sqlite") as bank:
        assert bank.info.corrections == ()


def test_a_correction_says_why_and_is_told_from_then_on(desk: Desk) -> None:
    desk.write()
    desk.build()
    desk.write(SEEN["the hint"])
    refused(desk, "  ")
    plan = str(desk.folder / "plan.yaml")
    assert cli.main(["build", plan, "-o", str(desk.term), "--jobs", "1", "--correction", "the hint misled"]) == 0
    for _ in range(2):
        with Bank.open(desk.term / "bank.sqlite") as bank:
            (told,) = bank.info.corrections
            assert (told.template, told.version, told.reason) == ("ropes", 1, "the hint misled")
        assert "the hint misled" in (desk.term / "review.html").read_text(encoding="utf-8")
        desk.build()
    desk.write()
    refused(desk)


def test_the_message_says_how_many_of_the_items_pupils_have_met(desk: Desk, tmp_path: Path) -> None:
    desk.write()
    desk.build()
    bank, results = desk.term / "bank.sqlite", tmp_path / "results.csv"
    assert cli.main(["sample", str(bank), "--pupils", "30", "--seed", "1", "-o", str(results)]) == 0
    salt = ["--salt", str(tmp_path / "salt")]
    assert cli.main(["audit", str(bank), "--results", str(results), "--keep", *salt, "-o", str(tmp_path / "audit")]) == 0
    desk.write(SEEN["the stem"])
    assert "pupils have met 6 of them" in refused(desk)
    with closing(sqlite3.connect(kept_path(bank))) as store:
        store.execute("DELETE FROM answers WHERE item = (SELECT min(item) FROM answers)")
        store.commit()
    assert "pupils have met 5 of them" in refused(desk)
