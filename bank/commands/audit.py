"""Audit a bank: how hard and how sound before use; with results, what happened after use."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bank.commands._arguments import folder
from bank.commands._least import add_least
from bank.commands._results import add_results_arguments


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright audit``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    add_results_arguments(parser)
    add_least(parser)
    parser.add_argument(
        "-o", dest="folder", type=folder, metavar="DIR", help="where to write (default: audit beside the bank)"
    )
    parser.add_argument("--class", dest="class_name", metavar="NAME", help="the kind of class to predict for")
    parser.add_argument("--classes", type=Path, metavar="FILE", help="a file of your own with kinds of classes")
    parser.add_argument(
        "--weights", type=Path, metavar="FILE", help="another file of weights, such as a calibrated one"
    )
    parser.add_argument(
        "--earlier", nargs="+", type=Path, metavar="FILE", default=[],
        help="results of an earlier use of the same quizzes: items that have changed are flagged",
    )
    parser.add_argument(
        "--count-unusual", action="store_true",
        help="also count pupils who answered in one letter or pattern, or left nearly all blank (default: set aside)",
    )
    parser.add_argument(
        "--settings", type=Path, metavar="FILE", help="thresholds of your own, written over those that come along"
    )
    parser.add_argument(
        "--compare", nargs=2, metavar=("REFERENCE", "FOCAL"),
        help="compare two groups item by item (Mantel-Haenszel); off unless asked for",
    )
    parser.add_argument(
        "--calibrate", type=Path, metavar="FILE", help="write the next version of the weights, from these results, here"
    )
    parser.add_argument(
        "--usage-data", choices=("2.1", "3.0"), metavar="VERSION",
        help="also write the statistics as QTI Usage Data of this version (2.1 or 3.0) and as statistics.csv",
    )
    parser.add_argument(
        "--engine", default="", metavar="URL",
        help="count by an SQL engine: duckdb:, sqlite:PATH?answers=TABLE, postgresql://HOST/NAME?answers=TABLE; with"
             " --results it counts those files, without them the answers in its table",
    )
    parser.add_argument(
        "--simulated", action="store_true", help="the answers in the engine's table are simulated: every page says so"
    )
    parser.add_argument(
        "--pupils", action="store_true",
        help="also write pupils.csv and pupils.html: whose answers fit which mistake; for the teacher only",
    )


def run(arguments: argparse.Namespace) -> int:
    """Audit and return the exit status."""
    from datetime import UTC, datetime

    from bank.audit.before import audit_before
    from bank.audit.classes import chosen_class
    from bank.decisions import file_beside, out_of_use, read_decisions, standing
    from bank.audit.report.before import terminal_lines, write_before
    from bank.audit.track import file_beside as track_beside
    from bank.audit.track import read_record, widening
    from bank.difficulty import load_weights
    from bank.run import Run
    from bank.store import Bank, Shelf
    from bank.summary import reviewed
    from bank.trees import CLASSES, WEIGHTS

    target = arguments.folder or arguments.bank.parent / "audit"
    today = f"{datetime.now(UTC):%Y-%m-%d}"
    old_answers = bool(arguments.results or arguments.engine)
    with Bank.checked(Shelf(arguments.bank, withdrawn=old_answers)) as bank, Run(target, "audit"):
        kind = chosen_class(arguments.class_name, arguments.classes or bank.own_setting(CLASSES))
        weights = load_weights(arguments.weights or bank.own_setting(WEIGHTS))
        decisions = read_decisions(file_beside(arguments.bank))
        record = read_record(track_beside(arguments.bank))
        asked = None if arguments.results or arguments.engine else widening(record, kind.name, weights.version)
        audit = audit_before(bank, weights, kind, widened=asked.factor if asked else 1.0)
        if arguments.results or arguments.engine:
            from bank.commands._after import report_after

            lines, paths = report_after(arguments, bank, audit, decisions, target, today)
        else:
            paths = write_before(audit, bank, decisions, target, today, record)
            lines = terminal_lines(audit, standing(decisions), reviewed(audit.findings, bank, decisions))
    for line in lines:
        print(line)
    print()
    for path in paths:
        print(path)
    out = out_of_use(decisions)
    wrong = sum(one.severity == "error" and one.item not in out for one in audit.findings)
    if wrong:
        print(f"{wrong} {'error' if wrong == 1 else 'errors'} in this bank: do not use it; build it again, or retire the"
              " items that the audit names", file=sys.stderr)
    return 2 if wrong else 0
