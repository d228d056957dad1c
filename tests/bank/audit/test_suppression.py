"""Small groups are neither shown nor to be worked out from what is shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bank.audit.suppression import LEAST, total_is_safe, withheld_cells, withheld_groups

SIZES = st.dictionaries(st.sampled_from("abcdefgh"), st.integers(0, 40), min_size=1)


@pytest.mark.parametrize(("sizes", "hidden"), [
    ({"5a": 25, "5b": 24}, ""), ({"5a": 25, "5b": 9}, "5a 5b"), ({"5a": 25, "5b": 9, "5c": 12}, "5b 5c"),
    ({"5a": 25, "5b": 6, "5c": 4}, "5b 5c"), ({"5a": 25, "5b": 4, "5c": 3}, "5a 5b 5c"), ({"5a": 3}, "5a"),
    ({"5a": 25, "5b": 0}, ""), ({"5a": 30, "5b": 26, "5c": 28, "5d": 2}, "5b 5d"),
])
def test_a_small_group_takes_the_next_smallest_along(sizes: dict[str, int], hidden: str) -> None:
    assert withheld_groups(sizes) == frozenset(hidden.split())


def test_without_a_total_only_the_small_ones_are_withheld() -> None:
    assert withheld_groups({"5a": 25, "5b": 9}, total_shown=False) == {"5b"}
    assert total_is_safe({"5a": 25}) and not total_is_safe({"5a": 4, "5b": 5}) and total_is_safe({})


@given(SIZES)
def test_what_is_left_by_subtraction_is_no_small_group(sizes: dict[str, int]) -> None:
    hidden = withheld_groups(sizes)
    shown = {name: size for name, size in sizes.items() if name not in hidden}
    assert all(size == 0 or size >= LEAST for size in shown.values())
    left = sum(sizes.values()) - sum(shown.values())
    assert left == 0 or left >= LEAST or not any(shown.values())
    assert len(hidden) != 1 or not any(shown.values())


def _worked_out(table: list[list[int]], hidden: frozenset[tuple[int, int]]) -> set[tuple[int, int]]:
    """Return the withheld cells that linear algebra gives from totals and shown cells, by Gaussian elimination."""
    cells = sorted(hidden)
    lines = [[Fraction(int(cell[0] == row)) for cell in cells] for row in range(len(table))]
    lines += [[Fraction(int(cell[1] == column)) for cell in cells] for column in range(len(table[0]))]
    rank = 0
    for column in range(len(cells)):
        pivot = next((row for row in range(rank, len(lines)) if lines[row][column]), None)
        if pivot is None:
            continue
        lines[rank], lines[pivot] = lines[pivot], lines[rank]
        lines[rank] = [value / lines[rank][column] for value in lines[rank]]
        for row in range(len(lines)):
            if row != rank and lines[row][column]:
                factor = lines[row][column]
                lines[row] = [value - factor * other for value, other in zip(lines[row], lines[rank])]
        rank += 1
    return {cells[[bool(value) for value in line].index(True)] for line in lines if sum(map(bool, line)) == 1}


@settings(max_examples=60)
@given(st.integers(2, 4).flatmap(lambda width: st.lists(
    st.lists(st.integers(0, 60), min_size=width, max_size=width), min_size=2, max_size=5)))
def test_no_withheld_cell_follows_from_the_totals(table: list[list[int]]) -> None:
    hidden = withheld_cells(table)
    assert all((row, column) in hidden for row, line in enumerate(table) for column, size in enumerate(line)
               if 0 < size < LEAST)
    everything = {(row, column) for row, line in enumerate(table) for column, size in enumerate(line) if size}
    if not everything <= hidden:
        assert not _worked_out(table, hidden)
        for axis in (0, 1):
            for line in {cell[axis] for cell in hidden}:
                assert sum(table[row][column] for row, column in hidden if (row, column)[axis] == line) >= LEAST


def test_a_table_without_small_cells_is_shown_whole() -> None:
    assert withheld_cells([[12, 30], [14, 0]]) == frozenset() and withheld_cells([]) == frozenset()
