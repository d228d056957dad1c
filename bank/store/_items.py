"""What is kept of an item: a few lines of JSON, and how they are read, wholly or for the answers only.

The first line holds what is the item's own: drawn values and numbers. Each further line is one that many items share
word for word (the stem with places for its numbers, features and prediction, the manner of response, the mistakes
behind one answer), so that it is made and read once for all of them.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from bank import methods
from bank.model import Choice, Expression, Family, Item, Leaf, Line, Option, Prediction, Response, Trace, TypedNumber
from bank.numerals import Numeral

REMEMBERED = 4096
"""Shared lines of one kind that are held in memory; what is rarer is made or read again."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_NO_SOLUTION = Trace("", "", "", (), Numeral(0), (), 0, (), ())
"""Stands in an item that was read without its solution."""
_Slot = int | str | tuple[int | str, ...]
"""A leaf of a stem: words, an expression, or where its number stands among the item's numbers."""

dumps = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False).encode
_decode = json.JSONDecoder().raw_decode


class ItemAnswers(NamedTuple):
    """What scoring hangs on: an item's key and its answers, offered or foreseen."""

    identifier: str
    family: Family
    key: Numeral
    kind: str
    """``choice``, or ``number`` where the answer is typed."""
    policy: str
    """Policy of a typed answer; empty for a choice."""
    numerals: tuple[Numeral, ...]
    """The options of a choice in their order, or the wrong answers foreseen to a typed one."""
    keys: tuple[bool, ...]
    """For each of them, whether it is the key; all False where they are foreseen."""
    mistakes: tuple[tuple[str, ...], ...]
    """For each of them, the ids of the mistakes that lead to it."""

    @property
    def letters(self) -> str:
        """Identifiers of the options, one letter each; empty for a typed answer."""
        return _LETTERS[: len(self.numerals)] if self.kind == "choice" else ""


def answers_of(item: Item) -> ItemAnswers:
    """Return what `read_answers` gives for *item*."""
    response = item.response
    if isinstance(response, Choice):
        options = response.options
        return ItemAnswers(
            item.identifier, item.family, item.key, "choice", "", tuple([option.numeral for option in options]),
            tuple([option.is_key for option in options]), tuple([option.mistakes for option in options]),
        )
    wrong = response.mistakes
    return ItemAnswers(
        item.identifier, item.family, item.key, "number", response.policy, tuple([numeral for numeral, _ in wrong]),
        (False,) * len(wrong), tuple([names for _, names in wrong]),
    )


def pack(item: Item) -> str:
    """Return what is kept of *item*, as lines of JSON.

    They are: drawn values by name, numbers asked, numbers of key and answers; stem; features and prediction; manner
    of response; and one line an answer with the ids of its mistakes. A number is written as coefficient and places.
    """
    asked = list(item.operands)
    stem = _stem_out(len(asked), tuple([tuple([_slot(leaf, asked) for leaf in line]) for line in item.stem]))
    response, prediction = item.response, item.prediction
    given = [item.key]
    if isinstance(response, Choice):
        given += [option.numeral for option in response.options]
        keys = tuple([place for place, option in enumerate(response.options) if option.is_key])
        manner = _manner_out("choice", response.order, keys)
        reasons = [option.mistakes for option in response.options]
    else:
        given += [numeral for numeral, _ in response.mistakes]
        manner = _manner_out("number", response.policy, ())
        reasons = [names for _, names in response.mistakes]
    own = dumps((dict(item.parameters), _numbers_out(asked), _numbers_out(given)))
    said = _said_out(
        item.features, prediction.band, prediction.score, prediction.low_share, prediction.high_share,
        prediction.reasons,
    )
    return "\n".join([own, stem, said, manner, *map(_mistakes_out, reasons)])


def _numbers_out(numerals: Sequence[Numeral]) -> list[int]:
    return [part for numeral in numerals for part in (numeral.coefficient, numeral.places)]


def _slot(leaf: Leaf, asked: list[Numeral]) -> _Slot:
    """Return *leaf* with each number replaced by its place in *asked*, to which it is added where it is missing."""
    if isinstance(leaf, str):
        return leaf
    if isinstance(leaf, Numeral):
        return _place(leaf, asked)
    return tuple([part if isinstance(part, str) else _place(part, asked) for part in leaf.parts])


def _place(numeral: Numeral, asked: list[Numeral]) -> int:
    for place, one in enumerate(asked):
        if one is numeral or one.same_writing(numeral):
            return place
    asked.append(numeral)
    return len(asked) - 1


@lru_cache(REMEMBERED)
def _stem_out(operands: int, lines: tuple[tuple[_Slot, ...], ...]) -> str:
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
def _manner_out(kind: str, manner: str, keys: tuple[int, ...]) -> str:
    return dumps((kind, manner, keys))


@lru_cache(REMEMBERED)
def _mistakes_out(identifiers: tuple[str, ...]) -> str:
    return dumps(identifiers)


