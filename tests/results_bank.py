"""A small bank to give and read results of, and items of every kind of response. All of it is invented."""

from __future__ import annotations

import tempfile
from functools import lru_cache
from pathlib import Path

import kept_kinds
from items import POINT, item, numeral

import bank
from bank.build import build
from bank.model import (
    BankInfo, ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, Offer, PutInOrder, Quiz, Section, TypedNumber,
)
from bank.plans import load_plan
from bank.store import pack, write_bank

_ROOM = tempfile.TemporaryDirectory()
QUIZ = "week-1-sums"


@lru_cache(maxsize=1)
def bank_path() -> Path:
    """Return the path of a bank built from the small plan that comes with the tool, its folder removed at exit."""
    folder = Path(_ROOM.name)
    build(load_plan(Path(bank.__file__).parent / "content" / "plans" / "first-steps.yaml"), folder)
    return folder / "bank.sqlite"


def _offers(first: str, texts: str, keys: str = "", mistaken: dict[str, str] | None = None) -> tuple[Offer, ...]:
    made = []
    for place, text in enumerate(texts.split()):
        identifier = chr(65 + place) if first == "A" else f"{first}{place + 1}"
        made.append(Offer(
            identifier=identifier, text=(text,), is_key=identifier in keys.split(),
            mistakes=((mistaken or {}).get(identifier, ""),) if (mistaken or {}).get(identifier) else (),
        ))
    return tuple(made)


def every_kind() -> dict[str, Item]:
    """Return one item of every kind of response, by a short name."""
    wrong = item("add", operands=("4.75", "12.6")).solution
    plain = item("add", operands=("4.75", "12.6"))
    return {
        "choice": plain,
        "typed": item("add", typed=True),
        "typed money": item("add", typed=True, of={"unit": "m"}),
        "typed places": item("add", typed=True, policy="places", of={"places": 2}),
        "several": item("add", response=ChooseSeveral(
            options=_offers("A", "1.2+1.2 0.6*4 24-2.4 2.04", "A B", {"C": "add.carry-forgotten"}))),
        "several, each": item("add", response=ChooseSeveral(
            options=_offers("A", "1.2+1.2 0.6*4 24-2.4 2.04", "A B"), credit="each")),
        "order": item("add", response=PutInOrder(
            offers=_offers("A", "0.5 0.45 0.405"), right=("C", "B", "A"),
            mistakes=((("A", "B", "C"), ("compare.longer-is-larger",)),), credit="places")),
        "pairs": item("add", response=MatchPairs(
            sources=_offers("S", "1+1 2+1 3+1"), targets=_offers("T", "2 3 4 5"),
            pairs=(("S1", "T1"), ("S2", "T2"), ("S3", "T3")),
            mistakes=((("S1", "T4"), ("add.carry-forgotten",)),), credit="each")),
        "in line": item("add", response=ChooseInLine(
            options=_offers("A", "< = >", "C", {"A": "compare.longer-is-larger"}))),
        "mistake": item("add", response=FindMistake(
            working=wrong._replace(result=numeral("16.35")), steps=_offers("S", "one two three"), right="S2",
            mistake="add.carry-forgotten")),
        "mistake and answer": item("add", response=FindMistake(
            working=wrong._replace(result=numeral("16.35")), steps=_offers("S", "one two three"), right="S2",
            mistake="add.carry-forgotten", typed=TypedNumber(), credit="each")),
    }


@lru_cache(maxsize=1)
def bank_of_kinds() -> Path:
    """Return the path of a bank with one quiz, ``kinds``, of hand-made items of every kind of response."""
    made = [*kept_kinds.ITEMS, item("add", typed=True, identifier="typed-v1-abc", of={"template": "typed"}),
            item("add", identifier="choice-v1-abc", of={"template": "choice"})]
    path = Path(_ROOM.name) / "kinds" / "bank.sqlite"
    quiz = Quiz(identifier="kinds", title="Kinds", week=1,
                sections=(Section(title="All", items=tuple(one.identifier for one in made)),))
    info = BankInfo(title="Kinds", plan="kinds", seed=1, locale=POINT, tool_version="0", invented=True)
    families = {one.family.template: one.family for one in made}
    write_bank(path, info, families.values(), [quiz],
               [(one.identifier, one.family.template, one.prediction.band, pack(one)) for one in made], "")
    return path
