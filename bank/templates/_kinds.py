"""Further kinds of response: read from a file's nodes, checked, and compiled to functions of a draw."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import TYPE_CHECKING, Any

from bank import expressions
from bank.errors import did_you_mean
from bank.expressions import Calculation, Call, ExpressionError, Literal, Name, Part
from bank.fields import BROKEN, Problems, Read
from bank.numerals import Numeral
from bank.sources import Node
from bank.templates import _stems
from bank.templates._code import Maker, Recipe, Values
from bank.templates._kind_fields import kind_and_settings
from bank.templates._find import check_find, read_find
from bank.templates._parameters import Worded, read_formula
from bank.templates._wanted import (
    LineWanted, Offered, OrderWanted, PairsWanted, ResponseWanted, SeveralWanted, Shown, offers_of,
)

if TYPE_CHECKING:
    from bank.templates._template import Template

FEWEST = 2
"""Right, and wrong, things that are offered at least where several are chosen."""
OF_EVALUATION = ("choose-several", "match-pairs", "choose-in-line")
"""Kinds that ask for the values of expressions."""


def read_kind(read: Read, problems: Problems) -> ResponseWanted | None:
    """Return how an item of a further kind is answered, None for the first two kinds, `BROKEN` with problems added."""
    kind, settings = kind_and_settings(read)
    if not kind:
        return None
    if settings is not None and (settings is BROKEN or any(value is BROKEN for value in settings.values.values())):
        return BROKEN
    if kind == "put-in-order":
        return OrderWanted() if settings is None else OrderWanted(settings["direction"], settings["credit"])
    if kind == "find-mistake":
        return read_find(settings)
    field = f"response.{kind}"
    if kind == "choose-in-line":
        sides = [settings[name] for name in ("left", "right")] if settings is not None else [None, None]
        if sides == [None, None]:
            return LineWanted()
        return _line(settings, field, problems)
    assert settings is not None
    if kind == "choose-several":
        right, wrong = [_offers(settings[name], f"{field}.{name}", problems) for name in ("right", "wrong")]
        return BROKEN if BROKEN in (right, wrong) else SeveralWanted(right, wrong, _most(settings), settings["credit"])
    sources = _offers(settings["sources"], f"{field}.sources", problems)
    if sources is BROKEN:
        return BROKEN
    return PairsWanted(sources, settings["pairs"], settings["left_over"], settings["credit"])


def _most(settings: Read) -> int:
    """Return how many options are offered."""
    most: int = settings["options"] or (6 if settings["credit"] == "each" else 5)
    return most


def _line(settings: Any, field: str, problems: Problems) -> LineWanted:
    sides = []
    for name in ("left", "right"):
        if settings[name] is None:
            remedy = "write both, or neither where the two operands stand there"
            settings.node.report(problems, "missing-key", f"{field}.{name}", "this key is missing", remedy)
            return BROKEN
        part = read_formula(settings[name], f"{field}.{name}", problems)
        sides.append(BROKEN if part is BROKEN else _flat(settings[name], f"{field}.{name}", part, problems))
    return BROKEN if BROKEN in sides else LineWanted(tuple(sides))


def _offers(found: Sequence[Node | Read], field: str, problems: Problems) -> tuple[Offered, ...]:
    made = [_offered(one, f"{field}[{number}]", problems) for number, one in enumerate(found, 1)]
    return BROKEN if any(one is BROKEN for one in made) else tuple(made)


def _offered(found: Any, field: str, problems: Problems) -> Offered:
    if isinstance(found, Node):
        return _expression(found, field, "", problems)
    if any(value is BROKEN for value in found.values.values()):
        return BROKEN
    if "shows" in found.values:
        return _expression(found["shows"], f"{field}.shows", found["mistake"], problems)
    if "of" in found.values:
        parts = tuple(read_formula(node, f"{field}.of", problems) for node in found["of"])
        return BROKEN if BROKEN in parts else Offered(mistake=found["mistake"], of=parts)
    worth = read_formula(found["worth"], f"{field}.worth", problems)
    node = found.at("words")
    try:
        words = _stems.read_stem(node.text)
    except ExpressionError as fault:
        node.report(problems, fault.code, f"{field}.words", fault.wrong, fault.remedy, fault.at)
        return BROKEN
    if any(not isinstance(part, (_stems.Said, _stems.Shown)) for part in words):
        node.report(problems, "branch-in-words", f"{field}.words", "an offer has no conditions", "write two offers")
        return BROKEN
    return BROKEN if worth is BROKEN else Offered(words=words, worth=worth)


def _expression(node: Node, field: str, mistake: str, problems: Problems) -> Offered:
    part = read_formula(node, field, problems)
    text = BROKEN if part is BROKEN else _flat(node, field, part, problems)
    return BROKEN if text is BROKEN else Offered(text=text, worth=part, mistake=mistake)


def _flat(node: Node, field: str, part: Part, problems: Problems) -> Shown:
    try:
        return tuple(_tokens(part, "+-"))
    except ExpressionError as fault:
        node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)
        return BROKEN


def _tokens(part: Part, loosest: str) -> Iterator[Part | str]:
    """Yield what is shown of *part*; brackets would be needed where a sign binds looser than *loosest* allows."""
    if isinstance(part, (Name, Literal)):
        yield part
        return
    if isinstance(part, Calculation) and part.sign in ("+", "-", "*", "/"):
        binds = part.sign in ("*", "/")
        if binds or loosest == "+-":
            yield from _tokens(part.left, "*/" if binds else "+-")
            yield part.sign
            if isinstance(part.right, Calculation) and (binds or part.right.sign not in ("*", "/")):
                raise _not_plain(part.right.at)
            yield from _tokens(part.right, "*/")
            return
    raise _not_plain(part.at)


def _not_plain(at: int) -> ExpressionError:
    return ExpressionError(
        "offer-not-plain", "what is shown has names and numbers with + - * / between, no brackets and no words",
        "derive a parameter for what is calculated first, and write its name", at,
    )


def check_kind(read: Read, problems: Problems) -> None:
    """Add to *problems* what does not fit between operation, operands, layout and a further kind of response."""
    kind, settings = kind_and_settings(read)
    operation, operands = read["operation"], read["operands"]
    node = read.at("response")
    if operation == "evaluate" and read["response"] is not BROKEN and kind not in OF_EVALUATION:
        wrong = "the values of expressions are asked for by choosing several, matching pairs or choosing in the line"
        node.report(problems, "wrong-response", "response", wrong, f"write one of {', '.join(OF_EVALUATION)}")
    if not kind or not operation or settings is BROKEN:
        return
    if kind == "find-mistake":
        check_find(read, settings, problems)
        return
    sides = settings is not None and any(settings.values.get(name) is not None for name in ("left", "right"))
    fitting = "compare" if kind == "put-in-order" else "evaluate"
    if kind == "choose-in-line" and not sides:
        fitting = "compare"
    if operation != fitting:
        wrong = f"{kind} goes with the operation {fitting}, not with {operation}"
        remedy = f"write operation: {fitting}"
        if kind == "choose-in-line":
            remedy = "write operation: compare with two operands, or operation: evaluate with left and right"
        node.report(problems, "wrong-response", "response", wrong, remedy)
    elif kind == "put-in-order" and operands and len(operands) < 3:
        node.report(problems, "wrong-operands", "operands", "two numbers have one wrong order", "write three to five")
    elif kind == "choose-in-line" and operation == "compare" and operands and len(operands) != 2:
        wrong = f"one sign stands between two operands, {len(operands)} stand here"
        read.at("operands").report(problems, "wrong-operands", "operands", wrong, "write two")
    if read["layout"] and operation == "compare":
        wrong = "the response says what is asked"
        read.at("layout").report(problems, "wrong-layout", "layout", wrong, "delete this line")
    if read["places"] is not None and read["places"] is not BROKEN:
        wrong = "what is offered is written as it is drawn, or as short as it can be"
        read.at("places").report(problems, "wrong-places", "places", wrong, "delete this line")
    if settings is not None and kind in ("choose-several", "match-pairs"):
        _check_mistakes(settings, kind, problems)
        _check_counts(settings, kind, problems)


def _check_counts(settings: Read, kind: str, problems: Problems) -> None:
    if kind == "match-pairs":
        wanted, has = settings["pairs"], settings["sources"]
        if wanted and has and len(has) < wanted:
            wrong = f"{wanted} pairs are wanted, {len(has)} sources stand here"
            settings.at("sources").report(problems, "too-few", f"response.{kind}.sources", wrong, "write more sources")
        return
    if any([settings.values[name] is BROKEN for name in ("options", "credit", "right", "wrong")]):
        return
    wanted, offered = _most(settings), len(settings["right"]) + len(settings["wrong"])
    if offered < wanted:
        wrong = f"{wanted} are to be offered, {offered} stand here"
        remedy = f"write more, or options: {offered}"
        settings.at("options").report(problems, "too-few", f"response.{kind}.options", wrong, remedy)
        return
    right, others, each = len(settings["right"]), len(settings["wrong"]), settings["credit"] == "each"
    most = wanted // 2 if each else wanted - FEWEST
    if not any(count <= right and wanted - count <= others for count in range(FEWEST, most + 1)):
        wrong = f"of {wanted} at most {most} may be right, so {wanted - min(most, right)} wrong ones are needed, not {others}"
        settings.at("wrong").report(problems, "too-few", f"response.{kind}.wrong", wrong, "write more of them")


def _check_mistakes(settings: Read, kind: str, problems: Problems) -> None:
    from bank import mistakes  # every mistake is imported; most templates need none of them here

    for name in ("right", "wrong", "sources"):
        for number, found in enumerate(settings.values.get(name) or (), 1):
            named = found.values.get("mistake") if isinstance(found, Read) else ""
            if not named:
                continue
            field = f"response.{kind}.{name}[{number}].mistake"
            known = mistakes.load()
            if named not in known:
                found.at("mistake").report_unknown(problems, field, "mistake", named, known)
            elif name != "wrong":
                wrong = "a mistake leads to what is wrong, this is right"
                found.at("mistake").report(problems, "mistake-of-right", field, wrong, "delete it")


def layout_of(wanted: ResponseWanted) -> str:
    """Return the layout of the method that goes with a further kind, empty for the first two."""
    if isinstance(wanted, OrderWanted):
        return wanted.direction
    return {SeveralWanted: "several", PairsWanted: "pairs", LineWanted: "relation"}.get(type(wanted), "")


def default_key(wanted: ResponseWanted, operands: Sequence[Part]) -> Any:
    """Return the key's expression of a kind that needs none written: what its right answer begins with."""
    if isinstance(wanted, OrderWanted):
        return Call("min" if wanted.direction == "ascending" else "max", tuple(operands), 0)
    if isinstance(wanted, PairsWanted):
        return wanted.sources[0].worth
    if isinstance(wanted, LineWanted):
        sides = tuple(map(_joined, wanted.sides)) if wanted.sides else tuple(operands)
        return Call("max", sides, 0)
    return None


