"""The command ``stemwright``: finds its subcommands by folder, turns errors into messages and an exit status.

Exit status: 0 all is well, 2 something handed in must be mended, 1 a fault of the tool itself. Only the command that
is wanted is imported, so that help costs next to nothing.
"""

from __future__ import annotations

import argparse
import gc
import importlib
import os
import sys

from bank import __version__, commands, folders

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

    from bank.errors import BadInput

COLLECTED_FROM = 20_000
"""New objects from which on unused ones are looked for: importing makes many and leaves none."""
MOST_PROBLEMS = 30
"""Problems printed in full; the rest are counted."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line *argv* and return the exit status."""
    gc.set_threshold(COLLECTED_FROM)
    words = sys.argv[1:] if argv is None else list(argv)
    try:
        arguments = _parser(words).parse_args(words)
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 2
    from bank.errors import BadInput

    try:
        status = arguments.run(arguments)
        sys.stdout.flush()
        return int(status)
    except BadInput as error:
        print_problems(error)
        return 2
    except KeyboardInterrupt:
        print("\nstemwright: interrupted; files are as they were", file=sys.stderr)
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except Exception as error:
        if os.environ.get("STEMWRIGHT_TRACE"):
            raise
        print(
            f"stemwright: a fault of the tool, not of your files: {type(error).__name__}: {error}\n"
            "Files are as they were. Please report it with the command you typed;"
            " STEMWRIGHT_TRACE=1 before the command shows where it happened.",
            file=sys.stderr,
        )
        return 1


def print_problems(error: BadInput) -> None:
    """Print the problems of *error* on standard error, capped, with their count."""
    problems = error.problems
    for problem in problems[:MOST_PROBLEMS]:
        print(problem, file=sys.stderr)
    if len(problems) > MOST_PROBLEMS:
        print(f"... and {len(problems) - MOST_PROBLEMS} more", file=sys.stderr)
    if len(problems) > 1:
        print(f"{len(problems)} problems; nothing was written", file=sys.stderr)


def _parser(words: Sequence[str]) -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="stemwright", formatter_class=_formatter,
        description="Build item banks for written decimal arithmetic: exact keys, wrong options from real mistakes.",
    )
    parser.add_argument("--version", action="version", version=f"stemwright {__version__}")
    subparsers = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)
    names = folders.module_names(commands)
    known = words[:1] if words and words[0] in names else names  # the others cost time and are not asked for
    for name in known:
        wanted = name in words
        summary = _first_line(os.path.join(commands.__path__[0], f"{name}.py"))
        command = subparsers.add_parser(name, help=summary, description=summary, formatter_class=_formatter)
        if wanted:
            module = importlib.import_module(f"bank.commands.{name}")
            module.add_arguments(command)
            command.set_defaults(run=module.run)
    return parser


def _first_line(path: str) -> str:
    """Return the first line of the docstring of the module at *path*, without importing it."""
    with open(path, encoding="utf-8") as file:
        return file.readline().strip().strip('"')


def _formatter(prog: str) -> argparse.HelpFormatter:
    try:
        width = os.get_terminal_size().columns
    except OSError:
        width = 80
    return argparse.HelpFormatter(prog, width=min(width, 100) - 2)


if __name__ == "__main__":
    sys.exit(main())
