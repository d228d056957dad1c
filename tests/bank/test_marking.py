"""Marks that answers earn by the bank's own key, kind by kind."""

from __future__ import annotations

import pytest

import kind_items
import sampler
from bank.marking import Answer, earned_marks, most_marks
from items import POINT

CASES: tuple[tuple[str, Answer, int], ...] = (
    ("several-all", "ACE", 1), ("several-all", "EAC", 1), ("several-all", "AC", 0), ("several-all", "ABCE", 0),
    ("several-all", "", 0),
    ("several-parts", "ACE", 3), ("several-parts", "AC", 2), ("several-parts", "ABC", 1), ("several-parts", "BD", 0),
    ("several-parts", "ABCDE", 1), ("several-parts", "", 0),
    ("order-all", "CADB", 1), ("order-all", "CABD", 0), ("order-all", "CAD", 0),
    ("order-parts", "CADB", 4), ("order-parts", "CABD", 2), ("order-parts", "BDAC", 0), ("order-parts", "", 0),
    ("pairs-all", ("S1 T1", "S2 T3", "S3 T2"), 1), ("pairs-all", ("S3 T2", "S1 T1", "S2 T3"), 1),
    ("pairs-all", ("S1 T1", "S2 T3"), 0),
    ("pairs-parts", ("S3 T2", "S1 T1", "S2 T3"), 3), ("pairs-parts", ("S1 T4", "S2 T3", "S3 T2"), 2),
    ("pairs-parts", (), 0),
    ("inline-all", "C", 1), ("inline-all", "A", 0), ("inline-all", "", 0),
    ("find-all", ("S4",), 1), ("find-all", "S4", 1), ("find-all", ("S5",), 0), ("find-all", (), 0),
    ("find-typed-all", ("S4", "6.27"), 1), ("find-typed-all", ("S4", "5.27"), 0), ("find-typed-all", ("S1", "6.27"), 0),
    ("find-typed-all", ("S4",), 0),
    ("find-typed-parts", ("S4", "06.270"), 2), ("find-typed-parts", ("S4", "5.27"), 1),
    ("find-typed-parts", ("", "6.27"), 1), ("find-typed-parts", ("", ""), 0),
)  # fmt: skip


@pytest.mark.parametrize(("name", "answer", "marks"), CASES)
def test_an_answer_earns_its_marks(name: str, answer: Answer, marks: int) -> None:
    item = kind_items.of_kind(name)
    if name.startswith(("several", "order")):
        answer = tuple(answer)  # letter by letter
    assert earned_marks(item, answer, POINT) == marks <= most_marks(item.response)


@pytest.mark.parametrize(
    ("name", "most"),
    [("several-all", 1), ("several-parts", 3), ("order-all", 1), ("order-parts", 4), ("pairs-all", 1),
     ("pairs-parts", 3), ("inline-all", 1), ("find-all", 1), ("find-typed-all", 1), ("find-typed-parts", 2)],
)  # fmt: skip
def test_an_item_is_worth_one_mark_or_as_many_as_it_has_parts(name: str, most: int) -> None:
    assert most_marks(kind_items.of_kind(name).response) == most


def test_a_chosen_option_and_a_typed_number_earn_one_mark_or_none() -> None:
    choice, typed = sampler.ITEMS[0], sampler.ITEMS[2]
    assert [earned_marks(choice, letter, POINT) for letter in "ABCD"] == [0, 1, 0, 0]
    texts = ("32.45", "32.450 m", "32,45", "32.45 kg", "")
    assert [earned_marks(typed, text, POINT) for text in texts] == [1, 1, 0, 0, 0]
    assert most_marks(choice.response) == most_marks(typed.response) == 1
