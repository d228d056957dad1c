"""The review page as a file: whole, the same every time, safe, with every item in it."""

from __future__ import annotations

import base64
import hashlib
import re
from collections import Counter
from dataclasses import replace
from functools import partial
from pathlib import Path

import kept_kinds
import pytest
import review_bank
import sampler
from bank import mistakes
from bank.model import Choice, Finding, Locale, Unit
from bank.review import kinds, views
from bank.review import page as pages
from bank.review import sample as sampling
from bank.review import write_review
from bank.summary import BuildSummary
from lxml import html
from review_bank import COMMA, HandMadeBank, make_bank, make_summary

CSS = (Path(pages.__file__).parent / "review.css").read_text(encoding="utf-8")


def written(bank: HandMadeBank, folder: Path, summary: BuildSummary | None = None) -> str:
    """Return the page of *bank* as text."""
    path = folder / "review.html"
    write_review(bank, summary if summary is not None else make_summary(bank), path)
    assert [one.name for one in folder.iterdir()] == ["review.html"]
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def bank() -> HandMadeBank:
    """A bank of 40."""
    return make_bank(40)


@pytest.fixture(scope="module")
def text(bank: HandMadeBank, tmp_path_factory: pytest.TempPathFactory) -> str:
    """Its page."""
    return written(bank, tmp_path_factory.mktemp("page"))


@pytest.fixture(scope="module")
def tree(text: str) -> html.HtmlElement:
    """Its page, parsed."""
    return html.document_fromstring(text)


def plain(element: html.HtmlElement) -> str:
    """Return the text of an element with single spaces."""
    return " ".join(element.text_content().split())


def test_the_same_bank_gives_the_same_bytes(text: str, tmp_path: Path) -> None:
    assert written(make_bank(40), tmp_path) == text


def test_every_item_has_a_place_in_each_of_its_quizzes_in_order(bank: HandMadeBank, tree: html.HtmlElement) -> None:
    for quiz in bank.quizzes:
        section = tree.xpath("//section[@aria-labelledby=$name]", name=f"quiz-{quiz.identifier}")[0]
        assert [one.get("id") for one in section.iter("article")] == [f"item-{item}" for item in quiz.items]
    assert len(tree.xpath("//article")) == bank.count
    last = tree.xpath("//section[@data-week='0']//article/@id")
    assert len(last) == 3


def test_stem_options_key_and_mistakes_are_those_of_the_item(bank: HandMadeBank, tree: html.HtmlElement) -> None:
    for item in bank.items():
        article = tree.get_element_by_id(f"item-{item.identifier}")
        for operand in item.operands:
            assert operand.text() in plain(article.find_class("stem")[0])
        keys = article.xpath(".//*[contains(@class, 'mark')]")
        assert [plain(key) for key in keys] == ["✓ key"]
        assert item.key.text() in plain(keys[0].getparent())
        if isinstance(item.response, Choice):
            rows = article.xpath(".//ol[contains(@class, 'options')]/li")
            letters = [plain(row.find_class("letter")[0]) for row in rows]
            assert letters == [one.identifier for one in item.response.options]
            for row, option in zip(rows, item.response.options, strict=True):
                assert (row.get("class") == "key") is option.is_key
                assert all(identifier in plain(row) for identifier in option.mistakes)


def test_the_working_reads_as_the_numbers_it_stands_for(bank: HandMadeBank, tree: html.HtmlElement) -> None:
    for item in bank.items():
        table = tree.get_element_by_id(f"item-{item.identifier}").find_class("work")[0]
        read = {"".join(plain(cell) for cell in row.findall("td")[1:-1]) for row in table.iter("tr")}
        assert item.solution.result.text() in read
        if item.family.operation == "add":
            places = max(operand.places for operand in item.operands)
            assert {operand.with_places(places).text() for operand in item.operands} <= read
        widths = {len(row.findall("td")) for row in table.iter("tr")}
        assert widths == {item.solution.width + 2}


def test_regrouped_digits_strike_those_they_replace(bank: HandMadeBank, tree: html.HtmlElement) -> None:
    by_layout = Counter()
    for item in bank.items():
        struck = tree.get_element_by_id(f"item-{item.identifier}").xpath(
            ".//td[contains(concat(' ', @class, ' '), ' s ')]"
        )
        regrouped = sum(bool(cell) for row in item.solution.rows[:1] if row.role == "regrouped" for cell in row.cells)
        if item.solution.layout == "decomposition":
            assert len(struck) == regrouped
            by_layout["decomposition"] += regrouped
        else:
            assert struck == []
    assert by_layout["decomposition"] > 0


