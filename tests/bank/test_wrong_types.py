"""Any value of a template, plan, topic or locale in the place of any other gives problems with places, never a fault."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from sweeps import sweep

import bank
from bank import sources
from bank.commands._checking import check_files
from bank.plans import load_plan
from bank.errors import BadInput

CONTENT = Path(bank.__file__).parent / "content"
FILES = sorted(CONTENT.glob("templates/*/*.yaml"))
PLANS = sorted(CONTENT.glob("plans/*.yaml"))
OTHERS = [*sorted(CONTENT.glob("topics/*.yaml"))[:2], *sorted(CONTENT.glob("locales/*.yaml"))[:2]]
ODD: tuple[Any, ...] = (
    12.345, -3, 0, 10**60, -0.5, True, None, "", "x", "a + b", "1e5", "con", [], {}, [1], {"x": 1}, [[]], [None], {"x": {}},
    "\u00e9", "0x10", ["a", "b"], {"value": {"low": 1}}, "{{ work }}", "{{", "a" * 300, {"places": 12.345},
    {"number": {"policy": 3}}, {"from": -1, "to": 10**30, "step": 0}, {"from": 1, "to": 0, "step": 0.1},
)
PER_FILE = 12
"""Changes tried a file; all are tried over the runs that look for new examples."""


def _spots(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, inner in items:
        yield from _spots(inner, (*path, key))


def _with(value: Any, path: tuple[Any, ...], new: Any) -> Any:
    if not path:
        return new
    copy = dict(value) if isinstance(value, dict) else list(value)
    copy[path[0]] = _with(value[path[0]], path[1:], new)
    return copy


def _changed(path: Path, seed: int) -> Iterator[tuple[str, str]]:
    whole = yaml.safe_load(path.read_text(encoding="utf-8"))
    spots = list(_spots(whole))
    luck = random.Random(f"{path.name} {seed}")
    for place in range(PER_FILE):
        spot, odd = spots[(place * 7 + seed) % len(spots)], luck.choice(ODD)
        yield f"{spot}: {odd!r}"[:200], json.dumps(_with(whole, spot, odd))


@pytest.mark.parametrize("path", sweep([*OTHERS, *FILES], 4), ids=lambda path: path.stem)
def test_a_value_of_a_wrong_kind_gives_problems_and_no_fault(path: Path, tmp_path: Path) -> None:
    for says, text in _changed(path, 1):
        file = tmp_path / "odd.yaml"
        file.write_text(text, encoding="utf-8")
        try:
            problems = check_files([file], makes_items=False).problems
        except Exception as error:
            raise AssertionError(f"{says} raises {type(error).__name__}: {error}") from error
        assert all(one.code and one.wrong for one in problems), says


@pytest.mark.long
@pytest.mark.parametrize("path", PLANS, ids=lambda path: path.stem)
def test_a_value_of_a_wrong_kind_in_a_plan_gives_problems_and_no_fault(path: Path, tmp_path: Path) -> None:
    for says, text in list(_changed(path, 2))[:3]:
        file = tmp_path / "odd.yaml"
        file.write_text(text, encoding="utf-8")
        try:
            load_plan(file)
        except BadInput as error:
            assert all(one.code and one.wrong for one in error.problems), says
        except Exception as error:
            raise AssertionError(f"{says} raises {type(error).__name__}: {error}") from error


KINDS = ("choose-several", "put-in-order", "match-pairs", "choose-in-line", "find-mistake", "number")


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("odd", sweep(["x", 3, None, [1], {"x": 1}], 3))
def test_a_kind_of_response_with_other_settings_gives_problems(kind: str, odd: Any, tmp_path: Path) -> None:
    for name in ("wrong-step-in-a-sum", "order-heights", "worth-the-same"):
        (path,) = [one for one in FILES if one.stem == name]
        file = tmp_path / "odd.yaml"
        whole = yaml.safe_load(path.read_text(encoding="utf-8")) | {"response": {kind: odd}}
        file.write_text(json.dumps(whole), encoding="utf-8")
        assert check_files([file], makes_items=False).problems


ROUNDED = """template: odd
version: 1
title: Rounded
topic: decimal-division
parameters:
  a: {from: 1.1, to: 9.9, step: 0.1}
  b: {from: 2, to: 9, step: 1}
operation: divide
operands: [a, b]
key: a / b
stem: |
  Work out {{ work }}. Round to two places.
response: number
"""


@pytest.mark.parametrize("more", [
    "places: 12.345\nrounding: {places: 2, asked: Round to two places}\n",
    "places: 2\nrounding: {places: 12.345, asked: Round to two places}\n",
    "places: x\nrounding: {places: y}\n", "places: []\nrounding: {places: 2, asked: Round to two places}\n",
    "places: 99999999999999999999\nrounding: {places: 2, asked: 7}\n", "places: -1\nrounding: 3\n",
])
def test_places_beside_rounding_are_judged_only_where_both_could_be_read(more: str, tmp_path: Path) -> None:
    file = tmp_path / "odd.yaml"
    file.write_text(ROUNDED + more, encoding="utf-8")
    problems = check_files([file], makes_items=False).problems
    assert problems and any(one.field.startswith(("places", "rounding")) for one in problems)
    assert sources.read_file(file).name
