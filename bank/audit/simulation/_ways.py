"""The ways in which an item can be answered: right, as each mistake leads to, and by slips that no mistake explains."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from bank import mistakes
from bank.answers import foreseen_forms, visible_forms
from bank.audit.marking import Marked, Marker
from bank.chance import digest_numbers
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, Offer, PutInOrder, TypedNumber,
)
from bank.numerals import POWERS, Numeral

MOST_SPELLINGS = 6
"""Spellings of one answer that simulated pupils use."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Ways:
    """Answers to one item that simulated pupils give."""

    answers: tuple[Marked, ...]
    """Distinct answers; the right one first."""
    spellings: tuple[tuple[str, ...], ...]
    """For each answer how it is written, the usual spelling first."""
    by_mistake: tuple[tuple[str, int], ...]
    """(mistake, place of its answer), in order of the mistakes' ids."""
    slips: tuple[int, ...]
    """Places of the wrong answers that someone without a mistake may give; may be empty."""


def ways(item: Item, locale: Locale) -> Ways:
    """Return the ways in which *item* can be answered in *locale*."""
    marker = Marker(item, locale)
    given = _Given(marker)
    given.add(marker.right, _spellings_of_right(item, locale) or (marker.right,))
    by_mistake: dict[str, int] = {}
    for names, text, spellings in _mistaken(item, locale):
        place = given.add(text, spellings)
        for name in names:
            if place:
                by_mistake.setdefault(name, place)
    slips = {given.add(text, spellings) for text, spellings in _slips(item, locale)}
    return Ways(
        answers=tuple(given.answers), spellings=tuple(given.spellings),
        by_mistake=tuple(sorted(by_mistake.items())), slips=tuple(sorted(slips - {0})),
    )


class _Given:
    """Collects answers, each once, with their spellings."""

    def __init__(self, marker: Marker) -> None:
        self._marker = marker
        self._places: dict[str, int] = {}
        self.answers: list[Marked] = []
        self.spellings: list[tuple[str, ...]] = []

    def add(self, text: str, spellings: Sequence[str]) -> int:
        """Return the place of the answer *text*, added with those *spellings* that mean the same."""
        marked = self._marker.mark(text)
        if marked.response not in self._places:
            self._places[marked.response] = len(self.answers)
            same = [one for one in spellings if self._marker.mark(one).response == marked.response]
            self.answers.append(marked)
            self.spellings.append(tuple(same[:MOST_SPELLINGS]) or (text,))
        return self._places[marked.response]


_Mistaken = Iterable[tuple[tuple[str, ...], str, tuple[str, ...]]]
"""Ids of mistakes, the answer they lead to, its spellings."""


def _spellings_of_right(item: Item, locale: Locale) -> tuple[str, ...]:
    if isinstance(item.response, TypedNumber):
        return _some(visible_forms(item.key, locale, item.response.policy, item.family.unit))
    return ()


