"""Drawing for a plan: task by task until every line is met or cannot be."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

from bank import difficulty, draw
from bank.build._collect import Collected
from bank.build._demands import Task, first_tasks
from bank.draw import Demand
from bank.further import drawer_of
from bank.work import Pool

_ROUNDS = 7
"""Times that missing items are looked for elsewhere before the plan is said to ask too much."""
_AT_ONCE = 20
"""Missing items that one shard is asked for the first time: few are missing as a rule, and most shards have more."""


def draw_all(
    collected: Collected, shares: dict[str, list[Demand]], seed: int, pool: Pool,
    progress: Callable[[int, int], None], meanwhile: Callable[[], object],
) -> None:
    """Draw until every demand is met; what doubles leave open is drawn again from the same shards, then elsewhere.

    *meanwhile* is done once while processes draw.

    Raises:
        BadInput: a line cannot be met (``plan-too-much``).
    """
    tasks = first_tasks(collected.plan, shares, seed)
    for turn in range(_ROUNDS):
        drawn = deque([pool.begin(_draw, task) for task in tasks])
        if not turn:
            meanwhile()
        for task in tasks:
            collected.take(task, drawn.popleft().result())
            progress(collected.count, collected.wanted)
        if not turn:
            collected.put_in()
        tasks = collected.missing_tasks(seed, least=1 if turn else _AT_ONCE)
        if not tasks:
            break
    collected.refuse_what_is_short()


def _draw(task: Task) -> draw.Batch:
    weights = _weights(task.weights, task.weights.stat().st_mtime_ns)
    wanted = sum(demand.wanted for demand in task.rounds[0][0])
    drawer = drawer_of(task.template)(task.template, task.locale, weights, task.seed, wanted, task.shard, task.shards)
    batch = drawer.more(*task.rounds[0])
    for demands, taken in task.rounds[1:]:
        batch = drawer.more(demands, taken)
    return batch


@lru_cache(maxsize=1)
def _weights(path: Path, changed: int) -> difficulty.Weights:
    """Return the weights in the file at *path*, last *changed* then, read once a process."""
    return difficulty.load_weights(path)
