"""Arguments and messages of commands that read results."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

TYPE_CHECKING = False
if TYPE_CHECKING:
    from bank.audit.records import Answers
    from bank.store import Bank

MOST_LINES = 10
CAUTION = (
    "Answers are personal data even under pseudonyms. Before you read, keep or show them, follow the rules of your school"
    " and its data protection officer; show results of single pupils to their teacher only."
)
"""Said with every import. Common practice, no source; local policy goes before it."""


def add_results_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare ``--results`` and what goes with it."""
    group = parser.add_argument_group("results")
    group.add_argument(
        "--results", nargs="+", type=Path, metavar="FILE", default=[],
        help="results: CSV tables, QTI results (.xml), folders or zip files of them, kept results",
    )
    group.add_argument(
        "--map", dest="mapping", action="append", metavar="FIELD=HEADING", default=[],
        help="which column is what, where guessing is wrong: pupil, quiz, item, response, score ...",
    )
    group.add_argument("--results-quiz", default="", metavar="ID", help="the quiz, where the results do not name it")
    group.add_argument(
        "--attempts", choices=("first", "last", "all"), default="first", help="which attempt counts (default: first)",
    )
    group.add_argument(
        "--absent", choices=("not given", "blank"), default="not given",
        help="what an item without a row is in a long table (default: not given)",
    )
    group.add_argument(
        "--salt", type=Path, metavar="FILE",
        help="the file of the secret that pseudonyms are hashed with (default: in your settings folder)",
    )
    group.add_argument(
        "--keep", action="store_true", help="keep the answers beside the bank, in results.sqlite; see stemwright forget",
    )


def answers_from(arguments: argparse.Namespace, bank: Bank) -> Answers:
    """Return the answers that the *arguments* name, having said how they were read, and kept them if that is asked.

    Raises:
        BadInput: they cannot or must not be read.
    """
    from bank.audit.kept import keep, kept_path
    from bank.audit.reading import read_results

    answers = read_results(
        bank, arguments.results, mapping=mapping_from(arguments.mapping), salt=arguments.salt,
        attempts=arguments.attempts, absent=arguments.absent, quiz=arguments.results_quiz, tell=print,
    )
    for line in reading_lines(answers):
        print(line)
    if arguments.keep:
        path = kept_path(bank.path)
        done = keep(path, answers)
        said = f"kept in {path}: {done.added} new answers, {done.known} known already"
        print(said + (f", {done.differing} other than the kept ones, which stay" if done.differing else ""))
    print(CAUTION, file=sys.stderr)
    return answers


def mapping_from(words: list[str]) -> dict[str, str]:
    """Return headings by field from words such as ``pupil=Code``.

    Raises:
        BadInput: a word is no such pair (``map-form``).
    """
    from bank.errors import BadInput, Place, Problem

    wrong = [word for word in words if not all(word.partition("=")[::2])]
    if wrong:
        raise BadInput([
            Problem("map-form", Place("--map"), "", f"{word!r} is no pair", "write FIELD=HEADING, such as pupil=Code")
            for word in wrong
        ])
    return {field.strip().lower(): heading for field, _, heading in [word.partition("=") for word in words]}


def reading_lines(answers: Answers) -> list[str]:
    """Return lines that say what was read, what was not, and what was noticed."""
    said = [f"{answers.rows} answers of {len(answers.pupils)} pupils count"]
    if answers.foreign:
        said.insert(0, f"! {answers.foreign}")
    if answers.simulated:
        said.insert(0, "SIMULATED: nobody gave these answers")
    if answers.rejected:
        said.append(f"{len(answers.rejected)} rows do not count:")
        said += [f"  {file}, row {row}: {reason}" for file, row, reason in answers.rejected[:MOST_LINES]]
        if len(answers.rejected) > MOST_LINES:
            said.append(f"  ... and {len(answers.rejected) - MOST_LINES} more")
    said += list(answers.remarks[:MOST_LINES])
    if len(answers.remarks) > MOST_LINES:
        said.append(f"... and {len(answers.remarks) - MOST_LINES} more remarks")
    return said
