"""Two banks compared: what is one item changed, what differs in it, which quizzes are touched, what pupils have met."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import kept_kinds
import pytest
from bank import cli
from bank.comparison import Comparison, compare
from bank.comparison.page import marked, terminal_lines, write_page
from bank.comparison.facets import Facet
from bank.model import (
    BankInfo, Choice, Correction, Item, Locale, Option, Quiz, Section, TypedNumber, Unit,
)
from bank.numerals import Numeral
from bank.store import Bank, pack, write_bank
from results_bank import item

POINT = Locale(identifier="en-point", language="en")
INFO = BankInfo(title="Terms", plan="terms", seed=1, locale=POINT, tool_version="0", invented=True)
CHOICE = item("add", identifier="choice-v1-a", of={"template": "choice"})
TYPED = item("add", typed=True, identifier="typed-v1-a", of={"template": "typed", "unit": "m"})


def written(path: Path, items: Sequence[Item], quizzes: Sequence[Quiz] = (), info: BankInfo = INFO) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    families = {one.family.key: one.family for one in items}
    rows = [(one.identifier, one.family.key, one.prediction.band, pack(one)) for one in items]
    write_bank(path, info, families.values(), quizzes, rows, "")
    return path


def quiz(name: str, *items: Item, **more: object) -> Quiz:
    return Quiz(identifier=name, title=name.title(), week=1,
                sections=(Section(title="All", items=tuple([one.identifier for one in items])),), **more)  # type: ignore


def renamed(one: Item, **changes: object) -> Item:
    return replace(one, identifier=f"{one.identifier}x", **changes)  # type: ignore[arg-type]


def of_family(one: Item, **changes: object) -> Item:
    return renamed(one, family=replace(one.family, **changes))  # type: ignore[arg-type]


def both(
    folder: Path, old: Sequence[Item], new: Sequence[Item], quizzes: tuple[Sequence[Quiz], Sequence[Quiz]] = ((), ()),
    met: frozenset[str] | None = None, info: BankInfo = INFO,
) -> Comparison:
    paths = written(folder / "old" / "bank.sqlite", old, quizzes[0]), written(
        folder / "new" / "bank.sqlite", new, quizzes[1], info)
    with Bank.open(paths[0]) as one, Bank.open(paths[1]) as other:
        return compare(one, other, {} if met is None else {paths[0]: met})


def options(one: Item, change: Callable[[list[Option]], list[Option]]) -> Item:
    assert isinstance(one.response, Choice)
    made = [replace(option, identifier="ABCDE"[at]) for at, option in enumerate(change(list(one.response.options)))]
    return renamed(one, response=replace(one.response, options=tuple(made)))


EDITS = {
    "stem": (CHOICE, renamed(CHOICE, stem=(("Add: ", *CHOICE.stem[0]),)), {"Question"}),
    "title": (CHOICE, of_family(CHOICE, title="Another"), {"Title"}),
    "hint": (CHOICE, of_family(CHOICE, hint=(("Look again.",),)), {"If wrong"}),
    "praise": (CHOICE, of_family(CHOICE, praise=(("Well done.",),)), {"If right"}),
    "version": (CHOICE, of_family(CHOICE, version=2), {"Version"}),
    "unit": (TYPED, of_family(TYPED, unit=Unit(text="km")), {"Right answer", "Also right", "Said to wrong answers"}),
    "solution shown": (CHOICE, of_family(CHOICE, show_solution=False), {"Worked solution"}),
    "order of the options": (CHOICE, options(CHOICE, lambda found: found[::-1]), {"Answers", "Said to wrong answers"}),
    "an option": (CHOICE, options(CHOICE, lambda found: [
        replace(one, numeral=Numeral(991, 1)) if at == 0 and not one.is_key else one for at, one in enumerate(found)
    ]), {"Answers", "Said to wrong answers"}),
    "policy": (TYPED, renamed(TYPED, response=TypedNumber(policy="exact", mistakes=TYPED.response.mistakes)),  # type: ignore
               {"How it is answered", "Also right"}),
}


@pytest.mark.parametrize("name", EDITS)
def test_what_differs_in_an_item_is_named_and_nothing_else(tmp_path: Path, name: str) -> None:
    old, new, differs = EDITS[name]
    (changed,) = both(tmp_path, [old], [new]).changed
    assert (changed.old.identifier, changed.new.identifier) == (old.identifier, new.identifier)
    assert set(changed.what) >= differs - {"Also right", "Said to wrong answers"} and set(changed.what) <= differs
    assert changed.facets[0].name == "Question"


@pytest.mark.parametrize("kind", kept_kinds.ITEMS, ids=lambda one: one.identifier)
def test_items_of_every_kind_are_paired_and_told(tmp_path: Path, kind: Item) -> None:
    found = both(tmp_path, [kind], [of_family(kind, hint=(("Look again.",),))])
    (changed,) = found.changed
    assert changed.what == ("If wrong",) and not found.added and not found.gone
    write_page(found, tmp_path / "compare.html")


def test_another_locale_changes_every_item_it_writes_otherwise(tmp_path: Path) -> None:
    comma = replace(INFO, locale=replace(POINT, identifier="en-comma", decimal_mark=","))
    found = both(tmp_path, [CHOICE], [renamed(CHOICE)], info=comma)
    assert {"Question", "Answers", "Right answer"} <= set(found.changed[0].what)
    assert "numbers written as: en-point \u2192 en-comma" in found.settings


def test_other_numbers_or_another_way_of_answering_are_another_item(tmp_path: Path) -> None:
    other = renamed(CHOICE, parameters=(("a", "9.9"),))
    typed = renamed(TYPED, family=CHOICE.family, parameters=CHOICE.parameters)
    found = both(tmp_path, [CHOICE], [other, typed])
    assert not found.changed and len(found.added) == 2 and [one.identifier for one in found.gone] == [CHOICE.identifier]


def test_the_same_bank_differs_in_nothing(tmp_path: Path) -> None:
    found = both(tmp_path, [CHOICE, TYPED], [CHOICE, TYPED], ([quiz("one", CHOICE)], [quiz("one", CHOICE)]))
    assert found.is_empty and found.same == 2
    assert list(terminal_lines(found))[2:] == ["Nothing differs."]


def test_quizzes_touched_are_told_with_what_changed_in_them_and_what_pupils_have_met(tmp_path: Path) -> None:
    third = item("add", identifier="third-v1-a", of={"template": "third"})
    fourth = item("add", identifier="fourth-v1-a", of={"template": "fourth"})
    new = of_family(CHOICE, title="Another")
    found = both(
        tmp_path, [CHOICE, TYPED, third], [new, TYPED, fourth],
        ([quiz("one", CHOICE, TYPED, third), quiz("two", TYPED), quiz("three", third)],
         [quiz("one", fourth, TYPED, new), quiz("two", TYPED), quiz("four", fourth, minutes=5)]),
        frozenset({CHOICE.identifier, TYPED.identifier}),
    )
    told = {one.identifier: one for one in found.quizzes}
    assert set(told) == {"one", "three", "four"}
    one = told["one"]
    assert (one.before, one.after, one.added, one.gone) == (3, 3, (fourth.identifier,), (third.identifier,))
    assert one.changed == (new.identifier,) and one.met == 1 and one.settings == ("order of the items",)
    assert told["three"].after is None and told["four"].before is None
    assert found.met == (0, 1) and found.changed[0].old.met is True and found.gone[0].met is False
    text = "\n".join(terminal_lines(found))
    assert "Pupils have met 0 of the items gone and 1 of those changed" in text
    assert "one: 3 \u2192 3 items: 1 changed, 1 added, 1 gone, order of the items; pupils have met 1" in text


def test_settings_of_a_quiz_and_corrections_are_told(tmp_path: Path) -> None:
    info = replace(INFO, corrections=(Correction("choice", 1, "x", "the hint misled"),))
    found = both(tmp_path, [CHOICE], [CHOICE], ([quiz("one", CHOICE)], [quiz("one", CHOICE, minutes=20)]), info=info)
    assert found.quizzes[0].settings == ("minutes: 0 \u2192 20",)
    assert found.settings == ("corrected without a new version: choice: the hint misled",)


def test_without_kept_answers_nobody_claims_what_pupils_have_met(tmp_path: Path) -> None:
    found = both(tmp_path, [CHOICE], [renamed(CHOICE)])
    assert found.met is None and found.changed[0].old.met is None
    assert "is not known" in "\n".join(terminal_lines(found))


def test_what_differs_is_marked_by_elements_and_words_and_hostile_text_stays_text(tmp_path: Path) -> None:
    evil = '<script>alert(1)</script>" onload="x'
    found = both(tmp_path, [CHOICE], [of_family(CHOICE, title=evil, hint=((evil,),))])
    write_page(found, tmp_path / "compare.html")
    page = (tmp_path / "compare.html").read_text(encoding="utf-8")
    assert "<script" not in page and 'onload="x' not in page.replace("&#34;", "")
    assert '<tr class="differs">' in page and '<span class="tag">differs</span>' in page and "<ins>" in page
    assert not re.search(r"(src|href)=\"(https?:)?//", page)


@pytest.mark.parametrize(("old", "new", "left", "right"), [
    (("Line up the points.",), ("Line up both points.",), "Line up <del>the</del> points.", "Line up <ins>both</ins> points."),
    (("A 1", "B 2"), ("A 1", "B 3 now then"), "A 1<br><del>B 2</del>", "A 1<br><ins>B 3 now then</ins>"),
    ((), ("a < b",), "", "<ins>a &lt; b</ins>"), (("same",), ("same",), "same", "same"),
])
def test_words_are_marked_in_lines_that_are_akin_and_lines_where_they_are_not(
    old: tuple[str, ...], new: tuple[str, ...], left: str, right: str
) -> None:
    found = marked(Facet("x", old, new))
    assert (str(found.old), str(found.new)) == (left, right)


def test_the_command_takes_files_and_folders_and_writes_the_page(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    both(tmp_path, [CHOICE], [renamed(CHOICE, stem=(("Add: ", *CHOICE.stem[0]),))])
    assert cli.main(["compare", str(tmp_path / "old"), str(tmp_path / "new" / "bank.sqlite"), "-o", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "1 \u2192 1 item: 0 the same, 1 changed, 0 added, 0 gone" in said
    assert f"{CHOICE.identifier} \u2192 {CHOICE.identifier}x: question" in said
    assert f"Page: {tmp_path / 'compare.html'}" in said and (tmp_path / "compare.html").exists()
    assert cli.main(["compare", str(tmp_path / "old"), str(tmp_path / "none")]) == 2
    assert "there is no such bank file" in capsys.readouterr().err
