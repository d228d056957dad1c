"""The typed template: what a file says, and the functions made of it."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from bank import expressions
from bank.expressions import Part
from bank.numerals import Numeral
from bank.templates import _code, _stems, _survey, _visible
from bank.templates._code import Recipe, Rule, Values
from bank.templates._parameters import Derived, Drawn, Parameter
from bank.templates._stems import StemPart, UnitWords
from bank.templates._survey import Survey
from bank.templates._wanted import KINDS, ChoiceWanted, FindWanted, LineWanted, NumberWanted, ResponseWanted, operations_in

if TYPE_CHECKING:
    from bank.model import Family, Line, Unit


DISTRACTORS = 3
"""Wrong options where neither template nor plan says: rule D4, three to five options."""


class Constraint(NamedTuple):
    """A condition that a draw must keep, and why."""

    part: Part
    because: str = ""

    @property
    def text(self) -> str:
        """The condition in the language of expressions."""
        return expressions.write(self.part)


class _Fields(NamedTuple):
    """What a template's file says."""

    identifier: str
    version: int
    title: str
    topic: str
    codes: tuple[str, ...]
    parameters: tuple[Parameter, ...]
    """In the order written."""
    derived: tuple[Derived, ...]
    """In the order in which they can be calculated."""
    radicals: tuple[str, ...]
    """Parameters declared to change difficulty."""
    incidentals: tuple[str, ...]
    """Parameters declared not to change difficulty."""
    constraints: tuple[Constraint, ...]
    operation: str
    layout: str
    operand_parts: tuple[Part, ...]
    key_part: Part
    rounding: int | None
    places: int | None
    unit_words: UnitWords | None
    """Unit of the answer, or None."""
    stem_parts: tuple[StemPart, ...]
    response: ResponseWanted
    mistakes: tuple[str, ...]
    """Ids of the mistakes to use; empty for all of the operation."""
    hint: tuple[Line, ...]
    praise: tuple[Line, ...]
    show_solution: bool
    context: bool
    draws: int | None
    """Most items of this template in one bank, or None."""
    source: str
    """Name of the file it was read from, for messages."""
    content: str
    """Everything in the file but comments, layout and note, as one text."""


