"""Compare two banks: items added, gone and changed, quizzes touched, and what pupils have met of it."""

from __future__ import annotations

import argparse
from pathlib import Path

from bank.commands._arguments import folder


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright compare``."""
    parser.add_argument("old", type=Path, metavar="OLD", help="a bank.sqlite, or the folder in which it lies")
    parser.add_argument("new", type=Path, metavar="NEW", help="another one")
    parser.add_argument(
        "-o", dest="folder", type=folder, metavar="DIR", help="also write compare.html into this folder"
    )


def run(arguments: argparse.Namespace) -> int:
    """Compare and return the exit status."""
    from bank.audit.kept import is_kept, kept_items, kept_path
    from bank.comparison import compare
    from bank.comparison.page import terminal_lines, write_page
    from bank.run import Run
    from bank.store import Bank

    paths = [path / "bank.sqlite" if path.is_dir() else path for path in (arguments.old, arguments.new)]
    met = {path: kept_items(kept_path(path)) for path in paths if is_kept(kept_path(path))}
    with Bank.checked(paths[0]) as old, Bank.checked(paths[1]) as new:
        found = compare(old, new, met)
    for line in terminal_lines(found):
        print(line)
    if arguments.folder is not None:
        page = arguments.folder / "compare.html"
        with Run(arguments.folder, "compare"):
            write_page(found, page)
        print(f"Page: {page}")
    return 0
