"""The records of a build's summary: yields, the guesser's panel, mistakes used, findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import NamedTuple, Protocol

from bank.model import BankInfo, Family, Finding, Item, Quiz

BANDS = ("easier", "middle", "harder")
"""Bands of predicted difficulty in the order in which tables show them."""
SEVERITIES = ("error", "warning", "report")
WHOLE_BANK = "bank"
"""Scope of the results that go over all items; any other scope is a quiz's id."""
SPARE_DRAWS = 4
"""A template with fewer admissible draws per kept item than this is thin: a few more builds use its numbers up.
Common practice, no source."""
NARROW_SHARE = 50
"""A template that keeps fewer than one in this many possible draws is thin: slow to draw, narrow in its numbers.
Common practice, no source."""


class Bank(Protocol):
    """What a reader needs of a bank; the store offers it, and so may any collection of items."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def families(self) -> Mapping[str, Family]:
        """Families by template id."""

    @property
    def quizzes(self) -> tuple[Quiz, ...]:
        """Quizzes in the order of the plan."""

    @property
    def count(self) -> int:
        """Number of items."""

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[Item]:
        """Give the items with these *identifiers* in this order, or those from *start* to *stop* in bank order."""

    def identifiers(self) -> Sequence[str]:
        """Give all item ids in bank order."""

    def templates_of(self, identifiers: Sequence[str]) -> Sequence[str]:
        """Give the template ids of the items with these *identifiers*, in this order."""


class FamilyYield(NamedTuple):
    """What drawing gave for one template."""

    template: str
    possible: int
    """Draws that the ranges allow."""
    admissible: int
    """Draws that every constraint lets through, counted or estimated."""
    admissible_error: int
    """Half width of the estimate's interval, in draws; 0 where all draws were counted."""
    tried: int
    kept: int
    refused: tuple[tuple[str, int], ...] = ()
    """(constraint or reason, draws it refused), most first."""

    @property
    def is_thin(self) -> bool:
        """Whether the numbers run out soon (`SPARE_DRAWS`) or are narrow (`NARROW_SHARE`)."""
        return self.admissible < SPARE_DRAWS * self.kept or self.admissible * NARROW_SHARE < self.possible


class StrategyResult(NamedTuple):
    """What a blind guessing strategy scored; hits are in thousandths of an item, because ties share a hit."""

    scope: str
    """`WHOLE_BANK` or the id of a quiz."""
    strategy: str
    items: int
    """Choose-one items that the strategy was tried on."""
    hits_thousandths: int
    expected_thousandths: int
    """Hits expected of chance alone."""
    bound_thousandths: int
    """Most hits that chance is allowed."""
    over: bool

    @property
    def closeness(self) -> Fraction:
        """Hits above chance as a part of what the bound allows; above 1 is over the bound."""
        room = max(1, self.bound_thousandths - self.expected_thousandths)
        return Fraction(self.hits_thousandths - self.expected_thousandths, room)


class GuessResult(NamedTuple):
    """What guessing earned on the items of a further kind of response; marks in thousandths of an item's mark."""

    kind: str
    """As in `BuildSummary.responses`."""
    strategy: str
    items: int
    earned_thousandths: int
    blind_thousandths: int
    """What blind guessing earns on the same items, on average."""
    bound_thousandths: int
    """Most that chance is allowed."""
    over: bool


class FromBefore(NamedTuple):
    """What a build did with an item of the bank that lay there, because of a decision about it."""

    item: str
    decision: str
    by: str
    when: str
    why: str
    outcome: str
    """In words, such as ``replaced in week-1``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BuildSummary:
    """What a build says of itself; stored with the bank and read again by the review page."""

    families: tuple[FamilyYield, ...] = ()
    panel: tuple[StrategyResult, ...] = ()
    mistake_use: tuple[tuple[str, int], ...] = ()
    """(mistake id, items in which one of its answers is offered or foreseen), sorted by id."""
    key_places: tuple[tuple[str, tuple[int, ...]], ...] = ()
    """(such as ``4 options``, number of keys at A, B, C...), sorted."""
    findings: tuple[Finding, ...] = ()
    more: tuple[tuple[str, str, int], ...] = ()
    """(check, severity, count) of findings that are not kept one by one."""
    topic_bands: tuple[tuple[str, str, int], ...] = ()
    """(topic id, predicted band, items), sorted; empty means: count them in the bank."""
    responses: tuple[tuple[str, int], ...] = ()
    """(kind of response, items), sorted; empty means: count them in the bank."""
    guessing: tuple[GuessResult, ...] = ()
    """What guessing earns on the further kinds; the panel tells it of the choices."""
    before: tuple[FromBefore, ...] = ()
    """What became of items about which something had been decided."""
    unread: str = ""
    """Why the bank that lay there before could not be read; empty where it could, or where there was none."""
