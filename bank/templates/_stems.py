"""Stems: text with parameters in it, read into parts and made into lines of leaves. Nothing is ever rendered.

``{{ a }}`` writes a parameter, ``{{ a|unit }}`` with the template's unit, ``{{ work }}`` the operation on its
operands, ``{{ equation }}`` the same with ``= ?``. ``{% if a > 5 %}``, ``elif``, ``else`` and ``endif`` choose words.
Stems without tags are read here; others by the parser of Jinja2, which is imported only then.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from bank import expressions
from bank.errors import did_you_mean
from bank.expressions import ExpressionError, Part
from bank.templates._code import Maker, Recipe, Values, make_truths, question
from bank.templates._parameters import Worded

if TYPE_CHECKING:
    from bank.model import Line

FILTERS = {
    "unit": "a number with the template's unit",
    "shortest": "a number without trailing zeros",
    "capitalized": "words with a capital first letter",
}
"""What may stand behind a name, after ``|``."""
WHOLE_NAMES = ("work", "equation")
MAX_BRANCHES = 8
"""Most ``if`` and ``elif`` of one stem. Our own bound: each doubles the wordings a reviewer has to see."""
NO_BREAK = "\u00a0"
"""Stands between a number and its unit."""


class UnitWords(NamedTuple):
    """A unit as written in a template; its fields are those of `bank.model.Unit`, which is dear to import."""

    text: str
    before: bool = False
    spoken: str = ""


class Said(NamedTuple):
    """Text as written."""

    text: str


class Shown(NamedTuple):
    """A parameter, ``work`` or ``equation``, with filters; ``at`` is its offset in the stem."""

    name: str
    filters: tuple[str, ...]
    at: int


class Branch(NamedTuple):
    """Parts that stand only where a condition holds: cases in order, then what stands otherwise."""

    cases: tuple[tuple[Part, tuple[StemPart, ...]], ...]
    otherwise: tuple[StemPart, ...]
    at: int


StemPart = Said | Shown | Branch

_OUTPUT = re.compile(r"\{\{ *([a-z][a-z0-9_]*) *((?:\| *[a-z_]+ *)*)\}\}")
_OPENING = re.compile(r"\{\{|\{%|\{#")


def read_stem(text: str) -> tuple[StemPart, ...]:
    """Return the parts of the stem *text*.

    Raises:
        ExpressionError: a tag or name that stems do not have; its offset says where.
    """
    parts: list[StemPart] = []
    at = 0
    for found in _OPENING.finditer(text):
        if found.start() < at:
            continue
        output = _OUTPUT.match(text, found.start())
        if not output:
            from bank.templates import _tags  # Jinja2 doubles the start-up time; most stems do without

            return _tags.read_tagged(text)
        if output.start() > at:
            parts.append(Said(text[at : output.start()]))
        filters = tuple(output[2].replace("|", " ").split())
        parts.append(Shown(output[1], filters, output.start()))
        at = output.end()
    if at < len(text):
        parts.append(Said(text[at:]))
    return tuple(parts)


def flat(parts: Sequence[StemPart]) -> Iterator[StemPart]:
    """Yield all parts, those inside branches after the branch itself."""
    for part in parts:
        yield part
        if isinstance(part, Branch):
            for _, inside in part.cases:
                yield from flat(inside)
            yield from flat(part.otherwise)


def shown(parts: Sequence[StemPart]) -> tuple[str, ...]:
    """Return the names that a stem writes, each once, ``work`` and ``equation`` among them."""
    return tuple(dict.fromkeys(part.name for part in flat(parts) if isinstance(part, Shown)))


def always_shown(parts: Sequence[StemPart]) -> frozenset[str]:
    """Return the names that a stem writes whichever of its branches is taken, ``work`` and ``equation`` among them."""
    names: frozenset[str] = frozenset()
    for part in parts:
        if isinstance(part, Shown):
            names |= {part.name}
        elif isinstance(part, Branch):
            ways = [always_shown(inside) for _, inside in part.cases] + [always_shown(part.otherwise)]
            names |= frozenset.intersection(*ways)
    return names


def conditions(parts: Sequence[StemPart]) -> tuple[Part, ...]:
    """Return the conditions of all branches, in the order of `flat`."""
    return tuple(condition for part in flat(parts) if isinstance(part, Branch) for condition, _ in part.cases)


def wrong_parts(
    parts: Sequence[StemPart], maker: Maker, *, has_unit: bool, has_work: bool
) -> list[ExpressionError]:
    """Return what is wrong with names, filters and conditions of a stem, in order; *maker* knows the parameters."""
    wrong: list[ExpressionError] = []
    maker.require(maker.parameters)
    for part in flat(parts):
        if isinstance(part, Shown):
            wrong += _wrong_name(part, maker, has_work) or _wrong_filters(part, maker, has_unit)
        elif isinstance(part, Branch):
            wrong += _wrong_branch(part, maker)
    branches = sum(len(part.cases) for part in flat(parts) if isinstance(part, Branch))
    if branches > MAX_BRANCHES:
        wrong.append(ExpressionError("too-many-branches", f"{branches} conditions", f"write at most {MAX_BRANCHES}"))
    return wrong


def _wrong_name(part: Shown, maker: Maker, has_work: bool) -> list[ExpressionError]:
    known = [*maker.parameters, *WHOLE_NAMES]
    if part.name not in known:
        remedy = did_you_mean(part.name, known)
        return [ExpressionError("unknown-name", f"there is no parameter {part.name!r}", remedy, part.at)]
    if part.name in WHOLE_NAMES and not has_work:
        wrong = f"{part.name!r} has no meaning for this operation and number of operands"
        return [ExpressionError("no-work", wrong, "show the numbers by their names", part.at)]
    return []


def _wrong_filters(part: Shown, maker: Maker, has_unit: bool) -> Iterator[ExpressionError]:
    wanted = "capitalized" if isinstance(maker.parameters.get(part.name), Worded) else "unit shortest"
    for name in part.filters:
        if name not in FILTERS:
            remedy = did_you_mean(name, FILTERS)
            yield ExpressionError("unknown-filter", f"there is no filter {name!r}", remedy, part.at)
        elif part.name in WHOLE_NAMES or name not in wanted:
            yield ExpressionError("bad-filter", f"{name!r} writes {FILTERS[name]}, not this", "delete it", part.at)
        elif name == "unit" and not has_unit:
            yield ExpressionError("no-unit", "the template has no unit", "write unit: kg, or such", part.at)
    if len(set(part.filters)) < len(part.filters):
        yield ExpressionError("bad-filter", "a filter stands twice", "delete one", part.at)


def _wrong_branch(part: Branch, maker: Maker) -> Iterator[ExpressionError]:
    for condition, _ in part.cases:
        try:
            known = maker.truth(condition).known
        except ExpressionError as fault:
            yield fault
            continue
        if known is not None:
            wrong = f"{expressions.write(condition)} {'always' if known else 'never'} holds"
            yield ExpressionError("settled-branch", wrong, "delete the condition", part.at)


class StemMaker:
    """Makes the lines of a stem for a draw; callable. Each combination of branches is compiled when it first occurs."""

    def __init__(self, parts: tuple[StemPart, ...], recipe: Recipe, unit: UnitWords | None) -> None:
        self.parts = parts
        self.recipe = recipe
        self.unit = unit
        self.truths = make_truths(recipe, conditions(parts))
        self.made: dict[tuple[bool, ...], Callable[[Values], tuple[Line, ...]]] = {}

    def __call__(self, values: Values) -> tuple[Line, ...]:
        """Return the stem's lines for the draw *values*."""
        truths = self.truths(values)
        made = self.made.get(truths)
        if made is None:
            made = self.made[truths] = make_lines(self.chosen(truths), self.recipe, self.unit)
        return made(values)

    def is_empty(self, values: Values) -> bool:
        """Return whether the stem has no words for the draw *values*; nothing is compiled for it."""
        return not _paragraphs(self.chosen(self.truths(values)))

    def chosen(self, truths: Sequence[bool]) -> list[Said | Shown]:
        """Return the parts that stand where the conditions have these truths."""
        return list(self._chosen(self.parts, iter(truths)))

    def _chosen(self, parts: Sequence[StemPart], truths: Iterator[bool]) -> Iterator[Said | Shown]:
        for part in parts:
            if not isinstance(part, Branch):
                yield part
                continue
            held = [next(truths) for _ in part.cases]
            bodies = [list(self._chosen(inside, truths)) for _, inside in part.cases]
            otherwise = list(self._chosen(part.otherwise, truths))
            yield from next((body for body, holds in zip(bodies, held, strict=True) if holds), otherwise)


