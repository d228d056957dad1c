"""Parameters of a template: what is drawn from where, and the amounts and numerals they become in code."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import NamedTuple

from bank import expressions
from bank.expressions import WORDS, Amount, ExpressionError, Part, Wording
from bank.fields import BROKEN, Problems, Read
from bank.numerals import POWERS, Numeral
from bank.sources import Node
from bank.templates._declaration import MAX_PLACES

RESERVED = frozenset(
    "work equation and or not in is if elif else endif for endfor true false none set block include import".split()
)
"""Names that mean something else in stems or expressions."""


class Stepped(NamedTuple):
    """Numbers ``(first + step * n) / 10**scale`` for n below size; drawn as that integer."""

    name: str
    first: int
    step: int
    size: int
    scale: int
    shortest: bool = False
    """Written without trailing zeros; else with ``scale`` places."""


class Listed(NamedTuple):
    """Numerals written out; drawn as an index."""

    name: str
    numerals: tuple[Numeral, ...]

    @property
    def size(self) -> int:
        """How many there are."""
        return len(self.numerals)


class Worded(NamedTuple):
    """Words written out; drawn as the words themselves."""

    name: str
    words: tuple[str, ...]

    @property
    def size(self) -> int:
        """How many there are."""
        return len(self.words)


class Derived(NamedTuple):
    """A number calculated from other parameters; not drawn."""

    name: str
    part: Part
    places: int | None = None
    """Places written, or None for as few as needed."""


Drawn = Stepped | Listed | Worded
Parameter = Drawn | Derived


def stepped_amount(parameter: Stepped, code: str) -> Amount:
    """Return the parameter as an amount whose integer is *code*."""
    last = parameter.first + parameter.step * (parameter.size - 1)
    unit = POWERS[parameter.scale]
    size = max(abs(parameter.first), abs(last))
    places = "" if parameter.shortest else str(parameter.scale)
    return Amount(code, parameter.scale, "", Fraction(parameter.first, unit), Fraction(last, unit), size, 1, places)


def listed_amount(parameter: Listed, code: str, places: str) -> tuple[Amount, tuple[int, ...]]:
    """Return the parameter as an amount, and its integers in the amount's scale by index."""
    scale = max(numeral.places for numeral in parameter.numerals)
    tops = tuple(numeral.coefficient * POWERS[scale - numeral.places] for numeral in parameter.numerals)
    unit = POWERS[scale]
    size = max(abs(top) for top in tops)
    return Amount(code, scale, "", Fraction(min(tops), unit), Fraction(max(tops), unit), size, 1, places), tops


def read_parameters(found: dict[str, Read], node: Node, problems: Problems) -> tuple[Parameter, ...]:
    """Return the typed parameters in the order written, or `BROKEN` with the problems added.

    *found* is what the declaration read, *node* the mapping of parameters.
    """
    before = len(problems)
    keys = {key.text: key for key, _ in node.entries}
    parameters = []
    for name, read in found.items():
        field = f"parameters.{name}"
        if name in RESERVED or name in WORDS:
            keys[name].report(problems, "reserved-name", field, f"{name!r} means something else", "rename it")
        if read is BROKEN or any(value is BROKEN for value in read.values.values()):
            continue
        first = next(iter(read.values))
        reader = {"from": _range, "whole": _wholes, "list": _list, "derive": _derived}[first]
        parameter = reader(name, field, read, problems)
        if parameter is not None:
            parameters.append(parameter)
    broken = len(problems) > before or len(parameters) < len(found)
    return BROKEN if broken else tuple(parameters)


def _range(name: str, field: str, read: Read, problems: Problems) -> Stepped | None:
    low, high, step = read["from"], read["to"], read["step"]
    scale = max(low.places, step.places, high.normal().places)
    if scale > MAX_PLACES or max(abs(low.coefficient), abs(high.coefficient)) >= POWERS[2 * MAX_PLACES]:
        wrong = f"more than {MAX_PLACES} digits before or behind the point"
        read.node.report(problems, "out-of-range", field, wrong, "use shorter numbers")
        return None
    first, last, distance = (numeral.with_places(max(scale, numeral.places)) for numeral in (low, high, step))
    parameter = Stepped(name, first.coefficient, distance.coefficient, 1, scale, read["written"] == "shortest")
    return _counted(parameter, last.with_places(scale).coefficient, field, read, "to", problems)


