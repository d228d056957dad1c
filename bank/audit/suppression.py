"""Small groups: which groups and cells must not be shown, so that nobody can work them out from what is shown.

A group under the least size is withheld. If its figures could be got by taking the groups shown from the total, more
are withheld: what is withheld together must be at least two groups and at least the least size. In a table of groups
by something else, where totals of rows and columns are shown, a withheld cell can be worked out exactly if and only if
it is a bridge in the graph that has a node for each row and column and an edge for each withheld cell (Gusfield 1988,
A graph theoretic approach to statistical data security, from memory); cells are withheld until there is no bridge.
Under 10 is common practice, no source; local policy goes before it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

LEAST = 10
"""Pupils that a group must have to be shown, unless the settings say otherwise."""


def withheld_groups(sizes: Mapping[str, int], least: int = LEAST, *, total_shown: bool = True) -> frozenset[str]:
    """Return the names of the groups in *sizes* that must not be shown.

    Groups of none count as shown: there is nobody in them. With *total_shown* also the total, or statistics of
    everyone, stand on a page that the same people see.
    """
    hidden = {name for name, size in sizes.items() if 0 < size < least}
    if not hidden or not total_shown:
        return frozenset(hidden)
    shown = sorted((size, name) for name, size in sizes.items() if size >= least)
    while shown and (len(hidden) < 2 or sum(sizes[name] for name in hidden) < least):
        hidden.add(shown.pop(0)[1])
    return frozenset(hidden)


def total_is_safe(sizes: Mapping[str, int], least: int = LEAST) -> bool:
    """Whether figures of everyone may be shown beside those of the groups in *sizes* that are shown.

    They may not where everyone together is under the least size.
    """
    everyone = sum(sizes.values())
    return everyone == 0 or everyone >= least


def withheld_cells(table: Sequence[Sequence[int]], least: int = LEAST) -> frozenset[tuple[int, int]]:
    """Return (row, column) of all cells of *table* that must not be shown where totals of rows and columns are.

    *table* holds numbers of pupils, all rows equally long. Where a table cannot be made safe otherwise all of its
    cells that hold anyone are withheld; then its totals must not be shown either if there is one row or column only.
    """
    rows, columns = len(table), len(table[0]) if table else 0
    hidden = {(row, column) for row in range(rows) for column in range(columns) if 0 < table[row][column] < least}
    while hidden:
        exposed = _bridges(hidden) | _weak(table, hidden, least)
        if not exposed:
            break
        more = _cheapest(table, hidden, min(exposed))
        if more is None:
            return frozenset((row, column) for row in range(rows) for column in range(columns) if table[row][column])
        hidden.add(more)
    return frozenset(hidden)


def _weak(table: Sequence[Sequence[int]], hidden: set[tuple[int, int]], least: int) -> set[tuple[int, int]]:
    """Return withheld cells of rows and columns whose withheld cells together hold fewer than *least*."""
    found = set()
    for axis in (0, 1):
        for line in {cell[axis] for cell in hidden}:
            cells = [cell for cell in hidden if cell[axis] == line]
            if sum(table[row][column] for row, column in cells) < least:
                found.add(cells[0])
    return found


def _cheapest(
    table: Sequence[Sequence[int]], hidden: set[tuple[int, int]], exposed: tuple[int, int]
) -> tuple[int, int] | None:
    """Return the smallest shown cell in the row or column of *exposed*, of all cells where those are all withheld."""
    row, column = exposed
    everywhere = [(one, other) for one in range(len(table)) for other in range(len(table[0]))
                  if (one, other) not in hidden]
    near = [cell for cell in everywhere if cell[0] == row or cell[1] == column]
    choice = near or everywhere
    return min(choice, key=lambda cell: (table[cell[0]][cell[1]] == 0, table[cell[0]][cell[1]], cell), default=None)


def _bridges(cells: set[tuple[int, int]]) -> set[tuple[int, int]]:
    """Return those of *cells* that lie on no cycle of the graph whose nodes are their rows and columns."""
    found = set()
    for row, column in cells:
        if not _joined(cells - {(row, column)}, row, column):
            found.add((row, column))
    return found


def _joined(cells: set[tuple[int, int]], row: int, column: int) -> bool:
    """Whether *cells* lead from *row* to *column*."""
    rows, columns = {row}, set()
    grown = True
    while grown:
        reached = {other for one, other in cells if one in rows} - columns
        columns |= reached
        more = {one for one, other in cells if other in columns} - rows
        rows |= more
        grown = bool(reached or more)
    return column in columns
