"""A QTI 3 web player that we did not write, and a pupil who clicks, types, chooses and drags in it.

The player is the npm package that ``.ci/run`` installs into ``.player`` (or the folder that STEMWRIGHT_PLAYER names): a
tool for the tests alone, never bundled. Without it, or without a browser, the tests skip and say so.
"""

from __future__ import annotations

import http.server
import os
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import browser
from bank.model import Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, PutInOrder

ROOT = Path(__file__).resolve().parents[1]
PLAYER = Path(os.environ.get("STEMWRIGHT_PLAYER", ROOT / ".player")) / "node_modules/@citolab/qti-components/cdn"
DRAGS = 3
"""How often an offer is dragged at most, until it lies where it should."""
FAR = 0.85
"""How far into a field an offer is dragged: near its left side the player lets it fall back to where offers wait."""
SCRIPT = "index.global.js"
PAGE = (
    '<!doctype html><meta charset="utf-8"><title>player</title>'
    f'<script src="/{SCRIPT}"></script><qti-item></qti-item>'
)
SHOW = """xml => {
    const holder = document.querySelector('qti-item'), container = document.createElement('item-container');
    const shown = new Promise(done => holder.addEventListener('qti-assessment-item-connected', done, {once: true}));
    holder.replaceChildren();
    container.itemXML = xml;
    holder.append(container);
    return shown.then(() => true);
}"""
MARK = """() => {
    const item = document.querySelector('item-container').shadowRoot.querySelector('qti-assessment-item');
    item.processResponse();
    return Object.fromEntries(item.variables.map(variable => [variable.identifier, variable.value]));
}"""
SHOWN = """async () => {
    const item = document.querySelector('item-container').shadowRoot.querySelector('qti-assessment-item');
    const all = [...item.querySelectorAll('qti-feedback-inline, qti-modal-feedback')];
    await Promise.all(all.map(one => one.updateComplete));
    return all.filter(one => one.showStatus === 'on')
              .map(one => [one.getAttribute('outcome-identifier'), one.getAttribute('identifier')]);
}"""

PAUSE = "() => new Promise(done => setTimeout(done, 60))"
"""The player takes a field for the aim only where the mouse stayed over it for 50 milliseconds, and then moves."""


def is_installed() -> bool:
    """Return whether the player is on this machine."""
    return (PLAYER / SCRIPT).is_file()


class _Files(http.server.SimpleHTTPRequestHandler):
    def do_GET(self) -> None:  # noqa: N802, the name that the library calls
        content = PAGE.encode() if self.path == "/" else (PLAYER / SCRIPT).read_bytes()
        self.send_response(200 if self.path in ("/", f"/{SCRIPT}") else 404)
        self.send_header("Content-Type", "text/html" if self.path == "/" else "text/javascript")
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: object) -> None:
        pass


@contextmanager
def opened() -> Iterator[Any]:
    """Give a browser's page with the player in it; skip the test, saying why, where there is no browser."""
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Files)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        with browser.launched() as chromium:
            page = chromium.new_page(viewport={"width": 900, "height": 1100})
            page.goto(f"http://127.0.0.1:{server.server_port}/")
            page.wait_for_function("customElements.get('qti-assessment-item') !== undefined")
            yield page
            page.close()
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


def enter(page: Any, item: Item, answer: str | Sequence[str]) -> None:
    """Enter *answer*, as `bank.marking` takes it, in the item that *page* shows afresh: by mouse and keyboard only."""
    response = item.response
    parts = (answer,) if isinstance(answer, str) else tuple(answer)
    if isinstance(response, Choice | ChooseSeveral):
        for part in filter(None, parts):
            page.locator(f'qti-simple-choice[identifier="{part}"]').first.click()
    elif isinstance(response, ChooseInLine):
        for part in filter(None, parts):
            page.locator('qti-inline-choice-interaction button[part="trigger"]').click()
            page.locator(f'qti-inline-choice[identifier="{part}"]').click()
    elif isinstance(response, PutInOrder):
        for place, part in enumerate(parts):
            _drag(page, part, place)
    elif isinstance(response, MatchPairs):
        for part in parts:
            page.locator(f'qti-match-interaction input[value="{part}"]').click()
    elif isinstance(response, FindMistake):
        step, text = (*parts, "", "")[:2]
        if step:
            page.locator(f'qti-hottext[identifier="{step}"]').click()
        if text:
            write(page, text)
    else:
        write(page, parts[0])


def write(page: Any, text: str) -> None:
    """Type *text* into the one field of the item."""
    field = page.locator("qti-text-entry-interaction input").first
    field.fill("")
    field.press_sequentially(text) if text else field.press("Backspace")
    field.press("Tab")


def _drag(page: Any, name: str, place: int) -> None:
    """Drag the offer *name* to the field at *place*, counted from 0; as a pupil would, again where it slipped."""
    there = page.locator("drop-list").nth(place).locator(f'qti-simple-choice[identifier="{name}"]')
    for _ in range(DRAGS):
        begin = page.locator(f'qti-simple-choice[identifier="{name}"]:visible').first.bounding_box()
        end = page.locator("drop-list").nth(place).bounding_box()
        left, top = begin["x"] + begin["width"] / 2, begin["y"] + begin["height"] / 2
        page.mouse.move(left, top)
        page.mouse.down()
        page.mouse.move(left + 8, top + 8, steps=3)
        right, middle = end["x"] + end["width"] * FAR, end["y"] + end["height"] / 2
        page.mouse.move(right, middle, steps=6)
        page.evaluate(PAUSE)
        page.mouse.move(right + 2, middle)
        page.mouse.up()
        from playwright.sync_api import TimeoutError as TooLong

        try:
            there.wait_for(timeout=500)
            return
        except TooLong:
            continue
    raise AssertionError(f"{name} cannot be dragged to place {place + 1}")