def test_identifiers_are_unique_and_every_reference_finds_its_element(tree: html.HtmlElement) -> None:
    ids = tree.xpath("//@id")
    assert len(ids) == len(set(ids))
    references = tree.xpath("//@aria-labelledby | //@for") + [link[1:] for link in tree.xpath("//a/@href")]
    assert set(references) <= set(ids)


def test_headings_never_skip_a_level_and_landmarks_have_names(tree: html.HtmlElement) -> None:
    levels = [int(heading.tag[1]) for heading in tree.iter("h1", "h2", "h3", "h4", "h5", "h6")]
    assert levels[0] == 1 and levels.count(1) == 1
    body = [level for level in levels if level < 6]
    assert all(after <= before + 1 for before, after in zip(body, body[1:], strict=False))
    assert all(plain(heading) for heading in tree.iter("h1", "h2", "h3", "h4", "h5", "h6"))
    assert len(tree.findall(".//main")) == 1
    named = tree.xpath("//nav | //section | //*[@role='search'] | //*[@role='region'] | //article")
    assert all(one.get("aria-label") or one.get("aria-labelledby") for one in named)


def test_every_field_has_a_label(tree: html.HtmlElement) -> None:
    for field in tree.xpath("//select | //input"):
        labels = tree.xpath("//label[@for=$name]", name=field.get("id")) + field.xpath("ancestor::label")
        assert len(labels) == 1 and plain(labels[0])


def test_nothing_in_the_page_comes_from_elsewhere(text: str, tree: html.HtmlElement) -> None:
    assert tree.xpath("//@src | //@srcset | //@action | //@background | //iframe | //object | //embed | //img") == []
    assert [link for link in tree.xpath("//@href") if not link.startswith(("#", "data:,"))] == []
    assert "@import" not in text and "url(" not in CSS
    assert tree.xpath("//@style") == [] and tree.xpath("//@*[starts-with(name(), 'on')]") == []


def test_the_policy_names_the_very_style_and_script_of_the_page(text: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)
    assert policy
    words = policy[1].replace("&#39;", "'")
    assert "default-src 'none'" in words and "unsafe" not in words
    for tag in ("style", "script"):
        content = re.search(f"<{tag}>(.*?)</{tag}>", text, re.S)
        assert content
        digest = base64.b64encode(hashlib.sha256(content[1].encode()).digest()).decode()
        assert f"{tag}-src 'sha256-{digest}'" in words


HOSTILE = "</title><script>alert(1)</script>\"' onload=x <b>&amp;"


@pytest.mark.parametrize("locale", [sampler.POINT, sampler.COMMA, sampler.EITHER])
def test_every_feature_of_the_model_is_shown(tmp_path: Path, locale: Locale) -> None:
    bank = sampler.bank(locale)
    tree = html.document_fromstring(written(bank, tmp_path, BuildSummary()))
    quizzed = [identifier for quiz in bank.quizzes for identifier in quiz.items]
    loose = [identifier for identifier in bank.identifiers() if identifier not in quizzed]
    shown = [one.partition("~")[0].removeprefix("item-") for one in tree.xpath("//article/@id")]
    assert sorted(shown) == sorted(quizzed + loose)
    for item in bank.items():
        article = tree.get_element_by_id(f"item-{item.identifier}")
        stem = plain(article.find_class("stem")[0])
        for line in item.stem:
            for leaf in line:
                if isinstance(leaf, str):
                    assert " ".join(leaf.split()) in stem
        assert len(article.xpath(".//ol[@class='steps']/li")) == len(item.solution.steps)
        keys = [one.numeral for one in getattr(item.response, "options", ()) if one.is_key] or [item.key]
        assert locale.number(keys[0]) in plain(article.find_class("mark")[0].getparent())