def make_stem(
    parts: tuple[StemPart, ...], recipe: Recipe, unit: UnitWords | None
) -> Callable[[Values], tuple[Line, ...]]:
    """Return the function that gives the stem's lines for a draw."""
    if any(isinstance(part, Branch) for part in parts):
        return StemMaker(parts, recipe, unit)
    return make_lines([part for part in parts if not isinstance(part, Branch)], recipe, unit)


def make_lines(
    parts: Sequence[Said | Shown], recipe: Recipe, unit: UnitWords | None = None
) -> Callable[[Values], tuple[Line, ...]]:
    """Return the function that gives the lines of *parts*, which hold no branches."""
    maker = Maker(recipe.parameters, recipe.derived)
    lines = [f"({', '.join(_leaves(line, maker, recipe, unit))},)" for line in _paragraphs(parts)]
    maker.say(f"return ({', '.join(lines)},)" if lines else "return ()")
    return maker.function("stem", "values")


def _paragraphs(parts: Sequence[Said | Shown]) -> list[list[str | Shown]]:
    """Return the parts by paragraph, white space single and trimmed; an empty line begins a paragraph."""
    hole = "\x00"  # cannot stand in a text: sources refuses control characters
    shown = [part for part in parts if isinstance(part, Shown)]
    text = "".join(part.text if isinstance(part, Said) else hole for part in parts)
    paragraphs: list[list[str | Shown]] = []
    used = 0
    for block in re.split(r"\n *\n", text):
        pieces = re.sub("[ \n]+", " ", block).strip(" ").split(hole)
        paragraph: list[str | Shown] = []
        for number, piece in enumerate(pieces):
            if number:
                paragraph.append(shown[used])
                used += 1
            if piece:
                paragraph.append(piece)
        if paragraph:
            paragraphs.append(paragraph)
    return paragraphs


