"""A bank on its way to the disk, read like one that lies there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import cached_property

from bank.build._collect import Collected, Entry
from bank.model import BankInfo, Family, Item, Quiz
from bank.store import fingerprint_of, unpack


class Draft:
    """What was collected, in the order of the bank that it will be; offers what `bank.summary.Bank` asks for.

    Items withdrawn from quizzes lie behind the others and are passed over, as in a bank that is open.
    """

    def __init__(
        self, info: BankInfo, families: Sequence[Family], quizzes: Sequence[Quiz], collected: Collected,
        orders: tuple[Sequence[Entry], Sequence[Entry]], summary: str,
    ) -> None:
        self._info, self._summary = info, summary
        self.families = {family.key: family for family in sorted(families, key=lambda one: one.key)}
        self.quizzes = tuple(quizzes)
        self._collected = collected
        self._order, self._withdrawn = orders
        self.count = len(self._order)

    @cached_property
    def info(self) -> BankInfo:
        """What the bank will say of itself, with the fingerprint that it will have."""
        rows = self._collected.rows((*self._order, *self._withdrawn))
        made = fingerprint_of(self._info, self.families.values(), self.quizzes, rows, self._summary)
        return replace(self._info, fingerprint=made)

    @cached_property
    def _entries(self) -> dict[str, Entry]:
        return {self._collected.kept(entry)[0]: entry for entry in self._order}

    def identifiers(self) -> list[str]:
        """Return the item ids in bank order."""
        return list(self._entries)

    def templates_of(self, identifiers: Sequence[str]) -> list[str]:
        """Return the template ids of the items named."""
        return [self._entries[identifier].template for identifier in identifiers]

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[Item]:
        """Give the items named, or those from *start* up to before *stop*."""
        for identifier in self.identifiers()[start:stop] if identifiers is None else identifiers:
            entry = self._entries[identifier]
            yield unpack(identifier, self.families[entry.template], self._collected.kept(entry)[2])
