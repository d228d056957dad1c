"""A check of worked solutions: what they end with, written as it stands there, is what earns the mark."""

from __future__ import annotations

from bank.answers import policy_named
from bank.checks import FINE, Complaints, check
from bank.checks._look import Look
from bank.marking import is_right_number
from bank.model import Expression, Line, Locale, Unit
from bank.numerals import Numeral

STANDARDS = "AERA, APA & NCME 2014, Standards for Educational and Psychological Testing"


@check(
    "solution-earns-the-mark", severity="error",
    rule="the last number of the worked solution, written as it stands there, is the key as it is offered, or earns the "
         "mark where it is typed",
    why="A pupil who does what the solution shows must not be marked wrong.",
    source=f"{STANDARDS} (keys are checked before use)",
)
def solution_earns_the_mark(look: Look) -> Complaints:
    """Complain about a last step that ends in another form than the key, or without the unit that must be typed."""
    steps, typed = look.item.solution.steps, look.typed
    found = _last_number(steps[-1]) if steps else None
    if found is None:
        return FINE  # another check asks for steps that say the key
    if typed is None or policy_named(typed.policy).unit != "must":
        if found.places == look.key.places:
            return FINE
        if typed is not None and is_right_number(look.locale.number(found), look.item, typed, look.locale):
            return FINE
    elif is_right_number(written_answer(steps[-1], look.locale, look.family.unit), look.item, typed, look.locale):
        return FINE
    return ((f"the solution ends with {found}, the answer is to be written as {look.key}",
             "let a last step write the answer as it is wanted"),)


def written_answer(line: Line, locale: Locale, unit: Unit | None) -> str:
    """Return the last number of *line* as it is written in *locale*, with *unit* where it stands beside it."""
    leaves = list(line)
    at = max([place for place, leaf in enumerate(leaves) if not isinstance(leaf, str)])
    number = _last_number((leaves[at],))
    text = "" if number is None else locale.number(number)
    if unit is None:
        return text
    before, behind = (leaves[at - 1] if at else ""), (leaves[at + 1] if at + 1 < len(leaves) else "")
    if unit.before:
        return unit.text + text if str(before).endswith(unit.text) else text
    return f"{text} {unit.text}" if str(behind).startswith(f" {unit.text}") else text


def _last_number(line: Line) -> Numeral | None:
    for leaf in reversed(line):
        for part in reversed(leaf.parts) if isinstance(leaf, Expression) else (leaf,):
            if isinstance(part, Numeral):
                return part
    return None
