"""Which targets carry what is said to a wrong answer, so that the tables promise no more than the packages hold."""

from __future__ import annotations

from collections.abc import Callable

from bank.answers import accepted_forms
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber,
)
from bank.numerals import Numeral
from exporters import _kind_find
from exporters._cc_asked import ORDERS, refusal
from exporters._kind_rows import SEPARATOR
from exporters._words import Case, Words

QTI, CARTRIDGE, NONE = "qti", "cc13", "none"
Carriers = Callable[[str, str, Numeral | None, bool], str]
"""Takes kind and identifiers of a row of ``options.csv``, its number and whether it is a key."""


def carriers_of(item: Item, words: Words, locale: Locale) -> Carriers:
    """Return what says which targets carry the feedback of a row: QTI in all versions, the cartridge, or none."""
    if not item.shows_feedback:
        return lambda *row: NONE
    response = item.response
    both = QTI if refusal(item) else f"{QTI}{SEPARATOR}{CARTRIDGE}"
    if isinstance(response, (Choice, ChooseInLine)):
        return lambda *row: both
    if isinstance(response, ChooseSeveral):
        return lambda kind, name, number, is_key: QTI if is_key else both
    if isinstance(response, PutInOrder):
        offered = {SEPARATOR.join(order) for order, _ in response.mistakes[: ORDERS - 1]}
        return lambda kind, name, number, is_key: both if name in offered else QTI
    if isinstance(response, MatchPairs):
        return lambda kind, name, number, is_key: QTI if kind == "pair" else NONE
    if isinstance(response, FindMistake):
        return _foreseen(_find_cases(item, response, words, locale), QTI, locale)
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    return _foreseen(words.foreseen(item, response, forms), both, locale)


def _find_cases(item: Item, response: FindMistake, words: Words, locale: Locale) -> list[Case]:
    typed: TypedNumber | None = response.typed
    if typed is None:
        return []
    return _kind_find.foreseen(
        words, item, response, typed, accepted_forms(item.key, locale, typed.policy, item.family.unit)
    )


def _foreseen(cases: list[Case], carriers: str, locale: Locale) -> Carriers:
    """Only a few of the wrong answers foreseen have words of their own in a package."""
    told = {form for name, _, _, spelled in cases if name.startswith("mistake") for form in spelled}
    return lambda kind, name, number, is_key: (
        carriers if number is not None and locale.number(number) in told else NONE
    )
