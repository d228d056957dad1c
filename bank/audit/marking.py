"""What a response is worth by the bank's own key, and its one canonical spelling, for every kind of response.

Canonical spellings are what `bank.audit.records.Form.responses` holds: identifiers joined by one space (in the order
offered; as the pupil put them where order is the answer; source before target where pairs are), a typed number in the
bank's locale. A typed answer that holds words is kept as `NO_NUMBER` only: free text may name people.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from typing import NamedTuple

from bank.answers import accepted_forms, policy_named, read_answer
from bank.audit.harmless import told
from bank.marking import earned_marks, is_right_number, most_marks
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, Offer, PutInOrder, TypedNumber, Unit,
)
from bank.numerals import Numeral

FULL = 1000
"""Credit of a right answer: thousandths of the item's mark."""
NO_NUMBER = "(no number)"
"""Stands for a typed answer with words in it."""
NOTHING = "-"
"""Stands where one of two things asked was left out."""
LONGEST = 40
"""Characters of a typed answer that are kept."""
_REMEMBERED = 4096
_NUMERIC = frozenset("0123456789 +-\u2212.,/:%*\u00d7\u00f7=<>'")


class Marked(NamedTuple):
    """A response in its canonical spelling and its credit in thousandths of the item's mark."""

    response: str
    credit: int


class Marker:
    """Marks responses to one item; texts that come again are looked up.

    `right` is the canonical right response.
    """

    def __init__(self, item: Item, locale: Locale) -> None:
        self.item = item
        self._mark, self.right = _marking(item, locale)
        self._known: dict[str, Marked | str] = {}

    def mark(self, text: str) -> Marked:
        """Return canonical spelling and credit of *text*, a response that is not empty.

        Raises:
            ValueError: the item offers no such thing; the message says what it offers.
        """
        found = self._known.get(text)
        if found is None:
            try:
                found = self._mark(text)
            except ValueError as error:
                found = str(error)
            if len(self._known) < _REMEMBERED:
                self._known[text] = found
        if isinstance(found, str):
            raise ValueError(found)
        return found


_Mark = Callable[[str], Marked]
_Share = Callable[[Sequence[str]], int]
"""Takes the parts of a response and returns its credit."""


def _marking(item: Item, locale: Locale) -> tuple[_Mark, str]:
    """Return the function that marks *item* and the canonical right response."""
    response = item.response
    unit = item.family.unit

    def share(answer: Sequence[str]) -> int:
        return FULL * earned_marks(item, answer, locale) // most_marks(response)

    if isinstance(response, Choice):
        names = {option.identifier: option.identifier for option in response.options}
        values = [(option.numeral, option.identifier) for option in response.options]
        key = next(option.identifier for option in response.options if option.is_key)
        return _of_one(names, values, (key,), locale, unit), key
    if isinstance(response, ChooseInLine):
        names = _names(response.options)
        names.update({str(offer.text[0]): offer.identifier for offer in response.options})
        key = next(offer.identifier for offer in response.options if offer.is_key)
        return _of_one(names, [], (key,), locale, unit), key
    if isinstance(response, TypedNumber):
        return _of_number(item, response, locale)
    if isinstance(response, ChooseSeveral):
        return _of_several(response, share)
    if isinstance(response, PutInOrder):
        return _of_order(response, share)
    if isinstance(response, MatchPairs):
        return _of_pairs(response, share)
    return _of_mistake(item, response, locale, share)


def _names(offers: Sequence[Offer]) -> dict[str, str]:
    return {offer.identifier: offer.identifier for offer in offers}


def tokens(text: str) -> list[str]:
    """Return the identifiers that *text* lists, apart by spaces, commas, semicolons or bars."""
    for separator in (",", ";", "|"):
        text = text.replace(separator, " ")
    return text.split()


def _known_name(text: str, names: dict[str, str]) -> str:
    found = names.get(text) or names.get(text.upper())
    if found is None:
        listed = ", ".join(dict.fromkeys(names.values()))
        raise ValueError(f"the item offers {listed}, not {told(text)}")
    return found


