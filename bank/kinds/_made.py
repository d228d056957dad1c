"""What a draw gives, and what the kinds share: lots, mistakes run on expressions, offers compiled once."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

from bank import methods, mistakes
from bank.chance import digest_numbers
from bank.errors import BadInput, Place, Problem
from bank.guesses import looks
from bank.model import Expression, Line, Response, Trace
from bank.numerals import Numeral
from bank.templates import Offered, Template, Values
from bank.templates.offering import make_numerals, make_offering

OPERATIONS = {"+": "add", "-": "subtract", "*": "multiply", "/": "divide"}
"""Operations by their neutral signs."""


class Made(NamedTuple):
    """What one draw gives."""

    response: Response
    operands: tuple[Numeral, ...]
    """Numbers that the item works on, in reading order."""
    key: Numeral
    """As `bank.model.Item.key`, found by exact arithmetic."""
    work: Callable[[], Trace]
    """Carries the written methods out, which find it too."""
    mistakes: tuple[str, ...]
    """Ids of the mistakes that lead to a wrong answer of the item, each once."""
    possible: tuple[str, ...] = ()
    """Ids of the mistakes that can be made to, by the choice of what is offered."""

    @property
    def solution(self) -> Trace:
        """How the written methods find the key; carried out anew each time."""
        return self.work()


class Candidate(NamedTuple):
    """Something that may be offered on these numbers."""

    text: Line
    worth: Numeral
    mistakes: tuple[str, ...] = ()
    size: int = 0
    """Characters that are shown."""
    form: str = ""
    """The signs of an expression, or ``number`` or ``words``."""

    def seen(self) -> Candidate:
        """Return the candidate with its looks noted."""
        return self._replace(size=len(looks(self.text)), form=form(self.text))


class Running:
    """Runs mistakes on expressions; of those that the template names, or of all that fit the operation."""

    def __init__(self, template: Template) -> None:
        known = mistakes.load()
        named = template.mistakes
        self.named = bool(named)
        self._records = {
            operation: tuple([known[name] for name in named if known[name].operation == operation])
            if named else mistakes.of_operation(operation)
            for operation in OPERATIONS.values()
        }

    def answers(self, expression: Expression, worth: Numeral) -> list[tuple[str, Numeral]]:
        """Return (id, wrong answer) of the mistakes that show on *expression*, of two numbers and one sign."""
        if len(expression.parts) != 3:
            return []
        first, sign, second = expression.parts
        if isinstance(first, str) or isinstance(second, str) or not isinstance(sign, str):
            return []
        return self.of(OPERATIONS[sign], (first, second), worth)

    def of(self, operation: str, operands: tuple[Numeral, ...], key: Numeral) -> list[tuple[str, Numeral]]:
        """Return (id, wrong answer) of the mistakes that show on *operands*."""
        records = self._records[operation]
        options = mistakes.options_for(operation)
        return [(record.identifier, answer) for record, answer in
                mistakes.outcomes(records, operands, key, **options) if answer.coefficient >= 0]


class Offer:
    """An offer of a template, compiled."""

    def __init__(self, template: Template, offered: Offered) -> None:
        self.offered = offered
        self._source = template.source
        recipe = template.recipe
        self._offering = make_offering(recipe, offered) if offered.worth is not None else None
        self._of = make_numerals(recipe, offered.of) if offered.of else None

    def at(self, values: Values) -> Candidate | None:
        """Return what is offered for a draw, its mistakes not yet asked.

        It is None where the draw gives it no value that ends, or the written methods cannot carry it out.
        """
        try:
            if self._offering is not None:
                text, worth = self._offering(values)
                expression = expression_of(text)
                if expression is not None and methods.work_out(expression)[0] != worth:
                    raise BadInput(Problem(
                        "key-differs", Place(self._source), "response",
                        f"exact arithmetic gives {worth} for {looks(text)}, the written methods another value",
                        "report this: it is a fault of the tool",
                    ))
                return Candidate(text, worth)
            assert self._of is not None
            record = mistakes.load()[self.offered.mistake]
            answer = record.procedure(*self._of(values), **mistakes.options_for(record.operation))
        except (ArithmeticError, methods.CannotCarryOut):
            return None
        return None if answer is None or answer.coefficient < 0 else Candidate((answer.normal(),), answer.normal())

    def numbers(self, values: Values) -> tuple[Numeral, ...]:
        """Return the numbers that the offer's mistake works on."""
        return self._of(values) if self._of is not None else ()


def expression_of(text: Line) -> Expression | None:
    """Return the expression that *text* is, None where it is none."""
    return text[0] if len(text) == 1 and isinstance(text[0], Expression) else None


def numbers_of(texts: Iterable[Line]) -> tuple[Numeral, ...]:
    """Return all numbers in *texts*, in reading order."""
    return tuple([
        part for text in texts for leaf in text
        for part in (leaf.parts if isinstance(leaf, Expression) else (leaf,)) if isinstance(part, Numeral)
    ])


def lot(size: int, *names: object) -> list[int]:
    """Return the whole numbers below *size* in an order that *names* decide."""
    first, second, third, fourth = digest_numbers(*names)
    number = first << 192 | second << 128 | third << 64 | fourth  # many more bits than a few things have orders
    left, order = list(range(size)), []
    for count in range(size, 0, -1):
        number, place = divmod(number, count)
        order.append(left.pop(place))
    return order


def once(names: Iterable[str]) -> tuple[str, ...]:
    """Return *names* sorted, each once."""
    return tuple(sorted(set(names)))


def distinct(candidates: Sequence[Candidate]) -> list[Candidate]:
    """Return *candidates* without those that look like an earlier one."""
    seen: dict[str, Candidate] = {}
    for one in candidates:
        seen.setdefault(looks(one.text), one)
    return list(seen.values())


def form(text: Line) -> str:
    """Return the form of *text*: the signs of an expression, or whether it is a number or words."""
    expression = expression_of(text)
    if expression is not None:
        return " ".join([part for part in expression.parts if isinstance(part, str)])
    return "number" if len(text) == 1 and isinstance(text[0], Numeral) else "words"
