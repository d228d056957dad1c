"""Why draws of a template give no item, in words: which rule refuses most, and a draw that breaks it."""

from __future__ import annotations

from collections.abc import Mapping

from bank import checks
from bank.draw import CHECK, NOT_NEEDED, SAME_QUESTION, UNREACHED
from bank.templates import Template

_NOT_THE_NUMBERS = (NOT_NEEDED, SAME_QUESTION)
"""Reasons that say nothing against a draw itself."""


def counts(template: Template, refused: Mapping[str, int]) -> tuple[dict[str, int], dict[str, int]]:
    """Return how many draws the template's own conditions refused, by condition, and how many of the others gave no item.

    The second counts what the making of an item and its checks refused, by reason.
    """
    own = {reason: count for reason, count in refused.items() if reason in template.refusals}
    later = {reason: count for reason, count in refused.items() if reason not in own and reason not in _NOT_THE_NUMBERS}
    return own, later


def most(refused: Mapping[str, int]) -> str:
    """Return the reason that refused most, the first by name among equals; empty where nothing was refused."""
    return min(refused, key=lambda reason: (-refused[reason], reason), default="")


def why(template: Template, tried: int, refused: Mapping[str, int], examples: Mapping[str, str]) -> str:
    """Return what became of *tried* draws: kept by the template's conditions or not, and what refused the kept ones.

    *examples* hold a draw for each reason, as `bank.draw.Batch.examples`.
    """
    own, later = counts(template, refused)
    kept = tried - sum(own.values())
    words = f"{tried:,} draws were tried"
    if own:
        words += f", the template's conditions keep {kept:,}"
        words += f" (most refused by {_told(most(own), own, examples)})"
    if later:
        words += f"; of these, most were refused by {_told(most(later), later, examples)}"
    return words


def _told(reason: str, refused: Mapping[str, int], examples: Mapping[str, str]) -> str:
    example = examples.get(reason, "")
    return f"{in_full(reason)}: {refused[reason]:,}{f', such as {example}' if example else ''}"


def in_full(reason: str) -> str:
    """Return why draws were refused, with its rule where it was a check."""
    name = reason.removeprefix(f"{CHECK} ")
    if name == reason or name not in (known := checks.load()):
        return reason
    return f"{reason} ({known[name].rule})"


def field_of(reason: str) -> str:
    """Return the field of a template that most likely has to change where *reason* refuses its items."""
    name = reason.removeprefix(f"{CHECK} ")
    known = checks.load()
    if name != reason and name in known and known[name].about in ("wording", "family"):
        return "stem" if known[name].about == "wording" else "template"
    return "template" if reason == UNREACHED else "parameters"
