"""The rules of an exported item carried out, to read back how it scores: just the rules that this room writes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from lxml import etree

from exporters._faults import ExportFault
from exporters._qti import Version

Outcomes = dict[str, Any]
"""Values of outcomes as written (multiple ones as tuples), those without value left out."""
Value = str | tuple[str, ...] | None
"""A response: one value, several, or none."""


class Answered(NamedTuple):
    """A response variable while rules are carried out."""

    value: Value
    right: Value
    """The correct response."""
    mapping: Mapping[str, str]
    """Points of answers, whole numbers."""
    bounds: tuple[str, str] = ("", "")
    """Lower and upper bound of the points, empty where there is none."""
    ordered: bool = False


class Rules:
    """The response processing of one version, carried out on responses."""

    def __init__(self, version: Version) -> None:
        self._names = {
            version.tag(name): name
            for name in (
                "responseCondition", "responseIf", "responseElseIf", "responseElse", "setOutcomeValue", "baseValue",
                "variable", "correct", "mapResponse", "isNull", "not", "match", "gt", "member", "multiple", "ordered",
                "index", "sum", "product",
            )  # fmt: skip
        }

    def run(self, processing: etree._Element, response: str | None, right: str, mapping: Mapping[str, str]) -> Outcomes:
        """Return the outcomes after *response* (None: not answered) to an item with one single response.

        *right* is the correct response and *mapping* gives the points of spellings.

        Raises:
            ExportFault: a rule that this room does not write.
        """
        return self.carried_out(processing, {"RESPONSE": Answered(response, right, mapping)}, {"SCORE": "0"})

    def carried_out(
        self, processing: etree._Element, responses: Mapping[str, Answered], defaults: Mapping[str, str]
    ) -> Outcomes:
        """Return the outcomes after *responses*; before the rules they have the values of *defaults*.

        Raises:
            ExportFault: a rule that this room does not write.
        """
        outcomes: Outcomes = dict(defaults)
        names = self._names

        def value(element: etree._Element) -> Any:
            name = names.get(element.tag)
            if name == "baseValue":
                return element.text
            if name == "variable":
                wanted = element.get("identifier") or ""
                return responses[wanted].value if wanted in responses else outcomes.get(wanted)
            if name == "correct":
                return responses[element.get("identifier") or ""].right
            if name == "mapResponse":
                return _mapped(responses[element.get("identifier") or ""])
            if name in ("multiple", "ordered"):
                return tuple([value(part) for part in element])
            if name == "index":
                container, at = value(element[0]), int(element.get("n") or "0")
                return container[at - 1] if container is not None and 0 < at <= len(container) else None
            if name in ("sum", "product"):
                return _reckoned(name, [value(part) for part in element])
            return truth(element)

        def truth(element: etree._Element) -> bool:
            name, parts = names.get(element.tag), [value(part) for part in element]
            if name == "isNull":
                return parts[0] is None
            if name == "not":
                return not parts[0]
            if None in parts:
                return False
            if name == "match":
                return _same(parts[0], parts[1], _is_ordered(element, responses, names))
            if name == "gt":
                return int(parts[0]) > int(parts[1])
            if name == "member":
                return parts[0] in parts[1]
            raise ExportFault("", "", f"a rule that is not known: {element.tag}")

        def carry_out(rules: Any) -> None:
            for rule in rules:
                name = names.get(rule.tag)
                if name == "setOutcomeValue":
                    found = value(rule[0])
                    if found is None:
                        outcomes.pop(rule.get("identifier") or "", None)
                    else:
                        outcomes[rule.get("identifier") or ""] = found
                elif name == "responseCondition":
                    for branch in rule:
                        if names.get(branch.tag) == "responseElse":
                            carry_out(branch)
                            break
                        if truth(branch[0]):
                            carry_out(branch[1:])
                            break
                else:
                    raise ExportFault("", "", f"a rule that is not known: {rule.tag}")

        carry_out(processing)
        return outcomes


def _mapped(answered: Answered) -> str:
    """Return the points of a response, each value counted once; whole numbers, as text."""
    value, mapping = answered.value, answered.mapping
    if value is None or isinstance(value, str):
        points = int(mapping.get(value or "", "0"))
    else:
        points = sum([int(mapping.get(one, "0")) for one in dict.fromkeys(value)])
    lower, upper = answered.bounds
    points = max(points, int(lower)) if lower else points
    return str(min(points, int(upper)) if upper else points)


def _reckoned(name: str, parts: list[Any]) -> str | None:
    if None in parts:
        return None
    numbers = [int(part) for part in parts]
    if name == "sum":
        return str(sum(numbers))
    product = 1
    for number in numbers:
        product *= number
    return str(product)


def _is_ordered(element: etree._Element, responses: Mapping[str, Answered], names: Mapping[str, str]) -> bool:
    """Return whether a match compares containers in order."""
    answered = responses.get(element[0].get("identifier") or "")
    return answered is not None and answered.ordered


def _same(left: Value, right: Value, ordered: bool) -> bool:
    if ordered or isinstance(left, str) or isinstance(right, str) or left is None or right is None:
        return left == right
    return sorted(left) == sorted(right)
