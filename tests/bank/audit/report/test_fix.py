"""The page after use begins with what to do: items to fix, each with question, key, reason and its place for review."""

from __future__ import annotations

import csv
import re
import shutil
from pathlib import Path

import browser
import pytest
from audit_pages import assert_sound
from bank import cli
from bank.audit.offers import asked_words, key_words
from bank.model import Choice
from bank.store import Bank

QUIZ = "week-06-diagnosis"


def _spoilt(bank: Path, results: Path) -> str:
    """Write results in which everybody but a few chooses the option beside their own at one item; return the item."""
    assert cli.main(["sample", str(bank), "--pupils", "120", "--seed", "8", "--quiz", QUIZ, "-o", str(results)]) == 0
    with Bank.open(bank) as opened:
        quiz = next(one for one in opened.quizzes if one.identifier == QUIZ)
        item = next(one.identifier for one in opened.items(quiz.items) if isinstance(one.response, Choice))
    with results.open(encoding="utf-8", newline="") as file:
        header, *rows = list(csv.reader(file))
    place, response = header.index("item"), header.index("response")
    for row in rows:
        if row[place] == item:
            row[response] = {"A": "B", "B": "C", "C": "D", "D": "A"}.get(row[response], row[response])
    with results.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([header, *rows])
    return item


@pytest.fixture(scope="module")
def made(demo_bank: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, str]:
    """A folder with bank, review page and an audit of it, and the item whose key the answers speak against."""
    folder = tmp_path_factory.mktemp("fix")
    bank = Path(shutil.copy(demo_bank, folder))
    shutil.copy(demo_bank.with_name("review.html"), folder)
    item = _spoilt(bank, folder / "results.csv")
    words = ["audit", str(bank), "--results", str(folder / "results.csv"), "--salt", str(folder / "salt")]
    assert cli.main([*words, "-o", str(folder / "a report")]) == 0
    return folder, item


def test_the_page_begins_with_the_items_to_fix(made: tuple[Path, str]) -> None:
    folder, item = made
    text = (folder / "a report" / "audit.html").read_text(encoding="utf-8")
    page = assert_sound(text)
    first = re.search(r'<main id="main">\s*<section id="(\w+)"', text)
    assert first and first[1] == "fix"
    section = text[text.index('<section id="fix"') : text.index("</section>")]
    with Bank.open(folder / "bank.sqlite") as bank:
        asked = next(bank.items([item]))
        locale = bank.info.locale
        words = asked_words(asked, locale), key_words(asked, locale)
    entry = next(part for part in section.split("<li>\n<p class") if f">{item}</a>" in part)
    for said in words:
        assert said.replace("'", "&#39;").replace("<", "&lt;").replace(">", "&gt;") in entry
    assert "What to do: " in entry and 'class="flag' in entry
    assert "hard for its use" not in section, "flags of use are no faults"
    assert page.says.index("Fix these items") < page.says.index("At a glance")


def test_every_link_leads_to_an_item_on_the_review_page(made: tuple[Path, str]) -> None:
    folder, item = made
    text = (folder / "a report" / "audit.html").read_text(encoding="utf-8")
    links = re.findall(r'href="([^"#][^"]*)"', text)
    links = [link for link in links if not link.startswith("data:")]
    assert any(link.endswith(f"#item-{item}") for link in links)
    review = (folder / "review.html").read_text(encoding="utf-8")
    for link in links:
        page, _, anchor = link.partition("#")
        assert (folder / "a report" / page).resolve() == (folder / "review.html").resolve()
        assert f'id="{anchor}"' in review


def test_without_a_review_page_there_are_no_links(made: tuple[Path, str], tmp_path: Path) -> None:
    folder, item = made
    bank = shutil.copy(folder / "bank.sqlite", tmp_path)
    words = ["--results", str(folder / "results.csv"), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path / "out")]
    assert cli.main(["audit", str(bank), *words]) == 0
    text = (tmp_path / "out" / "audit.html").read_text(encoding="utf-8")
    assert "review.html" not in text and item in text


def test_where_nothing_is_to_be_fixed_the_page_says_what_that_rests_on(made: tuple[Path, str], tmp_path: Path) -> None:
    folder, _ = made
    results = tmp_path / "r.csv"
    words = ["sample", str(folder / "bank.sqlite"), "--pupils", "12", "--seed", "1", "--quiz", QUIZ, "-o", str(results)]
    assert cli.main(words) == 0
    words = ["--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(tmp_path / "out")]
    assert cli.main(["audit", str(folder / "bank.sqlite"), *words]) == 0
    page = assert_sound((tmp_path / "out" / "audit.html").read_text(encoding="utf-8"))
    assert "None: no flag says that an item may be wrong. What could not be tested is listed below." in page.says


CLIPPED = """() => [...document.querySelectorAll("table.figures")].filter(one => {
    const box = one.getBoundingClientRect();
    return box.width > 0 && box.right > document.documentElement.clientWidth + 1;
}).map(one => one.closest("section").id + " " + one.closest(".wide")?.getAttribute("aria-label"))"""
UNSEEN = """() => [...document.querySelectorAll("main table.figures tbody td")]
    .filter(one => !one.checkVisibility({contentVisibilityAuto: true})).length"""


@pytest.mark.long
def test_all_of_it_prints(made: tuple[Path, str]) -> None:
    folder, _ = made
    with browser.launched() as chromium:
        page = chromium.new_page(viewport={"width": 700, "height": 990})
        page.goto((folder / "a report" / "audit.html").as_uri())
        assert page.evaluate(UNSEEN) > 0, "on the screen tables wait to be opened"
        page.emulate_media(media="print")
        assert page.evaluate(UNSEEN) == 0
        page.set_viewport_size({"width": 1040, "height": 700})
        assert page.evaluate(CLIPPED) == []
        assert len(page.pdf(format="A4", prefer_css_page_size=True)) > 10_000


@pytest.mark.long
def test_the_link_shows_the_item_even_where_a_filter_hid_it(made: tuple[Path, str]) -> None:
    folder, item = made
    with browser.launched() as chromium:
        page = chromium.new_page()
        page.goto((folder / "review.html").as_uri() + "#text=no-such-words")
        assert not page.locator(f"[id='item-{item}']").is_visible()
        page.goto((folder / "a report" / "audit.html").as_uri())
        page.click(f"a[href$='#item-{item}']")
        page.wait_for_url("**/review.html#item-*")
        assert page.locator(f"[id='item-{item}']").is_visible()
        page.evaluate("location.hash = 'text=no-such-words'")
        page.wait_for_function(f"document.getElementById('item-{item}').hidden")
        page.evaluate(f"location.hash = 'item-{item}'")
        page.wait_for_function(f"!document.getElementById('item-{item}').hidden")
