"""The rules of an exported item carried out, to read back how it scores: just the rules that this room writes."""

from __future__ import annotations

from collections.abc import Callable, Mapping
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


class State(NamedTuple):
    """What rules see and change."""

    responses: Mapping[str, Answered]
    outcomes: Outcomes


Expression = Callable[[State], Any]
Rule = Callable[[State], None]


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
        return carry_out(self.made_ready(processing), responses, defaults)

    def made_ready(self, processing: etree._Element) -> list[Rule]:
        """Return the rules in *processing* as functions, for `carry_out`: for who has many responses to try.

        Raises:
            ExportFault: a rule that this room does not write.
        """
        return [self._rule(rule) for rule in processing]

    def _rule(self, rule: etree._Element) -> Rule:
        name = self._names.get(rule.tag)
        if name == "setOutcomeValue":
            outcome, expression = rule.get("identifier") or "", self._expression(rule[0])

            def put(state: State) -> None:
                found = expression(state)
                if found is None:
                    state.outcomes.pop(outcome, None)
                else:
                    state.outcomes[outcome] = found

            return put
        if name != "responseCondition":
            raise ExportFault("", "", f"a rule that is not known: {rule.tag}")
        branches: list[tuple[Expression, list[Rule]]] = []
        for branch in rule:
            if self._names.get(branch.tag) == "responseElse":
                branches.append((_always, self.made_ready(branch)))
                break
            branches.append((self._expression(branch[0]), [self._rule(one) for one in branch[1:]]))

        def decide(state: State) -> None:
            for test, rules in branches:
                if test(state):
                    for one in rules:
                        one(state)
                    break

        return decide

    def _expression(self, element: etree._Element) -> Expression:
        name, identifier = self._names.get(element.tag), element.get("identifier") or ""
        if name == "baseValue":
            text = element.text
            return lambda state: text
        if name == "variable":
            return lambda state: (
                state.responses[identifier].value if identifier in state.responses else state.outcomes.get(identifier)
            )
        if name == "correct":
            return lambda state: state.responses[identifier].right
        if name == "mapResponse":
            return lambda state: _mapped(state.responses[identifier])
        parts = [self._expression(part) for part in element]
        if name in ("multiple", "ordered"):
            return lambda state: tuple([part(state) for part in parts])
        if name == "index":
            at = int(element.get("n") or "0")
            return lambda state: _placed(parts[0](state), at)
        if name in ("sum", "product"):
            return lambda state: _reckoned(name, [part(state) for part in parts])
        return self._test(element, name or "", parts)

    def _test(self, element: etree._Element, name: str, parts: list[Expression]) -> Expression:
        first = parts[0] if parts else _always
        if name == "isNull":
            return lambda state: first(state) is None
        if name == "not":
            return lambda state: not first(state)
        second = parts[1] if len(parts) > 1 else _always
        if name == "match":
            compared = element[0].get("identifier") or ""
            return lambda state: _matches(first(state), second(state), compared, state.responses)
        if name == "gt":
            return lambda state: _no_nulls(first(state), second(state), _is_more)
        if name == "member":
            return lambda state: _no_nulls(first(state), second(state), _is_member)
        raise ExportFault("", "", f"a rule that is not known: {element.tag}")


def carry_out(rules: list[Rule], responses: Mapping[str, Answered], defaults: Mapping[str, str]) -> Outcomes:
    """Return the outcomes after *responses*; before the *rules* they have the values of *defaults*."""
    state = State(responses, dict(defaults))
    for rule in rules:
        rule(state)
    return state.outcomes


def _always(state: State) -> bool:
    return True


def _placed(container: Any, at: int) -> Any:
    return container[at - 1] if container is not None and 0 < at <= len(container) else None


def _matches(left: Value, right: Value, compared: str, responses: Mapping[str, Answered]) -> bool:
    """Return whether both are the same; the response *compared* says whether their order counts."""
    if left is None or right is None:
        return False
    answered = responses.get(compared)
    return _same(left, right, answered is not None and answered.ordered)


def _no_nulls(left: Any, right: Any, test: Callable[[Any, Any], bool]) -> bool:
    return left is not None and right is not None and test(left, right)


def _is_more(left: str, right: str) -> bool:
    return int(left) > int(right)


def _is_member(one: str, container: tuple[str, ...]) -> bool:
    return one in container


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


def _same(left: str | tuple[str, ...], right: str | tuple[str, ...], ordered: bool) -> bool:
    if ordered or isinstance(left, str) or isinstance(right, str):
        return left == right
    return sorted(left) == sorted(right)