def test_hostile_texts_stay_texts(tmp_path: Path) -> None:
    bank = make_bank(10, loose=2)
    family = replace(
        bank.families["add-lengths"], title=HOSTILE, unit=Unit(text=HOSTILE), hint=((HOSTILE,),), topic='x" onload="y'
    )
    held = {
        name: replace(item, family=family, stem=((HOSTILE,),), parameters=((HOSTILE, HOSTILE),))
        if item.family.template == "add-lengths" else item
        for name, item in bank.held.items()
    }
    evil = replace(
        bank, held=held, families={**bank.families, "add-lengths": family},
        info=replace(bank.info, title=HOSTILE, plan=HOSTILE, rights=HOSTILE),
        quizzes=tuple(replace(quiz, title=HOSTILE) for quiz in bank.quizzes),
    )
    summary = replace(make_summary(evil), findings=(Finding(HOSTILE, "warning", HOSTILE, HOSTILE, HOSTILE),))
    text = written(evil, tmp_path, summary)
    assert text.count("<script>") == 1 and "<b>&amp;" not in text.replace("&lt;b&gt;&amp;amp;", "")
    tree = html.document_fromstring(text)
    assert tree.xpath("//@onload") == []
    assert plain(tree.find(".//h1")) == " ".join(HOSTILE.split())


def test_what_the_page_must_say_is_there(tree: html.HtmlElement) -> None:
    head = plain(tree.find_class("top")[0])
    for words in ("Harbour school, autumn decimals", "harbour-autumn", "20417", "en-point", "0.1.0",
                  "Invented scenario", "is a prediction", "a qualified person reviews"):
        assert words in head
    assert plain(tree.find_class("panel")[0]).count("over") == 1
    assert "± 41" in plain(tree.find_class("yields")[0]) and "counted" in plain(tree.find_class("yields")[0])
    assert all("not observed" in plain(one) for one in tree.xpath("//details[contains(@class, 'predicted')]"))


def test_a_bank_that_is_not_invented_is_not_called_so(tmp_path: Path) -> None:
    bank = make_bank(4, loose=0)
    assert "Invented scenario" not in written(replace(bank, info=replace(bank.info, invented=False)), tmp_path)


def test_numbers_are_written_as_in_the_locale(tmp_path: Path) -> None:
    bank = make_bank(20, COMMA)
    tree = html.document_fromstring(written(bank, tmp_path))
    for item in bank.items():
        article = tree.get_element_by_id(f"item-{item.identifier}")
        shown = plain(article.find_class("sheet")[0]) + plain(article.find_class("work")[0])
        assert not re.search(r"\d\.\d", plain(article.find_class("stem")[0]))
        assert item.key.text(",", "−") in shown
        assert "." not in plain(article.find_class("work")[0])


def test_an_item_in_two_quizzes_has_two_places_with_their_own_addresses(tmp_path: Path) -> None:
    bank = make_bank(16, loose=0)
    first, second = bank.quizzes
    again = replace(second, sections=(replace(second.sections[0], items=(first.items[0], *second.items)),))
    tree = html.document_fromstring(written(replace(bank, quizzes=(first, again)), tmp_path))
    assert len(tree.xpath("//article[starts-with(@id, $name)]", name=f"item-{first.items[0]}")) == 2
    assert len(set(tree.xpath("//article/@id"))) == 17


def test_a_bank_without_quizzes_and_without_figures_is_shown_too(tmp_path: Path) -> None:
    bank = replace(make_bank(12), quizzes=())
    tree = html.document_fromstring(written(bank, tmp_path, BuildSummary()))
    assert len(tree.xpath("//article")) == 12
    assert "12 items" in plain(tree.find_class("counts")[0])
    assert "no results of the panel" in plain(tree.get_element_by_id("panel"))


def test_a_very_large_bank_shows_an_even_sample_and_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    choose = sampling.choose
    monkeypatch.setattr(sampling, "choose", lambda bank: choose(bank, whole=199, size=60))
    bank = make_bank(200, per_quiz=50, loose=50)
    tree = html.document_fromstring(written(bank, tmp_path))
    assert len(tree.xpath("//article")) == 60
    assert "shows 60 of 200 places of items" in plain(tree.find_class("sampled")[0])
    assert "50 items, 15 shown" in plain(tree.find_class("quiz-facts")[0])
    assert set(Counter(tree.xpath("//article/@data-template")).values()) == {6}
    numbers = [int(re.findall(r"\d+", plain(one))[0]) for one in tree.xpath("//section[@data-week='1']//h5")]
    assert max(numbers) > 20, "the numbers are those in the quiz, not those on the page"


