"""Slips: written methods carried out with one kind of wrong step, each the working of a learner with one mistake.

A mistake (`bank.mistakes`) says which answer comes out; the slip of the same name writes down how: rows and steps as
that learner writes them, and which of the steps are wrong in themselves. One decorated function each, found by folder.
Steps after a wrong one carry on rightly from what was written. The last step of a working reads off its answer.

A slip takes the operands of the written method and returns None where the learner could not go this way, or where
it is told in another order than the written method's. Slips never raise and change nothing.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from bank import registry
from bank.numerals import Numeral

if TYPE_CHECKING:
    from bank.model import Line, Trace  # checking a template reads this room, and needs no records

FEWEST_STEPS, MOST_STEPS = 4, 12
"""Steps of a working in which a pupil can look for one: fewer leave little to find, more are tiring to read.
Common practice, no source."""
LAYOUTS = {"subtract": "decomposition"}
"""The layout that slips are written in, by operation; the others have one only."""


class Working(NamedTuple):
    """What a learner with a mistake writes."""

    trace: Trace
    wrong: tuple[int, ...]
    """Indices in ``trace.steps`` of the steps that are wrong in themselves, in order; the working departs from a
    right one at the first of them."""


Procedure = Callable[..., Working | None]


class Slip(NamedTuple):
    """A way of working and the mistake that it belongs to."""

    mistake: str
    """Id of the mistake; slips are named by it."""
    operation: str
    procedure: Procedure


MEMBERS: registry.Members[Slip] = registry.Members("slip")
_by_operation: dict[str, tuple[Slip, ...]] = {}


def slip(mistake: str) -> Callable[[Procedure], Procedure]:
    """Register the decorated procedure as the working of *mistake*.

    Raises:
        ValueError: the mistake has a slip already.
    """

    def register(procedure: Procedure) -> Procedure:
        record = Slip(mistake, mistake.partition(".")[0], procedure)
        MEMBERS.add(mistake, record, f"{procedure.__module__}.{procedure.__name__}")
        return procedure

    return register


def load() -> registry.Members[Slip]:
    """Import the room's modules once and return all slips."""
    if not _by_operation:
        registry.import_members(sys.modules[__name__])
        for record in MEMBERS.values():
            _by_operation[record.operation] = (*_by_operation.get(record.operation, ()), record)
    return MEMBERS


def of_operation(operation: str) -> tuple[Slip, ...]:
    """Return the slips of *operation* in order of their mistakes' ids."""
    load()
    return _by_operation.get(operation, ())


def with_one_wrong_step(records: Sequence[Slip], right: Trace) -> list[tuple[Slip, Working]]:
    """Return the workings on the operands of *right* in which a pupil can look for the one wrong step.

    Left out are workings with more than one wrong step, with the right answer, with too few or too many steps, and
    all where *right* is in another layout.
    """
    if right.layout != LAYOUTS.get(right.operation, ""):
        return []
    found: list[tuple[Slip, Working]] = []
    for record in records:
        working = record.procedure(*right.operands)
        if working is None or len(working.wrong) != 1 or working.trace.result == right.result:
            continue
        if FEWEST_STEPS <= len(working.trace.steps) <= MOST_STEPS:
            found.append((record, working))
    return found


def ending(result: Numeral) -> Line:
    """Return the last step of a working: what stands there is read off."""
    return ("The answer is ", result, ".")
