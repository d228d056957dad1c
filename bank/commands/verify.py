"""Work everything out again: a bank against its fingerprint, keys, options, review page, packages and tables."""

from __future__ import annotations

import argparse
from pathlib import Path

from bank.commands._arguments import folder, jobs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright verify``."""
    parser.add_argument("folder", type=folder, metavar="DIR", help="the folder of a build, or of an export")
    parser.add_argument(
        "--bank", type=Path, metavar="BANK", help="the bank that the packages were made from (default: the one in DIR)"
    )
    parser.add_argument("--jobs", type=jobs, default="0", metavar="N", help="processes (default: one a core)")


def run(arguments: argparse.Namespace) -> int:
    """Verify, say what was checked, and return the exit status."""
    from bank.commands._verifying import verify
    from bank.errors import BadInput

    found = verify(arguments.folder, arguments.bank or arguments.folder / "bank.sqlite", arguments.jobs)
    for line in found.said:
        print(line)
    if found.wrong:
        raise BadInput(found.wrong)
    print("Nothing wrong was found in what was checked.")
    return 0
