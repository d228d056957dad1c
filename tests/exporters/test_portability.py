"""Portability reports and trial packages: nothing is dropped in silence, and the pages can be read by everyone."""

from __future__ import annotations

import csv
import importlib
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from types import ModuleType

import pytest
from lxml import html

import exporters
import kind_items
import sampler
from bank import registry
from bank.cli import main
from bank.identity import asked_otherwise
from bank.marking import most_marks
from bank.model import Choice, FindMistake, Item, MatchPairs, Quiz, Section, TypedNumber
from browser import launched
from cartridge_rules import questions
from exported import unzipped, write
from exporters import _reports
from exporters._cc_asked import refusal
from exporters._portability import CHANGED, EFFECTS, KINDS, LEFT_OUT, Target, target_of
from exporters._reports import COLUMNS, Report, write_reports
from exporters._trial import one_of_each, trial_quiz, tries, write_note
from exporters._words import Words
from sampler import SamplerBank

NAMES = registry.module_names(exporters)
EVERY = (*sampler.ITEMS, *kind_items.ITEMS)
KINDS_QUIZ = Quiz(
    identifier="kinds", title="All <kinds> & more", week=4, minutes=20,
    sections=(Section(title="First", items=tuple(one.identifier for one in EVERY[:20])),
              Section(title="Then", items=tuple(one.identifier for one in EVERY[20:]))),
)  # fmt: skip


def module(name: str) -> ModuleType:
    """Return an exporter."""
    return importlib.import_module(f"exporters.{name}")


def bank(items: Sequence[Item] = EVERY, quizzes: Sequence[Quiz] = (KINDS_QUIZ,)) -> SamplerBank:
    """Return a bank of all kinds."""
    return sampler.bank(items=items, quizzes=quizzes)


def written(
    name: str, folder: Path, given: SamplerBank | None = None, *, whole_bank: bool = True
) -> dict[str, Report]:
    """Write the reports of a target and return them by package."""
    source = given or bank()
    reports = write_reports([target_of(module(name))], source, source.quizzes, folder, whole_bank=whole_bank)
    return {report.name: report for report in reports}


def rows(path: Path) -> list[dict[str, str]]:
    """Return the rows of a table."""
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file, strict=True))


@pytest.mark.parametrize("name", NAMES)
def test_remarks_have_names_of_their_own_known_effects_and_whole_sentences(name: str) -> None:
    target = target_of(module(name))
    remarks = (*target.remarks, *target.quiz_remarks)
    assert remarks and len({remark.code for remark in remarks}) == len(remarks)
    for remark in remarks:
        assert remark.effect in EFFECTS and remark.effect != LEFT_OUT
        assert remark.says.endswith(".") and remark.code == remark.code.lower() and " " not in remark.code


@pytest.mark.parametrize("name", NAMES)
def test_every_remark_holds_of_something(name: str) -> None:
    target = target_of(module(name))
    assert [remark.code for remark in target.remarks if not any(map(remark.holds, EVERY))] == []
    drawn = replace(KINDS_QUIZ, shuffled=True, attempts=9, sections=(replace(KINDS_QUIZ.sections[0], select=3),))
    asked = (None, KINDS_QUIZ, drawn, *sampler.QUIZZES)
    assert [remark.code for remark in target.quiz_remarks if not any(map(remark.holds, asked))] == []


@pytest.mark.parametrize("name", NAMES)
def test_the_table_says_of_each_item_what_happens_to_it(name: str, tmp_path: Path) -> None:
    target = target_of(module(name))
    for package, report in written(name, tmp_path).items():
        table = rows(tmp_path / name / f"{package}.portability.csv")
        assert tuple(table[0]) == COLUMNS
        items = [row for row in table if row["about"] == "item"]
        assert [row["item"] for row in items] == [
            one.identifier if target.refusal(one) else target.as_asked(one).identifier for one in EVERY]
        said = {row["remarks"]: row["says"] for row in table if row["about"] != "item"}
        for row, item in zip(items, EVERY, strict=True):
            assert row["kind"] == KINDS[type(item.response)] and row["template"] == item.family.template
            if target.refusal(item):
                assert (row["effect"], row["says"], row["remarks"]) == (LEFT_OUT, target.refusal(item), "")
            else:
                codes = [remark.code for remark in target.remarks if remark.holds(item)]
                assert row["remarks"] == "; ".join(codes) and set(codes) <= set(said)
                assert row["effect"] == ("carried" if not codes else row["effect"])
        assert report.items == len(EVERY) and report.left_out == sum(bool(target.refusal(one)) for one in EVERY)


def test_a_quiz_without_feedback_is_not_said_to_have_some(tmp_path: Path) -> None:
    graded = replace(KINDS_QUIZ, identifier="graded", show_feedback=False)
    source = sampler.bank(items=EVERY, quizzes=(KINDS_QUIZ, graded))
    write_reports([target_of(module("qti30"))], source, source.quizzes, tmp_path, whole_bank=False)
    tables = {name: (tmp_path / f"qti30/{name}.portability.csv").read_text() for name in ("graded", "kinds")}
    assert "feedback-inside-options" in tables["kinds"] and "solution-after-the-answer" in tables["kinds"]
    assert "feedback-inside-options" not in tables["graded"] and "solution-after" not in tables["graded"]


