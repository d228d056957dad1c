"""The JSON Schemas for editors are made from the same declarations as the loader, and say the same."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml
from bad_input import CASES, Case
from hypothesis import given, settings
from hypothesis import strategies as st

import schemas
from bank import sources
from bank.audit.settings import SETTINGS
from bank.errors import BadInput, Problem
from bank.fields import Record, document_schema
from bank.locales import LOCALE
from bank.plans import PLAN
from bank.sources import Node, Source
from bank.templates import TEMPLATE
from bank.topics import TOPIC

CONTENT = Path(sources.__file__).parent / "content"
RECORDS: dict[str, tuple[Record, str]] = {
    "template": (TEMPLATE, "Item template"), "plan": (PLAN, "Term plan"), "topic": (TOPIC, "Topic"),
    "locale": (LOCALE, "Locale"), "audit": (SETTINGS, "Thresholds of the audit"),
}
GOOD = sorted(CONTENT.rglob("*.yaml"))
SPELLING = {"bad-number", "bad-whole", "too-many-digits"}
"""Problems of a number's spelling, which JSON has no words for."""


def as_json(node: Node) -> Any:
    """Return what an editor sees of *node*: scalars resolved by the core schema of YAML 1.2."""
    if node.kind == "list":
        return [as_json(item) for item in node.items]
    if node.kind == "mapping":
        return {key.text: as_json(value) for key, value in node.entries}
    if node.is_empty:
        return None
    if node.is_plain and node.text in ("true", "True", "TRUE", "false", "False", "FALSE"):
        return node.text.lower() == "true"
    if node.is_plain and re.fullmatch(r"[-+]?[0-9]+", node.text):
        return int(node.text)
    if node.looks_like_number:
        number = Decimal(node.text)
        return int(number) if number == number.to_integral_value() and abs(number) < 10**80 else float(number)
    return node.text


def kind_of(node: Node) -> str:
    """Return which record describes *node*, empty for none."""
    return next((key.text for key, _ in node.entries if key.text in RECORDS), "")


def structural(record: Record, node: Node) -> list[Problem]:
    """Return the problems that the declaration itself finds."""
    problems: list[Problem] = []
    record.read(node, "", problems)
    return problems


def check_agreement(kind: str, node: Node) -> None:
    """Assert that schema and loader both take *node*, or both refuse it."""
    record, title = RECORDS[kind]
    refused = structural(record, node)
    if refused and {problem.code for problem in refused} <= SPELLING:
        return
    validator = jsonschema.Draft202012Validator(document_schema(record, title))
    errors = [f"{error.json_path}: {error.message}" for error in validator.iter_errors(as_json(node))]
    assert bool(errors) == bool(refused), (errors, refused)


@pytest.mark.parametrize("kind", RECORDS)
def test_committed_schema_is_what_the_declaration_gives(kind: str, accept: bool) -> None:
    path = schemas.path(f"{kind}.schema.json")
    text = json.dumps(document_schema(*RECORDS[kind]), indent=2, ensure_ascii=False) + "\n"
    if accept:
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text


@pytest.mark.parametrize("kind", RECORDS)
def test_schema_is_a_schema_and_says_what_every_field_means(kind: str) -> None:
    schema = document_schema(*RECORDS[kind])
    jsonschema.Draft202012Validator.check_schema(schema)
    assert all(field["description"] for field in schema["properties"].values())


@pytest.mark.parametrize("path", GOOD, ids=lambda path: path.stem)
def test_loader_and_schema_take_the_content_that_comes_along(path: Path) -> None:
    node = sources.parse(sources.read_file(path))
    kind = kind_of(node)
    if kind:
        check_agreement(kind, node)
        assert structural(RECORDS[kind][0], node) == []


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_loader_and_schema_agree_on_bad_input(case: Case) -> None:
    try:
        node = sources.parse(Source(case.name, case.text))
    except BadInput:
        return  # no document at all, so nothing that a schema could be asked about
    kind = kind_of(node)
    if kind:
        check_agreement(kind, node)


SCALARS = st.sampled_from([
    "1", "0", "-3", "0.10", "1.0", "1e5", "010", "true", "no", "~", "''", "' '", "a + b", "choice", "number", "compare",
    "add", "decimal-addition", "Big", "'5'", "x" * 300, "add.carry-forgotten", "'two\n\n  lines'", "3.50", ".5",
])
VALUES = st.one_of(
    SCALARS, st.lists(SCALARS, max_size=3).map(lambda items: f"[{', '.join(items)}]"),
    st.dictionaries(
        st.sampled_from([
            "from", "to", "step", "list", "whole", "derive", "choice", "number", "holds", "because", "places", "asked",
            "text", "before", "wrong", "right", "items", "topic", "week", "quizzes", "quiz", "title", "draw", "other",
        ]), SCALARS, max_size=3,
    ).map(lambda entries: "{" + ", ".join(f"{key}: {value}" for key, value in entries.items()) + "}"),
)


@pytest.mark.long
@settings(max_examples=300)
@given(data=st.data(), kind=st.sampled_from(sorted(RECORDS)))
def test_loader_and_schema_agree_on_anything_put_into_any_field(data: st.DataObject, kind: str) -> None:
    record, _ = RECORDS[kind]
    names = st.sampled_from([*record.fields, "foreign"])
    entries = data.draw(st.dictionaries(names, VALUES, min_size=1))
    text = "".join(f"{name}: {value}\n" for name, value in entries.items())
    try:
        node = sources.parse(Source("made.yaml", text))
    except BadInput:
        return
    check_agreement(kind, node)


def test_yaml_reads_nothing_that_sources_refuse_to_see() -> None:
    # A plain YAML reader and ours give the same keys and the same texts for quoted scalars.
    for path in GOOD:
        node = sources.parse(sources.read_file(path))
        plain = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
        assert _texts(node) == plain


def _texts(node: Node) -> Any:
    if node.kind == "list":
        return [_texts(item) for item in node.items]
    if node.kind == "mapping":
        return {key.text: _texts(value) for key, value in node.entries}
    return node.text
