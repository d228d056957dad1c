"""Sharing the items of a plan's lines out over templates."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from bank import draw
from bank.build._demands import evenly

ROOMS = st.lists(st.integers(0, 40), min_size=1, max_size=12)


@given(items=st.integers(0, 300), rooms=ROOMS)
def test_shares_are_as_even_as_the_rooms_allow(items: int, rooms: list[int]) -> None:
    shares = evenly(items, rooms)
    assert sum(shares) == min(items, sum(rooms))
    assert all(0 <= share <= room for share, room in zip(shares, rooms, strict=True))
    largest = max(shares)
    assert all(share >= largest - 1 for share, room in zip(shares, rooms, strict=True) if share < room)


@given(items=st.integers(0, 300), count=st.integers(1, 12))
def test_where_there_is_room_the_first_have_one_more(items: int, count: int) -> None:
    assert evenly(items, [items] * count) == [draw.share_of(items, turn, count) for turn in range(count)]
