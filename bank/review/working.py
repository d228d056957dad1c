"""A worked solution laid out in columns: rows of real text for a table."""

from __future__ import annotations

from typing import NamedTuple

from markupsafe import Markup

from bank.model import SIGNS, Locale, Trace
from bank.numerals import Numeral
from bank.review.writing import escaped, plain_words


BLANK = ("",)


class Cell(NamedTuple):
    """One square of the grid."""

    text: str
    before: str = ""
    """Decimal mark that stands on the line left of this square."""
    after: str = ""
    """Decimal mark right of this square; only in the last one."""
    classes: str = ""
    """``w`` where something is written, ``s`` where a digit is struck out because regrouping changed it, ``r``
    where a rule stands above this square but not above the whole row."""


class WorkingRow(NamedTuple):
    """One row of the grid."""

    role: str
    sign: str
    cells: tuple[Cell, ...]
    note: str
    rule: bool
    """Whether a rule stands above the whole row."""


def rows_of(trace: Trace, locale: Locale) -> tuple[WorkingRow, ...]:
    """Return the rows of *trace* top to bottom, signs and decimal marks written as in *locale*.

    In the layout ``decomposition`` the digits under a regrouped digit are marked as struck out.
    """
    made = []
    above: tuple[str, ...] = BLANK * trace.width
    above_role = ""
    for row in trace.rows:
        strikes = row.role == "operand" and above_role == "regrouped" and trace.layout == "decomposition"
        partly_ruled = row.rule and above_role == "product"
        cells = []
        for place, text in enumerate(row.cells):
            classes = ["w"] if text else []
            if strikes and text and above[place]:
                classes.append("s")
            if partly_ruled and (text or above[place]):
                classes.append("r")
            before = locale.decimal_mark if place == row.point else ""
            after = locale.decimal_mark if row.point == trace.width == place + 1 else ""
            cells.append(Cell(text, before, after, " ".join(classes)))
        rule = row.rule and not partly_ruled
        made.append(WorkingRow(row.role, _sign(row.sign, locale), tuple(cells), row.note, rule))
        above, above_role = row.cells, row.role
    return tuple(made)


def table(trace: Trace, locale: Locale) -> Markup:
    """Return the rows of *trace* as a table of real text: sign, squares, note; the caption points to the steps.

    Empty where the trace has steps only.
    """
    if not trace.rows:
        return Markup("")
    caption = f"{escaped(plain_words(trace.method))}; the steps below say the same in words"
    parts = [f'<table class="work"><caption class="unseen">{caption}</caption>\n']
    for row in rows_of(trace, locale):
        rule = " rule" if row.rule else ""
        parts.append(f'<tr class="{escaped(row.role)}{rule}"><td class="sign">{escaped(row.sign)}</td>')
        parts += [_square(cell) for cell in row.cells]
        parts.append(f'<td class="note">{escaped(row.note)}</td></tr>\n')
    parts.append("</table>")
    return Markup("".join(parts))


def _square(cell: Cell) -> str:
    kind = f' class="{cell.classes}"' if cell.classes else ""
    before = f"<i>{escaped(cell.before)}</i>" if cell.before else ""
    after = f'<i class="end">{escaped(cell.after)}</i>' if cell.after else ""
    return f"<td{kind}>{before}{escaped(cell.text)}{after}</td>"


def _sign(written: str, locale: Locale) -> str:
    """Return a neutral sign, or a divisor in point writing, as *locale* writes it."""
    if not written or written in SIGNS:
        return locale.sign(written)
    try:
        return locale.number(Numeral.parse(written))
    except ValueError:
        return written