def _joined(shown: Shown) -> Part:
    """Return what is shown as one expression: * and / before + and -, from the left."""
    parts = list(shown)
    for signs in (("*", "/"), ("+", "-")):
        at = 1
        while at < len(parts):
            if parts[at] in signs:
                parts[at - 1 : at + 2] = [Calculation(parts[at], parts[at - 1], parts[at + 1], 0)]  # type: ignore[arg-type]
            else:
                at += 2
    return parts[0]  # type: ignore[return-value]


def check_offers(read: Read, wanted: ResponseWanted, maker: Maker, problems: Problems) -> None:
    """Check names and kinds in what is offered, each on its own; *maker* knows the parameters."""
    kind, settings = kind_and_settings(read)
    if settings is None:
        return
    if isinstance(wanted, LineWanted):
        for name, side in zip(("left", "right"), wanted.sides, strict=False):
            _check_part(settings[name], f"response.{kind}.{name}", _joined(side), maker, problems)
        return
    offers = iter(offers_of(wanted))
    for name in ("right", "wrong", "sources"):
        for number, found in enumerate(settings.values.get(name) or (), 1):
            offered = next(offers)
            field = f"response.{kind}.{name}[{number}]"
            if isinstance(found, Node):
                _check_part(found, field, offered.worth, maker, problems)
                continue
            for inner in ("shows", "worth"):
                if inner in found.values:
                    _check_part(found[inner], f"{field}.{inner}", offered.worth, maker, problems)
            for node, part in zip(found.values.get("of") or (), offered.of, strict=False):
                _check_part(node, f"{field}.of", part, maker, problems)
            for fault in _stems.wrong_parts(offered.words, maker, has_unit=False, has_work=False):
                found.at("words").report(problems, fault.code, f"{field}.words", fault.wrong, fault.remedy, fault.at)


