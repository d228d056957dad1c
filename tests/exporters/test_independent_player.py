"""Exported QTI 3.0 items answered as a pupil would in a web player that we did not write, and its marks compared.

The player is the npm package that ``.ci/run`` installs into ``.player`` (or the folder that STEMWRIGHT_PLAYER names):
a tool for this test alone, never bundled. Without it, or without a browser, the test skips and says so.
"""

from __future__ import annotations

import http.server
import os
import threading
from collections.abc import Iterator
from pathlib import Path

import pytest

import browser
import sampler
from bank.answers import accepted_forms
from bank.build import build
from bank.model import Choice, Item, Locale
from bank.plans import load_plan
from bank.store import Bank
from bank.templates import FOLDER
from exported import packages, unzipped, version
from exporters import qti30
from exporters._item import Renderer

ROOT = Path(__file__).resolve().parents[2]
PLAYER = Path(os.environ.get("STEMWRIGHT_PLAYER", ROOT / ".player")) / "node_modules/@citolab/qti-components/cdn"
SCRIPT = "index.global.js"
EVERY = 9
"""Of the demo term each so many-th item is played."""
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

pytestmark = pytest.mark.skipif(
    not (PLAYER / SCRIPT).is_file(), reason="the independent player is not installed (.ci/run installs it)"
)


class _Files(http.server.SimpleHTTPRequestHandler):
    def do_GET(self) -> None:  # noqa: N802, the name that the library calls
        content = PAGE.encode() if self.path == "/" else (PLAYER / SCRIPT).read_bytes()
        self.send_response(200 if self.path in ("/", f"/{SCRIPT}") else 404)
        self.send_header("Content-Type", "text/html" if self.path == "/" else "text/javascript")
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def page() -> Iterator[object]:
    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), _Files)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    with browser.launched() as chromium:
        shown = chromium.new_page()
        shown.goto(f"http://127.0.0.1:{server.server_port}/")
        shown.wait_for_function("customElements.get('qti-assessment-item') !== undefined")
        yield shown
        shown.close()
    server.shutdown()
    thread.join()
    server.server_close()


def trials(item: Item, locale: Locale) -> list[tuple[str, bool]]:
    """Return answers to try, each with whether it is right: every option; spellings, wrong answers, nonsense, none."""
    response = item.response
    if isinstance(response, Choice):
        return [(option.identifier, option.is_key) for option in response.options]
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    wrong = [locale.number(numeral) for numeral, _ in response.mistakes[:4]]
    nonsense = [forms[0] + "x", forms[0] + "1", "-" + forms[0], ""]
    return [*((form, True) for form in forms[:8]), *((answer, False) for answer in [*wrong, *nonsense])]


def disagreements(page: object, item: Item, xml: str, locale: Locale) -> list[str]:
    """Return where the player marks *item* otherwise than the bank."""
    page.evaluate(SHOW, xml)  # type: ignore[attr-defined]
    found = []
    for answer, right in trials(item, locale):
        if isinstance(item.response, Choice):
            page.locator(f'qti-simple-choice[identifier="{answer}"]').first.click()  # type: ignore[attr-defined]
        else:
            field = page.locator("qti-text-entry-interaction input").first  # type: ignore[attr-defined]
            field.fill("")
            field.press_sequentially(answer) if answer else field.press("Backspace")
            field.press("Tab")
        said = page.evaluate(MARK)  # type: ignore[attr-defined]
        if str(said["SCORE"]) != ("1" if right else "0"):
            found.append(f"{item.identifier}: {answer!r} scores {said['SCORE']}")
        if isinstance(item.response, Choice) and said["FEEDBACK"] != answer:
            found.append(f"{item.identifier}: {answer!r} gets the feedback {said['FEEDBACK']!r}")
    return found


@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER], ids=lambda locale: locale.identifier)
def test_the_player_marks_every_item_of_the_sampler_as_the_bank_does(page: object, locale: Locale) -> None:
    files = packages("qti30", locale)["bank"]
    found = []
    for item in sampler.bank(locale).items():
        xml = files[f"items/{item.identifier}.xml"].decode()
        found += disagreements(page, item, xml, locale)
    assert found == []


def test_the_player_marks_the_demo_term_as_the_bank_does(page: object, tmp_path: Path) -> None:
    build(load_plan(FOLDER.parent / "plans" / "demo-term.yaml"), tmp_path, jobs=2)
    source = tmp_path / "bank.sqlite"
    with Bank.open(source) as bank:
        paths = qti30.write(
            source, bank, (), tmp_path, whole_bank=True, jobs=2, progress=lambda done, total: None
        )
        files, found = unzipped(paths[-1]), []
        for item in list(bank.items())[::EVERY]:
            xml = files[f"items/{item.identifier}.xml"].decode()
            found += disagreements(page, item, xml, bank.info.locale)
    assert found == []


def test_the_player_notices_a_wrong_key(page: object) -> None:
    item = next(item for item in sampler.bank().items() if isinstance(item.response, Choice))
    xml = Renderer(version("qti30"), sampler.info()).item(item, True).decode()
    key = next(option.identifier for option in item.response.options if option.is_key)
    other = "A" if key != "A" else "B"
    spoiled = xml.replace(f"<qti-value>{key}</qti-value>", f"<qti-value>{other}</qti-value>", 1)
    assert len(disagreements(page, item, spoiled, sampler.POINT)) == 2


