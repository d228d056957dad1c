"""The review page as a person meets it: in a browser, by keyboard, printed, without script, on a phone."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import browser as browsers
import pytest
from bank import mistakes
from bank.review import write_review
from review_bank import HandMadeBank, make_bank, make_summary
from wanted import PDFTOTEXT, needs

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

SIZE = 40

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """One browser for all tests here."""
    with browsers.launched() as started:
        yield started


@pytest.fixture(scope="module")
def bank() -> HandMadeBank:
    """The bank that the page shows."""
    return make_bank(SIZE)


@pytest.fixture(scope="module")
def address(bank: HandMadeBank, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Address of the page as a file."""
    path = tmp_path_factory.mktemp("review") / "review.html"
    write_review(bank, make_summary(bank), path)
    return path.as_uri()


class Watched:
    """A page with what it asked of the network and what it complained of."""

    def __init__(self, page: Page) -> None:
        self.page = page
        self.requests: list[str] = []
        self.complaints: list[str] = []
        page.on("request", lambda request: self.requests.append(request.url))
        page.on("console", lambda message: self.complaints.append(message.text))
        page.on("pageerror", lambda error: self.complaints.append(str(error)))


@pytest.fixture
def watched(browser: Browser, address: str) -> Iterator[Watched]:
    """The page, opened at desktop size."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    page.set_default_timeout(5_000)
    seen = Watched(page)
    page.goto(address)
    yield seen
    page.close()


@pytest.fixture
def page(watched: Watched) -> Page:
    """The page, opened at desktop size."""
    return watched.page


def shown(page: Page) -> list[str]:
    """Return the ids of the items that are shown."""
    ids: list[str] = page.eval_on_selector_all(".item:not([hidden])", "all => all.map(one => one.id)")
    return ids


def visible(page: Page, selector: str) -> int:
    """Return how many of the elements are not hidden."""
    count: int = page.eval_on_selector_all(selector, "all => all.filter(one => one.checkVisibility()).length")
    return count


def focused(page: Page) -> str:
    """Return the id of the element with the focus."""
    return str(page.evaluate("document.activeElement.id"))


def test_nothing_is_fetched_and_nothing_complains(watched: Watched, address: str) -> None:
    watched.page.get_by_label("Topic", exact=True).select_option("money")
    watched.page.get_by_role("button", name="Expand all").click()
    assert [url for url in watched.requests if not url.startswith("data:")] == [address]
    assert watched.complaints == []


def test_the_page_s_policy_stops_a_script_and_a_picture_that_someone_slips_in(page: Page) -> None:
    page.evaluate(
        """() => {
          window.slipped = false;
          const script = document.createElement("script");
          script.textContent = "window.slipped = true";
          document.body.append(script);
        }"""
    )
    assert page.evaluate("window.slipped") is False


@pytest.mark.parametrize(
    ("label", "value", "wanted"),
    [
        ("Week", "2", lambda one: one["week"] == "2"),
        ("Topic", "money", lambda one: one["topic"] == "money"),
        ("Template", "add-ragged", lambda one: one["template"] == "add-ragged"),
        ("Response", "typed", lambda one: one["response"] == "typed"),
        ("Predicted", "harder", lambda one: one["band"] == "harder"),
        ("Mistake", "add.carry-forgotten", lambda one: "add.carry-forgotten" in one["mistakes"].split()),
    ],
)
def test_a_filter_leaves_exactly_the_items_that_fit_and_says_how_many(
    page: Page, label: str, value: str, wanted: Callable[[dict[str, str]], bool]
) -> None:
    facts = page.eval_on_selector_all(
        ".item", "all => all.map(one => ({id: one.id, week: one.closest('.week').dataset.week, ...one.dataset}))"
    )
    fitting = [one["id"] for one in facts if wanted(one)]
    assert 0 < len(fitting) < SIZE
    page.get_by_label(label, exact=True).select_option(value)
    assert shown(page) == fitting
    live = page.locator("output[aria-live=polite]")
    assert live.inner_text() == f"{len(fitting)} of {SIZE} items"


def test_text_is_searched_in_any_case_and_filters_work_together(page: Page) -> None:
    page.get_by_label("Text", exact=True).fill("  LAMP   oil")
    lamp = shown(page)
    assert lamp and all("change-from-a-note" in identifier for identifier in lamp)
    page.get_by_label("Response", exact=True).select_option("choice")
    assert set(shown(page)) < set(lamp)
    page.get_by_label("Text", exact=True).fill("no item says this")
    assert shown(page) == [] and page.get_by_text("No item fits these filters.").is_visible()
    page.get_by_role("button", name="Clear filters").click()
    page.locator("output", has_text=f"{SIZE} items").and_(page.get_by_text(f"{SIZE} items", exact=True)).wait_for()
    assert len(shown(page)) == SIZE


def test_headings_of_empty_weeks_go_with_their_items(page: Page) -> None:
    page.get_by_label("Week", exact=True).select_option("2")
    assert page.get_by_role("heading", name="Week 2").is_visible()
    assert not page.get_by_role("heading", name="Week 1").is_visible()


def test_the_address_keeps_the_filters(page: Page, address: str) -> None:
    page.get_by_label("Topic", exact=True).select_option("money")
    page.get_by_label("Text", exact=True).fill("Ilka")
    page.get_by_label("Show keys", exact=True).uncheck()
    kept = page.url
    assert kept == address + "#topic=money&text=Ilka&show-key=no"
    before = shown(page)
    page.goto("about:blank")
    page.goto(kept)
    assert shown(page) == before and not page.get_by_label("Show keys", exact=True).is_checked()


def test_a_link_to_an_item_shows_it_although_filters_hide_it(page: Page) -> None:
    target = page.locator(".item").first.get_attribute("id")
    page.get_by_label("Topic", exact=True).select_option("money")
    page.evaluate(f"location.hash = '#{target}'")
    page.locator(f"#{target}:focus").wait_for()
    assert target in shown(page)


def test_items_are_walked_through_by_keyboard_alone(page: Page) -> None:
    page.get_by_label("Topic", exact=True).select_option("money")
    ids = shown(page)
    page.get_by_role("button", name="Next").focus()
    page.keyboard.press("Enter")
    assert focused(page) == ids[0]
    page.keyboard.press("n")
    assert focused(page) == ids[1]
    page.keyboard.press("p")
    page.keyboard.press("p")
    assert focused(page) == ids[0]
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.tagName") == "SUMMARY"
    page.keyboard.press("Enter")
    assert page.locator(f"#{ids[0]} details[open]").count() == 1
    page.keyboard.press("e")
    assert page.locator(f"#{ids[0]} details:not([open])").count() == 0
    page.keyboard.press("e")
    assert page.locator(f"#{ids[0]} details[open]").count() == 0


def test_opening_a_wrong_answer_says_what_is_known_of_its_mistakes(page: Page, bank: HandMadeBank) -> None:
    known = mistakes.load()
    met = set()
    for item in bank.items():
        for option in getattr(item.response, "options", ()):
            if option.is_key or len(option.mistakes) in met:
                continue
            met.add(len(option.mistakes))
            row = page.locator(f"#item-{item.identifier} .options li").nth("ABCDE".index(option.identifier))
            row.locator("summary").click()
            row.locator("div").nth(len(option.mistakes) - 1).wait_for()
            for _ in range(2):
                text = row.inner_text()
                for identifier in option.mistakes:
                    record = known[identifier]
                    assert record.name in text
                    assert text.count(record.learner_does) == 1 and f"{identifier} · evidence: {record.evidence}" in text
                found = mistakes.remedy(mistakes.seen_of(item), option.mistakes)
                assert found and text.count(f"The pupil is told: {found[1].words}") == 1
                others = {one.words for name in option.mistakes for one in known[name].remedies} - {found[1].words}
                assert not any(words in text for words in others)
                row.locator("summary").click()
                row.locator("summary").click()
    assert len(met) >= 2, "answers of one mistake and of several were tried"


def test_letters_typed_into_the_search_move_nothing(page: Page) -> None:
    page.get_by_label("Text", exact=True).focus()
    page.keyboard.type("nep")
    assert page.get_by_label("Text", exact=True).input_value() == "nep"
    assert page.evaluate("document.activeElement.name") == "text"


def test_expand_and_collapse_reach_every_item_that_is_shown(page: Page) -> None:
    page.get_by_role("button", name="Expand all").click()
    assert page.locator(".item details:not([open])").count() == 0
    page.get_by_role("button", name="Collapse all").click()
    assert page.locator(".item details[open]").count() == 0


def test_keys_mistakes_and_working_are_hidden_together(page: Page) -> None:
    secrets = ".item .mark, .options .why, .item .work"
    assert visible(page, secrets) == page.locator(secrets).count() > SIZE
    page.get_by_label("Show keys", exact=True).uncheck()
    assert visible(page, secrets) == 0
    assert page.locator(".options li").first.is_visible()
    weights = page.eval_on_selector_all(".options .value", "all => all.map(one => getComputedStyle(one).fontWeight)")
    edges = page.eval_on_selector_all(".options li", "all => all.map(one => getComputedStyle(one).borderLeftColor)")
    assert len(set(weights)) == 1 and len(set(edges)) == 1


def test_every_item_shows_its_options_in_their_order(page: Page, bank: HandMadeBank) -> None:
    for item in bank.items():
        options = getattr(item.response, "options", ())
        found = page.eval_on_selector_all(
            f"#item-{item.identifier} .options li",
            "all => all.map(one => ['.letter', '.value'].map(part => one.querySelector(part).textContent))",
        )
        unit = item.family.unit
        write = {None: "{}", False: "{}\u00a0" + (unit.text if unit else ""), True: (unit.text if unit else "") + "{}"}[
            unit.before if unit else None
        ]
        assert found == [[one.identifier, write.format(bank.info.locale.number(one.numeral))] for one in options]


def test_points_stand_under_one_another_in_the_working(page: Page) -> None:
    for table in page.locator("article[data-topic=decimal-addition] .work").all()[:4]:
        lefts = table.locator("i").evaluate_all("all => all.map(one => Math.round(one.getBoundingClientRect().left))")
        assert len(lefts) >= 3 and max(lefts) - min(lefts) <= 1


def test_without_script_everything_can_be_read(browser: Browser, address: str) -> None:
    page = browser.new_page(java_script_enabled=False)
    page.goto(address)
    assert page.locator(".item").count() == SIZE
    assert not page.get_by_role("search").is_visible()
    assert not page.get_by_role("button", name="Expand all").is_visible()
    page.locator(".item .why summary").first.click()
    link = page.locator(".item .why a").first
    link.click()
    entry = page.locator(f"[id='{str(link.get_attribute('href'))[1:]}']")
    assert entry.get_by_text("Remedy:").is_visible()
    page.get_by_label("Show keys", exact=True).uncheck()
    assert not page.locator(".item .mark").first.is_visible()
    page.close()


@pytest.mark.parametrize("width", [320, 390, 768, 1280])
def test_nothing_is_wider_than_the_window(browser: Browser, address: str, width: int) -> None:
    page = browser.new_page(viewport={"width": width, "height": 800})
    page.goto(address)
    page.evaluate("document.querySelectorAll('details').forEach(one => { one.open = true; })")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.close()


def test_printed_without_key_no_key_mistake_or_seed_is_on_paper(page: Page) -> None:
    page.get_by_label("Print with key", exact=True).uncheck()
    page.emulate_media(media="print")
    assert visible(page, ".item .mark, .item .why, .item .work, .facts, .predicted, .record, .filters, .tools") == 0
    assert visible(page, ".options li") == page.locator(".options li").count() > SIZE


@pytest.mark.parametrize("with_key", [True, False])
def test_the_printed_page_has_every_item_and_splits_none(page: Page, tmp_path: Path, with_key: bool) -> None:
    if not shutil.which("pdftotext"):
        pytest.skip(needs(PDFTOTEXT))
    page.get_by_label("Print with key", exact=True).set_checked(with_key)
    page.locator("input[name=text]").fill("Ilka buys")
    target = tmp_path / "review.pdf"
    page.pdf(path=target, format="A4", prefer_css_page_size=True)
    text = subprocess.run(
        ["pdftotext", "-layout", str(target), "-"], capture_output=True, text=True, check=True
    ).stdout
    sheets = text.split("\f")[:-1]
    assert len(sheets) >= 2
    assert len(re.findall(r"Ilka buys", text)) == len(shown(page))
    for sheet in sheets:
        assert len(re.findall("Ilka buys", sheet)) == len(re.findall("How much change does she get", sheet))
    assert ("✓" in text) is with_key
