"""Published worked examples, carried out by the written methods."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
import yaml
from count_tables import FIGURES, read_rows

from bank.methods import EndlessQuotient, run
from bank.numerals import Numeral, round_fraction

DOCUMENT = yaml.safe_load((Path(__file__).parent / "cases" / "worked_examples.yaml").read_text(encoding="utf-8"))
CASES: list[dict[str, Any]] = DOCUMENT["cases"]
ENDLESS = [case for case in CASES if "(" in case["answer"] and "<" not in case["answer"]]
ENDING = [case for case in CASES if case not in ENDLESS]


def _name(case: dict[str, Any]) -> str:
    return str(case["expression"])


def _order(numbers: list[Numeral]) -> list[Numeral]:
    left, found = list(numbers), []
    while len(left) > 1:
        smallest = run("compare", left, layout="smallest").result
        found.append(smallest)
        left.remove(smallest)
    return found + left


def _sign(first: Numeral, second: Numeral) -> str:
    largest = run("compare", [first, second], layout="largest").result
    smallest = run("compare", [first, second], layout="smallest").result
    if largest is smallest:
        return "="
    return ">" if largest is first else "<"


def _carry_out(work: list[list[Any]]) -> Any:
    results: list[Any] = []
    for operation, *rest in work:
        options = rest.pop() if isinstance(rest[-1], dict) else {}
        numbers = [results[int(word[1:]) - 1] if word[0] == "#" else Numeral.parse(word) for word in rest]
        if operation == "compare":
            results.append(_sign(*numbers))
        elif operation == "order":
            results.append(_order(numbers))
        else:
            results.append(run(operation, numbers, **options).result)
    return results[-1]


def _published(answer: str) -> Any:
    if answer in "<>=":
        return answer
    if "<" in answer:
        return [Fraction(word.strip("()")) for word in answer.split(" < ")]
    return Numeral.parse(answer.rstrip("%"))


@pytest.mark.parametrize("case", ENDING, ids=_name)
def test_the_written_method_gives_the_published_answer(case: dict[str, Any]) -> None:
    found = _carry_out(case["work"])
    if isinstance(found, list):
        found = [number.value for number in found]
    assert found == _published(case["answer"])


@pytest.mark.parametrize("case", ENDLESS, ids=_name)
def test_a_published_repeating_quotient_is_refused_and_can_be_rounded(case: dict[str, Any]) -> None:
    (operation, *operands), = case["work"]
    numbers = [Numeral.parse(word) for word in operands]
    with pytest.raises(EndlessQuotient):
        run(operation, numbers)
    once, _, repeated = case["answer"].rstrip(")").partition("(")
    start = Numeral.parse(once)
    repeating = Fraction(int(repeated), 10**start.places * (10 ** len(repeated) - 1))
    for places in (1, 4, 7):
        rounded = run(operation, numbers, places=places).result
        assert rounded.same_writing(round_fraction(start.value + repeating, places))


def test_every_example_names_its_source_and_stands_once() -> None:
    assert {case["source"] for case in CASES} <= set(DOCUMENT["sources"])
    names = [case["expression"] for case in CASES]
    assert len(set(names)) == len(names) > 100


def test_the_examples_stand_in_the_collection_as_published() -> None:
    published = {(row["expression"], row["answer"]) for row in read_rows(FIGURES / "worked_examples.csv")}
    assert {(case["expression"], case["answer"]) for case in CASES} <= published