def _of_one(
    names: dict[str, str], values: Sequence[tuple[Numeral, str]], keys: tuple[str, ...], locale: Locale,
    unit: Unit | None,
) -> _Mark:
    def mark(text: str) -> Marked:
        text = text.strip()
        if text not in names and text.upper() not in names and values:
            number = read_answer(text, locale, unit)
            same = [name for value, name in values if number is not None and value == number]
            if len(same) == 1:
                text = same[0]
        name = _known_name(text, names)
        return Marked(name, FULL if name in keys else 0)

    return mark


def _of_number(item: Item, response: TypedNumber, locale: Locale) -> tuple[_Mark, str]:
    """A typed number is marked letter by letter, as in a package; how a wrong one is spelled says its value."""
    key, unit = item.key, item.family.unit
    accepted = frozenset(accepted_forms(key, locale, response.policy, unit))
    right = accepted_forms(key, locale, response.policy, unit)[0]
    rules = policy_named(response.policy)

    def mark(text: str) -> Marked:
        if is_right_number(text, item, response, locale):
            return Marked(right, FULL)
        number = read_answer(text, locale, unit)
        shown = text[:LONGEST] if _NUMERIC.issuperset(text) else NO_NUMBER
        if number is None:
            return Marked(shown, 0)
        spelled = locale.number(number.normal() if rules.any_places else number)
        if rules.unit == "must" and unit is not None and unit.text in text:
            spelled = f"{unit.text}{spelled}" if unit.before else f"{spelled} {unit.text}"
        return Marked(shown if spelled in accepted else spelled, 0)

    return mark, right


def _of_several(response: ChooseSeveral, share: _Share) -> tuple[_Mark, str]:
    names = _names(response.options)
    right = frozenset(offer.identifier for offer in response.options if offer.is_key)

    def mark(text: str) -> Marked:
        chosen = {_known_name(token, names) for token in tokens(text)}
        given = [name for name in names if name in chosen]
        return Marked(" ".join(given), share(given))

    return mark, " ".join([name for name in names if name in right])


def _of_order(response: PutInOrder, share: _Share) -> tuple[_Mark, str]:
    names = _names(response.offers)

    def mark(text: str) -> Marked:
        order = [_known_name(token, names) for token in tokens(text)]
        if len(set(order)) != len(order):
            raise ValueError("an identifier stands twice in the order")
        return Marked(" ".join(order), share(order))

    return mark, " ".join(response.right)


def _of_pairs(response: MatchPairs, share: _Share) -> tuple[_Mark, str]:
    sources, targets = _names(response.sources), _names(response.targets)
    right = frozenset(response.pairs)

    def mark(text: str) -> Marked:
        names = tokens(text)
        if len(names) % 2:
            raise ValueError("a pair lacks its source or its target")
        chosen = {
            (_known_name(source, sources), _known_name(target, targets))
            for source, target in zip(names[::2], names[1::2])
        }
        credit = share([f"{source} {target}" for source, target in chosen])
        return Marked(_pairs_text(chosen, list(sources), list(targets)), credit)

    return mark, _pairs_text(right, list(sources), list(targets))


def _pairs_text(pairs: Set[tuple[str, str]], sources: list[str], targets: list[str]) -> str:
    ordered = sorted(pairs, key=lambda pair: (sources.index(pair[0]), targets.index(pair[1])))
    return " ".join([f"{source} {target}" for source, target in ordered])


def _of_mistake(item: Item, response: FindMistake, locale: Locale, share: _Share) -> tuple[_Mark, str]:
    names = {**_names(response.steps), NOTHING: NOTHING}
    if response.typed is None:
        return _of_one(_names(response.steps), [], (response.right,), locale, None), response.right
    answer, right_answer = _of_number(item, response.typed, locale)

    def mark(text: str) -> Marked:
        first, _, rest = text.lstrip().partition(" ")
        step = _known_name(first.strip(), names)
        typed = answer(rest) if rest.strip() and rest.strip() != NOTHING else Marked(NOTHING, 0)
        solved = right_answer if typed.credit == FULL else ""
        return Marked(f"{step} {typed.response}", share((step, solved)))

    return mark, f"{response.right} {right_answer}"
