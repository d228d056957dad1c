"""Items of the kinds beyond choice and typed number, in every version of QTI: marked right, read back, refused."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

import sampler
from bank.marking import earned_marks, most_marks
from bank.model import Item, Locale
from bank.store import Bank, Shelf
from exported import KIND_ITEMS, KIND_QUIZZES, QTI, exporter, ignore, kind_packages, version, write
from exporters import _kinds
from exporters._kinds_back import KindReader, difference
from kind_answers import answers, held
from qti_rules import Session
from second_opinion import SecondSession

ITEMS, NAMES = KIND_ITEMS, [one.identifier for one in KIND_ITEMS]
LOCALES = (sampler.POINT, sampler.EITHER)


def file_of(name: str, item: Item, locale: Locale = sampler.POINT, package: str = "bank", ending: str = "") -> bytes:
    """Return the exported item, or its twin whose id has this *ending*."""
    return kind_packages(name, locale)[package][f"items/{item.identifier}{ending}.xml"]


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", LOCALES, ids=lambda locale: locale.identifier)
@pytest.mark.parametrize("item", ITEMS, ids=NAMES)
def test_every_answer_earns_what_the_bank_says(name: str, locale: Locale, item: Item) -> None:
    session = Session(file_of(name, item, locale))
    earned = set()
    for answer in answers(item, locale):
        outcomes = session.answer(held(item, answer))
        assert outcomes["SCORE"] == earned_marks(item, answer, locale), answer
        assert outcomes["MAXSCORE"] == most_marks(item.response)
        earned.add(outcomes["SCORE"])
    assert {0, most_marks(item.response)} <= earned


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("item", ITEMS, ids=NAMES)
def test_a_graded_quiz_marks_alike_and_tells_nothing(name: str, item: Item) -> None:
    session = Session(file_of(name, item, package="graded", ending=sampler.SILENT))
    for answer in answers(item, sampler.POINT):
        outcomes = session.answer(held(item, answer))
        assert outcomes["SCORE"] == earned_marks(item, answer, sampler.POINT), answer
        assert session.shown() == []
    assert b"feedback" not in file_of(name, item, package="graded", ending=sampler.SILENT).lower()


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("item", ITEMS, ids=NAMES)
def test_an_unanswered_item_earns_nothing_and_blames_nobody(name: str, item: Item) -> None:
    session = Session(file_of(name, item))
    assert session.answer(held(item, ()))["SCORE"] == 0
    assert len(session.shown()) == item.family.show_solution


@pytest.mark.parametrize("name", QTI)
def test_a_test_is_worth_the_marks_of_its_items(name: str) -> None:
    root = etree.fromstring(kind_packages(name)["practice"]["practice.xml"])
    most = [one for one in root.iter("{*}outcomeDeclaration", "{*}qti-outcome-declaration")
            if one.get("identifier") == "MAXSCORE"]
    assert "".join(most[0].itertext()).strip() == str(sum(most_marks(item.response) for item in ITEMS))


@pytest.mark.parametrize("name", QTI)
def test_the_manifest_names_every_interaction(name: str) -> None:
    root = etree.fromstring(kind_packages(name)["bank"]["imsmanifest.xml"])
    for item, resource in zip(ITEMS, root.iter("{*}resource"), strict=True):
        named = [one.text for one in resource.iter("{*}interactionType")]
        assert tuple(named) == _kinds.interactions(item.response)


@pytest.mark.parametrize("name", QTI)
def test_read_back_gives_what_the_bank_holds(name: str, tmp_path: Path) -> None:
    path = write(name, sampler.bank(items=ITEMS, quizzes=()), tmp_path)[-1]
    for item, read in zip(ITEMS, exporter(name).read_back(path), strict=True):
        assert difference(item, read, sampler.POINT, True) == ""


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("item", ITEMS, ids=NAMES)
def test_reading_back_notices_an_item_that_is_another(name: str, item: Item) -> None:
    reader = KindReader(version(name))
    read = reader.read(etree.fromstring(file_of(name, item)), "file")
    assert difference(item, read, sampler.POINT, True) == ""
    assert difference(item, read, sampler.POINT, False) != ""
    others = [replace(other, identifier=item.identifier) for other in ITEMS if type(other.response) is type(item.response)]
    for other in others:
        if other.response != item.response:
            assert difference(other, read, sampler.POINT, True) != ""


@pytest.mark.parametrize("name", QTI)
def test_packages_are_the_same_bytes_from_a_bank_file_and_with_two_processes(name: str, tmp_path: Path) -> None:
    bank = sampler.bank(items=ITEMS, quizzes=KIND_QUIZZES)
    source = bank.save(tmp_path / "bank.sqlite")
    one = write(name, bank, tmp_path / "one")
    with Bank.open(Shelf(source, unlisted=bank.delivered().unlisted)) as kept:
        two = exporter(name).write(kept.shelf, kept, kept.quizzes, tmp_path / "two", whole_bank=True, jobs=2,
                                   progress=ignore)  # fmt: skip
    assert [path.read_bytes() for path in one] == [path.read_bytes() for path in two]


@pytest.mark.parametrize("item", ITEMS, ids=NAMES)
def test_a_library_that_we_did_not_write_marks_alike(item: Item) -> None:
    session, own = SecondSession(file_of("qti21", item)), Session(file_of("qti21", item))
    tried = answers(item, sampler.POINT)
    for answer in tried[:: max(1, len(tried) // 60)]:
        outcomes, wanted = session.answer(held(item, answer)), own.answer(held(item, answer))
        assert outcomes["SCORE"] == earned_marks(item, answer, sampler.POINT), answer
        words = {name: value for name, value in outcomes.items() if name.startswith(("FEEDBACK", "ADVICE"))}
        for name, value in words.items():
            said = wanted[name]
            assert (sorted(value) if isinstance(value, list | dict) else value) == (
                sorted(said.values) if hasattr(said, "values") else said), (answer, name)
