"""Cartridges: valid by the official schemas and their rules, marked as the bank marks, the same bytes every time."""

from __future__ import annotations

import json
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache
from itertools import chain, combinations
from pathlib import Path
from typing import Any

import pytest
import xmlschema
import yaml
from lxml import etree
from wanted import OFFICIAL_SCHEMAS, needs

import kind_items
import sampler
import schematron
import standards
from bank.answers import accepted_forms
from bank.identity import asked_otherwise
from bank.marking import earned_marks, most_marks
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, Offer, PutInOrder, Quiz, TypedNumber,
)
from cartridge_rules import Question, questions
from cartridge_schemas import ITEMS_SCHEMA, MANIFEST_SCHEMA, SCHEMAS, as_11, compiled, folder, rules
from exported import exporter, unprinted, unzipped, write
from exporters import _cartridge, _cc_back
from exporters._cc_asked import offer_text, refusal
from exporters._cc_files import Cartridge
from exporters._faults import ExportFault
from exporters._profile import Profile
from exporters._qti import MANIFEST
from exporters._text import plain_text
from exporters._zip import ZipWriter, deflate
from sampler import SamplerBank

HERE = Path(__file__).parent
CASES: dict[str, list[dict[str, Any]]] = yaml.safe_load((HERE / "cases/cartridge.yaml").read_text("utf-8"))
EVERY = (*sampler.ITEMS, *kind_items.ITEMS)
CARRIED = tuple(one for one in EVERY if not refusal(one))
QUIZZES = (
    *sampler.QUIZZES,
    Quiz(identifier="week-04-kinds", title="Week 4", week=4,
         sections=(sampler.Section(title="All", items=tuple(one.identifier for one in kind_items.ITEMS)),)),
    Quiz(identifier="week-05-silent", title="Week 5", week=5, use="graded", show_feedback=False,
         sections=(sampler.Section(title="All", items=tuple(one.identifier for one in kind_items.ITEMS)),)),
)  # fmt: skip
GERMAN = replace(sampler.EITHER, identifier="de-comma", language="de")
LOCALES = (sampler.POINT, sampler.EITHER, GERMAN)


def whole(locale: Locale = sampler.POINT) -> SamplerBank:
    """Return the sampler with items of all kinds."""
    return sampler.bank(locale, EVERY, QUIZZES)


@lru_cache(maxsize=4)
def cartridges(locale: Locale = sampler.POINT) -> dict[str, dict[str, bytes]]:
    """Return the cartridges by name, unzipped."""
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        return {path.stem: unzipped(path) for path in write("cc13", whole(locale), Path(folder))}


def asked(locale: Locale, package: str = "bank") -> dict[str, Question]:
    """Return the questions of a cartridge by identifier."""
    name = next(name for name in cartridges(locale)[package] if name != MANIFEST)
    return {one.identifier: one for one in questions(cartridges(locale)[package][name])}


def test_a_cartridge_holds_one_file_of_items_and_the_manifest() -> None:
    for package, files in cartridges().items():
        assert list(files) == ["question-bank.xml" if package == "bank" else f"{package}.xml", MANIFEST]


def test_the_cartridges_are_the_golden_ones(accept: bool) -> None:
    place = HERE / "golden/cc13"
    found = {f"{package}/{name}": unprinted(data) for package, files in cartridges().items() for name, data in files.items()
             if package in ("week-02-test", "week-04-kinds") or name == MANIFEST}
    if accept:
        for file, data in found.items():
            (place / file).parent.mkdir(parents=True, exist_ok=True)
            (place / file).write_bytes(data)
    assert sorted(found) == sorted(old.relative_to(place).as_posix() for old in place.rglob("*.xml"))
    for file, data in found.items():
        assert data.decode() == (place / file).read_text("utf-8"), file


@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
def test_every_item_that_can_be_marked_right_is_there_and_no_other(locale: Locale) -> None:
    assert list(asked(locale)) == [asked_otherwise(one) for one in CARRIED]
    assert {one.family.template for one in EVERY if refusal(one)} == {"pairs-all", "pairs-parts"}
    kinds = {type(one.response) for one in CARRIED}
    assert kinds == {Choice, ChooseSeveral, ChooseInLine, FindMistake, PutInOrder, TypedNumber}


