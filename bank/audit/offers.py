"""What an item offers, and the wrong answers it foresees, as rows for a table: an option, an order, a pair, a step."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, Expression, FindMistake, Item, Line, Locale, MatchPairs, PutInOrder,
    TypedNumber,
)
from bank.numerals import Numeral
from bank.review import writing


class Offered(NamedTuple):
    """An answer, or a part of one."""

    identifier: str
    """As a response names it; empty for a typed number."""
    text: str
    is_key: bool
    """Whether it is right, or part of the right answer."""
    foreseen: bool
    """Whether it is a wrong answer that is foreseen, and not something that is offered."""
    mistakes: tuple[str, ...]
    """Ids of the mistakes that lead to it; for a right option to leaving it out."""


def offers_of(item: Item, locale: Locale) -> Iterator[Offered]:
    """Give what *item* offers and foresees, in its order, as *locale* writes it."""
    response = item.response
    if isinstance(response, Choice):
        for option in response.options:
            yield Offered(
                option.identifier, locale.number(option.numeral), option.is_key, False, option.mistakes
            )
    elif isinstance(response, (ChooseSeveral, ChooseInLine)):
        for one in response.options:
            yield Offered(one.identifier, line_words(one.text, locale), one.is_key, False, one.mistakes)
    elif isinstance(response, TypedNumber):
        yield from _typed(response, locale)
    elif isinstance(response, PutInOrder):
        texts = {one.identifier: line_words(one.text, locale) for one in response.offers}
        for order, names in ((response.right, ()), *response.mistakes):
            text = "; ".join(texts[name] for name in order)
            yield Offered(" ".join(order), text, order == response.right, order != response.right, names)
    elif isinstance(response, MatchPairs):
        texts = {one.identifier: line_words(one.text, locale) for one in (*response.sources, *response.targets)}
        for pair, names in (*((pair, ()) for pair in response.pairs), *response.mistakes):
            right = pair in response.pairs
            yield Offered(" ".join(pair), f"{texts[pair[0]]} \u2192 {texts[pair[1]]}", right, not right, names)
    else:
        yield from _steps(response, locale)


def _typed(response: TypedNumber, locale: Locale) -> Iterator[Offered]:
    for numeral, names in response.mistakes:
        yield Offered("", locale.number(numeral), False, True, names)


def _steps(response: FindMistake, locale: Locale) -> Iterator[Offered]:
    for one in response.steps:
        right = one.identifier == response.right
        yield Offered(one.identifier, line_words(one.text, locale), right, False, one.mistakes)
    if response.typed is not None:
        yield from _typed(response.typed, locale)


def key_words(item: Item, locale: Locale) -> str:
    """Return the right answer to *item* in words: a number with its unit, or what is to be chosen, in its order."""
    if isinstance(item.response, (Choice, TypedNumber, FindMistake)):
        return writing.answer(item.key, item.family.unit, locale)
    return "; ".join(one.text for one in offers_of(item, locale) if one.is_key)


def line_words(line: Line, locale: Locale) -> str:
    """Return one line of leaves as plain text."""
    return "".join([_leaf_words(leaf, locale) for leaf in line])


def _leaf_words(leaf: str | Numeral | Expression, locale: Locale) -> str:
    if isinstance(leaf, str):
        return locale.sign(leaf) if len(leaf) == 1 else leaf
    return locale.number(leaf) if isinstance(leaf, Numeral) else writing.expression(leaf, locale)


def asked_words(item: Item, locale: Locale) -> str:
    """Return the question of *item* as plain text."""
    return " ".join(line_words(line, locale) for line in item.stem)
