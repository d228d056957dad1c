"""Responses marked by the bank's own key, in one canonical spelling."""

from __future__ import annotations

import pytest
from items import COMMA, POINT, item
from results_bank import every_kind

from bank.audit.marking import FULL, NO_NUMBER, Marker

KINDS = every_kind()


@pytest.mark.parametrize("kind", KINDS)
def test_the_right_response_earns_the_full_credit_and_is_spelled_as_it_was(kind: str) -> None:
    marker = Marker(KINDS[kind], POINT)
    assert marker.mark(marker.right) == (marker.right, FULL)


@pytest.mark.parametrize(("kind", "text", "response", "credit"), [
    ("typed", "17.35", "17.35", 1000),
    ("typed", " 17.3500 ", "17.35", 1000),
    ("typed", "017.3500", "17.35", 1000),
    ("typed", "  17.35", "  17.35", 0),
    ("typed", "+17.35", "17.35", 1000),
    ("typed", "16.350", "16.35", 0),
    ("typed", "17 350", "17350", 0),
    ("typed", "I asked Mia Brook", NO_NUMBER, 0),
    ("typed", "17 1/3", "17 1/3", 0),
    ("typed", "17,35", "17,35", 0),
    ("typed money", "17.35 m", "17.35", 1000),
    ("typed places", "17.35", "17.35", 1000),
    ("typed places", "17.350", "17.350", 0),
    ("choice", "a", "A", 0),
    ("several", "B A", "A B", 1000),
    ("several", "A;B;C", "A B C", 0),
    ("several, each", "A", "A", 500),
    ("several, each", "A,B,C", "A B C", 500),
    ("several, each", "C D", "C D", 0),
    ("order", "C B A", "C B A", 1000),
    ("order", "C|A|B", "C A B", 333),
    ("pairs", "S2 T2 S1 T1 S3 T3", "S1 T1 S2 T2 S3 T3", 1000),
    ("pairs", "S1 T1, S2 T3", "S1 T1 S2 T3", 333),
    ("in line", "C", "C", 1000),
    ("in line", "<", "A", 0),
    ("mistake", "S2", "S2", 1000),
    ("mistake", "S1", "S1", 0),
    ("mistake and answer", "S2 17.350", "S2 17.35", 1000),
    ("mistake and answer", "S2", "S2 -", 500),
    ("mistake and answer", "- 17.35", "- 17.35", 500),
    ("mistake and answer", "S1 4", "S1 4", 0),
])
def test_responses_are_spelled_and_marked(kind: str, text: str, response: str, credit: int) -> None:
    assert Marker(KINDS[kind], POINT).mark(text) == (response, credit)


@pytest.mark.parametrize(("kind", "text", "said"), [
    ("choice", "E", "offers A, B, C, D, not 'E'"),
    ("choice", "99.9", "not '99.9'"),
    ("order", "A A B", "twice"),
    ("pairs", "S1 T1 S2", "lacks"),
    ("pairs", "T1 S1", "not 'T1'"),
    ("mistake", "S9", "not 'S9'"),
])
def test_what_an_item_does_not_offer_is_refused(kind: str, text: str, said: str) -> None:
    marker = Marker(KINDS[kind], POINT)
    for _ in range(2):
        with pytest.raises(ValueError, match=said):
            marker.mark(text)


def test_an_option_may_be_named_by_its_number() -> None:
    sum_item = item("add")
    marker = Marker(sum_item, COMMA)
    assert marker.mark("17,35").credit == FULL