def _leaves(line: Sequence[str | Shown], maker: Maker, recipe: Recipe, unit: UnitWords | None) -> list[str]:
    """Return the code of each leaf of a line; neighbouring words become one leaf."""
    leaves: list[str] = []
    words: list[str] = []

    def close() -> None:
        if words:
            constant = all(word.startswith("c") for word in words)
            whole = "".join(maker.constants[word] for word in words) if constant else ""
            leaves.append(maker.constant(whole) if constant else " + ".join(words))
            words.clear()

    for part in line:
        if isinstance(part, str):
            words.append(maker.constant(part))
            continue
        if part.name in WHOLE_NAMES:
            close()
            leaves.append(question(maker, recipe, part.name == "equation"))
            continue
        if isinstance(maker.parameters[part.name], Worded):
            code = maker.codes[part.name]
            words.append(f"{code}[:1].upper() + {code}[1:]" if "capitalized" in part.filters else code)
            continue
        has_unit = "unit" in part.filters and unit is not None
        if has_unit and unit is not None and unit.before:
            words.append(maker.constant(unit.text))
        close()
        named = maker.named(part.name)
        leaves.append(f"{named}.normal()" if "shortest" in part.filters else named)
        if has_unit and unit is not None and not unit.before:
            words.append(maker.constant(NO_BREAK + unit.text))
    close()
    return leaves


def plain_lines(text: str) -> tuple[Line, ...]:
    """Return the lines of a text without parameters."""
    return tuple((piece,) for paragraph in _paragraphs([Said(text)]) for piece in paragraph if isinstance(piece, str))

