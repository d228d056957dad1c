"""How numbers, expressions and units are read aloud."""

from __future__ import annotations

import pytest
from lxml import etree

import sampler
from bank.model import Choice, Expression, Line, Unit
from bank.numerals import Numeral
from exported import packages
from exporters import _spoken

METRES = Unit(text="m", spoken="metres")
DOLLARS = Unit(text="$", before=True, spoken="dollars")
N = Numeral.parse


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("0", "zero"), ("4.70", "four point seven zero"), ("0.05", "zero point zero five"), ("13", "thirteen"),
        ("120", "one hundred twenty"), ("2009", "two thousand nine"), ("1000000.1", "one million point one"),
    ],
)
def test_digits_after_the_mark_are_said_one_by_one(text: str, said: str) -> None:
    assert _spoken.number(N(text), ".") == said


def test_the_mark_is_said_as_the_locale_writes_it() -> None:
    assert _spoken.number(N("4.7"), ",") == "four comma seven"


def test_an_expression_is_said_with_its_signs() -> None:
    assert _spoken.expression(Expression((N("3.4"), "/", N("2"), "=", "?")), ".") == (
        "three point four divided by two equals blank"
    )


@pytest.mark.parametrize(
    ("leaves", "unit", "said"),
    [
        (("A rope is ", N("2.5"), " m long."), METRES, "A rope is two point five metres long."),
        (("A rope is ", N("2.5"), "\u00a0m long."), METRES, "A rope is two point five metres long."),
        (("A rope is ", N("2.5"), " m."), METRES, "A rope is two point five metres."),
        (("All ", N("2"), " mugs"), METRES, "All two mugs"),
        (("It costs $", N("2.50"), " now."), DOLLARS, "It costs two point five zero dollars now."),
        (("Pay ", N("3"), " times."), DOLLARS, "Pay three times."),
        (("It is ", N("2.5"), " m long."), None, "It is two point five m long."),
        (("Words only.",), METRES, ""),
    ],
)
def test_a_unit_beside_a_number_is_said_in_words(leaves: Line, unit: Unit | None, said: str) -> None:
    assert _spoken.line(leaves, ".", unit) == said


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [("4.70", None, "Four point seven zero"), ("0.5", METRES, "Zero point five metres"),
     ("12.50", DOLLARS, "Twelve point five zero dollars"), ("3", Unit(text="kg"), "Three kg")],
)  # fmt: skip
def test_an_option_is_said_as_an_amount(text: str, unit: Unit | None, said: str) -> None:
    assert _spoken.amount(N(text), ".", unit) == said


def test_every_option_of_an_exported_choice_has_its_spoken_form() -> None:
    files = packages("qti30")["bank"]
    choices = [item for item in sampler.ITEMS if isinstance(item.response, Choice)]
    for item in choices:
        root = etree.fromstring(files[f"items/{item.identifier}.xml"])
        cards = {one.get("id"): "".join(one.itertext()) for one in root.iter("{*}qti-catalog")}
        shown = [cards[one.get("data-catalog-idref")] for one in root.iter("{*}qti-simple-choice")]
        assert shown == [_spoken.amount(one.numeral, ".", item.family.unit) for one in item.response.options]
        assert len(cards) == len([*root.iter("{*}qti-catalog")])
    assert choices
