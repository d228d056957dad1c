"""Cases written by hand: what each method counts, what it refuses, and how it looks on the board."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml
from layout_text import trace_text

from bank import methods
from bank.model import Trace
from bank.numerals import MAX_DIGITS, Numeral

HERE = Path(__file__).parent


def _cases(name: str) -> list[dict[str, Any]]:
    return list(yaml.safe_load((HERE / "cases" / name).read_text(encoding="utf-8")))


def _name(case: dict[str, Any]) -> str:
    return " ".join([str(word) for word in case["work"]])


def _carry_out(work: list[Any]) -> Trace:
    operation, *rest = work
    options = rest.pop() if isinstance(rest[-1], dict) else {}
    return methods.run(operation, [Numeral.parse(word) for word in rest], **options)


@pytest.mark.parametrize("case", _cases("facts.yaml"), ids=_name)
def test_the_method_counts_what_makes_the_work_harder(case: dict[str, Any]) -> None:
    found = dict(_carry_out(case["work"]).facts)
    assert {name: found[name] for name in case["facts"]} == case["facts"]


@pytest.mark.parametrize("case", _cases("refused.yaml"), ids=_name)
def test_work_that_cannot_be_done_is_refused_by_name(case: dict[str, Any]) -> None:
    with pytest.raises(methods.CannotCarryOut) as caught:
        _carry_out(case["work"])
    assert type(caught.value).__name__ == case["refusal"]
    assert isinstance(caught.value, ValueError)
    assert str(caught.value)


def test_an_overlong_operand_is_refused() -> None:
    for operand in (Numeral(10**MAX_DIGITS), Numeral(1, MAX_DIGITS + 1)):
        with pytest.raises(methods.TooLong):
            methods.run("add", (operand, Numeral(1)))


@pytest.mark.parametrize("operation", ["add", "subtract", "multiply", "divide", "compare"])
def test_the_facts_of_one_operation_have_the_same_names_whatever_the_numbers(operation: str) -> None:
    pairs = [("8.4", "2.1"), ("80", "10"), ("0.36", "0.01"), ("12", "5"), ("0", "4")]
    names = set()
    for pair in pairs:
        operands = sorted([Numeral.parse(word) for word in pair], reverse=operation == "subtract")
        if operation == "divide":
            operands = [Numeral.parse(word) for word in pair]
        names.add(tuple(name for name, _ in methods.run(operation, operands).facts))
    assert len(names) == 1


def test_the_first_layout_is_the_default() -> None:
    operands = (Numeral.parse("7.3"), Numeral.parse("2.8"))
    for operation, layouts in methods.LAYOUTS.items():
        assert methods.run(operation, operands) == methods.run(operation, operands, layout=layouts[0])


@pytest.mark.parametrize("case", _cases("board.yaml"), ids=lambda case: str(case["file"]))
def test_the_working_looks_as_on_the_board(case: dict[str, Any], accept: bool) -> None:
    text = f"{case['shows']}\n{_name(case)}\n\n{trace_text(_carry_out(case['work']))}"
    path = HERE / "golden" / f"{case['file']}.txt"
    if accept:
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text


def test_every_golden_file_belongs_to_a_case() -> None:
    assert {path.stem for path in (HERE / "golden").glob("*.txt")} == {case["file"] for case in _cases("board.yaml")}
