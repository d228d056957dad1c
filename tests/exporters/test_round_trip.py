"""Exported packages read back to items by an independent reader, and every item compared with the bank, whole."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import sampler
from bank import mistakes
from bank.answers import accepted_forms
from bank.build import build
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber,
)
from bank.plans import load_plan
from bank.store import Bank as BankFile
from bank.templates import FOLDER
from exported import GERMAN, KIND_ITEMS, QTI, exporter, ignore, kind_packages, packages, unzipped
from kind_answers import held
from qti_rules import Session
from round_trip_reader import Bank, Told, read, spaced


def forms_of(item: Item, locale: Locale) -> tuple[str, ...]:
    """Return the spellings of the key where something is typed."""
    response = item.response
    typed = response.typed if isinstance(response, FindMistake) else response
    if not isinstance(typed, TypedNumber):
        return ()
    return accepted_forms(item.key, locale, typed.policy, item.family.unit)


def stem_only(item: Item, told: Told) -> Told:
    """Return *told* with as many paragraphs as the stem has: the tool's own instructions follow it."""
    return told._replace(stem=told.stem[: len(item.stem)])


def wrong_answers(item: Item, locale: Locale) -> list[tuple[dict[str, Any], tuple[str, ...]]]:
    """Return wrong answers that mistakes lead to, as responses, each with the mistakes' ids."""
    response = item.response
    if isinstance(response, Choice):
        return [({"RESPONSE": one.identifier}, one.mistakes) for one in response.options if not one.is_key]
    if isinstance(response, ChooseInLine):
        return [({"RESPONSE": one.identifier}, one.mistakes) for one in response.options if not one.is_key]
    if isinstance(response, ChooseSeveral):
        right = [one.identifier for one in response.options if one.is_key]
        chosen = [({"RESPONSE": [*right, one.identifier]}, one.mistakes) for one in response.options if not one.is_key]
        left = [({"RESPONSE": [name for name in right if name != one.identifier]}, one.mistakes)
                for one in response.options if one.is_key]  # fmt: skip
        return chosen + left
    if isinstance(response, PutInOrder):
        return [(held(item, order), names) for order, names in response.mistakes]
    if isinstance(response, MatchPairs):
        return [({"RESPONSE": [f"{source} {target}"]}, names) for (source, target), names in response.mistakes]
    if isinstance(response, FindMistake):
        found = [({"RESPONSE": response.right}, (response.mistake,))]
        if response.typed is not None:
            found[0][0]["ANSWER"] = None
            answer = locale.number(response.working.result)
            found.append(({"RESPONSE": None, "ANSWER": answer}, (response.mistake,)))
        return found
    known = sorted(response.mistakes, key=lambda one: all(
        mistakes.load()[name].evidence != "published" for name in one[1] if name in mistakes.load()
    ))[:3]
    return [({"RESPONSE": locale.number(numeral)}, names) for numeral, names in known]


def differences(item: Item, content: bytes, locale: Locale, feedback: bool) -> list[str]:
    """Return in what the exported item differs from the bank's."""
    told, wanted = read(content), Bank(locale).tell(item, forms_of(item, locale), feedback)
    found = [f"{item.identifier}: {name} is {is_there!r}, not {should_be!r}"
             for name, is_there, should_be in zip(Told._fields, stem_only(item, told), wanted, strict=True)
             if is_there != should_be]  # fmt: skip
    if not feedback:
        return found + [f"{item.identifier}: it tells something"] * (b"eedback" in content)
    session = Session(content)
    for answer, names in wrong_answers(item, locale):
        remedy = mistakes.remedy(mistakes.seen_of(item), tuple(names))
        said = [remedy[1].words] if remedy else []
        session.answer(answer)
        shown = " ".join(session.shown())
        if said and not any(spaced(text) in shown for text in said):
            found.append(f"{item.identifier}: {answer} is told {shown!r}, not what {names} have to say")
    return found


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER, GERMAN], ids=lambda locale: locale.identifier)
def test_every_item_of_the_sampler_and_of_every_kind_comes_back_whole(name: str, locale: Locale) -> None:
    plain, kinds = packages(name, locale)["bank"], kind_packages(name, locale)["bank"]
    found = []
    for item in (*sampler.ITEMS, *KIND_ITEMS):
        content = (kinds if item in KIND_ITEMS else plain)[f"items/{item.identifier}.xml"]
        found += differences(item, content, locale, True)
    assert found == []


@pytest.mark.parametrize("name", QTI)
def test_every_item_of_a_graded_quiz_comes_back_whole_and_tells_nothing(name: str) -> None:
    found = []
    for item in KIND_ITEMS:
        found += differences(item, kind_packages(name)["graded"][f"items/{item.identifier}{sampler.SILENT}.xml"], sampler.POINT, False)
    assert found == []


@pytest.mark.parametrize("plan", [
    "first-steps", pytest.param("kinds", marks=pytest.mark.long), pytest.param("demo-term", marks=pytest.mark.long),
])
def test_every_item_of_built_banks_comes_back_whole(plan: str, tmp_path: Path) -> None:
    build(load_plan(FOLDER.parent / "plans" / f"{plan}.yaml"), tmp_path, jobs=2)
    source = tmp_path / "bank.sqlite"
    with BankFile.open(source) as bank:
        items = list(bank.items())
        for name in QTI:
            path = exporter(name).write(source, bank, (), tmp_path, whole_bank=True, jobs=2, progress=ignore)[-1]
            files, found = unzipped(path), []
            for item in items:
                found += differences(item, files[f"items/{item.identifier}.xml"], bank.info.locale, item.shows_feedback)
            assert found == []


@pytest.mark.parametrize(
    ("name", "old", "new", "where"),
    [
        ("several-all", "<mn>2.04</mn>", "<mn>2.05</mn>", "offered"), ("order-all", ">0.305<", ">0.35<", "offered"),
        ("pairs-parts", 'map-key="S2 T3"', 'map-key="S2 T4"', "points"),
        ("inline-all", "<mn>0.65</mn>", "<mn>0.56</mn>", "stem"), ("find-all", "<td>5.</td>", "<td>6.</td>", "judged"),
        ("find-typed-parts", "<li>So 3.47", "<li>Then 3.47", "solution"),
    ],
)
def test_the_reader_notices_an_item_that_is_another(name: str, old: str, new: str, where: str) -> None:
    item = next(one for one in KIND_ITEMS if one.family.template == name)
    content = kind_packages("qti30")["bank"][f"items/{item.identifier}.xml"].decode()
    assert old in content
    found = differences(item, content.replace(old, new, 1).encode(), sampler.POINT, True)
    assert len(found) == 1 and f": {where} is " in found[0]