def _wholes(name: str, field: str, read: Read, problems: Problems) -> Stepped | None:
    low, high = read["whole"]
    return _counted(Stepped(name, low, read["step"], 1, 0), high, field, read, "whole", problems)


def _counted(parameter: Stepped, last: int, field: str, read: Read, end: str, problems: Problems) -> Stepped | None:
    """Return *parameter* with its size, or None where the range is empty or its steps miss the end."""
    first, step, scale = parameter.first, parameter.step, parameter.scale
    low, high, distance = (Numeral(number, scale).text() for number in (first, last, step))
    if step <= 0:
        read.at("step").report(
            problems, "bad-step", f"{field}.step", f"{distance} is not above zero", "write 0.1 or such"
        )
    elif last < first:
        read.at(end).report(problems, "empty-range", f"{field}.{end}", f"{high} is below {low}", "swap them")
    elif (last - first) % step:
        near = first + (last - first) // step * step
        nearest = " or ".join(Numeral(number, scale).text() for number in (near, near + step))
        wrong = f"{distance} never reaches {high} from {low}"
        read.at("step").report(
            problems, "step-misses-end", f"{field}.step", wrong, f"end at {nearest}, or change the step"
        )
    else:
        return parameter._replace(size=(last - first) // step + 1)
    return None


def _list(name: str, field: str, read: Read, problems: Problems) -> Listed | Worded | None:
    nodes: tuple[Node, ...] = read["list"]
    before = len(problems)
    numbers = [node for node in nodes if node.looks_like_number]
    seen: dict[str, Node] = {}
    for node in nodes:
        text = " ".join(node.text.split()) if node not in numbers else node.text
        if text in seen:
            node.report(problems, "twice", f"{field}.list", f"{node.shown()} stands here twice", "keep one")
        seen[text] = node
    if not numbers:
        for node in nodes:
            if node.text != node.text.strip() or "\n" in node.text or "  " in node.text:
                node.report(
                    problems, "bad-words", f"{field}.list", "words with surrounding or double spaces", "trim them"
                )
        return None if len(problems) > before else Worded(name, tuple(seen))
    numerals = []
    for node in nodes:
        if node not in numbers:
            node.report(
                problems, "mixed-list", f"{field}.list", f"{node.shown()} is no number, others are", "write one kind"
            )
            continue
        try:
            numerals.append(Numeral.parse(node.text))
            usual = not node.text.startswith(("+", ".", "00")) and not node.text.endswith(".")
            if not usual or numerals[-1].places > MAX_PLACES or abs(numerals[-1].coefficient) >= POWERS[2 * MAX_PLACES]:
                raise ValueError(f"{node.shown()} is not written the usual way, or too long")
        except ValueError as fault:
            node.report(problems, "bad-number", f"{field}.list", str(fault), "write it as 0.25 or 3")
    return None if len(problems) > before else Listed(name, tuple(numerals))


def _derived(name: str, field: str, read: Read, problems: Problems) -> Derived | None:
    part = read_formula(read["derive"], f"{field}.derive", problems)
    return None if part is BROKEN else Derived(name, part, read["places"])


def read_formula(node: Node, field: str, problems: Problems) -> Part:
    """Return the expression that *node* holds, or `BROKEN` with its problem added."""
    try:
        return expressions.read(node.text)
    except ExpressionError as fault:
        node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)
        return BROKEN


def in_order(derived: Sequence[Derived]) -> tuple[tuple[Derived, ...], tuple[str, ...]]:
    """Return *derived* so that each stands behind those it uses, and the names of one loop where there is one."""
    waiting = {parameter.name: parameter for parameter in derived}
    uses = {
        name: [use for use in expressions.names(parameter.part) if use in waiting]
        for name, parameter in waiting.items()
    }
    done: list[Derived] = []
    state: dict[str, int] = {}
    loop: list[str] = []

    def visit(name: str, path: tuple[str, ...]) -> None:
        if state.get(name) == 2 or loop:
            return
        if state.get(name) == 1:
            loop.extend(path[path.index(name) :])
            return
        state[name] = 1
        for use in uses[name]:
            visit(use, (*path, name))
        state[name] = 2
        done.append(waiting[name])

    for name in waiting:
        visit(name, ())
    return (() if loop else tuple(done)), tuple(loop)


def wording(parameter: Worded, code: str) -> Wording:
    """Return the parameter as words whose value is *code*."""
    return Wording(code, parameter.words)

