"""From a term plan to a bank: the way of the data on one page.

`load_plan` -> share the demands out -> draw (in processes) -> collect -> quizzes -> store -> review page.
What comes out depends on the plan, the templates, the seed and the version alone, not on how many processes work.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from pathlib import Path

from bank import __version__, aside, difficulty, draw
from bank.build._collect import Collected
from bank.build._spool import spooled, usable
from bank.build._demands import Task, first_tasks, shares_of
from bank.build._draft import Draft
from bank.build._quizzes import arrange, level_keys, quiz_findings
from bank.draw import Demand
from bank.further import drawer_of
from bank.model import BankInfo
from bank.plans import Plan
from bank.store import Bank, write_bank
from bank.summary import BuildSummary, to_json
from bank.work import Pool

_ROUNDS = 7
"""Times that missing items are looked for elsewhere before the plan is said to ask too much."""
_BESIDE = 50_000
"""Items up to which the review page is made while the bank is written, by a process that holds as much as this one."""
_AT_ONCE = 20
"""Missing items that one shard is asked for the first time: few are missing as a rule, and most shards have more."""


def build(
    plan: Plan, folder: Path, *, seed: int | None = None, jobs: int = 1,
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> BuildSummary:
    """Build the bank of *plan* into *folder* (``bank.sqlite`` and ``review.html``) and return its summary.

    Raises:
        BadInput: the plan asks for more than its templates give (``plan-too-much``), a template's key and its
            written method differ (``key-differs``), or *folder* cannot be written (``cannot-write``).
    """
    folder = usable(folder)
    path, page = folder / "bank.sqlite", folder / "review.html"
    summary, pieces = _write(plan, path, plan.seed if seed is None else seed, jobs, progress)
    from bank.review import write_pieces, write_review  # see `_draw_all`

    if pieces:
        write_pieces(pieces, page)
        return summary
    with Bank.open(path) as bank:
        write_review(bank, summary, page)
    return summary


def _write(
    plan: Plan, path: Path, seed: int, jobs: int, progress: Callable[[int, int], None]
) -> tuple[BuildSummary, list[str]]:
    """Write the bank file and return its summary, and its review page where that was made beside it.

    What was collected on the way is gone from memory when this returns.
    """
    collected = Collected(plan, plan.lines)
    with spooled(path.parent) as spool:
        with Pool(jobs if jobs > 1 else 0) as pool:
            collected.spool = spool
            _draw_all(collected, shares_of(plan, collected.lines), seed, pool, progress)
            collected.settle()
            level_keys(collected)
            arranged = arrange(plan, collected, seed)
            collected.note(quiz_findings(collected, arranged, pool))
        summary = collected.summary()
        info = BankInfo(
            title=plan.title, plan=plan.identifier, seed=seed, locale=plan.locale, tool_version=__version__,
            invented=plan.invented, rights=plan.rights, checksum=plan.checksum,
        )
        used = {entry.template for entries in collected.entries for entry in entries}
        families = [template.family for template in plan.templates if template.identifier in used]
        quizzes = [quiz for _, quiz in arranged]
        order = [entry for entries, _ in arranged for entry in entries] + collected.pool()
        told = to_json(summary)
        pieces: Callable[[], list[str]] = list
        if jobs > 1 and len(order) <= _BESIDE:
            from bank.review import pieces_of

            draft = Draft(info, families, quizzes, collected, order, told)
            spool.flush()
            pieces = aside.begun(lambda: list(pieces_of(draft, summary)))
        write_bank(path, info, families, quizzes, collected.rows(order), told)
        return summary, pieces()


def _draw_all(
    collected: Collected, shares: dict[str, list[Demand]], seed: int, pool: Pool,
    progress: Callable[[int, int], None],
) -> None:
    """Draw until every demand is met; what doubles leave open is drawn again from the same shards, then elsewhere."""
    tasks = first_tasks(collected.plan, shares, seed)
    for turn in range(_ROUNDS):
        drawn = deque([pool.begin(_draw, task) for task in tasks])
        if not turn:
            from bank.review import prepared  # loaded while the others draw: at the end they would have to wait for it

            prepared()
        for task in tasks:
            collected.take(task, drawn.popleft().result())
            progress(collected.count, collected.wanted)
        tasks = collected.missing_tasks(seed, least=1 if turn else _AT_ONCE)
        if not tasks:
            break
    collected.refuse_what_is_short()


def _draw(task: Task) -> draw.Batch:
    weights = difficulty.load_weights()
    wanted = sum(demand.wanted for demand in task.rounds[0][0])
    drawer = drawer_of(task.template)(task.template, task.locale, weights, task.seed, wanted, task.shard, task.shards)
    batch = drawer.more(*task.rounds[0])
    for demands, taken in task.rounds[1:]:
        batch = drawer.more(demands, taken)
    return batch
