"""Worked solutions as tables: columns line up, the mark stands with its digit, and nothing is lost."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from bank import methods
from bank.model import Trace
from bank.numerals import Numeral
from exporters import _layout
from exporters._text import line_text
from items import COMMA, POINT

numbers = st.builds(Numeral, st.integers(1, 99999), st.integers(0, 3))


@st.composite
def traces(draw: st.DrawFn) -> Trace:
    """Return any method carried out on any numbers it takes."""
    operation = draw(st.sampled_from(tuple(methods.OPERATIONS)))
    least, most = methods.OPERATIONS[operation]
    layout = draw(st.sampled_from(methods.LAYOUTS.get(operation, ("",))))
    operands = draw(st.lists(numbers, min_size=least, max_size=2 if layout == "relation" else most))
    if operation == "subtract":
        operands.sort(reverse=True)
    places = draw(st.integers(0, 2)) if operation in ("divide", "round") else None
    return methods.run(operation, operands, layout=layout, places=places)


@settings(max_examples=150, deadline=None)
@given(traces(), st.sampled_from((POINT, COMMA)))
def test_rows_line_up_and_hold_what_the_trace_holds(trace: Trace, locale: object) -> None:
    where = POINT if locale is POINT else COMMA
    root = etree.fromstring(f"<x>{_layout.solution(trace, where)}</x>")
    rows = root.findall("table/tbody/tr")
    assert len(rows) == len(trace.rows) and {len(row) for row in rows} == {trace.width + 2}
    for row, wanted in zip(rows, trace.rows, strict=True):
        assert row[0].tag == "th" and row[0].get("scope") == "row" and row[0].text
        cells = [cell.text or "" for cell in row[2:]]
        assert [cell.strip(where.decimal_mark) for cell in cells] == list(wanted.cells)
        assert "".join(cells).count(where.decimal_mark) <= 1
    assert [item.text for item in root.findall("ol/li")] == [
        line_text(step, where).replace("&lt;", "<").replace("&gt;", ">") for step in trace.steps
    ]


@settings(max_examples=150, deadline=None)
@given(traces(), st.sampled_from((POINT, COMMA)))
def test_the_last_row_with_the_answer_reads_as_the_answer(trace: Trace, locale: object) -> None:
    where = POINT if locale is POINT else COMMA
    root = etree.fromstring(f"<x>{_layout.solution(trace, where)}</x>")
    if trace.layout == "relation":
        return
    role = "result" if any(row.role == "result" for row in trace.rows) else "quotient"
    at = max(index for index, row in enumerate(trace.rows) if row.role == role)
    if trace.layout in ("ascending", "descending"):
        at -= len(trace.operands) - 1  # the answer is all of them, and the result the first
    written = "".join(cell.text or "" for cell in root.findall("table/tbody/tr")[at][2:])
    assert Numeral.parse(written.strip(where.decimal_mark), where.decimal_mark) == trace.result
    assert where.number(trace.result) in (root.findtext("table/caption") or "")


@pytest.mark.parametrize(
    ("operation", "operands", "options", "said"),
    [
        ("add", "4.75 12.6 3", {}, "Column addition: 4.75 plus 12.6 plus 3 is 20.35."),
        ("subtract", "40.3 7.58", {}, "Column subtraction (decomposition): 40.3 minus 7.58 is 32.72."),
        ("multiply", "3.4 2.7", {}, "Long multiplication: 3.4 times 2.7 is 9.18."),
        ("divide", "8.4 0.6", {}, "Long division: 8.4 divided by 0.6 is 14."),
        ("divide", "7.3 0.6", {"places": 1}, "Long division: 7.3 divided by 0.6 is 12.2, rounded to 1 decimal place."),
        ("compare", "0.45 0.8", {"layout": "smallest"}, "Comparison: 0.45 is the smallest of 0.45 and 0.8."),
        ("compare", "0.45 0.8 0.305", {"layout": "ascending"},
         "Ordering: in order, the smallest first, they are 0.305, 0.45 and 0.8."),
        ("compare", "0.45 0.8 0.305", {"layout": "descending"},
         "Ordering: in order, the largest first, they are 0.8, 0.45 and 0.305."),
        ("compare", "0.7 0.65", {"layout": "relation"}, "Comparison: 0.7 is greater than 0.65."),
        ("compare", "0.7 0.70", {"layout": "relation"}, "Comparison: 0.7 is equal to 0.70."),
        ("round", "3.146", {"places": 2}, "Rounding: 3.146 is rounded to 3.15, 2 decimal places."),
        ("round", "3.146", {"places": 0}, "Rounding: 3.146 is rounded to 3, a whole number."),
    ],
)
def test_the_caption_says_the_working_in_one_sentence(
    operation: str, operands: str, options: dict[str, object], said: str
) -> None:
    numerals = [Numeral.parse(one) for one in operands.split()]
    trace = methods.run(operation, numerals, **options)  # type: ignore[arg-type]
    assert _layout.caption(trace, POINT) == said


def test_a_bracket_parts_the_divisor_from_the_dividend() -> None:
    trace = methods.run("divide", [Numeral.parse("7.8"), Numeral.parse("6")])
    root = etree.fromstring(f"<x>{_layout.solution(trace, POINT)}</x>")
    row = root.findall("table/tbody/tr")[1]
    assert [cell.text for cell in row][:4] == ["divisor, then dividend", "6 )", "7.", "8"]
