"""Make simulated results of a bank's quizzes, marked as simulated, to try the reports with."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright sample``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    parser.add_argument("--pupils", type=int, required=True, metavar="N", help="how many pupils")
    parser.add_argument("--seed", type=int, required=True, metavar="S", help="which pupils: a whole number from 0")
    parser.add_argument(
        "--quiz", dest="quizzes", action="append", metavar="ID", default=[],
        help="only this quiz; may be given several times; without it every quiz",
    )
    parser.add_argument(
        "--groups", nargs="+", metavar="NAME", default=[""], help="classes that the pupils are dealt out to",
    )
    parser.add_argument(
        "--as", dest="form", choices=["long", "wide", "qti30", "qti22", "qti21"], default="",
        help="what to write: CSV, a row an answer or a row a pupil, or QTI results in a zip file"
        " (default: by the name; .csv long, ...wide.csv wide, .zip qti30)",
    )
    parser.add_argument("-o", dest="file", type=Path, required=True, metavar="FILE", help="the file to write")
    parser.add_argument("--truth", type=Path, metavar="FILE", help="write what was put in to this CSV file as well")


def run(arguments: argparse.Namespace) -> int:
    """Write the simulated results and return the exit status."""
    from bank.audit.simulation import form_of, simulate, write_results, write_truth
    from bank.errors import BadInput, Place, Problem
    from bank.run import Run
    from bank.store import Bank

    if not 0 <= arguments.seed < 2**63:
        raise BadInput(Problem(
            "seed-out-of-range", Place("--seed"), "", f"{arguments.seed} is no seed", "write a whole number from 0"
        ))
    form = form_of(arguments.file, arguments.form)
    with Bank.checked(arguments.bank) as bank:
        made = simulate(
            bank, pupils=arguments.pupils, seed=arguments.seed, quizzes=arguments.quizzes,
            groups=tuple(dict.fromkeys(arguments.groups)),
        )
    with Run(arguments.file.parent, "sample"):
        write_results(made, arguments.file, form)
        if arguments.truth:
            write_truth(made, arguments.truth)
    print(f"Simulated, nobody gave these answers: {made.answers.rows} answers of {arguments.pupils} pupils to "
          f"{len(made.answers.forms)} quizzes: {arguments.file}")
    if arguments.truth:
        print(f"What was put in: {arguments.truth}")
    return 0
