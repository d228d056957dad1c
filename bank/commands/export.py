"""Write packages for the LMS, or tables, from a bank that a build wrote."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bank.commands._arguments import add_output_and_jobs


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright export``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    parser.add_argument(
        "--as", dest="targets", action="append", required=True, metavar="TARGET",
        help="what to write (%(choices_text)s); may be given several times".replace(
            "%(choices_text)s", ", ".join(_targets())
        ),
    )
    parser.add_argument(
        "--quiz", dest="quizzes", action="append", metavar="ID", default=[],
        help="only this quiz; may be given several times; without it every quiz and the whole bank",
    )
    add_output_and_jobs(parser)


def _targets() -> list[str]:
    import exporters
    from bank import registry

    return registry.module_names(exporters)


def run(arguments: argparse.Namespace) -> int:
    """Export and return the exit status."""
    import importlib

    from bank.errors import BadInput, Place, Problem, did_you_mean
    from bank.progress import Progress
    from bank.store import Bank

    known = _targets()
    place = Place("--as")
    wrong = [target for target in arguments.targets if target not in known]
    if wrong:
        raise BadInput([
            Problem("target-unknown", place, "", f"there is no target {target!r}", did_you_mean(target, known))
            for target in wrong
        ])
    if arguments.folder.exists() and not arguments.folder.is_dir():
        raise BadInput(Problem(
            "folder-is-a-file", Place(str(arguments.folder)), "", "is a file", "name a folder after -o"
        ))
    with Bank.open(arguments.bank) as bank:
        quizzes = {quiz.identifier: quiz for quiz in bank.quizzes}
        missing = [identifier for identifier in arguments.quizzes if identifier not in quizzes]
        if missing:
            raise BadInput([
                Problem("quiz-unknown", Place("--quiz"), "", f"the bank has no quiz {identifier!r}",
                        did_you_mean(identifier, quizzes))
                for identifier in missing
            ])
        chosen = [quizzes[identifier] for identifier in dict.fromkeys(arguments.quizzes)] or list(bank.quizzes)
        for target in dict.fromkeys(arguments.targets):
            exporter = importlib.import_module(f"exporters.{target}")
            with Progress(f"Writing {target}") as progress:
                written = exporter.write(
                    arguments.bank, bank, chosen, arguments.folder, whole_bank=not arguments.quizzes,
                    jobs=arguments.jobs, progress=progress,
                )
            for path in written[:3]:
                print(path)
            if len(written) > 3:
                print(f"... and {len(written) - 3} more files of {target}")
    sys.stdout.flush()
    return 0
