"""Trying a plan: its lines drawn as a build draws them, up to a bound, and nothing written."""

from __future__ import annotations

import tempfile
from typing import NamedTuple

from bank.build._collect import Collected
from bank.build._demands import room, shares_of
from bank.build._drawing import draw_all
from bank.build._spool import Spool
from bank.errors import BadInput, Problem
from bank.plans import DrawLine, Plan
from bank.work import Pool

MOST = 2000
"""Items drawn of a plan at most; longer plans are tried with fewer of each line. Our own bound: some seconds."""
LEAST = 5
"""Items drawn of each line at least, where it asks for so many."""


class Tried(NamedTuple):
    """What was tried."""

    items: int
    """Items drawn."""
    wanted: int
    """Items that the plan asks for."""
    problems: tuple[Problem, ...]
    """Lines that cannot be met, as a build would say it."""

    @property
    def is_whole(self) -> bool:
        """Whether all lines were tried with all their items."""
        return self.items >= self.wanted


def try_plan(plan: Plan) -> Tried:
    """Draw the items of *plan* with its own seed, at most about `MOST`, and return what cannot be drawn."""
    wanted = sum(line.items for line in plan.lines)
    lines = [_shortened(line, wanted) for line in plan.lines]
    asked = sum(line.items for line in lines)
    collected = Collected(plan, lines)
    problems: list[Problem] = []
    with tempfile.TemporaryFile() as file:
        collected.spool = Spool(file)
        with Pool(0) as pool:
            try:
                draw_all(collected, shares_of(plan, lines), plan.seed, pool, lambda *_: None, lambda: None)
            except BadInput as fault:
                problems += fault.problems
    parts = {line.place: (short.items, line.items) for line, short in zip(plan.lines, lines, strict=True)
             if short.items < line.items}
    problems = [_in_part(problem, *parts.get(problem.place, (0, 0))) for problem in problems]
    places = {problem.place for problem in problems}
    for line in plan.lines:
        if line.place in parts and line.place not in places:
            problems += _beyond(line, plan)
    return Tried(asked, wanted, tuple(problems))


def _shortened(line: DrawLine, wanted: int) -> DrawLine:
    if wanted <= MOST:
        return line
    return line._replace(items=min(line.items, max(LEAST, line.items * MOST // wanted)))


def _in_part(problem: Problem, items: int, whole: int) -> Problem:
    """Return *problem*, saying that only *items* of the *whole* line were tried where that is so."""
    if not whole:
        return problem
    return problem._replace(wrong=f"{items} of this line's {whole} items were tried: {problem.wrong}")


def _beyond(line: DrawLine, plan: Plan) -> list[Problem]:
    """Return a problem where *line* asks for more than its templates have draws, as far as these are counted."""
    most = sum(room(template) for template in line.fitting(plan.templates))
    if line.items <= most:
        return []
    return [Problem(
        "plan-too-much", line.place, "items",
        f"this line asks for {line.items} items, the templates that fit have {most} draws in all",
        "ask for fewer, widen the ranges, or add a template",
    )]
