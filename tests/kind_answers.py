"""Answers to items of every kind: all there are where they are few, and how a delivery system would hold them."""

from __future__ import annotations

from itertools import combinations, permutations, product
from typing import Any

from bank.answers import accepted_forms
from bank.model import ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder
from bank.numerals import Numeral

Answer = tuple[str, ...]


def answers(item: Item, locale: Locale) -> list[Answer]:
    """Return answers to *item* as `bank.marking` takes them: all subsets, orders, pairings, choices; spellings."""
    response = item.response
    if isinstance(response, ChooseSeveral):
        names = [one.identifier for one in response.options]
        return [chosen for count in range(len(names) + 1) for chosen in combinations(names, count)]
    if isinstance(response, PutInOrder):
        names = [one.identifier for one in response.offers]
        return [(), *permutations(names), tuple(response.right[:-1])]
    if isinstance(response, MatchPairs):
        rows = [["", *[f"{one.identifier} {other.identifier}" for other in response.targets]]
                for one in response.sources]
        return [tuple([pair for pair in pairs if pair]) for pairs in product(*rows)]
    if isinstance(response, ChooseInLine):
        return [(), *[(one.identifier,) for one in response.options]]
    assert isinstance(response, FindMistake)
    steps = ["", *[one.identifier for one in response.steps]]
    if response.typed is None:
        return [(step,) for step in steps]
    return [(step, text) for step in steps for text in typed(item, locale)]


def typed(item: Item, locale: Locale) -> list[str]:
    """Return what may be typed for the key of *item*: nothing, right spellings, wrong numbers, near misses."""
    assert isinstance(item.response, FindMistake) and item.response.typed is not None
    forms = accepted_forms(item.key, locale, item.response.typed.policy, item.family.unit)
    wrong = [item.response.working.result, *[numeral for numeral, _ in item.response.typed.mistakes]]
    more = Numeral(item.key.coefficient + 1, item.key.places)
    near = [forms[0] + "x", "-" + forms[0], forms[0] + " ", locale.number(more)]
    return list(dict.fromkeys(["", *forms, *[locale.number(numeral) for numeral in wrong], *near]))


def held(item: Item, answer: Answer) -> dict[str, Any]:
    """Return the response variables that hold *answer*."""
    response = item.response
    if isinstance(response, FindMistake):
        step, text = (*answer, "", "")[:2]
        return {"RESPONSE": step or None, **({"ANSWER": text or None} if response.typed else {})}
    if isinstance(response, ChooseInLine):
        return {"RESPONSE": answer[0] if answer else None}
    return {"RESPONSE": list(answer)}
