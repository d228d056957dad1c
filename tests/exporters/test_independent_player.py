"""Exported QTI 3.0 items answered as a pupil would in a web player that we did not write, and its marks compared.

Answers are entered by mouse and keyboard alone: clicked, typed, chosen from the menu, dragged to their places.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from wanted import PLAYER, needs

import player
import policy_items
import sampler
import typed_strings
from bank.answers import accepted_forms
from bank.build import build
from bank.marking import earned_marks, most_marks
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber,
)
from bank.plans import load_plan
from bank.policies import POLICIES
from bank.store import Bank
from bank.templates import FOLDER
from exported import KIND_ITEMS, kind_packages, packages, unzipped, version
from exporters import qti30
from exporters._item import Renderer
from exporters._kinds_back import said
from kind_answers import answers
from typed_strings import LOCALES, audit_mark, typed_policy, typed_string

EVERY = 13
"""Of the demo term each so many-th item is played."""
SHORT = 5
"""Of the demo term's items of the further kinds so many answers each are entered, the right one among them."""
MOST = {ChooseSeveral: 32, PutInOrder: 6, MatchPairs: 20, ChooseInLine: 4, FindMistake: 40}
"""Of the hand-made items so many answers each are entered at most; dragging takes more than a second an answer."""

STRINGS = 15
"""Random strings typed for each hand-made typed item in each locale."""

pytestmark = [pytest.mark.long, pytest.mark.skipif(not player.is_installed(), reason=needs(PLAYER))]


@pytest.fixture(scope="module")
def page() -> Iterator[Any]:
    with player.opened() as opened:
        yield opened


def trials(item: Item, locale: Locale, every: bool) -> list[tuple[str, bool]]:
    """Return answers to try, each with whether it is right: every option; spellings, wrong answers, nonsense, none.

    Of the spellings that are right *every* one, or some; and those that another policy takes.
    """
    response = item.response
    if isinstance(response, Choice):
        return [(option.identifier, option.is_key) for option in response.options]
    assert isinstance(response, TypedNumber)
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    wrong = [locale.number(numeral) for numeral, _ in response.mistakes[:4]]
    nonsense = [forms[0] + "x", forms[0] + "1", "-" + forms[0], ""]
    unit = item.family.unit
    others = [form for policy in POLICIES if unit or policy != "unit"
              for form in accepted_forms(item.key, locale, policy, unit)[::4]]  # fmt: skip
    tried = [*forms, *others] if every else [*forms[:8], *forms[-3:], *others[:4]]
    tried += [*wrong, *nonsense]
    return [(text, text in forms) for text in dict.fromkeys(tried)]


def disagreements(page: Any, item: Item, xml: str, locale: Locale, every: bool = False) -> list[str]:
    """Return where the player marks *item*, of a plain kind, otherwise than the bank."""
    page.evaluate(player.SHOW, xml)
    found = []
    for answer, right in trials(item, locale, every):
        player.enter(page, item, answer)
        said = page.evaluate(player.MARK)
        if str(said["SCORE"]) != ("1" if right else "0"):
            found.append(f"{item.identifier}: {answer!r} scores {said['SCORE']}")
        if isinstance(item.response, Choice) and item.shows_feedback and said["FEEDBACK"] != answer:
            found.append(f"{item.identifier}: {answer!r} gets the feedback {said['FEEDBACK']!r}")
    return found


@pytest.mark.parametrize("locale", LOCALES, ids=lambda one: one.identifier)
def test_strings_as_pupils_may_type_them_earn_in_the_player_what_they_earn_in_the_audit(page: Any, locale: Locale) -> None:
    lots, found = random.Random(locale.identifier), []
    for item in [one for one in typed_strings.ITEMS if isinstance(one.response, TypedNumber)]:
        page.evaluate(player.SHOW, Renderer(version("qti30"), sampler.info(locale)).item(item, True).decode())
        mark = audit_mark(item, locale)
        forms = accepted_forms(item.key, locale, typed_policy(item), item.family.unit)
        texts = [typed_string(item, lots) for _ in range(STRINGS)] + [form for form in forms if form != form.strip()][:3]
        for text in [text for text in texts if "\t" not in text]:  # a tab leaves the field
            player.enter(page, item, text)
            earned = str(page.evaluate(player.MARK)["SCORE"])
            if earned != str(mark(text)):
                found.append(f"{item.identifier}: {text!r} earns {earned}")
    assert found == []


