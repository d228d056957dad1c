"""What the checks look at: an item laid out once, so that each check only compares whole numbers.

`Look` is made for every item and holds no text; `Wording` is made once for each wording of a stem.
"""

from __future__ import annotations

from typing import NamedTuple

from bank.model import Choice, Family, FindMistake, Item, Line, Locale, Option, TypedNumber
from bank.numerals import POWERS, Numeral

NUMBER = "\ufffc"
"""Stands in a wording where the stem has a number or an expression."""


_KINDS: dict[type, str] = {Choice: "choice", TypedNumber: "typed", FindMistake: "find"}


class Look:
    """An item laid out for its checks. Values are whole numbers of units of the place ``top``."""

    __slots__ = (
        "as_drawn", "choice", "family", "guessable", "item", "key", "kind", "key_at", "key_value", "last_digits", "lengths",
        "listed", "locale", "marked", "numbers", "operands", "options", "places", "top", "typed", "values", "wording_key",
    )

    def __init__(self, item: Item, locale: Locale) -> None:
        self.item = item
        self.locale = locale
        self.family = item.family
        self.operands = item.operands
        key = self.key = item.key
        response = item.response
        self.choice: Choice | None = response if type(response) is Choice else None
        self.typed: TypedNumber | None = (
            response if type(response) is TypedNumber else response.typed if type(response) is FindMistake else None
        )
        """What is typed: all of the answer, or beside a step that is marked."""
        self.kind = _KINDS.get(type(response), "further")
        """Which checks are asked: ``choice``, ``typed``, ``find`` or ``further``."""
        self.options: tuple[Option, ...] = self.choice.options if self.choice is not None else ()
        self.listed = self.choice is not None and self.choice.order == "as-in-stem"
        """Whether the options are the numbers that the stem lists."""
        top = key.places
        for option in self.options:
            if option.numeral.places > top:
                top = option.numeral.places
        self.top: int = top
        values: list[int] = []
        places: list[int] = []
        lengths: list[int] = []
        last_digits: list[int] = []
        at, marked = -1, 0
        for index, option in enumerate(self.options):
            numeral = option.numeral
            coefficient, written = numeral.coefficient, numeral.places
            values.append(coefficient * POWERS[top - written] if written != top else coefficient)
            places.append(written)
            last_digits.append(coefficient % 10)
            size = len(str(coefficient))
            lengths.append(size if size > written else written + 1)
            if option.is_key:
                at = index
                marked += 1
        self.values = values
        """Values of the options, in the order shown."""
        self.places = places
        """Places of the options as written."""
        self.lengths = lengths
        """Digits of the options as written, a zero before the point counted."""
        self.last_digits = last_digits
        """Last digits of the options as written."""
        self.key_at = at
        """Index of the option marked as key (the last one, if several are); -1 where there is none."""
        self.guessable = at >= 0 and len(values) > 2 and not self.listed
        """Whether there is a key among options that the item made up, so that their looks could give it away."""
        self.marked = marked
        """How many options are marked as key."""
        self.key_value: int = key.coefficient * POWERS[top - key.places]
        self._read(item.stem)

    def _read(self, stem: tuple[Line, ...]) -> None:
        numbers: list[Numeral] = []
        shape: list[object] = []
        for line in stem:
            for leaf in line:
                kind = type(leaf)
                if kind is str:
                    shape.append(leaf)
                elif kind is Numeral:
                    numbers.append(leaf)  # type: ignore[arg-type]
                    shape.append(0)
                else:
                    shape.append(2)
                    for part in leaf.parts:  # type: ignore[union-attr]
                        if type(part) is Numeral:
                            numbers.append(part)
                        else:
                            shape.append(part)
                    shape.append(3)
            shape.append(1)
        self.numbers = numbers
        """The stem's numbers in reading order."""
        self.as_drawn = len(numbers) == len(self.operands)
        """Whether these are just the numbers of the calculation, in their order and writing."""
        for number, operand in zip(numbers, self.operands):
            if number.coefficient != operand.coefficient or number.places != operand.places:
                self.as_drawn = False
                break
        self.wording_key: tuple[object, ...] = (self.locale.identifier, self.kind, *shape)
        """Equal for items of one family that differ in their numbers only."""


class Wording(NamedTuple):
    """The words of a stem, without its numbers."""

    lines: tuple[str, ...]
    """One text a line, `NUMBER` for every number or expression."""
    only_expression: tuple[bool, ...]
    """Whether a line holds an expression and no words."""
    text: str
    """All lines, one below the other."""
    is_choice: bool
    listed: bool
    """Whether the options are the numbers that the stem lists."""
    family: Family
    locale: Locale


def wording_of(look: Look) -> Wording:
    """Return the words of the item's stem."""
    lines = []
    only = []
    for line in look.item.stem:
        lines.append("".join(leaf if isinstance(leaf, str) else NUMBER for leaf in line))
        only.append(bool(line) and not any(isinstance(leaf, str) for leaf in line))
    return Wording(
        lines=tuple(lines),
        only_expression=tuple(only),
        text="\n".join(lines),
        is_choice=look.choice is not None,
        listed=look.listed,
        family=look.family,
        locale=look.locale,
    )
