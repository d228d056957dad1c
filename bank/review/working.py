"""A worked solution laid out in columns: rows of real text for a table."""

from __future__ import annotations

from typing import NamedTuple

from bank.model import SIGNS, Locale, Trace
from bank.numerals import Numeral


class Cell(NamedTuple):
    """One square of the grid."""

    text: str
    before: str = ""
    """Decimal mark that stands on the line left of this square."""
    after: str = ""
    """Decimal mark right of this square; only in the last one."""
    classes: str = ""
    """``w`` where something is written, ``s`` where a digit is struck out because regrouping changed it."""


class WorkingRow(NamedTuple):
    """One row of the grid."""

    role: str
    sign: str
    cells: tuple[Cell, ...]
    note: str
    rule: bool


def rows_of(trace: Trace, locale: Locale) -> tuple[WorkingRow, ...]:
    """Return the rows of *trace* top to bottom, signs and decimal marks written as in *locale*.

    In the layout ``decomposition`` the digits under a regrouped digit are marked as struck out.
    """
    made = []
    above: tuple[str, ...] = ()
    for row in trace.rows:
        struck = above if row.role == "operand" else ()
        cells = tuple(
            Cell(
                text,
                locale.decimal_mark if place == row.point else "",
                locale.decimal_mark if row.point == trace.width == place + 1 else "",
                ("w" if text else "") + (" s" if text and struck and struck[place] else ""),
            )
            for place, text in enumerate(row.cells)
        )
        made.append(WorkingRow(row.role, _sign(row.sign, locale), cells, row.note, row.rule))
        above = row.cells if row.role == "regrouped" and trace.layout == "decomposition" else ()
    return tuple(made)


def _sign(written: str, locale: Locale) -> str:
    """Return a neutral sign, or a divisor in point writing, as *locale* writes it."""
    if not written or written in SIGNS:
        return locale.sign(written)
    try:
        return locale.number(Numeral.parse(written))
    except ValueError:
        return written
