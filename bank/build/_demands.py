"""What each line of a plan wants of each template, as tasks for the processes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import NamedTuple

from bank import draw
from bank.draw import Demand
from bank.model import Locale
from bank.plans import DrawLine, Plan
from bank.templates import Template


class Task(NamedTuple):
    """Work for one process: what to draw from one shard of a template's draws."""

    template: Template
    locale: Locale
    seed: int
    shard: int
    shards: int
    rounds: tuple[tuple[tuple[Demand, ...], frozenset[bytes]], ...]
    """Demands one after the other, each with the questions that the bank had by then; all but the last were met as
    far as they could be and are repeated only to come to the same place."""


def shares_of(plan: Plan, lines: Sequence[DrawLine]) -> dict[str, list[Demand]]:
    """Share each line's items out over the templates that fit it, those used least first."""
    load: Counter[str] = Counter()
    shares: dict[str, list[Demand]] = {template.identifier: [] for template in plan.templates}
    for place, line in enumerate(lines):
        fitting = sorted(line.fitting(plan.templates), key=lambda t: (load[t.identifier], t.identifier))
        for turn, template in enumerate(fitting):
            name = template.identifier
            count = draw.share_of(line.items, turn, len(fitting))
            if template.draws is not None:
                count = min(count, template.draws - load[name])
            if count > 0:
                load[name] += count
                shares[name].append(Demand(place, count, line.mistake, line.band))
    return shares


def first_tasks(plan: Plan, shares: dict[str, list[Demand]], seed: int) -> list[Task]:
    """Return the tasks that meet *shares*, large ones cut into shards whatever the number of processes."""
    tasks = []
    for template in plan.templates:
        demands = shares[template.identifier]
        if not demands:
            continue
        shards = draw.shards_for(template, sum(demand.wanted for demand in demands))
        for shard in range(shards):
            part = tuple(demand._replace(wanted=draw.share_of(demand.wanted, shard, shards)) for demand in demands)
            tasks.append(Task(template, plan.locale, seed, shard, shards, ((part, frozenset()),)))
    return tasks