@pytest.mark.parametrize("size", [7, 60, 150])
@pytest.mark.parametrize("candidates", [30, 10_000])
def test_a_sample_is_as_even_as_the_bank_allows(size: int, candidates: int) -> None:
    bank = make_bank(200, per_quiz=50, loose=50)
    found = sampling.choose(bank, 100, size, candidates)
    assert found.shown == min(size, candidates) and found.places == 200 and not found.is_whole
    sizes = [len(items) for items in (*found.by_quiz.values(), sum(found.by_template.values(), ()))]
    assert max(sizes) - min(sizes) <= 1
    by_template = found.templates_shown.values()
    assert candidates == 30 or max(by_template) - min(by_template) <= 1
    assert found == sampling.choose(bank, 100, size, candidates)
    for quiz in bank.quizzes:
        shown = found.by_quiz[quiz.identifier]
        assert [item for item in quiz.items if item in shown] == list(shown)


def test_shares_give_small_groups_all_they_have_and_the_rest_to_the_others() -> None:
    assert sampling.shares({"a": 1, "b": 10, "c": 10}, 9) == {"a": 1, "b": 4, "c": 4}
    assert sampling.shares({"a": 1, "b": 2}, 9) == {"a": 1, "b": 2}
    assert sampling.shares({}, 9) == {}


def test_four_hundred_items_stay_below_three_megabytes(tmp_path: Path) -> None:
    assert len(written(make_bank(400), tmp_path).encode()) < 3_000_000


def luminance(colour: str) -> float:
    """Relative luminance as in WCAG 2.2, "relative luminance"."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """Contrast ratio as in WCAG 2.2, "contrast ratio"."""
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1])
def test_texts_stand_out_from_every_ground_they_lie_on(scheme: int) -> None:
    block = re.findall(r":root \{(.*?)\}", CSS, re.S)[scheme]
    colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
    for text in ("ink", "soft", "link", "warn", "key"):
        for ground in ("desk", "paper", "key-wash"):
            ratio = contrast(colours[text], colours[ground])
            assert ratio >= 4.5, f"{text} on {ground}: {ratio:.2f}"  # 4.5:1, WCAG 2.2 criterion 1.4.3
    for mark in ("bar", "edge"):
        assert contrast(colours[mark], colours["desk"]) >= 3, mark  # 3:1, WCAG 2.2 criterion 1.4.11


def test_bands_differ_in_grey() -> None:
    for block in re.findall(r":root \{(.*?)\}", CSS, re.S)[:2]:
        colours = dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))
        ladder = sorted(luminance(colours[band]) for band in ("easier", "middle", "harder"))
        assert (ladder[1] + 0.05) / (ladder[0] + 0.05) > 1.5 and (ladder[2] + 0.05) / (ladder[1] + 0.05) > 1.5


def test_a_page_that_cannot_be_finished_leaves_the_old_one(tmp_path: Path) -> None:
    path = tmp_path / "review.html"
    path.write_text("old", encoding="utf-8")
    bank = make_bank(8)
    broken = replace(bank, quizzes=(replace(bank.quizzes[0], sections=(
        replace(bank.quizzes[0].sections[0], items=("no-such-item",)),)),))
    with pytest.raises(KeyError):
        write_review(broken, make_summary(bank), path)
    assert path.read_text(encoding="utf-8") == "old" and len(list(tmp_path.iterdir())) == 1


def test_what_is_typed_has_its_line_of_the_mark_scheme() -> None:
    typed = review_bank.item(review_bank.FAMILIES[0], 3, typed=True)
    view = views.item_view(typed, review_bank.POINT, 1, "a")
    assert view.scheme == f"{review_bank.POINT.number(typed.key)} (any spelling of this value)"
    chosen = review_bank.item(review_bank.FAMILIES[0], 3)
    assert views.item_view(chosen, review_bank.POINT, 1, "a").scheme == ""


def test_a_step_to_mark_comes_with_the_field_of_the_answer_that_is_typed() -> None:
    page = kinds.body(kept_kinds.FIND, review_bank.POINT, partial(views.why, mistakes.seen_of(kept_kinds.FIND)))
    assert page.count("<li") >= len(kept_kinds.FIND.response.steps)
    assert 'class="field"' in page and "6.27" in page
    told = partial(views.why, mistakes.seen_of(kept_kinds.FIND_ONLY))
    assert 'class="field"' not in kinds.body(kept_kinds.FIND_ONLY, review_bank.POINT, told)
