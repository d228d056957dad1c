"""Build a term's item bank and its review page from a plan."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bank.commands._arguments import add_output_and_jobs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright build``."""
    parser.add_argument("plan", type=Path, metavar="PLAN.yaml", help="the term plan")
    parser.add_argument("--seed", type=int, metavar="N", help="another seed than the plan's")
    parser.add_argument(
        "--correction", default="", metavar="REASON",
        help="build although templates were edited under their versions so that pupils could notice: it mends a mistake,"
             " and this is why",
    )
    add_output_and_jobs(parser)


def run(arguments: argparse.Namespace) -> int:
    """Build and return the exit status."""
    from bank.build import build
    from bank.decisions import file_beside, read_decisions
    from bank.errors import BadInput, Place, Problem
    from bank.plans import load_plan
    from bank.progress import Progress
    from bank.store import Bank
    from bank.summary import terminal_summary
    from exporters._listing import notes_on_other_banks, read_list

    if arguments.seed is not None and not 0 <= arguments.seed < 2**63:
        raise BadInput(Problem(
            "seed-out-of-range", Place("--seed"), "", f"{arguments.seed} is no seed", "write a whole number from 0"
        ))
    plan = load_plan(arguments.plan)
    for note in plan.notes:
        print(f"note: {note}", file=sys.stderr)
    with Progress("Building") as progress:
        summary = build(
            plan, arguments.folder, seed=arguments.seed, jobs=arguments.jobs, correction=arguments.correction,
            progress=progress,
        )
    path = arguments.folder / "bank.sqlite"
    with Bank.open(path) as bank:
        print(terminal_summary(summary, bank, read_decisions(file_beside(path))))
        others = notes_on_other_banks(arguments.folder, read_list(arguments.folder), bank.fingerprint)
    for line in plan.says:
        print(f"Read: {line}")
    print(f"Bank: {path}\nReview page: {arguments.folder / 'review.html'}")
    for line in others:
        print(line, file=sys.stderr)
    return 0
