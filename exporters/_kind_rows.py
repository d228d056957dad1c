"""Rows of the further kinds of response in the two tables: what is offered, what is right, what mistakes lead to.

In ``options.csv`` each thing offered has a row (kinds ``option``, ``offer``, ``source``, ``target``, ``step``), and so
has each wrong answer that a mistake leads to (``order``, ``pair``, ``foreseen``): the identifiers of what is offered,
in the order or pair meant, stand in its column ``option``.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from bank.model import (
    ChooseInLine, ChooseSeveral, FindMistake, Line, MatchPairs, Offer, PutInOrder, Response, TypedNumber,
)
from bank.numerals import Numeral

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
