"""What is kept of an item: a line of its own, and lines that many items share.

Its own line holds drawn values and numbers. Each further line is one that many items share word for word: the stem
with places for its numbers, features and prediction, the manner of response, the mistakes behind one answer. `pack`
writes them one below the other; in the bank each shared line is kept once, and an item names it by number.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache

from bank.model import Choice, Item, TypedNumber
from bank.numerals import Numeral
from bank.store._kinds import kind_out
from bank.store._lines import REMEMBERED, SILENT, Slot, dumps, slot


def pack(item: Item) -> str:
    """Return what is kept of *item*, as lines of JSON.

    They are: drawn values by name, numbers asked, numbers of key and answers; stem; features and prediction; manner
    of response, with "silent" where no feedback is shown; and one line an answer with the ids of its mistakes. A number
    is written as coefficient and places.
    What further kinds of response keep instead of the last two is said in `bank.store._kinds`.
    """
    asked = list(item.operands)
    stem = _stem_out(len(asked), tuple([tuple([slot(leaf, asked) for leaf in line]) for line in item.stem]))
    response, prediction = item.response, item.prediction
    given = [item.key]
    alone = ""
    if isinstance(response, Choice):
        given += [option.numeral for option in response.options]
        keys = tuple([place for place, option in enumerate(response.options) if option.is_key])
        manner = _manner_out("choice", response.order, keys, item.shows_feedback)
        lines = [*map(_mistakes_out, [option.mistakes for option in response.options])]
    elif isinstance(response, TypedNumber):
        given += [numeral for numeral, _ in response.mistakes]
        manner = _manner_out("number", response.policy, (), item.shows_feedback)
        lines = [*map(_mistakes_out, [names for _, names in response.mistakes])]
    else:
        manner, lines, own_part = kind_out(response, given, item.shows_feedback)
        alone = "" if own_part is None else f",{dumps(own_part)}"
    # Words through the encoder, numbers as they are: a third quicker than one call for all.
    values = ",".join([f"{dumps(name)}:{dumps(value)}" for name, value in item.parameters])
    own = f"[{{{values}}},[{_numbers_out(asked)}],[{_numbers_out(given)}{alone}]]"
    said = _said_out(
        item.features, prediction.band, prediction.score, prediction.low_share, prediction.high_share,
        prediction.reasons,
    )
    return "\n".join([own, stem, said, manner, *lines])


def _numbers_out(numerals: Sequence[Numeral]) -> str:
    return ",".join([f"{numeral.coefficient},{numeral.places}" for numeral in numerals])


@lru_cache(REMEMBERED)
def _stem_out(operands: int, lines: tuple[tuple[Slot, ...], ...]) -> str:
    return dumps((operands, lines))


@lru_cache(REMEMBERED)
def _said_out(
    features: tuple[tuple[str, int], ...], band: str, score: int, low: int, high: int,
    reasons: tuple[tuple[str, int, int], ...],
) -> str:
    # Numbers that are equal are written alike, truth values too, so that it does not matter which item came first.
    return dumps((
        [(name, int(value)) for name, value in features],
        (band, int(score), int(low), int(high), [(name, int(value), int(part)) for name, value, part in reasons]),
    ))


@lru_cache(REMEMBERED)
def _manner_out(kind: str, manner: str, keys: tuple[int, ...], shows_feedback: bool) -> str:
    return dumps((kind, manner, keys, *(() if shows_feedback else SILENT)))


@lru_cache(REMEMBERED)
def _mistakes_out(identifiers: tuple[str, ...]) -> str:
    return dumps(identifiers)


class Sharing:
    """Numbers shared lines in the order in which they first come."""

    def __init__(self) -> None:
        self._numbers: dict[str, int] = {}

    def kept(self, content: str) -> str:
        """Return packed *content* as the bank keeps it: the own line, with the numbers of the shared ones behind."""
        own, *lines = content.split("\n")
        numbers = self._numbers
        return f"{own[:-1]},{','.join([str(numbers.setdefault(line, len(numbers))) for line in lines])}]"

    def lines(self) -> Iterator[tuple[int, str]]:
        """Yield each shared line behind its number."""
        for line, number in self._numbers.items():
            yield number, line
