"""What hangs together in an item, read back: declarations, interactions, choices; what no schema of the standard checks.

Checked are: duplicate identifiers, interactions without a declaration and declarations without an interaction,
cardinality and base type that do not fit the interaction, right answers and mapped ones that are no choice, feedback
and rules that name an outcome that is not declared, rules that set what is no outcome.
"""

from __future__ import annotations

from typing import NamedTuple

from lxml import etree

from exporters._faults import ExportFault
from exporters._qti import MATHML, Version

_CONTAINERS = {
    "choiceInteraction": "simpleChoice", "orderInteraction": "simpleChoice", "matchInteraction": "simpleAssociableChoice",
    "inlineChoiceInteraction": "inlineChoice", "hottextInteraction": "hottext", "textEntryInteraction": "",
}  # fmt: skip
"""Interactions that this room writes, and the elements that hold what they offer."""
INTERACTIONS = tuple(_CONTAINERS)


class Declared(NamedTuple):
    """A response declaration."""

    cardinality: str
    base: str
    right: tuple[str, ...]
    mapping: dict[str, str]
    bounds: tuple[str, str]
    """Lower and upper bound of the mapping, empty where there is none."""


class Offered(NamedTuple):
    """An interaction."""

    kind: str
    """2.x name of the element."""
    response: str
    element: etree._Element
    choices: tuple[tuple[str, str], ...]
    """(identifier, what is written) in order; empty where something is typed."""


class Structure(NamedTuple):
    """An item's declarations and interactions, in document order."""

    identifier: str
    declared: dict[str, Declared]
    outcomes: dict[str, tuple[str, str]]
    """By name: cardinality, and default value, empty without one."""
    offered: tuple[Offered, ...]
    processing: etree._Element


