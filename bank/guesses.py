"""Guesses on the further kinds of response: blind, and by strategies that look but do not reckon.

An answer is marked by the bank's own key, so a share of the mark counts where the item gives one. The strategies are
common practice, no source; those of choosing one stand in `bank.cues`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from math import comb, factorial, perm
from typing import Any

from bank.marking import Answer, earned_marks, most_marks
from bank.model import (
    ChooseInLine, ChooseSeveral, Expression, FindMistake, Item, Line, Locale, MatchPairs, Offer, PutInOrder, Response,
)
from bank.numerals import Numeral

UNIT = 60
"""Units of a whole mark; divisible by every number of parts that an item can have."""
Strategy = Callable[[Any, Sequence[Line]], Answer]
"""Gives an answer to a response of its kind, with the item's stem."""


def looks(text: Line) -> str:
    """Return *text* as one string that differs where texts look different."""
    return "".join([
        leaf if isinstance(leaf, str) else leaf.text() if isinstance(leaf, Numeral)
        else " ".join([part if isinstance(part, str) else part.text() for part in leaf.parts])
        for leaf in text
    ])


def _length(offer: Offer) -> int:
    return len(looks(offer.text))


def _sign(answer: str) -> Strategy:
    def choose(response: ChooseInLine, stem: Sequence[Line]) -> Answer:
        return next(one.identifier for one in response.options if one.text == (answer,))

    return choose


def _longer(sign_where_left_is_longer: str, otherwise: str) -> Strategy:
    def choose(response: ChooseInLine, stem: Sequence[Line]) -> Answer:
        gap = next(leaf for line in stem for leaf in line if isinstance(leaf, Expression) and "?" in leaf.parts)
        at = gap.parts.index("?")
        left, right = [len(looks((Expression(part),))) for part in (gap.parts[:at], gap.parts[at + 1 :])]
        sign = "=" if left == right else sign_where_left_is_longer if left > right else otherwise
        return _sign(sign)(response, stem)

    return choose


def _several(takes: Callable[[Offer, Sequence[Offer]], bool]) -> Strategy:
    def choose(response: ChooseSeveral, stem: Sequence[Line]) -> Answer:
        return [one.identifier for one in response.options if takes(one, response.options)]

    return choose


def _is_number(offer: Offer) -> bool:
    return len(offer.text) == 1 and isinstance(offer.text[0], Numeral)


