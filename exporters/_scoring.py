"""The rules of an exported item carried out, to read back how it scores: just the rules that this room writes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from lxml import etree

from exporters._faults import ExportFault
from exporters._qti import Version

Outcomes = dict[str, str]
"""Values of SCORE, FEEDBACK, SOLUTION and ADVICE as written, those without value left out."""


class Rules:
    """The response processing of one version, carried out on a response."""

    def __init__(self, version: Version) -> None:
        self._names = {
            version.tag(name): name
            for name in (
                "responseCondition", "responseIf", "responseElseIf", "responseElse", "setOutcomeValue", "baseValue",
                "variable", "correct", "mapResponse", "isNull", "not", "match", "gt", "member", "multiple",
            )  # fmt: skip
        }

    def run(self, processing: etree._Element, response: str | None, right: str, mapping: Mapping[str, str]) -> Outcomes:
        """Return the outcomes after *response* (None: not answered).

        *right* is the correct response and *mapping* gives the points of spellings.

        Raises:
            ExportFault: a rule that this room does not write.
        """
        outcomes: Outcomes = {"SCORE": "0"}
        names = self._names

        def value(element: etree._Element) -> Any:
            name = names.get(element.tag)
            if name == "baseValue":
                return element.text
            if name == "variable":
                wanted = element.get("identifier")
                return response if wanted == "RESPONSE" else outcomes.get(wanted or "")
            if name == "correct":
                return right
            if name == "mapResponse":
                return mapping.get(response or "", "0")
            if name == "multiple":
                return [value(part) for part in element]
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
                return bool(parts[0] == parts[1])
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


