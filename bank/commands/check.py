"""Check templates, plans, topics and locales, and say everything that is wrong at once."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

MOST_PROBLEMS = 100
"""Problems printed in full; the rest are counted."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright check``."""
    parser.add_argument(
        "paths", nargs="+", type=Path, metavar="FILE",
        help="a template, plan, topic or locale, or a folder of them; a plan brings its templates along",
    )
    parser.add_argument(
        "--reads-only", action="store_true",
        help="make no items: quicker, but what the checks of items refuse is not found",
    )


def run(arguments: argparse.Namespace) -> int:
    """Print a line for each file that is well, and all problems on standard error; return 0, or 2 with problems."""
    from bank.commands._checking import check_files

    lines, problems, files, notes = check_files(arguments.paths, makes_items=not arguments.reads_only)
    for line in lines:
        print(line)
    for note in notes:
        print(f"note: {note}", file=sys.stderr)
    if not problems:
        return 0
    sys.stdout.flush()
    for problem in problems[:MOST_PROBLEMS]:
        print(problem, file=sys.stderr)
    if len(problems) > MOST_PROBLEMS:
        print(f"... and {len(problems) - MOST_PROBLEMS} more", file=sys.stderr)
    wrong = len({problem.place.file for problem in problems})
    count = "1 problem" if len(problems) == 1 else f"{len(problems)} problems"
    print(f"{count} in {wrong} of {files} {'file' if files == 1 else 'files'}", file=sys.stderr)
    return 2
