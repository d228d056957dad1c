"""Expressions and stem of a template: read, then checked for names, kinds and use, each problem in its place."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from bank import expressions
from bank.errors import did_you_mean
from bank.expressions import ExpressionError, Part
from bank.fields import BROKEN, Problems, Read
from bank.sources import Node
from bank.templates import _stems
from bank.templates._code import Maker, Recipe, make_check
from bank.templates._parameters import Derived, Parameter, in_order, read_formula
from bank.templates._stems import StemPart, UnitWords
from bank.templates._kind_fields import kind_and_settings
from bank.templates._template import Constraint
from bank.templates._wanted import LineWanted, ResponseWanted, offers_of, parts_of


class Formulas(NamedTuple):
    """What a template's expressions and its stem say; each is `BROKEN` where it cannot be read."""

    constraints: tuple[Constraint, ...]
    operands: tuple[Part, ...]
    key: Part
    stem: tuple[StemPart, ...]


def read_formulas(read: Read, problems: Problems) -> Formulas:
    """Return the expressions and the stem of *read*, their form alone judged."""
    key = BROKEN if not read["key"] else read_formula(read["key"], "key", problems)
    return Formulas(_constraints(read, problems), _operands(read, problems), key, _stem(read, problems))


def _operands(read: Read, problems: Problems) -> tuple[Part, ...]:
    if read["operands"] is None:
        return () if read["operation"] == "evaluate" else BROKEN
    if read["operands"] is BROKEN:
        return BROKEN
    parts = [read_formula(node, f"operands[{number}]", problems) for number, node in enumerate(read["operands"], 1)]
    return BROKEN if BROKEN in parts else tuple(parts)


def _constraint_nodes(read: Read) -> Iterator[tuple[str, Node, str]]:
    """Yield field, formula node and reason of each constraint that could be read."""
    for number, entry in enumerate(read["constraints"] or (), 1):
        field = f"constraints[{number}]"
        if isinstance(entry, Node):
            yield field, entry, ""
        elif entry["holds"] is not BROKEN:
            yield f"{field}.holds", entry["holds"], entry["because"] or ""


def _constraints(read: Read, problems: Problems) -> tuple[Constraint, ...]:
    if read["constraints"] is BROKEN:
        return BROKEN
    found = [(read_formula(node, field, problems), because) for field, node, because in _constraint_nodes(read)]
    return BROKEN if any(part is BROKEN for part, _ in found) else tuple(Constraint(*pair) for pair in found)


def _stem(read: Read, problems: Problems) -> tuple[StemPart, ...]:
    if read["stem"] is BROKEN:
        return BROKEN
    node = read.at("stem")
    try:
        return _stems.read_stem(node.text)
    except ExpressionError as fault:
        node.report(problems, fault.code, "stem", fault.wrong, fault.remedy, fault.at)
        return BROKEN


def ordered(
    parameters: tuple[Parameter, ...], found: Mapping[str, Read], problems: Problems
) -> tuple[Derived, ...]:
    """Return the derived parameters in the order in which they can be calculated, or `BROKEN`.

    *found* is what the declaration read, by name.
    """
    before = len(problems)
    derived, loop = in_order([parameter for parameter in parameters if isinstance(parameter, Derived)])
    if loop:
        wrong = f"these parameters are derived from one another: {' -> '.join((*loop, loop[0]))}"
        field = f"parameters.{loop[0]}.derive"
        found[loop[0]]["derive"].report(problems, "derived-loop", field, wrong, "draw one of them")
        return BROKEN
    maker = Maker(parameters, derived)
    broken: set[str] = set()
    for parameter in derived:
        uses = expressions.names(parameter.part)
        if broken & set(uses):
            broken.add(parameter.name)
            continue
        try:
            for name, at in uses.items():
                if name not in maker.parameters:
                    remedy = did_you_mean(name, maker.parameters)
                    raise ExpressionError("unknown-name", f"there is no parameter {name!r}", remedy, at)
            maker.require([parameter.name])
        except ExpressionError as fault:
            broken.add(parameter.name)
            _report(found[parameter.name]["derive"], f"parameters.{parameter.name}.derive", fault, problems)
    return BROKEN if len(problems) > before else derived


def _report(node: Node, field: str, fault: ExpressionError, problems: Problems) -> None:
    node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)


