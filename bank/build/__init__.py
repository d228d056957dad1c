"""From a term plan to a bank: the way of the data on one page.

`load_plan` -> share the demands out -> draw (in processes) -> collect -> quizzes -> store -> review page.
What comes out depends on the plan, the templates, the seed and the version alone, not on how many processes work.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bank import __version__, aside
from bank.build._collect import Collected
from bank.build._demands import shares_of
from bank.build._draft import Draft
from bank.build._drawing import draw_all
from bank.build._prior import Prior, corrected, read_prior
from bank.build._quizzes import arrange, level_keys, quiz_findings
from bank.build._spool import spooled
from bank.decisions import file_beside, read_decisions
from bank.model import BankInfo
from bank.plans import Plan
from bank.run import Run
from bank.sources import read_file
from bank.store import Bank, write_bank
from bank.summary import BuildSummary, to_json
from bank.work import Pool

_BESIDE = 50_000
"""Items up to which the review page is made while the bank is written, by a process that holds as much as this one."""


def build(
    plan: Plan, folder: Path, *, seed: int | None = None, jobs: int = 1, correction: str = "",
    progress: Callable[[int, int], None] = lambda done, total: None,
) -> BuildSummary:
    """Build the bank of *plan* into *folder* (``bank.sqlite`` and ``review.html``) and return its summary.

    A bank that lies there already is read first, and so is the trail of decisions beside it: kept items stay, those
    out of use are not drawn again. *correction* says why templates were edited under their versions.

    Raises:
        BadInput: the plan asks for more than its templates give (``plan-too-much``), a template's key and its
            written method differ (``key-differs``), a template was edited so that pupils could notice, under its version and
            without a *correction* (``edited-under-its-version``), the trail of decisions cannot be read
            (``decisions-damaged``), or *folder* cannot be written (``cannot-write``).
    """
    path, page = folder / "bank.sqlite", folder / "review.html"
    with Run(folder, "build") as run:
        prior = corrected(read_prior(folder, plan), correction)
        summary, pieces = _write(plan, prior, path, plan.seed if seed is None else seed, jobs, progress)
        from bank.review import write_pieces, write_review  # see `_prepare`

        trail = read_decisions(file_beside(path))  # some may have been added meanwhile, and the page must tell them
        if pieces and trail == prior.trail:
            write_pieces(pieces, page)
            return summary
        with Bank.open(run.part_of(path)) as bank:
            write_review(bank, summary, page, trail)
        return summary


def _write(
    plan: Plan, prior: Prior, path: Path, seed: int, jobs: int, progress: Callable[[int, int], None]
) -> tuple[BuildSummary, list[str]]:
    """Write the bank file and return its summary, and its review page where that was made beside it.

    What was collected on the way is gone from memory when this returns.
    """
    collected = Collected(plan, plan.lines, prior)
    with spooled(path.parent) as spool:
        with Pool(jobs if jobs > 1 else 0) as pool:
            collected.spool = spool
            draw_all(collected, shares_of(plan, plan.lines), seed, pool, progress, _prepare)
            collected.settle()
            level_keys(collected)
            collected.keep_in_quizzes()
            arranged = arrange(plan, collected, seed)
            collected.note(quiz_findings(collected, arranged, pool))
        summary = collected.summary()
        info = BankInfo(
            title=plan.title, plan=plan.identifier, seed=seed, locale=plan.locale, tool_version=__version__,
            invented=plan.invented, rights=plan.rights, checksum=plan.checksum, settings=_settings(plan),
            corrections=prior.corrections,
        )
        withdrawn = [entry for entries in collected.withdrawn.values() for entry in entries]
        used = {entry.template for entries in (*collected.entries, withdrawn) for entry in entries}
        families = [family for key, family in collected.families.items() if key in used]
        quizzes = [quiz for _, quiz in arranged]
        order = [entry for entries, _ in arranged for entry in entries] + collected.pool()
        told = to_json(summary)
        pieces: Callable[[], list[str]] = list
        if jobs > 1 and len(order) <= _BESIDE:
            from bank.review import pieces_of

            draft = Draft(info, families, quizzes, collected, (order, withdrawn), told)
            spool.flush()
            pieces = aside.begun(lambda: list(pieces_of(draft, summary, prior.trail)))
        write_bank(path, info, families, quizzes, collected.rows(order + withdrawn), told)
        return summary, pieces()


def _settings(plan: Plan) -> tuple[tuple[str, str], ...]:
    """Return the plan's own weights, classes and thresholds, which predictions and the audit of its bank rest on."""
    return tuple((path.name, read_file(path).text) for path in plan.tree.own_settings())


def _prepare() -> None:
    """Load what makes the review page, while others draw: at the end they would have to wait for it."""
    from bank.review import prepared

    prepared()
