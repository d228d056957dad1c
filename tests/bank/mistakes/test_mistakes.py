"""One runner over the case files, the rules that every record keeps, and properties of every procedure.

A case file names its mistake, its source and, where the evidence catalogue has it, the catalogue's id; it lists
operands on which the mistake shows, with wrong and right answer, and operands on which it hides.
"""

from __future__ import annotations

import re
from fractions import Fraction
from math import prod
from pathlib import Path
from typing import Any

import pytest
import yaml
from count_tables import FIGURES, read_rows
from hypothesis import given, settings
from hypothesis import strategies as st

from bank import mistakes
from bank.mistakes import Mistake, comparison
from bank.numerals import Numeral, round_fraction

CASES = Path(__file__).parent / "cases"
OPERATIONS = ("add", "subtract", "multiply", "divide", "compare", "round")
RECORDS = mistakes.load().values()


def _read(path: Path) -> Any:
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


FILES = {path.stem: _read(path) for path in sorted(CASES.glob("*.yaml"))}


def _options(case: dict[str, Any], operation: str) -> dict[str, Any]:
    if operation == "compare":
        return {"want": case.get("want", "largest")}
    if operation in ("round", "divide"):
        return {"places": int(case["places"]) if "places" in case else None}
    return {}


def _key(operation: str, operands: list[Numeral], options: dict[str, Any]) -> Fraction:
    """Return the right answer by exact fractions: the second route beside the written methods."""
    values = [operand.value for operand in operands]
    if operation == "add":
        return sum(values, Fraction(0))
    if operation == "subtract":
        return values[0] - values[1]
    if operation == "multiply":
        return prod(values, start=Fraction(1))
    if operation == "compare":
        return max(values) if options["want"] == "largest" else min(values)
    value = values[0] / values[1] if operation == "divide" else values[0]
    places = options["places"]
    return value if places is None else round_fraction(value, places).value


def _shown() -> list[Any]:
    return [
        pytest.param(name, case, id=f"{name}.yaml-{number}")
        for name, file in FILES.items()
        for number, case in enumerate(file["shows"], start=1)
    ]


def _hidden() -> list[Any]:
    return [
        pytest.param(name, case, id=f"{name}.yaml-{number}")
        for name, file in FILES.items()
        for number, case in enumerate(file["hides"], start=1)
    ]


@pytest.mark.parametrize(("name", "case"), [shown for shown in _shown() if "operands" in shown.values[1]])
def test_a_mistake_gives_the_wrong_answer_of_its_case(name: str, case: dict[str, Any]) -> None:
    record = mistakes.load()[name]
    operands = [Numeral.parse(text) for text in case["operands"]]
    options = _options(case, record.operation)
    answer = record.procedure(*operands, **options)
    if case["wrong"] == "equal":
        assert answer is None
    else:
        assert answer is not None and str(answer) == case["wrong"]
    if case.get("right", "equal") != "equal":
        assert Fraction(case["right"]) == _key(record.operation, operands, options)
        if not case.get("equal_in_value"):
            assert answer is None or answer.value != Fraction(case["right"])


@pytest.mark.parametrize(("name", "case"), [shown for shown in _shown() if "order" in shown.values[1]])
def test_a_comparison_mistake_orders_as_its_case_says(name: str, case: dict[str, Any]) -> None:
    numerals = [Numeral.parse(text) for text in case["order"]]
    assert [str(numeral) for numeral in comparison.in_order(name, numerals)] == case["wrong"]
    assert [str(numeral) for numeral in sorted(numerals)] == case["right"]


@pytest.mark.parametrize(("name", "case"), [shown for shown in _shown() if "value_of" in shown.values[1]])
def test_a_comparison_mistake_reads_the_value_of_its_case(name: str, case: dict[str, Any]) -> None:
    readings = {
        "compare.digits-squeezed-in-first-column": comparison.squeezed_value,
        "compare.columns-mirrored": comparison.mirrored_decimals,
    }
    assert str(readings[name](Numeral.parse(case["value_of"]))) == case["wrong"]


def test_judging_two_numerals_says_larger_smaller_or_equal() -> None:
    short, long = Numeral.parse("0.5"), Numeral.parse("0.25")
    assert comparison.judged("compare.part-as-whole-number", long, short) == 1
    assert comparison.judged("compare.fewer-places-wins", long, short) == -1
    assert comparison.judged("compare.only-two-places-count", Numeral.parse("4.4502"), Numeral.parse("4.45")) == 0


def test_a_tie_at_the_top_picks_none() -> None:
    record = mistakes.load()["compare.fewer-places-wins"]
    tied, lower = [Numeral.parse("0.7"), Numeral.parse("0.7")], Numeral.parse("0.45")
    assert record.procedure(*tied, lower, want="largest") is None
    assert record.procedure(*tied, lower, want="smallest") is lower


@pytest.mark.parametrize(("name", "case"), _hidden())
def test_a_mistake_hides_where_its_case_says_so(name: str, case: dict[str, Any]) -> None:
    record = mistakes.load()[name]
    operands = [Numeral.parse(text) for text in case["operands"]]
    options = _options(case, record.operation)
    answer = record.procedure(*operands, **options)
    assert answer is None or answer.value == _key(record.operation, operands, options)