def test_what_a_cartridge_leaves_out_or_asks_otherwise_is_what_the_report_says(tmp_path: Path) -> None:
    package = next(path for path in write("cc13", bank(), tmp_path) if path.stem == "kinds")
    there = {one.identifier for one in questions(unzipped(package)["kinds.xml"])}
    written("cc13", tmp_path)
    table = {row["item"]: row for row in rows(tmp_path / "cc13/kinds.portability.csv") if row["item"]}
    assert {item for item, row in table.items() if row["effect"] != LEFT_OUT} == there
    for item in EVERY:
        codes = table[item.identifier if refusal(item) else asked_otherwise(item)]["remarks"].split("; ")
        parted = most_marks(item.response) > 1 and not isinstance(item.response, MatchPairs)
        assert ("all-marks-or-none" in codes) == parted
        assert ("step-asked-as-a-choice" in codes) == isinstance(item.response, FindMistake)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_names_every_remark_and_every_item_left_out(name: str, tmp_path: Path) -> None:
    for package, report in written(name, tmp_path).items():
        tree = html.parse(str(tmp_path / name / f"{package}.portability.html")).getroot()
        text = " ".join(tree.text_content().split())
        assert tree.get("lang") == "en" and len(tree.findall(".//h1")) == 1
        for remark in (*report.counts, *report.quiz_remarks):
            assert remark.code in text and remark.says in text
        for item in EVERY:
            assert item.identifier in text
        assert ("Left out" in text) == bool(report.left_out)
        assert not tree.xpath("//script | //link | //img | //*[@src] | //@href")
        assert all(table.find("caption") is not None for table in tree.iter("table"))
        assert all(head.get("scope") in ("col", "row") for head in tree.iter("th"))


def test_words_of_the_bank_arrive_on_the_page_as_words(tmp_path: Path) -> None:
    hostile = "<script>alert(1)</script> \u202e\u05d0 \U0001f9ee" + "x" * 10_000
    item = replace(EVERY[0], stem=((hostile,),), family=replace(EVERY[0].family, title=hostile))
    quiz = Quiz(identifier="q", title=hostile, week=1, sections=(Section(title="S", items=(item.identifier,)),))
    for name in NAMES:
        written(name, tmp_path, bank((item,), (quiz,)))
        for page in (tmp_path / name).glob("*.html"):
            tree = html.parse(str(page)).getroot()
            assert not tree.xpath("//script") and "<script>alert(1)" in tree.text_content()


def test_a_long_bank_is_named_in_part_on_the_page_and_in_full_in_the_table(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_reports, "LISTED", 5)
    report = written("cc13", tmp_path)["bank"]
    assert len(report.rows) == 5 and report.items == len(EVERY)
    assert len(rows(tmp_path / "cc13/bank.portability.csv")) > len(EVERY)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("count", [0, 1])
def test_a_bank_of_none_or_one_item_has_its_report(name: str, count: int, tmp_path: Path) -> None:
    given = bank(EVERY[:count], ())
    report = next(iter(written(name, tmp_path, given).values()))
    assert report.items == count
    assert (tmp_path / name / f"{report.name}.portability.html").is_file()


def test_one_pass_over_the_items_serves_all_targets(tmp_path: Path) -> None:
    passes = []

    class Counted(SamplerBank):
        def items(self, *arguments: object, **more: object) -> Iterator[Item]:  # type: ignore[override]
            passes.append(1)
            return super().items(*arguments, **more)  # type: ignore[arg-type]

    given = Counted(sampler.info(), (KINDS_QUIZ,), EVERY)
    write_reports([target_of(module(name)) for name in NAMES], given, given.quizzes, tmp_path, whole_bank=True)
    assert len(passes) == 1