def answers(question: Question, item: Item, locale: Locale) -> list[tuple[str, ...]]:
    """Return answers that can be given to *question*: every option, every set of options, spellings right and wrong."""
    if isinstance(item.response, TypedNumber):
        forms = accepted_forms(item.key, locale, item.response.policy, item.family.unit)
        wrong = [locale.number(one) for one, _ in item.response.mistakes]
        return [(form,) for form in (*forms, *wrong, "", "0", "nothing", f"{forms[0]}1", f" {forms[0]}")]
    names = list(question.options)
    most = len(names) if isinstance(item.response, ChooseSeveral) else 1
    return list(chain.from_iterable(combinations(names, count) for count in range(most + 1)))


def right_in_bank(item: Item, question: Question, given: tuple[str, ...], locale: Locale) -> bool:
    """Return whether the bank's own key takes *given* as right, asked as the cartridge asks it."""
    response = item.response
    if isinstance(response, PutInOrder):
        shown = question.options[given[0]] if given else ""
        names = {offer_text(offer, locale): offer.identifier for offer in response.offers}
        order = tuple(names[text] for text in shown.split(f"{locale.list_separator} ")) if shown else ()
        return earned_marks(item, order, locale) == most_marks(response)
    if isinstance(response, FindMistake):
        return earned_marks(replace(item, response=replace(response, typed=None)), given or ("",), locale) == 1
    if isinstance(response, ChooseSeveral):
        return earned_marks(item, given, locale) == most_marks(response) and all(
            option.is_key for option in response.options if option.identifier in given)
    return earned_marks(item, given[0] if given else "", locale) == 1


@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
@pytest.mark.parametrize("package", ["bank", "week-05-silent"])
def test_an_independent_reading_of_the_rules_marks_every_answer_as_the_bank_does(locale: Locale, package: str) -> None:
    shown = asked(locale, package)
    tried = 0
    for item in (one for one in whole(locale).kept if not refusal(one)):
        if asked_otherwise(item) not in shown:
            continue
        question = shown[asked_otherwise(item)]
        seen = set()
        for given in answers(question, item, locale):
            score, _ = question.mark(*given)
            assert score == (100 if right_in_bank(item, question, given, locale) else 0), (item.identifier, given)
            seen.add(score)
            tried += 1
        assert seen == {0, 100}
    assert tried > (200 if package == "bank" else 60)


@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
def test_feedback_and_solution_come_with_every_answer_and_say_what_they_should(locale: Locale) -> None:
    shown = asked(locale)
    for item in CARRIED:
        question = shown[asked_otherwise(item)]
        for given in answers(question, item, locale):
            if not given or given == ("",):
                continue
            score, names = question.mark(*given)
            assert ("solution" in names) == item.family.show_solution
            said = [question.said(name) for name in names if name != "solution"]
            praised = bool(item.family.praise) and isinstance(item.response, Choice | TypedNumber) and score
            if praised:
                assert said == [" ".join(plain_text(line, locale) for line in item.family.praise)]
            if item.family.hint and not score and not isinstance(item.response, ChooseSeveral | TypedNumber):
                assert plain_text(item.family.hint[0], locale) in said[0]


def test_the_tool_s_own_english_is_marked_as_such_among_other_languages() -> None:
    content = cartridges(GERMAN)["week-04-kinds"]["week-04-kinds.xml"].decode()
    assert content.count('xml:lang="de"') == 2 + content.count("<item ")
    assert 'xml:lang="en">Work without a calculator.<' in content
    for marked in ("p lang='en'>Choose one", "span lang='en'>Here it goes wrong.", "ol lang='en'>"):
        assert f"&lt;{marked}".replace("'", '"').replace(">", "&gt;") in content
    assert 'lang="en"&gt;' not in cartridges()["week-04-kinds"]["week-04-kinds.xml"].decode()


def test_a_quiz_without_feedback_shows_none() -> None:
    for package in ("week-02-test", "week-05-silent"):
        content = cartridges()[package][f"{package}.xml"]
        assert b"feedback ident" not in content and b"displayfeedback" not in content
        assert b"<fieldlabel>qmd_feedbackpermitted</fieldlabel><fieldentry>No</fieldentry>" in content


@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
def test_stems_and_options_read_back_are_those_of_the_bank(locale: Locale, tmp_path: Path) -> None:
    path = write("cc13", whole(locale), tmp_path)[-1]
    for item, read in zip(CARRIED, exporter("cc13").read_back(path), strict=True):
        assert read.identifier == asked_otherwise(item) and _cc_back.difference(item, read, locale, True) == ""
        assert read.stem[:-1] == tuple(plain_text(line, locale) for line in item.stem)


