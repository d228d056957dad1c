"""What each line of a plan wants of each template, as tasks for the processes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

from bank import draw
from bank.draw import Demand
from bank.model import Locale
from bank.plans import DrawLine, Plan
from bank.templates import Template
from bank.trees import WEIGHTS


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
    weights: Path
    """File of the weights of difficulty."""


def shares_of(plan: Plan, lines: Sequence[DrawLine]) -> dict[str, list[Demand]]:
    """Share each line's items out over the templates that fit it, those used least first; none is asked what it lacks."""
    load: Counter[str] = Counter()
    shares: dict[str, list[Demand]] = {template.identifier: [] for template in plan.templates}
    for place, line in enumerate(lines):
        fitting = sorted(line.fitting(plan.templates), key=lambda t: (load[t.identifier], t.identifier))
        counts = evenly(line.items, [max(0, room(template) - load[template.identifier]) for template in fitting])
        for template, count in zip(fitting, counts, strict=True):
            if count:
                load[template.identifier] += count
                shares[template.identifier].append(Demand(place, count, line.mistake, line.band, line.shows_feedback))
    return shares


def room(template: Template) -> int:
    """Return how many items *template* can give at most, as far as that is known before drawing."""
    room = template.space_size
    if room <= draw.COUNTED:  # else a survey only estimates
        room = template.survey.admissible
    return room if template.draws is None else min(room, template.draws)


def evenly(items: int, rooms: Sequence[int]) -> list[int]:
    """Return shares of *items* that are as even as *rooms* allow, the first ones larger by one where some are.

    They come to less than *items* where there is less room in all.
    """
    shares = [0] * len(rooms)
    waiting, left = list(range(len(rooms))), items
    while waiting and left:
        parts = {at: draw.share_of(left, turn, len(waiting)) for turn, at in enumerate(waiting)}
        full = [at for at in waiting if parts[at] > rooms[at]]
        for at in full or waiting:
            shares[at] = min(parts[at], rooms[at])
            left -= shares[at]
        waiting = [at for at in waiting if at not in full] if full else []
    return shares


def first_tasks(plan: Plan, shares: dict[str, list[Demand]], seed: int) -> list[Task]:
    """Return the tasks that meet *shares*, large ones cut into shards whatever the number of processes."""
    tasks = []
    weights = plan.tree.setting(WEIGHTS)
    for template in plan.templates:
        demands = shares[template.identifier]
        if not demands:
            continue
        shards = draw.shards_for(template, sum(demand.wanted for demand in demands))
        for shard in range(shards):
            part = tuple(demand._replace(wanted=draw.share_of(demand.wanted, shard, shards)) for demand in demands)
            tasks.append(Task(template, plan.locale, seed, shard, shards, ((part, frozenset()),), weights))
    return tasks
