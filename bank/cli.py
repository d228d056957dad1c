"""The command ``stemwright``: finds its subcommands by folder, turns errors into messages and an exit status.

Exit status: 0 all is well, 2 something handed in must be mended, 1 a fault of the tool itself, 128 and its number where
a signal ended it. Only the command that
is wanted is imported, so that help costs next to nothing.
"""

from __future__ import annotations

import argparse
import errno
import gc
import importlib
import os
import signal
import sys

from bank import __version__, commands, console, folders

TYPE_CHECKING = False
if TYPE_CHECKING:
    from collections.abc import Sequence

    from bank.errors import BadInput

COLLECTED_FROM = 20_000
"""New objects from which on unused ones are looked for: importing makes many and leaves none."""
MOST_PLACES = 5
"""Changed files that are named; the rest are counted."""
MOST_PROBLEMS = 30
"""Problems printed in full; the rest are counted."""


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line *argv* and return the exit status."""
    gc.set_threshold(COLLECTED_FROM)
    words = sys.argv[1:] if argv is None else list(argv)
    with console.opened() as lost:
        status = _status(words)
    if lost:
        with console.opened():  # standard error may be on the same full disk
            print(f"stemwright: standard output cannot be written ({lost[0].strerror}), so lines are missing there"
                  + _said_of_files("what was written all the same"), file=sys.stderr)
        return status or 2
    return status


def _status(words: Sequence[str]) -> int:
    """Run the command that *words* name, say what went wrong, and return the exit status."""
    from bank import files

    files.forget_changes()
    try:
        with console.ended_by_signals():
            return _run(words)
    except KeyboardInterrupt as stop:
        number = stop.number if isinstance(stop, console.Stopped) else signal.SIGINT
        print(f"\nstemwright: interrupted{_said_of_files()}", file=sys.stderr)
        return 128 + number


def _run(words: Sequence[str]) -> int:
    try:
        arguments = _parser(words).parse_args(words)
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else 2
    from bank.errors import BadInput, WorkerLost

    try:
        return int(arguments.run(arguments))
    except BadInput as error:
        print_problems(error)
        return 2
    except WorkerLost as error:
        print(f"stemwright: {error}{_said_of_files()}. Try again; fewer processes need less memory: --jobs 1",
              file=sys.stderr)
        return 1
    except Exception as error:
        if os.environ.get("STEMWRIGHT_TRACE"):
            raise
        if _is_about_a_name(error):
            from bank.ordinary import shown_name

            name = shown_name(getattr(error, "filename", "") or "")
            why = getattr(error, "strerror", None) or "a name holds a character that no file name can have"
            print(f"{name}: cannot be used ({why}){_said_of_files()}; name another file or folder", file=sys.stderr)
            return 2
        print(
            f"stemwright: a fault of the tool, not of your files: {type(error).__name__}: {error}{_said_of_files()}.\n"
            "Please report it with the command you typed;"
            " STEMWRIGHT_TRACE=1 before the command shows where it happened.",
            file=sys.stderr,
        )
        return 1


def _is_about_a_name(error: Exception) -> bool:
    """Whether *error* says that no file can have a name that was given, or that it leads nowhere or in a circle."""
    if isinstance(error, OSError):
        return error.errno in (errno.ENAMETOOLONG, errno.ELOOP, errno.ENOTDIR) and bool(error.filename)
    return isinstance(error, ValueError) and "null byte" in str(error)


def _said_of_files(changed_is: str = "changed before that") -> str:
    """Return what this command has changed, as the end of a sentence, called *changed_is*."""
    from bank.files import changes

    changed = changes()
    if not changed:
        return "; files are as they were"
    more = f" and {len(changed) - MOST_PLACES} more" if len(changed) > MOST_PLACES else ""
    return f"; {changed_is}: {', '.join(map(str, changed[:MOST_PLACES]))}{more}"


def print_problems(error: BadInput) -> None:
    """Print the problems of *error* on standard error, capped, with their count."""
    from bank.files import changes

    problems = error.problems
    for problem in problems[:MOST_PROBLEMS]:
        print(problem, file=sys.stderr)
    if len(problems) > MOST_PROBLEMS:
        print(f"... and {len(problems) - MOST_PROBLEMS} more", file=sys.stderr)
    if len(problems) > 1:
        print(f"{len(problems)} problems{_said_of_files()}", file=sys.stderr)
    elif changes() or problems[0].code == "cannot-write":
        print(_said_of_files().removeprefix("; "), file=sys.stderr)


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
