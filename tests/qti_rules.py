"""A small interpreter of QTI items, written from the specification, to try what the exporters write.

It knows more than they use: null values in every operator, bounds and case of mappings, unknown rules refused. Names
of both spellings are read alike: ``qti-response-if`` is ``responseIf``.
"""

from __future__ import annotations

import re
from fractions import Fraction
from typing import Any

from lxml import etree

Value = Any
"""None for NULL; Fraction, str or bool for single values; list for containers."""


_FEEDBACK = ("feedbackInline", "feedbackBlock", "modalFeedback")


def plain(name: str) -> str:
    """Return the 2.x spelling of an element's or attribute's *name*, without namespace."""
    name = name.rpartition("}")[2].removeprefix("qti-")
    return re.sub(r"-([a-z])", lambda letter: letter[1].upper(), name)


def attributes(element: etree._Element) -> dict[str, str]:
    """Return the attributes of *element* in 2.x spelling."""
    return {plain(name): value for name, value in element.attrib.items()}


def children(element: etree._Element, *names: str) -> list[etree._Element]:
    """Return the children of *element* with one of *names*, or all."""
    return [child for child in element if not names or plain(child.tag) in names]


def descendants(element: etree._Element, name: str) -> list[etree._Element]:
    """Return all elements called *name* below *element*, in document order."""
    return [found for found in element.iter() if isinstance(found.tag, str) and plain(found.tag) == name]


def text_of(element: etree._Element) -> str:
    """Return the text of *element* with runs of blanks as one."""
    return " ".join("".join(element.itertext()).split())


class Session:
    """One item, its variables, and what a pupil sees after answering."""

    def __init__(self, content: bytes) -> None:
        self.root = etree.fromstring(content)
        self.declared = {
            attributes(one)["identifier"]: one
            for one in children(self.root, "responseDeclaration", "outcomeDeclaration")
        }
        self.values: dict[str, Value] = {}

    def answer(self, response: str | None) -> dict[str, Value]:
        """Return the outcomes after *response*; the item is not adaptive, so outcomes begin at their defaults."""
        self.values = {"RESPONSE": response}
        for name, declaration in self.declared.items():
            if plain(declaration.tag) == "outcomeDeclaration":
                self.values[name] = self._default(declaration)
        self._carry_out(children(children(self.root, "responseProcessing")[0]))
        return {name: value for name, value in self.values.items() if name != "RESPONSE"}

    def shown(self) -> list[str]:
        """Return the texts of all feedback that is shown now, in document order."""
        found = []
        for element in self.root.iter():
            if isinstance(element.tag, str) and plain(element.tag) in _FEEDBACK:
                said = attributes(element)
                same = self.values.get(said["outcomeIdentifier"]) == said["identifier"]
                if same == (said["showHide"] == "show"):
                    found.append(text_of(element))
        return found

    def _default(self, declaration: etree._Element) -> Value:
        values = [text_of(one) for one in descendants(declaration, "value")]
        kind = attributes(declaration).get("baseType")
        if not values:
            return Fraction(0) if kind in ("float", "integer") else None
        return Fraction(values[0]) if kind in ("float", "integer") else values[0]

    def _carry_out(self, rules: list[etree._Element]) -> None:
        for rule in rules:
            name = plain(rule.tag)
            if name == "setOutcomeValue":
                self.values[attributes(rule)["identifier"]] = self._value(children(rule)[0])
            elif name == "responseCondition":
                for branch in children(rule):
                    parts = children(branch)
                    if plain(branch.tag) == "responseElse":
                        self._carry_out(parts)
                        break
                    if self._value(parts[0]) is True:
                        self._carry_out(parts[1:])
                        break
            else:
                raise ValueError(f"unknown rule {name}")

    def _value(self, element: etree._Element) -> Value:
        name, said = plain(element.tag), attributes(element)
        if name == "baseValue":
            return Fraction(text_of(element)) if said["baseType"] in ("float", "integer") else element.text
        if name == "variable":
            return self.values[said["identifier"]]
        if name == "correct":
            return text_of(descendants(self.declared[said["identifier"]], "value")[0])
        if name == "mapResponse":
            return self._mapped(said["identifier"])
        return self._operator(name, [self._value(part) for part in children(element)])

    def _mapped(self, identifier: str) -> Fraction:
        mapping = children(self.declared[identifier], "mapping")[0]
        said, response = attributes(mapping), self.values[identifier]
        points = Fraction(said.get("defaultValue", "0"))
        for entry in children(mapping, "mapEntry"):
            one = attributes(entry)
            exact = one["caseSensitive"] == "true"
            if response is not None and (
                one["mapKey"] == response if exact else one["mapKey"].lower() == response.lower()
            ):
                points = Fraction(one["mappedValue"])
                break
        if "lowerBound" in said:
            points = max(points, Fraction(said["lowerBound"]))
        return min(points, Fraction(said["upperBound"])) if "upperBound" in said else points

    def _operator(self, name: str, parts: list[Value]) -> Value:
        if name == "isNull":
            return parts[0] is None
        if name == "multiple":
            return [part for part in parts if part is not None]
        if name == "and":
            return False if False in parts else None if None in parts else True
        if name == "or":
            return True if True in parts else None if None in parts else False
        if None in parts:
            return None
        if name == "not":
            return not parts[0]
        if name == "match":
            return parts[0] == parts[1]
        if name == "member":
            return parts[0] in parts[1]
        if name == "gt":
            return parts[0] > parts[1]
        raise ValueError(f"unknown operator {name}")
