"""Policies of typed numbers that would leave two answers right, or none: refused with the template."""

from __future__ import annotations

import re

from bank.policies import MARKS, RULES
from bank.fields import BROKEN, Problems, Read

_ASKS_FOR_PLACES = (
    r"\b(?:to|with|in) (?:\d+|one|two|three|four) (?:decimal )?places?\b|\bdecimal places?\b|"
    r"\bto the nearest (?:tenth|hundredth|thousandth)\b|\brounded to (?:tenths|hundredths|thousandths)\b"
)
"""Words of a stem that ask for a number of places."""
_NO_ENDS = (*MARKS, "+", "-", "\u2212", " ", "/")
"""What may not stand where a unit meets its number."""


def typed_settings(read: Read) -> tuple[Read | None, str, str]:
    """Return the settings of what is typed, their field and the policy; empty where nothing is typed."""
    response = read["response"]
    if response == "number":
        return None, "response", "value"
    if isinstance(response, Read) and isinstance(response.values.get("number"), Read):
        settings = response["number"]
        return settings, "response.number.policy", settings["policy"]
    if isinstance(response, Read) and isinstance(response.values.get("find-mistake"), Read):
        settings = response["find-mistake"]
        if settings["answer"] is True:
            return settings, "response.find-mistake.policy", settings["policy"] or "value"
    return None, "", ""


def check_policy(read: Read, problems: Problems) -> None:
    """Add to *problems* where policy, unit, rounding and places of a typed number do not go together."""
    settings, field, policy = typed_settings(read)
    if policy not in RULES:
        return
    rules = RULES[policy]
    node = settings.at("policy") if settings is not None else read.at("response")
    unit, rounding, places = read["unit"], read["rounding"], read["places"]
    if rules.unit == "must" and unit is None:
        wrong = "the policy unit wants a unit with the number, the template has none"
        node.report(problems, "policy-without-unit", field, wrong, "write unit: ..., or another policy")
    if rules.unit != "not" and unit not in (None, BROKEN):
        _check_unit(read, problems)
    if rounding is None and rules.any_places:
        _check_stem(read, policy, problems)
    if rounding in (None, BROKEN) or rounding["places"] is BROKEN or rounding["places"] < 1:
        return
    if read["operation"] not in ("divide", "round") or "find-mistake" in field:  # refused already
        return
    asked = f"{rounding['places']} place{'' if rounding['places'] == 1 else 's'}"
    if rules.any_places:
        wrong = f"the stem asks for {asked}, the policy {policy} takes any number of them"
        remedy = "write policy: places, and let places say the same number"
        node.report(problems, "policy-and-rounding", field, wrong, remedy)
    elif places is None:
        wrong = f"the stem asks for {asked}, a key that ends in 0 would be written with fewer"
        node.report(problems, "policy-and-rounding", field, wrong, f"write places: {rounding['places']}")


def _check_stem(read: Read, policy: str, problems: Problems) -> None:
    """Refuse a stem that asks for a number of places where any number of them is right."""
    stem = read["stem"]
    found = re.search(_ASKS_FOR_PLACES, " ".join(stem.split()), re.IGNORECASE) if stem else None
    if found:
        wrong = f"the stem asks for places ({found[0]!r}), the policy {policy} takes any number of them"
        remedy = "write policy: places or exact, or do not ask for places"
        read.at("stem").report(problems, "policy-and-stem", "stem", wrong, remedy)


def _check_unit(read: Read, problems: Problems) -> None:
    """Refuse a unit that could be read as a part of the number next to it."""
    unit = read["unit"]
    text = unit if isinstance(unit, str) else unit["text"]
    if text is BROKEN or not text:
        return
    before = False if isinstance(unit, str) else unit["before"]
    meets = text[-1] if before else text[0]
    if meets.isdigit() or meets in _NO_ENDS:
        node = read.at("unit") if isinstance(unit, str) else unit.at("text")
        where = "ends" if before else "begins"
        wrong = f"the unit {text!r} {where} with {meets!r}, which could belong to the number"
        remedy = "write a unit that meets the number with a letter or sign"
        node.report(problems, "ambiguous-unit", "unit", wrong, remedy)
