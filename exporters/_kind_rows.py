"""Rows of the further kinds of response in the two tables: what is offered, what is right, what mistakes lead to.

In ``options.csv`` each thing offered has a row (kinds ``option``, ``offer``, ``source``, ``target``, ``step``), and so
has each wrong answer that a mistake leads to (``order``, ``pair``, ``foreseen``): the identifiers of what is offered,
in the order or pair meant, stand in its column ``option``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from bank.answers import accepted_forms
from bank.model import (
    ChooseInLine, ChooseSeveral, FindMistake, Line, Locale, MatchPairs, Offer, PutInOrder, Response, TypedNumber, Unit,
)
from bank.numerals import Numeral
from exporters._text import plain_text

SEPARATOR = "; "
"""Stands between identifiers in one cell."""
BETWEEN = " "
"""Stands between the two identifiers of a pair."""
ROW_KINDS = ("option", "foreseen", "offer", "source", "target", "step", "order", "pair")
"""What a row of ``options.csv`` may be."""


class KindRow(NamedTuple):
    """One row of the table of options, not yet written."""

    kind: str
    """One of `ROW_KINDS`."""
    option: str
    text: Line | None
    """What is shown; None where it is said by the identifiers."""
    value: Numeral | None
    is_key: str
    """``yes``, ``no``, or empty where the question makes no sense."""
    mistakes: tuple[str, ...]


def kind_rows(response: Response) -> Iterator[KindRow]:
    """Give the rows of what is offered, and of the wrong answers foreseen, in a *response* of a further kind."""
    if isinstance(response, (ChooseSeveral, ChooseInLine)):
        for one in response.options:
            yield _row("option", one, _yes(one.is_key))
    elif isinstance(response, PutInOrder):
        for one in response.offers:
            yield _row("offer", one, "")
        for order, names in response.mistakes:
            yield KindRow("order", SEPARATOR.join(order), None, None, "no", names)
    elif isinstance(response, MatchPairs):
        for one in response.sources:
            yield _row("source", one, "")
        for one in response.targets:
            yield _row("target", one, "")
        for pair, names in response.mistakes:
            yield KindRow("pair", BETWEEN.join(pair), None, None, "no", names)
    elif isinstance(response, FindMistake):
        for one in response.steps:
            yield _row("step", one, _yes(one.identifier == response.right))
        for numeral, names in response.typed.mistakes if response.typed else ():
            yield KindRow("foreseen", "", (numeral,), numeral, "no", names)


def _row(kind: str, offer: Offer, key: str) -> KindRow:
    return KindRow(kind, offer.identifier, offer.text, offer.value, key, offer.mistakes)


def _yes(right: bool) -> str:
    return "yes" if right else "no"


class Asked(NamedTuple):
    """What a row of ``items.csv`` says of how an item is answered."""

    policy: str
    """Policy of what is typed; empty where nothing is."""
    options: int
    """How many things are offered."""
    credit: str
    """How marks are given where a part of the answer is right."""
    right: str
    """The right answer, by identifiers."""


def asked(response: Response) -> Asked:
    """Return what the table of items says of a *response* of a further kind."""
    if isinstance(response, ChooseSeveral):
        right = [one.identifier for one in response.options if one.is_key]
        return Asked("", len(response.options), response.credit, SEPARATOR.join(right))
    if isinstance(response, ChooseInLine):
        right = [one.identifier for one in response.options if one.is_key]
        return Asked("", len(response.options), "all", SEPARATOR.join(right))
    if isinstance(response, PutInOrder):
        return Asked("", len(response.offers), response.credit, SEPARATOR.join(response.right))
    if isinstance(response, MatchPairs):
        right = [BETWEEN.join(pair) for pair in response.pairs]
        return Asked("", len(response.sources) + len(response.targets), response.credit, SEPARATOR.join(right))
    if isinstance(response, FindMistake):
        typed: TypedNumber | None = response.typed
        return Asked(typed.policy if typed else "", len(response.steps), response.credit, response.right)
    raise TypeError(f"{response!r} is no further kind of response")


PAIRED = " \u2192 "
"""Stands between a source and its target where the answer is shown in words."""


def answer_text(response: Response, key: Numeral, unit: Unit | None, locale: Locale) -> str:
    """Return what a pupil would answer to a *response* of a further kind, as it is shown; *key* is what is typed."""
    def shown(offer: Offer) -> str:
        return locale.sign(plain_text(offer.text, locale))

    if isinstance(response, (ChooseSeveral, ChooseInLine)):
        return SEPARATOR.join([shown(one) for one in response.options if one.is_key])
    if isinstance(response, PutInOrder):
        texts = {one.identifier: shown(one) for one in response.offers}
        return SEPARATOR.join([texts[name] for name in response.right])
    if isinstance(response, MatchPairs):
        texts = {one.identifier: shown(one) for one in (*response.sources, *response.targets)}
        return SEPARATOR.join([f"{texts[source]}{PAIRED}{texts[target]}" for source, target in response.pairs])
    if isinstance(response, FindMistake):
        step = f"Step {[one.identifier for one in response.steps].index(response.right) + 1}"
        if response.typed is None:
            return step
        return f"{step}{SEPARATOR}{accepted_forms(key, locale, response.typed.policy, unit)[0]}"
    raise TypeError(f"{response!r} is no further kind of response")


def offered_lines(response: Response) -> tuple[tuple[Line, ...], ...]:
    """Return the texts of what is put in order or matched, which the stem speaks of without naming it."""
    if isinstance(response, PutInOrder):
        return (tuple([one.text for one in response.offers]),)
    if isinstance(response, MatchPairs):
        return tuple([one.text for one in response.sources]), tuple([one.text for one in response.targets])
    return ()


def number_is_asked(response: Response) -> bool:
    """Return whether the answer to a *response* of a further kind holds a number that has a value of its own."""
    return isinstance(response, FindMistake) and response.typed is not None