class StructureReader:
    """Reads and checks the structure of items of one version."""

    def __init__(self, version: Version) -> None:
        self._version = version
        tag = version.tag
        self._kinds = {tag(name): name for name in _CONTAINERS}
        self._holders = {name: tag(holder) for name, holder in _CONTAINERS.items() if holder}
        self._inline, self._modal = tag("feedbackInline"), tag("modalFeedback")
        self._of_responses = {tag(name) for name in ("correct", "mapResponse")}
        self._variable = tag("variable")
        self._set = tag("setOutcomeValue")
        self._response, self._outcome = tag("responseDeclaration"), tag("outcomeDeclaration")
        self._processing, self._body = tag("responseProcessing"), tag("itemBody")
        self._correct, self._mapping, self._entry = tag("correctResponse"), tag("mapping"), tag("mapEntry")
        self._default = tag("defaultValue")
        names = ("baseType", "responseIdentifier", "outcomeIdentifier", "mapKey", "mappedValue", "lowerBound",
                 "upperBound", "maxChoices", "maxAssociations")  # fmt: skip
        self.attribute = {name: version.attribute(name) for name in names}

    def read(self, root: etree._Element, file: str, rules: bool = True) -> Structure:
        """Return the structure of the item with *root*; without *rules*, who asks checks what rules name.

        Raises:
            ExportFault: it does not hang together.
        """
        identifier = root.get("identifier") or ""
        try:
            found = self._read(root, identifier)
            if rules:
                self.check_rules(found)
            return found
        except ExportFault as fault:
            raise ExportFault(file, identifier, fault.wrong) from None

    def _read(self, root: etree._Element, identifier: str) -> Structure:
        declared: dict[str, Declared] = {}
        outcomes: dict[str, tuple[str, str]] = {}
        processing, bodies, feedback = [], [], []
        for element in root:
            tag = element.tag
            if tag == self._outcome or tag == self._response:
                name = element.get("identifier") or ""
                if not name.isidentifier():
                    raise ExportFault("", "", f"{name!r} is declared, which is no name")
                if name in declared or name in outcomes:
                    raise ExportFault("", "", f"{name} is declared twice")
                if tag == self._response:
                    declared[name] = self._declared(element, name)
                else:
                    values = [value.text or "" for default in element.iterchildren(self._default) for value in default]
                    outcomes[name] = element.get("cardinality") or "", " ".join(values)
            elif tag == self._modal:
                feedback.append(element)
            elif tag == self._body:
                bodies.append(element)
            elif tag == self._processing:
                processing.append(element)
        if len(processing) != 1 or len(bodies) != 1:
            raise ExportFault("", "", "it has not one body and one place for its rules")
        offered = []
        for element in bodies[0].iter(*self._kinds, self._inline):
            if element.tag == self._inline:
                feedback.append(element)
            else:
                offered.append(self._offered(element))
        self._check_responses(declared, tuple(offered))
        waits_for = self.attribute["outcomeIdentifier"]
        for element in feedback:
            if element.get(waits_for) not in outcomes:
                raise ExportFault("", "", "feedback hangs on an outcome that is not declared")
        return Structure(identifier, declared, outcomes, tuple(offered), processing[0])

    def _declared(self, element: etree._Element, name: str) -> Declared:
        said = self.attribute
        right = [value.text or "" for one in element.iterchildren(self._correct) for value in one]
        mappings = list(element.iterchildren(self._mapping))
        entries = [
            (entry.get(said["mapKey"]) or "", entry.get(said["mappedValue"]) or "")
            for one in mappings for entry in one.iterchildren(self._entry)
        ]  # fmt: skip
        mapping = dict(entries)
        if len(mapping) != len(entries):
            raise ExportFault("", "", f"the mapping of {name} lists something twice")
        if len(set(right)) != len(right) or not right:
            raise ExportFault("", "", f"the right answer of {name} is missing, or holds something twice")
        bounds = [mappings[0].get(said[bound]) or "" if mappings else "" for bound in ("lowerBound", "upperBound")]
        return Declared(
            element.get("cardinality") or "", element.get(said["baseType"]) or "", tuple(right), mapping,
            (bounds[0], bounds[1]),
        )

    def _offered(self, element: etree._Element) -> Offered:
        kind = self._kinds[element.tag]
        choices: list[tuple[str, str]] = []
        if kind in self._holders:
            choices = [(one.get("identifier") or "", self.text(one)) for one in element.iter(self._holders[kind])]
            if len({name for name, _ in choices}) != len(choices):
                raise ExportFault("", "", "two choices share an identifier")
        return Offered(kind, element.get(self.attribute["responseIdentifier"]) or "", element, tuple(choices))

    def text(self, element: etree._Element) -> str:
        """Return what is written in *element*, formulas with spaces between their parts, feedback left out."""
        if not len(element):
            return element.text or ""
        parts = [element.text or ""]
        for child in element:
            if child.tag == f"{{{MATHML}}}math":
                parts.append(" ".join([mark.text or "" for mark in child.iter() if len(mark) == 0]))
            elif child.tag != self._inline:
                parts.append(self.text(child))
            parts.append(child.tail or "")
        return "".join(parts)

    def _check_responses(self, declared: dict[str, Declared], offered: tuple[Offered, ...]) -> None:
        if [one.response for one in offered] != list(declared):
            raise ExportFault("", "", "not every response has one interaction, in their order")
        for one in offered:
            response = declared[one.response]
            if (response.cardinality, response.base) != self._wanted(one):
                raise ExportFault(
                    "", "", f"{response.cardinality} {response.base} does not fit the {one.kind} of {one.response}"
                )
            if one.kind == "textEntryInteraction":
                continue
            known = self._answers(one)
            unknown = [answer for answer in (*response.right, *response.mapping) if answer not in known]
            if unknown or (response.cardinality == "ordered" and set(response.right) != known):
                raise ExportFault("", "", f"the right answer of {one.response} names what is no choice: {unknown}")

    def _wanted(self, offered: Offered) -> tuple[str, str]:
        """Return the cardinality and base type that an interaction needs."""
        if offered.kind == "textEntryInteraction":
            return "single", "string"
        if offered.kind == "orderInteraction":
            return "ordered", "identifier"
        if offered.kind == "matchInteraction":
            return "multiple", "directedPair"
        several = offered.kind != "inlineChoiceInteraction" and offered.element.get(self.attribute["maxChoices"]) != "1"
        return "multiple" if several else "single", "identifier"

    def _answers(self, offered: Offered) -> set[str]:
        names = [name for name, _ in offered.choices]
        if offered.kind != "matchInteraction":
            return set(names)
        sets = [one for one in offered.element if one.tag == self._version.tag("simpleMatchSet")]
        if len(sets) != 2:
            raise ExportFault("", "", "it has not two sides to match")
        sources, targets = ([one.get("identifier") or "" for one in side] for side in sets)
        return {f"{source} {target}" for source in sources for target in targets}

    def check_rules(self, found: Structure) -> None:
        """Return nothing where the rules of an item name only what it declares, and set only outcomes.

        Raises:
            ExportFault: otherwise.
        """
        declared, outcomes = found.declared, found.outcomes
        for element in found.processing.iter(self._set, self._variable, *self._of_responses):
            name = element.get("identifier") or ""
            tag = element.tag
            known = (name in outcomes and tag not in self._of_responses) or (name in declared and tag != self._set)
            if not known:
                raise ExportFault("", "", f"a rule names {name}, which is not declared")