def test_the_working_to_be_judged_and_the_solution_are_tables_of_text() -> None:
    question = asked(sampler.POINT)["find-all.v1-s1-as-choice"]
    stem = question.stem()
    assert "5.27" not in stem.split("Choose the step")[1] and "Choose the step with the mistake." in stem
    assert "Nothing else" not in stem
    assert question.options["S4"] == "Step 4: Tenths: 4 plus 8 is 12; write 2."
    table = etree.fromstring(f"<d>{question.said('solution')}</d>")
    assert [cell.text for cell in table.iter("td") if cell.text] and table.find(".//caption") is not None


def test_a_pupil_is_told_that_the_answer_besides_the_step_is_not_asked() -> None:
    typed = [item for item in CARRIED if isinstance(item.response, FindMistake) and item.response.typed]
    for item in typed:
        stem = asked(sampler.POINT)[asked_otherwise(item)].stem()
        assert "Choose the step with the mistake. Nothing else is to be answered here." in stem
    assert typed


def test_a_time_limit_and_attempts_are_said_in_the_profile_s_fields() -> None:
    content = cartridges()["week-02-test"]["week-02-test.xml"].decode()
    head = content.split("<rubric>")[0]
    fields = dict(re.findall("<fieldlabel>(.*?)</fieldlabel><fieldentry>(.*?)</fieldentry>", head))
    assert fields["qmd_timelimit"] == "25" and fields["cc_allow_late_submission"] == "No"
    assert fields["cc_maxattempts"] == "1" and "You may use a calculator." in content


# The official schemas and the rules in them.

official = pytest.mark.skipif(standards.folder() is None, reason=needs(OFFICIAL_SCHEMAS))


@official
@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
def test_the_official_schemas_and_their_rules_take_every_file(locale: Locale) -> None:
    for files in cartridges(locale).values():
        for file, content in files.items():
            name = MANIFEST_SCHEMA if file == MANIFEST else ITEMS_SCHEMA
            root = etree.fromstring(as_11(content) if file == MANIFEST else content)
            compiled(name).assertValid(root)
            assert schematron.broken(root, rules(name)) == [], file


@official
def test_all_rules_of_the_official_schemas_are_found() -> None:
    counts = [sum(len(rule.assertions) for pattern in rules(name) for rule in pattern)
              for name in (ITEMS_SCHEMA, MANIFEST_SCHEMA)]
    assert counts == [73, 54]


@official
@pytest.mark.parametrize("case", CASES["rules"], ids=[f"{case['rule']} {case['damage']}" for case in CASES["rules"]])
def test_a_file_that_breaks_a_rule_is_named_by_it(case: dict[str, Any]) -> None:
    text, name = original(case)
    schema = MANIFEST_SCHEMA if name == MANIFEST else ITEMS_SCHEMA
    text = as_11(text.encode()).decode() if name == MANIFEST else text
    assert schematron.broken(etree.fromstring(text.encode()), rules(schema)) == []
    assert case["rule"] in schematron.broken(etree.fromstring(damaged(case, text).encode()), rules(schema))


@official
def test_a_second_validator_takes_an_item_of_each_kind() -> None:
    catalog = json.loads((folder() / "catalog.json").read_text("utf-8"))

    def local(address: str) -> str:
        return (folder() / catalog[address]).resolve().as_uri() if address in catalog else address

    schema = xmlschema.XMLSchema(str(folder() / SCHEMAS / ITEMS_SCHEMA), allow="local", uri_mapper=local)
    for package in ("bank", "week-04-kinds", "week-02-test"):
        name = next(name for name in cartridges()[package] if name != MANIFEST)
        assert [str(fault) for fault in schema.iter_errors(cartridges()[package][name].decode())] == []


# Our own profile, and reading back.


def original(case: dict[str, Any]) -> tuple[str, str]:
    """Return the text that a case damages, and the name of the file."""
    package = case.get("package", "week-04-kinds" if case.get("of") != "typed" else "week-01-a")
    name = MANIFEST if case.get("of") == "manifest" else next(n for n in cartridges()[package] if n != MANIFEST)
    return cartridges()[package][name].decode(), name


def damaged(case: dict[str, Any], text: str) -> str:
    """Return *text* with the damage of *case* done once, behind the place that ``behind`` names."""
    start = text.index(case["from"], text.index(case["behind"]) if "behind" in case else 0)
    end = start + len(case["from"])
    if "until" in case:
        end = text.index(case["until"], end) + len(case["until"])
    bank = re.search('resource identifier="([^"]*)"', text)
    return text[:start] + case["to"].replace("THE-BANK", bank[1] if bank else "") + text[end:]


