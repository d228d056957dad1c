"""The review page shows the further kinds as a pupil sees them, with key and mistakes, safely."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

import kept_kinds
import pytest
import sampler
from items import COMMA, POINT
from items import item as made_item
from lxml import html

from bank import mistakes
from bank.model import ChooseSeveral, Item
from bank.review import write_review
from bank.review.kinds import body
from bank.review.views import item_view, why
from bank.summary import BuildSummary

each_item = pytest.mark.parametrize("item", kept_kinds.ITEMS, ids=lambda item: item.family.template)


def told(item: Item) -> partial[str]:
    return partial(why, mistakes.seen_of(item))


def shown(item: Item, locale: object = POINT) -> html.HtmlElement:
    return html.fragment_fromstring(str(body(item, locale, told(item))), create_parent="div")  # type: ignore[arg-type]


def test_right_and_wrong_options_are_told_apart_and_name_their_mistakes() -> None:
    rows = shown(kept_kinds.SEVERAL).findall(".//li")
    assert [row.get("class") for row in rows] == ["key", "key", None, "key", "key", None]
    assert "One place too many" in rows[2].text_content() and "6 \u00d7 0.4" in rows[2].text_content()
    assert "no mistake named" in rows[5].text_content()
    assert "key" in rows[3].text_content() and "24 hundredths" in rows[3].text_content()


def test_orders_are_shown_first_as_a_pupil_sees_them_then_right_then_wrong() -> None:
    page = shown(kept_kinds.ORDER, COMMA)
    assert [row.find(".//span[@class='value']").text for row in page.findall(".//ol[@class='chips order']/li")] == [
        "0,45", "0,8", "0,305", "0,62"]
    assert page.find(".//p[@class='typed secret']/span").text == "0,305; 0,45; 0,62; 0,8"
    assert "2 wrong orders foreseen" in page.text_content() and "smallest first" in page.text_content()


def test_pairs_show_both_sides_the_right_ones_and_what_is_left_over() -> None:
    page = shown(kept_kinds.PAIRS)
    assert len(page.findall(".//ol[@class='chips sources']/li")) == 3
    assert len(page.findall(".//ol[@class='chips targets']/li")) == 4
    assert [row.text_content().split("\u2713")[0].strip() for row in page.findall(".//li[@class='key']")] == [
        "0.3 \u00d7 0.2 \u2192 0.06", "3 \u00d7 0.2 \u2192 0.6", "0.3 \u00d7 20 \u2192 6"]
    assert "left over" in page.text_content() and "2 wrong pairs foreseen" in page.text_content()


def test_a_working_to_be_searched_is_shown_with_its_steps() -> None:
    page, response = shown(kept_kinds.FIND), kept_kinds.FIND.response
    assert page.find(".//table") is not None
    keys = [row.get("class") == "key" for row in page.findall(".//ol/li")]
    assert keys == [step.identifier == response.right for step in response.steps]  # type: ignore[union-attr]
    assert "1 wrong answer foreseen" in page.text_content() and "6.27" in page.text_content()


@each_item
def test_the_key_stands_only_where_it_can_be_hidden(item: Item) -> None:
    for mark in shown(item).findall(".//span[@class='mark']"):
        above = [one.get("class") or "" for one in mark.iterancestors()]
        assert any("secret" in names.split() or "key" in names.split() for names in above)


def test_hostile_words_of_an_offer_stay_words() -> None:
    response = kept_kinds.SEVERAL.response
    assert isinstance(response, ChooseSeveral)
    evil = replace(response.options[3], text=("<script>alert(1)</script> & \u202e",))
    item = replace(kept_kinds.SEVERAL, response=replace(response, options=(evil, *response.options[1:])))
    made = str(body(item, POINT, told(item)))
    assert "<script" not in made and "&lt;script&gt;" in made


def test_a_page_of_every_kind_is_written_whole_with_filters_for_each(tmp_path: Path) -> None:
    bank = sampler.bank(items=(*sampler.ITEMS[:4], *kept_kinds.ITEMS), quizzes=())
    write_review(bank, BuildSummary(), tmp_path / "review.html")
    page = html.parse(str(tmp_path / "review.html"))
    kinds = {article.get("data-response") for article in page.findall(".//article")}
    offered = {option.get("value") for option in page.findall(".//select[@id='by-response']/option")}
    assert kinds <= offered and "match-pairs" in kinds
    gaps = page.findall(".//div[@class='stem']//span[@class='gap']")
    assert len(gaps) == 2 and all("gap" in gap.text_content() for gap in gaps)


def test_of_the_wrong_answers_foreseen_only_those_are_told_about_that_packages_tell() -> None:
    wrong = [("33.45", ("subtract.zero-becomes-nine-only",)), ("33.52", ("subtract.ten-minus-bottom",)),
             ("47.61", ("subtract.added-instead",)), ("32.35", ("subtract.borrow-paid-twice",))]
    typed = made_item("subtract", operands=("40.03", "7.58"), typed=True, typed_mistakes=wrong)
    told = ["data-told" in answer.why for answer in item_view(typed, POINT, 1, "a").answers]
    assert told == [True, True, True, False]
    pairs = shown(kept_kinds.PAIRS)
    over = [row for row in pairs.iter("li") if "left over" in row.text_content()]
    assert over and not any(details.get("data-told") for row in over for details in row.iter("details"))