def unpack(
    identifier: str, family: Family, content: str, *, solutions: bool = True, answers_only: bool = False
) -> Item:
    """Return the item that `pack` wrote, with its worked solution carried out anew.

    Without *solutions* the solution stays empty, with *answers_only* the stem too: enough to compare key, options
    and scoring.

    Raises:
        ValueError: the worked solution does not give the key that was kept; or, as KeyError, TypeError or another of
            `bank.store.DAMAGE`, *content* is nothing that `pack` wrote.
    """
    own, stem, said, manner, *reasons = content.split("\n")
    parameters, asked, given = _loads(own)
    numbers = _numbers_in(asked)
    count, pattern = _stem_in(stem)
    operands = numbers[:count]
    key, *answers = _numbers_in(given)
    solution = _NO_SOLUTION
    if solutions and not answers_only:
        solution = methods.run(family.operation, operands, layout=family.layout, places=family.rounding)
        if solution.result != key:
            raise ValueError(f"the worked solution gives {solution.result}, the key kept is {key}")
    features, prediction = _said_in(said)
    return Item(
        identifier=identifier,
        family=family,
        parameters=tuple(parameters.items()),
        stem=() if answers_only else tuple([_line(line, numbers) for line in pattern]),
        operands=operands,
        key=key,
        response=_response(manner, answers, reasons),
        solution=solution,
        features=features,
        prediction=prediction,
    )


def read_answers(identifier: str, family: Family, content: str) -> ItemAnswers:
    """Return key and answers of the item that `pack` wrote.

    Raises:
        ValueError: or another of `bank.store.DAMAGE`: *content* is nothing that `pack` wrote.
    """
    own, _, _, manner, *reasons = content.split("\n")
    key, *answers = _numbers_in(_loads(own)[2])
    kind, policy, keys = _manner_in(manner, len(answers))
    if len(reasons) != len(answers):
        raise ValueError("some answers lack their reasons")
    return ItemAnswers(
        identifier, family, key, kind, "" if kind == "choice" else policy, tuple(answers), keys,
        tuple(map(_mistakes_in, reasons)),
    )


def _loads(line: str) -> Any:
    """Return what one line of JSON says; without looking for blanks, of which `dumps` writes none."""
    value, end = _decode(line)
    if end != len(line):
        raise ValueError(f"something stands behind {line[:end]}")
    return value


def _numbers_in(kept: list[int]) -> tuple[Numeral, ...]:
    return tuple(map(Numeral, kept[::2], kept[1::2]))


@lru_cache(REMEMBERED)
def _stem_in(kept: str) -> tuple[int, tuple[tuple[_Slot, ...], ...]]:
    operands, lines = _loads(kept)
    return int(operands), tuple([
        tuple([tuple(slot) if isinstance(slot, list) else slot for slot in line]) for line in lines
    ])


def _line(line: tuple[Any, ...], numbers: tuple[Numeral, ...]) -> Line:
    return tuple([
        slot if slot.__class__ is str else numbers[slot] if slot.__class__ is int
        else Expression(tuple([part if part.__class__ is str else numbers[part] for part in slot]))
        for slot in line
    ])


@lru_cache(REMEMBERED)
def _said_in(kept: str) -> tuple[tuple[tuple[str, int], ...], Prediction]:
    features, (band, score, low, high, reasons) = _loads(kept)
    return tuple([(name, value) for name, value in features]), Prediction(
        band=band, score=score, low_share=low, high_share=high,
        reasons=tuple([(name, value, part) for name, value, part in reasons]),
    )


@lru_cache(REMEMBERED)
def _manner_in(kept: str, answers: int) -> tuple[str, str, tuple[bool, ...]]:
    """Return kind of response, order or policy, and for each answer whether it is the key."""
    kind, manner, keys = _loads(kept)
    if kind not in ("choice", "number") or not all(0 <= place < answers for place in keys):
        raise ValueError(f"no manner of response: {kept}")
    return kind, manner, tuple([place in keys for place in range(answers)])


@lru_cache(REMEMBERED)
def _mistakes_in(kept: str) -> tuple[str, ...]:
    identifiers = _loads(kept)
    if not isinstance(identifiers, list):
        raise ValueError(f"no list of mistakes: {kept}")
    return tuple(identifiers)


def _response(kept: str, answers: list[Numeral], reasons: list[str]) -> Response:
    kind, manner, keys = _manner_in(kept, len(answers))
    names = map(_mistakes_in, reasons)
    if kind == "number":
        return TypedNumber(policy=manner, mistakes=tuple(zip(answers, names, strict=True)))
    return Choice(
        options=tuple([
            Option(identifier=letter, numeral=numeral, is_key=is_key, mistakes=mistakes)
            for letter, numeral, is_key, mistakes in zip(_LETTERS[: len(answers)], answers, keys, names, strict=True)
        ]),
        order=manner,
    )
