"""Delete a pupil's answers, or those to a quiz, from the results kept beside a bank."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright forget``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite beside which results are kept")
    parser.add_argument("--quiz", default="", metavar="ID", help="answers to this quiz")
    whose = parser.add_mutually_exclusive_group()
    whose.add_argument(
        "--pupil", default="", metavar="CODE", help="answers of the pupil with this pseudonym (needs the salt)",
    )
    whose.add_argument("--digest", default="", metavar="DIGEST", help="answers of the pupil with this digest")
    parser.add_argument(
        "--salt", type=Path, metavar="FILE", help="the salt file (default: the one in your settings folder)",
    )


def run(arguments: argparse.Namespace) -> int:
    """Delete the answers and return the exit status."""
    from bank.audit.kept import forget, kept_path
    from bank.audit.pseudonyms import load_salt
    from bank.errors import BadInput, Place, Problem

    if not (arguments.quiz or arguments.pupil or arguments.digest):
        raise BadInput(Problem("forget-nothing", Place("stemwright forget"), "", "nothing is named to be deleted",
                               "give --pupil CODE, --digest DIGEST or --quiz ID"))
    digest = arguments.digest
    if arguments.pupil:
        digest = load_salt(arguments.salt, create=False).digest(arguments.pupil)
    path = kept_path(arguments.bank)
    done = forget(path, pupil=digest, quiz=arguments.quiz)
    if not done.answers:
        print(f"{path}: there are no such answers; nothing was changed")
        return 0
    print(f"{path}: {done.answers} answers of {done.pupils} {'pupil' if done.pupils == 1 else 'pupils'} deleted and"
          " overwritten in the file. Not reached by this: copies, backups, the result files themselves, reports made"
          " before, and what the disk may still hold of older versions of the file.")
    return 0
