"""Marks by the bank's own key: how many an item is worth, and how many an answer earns.

Marks are whole numbers, so that no format has to write a third as a decimal: an item whose credit is ``all`` is worth
one mark, one with credit by parts as many as it has parts (right options, places, pairs, or step and answer). A share
of the item is marks over most marks. Exporters write these marks, and what is read back or reported is held to them.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank.answers import accepted_forms
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, Response, TypedNumber,
    Unit,
)
from bank.numerals import Numeral

Answer = str | Sequence[str]
"""What a pupil answers: one identifier (`Choice`, `ChooseInLine`) or what is typed (`TypedNumber`); identifiers
(`ChooseSeveral`, in any order; `PutInOrder`, first to last); pairs as ``S1 T2`` (`MatchPairs`, in any order); the step
and what is typed (`FindMistake`; the second only where it is asked). Empty texts and sequences mean no answer."""


def most_marks(response: Response) -> int:
    """Return how many marks a right answer earns: 1, or the number of parts where each is credited."""
    if isinstance(response, ChooseSeveral) and response.credit == "each":
        return sum([option.is_key for option in response.options])
    if isinstance(response, PutInOrder) and response.credit == "places":
        return len(response.right)
    if isinstance(response, MatchPairs) and response.credit == "each":
        return len(response.pairs)
    if isinstance(response, FindMistake) and response.credit == "each" and response.typed is not None:
        return 2
    return 1


def earned_marks(item: Item, answer: Answer, locale: Locale) -> int:
    """Return how many marks *answer* to *item* earns, from 0 to `most_marks`.

    A typed answer is right where it is one of `bank.answers.accepted_forms`, letter by letter.
    """
    response = item.response
    if isinstance(response, TypedNumber):
        return int(isinstance(answer, str) and is_right_number(answer, item, response, locale))
    parts = (answer,) if isinstance(answer, str) else tuple(answer)
    if isinstance(response, (Choice, ChooseInLine)):
        return int(any([parts == (option.identifier,) for option in response.options if option.is_key]))
    if isinstance(response, ChooseSeveral):
        return _several(response, frozenset(parts))
    if isinstance(response, PutInOrder):
        placed = sum([right == put for right, put in zip(response.right, parts)])
        return placed if response.credit == "places" else int(parts == response.right)
    if isinstance(response, MatchPairs):
        right = frozenset([f"{source} {target}" for source, target in response.pairs])
        return len(right.intersection(parts)) if response.credit == "each" else int(frozenset(parts) == right)
    return _found(item, response, parts, locale)


def is_right_number(text: str, item: Item, response: TypedNumber, locale: Locale) -> bool:
    """Return whether *text*, typed as *response* wants it, is right: one of the spellings, letter by letter."""
    return text in _kept_forms(item.key.coefficient, item.key.places, locale, response.policy, item.family.unit)


@lru_cache(maxsize=64)
def _kept_forms(coefficient: int, places: int, locale: Locale, policy: str, unit: Unit | None) -> frozenset[str]:
    return frozenset(accepted_forms(Numeral(coefficient, places), locale, policy, unit))


def _several(response: ChooseSeveral, chosen: frozenset[str]) -> int:
    right = frozenset([option.identifier for option in response.options if option.is_key])
    if response.credit == "each":
        return max(0, len(right & chosen) - len(chosen - right))
    return int(chosen == right)


def _found(item: Item, response: FindMistake, parts: tuple[str, ...], locale: Locale) -> int:
    step = int(parts[:1] == (response.right,))
    if response.typed is None:
        return step
    typed = int(len(parts) > 1 and is_right_number(parts[1], item, response.typed, locale))
    return step + typed if response.credit == "each" else step * typed