def _some(forms: Sequence[str]) -> tuple[str, ...]:
    """Return the first of *forms* and a few spread over the others."""
    step = max(1, len(forms) // MOST_SPELLINGS)
    return (forms[0], *forms[1::step])[:MOST_SPELLINGS]


def _mistaken(item: Item, locale: Locale) -> _Mistaken:
    response = item.response
    if isinstance(response, Choice):
        return [(one.mistakes, one.identifier, (one.identifier,)) for one in response.options if not one.is_key]
    if isinstance(response, ChooseInLine):
        return [(one.mistakes, one.identifier, (one.identifier,)) for one in response.options if not one.is_key]
    if isinstance(response, TypedNumber):
        return _typed_mistakes(item, response, locale)
    if isinstance(response, ChooseSeveral):
        return _several_mistakes(response)
    if isinstance(response, PutInOrder):
        return [(names, " ".join(order), ()) for order, names in response.mistakes]
    if isinstance(response, MatchPairs):
        return [(names, _with_pair(response, *pair), ()) for pair, names in response.mistakes]
    return [((response.mistake,), _at_step(item, response, response.steps[-1].identifier, response.working.result,
                                           locale), ())]


def _typed_mistakes(item: Item, response: TypedNumber, locale: Locale) -> _Mistaken:
    """Yield what every mistake of the operation gives on the item's numbers, foreseen or not."""
    family = item.family
    found: dict[Numeral, list[str]] = {numeral: list(names) for numeral, names in response.mistakes}
    options = mistakes.options_for(family.operation, family.layout, family.rounding)
    records = mistakes.of_operation(family.operation)
    for record, numeral in mistakes.outcomes(records, item.operands, item.key, **options):
        names = found.setdefault(numeral, [])
        if record.identifier not in names:
            names.append(record.identifier)
    return [
        (tuple(names), *_written(item, numeral, locale)) for numeral, names in found.items() if numeral.coefficient >= 0
    ]


def _written(item: Item, numeral: Numeral, locale: Locale) -> tuple[str, tuple[str, ...]]:
    """Return how *numeral* is usually typed as an answer to *item*, and its other spellings."""
    forms = tuple(dict.fromkeys([locale.number(numeral), *foreseen_forms(numeral, item.key, locale)]))
    unit = item.family.unit
    if unit is not None and isinstance(item.response, TypedNumber) and item.response.policy == "unit":
        forms = tuple([f"{unit.text}{form}" if unit.before else f"{form} {unit.text}" for form in forms])
    return forms[0], forms


def _several_mistakes(response: ChooseSeveral) -> _Mistaken:
    names = sorted({name for offer in response.options for name in offer.mistakes})
    for name in names:
        chosen = [one.identifier for one in response.options if one.is_key != (name in one.mistakes)]
        if chosen:
            yield (name,), " ".join(chosen), ()


def _with_pair(response: MatchPairs, source: str, target: str) -> str:
    """Return the right pairs with *source* led to *target*; who had that target gets the one that became free."""
    pairs = dict(response.pairs)
    freed = pairs[source]
    for other, had in response.pairs:
        if had == target:
            pairs[other] = freed
    pairs[source] = target
    return " ".join([f"{one} {pairs[one]}" for one, _ in response.pairs])


def _at_step(item: Item, response: FindMistake, step: str, answer: Numeral, locale: Locale) -> str:
    return step if response.typed is None else f"{step} {locale.number(answer)}"


def _slips(item: Item, locale: Locale) -> Iterator[tuple[str, tuple[str, ...]]]:
    response = item.response
    if isinstance(response, (Choice, ChooseInLine)):
        offered: Sequence[Offer | object] = response.options
        for option in offered:
            if not option.is_key:  # type: ignore[attr-defined]
                name = option.identifier  # type: ignore[attr-defined]
                yield name, (name,)
    elif isinstance(response, TypedNumber):
        for numeral in _slipped(item.key, item.identifier):
            yield _written(item, numeral, locale)
    elif isinstance(response, ChooseSeveral):
        right = [one.identifier for one in response.options if one.is_key]
        for one in response.options:
            chosen = [name for name in right if name != one.identifier] if one.is_key else [*right, one.identifier]
            yield " ".join(chosen), ()
    elif isinstance(response, PutInOrder):
        for place in range(len(response.right) - 1):
            order = list(response.right)
            order[place], order[place + 1] = order[place + 1], order[place]
            yield " ".join(order), ()
    elif isinstance(response, MatchPairs):
        for (source, _), (_, target) in zip(response.pairs, response.pairs[1:]):
            yield _with_pair(response, source, target), ()
    else:
        for offer in response.steps:
            if offer.identifier != response.right:
                yield _at_step(item, response, offer.identifier, item.key, locale), ()


def _slipped(key: Numeral, *names: object) -> Iterator[Numeral]:
    """Yield *key* with one digit one off, with two neighbours exchanged, and with the point one place off."""
    digits = str(abs(key.coefficient))
    first, second, _, _ = digest_numbers("slip", *names)
    for chosen in (first, second):
        place = chosen % len(digits)
        digit = str((int(digits[place]) + (1 if chosen >> 40 & 1 else 9)) % 10)
        yield Numeral(int(digits[:place] + digit + digits[place + 1:]), key.places)
    if len(digits) > 1:
        place = first % (len(digits) - 1)
        swapped = digits[:place] + digits[place + 1] + digits[place] + digits[place + 2:]
        yield Numeral(int(swapped), key.places)
    yield Numeral(abs(key.coefficient), key.places + 1)
    yield Numeral(abs(key.coefficient) * POWERS[1], key.places)
