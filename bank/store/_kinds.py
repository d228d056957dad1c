"""What is kept of the further kinds of response: several, order, pairs, line, mistake to find.

The manner of response is a shared line (kind, settings, identifiers of the offers). Each offer is one too: its text with
places for its numbers, the place of its value, whether it is right, its mistakes. So is each set of mistakes behind a
wrong order, pair or typed answer. The numbers stand in the item's own line behind the key, offer by offer; behind them,
in a list of its own, what is this item's alone: orders and pairs as places of offers, or a wrong working.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Any

from bank.model import (
    ChooseInLine, ChooseSeveral, FindMistake, MatchPairs, Offer, PutInOrder, Response, Row, Trace,
    TypedNumber,
)
from bank.numerals import Numeral
from bank.store._lines import REMEMBERED, SILENT, Slot, dumps, line_in, loads, place, slot

KINDS = {
    "choose-several": ChooseSeveral, "put-in-order": PutInOrder, "match-pairs": MatchPairs,
    "choose-in-line": ChooseInLine, "find-mistake": FindMistake,
}
"""Records by the name of their kind."""
_NAMES = {record: name for name, record in KINDS.items()}


def kind_of(response: Response) -> str:
    """Return the name of a further kind of response: one of `KINDS`."""
    return _NAMES[type(response)]


def kind_out(response: Response, given: list[Numeral], shows_feedback: bool) -> tuple[str, list[str], Any]:
    """Return manner, further lines, and what is the item's alone (None for nothing); numbers are added to *given*."""
    alone: Any = None
    reasons: list[tuple[str, ...]] = []
    offers: tuple[Offer, ...]
    if isinstance(response, ChooseSeveral):
        settings: list[Any] = [response.credit]
        offers = response.options
    elif isinstance(response, ChooseInLine):
        settings, offers = [], response.options
    elif isinstance(response, PutInOrder):
        settings, offers = [response.direction, response.credit], response.offers
        at = {offer.identifier: index for index, offer in enumerate(offers)}
        alone = [[at[name] for name in response.right], [[at[name] for name in order] for order, _ in response.mistakes]]
        reasons = [names for _, names in response.mistakes]
    elif isinstance(response, MatchPairs):
        settings, offers = [response.credit, len(response.sources)], (*response.sources, *response.targets)
        at = {offer.identifier: index for index, offer in enumerate(offers)}
        alone = [[[at[one], at[other]] for one, other in pairs]
                 for pairs in (response.pairs, [pair for pair, _ in response.mistakes])]
        reasons = [names for _, names in response.mistakes]
    elif isinstance(response, FindMistake):
        typed = response.typed
        settings = [response.right, response.mistake, response.credit, typed.policy if typed else None]
        offers = response.steps
        reasons = [names for _, names in typed.mistakes] if typed else []
        alone = _trace_out(response.working)
        same = {line: number for number, line in enumerate(response.working.steps)}
        lines = [_offer_out(offer, given, same.get(offer.text)) for offer in offers]
        given += [numeral for numeral, _ in typed.mistakes] if typed else []
        return _manner(response, settings, offers, shows_feedback), lines + [dumps(names) for names in reasons], alone
    else:
        raise TypeError(f"{response!r} is no further kind of response")
    lines = [_offer_out(offer, given) for offer in offers]
    return _manner(response, settings, offers, shows_feedback), lines + [dumps(names) for names in reasons], alone


def _manner(response: Response, settings: list[Any], offers: Sequence[Offer], shows_feedback: bool) -> str:
    identifiers = tuple([offer.identifier for offer in offers])
    return _manner_out(kind_of(response), tuple(settings), identifiers, shows_feedback)


@lru_cache(REMEMBERED)
def _manner_out(kind: str, settings: tuple[Any, ...], identifiers: tuple[str, ...], shows_feedback: bool) -> str:
    return dumps((kind, settings, identifiers, *(() if shows_feedback else SILENT)))


def _offer_out(offer: Offer, given: list[Numeral], step: int | None = None) -> str:
    """Return the line of *offer*; *step* is the number of the working's step that is its text."""
    numbers: list[Numeral] = []
    text: Any = tuple([slot(leaf, numbers) for leaf in offer.text]) if step is None else step
    value = None if offer.value is None else place(offer.value, numbers)
    given += numbers
    return _offer_line(text, value, len(numbers), bool(offer.is_key), offer.mistakes)


@lru_cache(REMEMBERED)
def _offer_line(text: tuple[Slot, ...] | int, value: int | None, count: int, key: bool, names: tuple[str, ...]) -> str:
    return dumps((text, value, count, key, names))


