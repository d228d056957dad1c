"""The page that compares two banks, in a browser: nothing fetched, no sideways scrolling, marked without colour, printable."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import browser
import pytest
from bank import cli

if TYPE_CHECKING:
    from playwright.sync_api import Browser

CONTENT = Path(cli.__file__).parent / "content"

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("compared")
    shutil.copytree(CONTENT, folder / "content")
    plan = str(folder / "content" / "plans" / "first-steps.yaml")
    assert cli.main(["build", plan, "-o", str(folder / "old"), "--jobs", "1"]) == 0
    ragged = folder / "content" / "templates" / "decimal-addition" / "ragged-sum.yaml"
    text = ragged.read_text(encoding="utf-8").replace("version: 1", "version: 2").replace("Work out", "Calculate")
    ragged.write_text(text, encoding="utf-8")
    assert cli.main(["build", plan, "-o", str(folder / "new"), "--jobs", "1"]) == 0
    assert cli.main(["compare", str(folder / "old"), str(folder / "new"), "-o", str(folder)]) == 0
    return folder / "compare.html"


@pytest.fixture(scope="module")
def chromium() -> Iterator[Browser]:
    with browser.launched() as started:
        yield started


@pytest.mark.parametrize("width", [1280, 390])
def test_it_loads_without_complaint_and_does_not_scroll_sideways(chromium: Browser, page: Path, width: int) -> None:
    opened = chromium.new_page(viewport={"width": width, "height": 900})
    said: list[str] = []
    opened.on("console", lambda message: said.append(message.text))
    opened.on("request", lambda asked: said.append(asked.url) if not asked.url.startswith(("file:", "data:")) else None)
    opened.goto(page.as_uri())
    assert said == []
    assert opened.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert opened.locator(".change").count() > 0
    opened.close()


def test_what_differs_shows_without_colour_and_in_print(chromium: Browser, page: Path) -> None:
    opened = chromium.new_page()
    opened.goto(page.as_uri())
    opened.emulate_media(media="print")
    for tag, line in (("del", "line-through"), ("ins", "underline")):
        found = opened.locator(f".change {tag}").first
        assert line in found.evaluate("element => getComputedStyle(element).textDecorationLine")
        assert found.is_visible()
    assert opened.locator("tr.differs .tag").first.inner_text() == "differs"
    assert len(opened.pdf()) > 10_000
    opened.close()
