"""A target that asks an item otherwise says so by its identifier, which the audit resolves or refuses with the reason."""

from __future__ import annotations

import csv
import importlib
from pathlib import Path

import pytest
from results_bank import bank_of_kinds

from bank.audit.counting.keys import QuizKey
from bank.audit.counting.resolve import Resolver
from bank.audit.pseudonyms import Salt
from bank.audit.reading import read_results
from bank.identity import answered, asked_otherwise, why_not_marked
from bank.model import ChooseInLine, ChooseSeveral, FindMistake, Item, PutInOrder, TypedNumber
from bank.store import Bank, Shelf
from cartridge_rules import questions
from exported import ignore, unzipped
from exporters._cc_asked import refusal

SALT = Salt(key=b"only for tests, of no secrecy at all")


def _items() -> list[Item]:
    with Bank.open(bank_of_kinds()) as bank:
        return list(bank.items())


ITEMS = [item for item in _items() if not refusal(item)]


def asks_less(item: Item) -> bool:
    """Whether the profile of the cartridge cannot ask *item* as it stands, by its kind and credit."""
    response = item.response
    return isinstance(response, (PutInOrder, FindMistake, ChooseInLine)) or (
        isinstance(response, ChooseSeveral) and response.credit != "all")


def exported(target: str, folder: Path) -> set[str]:
    with Bank.open(bank_of_kinds()) as bank:
        path, = importlib.import_module(f"exporters.{target}").write(
            Shelf(bank_of_kinds()), bank, bank.quizzes, folder, whole_bank=False, jobs=1, progress=ignore)
    files = unzipped(path)
    if target == "cc13":
        return {one.identifier for one in questions(files["kinds.xml"])}
    return {Path(name).stem for name in files if name.startswith("items/")}


def test_identifiers_of_two_targets_differ_exactly_for_what_is_asked_otherwise(tmp_path: Path) -> None:
    qti, cartridge = exported("qti30", tmp_path), exported("cc13", tmp_path)
    assert {item.identifier for item in ITEMS if asks_less(item)} == {item.identifier for item in ITEMS} - cartridge
    assert qti & cartridge == {item.identifier for item in ITEMS if not asks_less(item)}
    assert {why_not_marked(name)[0] for name in cartridge} == {item.identifier for item in ITEMS}
    assert len(cartridge - qti) >= 4


def _right(item: Item) -> str:
    response = item.response
    if isinstance(response, (FindMistake, PutInOrder)):
        return "A" if isinstance(response, PutInOrder) else response.right
    return " ".join([one.identifier for one in response.options if one.is_key])  # type: ignore[union-attr]


@pytest.mark.parametrize("wide", [False, True], ids=["long", "wide"])
@pytest.mark.parametrize("item", [item for item in ITEMS if asks_less(item)], ids=lambda item: item.identifier)
def test_results_under_such_an_identifier_count_or_are_refused_with_the_reason(
    item: Item, wide: bool, tmp_path: Path
) -> None:
    plain = next(one for one in ITEMS if isinstance(one.response, TypedNumber))
    name, results = asked_otherwise(item), tmp_path / "results.csv"
    with results.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file).writerow
        if wide:
            write(("pupil", "quiz", plain.identifier, name))
            write(("k1", "kinds", "1", _right(item)))
        else:
            write(("pupil", "quiz", "item", "response"))
            write(("k1", "kinds", plain.identifier, "1"))
            write(("k1", "kinds", name, _right(item)))
    with Bank.open(bank_of_kinds()) as bank:
        read = read_results(bank, [results], salt=SALT, remember=False)
    why = why_not_marked(name)[1]
    form, = read.forms
    place = form.form.items.index(item.identifier)
    given = [int(code) for code in form.codes[:, place] if code >= 0]
    if why:
        assert not given and any(why in reason for _, _, reason in read.rejected)
    else:
        assert len(given) == 1 and form.form.credits[place][given[0]] == 1000


def test_an_engine_is_told_the_same() -> None:
    names = tuple(item.identifier for item in ITEMS)
    resolver = Resolver([QuizKey(quiz="kinds", items=names, versions=(1,) * len(names), score=lambda place, text: (text, 0))])
    for place, item in enumerate(ITEMS):
        name = asked_otherwise(item)
        if why := why_not_marked(name)[1]:
            assert resolver.places(name) == [-1] and answered(name) == name
            with pytest.raises(ValueError, match=why):
                resolver.place("kinds", name)
        else:
            assert resolver.places(name) == [place] and resolver.place("kinds", name) == (0, place)
