"""Damaged items of the further kinds are refused: by our profiles, by what must hang together, or by the bank."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from sweeps import examples, sweep

import sampler
from bank.model import ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, Offer, PutInOrder
from exported import GERMAN, KIND_ITEMS, QTI, kind_packages, packages, spelled, version
from exporters._faults import ExportFault
from exporters._item import Renderer
from exporters._kinds import MODULES
from exporters._kinds_back import KindChecks, KindReader, difference, further_answers
from exporters._profile import Profile, parsed, safe_parser
from exporters._structure import StructureReader
from items import line

CASES: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "cases/kind_damages.yaml").read_text("utf-8"))
BY_NAME = {item.family.template: item for item in KIND_ITEMS}


def content_of(name: str, item: Item) -> str:
    """Return the exported item."""
    return kind_packages(name)["bank"][f"items/{item.identifier}.xml"].decode()


def refused_by(name: str, item: Item, content: str) -> str:
    """Return who refuses the file; empty where nobody does."""
    root = parsed(content.encode(), "file", "", safe_parser())
    try:
        Profile(version(name), MODULES[type(item.response)].PROFILE).check(content.encode(), "file")
    except ExportFault as fault:
        assert "does not follow" in fault.wrong
        return "profile"
    try:
        read = KindReader(version(name)).read(root, "file", further_answers(item, sampler.POINT))
    except ExportFault as fault:
        assert fault.item == item.identifier
        return "structure"
    return "bank" if difference(item, read, sampler.POINT, True) else ""


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("case", CASES, ids=[case["damage"] for case in CASES])
def test_a_damaged_item_is_refused(name: str, case: dict[str, Any]) -> None:
    record, item = version(name), BY_NAME[case["of"]]
    content = content_of(name, item)
    assert refused_by(name, item, content) == ""
    old, new = spelled(record, case["from"]), spelled(record, case["to"])
    begin = content.index(old)
    end = begin + len(old)
    if "until" in case:
        until = spelled(record, case["until"])
        end = content.index(until, end) + len(until)
        new += case.get("then", "")
    damaged = content[:begin] + new + content[end:]
    for again in [case["also"]] if "also" in case else []:
        damaged = damaged.replace(spelled(record, again[0]), spelled(record, again[1]), 1)
    assert refused_by(name, item, damaged) == case["refused"]
    assert refuses(warmly_refused, name, item, damaged)


@cache
def warm_checks(name: str) -> KindChecks:
    """Return checks that have agreed to all items, so that rules of items that are alike are not carried out again."""
    checks = KindChecks(version(name), sampler.POINT)
    for item in KIND_ITEMS:
        assert checks.difference(item, content_of(name, item).encode(), "file", True) == ""
    return checks


def refuses(way: Callable[..., Any], *arguments: Any) -> bool:
    """Return whether *way* finds something wrong, or breaks off."""
    try:
        return bool(way(*arguments))
    except (ExportFault, ArithmeticError, LookupError, TypeError, ValueError):
        return True


def warmly_refused(name: str, item: Item, content: str) -> str:
    """Return what checks that know the item find wrong; empty where nothing is."""
    return warm_checks(name).difference(item, content.encode(), "file", True)


@settings(max_examples=examples(120, 400), deadline=None)
@given(st.data())
def test_what_is_known_of_items_that_are_alike_lets_no_damage_through(data: st.DataObject) -> None:
    name, item = data.draw(st.sampled_from(QTI)), data.draw(st.sampled_from(KIND_ITEMS))
    content = content_of(name, item)
    spots = [m for m in re.finditer(r'(?<=>)[^<>\s]+(?=</)|(?<==")[^"<>]+(?=")', content)]
    begin = content.index(spelled(version(name), "<responseDeclaration"))
    spots = [spot for spot in spots if spot.start() > begin]
    spot, other = data.draw(st.sampled_from(spots)), data.draw(st.sampled_from(spots))
    put = data.draw(st.sampled_from([other[0], other[0], f"{spot[0]} ", ""]))
    damaged = content[: spot.start()] + put + content[spot.end() :]
    assert refuses(warmly_refused, name, item, damaged) == refuses(refused_by, name, item, damaged)


@pytest.mark.long
@pytest.mark.parametrize("name", sweep(QTI, 3))
@pytest.mark.parametrize("item", KIND_ITEMS, ids=[item.family.template for item in KIND_ITEMS])
def test_identifiers_that_clash_are_refused_where_the_profile_does_not_look(name: str, item: Item) -> None:
    content = content_of(name, item)
    attribute = spelled(version(name), 'outcomeIdentifier="')
    names = [*re.finditer(r'(?<= identifier=")[^"]+(?=")', content), *re.finditer(f'(?<={attribute})[^"]+(?=")', content)]
    for spot in names:
        for put in {names[0][0], names[-1][0], names[len(names) // 2][0], "NONE", f"{spot[0]} "} - {spot[0]}:
            damaged = content[: spot.start()] + put + content[spot.end() :]
            assert refuses(warmly_refused, name, item, damaged) >= refuses(refused_by, name, item, damaged)


def test_every_kind_is_damaged_often_enough() -> None:
    kinds = [type(BY_NAME[case["of"]].response) for case in CASES]
    assert min(kinds.count(kind) for kind in MODULES) >= 5 and len(CASES) >= 50


@pytest.mark.parametrize("name", QTI)
def test_choice_and_typed_items_hang_together_too(name: str) -> None:
    reader = StructureReader(version(name))
    for file, content in packages(name)["bank"].items():
        if file.startswith("items/"):
            found = reader.read(parsed(content, file, "", safe_parser()), file)
            assert len(found.declared) == len(found.offered) == 1


@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER, GERMAN], ids=lambda locale: locale.identifier)
@pytest.mark.parametrize("name", QTI)
def test_every_file_follows_the_profile_of_its_kind(name: str, locale: Any) -> None:
    for item in KIND_ITEMS:
        content = kind_packages(name, locale)["bank"][f"items/{item.identifier}.xml"]
        Profile(version(name), MODULES[type(item.response)].PROFILE).check(content, item.identifier)


def _item(name: str) -> Item:
    return BY_NAME[name]


def _several(**parts: Any) -> Item:
    one = _item("several-all")
    assert isinstance(one.response, ChooseSeveral)
    return replace(one, response=replace(one.response, **parts))


def spoiled() -> dict[str, tuple[Item, str]]:
    """Return items that contradict themselves, each with what is said of it."""
    several, order, pairs = _item("several-all"), _item("order-all"), _item("pairs-all")
    inline, find = _item("inline-all"), _item("find-all")
    assert isinstance(several.response, ChooseSeveral) and isinstance(order.response, PutInOrder)
    assert isinstance(pairs.response, MatchPairs) and isinstance(inline.response, ChooseInLine)
    assert isinstance(find.response, FindMistake)
    first, *rest = several.response.options
    return {
        "all options are right": (_several(options=tuple(replace(o, is_key=True) for o in (first, *rest))), "not some"),
        "no option is right": (_several(options=tuple(replace(o, is_key=False) for o in (first, *rest))), "not some"),
        "two options are called alike": (_several(options=(replace(first, identifier="B"), *rest)), "share an identifier"),
        "the order misses one": (replace(order, response=replace(order.response, right=("C", "A", "D"))), "right order"),
        "the order is the one shown": (replace(order, response=replace(order.response, right=tuple("ABCD"))), "first shown"),
        "the order names a stranger": (
            replace(order, response=replace(order.response, right=tuple("CADX"))), "X, which is not offered"),
        "a source has no pair": (
            replace(pairs, response=replace(pairs.response, pairs=pairs.response.pairs[:2])), "one of each source"),
        "a pair with a stranger": (
            replace(pairs, response=replace(pairs.response, pairs=(("S1", "T9"), *pairs.response.pairs[1:]))), "T9"),
        "a mistake leads to the right pair": (
            replace(pairs, response=replace(pairs.response, mistakes=((("S1", "T1"), ("add.carry-forgotten",)),))),
            "no wrong pair"),
        "no gap": (replace(inline, stem=(("Which?",),)), "one key and one gap"),
        "two gaps": (replace(inline, stem=(line("[0.7 ? 0.65]"), line("[1 ? 2]"))), "one key and one gap"),
        "two keys": (
            replace(inline, response=replace(inline.response, options=tuple(
                replace(o, is_key=True) for o in inline.response.options))), "one key and one gap"),
        "a step that is not there": (replace(find, response=replace(find.response, right="S9")), "S9"),
        "steps of another working": (
            replace(find, response=replace(find.response, steps=(
                *find.response.steps[:-1], Offer(identifier="S6", text=("Done.",))))), "not those of the working"),
        "a working that is right": (
            replace(find, response=replace(find.response, working=find.response.working._replace(result=find.key))),
            "gives the right answer"),
    }  # fmt: skip


@pytest.mark.parametrize("case", spoiled())
def test_an_item_that_contradicts_itself_is_refused_by_name(case: str) -> None:
    item, wrong = spoiled()[case]
    for name in QTI:
        with pytest.raises(ExportFault, match=wrong) as caught:
            Renderer(version(name), sampler.info()).item(item, True)
        assert caught.value.item == item.identifier
