"""One remedy an answer, fitting its item: by the conditions that it names, and by the words themselves."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest
import sampler
from bank import mistakes
from bank.mistakes import CONDITIONS, GENERAL, Seen
from bank.model import Expression, Item, MatchPairs
from bank.templates import Template
from exported import version
from exporters._item import Renderer
from exporters._words import Words
from items import item
from lxml import etree
from qti_rules import descendants, text_of
from sweeps import sweep
from template_items import TEMPLATES, items_of, wrong_answers

RECORDS = list(mistakes.load().values())
each_template = pytest.mark.parametrize("template", TEMPLATES, ids=lambda template: template.identifier)


def shows_a_sign(item: Item) -> bool:
    texts = [*item.stem, *([one.text for one in item.response.sources] if isinstance(item.response, MatchPairs) else ())]
    return any(part in tuple("+-*/") for line in texts for leaf in line if isinstance(leaf, Expression)
               for part in leaf.parts if isinstance(part, str))  # fmt: skip


def misfits(words: str, item: Item) -> list[str]:
    """Return what in *words* does not fit *item*, by reading them."""
    found = []
    whole = all(not number.places for number in (*item.operands, item.key))
    if whole and re.search(r"\b(points?|tenths?|hundredths?|thousandths?|decimals?)\b", words):
        found.append("speaks of the point on whole numbers")
    if re.search(r"\b(Read the sign|after the sign|before the sign)\b", words) and not shows_a_sign(item):
        found.append("speaks of a sign that is not there")
    exchanging = re.search(r"exchang|regroup|borrow|has one less|nine stay|passes", words)
    if item.family.layout == "equal-additions" and exchanging:
        found.append("speaks of exchanging where ten is added above and one below")
    if item.family.layout in ("", "decomposition") and "next lower digit" in words:
        found.append("speaks of equal additions where units are exchanged")
    if "largest or the smallest is asked" in words and item.family.layout not in ("largest", "smallest"):
        found.append("speaks of a largest or smallest number where none is asked for")
    if "divisor below one" in words and item.family.operation == "divide" and item.operands[1].value >= 1:
        found.append("speaks of a divisor below one")
    return found


@each_template
@pytest.mark.parametrize("seed", sweep((1, 2), 2))
def test_the_remedy_of_every_wrong_answer_fits_its_item(template: Template, seed: int) -> None:
    met = 0
    for one in items_of(template, seed):
        seen = mistakes.seen_of(one)
        for names in wrong_answers(one):
            found = mistakes.remedy(seen, names)
            assert found is not None and found[0] in names and found[1] != GENERAL, (one.operands, names)
            assert all(CONDITIONS[name](seen) for name in found[1].needs), found
            assert not misfits(found[1].words, one), (found, one.stem)
            met += 1
    assert met


@each_template
def test_an_exported_item_says_one_remedy_to_an_answer(template: Template) -> None:
    every = {one.words for record in RECORDS for one in record.remedies}
    renderer = Renderer(version("qti30"), sampler.info())
    for one in items_of(template, 1)[:4]:
        root = etree.fromstring(renderer.item(one, True))
        said = [text_of(part) for name in ("feedbackInline", "modalFeedback") for part in descendants(root, name)
                if part.get("identifier") != "worked"]  # fmt: skip
        told = [[words for words in every if " ".join(words.split()) in text] for text in said]
        assert any(told) or not wrong_answers(one)
        # words that are a part of longer ones are no second remedy
        assert all(len([a for a in words if not any(a != b and a in b for b in words)]) <= 1 for words in told)


PLAIN = Seen(True, True, "", False, False)


def test_the_best_documented_mistake_that_has_a_fitting_remedy_is_taken() -> None:
    names = ("subtract.added-instead", "subtract.zero-minus-n-is-n", "subtract.smaller-from-larger")
    assert mistakes.remedy(PLAIN, names)[0] == "subtract.smaller-from-larger"  # type: ignore[index]
    assert mistakes.remedy(PLAIN, names[:2])[0] == "subtract.added-instead"  # type: ignore[index]
    whole = PLAIN._replace(decimals=False)
    both = ("add.lined-up-on-the-right", "add.last-digits-swapped")
    assert mistakes.remedy(PLAIN, both)[0] == both[0]  # type: ignore[index]
    assert mistakes.remedy(whole, both)[0] == both[1]  # type: ignore[index]
    assert mistakes.remedy(whole, both[:1]) == (both[0], GENERAL)
    assert mistakes.remedy(whole, ("add.no-such-mistake",)) is None


@pytest.mark.parametrize("record", mistakes.of_operation("subtract"), ids=lambda one: one.identifier)
def test_no_remedy_of_equal_additions_speaks_of_exchanging(record: mistakes.Mistake) -> None:
    added = item("subtract", operands=("403", "158"), of={"layout": "equal-additions"})
    decimals = item("subtract", operands=("40.3", "15.8"), of={"layout": "equal-additions"})
    for one in (added, decimals):
        found = mistakes.remedy(mistakes.seen_of(one), (record.identifier,))
        assert found is not None and not misfits(found[1].words, one)


@pytest.mark.parametrize("record", RECORDS, ids=lambda one: one.identifier)
def test_words_that_need_something_name_the_condition(record: mistakes.Mistake) -> None:
    """Words on the point are only said of decimals, where the mistake can show on whole numbers at all."""
    for one in record.remedies:
        if re.search(r"Read the sign", one.words):
            assert "sign" in one.needs
        if re.search(r"exchang|one unit less", one.words) and record.operation == "subtract":
            assert "exchanging" in one.needs
        if re.search(r"\bpoints?\b", one.words) and record.operation in ("add", "subtract", "multiply"):
            assert set(one.needs) & {"decimals", "number below one"} or "equal additions" in one.needs


def test_the_hint_of_the_writer_follows_the_remedy_once() -> None:
    words = Words(sampler.POINT)
    plain = item("subtract", of={"hint": ("Line up the points.",), "template": "hinted"})
    said = words.rationale(plain, ("subtract.added-instead", "subtract.smaller-from-larger"))
    assert said.startswith("The lower digit is always taken from the upper one.") and said.endswith("Line up the points.")
    whole = replace(plain, operands=tuple(one.normal() for one in item("subtract", operands=("403", "58")).operands))
    assert words.reasons(whole, ()) == ""
