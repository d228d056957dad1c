"""The audit's pages in a browser: pictures drawn, tables opened by keyboard, no overflow, nothing fetched, printable."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import browser
import pytest
from bank import cli

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

PAGES = ("before/audit.html", "after/audit.html", "after/pupils.html", "lesson/lesson.html")
DRAWN = {"before/audit.html": 2, "after/audit.html": 8}
"""Pictures that a page shows at least."""

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def folder(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("pages")
    results, salt = str(made / "results.csv"), str(made / "salt")
    names = ("week-06-diagnosis", "week-05-mixed", "week-03-comparing")
    quizzes = [word for quiz in names for word in ("--quiz", quiz)]
    words = ["--groups", "north", "south", "-o", results]
    assert cli.main(["sample", str(built), "--pupils", "120", "--seed", "8", *quizzes, *words]) == 0
    given = ["--results", results, "--salt", salt]
    assert cli.main(["audit", str(built), "-o", str(made / "before")]) == 0
    assert cli.main(["audit", str(built), *given, "-o", str(made / "after"), "--pupils"]) == 0
    assert cli.main(["lesson", str(built), *given, "-o", str(made / "lesson")]) == 0
    return made


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser.launched() as started:
        yield started


def opened(chromium: Browser, path: Path, width: int = 1280) -> tuple[Page, list[str]]:
    page = chromium.new_page(viewport={"width": width, "height": 900})
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type in ("error", "warning") else None)
    page.on("request", lambda asked: said.append(asked.url) if not asked.url.startswith(("file:", "data:")) else None)
    page.goto(path.as_uri())
    return page, said


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [1280, 375])
def test_pages_load_without_complaint_and_do_not_scroll_sideways(
    chromium: Browser, folder: Path, name: str, width: int
) -> None:
    page, said = opened(chromium, folder / name, width)
    assert said == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    page.close()


@pytest.mark.parametrize("name", DRAWN)
def test_pictures_are_drawn_with_their_styles_and_stay_inside_their_frame(
    chromium: Browser, folder: Path, name: str
) -> None:
    page, _ = opened(chromium, folder / name)
    charts = page.locator("figure svg.chart:visible")
    assert charts.count() >= DRAWN[name]
    outside = page.evaluate("""() => [...document.querySelectorAll('svg.chart')]
        .filter(one => one.getClientRects().length)
        .flatMap(svg => [...svg.querySelectorAll('rect, circle, line')].filter(mark => {
            const frame = svg.getBoundingClientRect(), box = mark.getBoundingClientRect();
            return box.left < frame.left - 3 || box.right > frame.right + 3 || box.bottom > frame.bottom + 3;
        }).map(mark => svg.querySelector('title').textContent + ': ' + mark.outerHTML.slice(0, 120)))""")
    assert outside == []
    grey = page.evaluate("""() => getComputedStyle(document.querySelector('svg.chart .axis')).stroke""")
    assert grey != "none"
    page.close()


def test_words_of_a_picture_do_not_run_into_each_other(chromium: Browser, folder: Path) -> None:
    for name in DRAWN:
        page, _ = opened(chromium, folder / name)
        over = page.evaluate("""() => [...document.querySelectorAll('svg.chart')]
            .filter(one => one.getClientRects().length)
            .flatMap(svg => {
                const texts = [...svg.querySelectorAll('text')];
                const boxes = texts.map(one => [one.textContent, one.getBoundingClientRect()]);
                return boxes.flatMap(([words, a], i) => boxes.slice(i + 1).filter(([_, b]) =>
                    Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 &&
                    Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 5
                ).map(([other]) => svg.querySelector('title').textContent + ': ' + words + ' / ' + other));
            })""")
        assert over == [], over[:5]
        page.close()


def test_tables_behind_pictures_open_by_keyboard(chromium: Browser, folder: Path) -> None:
    page, _ = opened(chromium, folder / "after/audit.html")
    first = page.locator("details.table > summary").first
    first.focus()
    page.keyboard.press("Enter")
    assert page.locator("details.table[open] table").first.is_visible()
    page.close()


def test_a_picture_is_named_and_described_for_those_who_do_not_see_it(chromium: Browser, folder: Path) -> None:
    page, _ = opened(chromium, folder / "after/audit.html")
    named = page.get_by_role("img", name="Predicted against observed")
    assert "80 % bands" in named.first.text_content()
    page.close()


def test_the_lesson_prints_on_one_sheet_and_says_that_it_is_simulated(chromium: Browser, folder: Path) -> None:
    page, _ = opened(chromium, folder / "lesson/lesson.html")
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    page.emulate_media(media="print")
    assert page.get_by_text("Simulated results").is_visible()
    page.close()


@pytest.mark.parametrize("name", DRAWN)
def test_no_style_of_the_page_changes_the_size_of_a_mark(chromium: Browser, folder: Path, name: str) -> None:
    page, _ = opened(chromium, folder / name)
    wrong = page.evaluate("""() => [...document.querySelectorAll('svg.chart')]
        .filter(one => one.getClientRects().length)
        .flatMap(svg => [...svg.querySelectorAll('rect')].filter(mark => {
            const style = getComputedStyle(mark);
            return Math.abs(parseFloat(style.width) - mark.getAttribute('width')) > 0.1
                || Math.abs(parseFloat(style.height) - mark.getAttribute('height')) > 0.1;
        }).map(mark => mark.outerHTML.slice(0, 100)))""")
    assert wrong == []
    page.close()