def _is_long(offer: Offer, options: Sequence[Offer]) -> bool:
    return _length(offer) > sorted(map(_length, options))[(len(options) - 1) // 2]


def _order(key: Callable[[Offer, int], object]) -> Strategy:
    def put(response: PutInOrder, stem: Sequence[Line]) -> Answer:
        offers = response.offers
        placed = sorted(range(len(offers)), key=lambda at: key(offers[at], at))  # type: ignore[arg-type, return-value]
        return [offers[at].identifier for at in placed]

    return put


def _pairs(key: Callable[[Offer, int], object]) -> Strategy:
    def match(response: MatchPairs, stem: Sequence[Line]) -> Answer:
        targets = sorted(enumerate(response.targets), key=lambda pair: key(pair[1], pair[0]))  # type: ignore[arg-type, return-value]
        sources = sorted(response.sources, key=lambda one: key(one, 0))  # type: ignore[arg-type, return-value]
        return [f"{one.identifier} {other.identifier}" for one, (_, other) in zip(sources, targets, strict=False)]

    return match


def _step(place: Callable[[int], int]) -> Strategy:
    def mark(response: FindMistake, stem: Sequence[Line]) -> Answer:
        return [response.steps[place(len(response.steps))].identifier, ""]

    return mark


STRATEGIES: dict[str, dict[str, Strategy]] = {
    "choose-in-line": {
        "less": _sign("<"), "equal": _sign("="), "greater": _sign(">"), "longer-is-larger": _longer(">", "<"),
        "shorter-is-larger": _longer("<", ">"),
    },
    "choose-several": {
        "everything": _several(lambda one, options: True),
        "numbers": _several(lambda one, options: _is_number(one)),
        "calculations": _several(lambda one, options: not _is_number(one)),
        "the-longer-half": _several(_is_long),
        "the-shorter-half": _several(lambda one, options: not _is_long(one, options)),
    },
    "put-in-order": {
        "as-shown": _order(lambda one, at: at), "turned-round": _order(lambda one, at: -at),
        "by-length": _order(lambda one, at: (_length(one), at)),
        "by-length-down": _order(lambda one, at: (-_length(one), at)),
        "by-last-digit": _order(lambda one, at: (looks(one.text)[-1], at)),
    },
    "match-pairs": {
        "straight-across": _pairs(lambda one, at: at), "crosswise": _pairs(lambda one, at: -at),
        "long-with-long": _pairs(lambda one, at: (-_length(one), at)),
    },
    "find-mistake": {
        "first-step": _step(lambda count: 0), "middle-step": _step(lambda count: count // 2),
        "last-step": _step(lambda count: count - 1),
    },
}
"""Strategies by kind of response, as in `bank.summary.BuildSummary.responses`."""


def blind(response: Response) -> Fraction:
    """Return the mean share of the mark of a guess in which every answer is as likely as any other.

    Several: every set of options but the empty one; order: every order; pairs: every way to give the sources different
    targets; line and step: every option. What is typed is never guessed.
    """
    if isinstance(response, ChooseSeveral):
        right = sum([one.is_key for one in response.options])
        wrong = len(response.options) - right
        sets = 2 ** (right + wrong) - 1
        if response.credit != "each":
            return Fraction(1, sets)
        earned = sum([
            comb(right, some) * comb(wrong, others) * (some - others)
            for some in range(right + 1) for others in range(min(some, wrong) + 1)
        ])
        return Fraction(earned, right * sets)
    if isinstance(response, PutInOrder):
        count = len(response.offers)
        return Fraction(1, count) if response.credit == "places" else Fraction(1, factorial(count))
    if isinstance(response, MatchPairs):
        sources, targets = len(response.sources), len(response.targets)
        return Fraction(1, targets) if response.credit == "each" else Fraction(1, perm(targets, sources))
    if isinstance(response, ChooseInLine):
        return Fraction(1, len(response.options))
    if isinstance(response, FindMistake):
        if response.typed is None:
            return Fraction(1, len(response.steps))
        return Fraction(1, 2 * len(response.steps)) if response.credit == "each" else Fraction(0)
    raise TypeError(f"{response!r} is no further kind of response")


def units_of_several(
    lengths: Sequence[int], numbers: Sequence[bool], keys: Sequence[bool], credit: str
) -> tuple[int, ...]:
    """Return what each strategy of choosing several earns, in units, from what it looks at.

    That is, option by option: its length in characters, whether it is a number and no calculation, whether it is right.
    A test holds it equal to marking what the strategies answer.
    """
    middle = sorted(lengths)[(len(lengths) - 1) // 2]
    longer = [length > middle for length in lengths]
    right = sum(keys)
    units = []
    for chosen in ([True] * len(keys), numbers, [not one for one in numbers], longer, [not one for one in longer]):
        hits = sum([one and key for one, key in zip(chosen, keys)])
        misses = sum(chosen) - hits
        if credit == "each":
            units.append(UNIT * max(0, hits - misses) // right)
        else:
            units.append(UNIT if hits == right and not misses else 0)
    return tuple(units)


def units_of_order(response: PutInOrder) -> tuple[int, ...]:
    """Return what each strategy of putting in order earns, in units."""
    units = []
    for strategy in STRATEGIES["put-in-order"].values():
        placed = sum([one == other for one, other in zip(strategy(response, ()), response.right, strict=True)])
        count = len(response.right)
        units.append(UNIT * placed // count if response.credit == "places" else UNIT * (placed == count))
    return tuple(units)


def units_of(item: Item, kind: str, locale: Locale) -> tuple[int, ...]:
    """Return what each strategy of *kind* earns on *item*, in units."""
    most = most_marks(item.response)
    return tuple([
        UNIT * earned_marks(item, strategy(item.response, item.stem), locale) // most
        for strategy in STRATEGIES[kind].values()
    ])
