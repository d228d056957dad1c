"""Wrong answers explained: which mistakes, carried out on an item's numbers, give just this answer.

A typed answer is run through every mistake of the operation, foreseen or not. What is offered carries the mistakes that
lead to it. One mistake may explain an answer, several, or none; nobody can see into a head, so it is always said that
an answer *fits* a mistake.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from bank import mistakes
from bank.answers import is_ambiguous, read_answer
from bank.audit.marking import NO_NUMBER, NOTHING, tokens
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, TypedNumber,
)
from bank.numerals import Numeral
from bank.store import Bank

Names = tuple[str, ...]
"""Ids of mistakes, sorted, each once."""
RIGHT_VALUE = "right value, another form than was asked"
NO_READING = "no number can be read from it"
TWO_READINGS = "could be read in two ways: as a decimal, or as a whole number of thousands"


class Explainer(NamedTuple):
    """What the wrong answers to one item fit."""

    item: str
    possible: Names
    """Mistakes that can show in an answer to it."""
    explain: Callable[[str], Names]
    """Gives the mistakes that a response in its canonical spelling fits; none where no one does or it is right."""
    note: Callable[[str], str]
    """Gives what else is to be said of a response that fits none: `RIGHT_VALUE`, `NO_READING`, `TWO_READINGS`, or nothing."""
    wrong_options: tuple[Names, ...]
    """Where one is chosen: for each wrong option the mistakes that it fits. A blind choice among them is a guess. Empty
    where the answer cannot be guessed so."""


def explainers_of(bank: Bank, items: Iterable[str]) -> dict[str, Explainer]:
    """Return by id the explainers of those of *items* that *bank* has."""
    wanted = sorted(set(items).intersection(bank.identifiers()))
    return {item.identifier: explainer(item, bank.info.locale) for item in bank.items(wanted, solutions=False)}


def explainer(item: Item, locale: Locale) -> Explainer:
    """Return what the wrong answers to *item*, spelled as in *locale*, fit."""
    response = item.response
    if isinstance(response, (Choice, ChooseInLine)):
        return _offered(item, {one.identifier: _sorted(one.mistakes) for one in response.options if not one.is_key})
    if isinstance(response, TypedNumber):
        return _typed(item, response, locale)
    if isinstance(response, ChooseSeveral):
        return _several(item, response)
    if isinstance(response, PutInOrder):
        return _known(item, {" ".join(order): _sorted(names) for order, names in response.mistakes})
    if isinstance(response, MatchPairs):
        return _pairs(item, response)
    return _find(item, response, locale)


def _sorted(names: tuple[str, ...]) -> Names:
    return tuple(sorted(set(names)))


def _nothing(_: str) -> str:
    return ""


def _known(item: Item, by_response: dict[str, Names]) -> Explainer:
    possible = _sorted(tuple(name for names in by_response.values() for name in names))
    return Explainer(item.identifier, possible, lambda text: by_response.get(text, ()), _nothing, ())


def _offered(item: Item, by_option: dict[str, Names]) -> Explainer:
    return _known(item, by_option)._replace(wrong_options=tuple(by_option.values()))


def _typed(item: Item, response: TypedNumber, locale: Locale) -> Explainer:
    by_value = _by_value(item, response)
    unit, key = item.family.unit, item.key

    def explain(text: str) -> Names:
        number = read_answer(text, locale, unit)
        return () if number is None or number == key else by_value.get(number, ())

    def note(text: str) -> str:
        number = None if text == NO_NUMBER else read_answer(text, locale, unit)
        if number is None:
            return TWO_READINGS if is_ambiguous(text, locale, unit) else NO_READING
        return RIGHT_VALUE if number == key else ""

    possible = _sorted(tuple(name for names in by_value.values() for name in names))
    return Explainer(item.identifier, possible, explain, note, ())


def _by_value(item: Item, response: TypedNumber) -> dict[Numeral, Names]:
    """Return the mistakes behind each wrong value: every one of the operation carried out, and those foreseen."""
    family = item.family
    found: dict[Numeral, set[str]] = {}
    for numeral, names in response.mistakes:
        found.setdefault(numeral, set()).update(names)
    options = mistakes.options_for(family.operation, family.layout, family.rounding)
    records = mistakes.of_operation(family.operation)
    for record, numeral in mistakes.outcomes(records, item.operands, item.key, **options):
        found.setdefault(numeral, set()).add(record.identifier)
    return {numeral: tuple(sorted(names)) for numeral, names in found.items()}


def _several(item: Item, response: ChooseSeveral) -> Explainer:
    """A mistake is fitted where just the options that it turns are turned; else the deviations must share one."""
    right = frozenset(one.identifier for one in response.options if one.is_key)
    names = _sorted(tuple(name for one in response.options for name in one.mistakes))
    turned = {name: frozenset(one.identifier for one in response.options if name in one.mistakes) for name in names}

    def explain(text: str) -> Names:
        away = frozenset(tokens(text)) ^ right
        if not away:
            return ()
        exact = tuple(name for name in names if turned[name] == away)
        return exact or tuple(name for name in names if away <= turned[name])

    return Explainer(item.identifier, names, explain, _nothing, ())


def _pairs(item: Item, response: MatchPairs) -> Explainer:
    by_pair = {pair: _sorted(names) for pair, names in response.mistakes}

    def explain(text: str) -> Names:
        parts = tokens(text)
        wrong = [by_pair.get(pair, ()) for pair in zip(parts[::2], parts[1::2], strict=False)]
        return _sorted(tuple(name for names in wrong for name in names))

    possible = _sorted(tuple(name for names in by_pair.values() for name in names))
    return Explainer(item.identifier, possible, explain, _nothing, ())


def _find(item: Item, response: FindMistake, locale: Locale) -> Explainer:
    """Giving the wrong working's own answer fits its mistake; marking another step fits none."""
    wrong, unit = response.working.result, item.family.unit
    foreseen = {numeral: _sorted(names) for numeral, names in response.typed.mistakes} if response.typed else {}

    def explain(text: str) -> Names:
        _, _, typed = text.partition(" ")
        number = read_answer(typed, locale, unit) if typed and typed != NOTHING else None
        if number is None or number == item.key:
            return ()
        return (response.mistake,) if number == wrong else foreseen.get(number, ())

    possible = _sorted((response.mistake, *(name for names in foreseen.values() for name in names)))
    return Explainer(item.identifier, possible if response.typed else (), explain, _nothing, ())