def offer_in(kept: str) -> tuple[Any, ...]:
    """Return text, place of the value, number of numbers, whether it is right, mistakes, from an offer's line."""
    text, value, count, key, names = loads(kept)
    if not isinstance(key, bool) or not isinstance(names, list) or not isinstance(count, int):
        raise ValueError(f"no offer: {kept}")
    if isinstance(text, list):
        text = tuple([tuple(part) if isinstance(part, list) else part for part in text])
    return text, value, count, key, tuple(names)


def kind_in(
    kind: str, settings: Sequence[Any], identifiers: Sequence[str], numbers: Sequence[Numeral], alone: Any,
    lines: Sequence[Any], offer_of: Callable[[Any], tuple[Any, ...]], mistakes_of: Callable[[Any], tuple[str, ...]],
) -> Response:
    """Return the response that `kind_out` took apart.

    Raises:
        ValueError: the parts do not fit (as other errors of `bank.store.DAMAGE`).
    """
    count = len(identifiers)
    working = _trace_in(alone) if kind == "find-mistake" else None
    rest = iter(numbers)
    offers = tuple([
        _offer(name, offer_of(line), rest, working) for name, line in zip(identifiers, lines[:count], strict=True)
    ])
    reasons = [mistakes_of(line) for line in lines[count:]]
    left = tuple(rest)
    if kind == "find-mistake" and working is not None:
        right, mistake, credit, policy = settings
        typed = None if policy is None else TypedNumber(
            policy=policy, mistakes=tuple(zip(left, reasons, strict=True)))
        return FindMistake(
            working=working, steps=offers, right=right, mistake=mistake, typed=typed, credit=credit)
    if left:
        raise ValueError("more numbers are kept than its offers have")
    if kind == "put-in-order":
        direction, credit = settings
        right, orders = alone
        return PutInOrder(
            offers=offers, right=_names(offers, right), direction=direction, credit=credit,
            mistakes=tuple([(_names(offers, order), names) for order, names in zip(orders, reasons, strict=True)]))
    if kind == "match-pairs":
        credit, split = settings
        pairs, wrong = alone
        return MatchPairs(
            sources=offers[:split], targets=offers[split:], credit=credit,
            pairs=tuple([_pair(offers, pair) for pair in pairs]),
            mistakes=tuple([(_pair(offers, pair), names) for pair, names in zip(wrong, reasons, strict=True)]))
    if reasons:
        raise ValueError("more lines are kept than it has offers")
    return ChooseSeveral(options=offers, credit=settings[0]) if kind == "choose-several" else ChooseInLine(options=offers)


def _offer(name: str, kept: tuple[Any, ...], rest: Iterator[Numeral], working: Trace | None) -> Offer:
    text, value, count, key, names = kept
    numbers = tuple([next(rest) for _ in range(count)])
    words = working.steps[text] if working is not None and isinstance(text, int) else line_in(text, numbers)
    return Offer(identifier=name, text=words, is_key=key, mistakes=names,
                 value=None if value is None else numbers[value])


def _names(offers: Sequence[Offer], order: Sequence[int]) -> tuple[str, ...]:
    return tuple([offers[index].identifier for index in order])


def _pair(offers: Sequence[Offer], pair: Sequence[int]) -> tuple[str, str]:
    one, other = pair
    return offers[one].identifier, offers[other].identifier


def _trace_out(trace: Trace) -> list[Any]:
    """Return a working as lists: what is not made anew on reading, since a mistake made it."""
    numbers: list[Numeral] = [*trace.operands]
    steps = [[slot(leaf, numbers) for leaf in line] for line in trace.steps]
    result = place(trace.result, numbers)
    rows = [[row.role, *_cells_out(row), row.point, row.sign, int(row.rule), row.note] for row in trace.rows]
    return [
        [trace.method, trace.operation, trace.layout, len(trace.operands), trace.width],
        [part for numeral in numbers for part in (numeral.coefficient, numeral.places)], result, rows, steps,
        [[name, int(value)] for name, value in trace.facts],
    ]


def _cells_out(row: Row) -> tuple[Any]:
    """Return the cells as one text with blanks where each holds one character at most, else as a list."""
    if all(len(text) < 2 and text != " " for text in row.cells):
        return ("".join([text or " " for text in row.cells]),)
    return (list(row.cells),)


def _trace_in(kept: Any) -> Trace:
    (method, operation, layout, count, width), flat, result, rows, steps, facts = kept
    numbers = tuple(map(Numeral, flat[::2], flat[1::2]))
    return Trace(
        method, operation, layout, numbers[:count], numbers[result],
        tuple([
            Row(role, tuple([text if text != " " else "" for text in cells]), point, sign, bool(rule), note)
            for role, cells, point, sign, rule, note in rows
        ]),
        width, tuple([line_in(tuple([_leaf(part) for part in line]), numbers) for line in steps]),
        tuple([(name, value) for name, value in facts]),
    )


def _leaf(part: Any) -> Any:
    return tuple(part) if isinstance(part, list) else part

