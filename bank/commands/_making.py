"""Items made for the command ``check``: a few of a template, those of a plan, and what a build would refuse."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bank import locales, refusals
from bank.difficulty import load_weights
from bank.errors import BadInput
from bank.fields import Problems
from bank.sources import Node
from bank.specimens import look_at
from bank.templates import Template
from bank.trees import WEIGHTS, Tree

if TYPE_CHECKING:
    from bank.plans import Plan


def of_template(template: Template, node: Node, tree: Tree, problems: Problems) -> str:
    """Make a few items of *template*; return what that showed, with a problem added where none can be made."""
    try:
        weights = load_weights(tree.setting(WEIGHTS))
        found = look_at(template, locales.load_locale(next(iter(sorted(locales.files_of(tree)))), tree), weights)
    except BadInput as fault:
        problems += fault.problems
        return ""
    whole = found.tried == found.possible
    looked = f"all {found.tried:,} draws" if whole else f"{found.tried:,} draws of {found.possible:,}"
    _, failed = refusals.counts(template, found.refused)
    reason = refusals.most(failed)
    if found.made or not reason:
        return f"; looked at {looked}, made {found.made} items to try"
    places = {key.text: value for key, value in node.entries}
    field = refusals.field_of(reason)
    places[field].report(
        problems, "no-item", field,
        f"looked at {looked}, and none gives an item: "
        + refusals.why(template, found.tried, found.refused, found.examples),
        "mend what that rule names",
    )
    return ""


def of_plan(plan: Plan, problems: Problems) -> str:
    """Draw the items of *plan* and write nothing; return what was tried, with a problem for each line left short."""
    from bank.build.trying import try_plan  # dear, and templates need none of it

    tried = try_plan(plan)
    problems += tried.problems
    if tried.is_whole:
        return f"; all {tried.items} items could be drawn"
    return f"; tried {tried.items} of the {tried.wanted} items, which could be drawn; the others were not tried"