def test_every_mistake_has_a_case_file_and_every_case_file_a_mistake() -> None:
    assert sorted(FILES) == list(mistakes.load())


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.identifier)
def test_a_case_file_shows_and_hides_its_mistake_and_names_its_source(record: Mistake) -> None:
    file = FILES[record.identifier]
    assert set(file) <= {"mistake", "catalogue", "source", "shows", "hides"}
    assert file["mistake"] == record.identifier
    assert file["source"] == record.source
    assert file["shows"] and file["hides"]
    assert all(case["example"] in ("published", "recalled", "our own") for case in file["shows"])


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: record.identifier)
def test_a_record_says_what_why_and_from_where(record: Mistake) -> None:
    assert re.fullmatch(r"[a-z]+\.[a-z]+(-[a-z]+)*", record.identifier)
    assert record.operation in OPERATIONS
    assert record.name and record.topic and record.learner_does.endswith(".")
    assert record.source and record.evidence in mistakes.EVIDENCE
    for words in [one.words for one in record.remedies]:
        assert not re.search(r"[0-9]", words), "feedback speaks of places, not of an item's numbers"
        assert words.endswith((".", "?")) and len(re.findall(r"[.?](?: |$)", words)) <= 2
    assert len({one.words for one in record.remedies}) == len(record.remedies)
    assert record.procedure.__doc__


def test_evidence_and_source_agree() -> None:
    for record in RECORDS:
        start = {"common practice": "common practice, no source", "memory": "from memory"}.get(record.evidence, "")
        assert record.source.startswith(start), record.identifier
        assert record.evidence != "published" or "no source" not in record.source, record.identifier


def test_no_two_mistakes_share_a_name() -> None:
    names = [record.name for record in RECORDS]
    assert len(names) == len(set(names))


def test_every_operation_finds_its_mistakes_in_order() -> None:
    found = [record.identifier for operation in sorted(OPERATIONS) for record in mistakes.of_operation(operation)]
    assert found == [record.identifier for record in RECORDS]


def test_every_example_of_the_catalogue_is_a_case() -> None:
    catalogue: dict[str, list[dict[str, str]]] = {}
    for row in read_rows(FIGURES / "mistake_examples.csv"):
        catalogue.setdefault(row["mistake"], []).append(row)
    cases: dict[str, list[dict[str, Any]]] = {}
    for file in FILES.values():
        if "catalogue" in file:
            cases.setdefault(file["catalogue"], []).extend(file["shows"])
    assert set(cases) <= set(catalogue)
    missing = []
    for identifier, shown in cases.items():
        for example in catalogue[identifier]:
            numbers = re.findall(r"[0-9]+(?:\.[0-9]+)?", example["operands"])
            wrong = example["wrong"].replace("=", "equal")
            if not any(
                numbers in (case.get("operands"), case.get("order"), [case.get("value_of")])
                and wrong == (", ".join(case["wrong"]) if isinstance(case["wrong"], list) else case["wrong"])
                for case in shown
            ):
                missing.append((identifier, example["operands"]))
    assert not missing


BUILT_TOPICS = {
    "decimal addition",
    "decimal subtraction",
    "subtraction with regrouping",
    "decimal multiplication",
    "short multiplication",
    "long multiplication",
    "decimal division",
    "long division",
    "decimal rounding",
    "powers of ten",
}


def test_every_entry_of_the_catalogue_that_belongs_here_is_built() -> None:
    wanted = {"add.carry_to_the_right", "divide.subtracted_instead", "choose.divide_because_smaller_expected"}
    for row in read_rows(FIGURES / "mistake_examples.csv"):
        if row["topic"] in BUILT_TOPICS or row["mistake"].startswith("compare."):
            wanted.add(row["mistake"])
    assert {file["catalogue"] for file in FILES.values() if "catalogue" in file} == wanted


numerals = st.builds(Numeral, st.integers(0, 99_999_999), st.integers(0, 5))
hostile = st.builds(Numeral, st.integers(0, 10**60), st.integers(0, 60))


def _same(left: Numeral | None, right: Numeral | None) -> bool:
    return left is right is None or (left is not None and right is not None and left.same_writing(right))


@pytest.mark.parametrize("operation", OPERATIONS)
@settings(max_examples=60, deadline=None)
@given(data=st.data())
def test_procedures_never_raise_and_are_pure(operation: str, data: st.DataObject) -> None:
    shortest, longest = {"add": (2, 5), "compare": (2, 5), "round": (1, 1)}.get(operation, (2, 2))
    operands = data.draw(st.lists(numerals | hostile, min_size=shortest, max_size=longest))
    options: dict[str, Any] = {}
    if operation == "compare":
        options["want"] = data.draw(st.sampled_from(["largest", "smallest"]))
    elif operation == "round":
        options["places"] = data.draw(st.integers(0, 6))
    elif operation == "divide":
        options["places"] = data.draw(st.none() | st.integers(0, 6))
    before = [(operand.coefficient, operand.places) for operand in operands]
    for record in mistakes.of_operation(operation):
        answer = record.procedure(*operands, **options)
        assert answer is None or isinstance(answer, Numeral), record.identifier
        assert _same(answer, record.procedure(*operands, **options)), record.identifier
    assert [(operand.coefficient, operand.places) for operand in operands] == before


@settings(max_examples=60)
@given(st.lists(st.integers(1, 99_999), min_size=2, max_size=2), st.integers(0, 3))
def test_outcomes_hold_only_answers_that_differ_from_the_key(coefficients: list[int], places: int) -> None:
    operands = [Numeral(coefficient, places) for coefficient in coefficients]
    key = operands[0] + operands[1]
    shown = mistakes.outcomes(mistakes.of_operation("add"), operands, key)
    assert all(answer != key for _, answer in shown)
    assert mistakes.outcomes(mistakes.of_operation("add"), [-operand for operand in operands], -key) == []
