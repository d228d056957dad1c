"""Mistakes of a class and of its pupils: counted, compared with guessing, told from slips by their coming back."""

from __future__ import annotations

import numpy as np
import pytest
from bank.audit.class_mistakes import CHANCES, LEVEL, Explained, _at_least, explain_answers
from bank.audit.explained import Explainer
from bank.audit.records import NOT_REACHED, OMITTED, Answers, Form, FormAnswers
from scipy.stats import binom

ITEMS = ("one", "two", "three", "four")


def known(item: str, options: dict[str, tuple[str, ...]]) -> Explainer:
    possible = tuple(sorted({name for names in options.values() for name in names}))
    return Explainer(item, possible, lambda text: options.get(text, ()), lambda text: "", tuple(options.values()))


EXPLAINERS = {
    name: known(name, {"A": ("add.x",), "B": ("add.y",), "C": ("add.x", "add.z") if name == "one" else ("add.w",)})
    for name in ITEMS
}
CODE = {"K": 0, "A": 1, "B": 2, "C": 3, "D": 4, "-": OMITTED, ".": NOT_REACHED}


def answers(*rows: str, groups: tuple[int, ...] = (), names: tuple[str, ...] = ("",)) -> Answers:
    form = Form(quiz="quiz", items=ITEMS, versions=(1,) * 4, responses=(("K", "A", "B", "C", "D"),) * 4,
                credits=((1000, 0, 0, 0, 0),) * 4)
    return Answers(
        forms=(FormAnswers(
            form=form, pupils=np.arange(len(rows), dtype=np.int32),
            codes=np.array([[CODE[letter] for letter in row] for row in rows], dtype=np.int16),
            groups=np.array(groups or (0,) * len(rows), dtype=np.int16),
        ),),
        pupils=tuple(f"p{place}" for place in range(len(rows))), groups=names,
    )


def explained(*rows: str) -> Explained:
    return explain_answers(answers(*rows), EXPLAINERS)


def of_class(found: Explained, name: str, group: str = "") -> object:
    return next(row for row in found.classes if (row.mistake, row.group) == (name, group))


def test_shown_and_possible_count_given_answers_only() -> None:
    row = of_class(explained("AK-.", "AAKB"), "add.x")
    assert (row.shown, row.possible, row.wrong) == (3, 6, 4)
    assert 0 < row.low < row.shown / row.possible < row.high < 1


def test_an_answer_that_fits_two_counts_for_both_and_alone_for_neither() -> None:
    found = explained("CKKK")
    assert (of_class(found, "add.x").shown, of_class(found, "add.x").alone) == (1, 0)
    assert of_class(found, "add.z").shown == 1
    assert (found.explained, found.unclear) == (1, 1)


def test_guessing_is_an_even_spread_of_the_wrong_answers() -> None:
    row = of_class(explained("AABB", "CCCC"), "add.y")
    assert row.guessed == pytest.approx(8 / 3)
    row = of_class(explained("AABB", "CCCC"), "add.x")
    assert row.guessed == pytest.approx(2 * 2 / 3 + 6 / 3)


def test_more_than_guessing_has_a_small_chance_and_less_a_large_one() -> None:
    found = explained(*["AAAA"] * 10)
    assert of_class(found, "add.x").beyond_guessing < 1e-6
    assert of_class(found, "add.y").beyond_guessing > 0.99


def test_a_mistake_that_comes_back_is_told_from_a_slip() -> None:
    found = explained("AAAK", "AKKK", "KKKK")
    again = {(row.pupil, row.mistake) for row in found.pupils if row.recurs}
    assert again == {(0, "add.x")}
    assert of_class(found, "add.x").pupils == 1
    assert of_class(found, "add.x").pupils_with_chances == 3


def test_two_of_two_is_too_few_whatever_they_say() -> None:
    found = explained("AA..")
    assert found.pupils[0].possible == 2 < CHANCES
    assert not found.pupils[0].recurs


def test_an_answer_is_given_to_the_mistake_that_explains_most() -> None:
    found = explained("CAAK")
    assert [(row.mistake, row.shown) for row in found.pupils] == [("add.x", 3)]


def test_wrong_answers_that_fit_none_are_candidates_the_commonest_first() -> None:
    found = explained("DKKK", "DKKK", "KDKK")
    assert [(row.item, row.n) for row in found.unexplained] == [("one", 2), ("two", 1)]
    assert (found.wrong, found.explained) == (3, 0)


def test_groups_are_counted_apart_and_together() -> None:
    given = answers("AAAK", "KKKK", "AKKK", groups=(0, 1, 1), names=("north", "south"))
    found = explain_answers(given, EXPLAINERS)
    assert [of_class(found, "add.x", group).shown for group in ("", "north", "south")] == [4, 3, 1]
    assert [of_class(found, "add.x", group).pupils for group in ("", "north", "south")] == [1, 1, 0]


def test_everyone_right_gives_no_mistake_and_no_not_a_number() -> None:
    found = explained("KKKK", "KKKK")
    assert found.pupils == () and found.items == ()
    assert all(row.shown == 0 and 0 <= row.low <= row.high <= 1 for row in found.classes)


@pytest.mark.parametrize("count", range(6))
def test_the_chance_of_so_many_is_the_binomial_one_where_odds_are_equal(count: int) -> None:
    assert _at_least(count, [0.3] * 5) == pytest.approx(binom.sf(count - 1, 5, 0.3), abs=1e-12)


def test_three_of_three_by_guessing_one_of_three_is_below_the_level() -> None:
    assert _at_least(3, [0.5 / 3] * 3) < LEVEL < _at_least(2, [0.5 / 3] * 3)


def test_shares_of_an_items_wrong_answers_are_told_by_mistake_and_what_fits_none() -> None:
    found = explained("AKKK", "AKKK", "CKKK", "DKKK").of_items()
    assert found["one", 1] == (4, (("add.x", 3), ("add.z", 1)), 1)
    assert ("two", 1) not in found