def _check_part(node: Node, field: str, part: Part | None, maker: Maker, problems: Problems) -> None:
    if part is None:
        return
    try:
        for name, at in expressions.names(part).items():
            if name not in maker.parameters:
                remedy = did_you_mean(name, maker.parameters)
                raise ExpressionError("unknown-name", f"there is no parameter {name!r}", remedy, at)
            if isinstance(maker.parameters[name], Worded):
                raise ExpressionError("not-a-number", f"{name!r} is drawn from words", "name a number", at)
        maker.number(part)
    except ExpressionError as fault:
        node.report(problems, fault.code, field, fault.wrong, fault.remedy, fault.at)


Offering = Callable[[Values], tuple[Any, Numeral]]
"""Gives the text of an offer, a `bank.model.Line`, and what it is worth."""


def make_offering(recipe: Recipe, offered: Offered) -> Offering:
    """Return the function that gives the text of an offer and what it is worth, for a draw.

    It raises ArithmeticError where the draw gives it no value that ends as a decimal.
    """
    assert offered.worth is not None
    maker = Maker(recipe.parameters, recipe.derived)
    maker.require(expressions.names(offered.worth))
    worth = maker.hold(maker.shortest(maker.number(offered.worth)))
    if offered.words:
        maker.say(f"return {worth}")
        value_of = maker.function("worth", "values")
        line_of = _stems.make_lines(list(offered.words), recipe)  # type: ignore[arg-type]
        return lambda values: (line_of(values)[0], value_of(values))
    maker.say(f"return ({shown_code(maker, offered.text)},), {worth}")
    return maker.function("offering", "values")