def some_answers(item: Item, locale: Locale, most: int) -> list[tuple[str, ...]]:
    """Return at most so many answers: the right one, none, those that mistakes lead to, and others in even steps."""
    response, all_of_them = item.response, answers(item, locale)
    first = [one for one in all_of_them if earned_marks(item, one, locale) == most_marks(response)][:1]
    first += [one for one in all_of_them if not any(one)][:1]
    if isinstance(response, PutInOrder):
        first += [order for order, _ in response.mistakes]
    if isinstance(response, FindMistake) and response.typed is not None:
        forms = accepted_forms(item.key, locale, response.typed.policy, item.family.unit)
        first += [one for one in all_of_them if one[0] == response.right or one[1] == forms[0]]
    step = max(1, len(all_of_them) // max(1, most - len(first[:most])))
    return list(dict.fromkeys([*first, *all_of_them[::step]]))[:most]


def kind_disagreements(
    page: Any, item: Item, xml: str, locale: Locale, tried: list[tuple[str, ...]]
) -> list[str]:
    """Return where the player marks *item*, of a further kind, otherwise than the bank, or tells something else."""
    found = []
    for answer in tried:
        page.evaluate(player.SHOW, xml)
        player.enter(page, item, answer)
        outcomes = page.evaluate(player.MARK)
        if str(outcomes["SCORE"]) != str(earned_marks(item, answer, locale)):
            found.append(f"{item.identifier}: {answer} scores {outcomes['SCORE']}")
        wanted = said(item, parted(item, answer), locale)
        if item.family.show_solution:
            wanted["SOLUTION"] = "worked"
        shown = {tuple(one) for one in page.evaluate(player.SHOWN)}
        if shown != told(xml, wanted):
            found.append(f"{item.identifier}: {answer} is told {shown}, not {told(xml, wanted)}")
    return found


def parted(item: Item, answer: tuple[str, ...]) -> tuple[tuple[str, ...], ...]:
    """Return *answer* by interaction, as it is read back from files."""
    if isinstance(item.response, FindMistake):
        return tuple([(part,) if part else () for part in answer])
    return (answer,)


def told(xml: str, outcomes: dict[str, Any]) -> set[tuple[str, str]]:
    """Return (outcome, value) of the feedback in the file that waits for *outcomes*."""
    values = {(name, one) for name, value in outcomes.items() for one in ([value] if isinstance(value, str) else value)}
    return {
        (name, one) for name, one in values
        if f'outcome-identifier="{name}" identifier="{one}"' in xml
    }


@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER], ids=lambda locale: locale.identifier)
def test_the_player_marks_every_item_of_the_sampler_as_the_bank_does(page: Any, locale: Locale) -> None:
    files = packages("qti30", locale)["bank"]
    found = []
    for item in sampler.bank(locale).items():
        if not item.shows_feedback or locale is not sampler.POINT and isinstance(item.response, Choice):
            continue  # not in the package of the whole bank, or chosen alike in every locale
        xml = files[f"items/{item.identifier}.xml"].decode()
        found += disagreements(page, item, xml, locale, every=locale is sampler.POINT)
    assert found == []


def test_the_player_takes_and_refuses_spellings_under_every_policy_as_the_bank_does(page: Any) -> None:
    found, renderer = [], Renderer(version("qti30"), sampler.info())
    for item in policy_items.ITEMS[::2]:
        found += disagreements(page, item, renderer.item(item, True).decode(), sampler.POINT, every=True)
    assert found == []


@pytest.mark.parametrize("item", KIND_ITEMS, ids=lambda item: item.identifier)
def test_the_player_marks_and_tells_every_kind_as_the_bank_does(page: Any, item: Item) -> None:
    xml = kind_packages("qti30")["bank"][f"items/{item.identifier}.xml"].decode()
    tried = some_answers(item, sampler.POINT, MOST[type(item.response)])
    assert kind_disagreements(page, item, xml, sampler.POINT, tried) == []
    assert {earned_marks(item, one, sampler.POINT) for one in tried} >= {0, most_marks(item.response)}


def test_the_player_marks_the_demo_term_as_the_bank_does(page: Any, tmp_path: Path) -> None:
    build(load_plan(FOLDER.parent / "plans" / "demo-term.yaml"), tmp_path, jobs=2)
    source = tmp_path / "bank.sqlite"
    with Bank.open(source) as bank:
        paths = qti30.write(
            source, bank, (), tmp_path, whole_bank=True, jobs=2, progress=lambda done, total: None
        )
        files, found, locale = unzipped(paths[-1]), [], bank.info.locale
        kinds = [item for item in bank.items() if not isinstance(item.response, Choice | TypedNumber)]
        for item in [one for one in (*list(bank.items())[::EVERY], *kinds[::EVERY]) if one.shows_feedback]:
            xml = files[f"items/{item.identifier}.xml"].decode()
            if isinstance(item.response, Choice | TypedNumber):
                found += disagreements(page, item, xml, locale)
            else:
                found += kind_disagreements(page, item, xml, locale, some_answers(item, locale, SHORT))
    assert found == []


def test_the_player_notices_a_wrong_key(page: Any) -> None:
    item = next(item for item in sampler.bank().items() if isinstance(item.response, Choice))
    xml = Renderer(version("qti30"), sampler.info()).item(item, True).decode()
    key = next(option.identifier for option in item.response.options if option.is_key)
    other = "A" if key != "A" else "B"
    spoiled = xml.replace(f"<qti-value>{key}</qti-value>", f"<qti-value>{other}</qti-value>", 1)
    assert len(disagreements(page, item, spoiled, sampler.POINT)) == 2


def test_the_player_notices_a_mark_that_is_another(page: Any) -> None:
    item = next(item for item in KIND_ITEMS if item.identifier.startswith("several-parts"))
    xml = kind_packages("qti30")["bank"][f"items/{item.identifier}.xml"].decode()
    spoiled = xml.replace('map-key="B" mapped-value="-1"', 'map-key="B" mapped-value="1"')
    assert len(kind_disagreements(page, item, spoiled, sampler.POINT, [("A", "B"), ("A",)])) == 1
