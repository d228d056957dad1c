"""An interpreter of the response processing of QTI 2.1, 2.2 and 3.0, written from the specification.

It tries what the exporters write, and knows more than they use, so that what they write meets rules that it did not
shape: NULL in every operator, the three cardinalities, bounds and case of mappings, fixed templates, look-up tables;
what it does not know it refuses. Names of both spellings are read alike: ``qti-response-if`` is ``responseIf``.
Numbers are exact fractions.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from fractions import Fraction
from functools import lru_cache
from typing import Any, NamedTuple

from lxml import etree


class Container(NamedTuple):
    """A value of cardinality multiple or ordered; an empty one is NULL."""

    ordered: bool
    values: tuple[Any, ...]


Value = Any
"""None for NULL; Fraction, str, bool or a directed pair (tuple of two) for single values; `Container`."""

_FEEDBACK = ("feedbackInline", "feedbackBlock", "modalFeedback")
_NUMBERS = ("float", "integer")


@lru_cache(maxsize=1024)
def plain(name: str) -> str:
    """Return the 2.x spelling of an element's or attribute's *name*, without namespace."""
    name = name.rpartition("}")[2].removeprefix("qti-")
    return re.sub(r"-([a-z])", lambda letter: letter[1].upper(), name)


def attributes(element: etree._Element) -> dict[str, str]:
    """Return the attributes of *element* in 2.x spelling."""
    return {plain(name): value for name, value in element.attrib.items()}


def children(element: etree._Element, *names: str) -> list[etree._Element]:
    """Return the children of *element* with one of *names*, or all."""
    found = [child for child in element if isinstance(child.tag, str)]
    return [child for child in found if not names or plain(child.tag) in names]


def descendants(element: etree._Element, name: str) -> list[etree._Element]:
    """Return all elements called *name* below *element*, in document order."""
    return [found for found in element.iter() if isinstance(found.tag, str) and plain(found.tag) == name]


def text_of(element: etree._Element) -> str:
    """Return the text of *element* with runs of blanks as one."""
    return " ".join("".join(element.itertext()).split())


def typed(text: str, base_type: str) -> Value:
    """Return what *text* means in *base_type*.

    Raises:
        ValueError: it means nothing there.
    """
    if base_type in _NUMBERS:
        return Fraction(text.strip())
    if base_type == "boolean":
        return {"true": True, "1": True, "false": False, "0": False}[text.strip()]
    if base_type in ("pair", "directedPair"):
        first, second = text.split()
        return frozenset((first, second)) if base_type == "pair" else (first, second)
    return text.strip() if base_type == "identifier" else text


class Node:
    """An element of a file in 2.x spelling, read once, so that many answers can be tried on it."""

    __slots__ = ("_kids", "name", "said", "text")

    def __init__(self, element: etree._Element) -> None:
        self.name, self.said, self.text = plain(element.tag), attributes(element), element.text
        self._kids = [Node(child) for child in children(element)]

    def kids(self, *names: str) -> list[Node]:
        """Return the children with one of *names*, or all."""
        return [kid for kid in self._kids if not names or kid.name in names]


class _Exit(Exception):
    """Response processing ends here."""


class Session:
    """One item, its variables, and what a pupil sees after answering."""

    def __init__(self, content: bytes, rules: etree._Element | None = None) -> None:
        """Begin with the item in *content*; *rules* take the place of its own response processing (a template)."""
        self.root = etree.fromstring(content)
        item = Node(self.root)
        self._processing = item.kids("responseProcessing") if rules is None else [Node(rules)]
        self.declared = {
            one.said["identifier"]: one
            for one in item.kids("responseDeclaration", "outcomeDeclaration")
        }
        self.responses = [
            name for name, one in self.declared.items() if one.name == "responseDeclaration"
        ]
        self.values: dict[str, Value] = {}

    def answer(self, response: str | Sequence[str] | Mapping[str, str | Sequence[str] | None] | None
               ) -> dict[str, Value]:
        """Return the outcomes after *response*; the item is not adaptive, so outcomes begin at their defaults.

        *response* is the text of a single value, texts of a container, or these by response identifier.
        """
        given = response if isinstance(response, Mapping) else {self.responses[0]: response}
        unknown = set(given) - set(self.responses)
        if unknown:
            raise ValueError(f"the item asks for no {unknown}")
        self.values = {name: self._response(name, given.get(name)) for name in self.responses}
        for name, declaration in self.declared.items():
            if name not in self.values:
                self.values[name] = self._default(declaration)
        (rules,) = self._processing
        if "template" in rules.said:
            raise ValueError("rules by address; hand the template's rules over")
        try:
            self._carry_out(rules.kids())
        except _Exit:
            pass
        return {name: value for name, value in self.values.items() if name not in self.responses}

    def shown(self) -> list[str]:
        """Return the texts of all feedback that is shown now, in document order."""
        found = []
        for element in self.root.iter():
            if isinstance(element.tag, str) and plain(element.tag) in _FEEDBACK:
                said = attributes(element)
                value = self.values.get(said["outcomeIdentifier"])
                held = value.values if isinstance(value, Container) else (value,)
                if (said["identifier"] in held) == (said["showHide"] == "show"):
                    found.append(text_of(element))
        return found

    def _response(self, name: str, given: str | Sequence[str] | None) -> Value:
        said = self.declared[name].said
        if given is None or len(given) == 0:
            return None
        if said["cardinality"] == "single":
            if not isinstance(given, str):
                raise ValueError(f"{name} takes one value")
            return typed(given, said["baseType"])
        texts = [given] if isinstance(given, str) else given
        return Container(said["cardinality"] == "ordered", tuple(typed(text, said["baseType"]) for text in texts))

    def _default(self, declaration: Node) -> Value:
        found = declaration.kids("defaultValue")
        said = declaration.said
        if not found:
            return Fraction(0) if said.get("baseType") in _NUMBERS and said["cardinality"] == "single" else None
        return self._listed(found[0], said)

    def _listed(self, parent: Node, said: dict[str, str]) -> Value:
        values = tuple(typed(one.text or "", said["baseType"]) for one in parent.kids("value"))
        if said["cardinality"] == "single":
            return values[0]
        return Container(said["cardinality"] == "ordered", values) if values else None

    def _carry_out(self, rules: list[Node]) -> None:
        for rule in rules:
            name = rule.name
            if name == "setOutcomeValue":
                self._set(rule.said["identifier"], self._value(rule.kids()[0]))
            elif name == "lookupOutcomeValue":
                identifier = rule.said["identifier"]
                self._set(identifier, self._looked_up(identifier, self._value(rule.kids()[0])))
            elif name == "responseCondition":
                for branch in rule.kids():
                    parts = branch.kids()
                    if branch.name == "responseElse":
                        self._carry_out(parts)
                        break
                    if self._value(parts[0]) is True:
                        self._carry_out(parts[1:])
                        break
            elif name == "responseProcessingFragment":
                self._carry_out(rule.kids())
            elif name == "exitResponse":
                raise _Exit
            else:
                raise ValueError(f"unknown rule {name}")

    def _set(self, identifier: str, value: Value) -> None:
        declaration = self.declared[identifier]
        if declaration.name != "outcomeDeclaration":
            raise ValueError(f"{identifier} is no outcome")
        said = declaration.said
        single = said["cardinality"] == "single"
        if value is not None and single == isinstance(value, Container):
            raise ValueError(f"{identifier} has cardinality {said['cardinality']}")
        if value is not None and single and (said["baseType"] in _NUMBERS) != isinstance(value, Fraction):
            raise ValueError(f"{identifier} is {said['baseType']}, not {value!r}")
        self.values[identifier] = value

    def _looked_up(self, identifier: str, source: Value) -> Value:
        declaration = self.declared[identifier]
        base = declaration.said["baseType"]
        (table,) = declaration.kids("matchTable", "interpolationTable")
        exact = table.name == "matchTable"
        for entry in table.kids():
            said = entry.said
            if source is None:
                continue
            bound = Fraction(said["sourceValue"])
            inside = source >= bound if said.get("includeBoundary", "true") == "true" else source > bound
            if source == bound if exact else inside:
                return typed(said["targetValue"], base)
        default = table.said.get("defaultValue")
        return None if default is None else typed(default, base)

    def _value(self, element: Node) -> Value:
        name, said = element.name, element.said
        if name == "baseValue":
            return typed(element.text or "", said["baseType"])
        if name == "variable":
            return self.values[said["identifier"]]
        if name == "null":
            return None
        if name == "correct":
            declaration = self.declared[said["identifier"]]
            found = declaration.kids("correctResponse")
            return self._listed(found[0], declaration.said) if found else None
        if name == "default":
            return self._default(self.declared[said["identifier"]])
        if name == "mapResponse":
            return self._mapped(said["identifier"])
        parts = [self._value(part) for part in element.kids()]
        if name in _FOR_NULLS:
            return _FOR_NULLS[name](parts)
        if name not in _OPERATORS:
            raise ValueError(f"unknown operator {name}")
        return None if None in parts else _OPERATORS[name](parts, said)

    def _mapped(self, identifier: str) -> Fraction:
        declaration = self.declared[identifier]
        mapping = declaration.kids("mapping")[0]
        said, base = mapping.said, declaration.said["baseType"]
        default = Fraction(said.get("defaultValue", "0"))
        response = self.values[identifier]
        values = response.values if isinstance(response, Container) else () if response is None else (response,)
        points = Fraction(0)
        for value in dict.fromkeys(values):  # a value that is given twice counts once
            points += next(
                (Fraction(entry["mappedValue"]) for entry in [one.said for one in mapping.kids("mapEntry")]
                 if _maps(entry, value, base)), default
            )
        if not values:
            points = default
        if "lowerBound" in said:
            points = max(points, Fraction(said["lowerBound"]))
        return min(points, Fraction(said["upperBound"])) if "upperBound" in said else points


def _maps(entry: dict[str, str], value: Value, base: str) -> bool:
    if base == "string" and entry.get("caseSensitive", "false") != "true":
        return entry["mapKey"].lower() == value.lower()
    return bool(typed(entry["mapKey"], base) == value)


def _all(parts: list[Value]) -> Value:
    return False if False in parts else None if None in parts else True


def _any(parts: list[Value]) -> Value:
    return True if True in parts else None if None in parts else False


def _joined(parts: list[Value], ordered: bool) -> Value:
    values: list[Value] = []
    for part in parts:
        values += part.values if isinstance(part, Container) else () if part is None else (part,)
    return Container(ordered, tuple(values)) if values else None


_FOR_NULLS = {
    "isNull": lambda parts: parts[0] is None,
    "and": _all,
    "or": _any,
    "multiple": lambda parts: _joined(parts, False),
    "ordered": lambda parts: _joined(parts, True),
    "containerSize": lambda parts: Fraction(len(parts[0].values) if parts[0] is not None else 0),
}
"""Operators that make something of NULL."""


def _same(first: Value, second: Value) -> bool:
    if isinstance(first, Container) and not first.ordered:
        return isinstance(second, Container) and Counter(first.values) == Counter(second.values)
    return bool(first == second)


def _string_match(parts: list[Value], said: dict[str, str]) -> bool:
    first, second = parts
    if said["caseSensitive"] != "true":
        first, second = first.lower(), second.lower()
    return second in first if said.get("substring", "false") == "true" else first == second


def _contains(parts: list[Value], said: dict[str, str]) -> bool:
    whole, part = parts
    if whole.ordered:
        size = len(part.values)
        return any(whole.values[at : at + size] == part.values for at in range(len(whole.values) - size + 1))
    return not Counter(part.values) - Counter(whole.values)


def _index(parts: list[Value], said: dict[str, str]) -> Value:
    place = int(said["n"])
    return parts[0].values[place - 1] if 1 <= place <= len(parts[0].values) else None


def _equal(parts: list[Value], said: dict[str, str]) -> bool:
    mode = said.get("toleranceMode", "exact")
    if mode == "exact":
        return bool(parts[0] == parts[1])
    low, high = (Fraction(one) for one in (said["tolerance"].split() * 2)[:2])
    if mode == "relative":
        low, high = parts[0] * low / 100, parts[0] * high / 100
    return bool(parts[0] - low <= parts[1] <= parts[0] + high)


def _divided(parts: list[Value], said: dict[str, str]) -> Value:
    return parts[0] / parts[1] if parts[1] else None


def _numbers(parts: list[Value]) -> list[Fraction]:
    return [one for part in parts for one in (part.values if isinstance(part, Container) else (part,))]


def _product(parts: list[Value], said: dict[str, str]) -> Fraction:
    result = Fraction(1)
    for factor in _numbers(parts):
        result *= factor
    return result


_OPERATORS = {
    "not": lambda parts, said: not parts[0],
    "match": lambda parts, said: _same(*parts),
    "stringMatch": _string_match,
    "substring": lambda parts, said: (
        parts[0] in parts[1] if said["caseSensitive"] == "true" else parts[0].lower() in parts[1].lower()
    ),
    "patternMatch": lambda parts, said: re.fullmatch(said["pattern"], parts[0]) is not None,
    "member": lambda parts, said: parts[0] in parts[1].values,
    "delete": lambda parts, said: _joined(
        [Container(parts[1].ordered, tuple(one for one in parts[1].values if one != parts[0]))], parts[1].ordered
    ),
    "contains": _contains,
    "index": _index,
    "equal": _equal,
    "gt": lambda parts, said: parts[0] > parts[1],
    "gte": lambda parts, said: parts[0] >= parts[1],
    "lt": lambda parts, said: parts[0] < parts[1],
    "lte": lambda parts, said: parts[0] <= parts[1],
    "sum": lambda parts, said: sum(_numbers(parts), Fraction(0)),
    "product": _product,
    "subtract": lambda parts, said: parts[0] - parts[1],
    "divide": _divided,
    "integerDivide": lambda parts, said: Fraction(parts[0] // parts[1]) if parts[1] else None,
    "integerModulus": lambda parts, said: parts[0] % parts[1] if parts[1] else None,
    "truncate": lambda parts, said: Fraction(int(parts[0])),
    "round": lambda parts, said: Fraction((2 * parts[0] + 1) // 2),
    "integerToFloat": lambda parts, said: parts[0],
    "min": lambda parts, said: min(_numbers(parts)),
    "max": lambda parts, said: max(_numbers(parts)),
}
"""The others: NULL where a part is NULL. A tolerance, patterns and the rest follow the specification's own words."""
