"""Cartridges' questions marked by a library that we did not write: it turns QTI 1.2 into 2.1 and runs that.

``pyslet`` (PyPI, pure Python) needs one repair for today's Python: a method of its elements calls `.next()`.
"""

from __future__ import annotations

import io
import warnings
from itertools import combinations

import pytest
from lxml import etree

import kind_items
import sampler
from bank.answers import visible_forms
from bank.model import ChooseSeveral, Item, TypedNumber
from cartridge_rules import Question
from exporters._cc_asked import refusal
from exporters._cc_files import end, head
from exporters._cc_item import ItemWriter
from second_opinion import SecondSession

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    from pyslet.qtiv1 import xml as qti1
    from pyslet.xml import structures

CARRIED = tuple(one for one in (*sampler.ITEMS, *kind_items.ITEMS) if not refusal(one))


def _get_or_add_child(element: structures.Element, kind: type) -> structures.Element:
    return next(element.find_children_depth_first(kind, max_depth=1), None) or element.add_child(kind)


def converted(content: bytes, monkeypatch: pytest.MonkeyPatch) -> bytes:
    """Return the one item of a file of a cartridge as the library writes it in QTI 2.1."""
    monkeypatch.setattr(structures.Element, "get_or_add_child", _get_or_add_child)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        document = qti1.QTIDocument()
        document.read(src=io.BytesIO(content))
        ((item, _, log),) = document.root.migrate_to_v2()
        assert all("<other/>" in line for line in log)  # which it takes for always true
        return str(item).encode()


@pytest.mark.parametrize("item", CARRIED, ids=lambda item: item.identifier)
def test_the_library_reads_every_question_and_marks_it_as_we_do(item: Item, monkeypatch: pytest.MonkeyPatch) -> None:
    info = sampler.info()
    content = (head(info, None) + ItemWriter(info).item(item, True) + end(None)).encode()
    (element,) = etree.fromstring(content).iter("{*}item")
    question = Question(element)
    other = SecondSession(converted(content, monkeypatch))
    if isinstance(item.response, TypedNumber):
        forms = visible_forms(item.key, sampler.POINT, item.response.policy, item.family.unit)
        # this library trims what a condition lists, but not what is typed: it cannot tell of blanks at the ends
        wrong = [sampler.POINT.number(one) for one, _ in item.response.mistakes]
        given: list[tuple[str, ...]] = [(form,) for form in (*forms, *wrong, f"{forms[0]}1", "none")]
    else:
        most = len(question.options) if isinstance(item.response, ChooseSeveral) else 1
        given = [chosen for count in range(1, most + 1) for chosen in combinations(question.options, count)]
    scores = set()
    for answer in given:
        score, shown = question.mark(*answer)
        outcomes = other.answer(answer if isinstance(item.response, ChooseSeveral) else answer[0])
        assert (outcomes["SCORE"] or 0) == score, answer
        assert set(outcomes["FEEDBACK"] or ()) == set(shown), answer
        scores.add(score)
    assert scores == {0, 100}
