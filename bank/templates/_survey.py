"""Looking at a template's draws: how many there are, how many are kept, what refuses the others, what goes wrong."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction
from functools import cache
from math import gcd, isqrt
from typing import TYPE_CHECKING, NamedTuple

from bank.fields import Problems
from bank.numerals import Numeral, round_fraction, terminating_places
from bank.sources import Node
from bank.templates._stems import Branch, StemMaker

if TYPE_CHECKING:
    from bank.templates._code import Values
    from bank.templates._template import Template

COUNTED = 2000
"""Spaces up to this size are counted to the end."""
TRIED = 1000
"""Draws tried of larger spaces."""
SEARCHED = 50_000
"""Draws tried before a template is called one that gives none; spaces up to this size are then searched whole."""
EXAMPLES = 20
"""Kept draws on which key and method are compared."""


class Survey(NamedTuple):
    """What a look at a template's draws found."""

    possible: int
    """Draws before any constraint."""
    tried: int
    kept: int
    refused: tuple[tuple[int, int], ...]
    """Number of ``Template.check`` and how many of the tried draws it refused, the most first."""
    examples: tuple[Values, ...]
    """Some kept draws."""
    broken: tuple[tuple[int, Values], ...]
    """For each rule of the operation that refused a draw: its number and the first such draw."""

    @property
    def exact(self) -> bool:
        """Whether every draw was looked at."""
        return self.tried == self.possible

    @property
    def admissible(self) -> int:
        """How many draws are kept, estimated where not exact."""
        return self.kept if self.exact else self.possible * self.kept // self.tried

    @property
    def margin(self) -> int:
        """Half width of the 95 % interval round ``admissible``, 0 where exact.

        Normal interval for a share with one draw added to either side (so that "all" and "none" keep a width);
        two standard errors.
        """
        if self.exact:
            return 0
        kept, rest, tried = self.kept + 1, self.tried - self.kept + 1, self.tried + 2
        return 2 * isqrt(self.possible * self.possible * kept * rest // tried**3) + 1


def survey(template: Template) -> Survey:
    """Return what draws of *template* give: all of them where there are few, else a fixed sample."""
    size = template.space_size
    if size <= COUNTED:
        return _look(template, _every(size))
    found = _look(template, (number % size for number in _sample()))
    if found.kept:
        return found
    if size <= SEARCHED:
        return _look(template, _every(size))
    return _look(template, (_scattered(number) % size for number in range(SEARCHED)))


def _look(template: Template, indices: Iterable[int]) -> Survey:
    values_at, check = template.values_at, template.check
    first_rule = len(template.constraints)
    tried = kept = 0
    refused: dict[int, int] = {}
    examples: list[Values] = []
    broken: dict[int, Values] = {}
    for index in indices:
        values = values_at(index)
        tried += 1
        number = check(values)
        if number < 0:
            kept += 1
            if kept <= EXAMPLES:
                examples.append(values)
            continue
        refused[number] = refused.get(number, 0) + 1
        if number > first_rule:
            broken.setdefault(number, values)
    most = sorted(refused.items(), key=lambda pair: (-pair[1], pair[0]))
    return Survey(template.space_size, tried, kept, tuple(most), tuple(examples), tuple(broken.items()))


def _every(size: int) -> Iterable[int]:
    """Return every index once, in strides of about 0.618 of *size*, so that the first ones are spread over all."""
    stride = size * 618 // 1000 | 1
    while gcd(stride, size) > 1:
        stride += 2
    return (number * stride % size for number in range(size))


@cache
def _sample() -> tuple[int, ...]:
    """Return the numbers whose remainders are the draws tried, the same for every template."""
    return tuple(_scattered(number) for number in range(TRIED))


def _scattered(number: int) -> int:
    """Return a whole number below 2**128 that *number* decides and that looks like chance: two rounds of mixing.

    The constants are those of splitmix64 (Steele, Lea & Flood 2014), from memory; any odd ones would do.
    """
    mixed = 0
    for turn in (2 * number + 1, 2 * number + 2):
        word = turn * 0x9E3779B97F4A7C15 & 0xFFFFFFFFFFFFFFFF
        word = (word ^ word >> 30) * 0xBF58476D1CE4E5B9 & 0xFFFFFFFFFFFFFFFF
        word = (word ^ word >> 27) * 0x94D049BB133111EB & 0xFFFFFFFFFFFFFFFF
        mixed = mixed << 64 | word ^ word >> 31
    return mixed


def wrong_draws(template: Template, node: Node, problems: Problems) -> None:
    """Add to *problems* what the template's draws show to be wrong; *node* is the template's document."""
    places = {key.text: value for key, value in node.entries}
    found = template.survey
    for number, values in found.broken:
        rule = template.rules[number - len(template.constraints)]
        field = "key" if rule.code == "endless-key" else "operands"
        field = field if field in places else "response"
        wrong = f"{rule.says} for {_shown(template, values)}"
        places[field].report(problems, rule.code, field, wrong, rule.remedy)
    if not found.kept:
        field = "constraints" if "constraints" in places else "parameters"
        looked = f"none of all {found.possible} draws" if found.exact else f"none of {found.tried} draws tried"
        counts = ", ".join(f"{template.refusals[number]} refuses {count}" for number, count in found.refused[:5])
        wrong = f"{looked} is kept: {counts}"
        places[field].report(problems, "no-draw", field, wrong, "widen the ranges or drop what refuses most")
    if template.operation == "evaluate":
        from bank.templates._kinds import wrong_offers  # which needs the functions of a template

        wrong_offers(template, node, problems)
    for values in found.examples if template.operation != "evaluate" else ():
        operands = template.operands(values)
        key, method = template.key(values), result(template.operation, template.layout, operands, template.rounding)
        if key.value != method:
            numbers, is_decimal = ", ".join(map(str, operands)), terminating_places(method.denominator) is not None
            shown = Numeral.from_fraction(method) if is_decimal else method
            wrong = f"{template.operation} of {numbers} is {shown}, the key says {key}, for {_shown(template, values)}"
            places["key"].report(problems, "key-differs", "key", wrong, "make key, operation and operands agree")
            break
    stem = template.stem if any(isinstance(part, Branch) for part in template.stem_parts) else None
    if isinstance(stem, StemMaker) and any(stem.is_empty(values) for values in found.examples):
        places["stem"].report(problems, "empty-stem", "stem", "for some draws the stem is empty", "write words for all")


def _shown(template: Template, values: Values) -> str:
    return ", ".join(f"{name} = {value}" for name, value in template.parameters_as_written(values))


def result(operation: str, layout: str, operands: Sequence[Numeral], rounding: int | None) -> Fraction:
    """Return what *operation* on *operands* gives by exact arithmetic, rounded where *rounding* says so."""
    numbers = [operand.value for operand in operands]
    if operation == "compare":
        return min(numbers) if layout in ("smallest", "ascending") else max(numbers)
    value = numbers[0]
    for number in numbers[1:]:
        if operation == "add":
            value += number
        elif operation == "subtract":
            value -= number
        elif operation == "multiply":
            value *= number
        else:
            value = Fraction(value, number)
    if rounding is None:
        return value
    unit = 10 ** max(0, -rounding)
    return round_fraction(Fraction(value, unit), max(0, rounding)).value * unit