def check_formulas(
    read: Read, formulas: Formulas, parameters: tuple[Parameter, ...], derived: tuple[Derived, ...],
    wanted: ResponseWanted | None, problems: Problems,
) -> None:
    """Check names and kinds of every expression, each on its own."""
    maker = Maker(parameters, derived)
    maker.require(maker.parameters)
    if formulas.constraints is not BROKEN:
        for constraint, (field, node, _) in zip(formulas.constraints, _constraint_nodes(read), strict=True):
            try:
                if maker.truth(constraint.part).known is False:
                    wrong = "this holds for no draw, whatever the values"
                    node.report(problems, "never-holds", field, wrong, "change it or the ranges")
            except ExpressionError as fault:
                _report(node, field, fault, problems)
    numbers: list[tuple[str, Node, Part]] = []
    if wanted:
        from bank.templates._kinds import check_offers  # dear to import, and most templates need none of it

        check_offers(read, wanted, maker, problems)
    if formulas.key is not BROKEN:
        numbers.append(("key", read["key"], formulas.key))
    if formulas.operands:
        pairs = zip(read["operands"], formulas.operands, strict=True)
        numbers += [(f"operands[{number}]", node, part) for number, (node, part) in enumerate(pairs, 1)]
    for field, node, part in numbers:
        try:
            maker.number(part)
        except ExpressionError as fault:
            _report(node, field, fault, problems)


def check_stem(
    read: Read, stem: tuple[StemPart, ...], parameters: tuple[Parameter, ...], derived: tuple[Derived, ...],
    unit: UnitWords | None, problems: Problems,
) -> None:
    """Check names, filters and conditions of the stem."""
    operation, operands = read["operation"] or "", read["operands"] or ()
    kind, _ = kind_and_settings(read)
    has_work = operation != "round" and (operation != "compare" or len(operands) == 2)
    if operation == "evaluate":
        has_work = kind == "choose-in-line"
    node = read.at("stem")
    for fault in _stems.wrong_parts(stem, Maker(parameters, derived), has_unit=unit is not None, has_work=has_work):
        _report(node, "stem", fault, problems)


def check_use(
    read: Read, recipe: Recipe, stem: tuple[StemPart, ...], wanted: ResponseWanted, problems: Problems
) -> None:
    """Check what can only be seen when every part is sound: that each parameter is used and each operand shown."""
    shown = set(_stems.shown(stem))
    parts = (
        *recipe.operands, recipe.key, *recipe.constraints, *_stems.conditions(stem),
        *(parameter.part for parameter in recipe.derived),
    )
    parts += parts_of(wanted)
    used = shown | {part.name for one in offers_of(wanted) for part in one.words if isinstance(part, _stems.Shown)}
    used |= {name for part in parts for name in expressions.names(part)}
    for key, _ in read.at("parameters").entries:
        if key.text not in used:
            field = f"parameters.{key.text}"
            key.report(problems, "unused-parameter", field, "nothing uses this parameter", "delete it")
    if recipe.operation != "compare":
        _check_operands(read, recipe, _stems.always_shown(stem), problems)
    if isinstance(wanted, LineWanted):
        gaps = [part.name for part in _stems.flat(stem) if isinstance(part, _stems.Shown)
                and part.name in _stems.WHOLE_NAMES]
        if gaps != ["work"]:
            wrong = "the stem has not just one gap"
            read.at("stem").report(problems, "no-gap", "stem", wrong, "write {{ work }} once, where the gap stands")
    try:
        make_check(recipe)
    except ExpressionError as fault:
        _report(read.at("key"), "key", fault, problems)


def _check_operands(read: Read, recipe: Recipe, shown: frozenset[str], problems: Problems) -> None:
    """Check that pupils read every number that the method works on: one to work out first would be a step of its own.

    Solution, difficulty and mistakes begin with the operands, so they would begin in the middle. Numbers to compare are
    read among the answers.
    """
    if shown & set(_stems.WHOLE_NAMES):
        return
    derived = {parameter.name: parameter.part for parameter in recipe.derived}
    for number, (node, part) in enumerate(zip(read["operands"] or (), recipe.operands, strict=True), 1):
        if isinstance(part, expressions.Literal) or isinstance(part, expressions.Name) and part.name in shown:
            continue
        if isinstance(part, expressions.Name) and part.name not in derived:
            wrong = f"the stem never shows {part.name!r}, which the method works on"
            if part.name in recipe.written:
                wrong = f"the stem shows {part.name!r}, which the method works on, in some of its wordings only"
            remedy = f"write {{{{ {part.name} }}}} or {{{{ work }}}}"
            read.at("stem").report(problems, "operand-not-shown", "stem", wrong, remedy)
            continue
        named = isinstance(part, expressions.Name)
        text = f"{part.name} ({expressions.write(derived[part.name])})" if named else expressions.write(part)
        node.report(
            problems, "hidden-step", f"operands[{number}]",
            f"pupils would have to work out {text} first; solution, difficulty and mistakes would leave that step out",
            ("show it in the stem" if named else "derive it as a parameter that the stem shows")
            + ", show {{ work }}, or ask for this step in a template of its own",
        )