def test_what_is_left_out_is_said_aloud(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = bank().save(tmp_path / "bank.sqlite")
    assert main(["export", str(path), "--as", "cc13", "--as", "qti30", "--jobs", "1", "-o", str(tmp_path)]) == 0
    said = capsys.readouterr()
    lines = said.err.splitlines()
    assert len(lines) == 2 and all(line.startswith("cc13: 2 of 25 items of") for line in lines)
    assert all("pairs cannot be matched" in line and "portability.html" in line for line in lines)
    assert "cc13/*.portability.html: what cc13 cannot carry" in said.out


def test_a_trial_of_a_bank_without_items_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = bank((), ()).save(tmp_path / "bank.sqlite")
    assert main(["export", str(path), "--as", "cc13", "--trial", "--jobs", "1", "-o", str(tmp_path)]) == 0
    assert "nothing to try" in capsys.readouterr().err
    assert main(["export", str(path), "--as", "cc13", "--jobs", "1", "-o", str(tmp_path)]) == 0
    assert "cc13: bank has no items" in capsys.readouterr().err


def test_a_trial_has_one_item_of_each_kind_and_a_name_that_no_quiz_has() -> None:
    chosen = one_of_each(EVERY)
    assert {type(one.response) for one in chosen} == {type(one.response) for one in EVERY}
    assert len([one for one in chosen if isinstance(one.response, Choice)]) == 1
    assert {one.response.policy for one in chosen if isinstance(one.response, TypedNumber)} == {"value", "places"}
    assert trial_quiz(chosen, ["a"]).identifier == "trial"
    assert trial_quiz(chosen, ["trial", "trial-2"]).identifier == "trial-3"


@pytest.mark.parametrize("item", one_of_each(EVERY), ids=lambda item: item.identifier)
def test_what_to_try_begins_with_right_answers_and_holds_wrong_ones(item: Item) -> None:
    found = tries(item, sampler.POINT, Words(sampler.POINT))
    marks = [one.marks for one in found]
    assert max(marks) == most_marks(item.response) > min(marks)
    assert len({one.answer for one in found}) == len(found)


@pytest.mark.parametrize("name", NAMES)
def test_the_page_of_a_trial_lists_answers_and_what_is_not_there(name: str, tmp_path: Path) -> None:
    chosen = one_of_each(EVERY)
    target: Target = target_of(module(name))
    path = write_note(target, chosen, trial_quiz(chosen, ()), sampler.info(), "trial.zip", tmp_path)
    tree = html.parse(str(path)).getroot()
    text = " ".join(tree.text_content().split())
    for item in chosen:
        assert item.identifier in text
        if target.refusal(item):
            assert target.refusal(item) in text
        else:
            assert tries(target.as_asked(item), sampler.POINT, Words(sampler.POINT))[0].answer.split(";")[0] in text
    assert ("Not in the package" in text) == any(target.refusal(item) for item in chosen)


def test_a_cartridge_asks_marks_in_full_only() -> None:
    target = target_of(module("cc13"))
    assert {most_marks(target.as_asked(item).response) for item in EVERY} == {1}
    assert any(remark.effect == CHANGED for remark in target.remarks)


@pytest.mark.long
def test_pages_fit_the_screen_and_the_paper(tmp_path: Path) -> None:
    written("cc13", tmp_path)
    chosen = one_of_each(EVERY)
    note = write_note(target_of(module("cc13")), chosen, trial_quiz(chosen, ()), sampler.info(), "t", tmp_path)
    asked: list[str] = []
    with launched() as browser:
        for width in (360, 1200):
            page = browser.new_page(viewport={"width": width, "height": 800})
            page.on("request", lambda request: asked.append(request.url))
            for path in (tmp_path / "cc13/kinds.portability.html", note):
                page.goto(path.as_uri())
                assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")
                page.emulate_media(media="print")
                shown = page.evaluate("getComputedStyle(document.querySelector('thead')).display")
                assert shown == "table-header-group"
                page.emulate_media(media="screen")
            page.close()
    assert len(asked) == 4 and all(address.startswith("file:") for address in asked)


@pytest.mark.parametrize("name", ["qti30", "qti22", "qti21"])
def test_remarks_on_qti_are_true_of_the_files(name: str, tmp_path: Path) -> None:
    target = target_of(module(name))
    package = next(path for path in write(name, bank(), tmp_path) if path.stem == "bank")
    files = unzipped(package)
    for item in EVERY:
        content = files[f"items/{item.identifier}.xml"]
        held = {remark.code for remark in target.remarks if remark.holds(item)}
        facts = {
            "mathematics-drawn-by-the-lms": b"<math" in content.split(b"<modal")[0].split(b"<qti-modal")[0],
            "no-name-of-the-field": (b"extEntryInteraction" in content or b"inlineChoiceInteraction" in content
                                     or b"ext-entry" in content) and b"aria-label" not in content,
            "feedback-inside-options": b"feedbackInline" in content or b"feedback-inline" in content,
            "steps-marked-in-the-text": b"hottext" in content,
        }
        for code, fact in facts.items():
            assert (code in held) == fact, (item.identifier, code)
        spoken = b"data-catalog-idref" in content
        assert not spoken or name == "qti30"
        assert "no-spoken-forms" not in held or not spoken


def test_spoken_forms_are_there_where_the_other_targets_say_that_they_miss_them(tmp_path: Path) -> None:
    package = next(path for path in write("qti30", bank(), tmp_path) if path.stem == "bank")
    files = unzipped(package)
    missed = next(remark for remark in target_of(module("qti21")).remarks if remark.code == "no-spoken-forms")
    for item in EVERY:
        assert missed.holds(item) == (b"<qti-catalog " in files[f"items/{item.identifier}.xml"]), item.identifier


@pytest.mark.parametrize("name", ["qti30", "qti22", "qti21", "cc13"])
def test_wrong_answers_foreseen_that_get_the_hint_only_are_reported(name: str) -> None:
    (remark,) = [one for one in target_of(module(name)).remarks if one.code == "few-remedies"]
    four, three = sampler.ITEMS[2], sampler.ITEMS[5]
    assert isinstance(four.response, TypedNumber) and len(four.response.mistakes) == 4
    assert remark.of_feedback and remark.holds(four) and not remark.holds(three) and not remark.holds(sampler.ITEMS[0])