class Template(_Fields):
    """An item template as read. Pickles as data; the functions are made again where they are first used.

    A draw is a tuple of drawn values, made by ``values_at(index)``; only draws for which ``check(values)`` is -1
    may be given to ``operands``, ``key``, ``exact_key`` and ``stem``.
    """

    @cached_property
    def family(self) -> Family:
        """What all items of this template share."""
        from bank.model import Family  # its records are dear to import, and checking needs none of them

        return Family(
            template=self.identifier, version=self.version, title=self.title, topic=self.topic, codes=self.codes,
            operation=self.operation, layout=self.layout, unit=self.unit, places=self.places, rounding=self.rounding,
            context=self.context, show_solution=self.show_solution, hint=self.hint, praise=self.praise,
            checksum=self.checksum, visible=self.visible,
        )

    @cached_property
    def checksum(self) -> str:
        """Digest of everything in the file but comments, layout and note."""
        import hashlib

        return hashlib.sha256(self.content.encode()).hexdigest()[:16]

    @cached_property
    def visible(self) -> str:
        """As `bank.model.Family.visible`."""
        return _visible.visible(
            self.title, self.stem_parts, self.operation, self.operand_parts, self.key_part, self.layout, self.rounding,
            self.places, self.unit_words, self.kind, self.response, self.hint, self.praise, self.show_solution,
        )

    @cached_property
    def unit(self) -> Unit | None:
        """Unit of the answer, or None."""
        from bank.model import Unit

        words = self.unit_words
        return None if words is None else Unit(text=words.text, before=words.before, spoken=words.spoken)

    @property
    def operations(self) -> frozenset[str]:
        """Operations whose mistakes may show: its own, or those of the expressions that it offers."""
        if self.operation != "evaluate":
            return frozenset((self.operation,))
        return frozenset(operations_in(self.response))

    @property
    def kind(self) -> str:
        """How an item is answered: ``choice``, ``number``, or the name of a further kind."""
        return KINDS[type(self.response)]

    @property
    def distractors(self) -> int:
        """How many wrong options an item offers; 0 where it is not answered by choosing one."""
        if not isinstance(self.response, ChoiceWanted):
            return 0
        if self.operation == "compare":
            return len(self.operand_parts) - 1
        return self.response.distractors or DISTRACTORS

    @property
    def policy(self) -> str:
        """As `bank.model.TypedNumber.policy`; empty where no number is typed."""
        return self.response.policy if isinstance(self.response, (NumberWanted, FindWanted)) else ""

    @property
    def drawn(self) -> tuple[Drawn, ...]:
        """The parameters that are drawn, in the order of a draw's values."""
        return tuple(parameter for parameter in self.parameters if not isinstance(parameter, Derived))

    @cached_property
    def space_size(self) -> int:
        """How many draws there are before any constraint."""
        size = 1
        for parameter in self.drawn:
            size *= parameter.size
        return size

    @cached_property
    def values_at(self) -> Callable[[int], Values]:
        """The function from an index below ``space_size`` to drawn values; each index gives another draw."""
        return _code.make_values_at(self.recipe)

    @cached_property
    def check(self) -> Callable[[Values], int]:
        """The function from a draw to the number of the first thing that refuses it, -1 where nothing does."""
        return self._checking[0]

    @cached_property
    def refusals(self) -> tuple[str, ...]:
        """What each number of ``check`` means: constraints as written first, then the operation's own rules."""
        return (*(constraint.text for constraint in self.constraints), *(rule.says for rule in self.rules))

    @cached_property
    def refusal(self) -> Callable[[Values], str]:
        """The function from a draw to what refuses it, one of ``refusals``; empty where nothing does."""
        check, reasons = self.check, (*self.refusals, "")
        return lambda values: reasons[check(values)]

    @property
    def rules(self) -> tuple[Rule, ...]:
        """The operation's own rules, numbered from ``len(constraints)`` on."""
        return self._checking[1]

    @cached_property
    def operands(self) -> Callable[[Values], tuple[Numeral, ...]]:
        """The function from a draw to the operands, parameters as written."""
        return _code.make_operands(self.recipe)

    @cached_property
    def key(self) -> Callable[[Values], Numeral]:
        """The function from a draw to the key as written: rounded, with fixed places, or as short as it can be."""
        return _code.make_key(self.recipe)

    @cached_property
    def exact_key(self) -> Callable[[Values], tuple[int, int]]:
        """The function from a draw to the key before rounding: numerator, positive denominator, not in lowest terms."""
        return _code.make_exact_key(self.recipe)

    @cached_property
    def stem(self) -> Callable[[Values], tuple[Line, ...]]:
        """The function from a draw to the stem's lines."""
        return _stems.make_stem(self.stem_parts, self.recipe, self.unit_words)

    @cached_property
    def parameters_as_written(self) -> Callable[[Values], tuple[tuple[str, str], ...]]:
        """The function from a draw to (name, written value) of each drawn parameter, with a decimal point."""
        return _code.make_as_written(self.recipe)

    @cached_property
    def survey(self) -> Survey:
        """How many draws there are, how many are kept, and what refuses the others."""
        return _survey.survey(self)

    @cached_property
    def recipe(self) -> Recipe:
        """What the functions are made of."""
        return Recipe(
            self.parameters, self.derived, tuple(constraint.part for constraint in self.constraints), self.operation,
            self.operand_parts, self.key_part, self.rounding, self.places, _stems.shown(self.stem_parts),
            isinstance(self.response, LineWanted), self.response.sides if isinstance(self.response, LineWanted) else (),
        )

    @cached_property
    def _checking(self) -> tuple[Callable[[Values], int], tuple[Rule, ...]]:
        return _code.make_check(self.recipe)

    def __getstate__(self) -> None:
        """Return nothing: the fields pickle as a tuple, the functions are made again."""
