"""The least size of a group that is shown."""

from __future__ import annotations

import argparse

TYPE_CHECKING = False
if TYPE_CHECKING:
    from typing import NoReturn


def add_least(parser: argparse.ArgumentParser) -> None:
    """Declare ``--least``."""
    parser.add_argument(
        "--least", type=int, metavar="N",
        help="pupils that a group must have to be shown (default 10; local policy decides)",
    )


def least_of(arguments: argparse.Namespace, usual: int) -> int:
    """Return the least size that *arguments* name, the *usual* one where they name none.

    Raises:
        BadInput: it is none (``least-out-of-range``).
    """
    from bank.errors import BadInput, Place, Problem

    if arguments.least is not None and arguments.least < 1:
        raise BadInput(Problem("least-out-of-range", Place("--least"), "", f"{arguments.least} is no number of pupils",
                               "write a whole number from 1"))
    return usual if arguments.least is None else int(arguments.least)


def refuse_few(pupils: int, least: int) -> None:
    """Refuse results of fewer than *least* pupils.

    Raises:
        BadInput: there are fewer (``group-too-small``).
    """
    if pupils < least:
        _refuse(f"these are the results of {pupils} pupils; of fewer than {least} nothing is shown, so that"
                " nobody can be recognised")


def refuse_unshown(quizzes: int, least: int, unread: bool) -> None:
    """Refuse results of which no quiz can be shown; *quizzes* is the number of those that can.

    *unread* says that items are not judged because too many of their rows could not be read.

    Raises:
        BadInput: there is none (``group-too-small``, ``results-mostly-refused``).
    """
    if not quizzes and unread:
        from bank.errors import BadInput, Place, Problem

        raise BadInput(Problem(
            "results-mostly-refused", Place("--results"), "",
            "so many rows could not be read that no item of a quiz can be judged",
            "see above why rows do not count, and have the results exported again",
        ))
    if not quizzes:
        _refuse(f"no quiz was answered by {least} pupils or more; nothing is shown of fewer, so that nobody can be"
                " recognised")


def _refuse(wrong: str) -> NoReturn:
    from bank.errors import BadInput, Place, Problem

    raise BadInput(Problem(
        "group-too-small", Place("--results"), "", wrong,
        "hand in more results, or, where your local policy allows it, say a smaller number after --least",
    ))
