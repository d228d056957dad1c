"""The policies of typed numbers: which spellings of a key are right. `bank.answers` carries them out.

Apart from it, for a template is checked against their names without anything being spelt.
"""

from __future__ import annotations

from typing import NamedTuple


class Policy(NamedTuple):
    """Which spellings of a typed number are right, and in which words that is told."""

    name: str
    any_places: bool
    """Whether zeros at the end may be added or left out; else the key's number of places is wanted."""
    spare: bool
    """Whether what changes nothing is taken: zeros in front, the bare ``.5``, ``+``, groups of thousands."""
    unit: str
    """``may``: with the item's unit or without; ``must``: only with it; ``not``: never."""
    rule: str
    """What a mark scheme says of it, in one line."""


RULES = {
    policy.name: policy for policy in (
        Policy("value", True, True, "may", "any spelling of this value; the unit may be left out"),
        Policy("places", False, True, "may", "this value with just this number of decimal places; the unit may be left "
               "out"),
        Policy("exact", False, False, "not", "only as it is written here, without a unit"),
        Policy("unit", True, True, "must", "any spelling of this value, with the unit"),
    )
}
"""Policies by name."""
POLICIES = tuple(RULES)
"""Names of the policies."""

MARKS = (".", ",")
"""Decimal marks."""
