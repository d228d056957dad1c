"""Counting in memory gives what counting one answer at a time gives."""

from __future__ import annotations

import numpy as np
import pytest
from answer_sets import answers, cells, plainly_counted
from hypothesis import given, settings

from bank.audit.counting import columns
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Answers, Form, FormAnswers


def _form(items: int, spellings: int = 2) -> Form:
    return Form(
        quiz="q", items=tuple(f"i{item}" for item in range(items)), versions=(1,) * items,
        responses=(tuple(str(number) for number in range(spellings)),) * items,
        credits=((1000, *(0,) * (spellings - 1)),) * items,
    )


def _answers(codes: list[list[int]], spellings: int = 2) -> FormAnswers:
    return FormAnswers(
        form=_form(len(codes[0]), spellings), pupils=np.arange(len(codes), dtype=np.int32),
        codes=np.array(codes, dtype=np.int16), groups=np.zeros(len(codes), dtype=np.int16),
    )


@pytest.mark.long
@given(answers())
@settings(max_examples=80, deadline=None)
def test_the_table_is_that_of_counting_by_hand(made: tuple[FormAnswers, tuple[str, ...]]) -> None:
    given_answers, groups = made
    counts = columns.count(given_answers, groups)
    assert cells(counts) == plainly_counted(given_answers)
    assert counts.persons == len(given_answers.pupils)
    assert counts.n.sum() == given_answers.codes.size


@given(answers())
@settings(max_examples=40, deadline=None)
def test_sorting_the_cells_gives_what_the_dense_table_gives(made: tuple[FormAnswers, tuple[str, ...]]) -> None:
    given_answers, groups = made
    dense = cells(columns.count(given_answers, groups))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(columns, "_SMALL", 0)
        patch.setattr(columns, "_DENSE", 0)
        assert cells(columns.count(given_answers, groups)) == dense


def test_the_three_kinds_of_no_answer_stay_apart_and_earn_nothing() -> None:
    counts = columns.count(_answers([[0, OMITTED], [0, NOT_REACHED], [0, NOT_GIVEN]]))
    assert cells(counts) == [(0, 0, 0, 1000, 3), (0, 1, -3, 1000, 1), (0, 1, -2, 1000, 1), (0, 1, -1, 1000, 1)]


def test_every_number_of_the_table_is_whole_and_wide_enough() -> None:
    counts = columns.count(_answers([[0, 1]]))
    kinds = [column.dtype for column in (counts.group, counts.item, counts.response, counts.total, counts.n)]
    assert kinds == [np.int16, np.int16, np.int16, np.int32, np.int64]


def test_thousands_of_spellings_of_one_item_are_counted() -> None:
    codes = [[number, number % 7] for number in range(5000)]
    counts = columns.count(_answers(codes, 5000))
    assert cells(counts) == plainly_counted(_answers(codes, 5000))


def test_the_order_of_the_pupils_changes_nothing() -> None:
    codes = [[number % 3, (number * number) % 3] for number in range(50)]
    assert cells(columns.count(_answers(codes, 3))) == cells(columns.count(_answers(codes[::-1], 3)))


def test_all_forms_are_counted_in_their_order() -> None:
    both = Answers(forms=(_answers([[0]]), _answers([[1], [1]])), pupils=("a", "b"))
    assert [counts.persons for counts in columns.count_all(both)] == [1, 2]


@pytest.mark.parametrize("code", [2, -4])
def test_a_code_that_means_nothing_is_refused(code: int) -> None:
    with pytest.raises(ValueError, match="i0: a response code means nothing"):
        columns.count(_answers([[code]]))


def test_a_group_without_a_name_is_refused() -> None:
    answered = _answers([[0]])
    answered.groups[0] = 1
    with pytest.raises(ValueError, match="a group has no name"):
        columns.count(answered)
