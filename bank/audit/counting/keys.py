"""What the counting has to know of a quiz before it reads answers, and the codes that responses are given."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Form
from bank.errors import BadInput, Place, Problem

BLANK = NOT_GIVEN - 1
"""Code of an empty answer until it is known whether it was left out or not reached."""

REFUSED = -32_768
"""Code of a response that the item does not take; what that means says `bank.audit.records.NOT_GIVEN`."""

STATES: dict[str, int] = {"": BLANK, "omitted": OMITTED, "not reached": NOT_REACHED, "not given": NOT_GIVEN}
"""What may stand in the place of a response, and its code. An empty one is told apart by what follows it."""

MOST_RESPONSES = 32_767
"""Different responses that one item may have: codes are held in 16 bits."""

Score = Callable[[int, str], tuple[str, int]]
"""Takes an item's place in the quiz and a response as it is written, never an empty one; returns its canonical
spelling and its credit in thousandths of the item's mark. Raises ValueError, saying why, where the item takes no such
response. It is asked once for each different spelling, and one canonical spelling has one credit."""


@dataclass(frozen=True, kw_only=True, slots=True)
class QuizKey:
    """A quiz by the bank's own key: its items in order, and what a response to each earns."""

    quiz: str
    """As the results name it."""
    items: tuple[str, ...]
    versions: tuple[int, ...]
    score: Score
    credits: tuple[Mapping[str, int], ...] = ()
    """For each item responses in canonical spelling with their credit, for which *score* need not be asked; empty, or
    one mapping for each item."""


class TooManyResponses(BadInput):
    """An item has more than `MOST_RESPONSES` different responses."""


@dataclass(slots=True)
class Codebook:
    """Gives codes to the responses of one quiz as they are met. `form` then says what they mean in the end."""

    key: QuizKey
    _codes: list[dict[str, int]] = field(default_factory=list)
    _credits: list[list[int]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._codes = [{} for _ in self.key.items]
        self._credits = [[] for _ in self.key.items]

    def code(self, item: int, text: str) -> int:
        """Return the code of a response as it is written: 0 upwards in order of appearance, or one of `STATES`.

        Raises:
            ValueError: the item takes no such response.
            TooManyResponses: the item has too many (``too-many-responses``).
        """
        state = STATES.get(text)
        if state is not None:
            return state
        credits = self.key.credits[item] if self.key.credits else {}
        response, credit = (text, credits[text]) if text in credits else self.key.score(item, text)
        codes = self._codes[item]
        code = codes.setdefault(response, len(codes))
        if code == len(self._credits[item]):
            if code == MOST_RESPONSES:
                raise TooManyResponses(Problem(
                    "too-many-responses", Place(self.key.quiz), "",
                    f"{self.key.items[item]} has more than {MOST_RESPONSES:,} different responses",
                    "look whether this column holds answers to one item",
                ))
            self._credits[item].append(credit)
        return code

    def credit(self, item: int, code: int) -> int:
        """Return the credit of a *code* that was given; no answer earns nothing."""
        return self._credits[item][code] if code >= 0 else 0

    def form(self) -> tuple[Form, tuple[tuple[int, ...], ...]]:
        """Return the form with its responses in the order of their texts, and for each item the new code of each old.

        So the codes do not depend on the order in which answers were met.
        """
        orders = [sorted(codes) for codes in self._codes]
        form = Form(
            quiz=self.key.quiz, items=self.key.items, versions=self.key.versions,
            responses=tuple(map(tuple, orders)),
            credits=tuple(
                tuple(credits[codes[text]] for text in order)
                for order, codes, credits in zip(orders, self._codes, self._credits, strict=True)
            ),
        )
        renumbered = []
        for order, codes in zip(orders, self._codes, strict=True):
            places = {text: place for place, text in enumerate(order)}
            renumbered.append(tuple(places[text] for text in codes))
        return form, tuple(renumbered)