@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
def test_every_file_follows_our_profile(locale: Locale) -> None:
    profiles = {part: Profile(Cartridge(), part) for part in ("items", "manifest")}
    for files in cartridges(locale).values():
        for file, content in files.items():
            profiles["manifest" if file == MANIFEST else "items"].check(content, file)


@pytest.mark.parametrize("case", CASES["profile"], ids=[case["damage"] for case in CASES["profile"]])
def test_our_profile_refuses_a_damaged_file(case: dict[str, Any]) -> None:
    text, name = original(case)
    profile = Profile(Cartridge(), "manifest" if name == MANIFEST else "items")
    with pytest.raises(ExportFault, match=r"does not follow|no XML"):
        profile.check(damaged(case, text).encode(), "damaged")


def rewritten(path: Path, changes: Callable[[str, bytes], bytes], more: tuple[str, ...] = ()) -> Path:
    """Write the cartridge at *path* anew with its files changed and *more* files, and return its path."""
    files = unzipped(path)
    with path.open("wb") as file:
        writer = ZipWriter(file)
        for name, content in files.items():
            writer.add(deflate(name, changes(name, content)))
        for name in more:
            writer.add(deflate(name, b"x"))
        writer.close()
    return path


@pytest.mark.parametrize("case", CASES["scoring"], ids=[case["damage"] for case in CASES["scoring"]])
def test_damage_that_follows_the_profile_is_seen_when_read_back(case: dict[str, Any], tmp_path: Path) -> None:
    text, _ = original(case)
    spoiled = damaged(case, text)
    Profile(Cartridge(), "items").check(spoiled.encode(), "spoiled")
    comparer = _cc_back.Comparer(sampler.POINT)
    package = case.get("package", "week-04-kinds" if case.get("of") != "typed" else "week-01-a")
    quiz = next(one for one in QUIZZES if one.identifier == package)
    items = [one for name in quiz.items for one in CARRIED if one.identifier == name]
    comparer.check_items(etree.fromstring(text.encode()), iter(items), "as written")
    with pytest.raises(ExportFault, match=case["wrong"]):
        comparer.check_items(etree.fromstring(spoiled.encode()), iter(items), "spoiled")


def test_a_stray_file_a_document_type_and_a_bomb_are_refused(tmp_path: Path) -> None:
    read_back = exporter("cc13").read_back

    def fresh() -> Path:
        return next(path for path in write("cc13", whole(), tmp_path) if path.stem == "week-04-kinds")

    def behind_the_head(old: str, new: bytes) -> Callable[[str, bytes], bytes]:
        return lambda name, content: content if name == MANIFEST else content.replace(old.encode(), new, 1)

    assert len(list(read_back(fresh()))) == 8
    with pytest.raises(ExportFault, match="other files"):
        list(read_back(rewritten(fresh(), lambda name, content: content, ("stray.xml",))))
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaa"><!ENTITY file SYSTEM "file:///secret">]>\n<questestinterop'
    with pytest.raises(ExportFault, match="document type"):
        list(read_back(rewritten(fresh(), behind_the_head("<questestinterop", bomb))))
    with pytest.raises(ExportFault, match="far longer than it is packed"):
        list(read_back(rewritten(fresh(), behind_the_head("</section>", b" " * (40 << 20) + b"</section>"))))
    with pytest.raises(ExportFault, match="manifest|not list"):
        list(read_back(rewritten(fresh(), lambda name, content: content.replace(b"week-04-kinds.xml", b"other.xml"))))


