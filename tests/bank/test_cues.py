"""Cues of a guesser: what each picks, and that many sets compared at once say the same as the plain definitions."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bank import cues
from bank.cues import packed
from bank.numerals import Numeral


def _shapes(*texts: str, stem: tuple[str, ...] = ()) -> list[cues.Shape]:
    return [cues.shape(Numeral.parse(text), stem) for text in texts]


def _earned(identifier: str, options: list[cues.Shape], key: int) -> int:
    return cues.credit(next(cue for cue in cues.PANEL if cue.identifier == identifier), options, key)


numerals = st.builds(Numeral, st.integers(1, 99_999), st.integers(0, 4))


long_ones = st.builds(Numeral, st.integers(1, 10**15), st.integers(0, 12))
"""Some fit wide lanes only, some none."""
stems = st.sampled_from([(), ("12",), ("12", "345"), ("1", "20", "3")])


def _plain(options: Sequence[Numeral], key: int, stem: tuple[str, ...]) -> list[int]:
    """What each cue earns by its own definition."""
    shapes = [cues.shape(option, stem) for option in options]
    return [cues.credit(cue, shapes, key) for cue in cues.PANEL]


@given(values=st.sets(numerals | long_ones, min_size=2, max_size=5), stem=stems, data=st.data())
def test_all_at_once_every_cue_earns_what_it_earns_by_itself(
    values: set[Numeral], stem: tuple[str, ...], data: st.DataObject
) -> None:
    ordered = sorted(values)
    key = data.draw(st.integers(0, len(ordered) - 1))
    assert list(packed.credits(ordered, key, stem)) == _plain(ordered, key, stem)


@pytest.mark.long
@given(values=st.sets(numerals, min_size=2, max_size=5), data=st.data())
def test_so_it_does_where_the_options_stand_as_the_stem_lists_them(values: set[Numeral], data: st.DataObject) -> None:
    listed = data.draw(st.permutations(sorted(values)))
    key = data.draw(st.integers(0, len(listed) - 1))
    assert list(packed.credits(listed, key, ())) == _plain(listed, key, ())


@pytest.mark.long
@given(
    values=st.sets(numerals | long_ones, min_size=4, max_size=9), stem=stems, size=st.integers(2, 4), data=st.data()
)
def test_sets_compared_together_earn_what_each_earns_alone(
    values: set[Numeral], stem: tuple[str, ...], size: int, data: st.DataObject
) -> None:
    ordered = sorted(values)
    place = data.draw(st.integers(0, size - 1))
    key = data.draw(st.integers(place, len(ordered) - size + place))
    sets = [chosen for chosen in combinations(range(len(ordered)), size) if chosen[place] == key]
    compared = packed.Comparison(packed.Plan(len(ordered), sets, place), ordered, stem)
    alone = [_plain([ordered[option] for option in chosen], place, stem) for chosen in sets]
    assert [list(compared.earned(at)) for at in range(len(sets))] == alone
    heaviest = data.draw(st.sampled_from([10**4, 10**9]))  # sums of the latter do not fit four bytes
    count = len(packed.WEIGHED)
    weights = data.draw(st.lists(st.integers(0, heaviest), min_size=count, max_size=count))
    costs = [sum(weight * earned for weight, earned in zip(weights, packed.weighed(one), strict=True)) for one in alone]
    enough = data.draw(st.sampled_from([0, sorted(costs)[len(costs) // 2]]))
    burdens = list(range(len(ordered), 0, -1))
    best, cost = compared.least(weights, enough, lambda: burdens)
    assert cost == costs[best] <= max(enough, min(costs))
    lightest = min(sum(burdens[option] for option in chosen)
                   for chosen, paid in zip(sets, costs, strict=True) if paid <= max(enough, min(costs)))
    assert sum(burdens[option] for option in sets[best]) == lightest


@given(values=st.sets(numerals, min_size=3, max_size=5))
def test_a_strategy_earns_one_hit_in_all_over_the_places_of_the_key(values: set[Numeral]) -> None:
    shapes = [cues.shape(value, ()) for value in sorted(values)]
    for cue in cues.PANEL:
        earned = [cues.credit(cue, shapes, key) for key in range(len(shapes))]
        picked = sum(credit > 0 for credit in earned)
        assert sum(earned) == picked * (cues.UNIT // picked)


def test_the_longest_option_is_picked_and_ties_share() -> None:
    options = _shapes("3.25", "3.4", "12.4", "40")
    assert _earned("longest", options, 0) == cues.UNIT // 2
    assert _earned("longest", options, 1) == 0


def test_the_middle_earns_half_a_hit_where_the_key_stands_inside() -> None:
    options = _shapes("1", "2", "3", "4")
    assert [_earned("middle", options, key) for key in range(4)] == [0, 30, 30, 0]


def test_a_figure_of_the_stem_is_noticed() -> None:
    options = _shapes("1.2", "3.45", "34.5", "6", stem=("345",))
    assert _earned("repeats-the-stem", options, 1) == 30
    assert _earned("repeats-the-stem", options, 0) == 0


def test_the_inner_member_of_a_chain_is_picked() -> None:
    options = _shapes("0.24", "2.4", "24", "30")
    assert _earned("inner-of-chain", options, 1) == cues.UNIT
    assert _earned("outer-of-chain", options, 0) == 30
    assert _earned("in-the-chain", options, 3) == 0


def test_the_option_most_like_the_others_is_picked() -> None:
    options = _shapes("5.21", "5.31", "5.38", "9.32")
    assert _earned("digits-in-common", options, 1) == cues.UNIT
    assert _earned("fewest-changes", options, 1) == cues.UNIT


def _by_the_table(left: str, right: str) -> int:
    row = list(range(len(right) + 1))
    for place, mine in enumerate(left, 1):
        diagonal, row[0] = row[0], place
        for column, theirs in enumerate(right, 1):
            diagonal, row[column] = row[column], min(row[column] + 1, row[column - 1] + 1, diagonal + (mine != theirs))
    return row[-1]


@given(left=numerals, right=numerals)
def test_edit_distance_in_bits_agrees_with_the_table_method(left: Numeral, right: Numeral) -> None:
    distance = cues.edit_distance(cues.shape(left, ()), cues.shape(right, ()))
    assert distance == _by_the_table(left.text(), right.text())


def test_every_cue_says_what_it_picks_and_has_a_name_of_its_own() -> None:
    assert all(cue.picks for cue in cues.PANEL)
    assert len({cue.identifier for cue in cues.PANEL}) == len(cues.PANEL) == len(cues.CUES)
