"""What of the bank is needed to read results: quizzes, places of items in them, keys."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cached_property

from bank.audit.harmless import told
from bank.audit.reading._belonging import Belonging
from bank.audit.reading._mangled import MendingMarker
from bank.errors import did_you_mean
from bank.identity import ENDS, answered, why_not_marked
from bank.model import Quiz
from bank.store import Bank

UNKNOWN = "is unknown to the bank"
_IDENTIFIER = re.compile(r"(.+)-v([0-9]{1,6})-[a-z0-9]{13}(?:-(?:%s))?" % ENDS)

_TEST = re.compile(r"(.+)-[a-z0-9]{13}")


class Catalogue:
    """The quizzes and items of one bank; items are read when the first answer to their quiz comes."""

    def __init__(self, bank: Bank) -> None:
        self.bank = bank
        self.quizzes: dict[str, Quiz] = {quiz.identifier: quiz for quiz in bank.quizzes}
        self.places: dict[str, dict[str, int]] = {
            quiz.identifier: {item: place for place, item in enumerate(quiz.items)} for quiz in bank.quizzes
        }
        self._markers: dict[str, tuple[MendingMarker, ...]] = {}
        self.belonging = Belonging(bank)
        """Whether the results that are read belong to the bank."""

    def quiz_called(self, name: str) -> str:
        """Return the id of the quiz that results call *name*: its id, or that of its test in a package; else *name*."""
        if name not in self.quizzes:
            found = _TEST.fullmatch(name)
            if found and found[1] in self.quizzes:
                return found[1]
        return name

    def place(self, quiz: str, item: str) -> int | None:
        """Return the place in *quiz* of the item that results call *item*, None where it is none or cannot be marked."""
        places = self.places.get(quiz, {})
        place = places.get(item)
        return places.get(answered(item)) if place is None else place

    def name(self, item: str) -> None:
        """Note that an answer names *item*."""
        self.belonging.named(item, self.items)

    def markers(self, quiz: str) -> tuple[MendingMarker, ...]:
        """Return the markers of the items of *quiz*, in their order."""
        if quiz not in self._markers:
            items = self.bank.items(self.quizzes[quiz].items, solutions=False)
            self._markers[quiz] = tuple([MendingMarker(item, self.bank.info.locale) for item in items])
        return self._markers[quiz]

    @cached_property
    def items(self) -> frozenset[str]:
        """Ids of all items of the bank."""
        return frozenset(self.bank.identifiers())

    def quizzes_with(self, items: Iterable[str]) -> list[str]:
        """Return the quizzes that hold all those of *items* that any quiz holds; none where no quiz holds one."""
        items = [why_not_marked(item)[0] for item in items]
        known = {item for item in items if any(item in places for places in self.places.values())}
        return [quiz for quiz, places in self.places.items() if known and known <= places.keys()]

    def why_no_quiz(self, quiz: str) -> str:
        """Return in words why *quiz* is none of the bank."""
        return f"the bank has no quiz {told(quiz)}; {did_you_mean(quiz, self.quizzes)}"

    def why_no_item(self, item: str, quiz: str) -> str:
        """Return in words why *item*, which an answer names, is none of *quiz*."""
        self.name(item)
        own, why = why_not_marked(item)
        if why and own in self.items:
            return f"item {item!r} cannot be marked by the bank's item: {why}"
        if item in self.items or answered(item) in self.items:
            return f"item {item!r} is in the bank but not in the quiz {quiz!r}"
        found = _IDENTIFIER.fullmatch(item)
        if found and found[1] in self.bank.families:
            version = self.bank.families[found[1]].version
            if int(found[2]) < version:
                return f"item {item!r} is of version {found[2]}, the bank has version {version} of its template;" \
                    " audit it with the bank of that time"
            if int(found[2]) > version:
                return f"item {item!r} is of version {found[2]}, newer than the bank's {version}; use the newer bank"
        return f"item {told(item)} {UNKNOWN}"