def test_a_cartridge_that_is_wrong_when_read_back_takes_no_place(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    packed = _cartridge.deflate_piece
    before = {path: path.read_bytes() for path in write("cc13", whole(), tmp_path)}
    for old, new in ((b">5.27<", b">5.29<"), (b'case="Yes">B</var', b'case="Yes">C</var'), (b"</item>", b"</itam>")):
        monkeypatch.setattr(_cartridge, "deflate_piece", lambda content: packed(content.replace(old, new)))
        with pytest.raises(ExportFault):
            write("cc13", whole(), tmp_path)
        assert {path: path.read_bytes() for path in (tmp_path / "cc13").iterdir()} == before


def long_bank(count: int) -> SamplerBank:
    """Return a bank of *count* items of all kinds under new identifiers, with two quizzes."""
    items = [replace(EVERY[at % len(EVERY)], identifier=f"n{at}") for at in range(count)]
    quizzes = (
        Quiz(identifier="long", title="Long", week=1,
             sections=(sampler.Section(title="A", items=tuple(one.identifier for one in items[::2])),)),
        Quiz(identifier="short", title="Short", week=1, show_feedback=False,
             sections=(sampler.Section(title="A", items=tuple(one.identifier for one in items[:7])),)),
    )  # fmt: skip
    return sampler.bank(items=items, quizzes=quizzes)


def test_the_cartridges_are_the_same_bytes_with_one_process_or_two(tmp_path: Path) -> None:
    bank = long_bank(3 * _cartridge.JOB + 7)
    source = bank.save(tmp_path / "bank.sqlite")
    one = write("cc13", bank, tmp_path / "one")
    two = write("cc13", bank, tmp_path / "two", jobs=2, source=source)
    assert [path.name for path in one] == ["long.imscc", "short.imscc", "bank.imscc"] == [path.name for path in two]
    for left, right in zip(one, two, strict=True):
        assert left.read_bytes() == right.read_bytes()
    with zipfile.ZipFile(one[-1]) as package:
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}
    assert len(list(exporter("cc13").read_back(one[-1]))) == sum(not refusal(item) for item in bank.kept if item.shows_feedback)


def test_progress_ends_at_the_total(tmp_path: Path) -> None:
    said: list[tuple[int, int]] = []
    bank = long_bank(_cartridge.JOB + 20)
    exporter("cc13").write(tmp_path, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=1,
                           progress=lambda done, total: said.append((done, total)))
    assert said[-1][0] == said[-1][1] and [done for done, _ in said] == sorted(done for done, _ in said)


def test_a_cartridge_without_items_that_can_be_carried_is_not_written(tmp_path: Path) -> None:
    pairs = tuple(one for one in kind_items.ITEMS if isinstance(one.response, MatchPairs))
    assert write("cc13", sampler.bank(items=(), quizzes=()), tmp_path) == []
    assert write("cc13", sampler.bank(items=pairs, quizzes=()), tmp_path) == []
    one = write("cc13", sampler.bank(items=(*pairs, sampler.ITEMS[0]), quizzes=()), tmp_path)
    assert [read.identifier for read in exporter("cc13").read_back(one[0])] == [sampler.NAMES[0]]


def choice_of(count: int) -> Item:
    """Return a choice of *count* options, the key among them."""
    one = sampler.ITEMS[0]
    assert isinstance(one.response, Choice)
    options = sorted(one.response.options, key=lambda option: not option.is_key)[:count]
    return replace(one, response=replace(one.response, options=tuple(options)))


@pytest.mark.parametrize(
    ("item", "why"),
    [
        (choice_of(2), "2 options"),
        (kind_items.of_kind("pairs-all"), "pairs"),
        (replace(kind_items.of_kind("order-all"),
                 response=replace(kind_items.ORDER, mistakes=kind_items.ORDER.mistakes[:1])), "fewer than two wrong"),
        (replace(kind_items.of_kind("find-all"),
                 response=replace(kind_items.find_mistake(), steps=kind_items.find_mistake().steps[:2])), "2 steps"),
    ],
)  # fmt: skip
def test_what_cannot_be_marked_right_is_refused_with_a_reason(item: Item, why: str) -> None:
    assert why in refusal(item)
    assert refusal(choice_of(3)) == ""


@pytest.mark.parametrize("text", ["a\x00b", "a\ufffeb", "a\ud800b"], ids=ascii)
def test_a_character_that_xml_cannot_hold_is_refused_by_name(text: str, tmp_path: Path) -> None:
    item = replace(sampler.ITEMS[0], stem=((text,),))
    with pytest.raises(ExportFault, match=r"add-01\.v1-s1: .* which XML cannot hold"):
        write("cc13", sampler.bank(items=(item,), quizzes=()), tmp_path)


def test_options_that_contradict_the_key_are_refused(tmp_path: Path) -> None:
    one = kind_items.of_kind("several-all")
    assert isinstance(one.response, ChooseSeveral)
    options = one.response.options
    same: tuple[Offer, ...] = (replace(options[1], identifier="A"), *options[1:])
    for spoiled in (same, tuple(replace(option, is_key=False) for option in options),
                    (replace(options[1], identifier="Z"), *options[1:])):
        item = replace(one, response=replace(one.response, options=spoiled))
        with pytest.raises(ExportFault, match=r"cc13: several-all\.v1-s1: "):
            write("cc13", sampler.bank(items=(item,), quizzes=()), tmp_path)
