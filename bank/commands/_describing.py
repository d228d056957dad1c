"""Templates and plans in one line each, for the command ``check``."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from bank.plans import Plan
    from bank.templates import Template


def describe(template: Template) -> str:
    """Return id, version and yield of *template* in one line."""
    found = template.survey
    kept = f"{found.kept:,} kept"
    if not found.exact:
        low, high = _three_digits(found.admissible - found.margin), _three_digits(found.admissible + found.margin)
        kept = f"about {_three_digits(found.admissible):,} kept (95 % interval {max(low, 1):,} to {high:,})"
    return f"template {template.identifier} version {template.version}: {found.possible:,} draws possible, {kept}"


def describe_plan(plan: Plan) -> str:
    """Return what *plan* asks for in one line."""
    items = sum(line.items for line in plan.lines)
    quizzes = f"{len(plan.quizzes)} {'quiz' if len(plan.quizzes) == 1 else 'quizzes'}"
    return f"plan {plan.identifier}: {items} items in {quizzes} and the pool, from {len(plan.templates)} templates"


def _three_digits(number: int) -> int:
    unit = 10 ** max(0, len(str(abs(number))) - 3)
    return (number + unit // 2) // unit * unit
