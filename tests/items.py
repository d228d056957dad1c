"""A builder of valid items, from a compact description with everything that is not said filled in.

`item()` is a choice item on a sum; any part can be said otherwise. Texts are written compactly: in square
brackets a calculation ("Work out [3.4 + 2.56]."), behind # a number ("A rope is #3.5 m long.").
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import Any

from bank import difficulty, methods, mistakes
from bank.model import (
    SIGNS, Choice, Expression, Family, Item, Leaf, Line, Locale, Option, Quiz, Section, TypedNumber, Unit,
)
from bank.numerals import Numeral

POINT = Locale(identifier="en-point", language="en")
COMMA = Locale(identifier="en-comma", language="en", decimal_mark=",", list_separator=";")
LOCALES = {locale.identifier: locale for locale in (POINT, COMMA)}

_NUMBERS = {
    "add": ("4.75", "12.6"), "subtract": ("40.3", "7.58"), "multiply": ("3.4", "2.7"), "divide": ("8.4", "0.6"),
    "compare": ("0.6", "0.72", "0.305"), "round": ("3.146",),
}
_SIGNS = {"add": "+", "subtract": "-", "multiply": "*", "divide": "/"}
_LEAF = re.compile(r"\[([^\]]*)\]|#([0-9]+(?:\.[0-9]+)?)")


def numeral(text: str) -> Numeral:
    """Return the numeral that *text* writes with a point."""
    return Numeral.parse(str(text))


def line(text: str) -> Line:
    """Return the line that *text* writes compactly."""
    leaves: list[Leaf] = []
    at = 0
    for found in _LEAF.finditer(text):
        if found.start() > at:
            leaves.append(text[at: found.start()])
        if found[2]:
            leaves.append(numeral(found[2]))
        else:
            leaves.append(Expression(tuple(part if part in SIGNS else numeral(part) for part in found[1].split())))
        at = found.end()
    if at < len(text):
        leaves.append(text[at:])
    return tuple(leaves)


def lines(texts: Sequence[str]) -> tuple[Line, ...]:
    """Return the lines that *texts* write compactly."""
    return tuple(line(text) for text in texts)


@lru_cache(maxsize=1)
def weights() -> difficulty.Weights:
    """Return the weights that come with the tool."""
    return difficulty.load_weights()


def family(operation: str = "add", **parts: Any) -> Family:
    """Return a family of *operation*; *parts* are fields of the model, units as text or mapping, texts compact."""
    unit = parts.get("unit")
    if isinstance(unit, str):
        parts["unit"] = Unit(text=unit)
    elif isinstance(unit, Mapping):
        parts["unit"] = Unit(**unit)
    for name in ("hint", "praise"):
        if name in parts:
            parts[name] = lines(parts[name])
    plain: dict[str, Any] = {
        "template": f"{operation}-decimals", "version": 1, "title": "Decimals", "topic": "decimals",
        "codes": ("US-CCSSM 5.NBT.B.7",), "operation": operation,
        "rounding": 2 if operation == "round" else None,
    }
    return Family(**{**plain, **parts})


def default_stem(kind: Family, operands: Sequence[Numeral]) -> tuple[Line, ...]:
    """Return a bare stem for *operands*."""
    if kind.operation == "round":
        return (("Round ", operands[0], " to the nearest hundredth."),)
    if kind.operation == "compare":
        listed: list[Leaf] = []
        for operand in operands:
            listed += [operand, ", "]
        return (("Which number is the ", kind.layout or "largest", ": ", *listed[:-1], "?"),)
    parts: list[Numeral | str] = []
    for operand in operands:
        parts += [operand, _SIGNS[kind.operation]]
    return (("Work out ", Expression(tuple(parts[:-1])), "."),)


def wrong_answers(kind: Family, operands: Sequence[Numeral], key: Numeral) -> list[tuple[Numeral, tuple[str, ...]]]:
    """Return the wrong answers that mistakes give, by value, each with all mistakes that lead there."""
    found: dict[Numeral, list[str]] = {}
    extra = mistakes.options_for(kind.operation, kind.layout, kind.rounding)
    for record, answer in mistakes.outcomes(mistakes.of_operation(kind.operation), operands, key, **extra):
        shown = answer if kind.rounding is not None or kind.operation == "compare" else answer.normal()
        if kind.places is not None and shown.places <= kind.places:
            shown = shown.with_places(kind.places)
        found.setdefault(shown, []).append(record.identifier)
    return [(answer, tuple(names)) for answer, names in sorted(found.items())]


def options(
    kind: Family, operands: Sequence[Numeral], key: Numeral, wanted: Sequence[Mapping[str, Any] | str] | None
) -> tuple[Option, ...]:
    """Return options: those *wanted* (a number, or number, key, mistakes and identifier), or three real mistakes.

    A wanted number without mistakes gets those that really lead to it; the key's value is marked as key.
    """
    wrong = wrong_answers(kind, operands, key)
    names = dict(wrong)
    if wanted is None:
        shown = list(operands) if kind.operation == "compare" else sorted(
            [key, *[answer for answer, _ in wrong if answer.coefficient >= 0][:3]])
        wanted = [one.text() for one in shown]
    made = []
    for letter, entry in zip("ABCDEFGH", wanted, strict=False):
        said = dict(entry) if isinstance(entry, Mapping) else {"number": entry}
        number = numeral(said["number"])
        is_key = said.get("key", number == key)
        default = () if is_key else names.get(number, ())
        made.append(Option(identifier=said.get("identifier", letter), numeral=number, is_key=is_key,
                           mistakes=tuple(said.get("mistakes", default))))
    return tuple(made)


def item(
    operation: str = "add", *, operands: Sequence[str] | None = None, key: str | None = None,
    stem: Sequence[str] | None = None, offered: Sequence[Mapping[str, Any] | str] | None = None,
    order: str | None = None, typed: bool = False, policy: str = "value",
    typed_mistakes: Sequence[tuple[str, Sequence[str]]] | None = None, identifier: str = "item-1",
    parameters: Mapping[str, str] | None = None, of: Mapping[str, Any] | Family | None = None, **fields: Any,
) -> Item:
    """Return a valid item on *operation*, apart from what is said otherwise.

    *of* is the family or its fields; *offered* are options as in `options`; *fields* replace fields of the made
    item as they are.
    """
    kind = of if isinstance(of, Family) else family(operation, **dict(of or {}))
    numbers = tuple(numeral(one) for one in operands or _NUMBERS[operation])
    trace = methods.run(operation, numbers, layout=kind.layout, places=kind.rounding)
    right = trace.result if kind.operation == "compare" else trace.result.normal()
    if kind.places is not None:
        right = right.with_places(kind.places)
    if key is not None:
        right = numeral(key)
    if typed:
        known = wrong_answers(kind, numbers, right) if typed_mistakes is None else [
            (numeral(answer), tuple(names)) for answer, names in typed_mistakes]
        response: Choice | TypedNumber = TypedNumber(policy=policy, mistakes=tuple(known))
    else:
        plain = "as-in-stem" if operation == "compare" else "ascending"
        response = Choice(options=options(kind, numbers, right, offered), order=order or plain)
    features = difficulty.features(numbers, trace, context=kind.context, response="number" if typed else "choice")
    made = Item(
        identifier=identifier, family=kind, parameters=tuple((parameters or {}).items()),
        stem=default_stem(kind, numbers) if stem is None else lines(stem), operands=numbers, key=right,
        response=response, solution=methods.closed(trace, right, response, kind.unit), features=features,
        prediction=difficulty.predict(features, weights()),
    )
    return replace(made, **fields)


def quiz(items: Sequence[str] | Sequence[Sequence[str]], **fields: Any) -> Quiz:
    """Return a quiz of one section, or of one for each list of ids."""
    nested = [items] if not items or isinstance(items[0], str) else items
    sections = tuple(Section(title=f"Part {number}", items=tuple(ids)) for number, ids in enumerate(nested, 1))
    return Quiz(**{"identifier": "quiz-1", "title": "Week 1", "week": 1, "sections": sections, **fields})
