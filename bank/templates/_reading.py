"""From a file's nodes to a typed template, with everything wrong found in one pass."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from bank import expressions
from bank.errors import did_you_mean
from bank.expressions import ExpressionError, Part
from bank.fields import BROKEN, Problems, Read
from bank.sources import Node
from bank.templates import _stems
from bank.templates._code import Maker, Recipe, make_check
from bank.templates._declaration import LAYOUTS, OPERAND_COUNTS, TEMPLATE
from bank.templates._parameters import Derived, Parameter, in_order, read_formula, read_parameters
from bank.templates._stems import StemPart
from bank.templates._template import ChoiceWanted, Constraint, NumberWanted, ResponseWanted, Template
from bank.templates._survey import wrong_draws
from bank.topics import Topic

if TYPE_CHECKING:
    from bank.model import Unit


def read_template(node: Node, topics: Mapping[str, Topic], problems: Problems) -> Template:
    """Return the template that *node* describes, or `BROKEN` with its problems added."""
    before = len(problems)
    read = TEMPLATE.read(node, "", problems)
    if read is BROKEN:
        return BROKEN
    codes = _codes(read, topics, problems)
    _check_operation(read, problems)
    _check_mistakes(read, problems)
    unit = _unit(read)
    found = read["parameters"]
    parameters = BROKEN if found is BROKEN else read_parameters(found, read.at("parameters"), problems)
    constraints = _constraints(read, problems)
    operands = _formulas(read, "operands", problems)
    key = BROKEN if read["key"] is BROKEN else read_formula(read["key"], "key", problems)
    stem = _stem(read, problems)
    if parameters is BROKEN:
        return BROKEN
    derived, loop = in_order([parameter for parameter in parameters if isinstance(parameter, Derived)])
    if loop:
        name = loop[0]
        wrong = f"these parameters are derived from one another: {' -> '.join((*loop, name))}"
        formula = found[name]["derive"]
        formula.report(problems, "derived-loop", f"parameters.{name}.derive", wrong, "draw one of them")
        return BROKEN
    if not _derived_make_sense(parameters, derived, found, problems):
        return BROKEN
    _check_formulas(read, parameters, derived, constraints, operands, key, problems)
    if len(problems) > before or BROKEN in (constraints, operands, key, stem):
        return BROKEN
    rounding = read["rounding"]["places"] if read["rounding"] else None
    layout = read["layout"] or LAYOUTS.get(read["operation"], ("",))[0]
    recipe = Recipe(
        parameters, derived, tuple(constraint.part for constraint in constraints), read["operation"], operands, key,
        rounding, read["places"], _stems.shown(stem),
    )
    _check_whole(read, recipe, stem, unit, problems)
    if len(problems) > before:
        return BROKEN
    marked = {name: one["radical"] for name, one in found.items()}
    feedback = read["feedback"]
    template = Template(
        identifier=read["template"], version=read["version"], title=read["title"], topic=read["topic"], codes=codes,
        parameters=parameters, derived=derived,
        radicals=tuple(name for name, radical in marked.items() if radical is True),
        incidentals=tuple(name for name, radical in marked.items() if radical is False),
        constraints=constraints, operation=read["operation"], layout=layout, operand_parts=operands, key_part=key,
        rounding=rounding, places=read["places"], unit=unit, stem_parts=stem, response=_response(read),
        mistakes=tuple(read["mistakes"] or ()), hint=_stems.plain_lines(feedback["wrong"]) if feedback else (),
        praise=_stems.plain_lines(feedback["right"]) if feedback else (), show_solution=read["show_solution"],
        context=read["context"], draws=read["draws"], source=node.source.name, content=content(node),
    )
    wrong_draws(template, node, problems)
    return BROKEN if len(problems) > before else template


def _codes(read: Read, topics: Mapping[str, Topic], problems: Problems) -> tuple[str, ...]:
    name, codes = read["topic"], read["codes"]
    if name is BROKEN or codes is BROKEN:
        return ()
    topic = topics.get(name)
    if topic is None:
        read.at("topic").report_unknown(problems, "topic", "topic", name, topics)
        return ()
    if codes is None:
        return topic.codes
    for number, code in enumerate(codes):
        if code not in topic.codes:
            remedy = did_you_mean(code, topic.codes) if topic.codes else f"add it to the topic {name!r}"
            wrong = f"the topic {name!r} has no code {code!r}"
            read.at("codes").items[number].report(problems, "unknown-code", "codes", wrong, remedy)
    return tuple(codes)


def _check_operation(read: Read, problems: Problems) -> None:
    operation = read["operation"]
    if not operation:
        return
    fewest, most = OPERAND_COUNTS[operation]
    operands = read["operands"]
    if operands and not fewest <= len(operands) <= most:
        wanted = str(fewest) if fewest == most else f"{fewest} to {most}"
        wrong = f"{operation} takes {wanted} operands, {len(operands)} stand here"
        read.at("operands").report(problems, "wrong-operands", "operands", wrong, "add or delete some")
    layouts = LAYOUTS.get(operation, ())
    if read["layout"] and read["layout"] not in layouts:
        wrong = f"{operation} has no layout {read['layout']!r}"
        remedy = f"write {' or '.join(layouts)}" if layouts else "delete this line"
        read.at("layout").report(problems, "wrong-layout", "layout", wrong, remedy)
    _check_distractors(read, problems)
    rounding = read["rounding"]
    if rounding is BROKEN:
        return
    if rounding is None and operation == "round":
        read.node.report(
            problems, "missing-key", "rounding", "rounding has to say to which place",
            "write rounding: {places: 1, asked: ...}",
        )
    if rounding and operation == "divide" and rounding["places"] is not BROKEN and rounding["places"] < 0:
        rounding.at("places").report(
            problems, "wrong-rounding", "rounding.places", "a quotient is rounded to places behind the point",
            "write 0 or more",
        )
    if rounding and read["places"] is not None and read["places"] < (rounding["places"] or 0):
        wrong = f"the key is rounded to {rounding['places']} places, written with {read['places']}"
        read.at("places").report(problems, "places-differ", "places", wrong, "write the same number")
    if rounding is not None and operation not in ("round", "divide"):
        read.at("rounding").report(
            problems, "wrong-rounding", "rounding", f"the key of {operation} is exact", "delete it"
        )
    if rounding and rounding["asked"] and read["stem"]:
        stem = " ".join(read["stem"].split())
        if " ".join(rounding["asked"].split()).lower() not in stem.lower():
            wrong = f"the stem does not hold the words {rounding['asked']!r}"
            rounding.at("asked").report(
                problems, "rounding-not-asked", "rounding.asked", wrong, "ask for the rounding in the stem"
            )


def _check_distractors(read: Read, problems: Problems) -> None:
    response = read["response"]
    if read["operation"] != "compare" or not isinstance(response, Read) or "choice" not in response.values:
        return
    choice = response["choice"]
    if choice and choice["distractors"]:
        wrong = "the numbers to compare are the options, their number is settled"
        choice.at("distractors").report(
            problems, "wrong-distractors", "response.choice.distractors", wrong, "write response: choice"
        )


def _check_mistakes(read: Read, problems: Problems) -> None:
    wanted = read["mistakes"]
    if not wanted:
        return
    from bank import mistakes  # every mistake is imported; templates that name none need none of them

    known = mistakes.load()
    operation = read["operation"]
    seen = set()
    for number, name in enumerate(wanted):
        node = read.at("mistakes").items[number]
        field = f"mistakes[{number + 1}]"
        if name not in known:
            node.report_unknown(problems, field, "mistake", name, known)
        elif operation and known[name].operation != operation:
            same = [one.identifier for one in mistakes.of_operation(operation)]
            wrong = f"{name!r} is a mistake of {known[name].operation}, the operation is {operation}"
            node.report(problems, "wrong-mistake", field, wrong, did_you_mean(name, same))
        if name in seen:
            node.report(problems, "twice", field, f"{name!r} stands here twice", "keep one")
        seen.add(name)


def _unit(read: Read) -> Unit | None:
    unit = read["unit"]
    if not unit:
        return None
    from bank.model import Unit

    if isinstance(unit, str):
        return Unit(text=unit)
    return Unit(text=unit["text"], before=unit["before"], spoken=unit["spoken"])


def _response(read: Read) -> ResponseWanted:
    response = read["response"]
    if response == "choice":
        return ChoiceWanted()
    if response == "number":
        return NumberWanted()
    if "choice" in response.values:
        return ChoiceWanted(response["choice"]["distractors"])
    return NumberWanted(response["number"]["policy"])


def _formulas(read: Read, name: str, problems: Problems) -> tuple[Part, ...]:
    if read[name] is BROKEN:
        return BROKEN
    parts = [read_formula(node, f"{name}[{number}]", problems) for number, node in enumerate(read[name], 1)]
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


def _derived_make_sense(
    parameters: tuple[Parameter, ...], derived: tuple[Derived, ...], found: dict[str, Read], problems: Problems
) -> bool:
    """Return whether every derived parameter can be calculated; adds to *problems* where not."""
    maker = Maker(parameters, derived)
    for parameter in derived:
        node = found[parameter.name]["derive"]
        field = f"parameters.{parameter.name}.derive"
        unknown = [name for name in expressions.names(parameter.part) if name not in maker.parameters]
        try:
            if unknown:
                at = expressions.names(parameter.part)[unknown[0]]
                remedy = did_you_mean(unknown[0], maker.parameters)
                raise ExpressionError("unknown-name", f"there is no parameter {unknown[0]!r}", remedy, at)
            maker.require([parameter.name])
        except ExpressionError as fault:
            node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)
            return False
    return True


def _check_formulas(
    read: Read, parameters: tuple[Parameter, ...], derived: tuple[Derived, ...], constraints: tuple[Constraint, ...],
    operands: tuple[Part, ...], key: Part, problems: Problems,
) -> None:
    """Check kinds and names of every formula, each on its own, with all parameters known."""
    maker = Maker(parameters, derived)
    maker.require(maker.parameters)
    if constraints is not BROKEN:
        nodes = list(_constraint_nodes(read))
        for constraint, (field, node, _) in zip(constraints, nodes, strict=True):
            try:
                if maker.truth(constraint.part).known is False:
                    wrong = "this holds for no draw, whatever the values"
                    node.report(problems, "never-holds", field, wrong, "change it or the ranges")
            except ExpressionError as fault:
                node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)
    formulas = [("key", read["key"], key)] if key is not BROKEN else []
    if operands is not BROKEN:
        pairs = zip(read["operands"], operands, strict=True)
        formulas += [(f"operands[{number}]", node, part) for number, (node, part) in enumerate(pairs, 1)]
    for field, node, part in formulas:
        try:
            maker.number(part)
        except ExpressionError as fault:
            node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)


def _check_whole(
    read: Read, recipe: Recipe, stem: tuple[StemPart, ...], unit: Unit | None, problems: Problems
) -> None:
    """Check what can only be seen when all parts are there."""
    node = read.at("stem")
    wrong = _stems.wrong_parts(stem, recipe, unit)
    problems += [node.problem(fault.code, "stem", fault.wrong, fault.remedy, fault.at) for fault in wrong]
    if wrong:
        return
    shown = set(_stems.shown(stem))
    used = shown | {name for part in (*recipe.operands, recipe.key) for name in expressions.names(part)}
    used |= {name for part in (*recipe.constraints, *_stems.conditions(stem)) for name in expressions.names(part)}
    used |= {name for parameter in recipe.derived for name in expressions.names(parameter.part)}
    keys = {key.text: key for key, _ in read.at("parameters").entries}
    for name, key in keys.items():
        if name not in used:
            key.report(problems, "unused-parameter", f"parameters.{name}", "nothing uses this parameter", "delete it")
    if recipe.operation != "compare" and not shown & set(_stems.WHOLE_NAMES):
        for number, part in enumerate(recipe.operands):
            if isinstance(part, expressions.Name) and part.name not in shown:
                wrong_words = f"the stem never shows {part.name!r}, which the method works on"
                node.report(
                    problems, "operand-not-shown", "stem", wrong_words,
                    f"write {{{{ {part.name} }}}} or {{{{ work }}}}",
                )
    try:
        make_check(recipe)
    except ExpressionError as fault:
        read.at("key").report(problems, fault.code, "key", fault.wrong, fault.remedy)


def content(node: Node) -> str:
    """Return all keys and values of *node* but the note as one text that the file's layout does not change."""
    entries = [entry for entry in node.entries if entry[0].text != "note"]
    return repr([(key.text, _plain(value)) for key, value in sorted(entries, key=lambda entry: entry[0].text)])


def _plain(node: Node) -> Any:
    if node.kind == "scalar":
        return node.text
    if node.kind == "list":
        return [_plain(item) for item in node.items]
    return [(key.text, _plain(value)) for key, value in node.entries]
