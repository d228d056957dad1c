"""Draws that are not due wait, but not for ever: a template whose draws are all alike still gives its items."""

from __future__ import annotations

from pathlib import Path

from bank import difficulty
from bank.draw import Demand
from bank.further import WAITING, FurtherDrawer, drawer_of
from bank.locales import load_locale
from bank.model import ChooseInLine
from bank.store import unpack
from bank.templates import Template, load_template

ALWAYS_LESS = """template: lengths
version: 1
title: Lengths of twine
topic: decimal-comparison
parameters:
  a: {whole: [1001, 99999]}
  b: {derive: a / 1000}
  c: {derive: b + 0.11}
operation: compare
operands: [b, c]
stem: Which sign belongs in the gap of {{ work }}?
response: choose-in-line
"""


def _drawer(template: Template, items: int) -> FurtherDrawer:
    made = drawer_of(template)(template, load_locale("en-point"), difficulty.load_weights(), 1, items, 0, 1)
    assert isinstance(made, FurtherDrawer)
    return made


def test_signs_that_never_come_are_not_waited_for_without_end(tmp_path: Path) -> None:
    path = tmp_path / "made.yaml"
    path.write_text(ALWAYS_LESS, encoding="utf-8")
    template = load_template(path)
    batch = _drawer(template, 12).more((Demand(0, 12),))
    assert len(batch.kept) == 12 and batch.tried <= 2 * WAITING * (12 + WAITING)
    for kept in batch.kept:
        response = unpack(kept.identifier, template.family, kept.content).response
        assert isinstance(response, ChooseInLine) and response.options[0].is_key