def shown_code(maker: Maker, shown: Shown) -> str:
    """Return code of the numeral or the expression that *shown* is."""
    codes = shown_codes(maker, shown)
    if len(codes) == 1:
        return codes[0]
    from bank.model import Expression  # dear to import, and checking makes no stems

    maker.constants["Expression"] = Expression
    return f"Expression(({', '.join(codes)},))"


def shown_codes(maker: Maker, shown: Shown) -> list[str]:
    """Return code of each number and sign of *shown*, numbers as they are written."""
    return [repr(part) if isinstance(part, str) else maker.as_shown(part) for part in shown]


def make_numerals(recipe: Recipe, parts: Sequence[Part]) -> Callable[[Values], tuple[Numeral, ...]]:
    """Return the function that gives the numerals of *parts* for a draw."""
    maker = Maker(recipe.parameters, recipe.derived)
    codes = shown_codes(maker, tuple(parts))
    maker.say(f"return ({', '.join(codes)},)")
    return maker.function("numerals", "values")


def wrong_offers(template: Template, node: Node, problems: Problems) -> None:
    """Add to *problems* where what is called right is not worth the key, or what is called wrong always is."""
    wanted = template.response
    if not isinstance(wanted, SeveralWanted) or not template.survey.examples:
        return
    response = next(value for key, value in node.entries if key.text == "response")
    settings = response.entries[0][1]
    places = {key.text: value.items for key, value in settings.entries if key.text in ("right", "wrong")}
    for name, offers in (("right", wanted.right), ("wrong", wanted.wrong)):
        for number, offered in enumerate(offers):
            if offered.worth is None:
                continue
            _judge(template, offered, name, number, places[name][number], problems)


def _judge(
    template: Template, offered: Offered, name: str, number: int, node: Node, problems: Problems
) -> None:
    offering = make_offering(template.recipe, offered)
    field = f"response.choose-several.{name}[{number + 1}]"
    equal = worked = 0
    for values in template.survey.examples:
        try:
            _, worth = offering(values)
        except ArithmeticError:
            continue
        if worth.coefficient < 0:
            continue
        worked += 1
        key = template.key(values)
        if worth == key:
            equal += 1
        elif name == "right":
            drawn = ", ".join(f"{one} = {value}" for one, value in template.parameters_as_written(values))
            wrong = f"it is worth {worth}, the key is {key}, for {drawn}"
            node.report(problems, "offer-differs", field, wrong, "mend it, or list it under wrong")
            return
    if not worked:
        wrong = "in none of the draws tried it has a value from zero up that ends as a decimal"
        node.report(problems, "offer-without-value", field, wrong, "change it or the ranges")
    elif name == "wrong" and equal == worked:
        node.report(problems, "offer-is-right", field, "it is worth the key in every draw tried", "list it under right")
