"""A trace as a monospace grid, for golden files and for eyes."""

from __future__ import annotations

from bank.model import Expression, Leaf, Line, Row, Trace
from bank.numerals import Numeral

CELL = 2


def rows_text(trace: Trace) -> str:
    """Return the rows, one line each, rules as dashes, the point between two cells."""
    sign_width = max([len(row.sign) for row in trace.rows]) + 1
    lines = []
    for row in trace.rows:
        if row.rule:
            lines.append(" " * sign_width + "-" * ((CELL + 1) * trace.width))
        lines.append(_row_text(row, sign_width))
    return "\n".join(lines)


def _row_text(row: Row, sign_width: int) -> str:
    bracket = row.role == "dividend"
    sign = f"{row.sign})" if bracket else row.sign
    text = sign.rjust(sign_width)
    for index, cell in enumerate(row.cells):
        text += ("." if index == row.point else " ") + cell.rjust(CELL)
    if row.point == len(row.cells):
        text += "."
    return f"{text}   {row.note}".rstrip()


def leaf_text(leaf: Leaf) -> str:
    """Return a leaf with the point as decimal mark and neutral signs."""
    if isinstance(leaf, Numeral):
        return leaf.text()
    if isinstance(leaf, Expression):
        return " ".join([part if isinstance(part, str) else part.text() for part in leaf.parts])
    return leaf


def line_text(line: Line) -> str:
    """Return one line of a text."""
    return "".join([leaf_text(leaf) for leaf in line])


def trace_text(trace: Trace) -> str:
    """Return the rows, then the steps numbered, then the facts."""
    steps = "\n".join([f"{number}. {line_text(line)}" for number, line in enumerate(trace.steps, 1)])
    facts = ", ".join([f"{name} {value}" for name, value in trace.facts])
    layout = f" ({trace.layout})" if trace.layout else ""
    return f"{trace.method}{layout}: {trace.result}\n\n{rows_text(trace)}\n\n{steps}\n\n{facts}\n"
