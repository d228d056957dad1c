"""Randomness decided by names."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bank.chance import Shuffle, digest_numbers, shuffled


@given(size=st.integers(1, 1 << 24), name=st.text(max_size=5), data=st.data())
def test_what_is_kept_of_rounds_changes_no_order(size: int, name: str, data: st.DataObject) -> None:
    shuffle = Shuffle(size, name)
    for place in data.draw(st.lists(st.integers(0, size - 1), max_size=20)):
        assert shuffle[place] == shuffle._worked_out(place)


@given(size=st.integers(1, 600), name=st.text(max_size=5))
def test_a_shuffle_gives_every_number_exactly_once(size: int, name: str) -> None:
    shuffle = Shuffle(size, name)
    assert sorted(shuffle[place] for place in range(size)) == list(range(size))


def test_a_shuffle_is_the_same_on_every_machine() -> None:
    # Values written down from the first run of this code; they guard stability, not correctness.
    assert [Shuffle(1000, "add", 7)[place] for place in range(4)] == [852, 176, 676, 265]
    assert digest_numbers("a", 1)[0] == 5605340376619594352


def test_names_that_join_to_the_same_text_give_different_numbers() -> None:
    assert digest_numbers("ab", "c") != digest_numbers("a", "bc")


def test_a_shuffle_spreads_the_first_places_over_the_whole_range() -> None:
    shuffle = Shuffle(10_000, "spread")
    counts = [0] * 10
    for place in range(1000):
        counts[shuffle[place] // 1000] += 1
    # Binomial(1000, 1/10): mean 100, six standard deviations are 57.
    assert all(43 <= count <= 157 for count in counts)


def test_an_empty_range_cannot_be_shuffled() -> None:
    with pytest.raises(ValueError, match="at least one"):
        Shuffle(0)


@given(values=st.lists(st.integers()), name=st.integers())
def test_shuffling_a_list_keeps_its_members(values: list[int], name: int) -> None:
    assert sorted(shuffled(values, name)) == sorted(values)
