"""Curriculum codes: each template bears just those whose statement its items ask, as a reviewed table has it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from bank.numerals import Numeral
from bank.templates import Template
from bank.topics import load_topics
from template_items import TEMPLATES as EVERY_TEMPLATE

TABLE = yaml.safe_load((Path(__file__).parent / "cases" / "curriculum.yaml").read_text(encoding="utf-8"))
STATEMENTS = TABLE["statements"]
TEMPLATES = {template.identifier: template for template in EVERY_TEMPLATE}
LOOKED_AT = 150

Numbers = tuple[Numeral, ...]
"""Operands and key of a draw."""

each_statement = pytest.mark.parametrize("statement", STATEMENTS, ids=lambda statement: statement["code"])


@each_statement
def test_just_the_templates_of_the_table_bear_a_code(statement: dict[str, Any]) -> None:
    bear = sorted(name for name, template in TEMPLATES.items() if statement["code"] in template.codes)
    assert bear == statement["templates"], "review the table: do the items ask what the statement says?"


def test_every_code_that_is_borne_stands_in_the_table_and_no_template_is_without_one() -> None:
    known = [statement["code"] for statement in STATEMENTS]
    assert len(set(known)) == len(known)
    assert {code for template in TEMPLATES.values() for code in template.codes} == set(known)
    assert {code for topic in load_topics().values() for code in topic.codes} == set(known)
    assert all(template.codes for template in TEMPLATES.values())
    assert all(code.partition(" ")[0] in TABLE["frameworks"] for code in known)


@each_statement
def test_a_statement_is_a_short_fact_with_its_source(statement: dict[str, Any]) -> None:
    assert len(statement["asks"].split()) <= 18 and statement["seen"] in ("read", "memory") and statement["limits"]


def draws(template: Template) -> Iterator[Numbers]:
    """Yield operands and key of draws from all over the space of *template*, its ends among them."""
    size = template.space_size
    found = 0
    for number in range(6000):
        index = (size - 1 if number == 1 else number * (size * 618 // 1000 | 1)) % size
        values = template.values_at(index)
        if template.check(values) < 0:
            yield (*template.operands(values), template.key(values))
            found += 1
        if found == LOOKED_AT:
            return


def digits(number: Numeral) -> int:
    """Return how many digits stand before the point."""
    return len(str(number.coefficient // 10**number.places))


def places(number: Numeral) -> int:
    """Return how many places are needed."""
    return number.normal().places


LIMITS: dict[str, Callable[[Any, Numbers], bool]] = {
    "whole": lambda wanted, numbers: all(places(one) == 0 for one in numbers) == wanted,
    "decimal": lambda wanted, numbers: any(one.places for one in numbers) == wanted,
    "most_places": lambda wanted, numbers: all(places(one) <= wanted for one in numbers),
    "most_key_places": lambda wanted, numbers: places(numbers[-1]) <= wanted,
    "most_digits": lambda wanted, numbers: all(digits(one) <= wanted for one in numbers[:-1]),
    "digits_of_first": lambda wanted, numbers: digits(numbers[0]) <= wanted,
    "digits_of_second": lambda wanted, numbers: digits(numbers[1]) <= wanted,
    "places_of_first": lambda wanted, numbers: numbers[0].places == wanted,
    "second_whole": lambda wanted, numbers: (places(numbers[1]) == 0) == wanted,
    "power_of_ten": lambda wanted, numbers: (numbers[1].value in (10, 100, 1000)) == wanted,
}
"""What holds for each draw: the limit's value and the numbers in, whether it holds out."""


@each_statement
def test_items_keep_the_limits_of_the_statements_that_their_templates_bear(statement: dict[str, Any]) -> None:
    limits = dict(statement["limits"])
    of_template: dict[str, Callable[[Any, Template], bool]] = {
        "operations": lambda wanted, one: one.operation in wanted,
        "context": lambda wanted, one: one.context == wanted,
        "exact": lambda wanted, one: (one.rounding is None) == wanted,
        "rounded_to": lambda wanted, one: one.rounding in wanted,
    }
    asked = {name: (of_template[name], limits.pop(name)) for name in list(limits) if name in of_template}
    some = limits.pop("some_places", 0)
    for name in statement["templates"]:
        template = TEMPLATES[name]
        if template.operation == "evaluate":
            continue
        assert [limit for limit, (holds, wanted) in asked.items() if not holds(wanted, template)] == [], name
        looked = list(draws(template))
        assert looked
        for limit, wanted in limits.items():
            broken = next((numbers for numbers in looked if not LIMITS[limit](wanted, numbers)), None)
            assert broken is None, f"{name}: {limit} {wanted}: {', '.join(map(str, broken or ()))}"
        assert any(one.places >= some for numbers in looked for one in numbers), name
