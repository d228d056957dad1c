"""What every page of the audit must be: well formed, self-contained, named for those who do not see it."""

from __future__ import annotations

import re
from html.parser import HTMLParser

VOID = {"meta", "link", "br", "hr", "img", "input"}


class Page(HTMLParser):
    """Reads a page and notes what the tests ask about."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.text = text
        self.open: list[str] = []
        self.unclosed: list[str] = []
        self.ids: list[str] = []
        self.links: list[str] = []
        self.named: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        self.tags.append((tag, found))
        if found.get("id"):
            self.ids.append(str(found["id"]))
        if tag == "a" and (found.get("href") or "").startswith("#"):
            self.links.append(str(found["href"])[1:])
        for name in ("aria-labelledby", "aria-describedby"):
            self.named += str(found.get(name) or "").split()
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open.pop() != tag:
            self.unclosed.append(tag)

    def handle_data(self, data: str) -> None:
        if not self.open or self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def says(self) -> str:
        """All words of the page, one space between them."""
        return " ".join(" ".join(self.words).split())


def assert_sound(text: str) -> Page:
    """Return the page read, after asking what every page of the audit must answer."""
    page = Page(text)
    assert not page.open and not page.unclosed
    assert len(page.ids) == len(set(page.ids)), "an id stands twice"
    assert set(page.links) <= set(page.ids)
    assert set(page.named) <= set(page.ids)
    assert not re.search(r"(?i)\bnan\b|\binf\b", page.says), "a figure that is none"
    assert not re.search(r"""(?:src|href)=["'](?!#|data:|(?:[.][.]/|[\w.%-]+/)*review[.]html#item-)""", text), "something is fetched from elsewhere"
    assert " style=" not in text, "the page's policy forbids styles in attributes"
    for tag, found in page.tags:
        if tag == "svg" and "chart" in str(found.get("class")):
            assert found.get("role") == "img" and found.get("aria-labelledby")
        if tag == "th":
            assert found.get("scope") in ("col", "row")
    charts = sum("chart" in str(found.get("class")) for tag, found in page.tags if tag == "svg")
    assert text.count("The same as a table") + text.count("small-chart-table") >= charts > 0
    return page
