"""A written method as a table of real text, with a caption that says it in one sentence, and its steps as a list.

Columns of the table: what the row is (a row header), the sign, then one column a digit. The decimal mark stands
in the cell of the digit before it, so that it is read where it belongs and the digits stay under one another. The
divisor stands in the column of the sign, a bracket behind it.
"""

from __future__ import annotations

from functools import lru_cache

from bank.model import Locale, Row, Trace
from bank.numerals import POWERS, Numeral
from exporters._text import escape, lines_text, number

_ROLES = {
    "carry": "carries", "regrouped": "regrouped", "operand": "number", "annexed": "with zeros", "result": "answer",
    "partial": "partial product", "quotient": "quotient", "dividend": "divisor, then dividend", "product": "product",
    "remainder": "remainder", "compared": "number",
}  # fmt: skip
"""What a row without a note is called; the roles are those of `bank.model.ROLES`."""
_NUMBERS = ("operand", "dividend", "compared", "product", "remainder")
"""Roles that are named together with the note, which says something more of the number."""
_RULE = ' class="stemwright-rule"'
_FIRST = {"ascending": "smallest", "descending": "largest"}
_JOIN = {"add": " plus ", "subtract": " minus ", "multiply": " times ", "divide": " divided by "}


def solution(trace: Trace, locale: Locale, own: str = "") -> str:
    """Return *trace* as markup: a table where it has rows, then the steps as an ordered list.

    *own* is an attribute for both, which marks the language of the words.
    """
    steps = "</li>\n<li>".join(lines_text(trace.steps, locale))
    working = table(trace, caption(trace, locale), locale, own) if trace.rows else ""
    return f"{working}<ol{own}>\n<li>{steps}</li>\n</ol>\n"


def table(trace: Trace, said: str, locale: Locale, own: str = "") -> str:
    """Return the rows of *trace* as a table with the caption *said*, escaped."""
    rows = "".join([_row(row, locale) for row in trace.rows]).replace("<td></td>", "<td/>")
    return (
        f'<table class="stemwright-method"{own}>\n<caption>{said}</caption>\n<tbody>\n{rows}</tbody>\n</table>\n'
    )


def caption(trace: Trace, locale: Locale) -> str:
    """Return one sentence, escaped, that says what *trace* works out and its answer."""
    numbers = [number(operand, locale) for operand in trace.operands]
    result = number(trace.result, locale)
    title = _title(trace.method, trace.layout if trace.operation == "subtract" else "")
    if trace.operation == "round":
        places = trace.result.places
        return f"{title}: {numbers[0]} is rounded to {result}, {places_text(places)}."
    if trace.operation == "compare" and trace.layout in _FIRST:
        order = sorted(trace.operands, reverse=trace.layout == "descending")
        listed = _listed([number(operand, locale) for operand in order], locale)
        return f"{title}: in order, the {_FIRST[trace.layout]} first, they are {listed}."
    if trace.operation == "compare" and trace.layout == "relation":
        first, second = trace.operands
        said = "less than" if first < second else "greater than" if second < first else "equal to"
        return f"{title}: {numbers[0]} is {said} {numbers[1]}."
    if trace.operation == "compare":
        return f"{title}: {result} is the {escape(trace.layout or 'largest')} of {_listed(numbers, locale)}."
    sentence = f"{title}: {_JOIN[trace.operation].join(numbers)} is {result}"
    if trace.operation == "divide" and _was_rounded(trace.operands[0], trace.operands[1], trace.result):
        sentence += f", rounded to {places_text(trace.result.places)}"
    return sentence + "."


def judged(trace: Trace, locale: Locale) -> str:
    """Return one sentence, escaped, that says what a working to be checked works out, and the answer that it gives."""
    numbers = [number(operand, locale) for operand in trace.operands]
    title = _title(trace.method, trace.layout if trace.operation == "subtract" else "")
    asked = _JOIN.get(trace.operation, " and ").join(numbers)
    return f"A working to check, {title[:1].lower()}{title[1:]}: {asked}, with the answer {number(trace.result, locale)}."


def _was_rounded(dividend: Numeral, divisor: Numeral, quotient: Numeral) -> bool:
    exact = dividend.coefficient * POWERS[divisor.places + quotient.places]
    return exact != quotient.coefficient * divisor.coefficient * POWERS[dividend.places]


@lru_cache(maxsize=64)
def _title(method: str, layout: str) -> str:
    name = method.replace("-", " ")
    return escape(name[:1].upper() + name[1:] + (f" ({layout.replace('-', ' ')})" if layout else ""))


def places_text(places: int) -> str:
    """Return a number of places in words."""
    if not places:
        return "a whole number"
    return f"{places} decimal {'place' if places == 1 else 'places'}"


def _listed(numbers: list[str], locale: Locale) -> str:
    separator = escape(locale.list_separator) + " "
    return f"{separator.join(numbers[:-1])} and {numbers[-1]}"


def _row(row: Row, locale: Locale) -> str:
    role, cells, point, sign, rule, note = row
    written = _marked(cells, point, locale.decimal_mark) if point >= 0 else cells
    digits = "</td><td>".join(written)
    if "&" in digits or digits.count("<") != 2 * (len(cells) - 1):
        digits = "</td><td>".join(map(escape, written))
    if role == "dividend":
        sign += " )"  # else the divisor would run into the dividend
    return (
        f'<tr{_RULE if rule else ""}><th scope="row">{_header(role, note)}</th>'
        f"<td>{escape(locale.sign(sign)) if sign else ''}</td><td>{digits}</td></tr>\n"
    )


@lru_cache(maxsize=1024)
def _header(role: str, note: str) -> str:
    name = _ROLES[role]
    if role in _NUMBERS:
        return escape(f"{name}, {note}" if note else name)
    return escape(note or name)


def _marked(cells: tuple[str, ...], point: int, mark: str) -> list[str]:
    marked = list(cells)
    if point and marked[point - 1]:
        marked[point - 1] += mark
    elif point < len(marked) and marked[point]:
        marked[point] = mark + marked[point]
    return marked


