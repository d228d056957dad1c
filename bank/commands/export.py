"""Write packages for the LMS, or tables, from a bank that a build wrote."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from bank.commands._arguments import add_output_and_jobs

TYPE_CHECKING = False
if TYPE_CHECKING:
    from bank.model import Quiz
    from bank.store import Bank
    from exporters._portability import Target

_NAMED = 5
"""Items left out that are named one by one."""


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
    parser.add_argument(
        "--trial", action="store_true",
        help="only a trial package with one item of each kind, and a page on what to see and try after importing it",
    )
    parser.add_argument(
        "--graded", action="store_true",
        help="put the items of quizzes without feedback into the package of the whole bank too, as they are: without"
        " feedback; else only their quizzes hold them",
    )
    add_output_and_jobs(parser)


def _targets() -> list[str]:
    import exporters
    from bank import registry

    return registry.module_names(exporters)


def run(arguments: argparse.Namespace) -> int:
    """Export and return the exit status."""
    from bank.errors import BadInput, Place, Problem, did_you_mean
    from bank.run import Run
    from bank.store import Bank, Shelf
    from exporters._listing import note_export

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
    without = _left_out(arguments.bank)
    with Bank.checked(Shelf(arguments.bank, without)) as bank:
        quizzes = {quiz.identifier: quiz for quiz in bank.quizzes}
        missing = [identifier for identifier in arguments.quizzes if identifier not in quizzes]
        if missing:
            raise BadInput([
                Problem("quiz-unknown", Place("--quiz"), "", f"the bank has no quiz {identifier!r}",
                        did_you_mean(identifier, quizzes))
                for identifier in missing
            ])
        chosen = [quizzes[identifier] for identifier in dict.fromkeys(arguments.quizzes)] or list(bank.quizzes)
        chosen = _with_items(arguments, without, chosen)
        with Run(arguments.folder, "export") as one_step:
            said, noted = write_all(arguments, bank, chosen)
            if said:
                targets = list(dict.fromkeys(arguments.targets))
                asked = arguments.quizzes, arguments.trial, arguments.graded
                noted += note_export(one_step, bank.fingerprint, bank.without, targets, *asked)
    for line in said:
        print(line)
    for line in noted:
        print(line, file=sys.stderr)
    return 0


def _left_out(path: Path) -> frozenset[str]:
    """Return the items of the bank at *path* that are suspended or retired, having said so."""
    from bank.decisions import file_beside, out_of_use, read_decisions
    from bank.store import Bank

    out = out_of_use(read_decisions(file_beside(path)))
    if not out:
        return frozenset()
    with Bank.checked(path) as bank:
        found = [out[item] for item in bank.identifiers() if item in out]
    if found:
        told = "; ".join([f"{one.item} ({one.decision}, {one.by}: {one.why})" for one in found[:_NAMED]])
        more = f"; and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
        print(f"Left out, because suspended or retired: {told}{more}", file=sys.stderr)
    return frozenset([one.item for one in found])


def _with_items(arguments: argparse.Namespace, without: frozenset[str], chosen: Sequence[Quiz]) -> list[Quiz]:
    """Return those of *chosen* that have items, having said which are short, by how many, and how to fill them.

    Raises:
        BadInput: a quiz that was asked for has no item left (``quiz-empty``).
    """
    from bank.errors import BadInput, Place, Problem
    from bank.store import Bank

    if not without:
        return list(chosen)
    with Bank.checked(arguments.bank) as bank:
        whole = {quiz.identifier: len(quiz.items) for quiz in bank.quizzes}
    fill = f"build again into {arguments.bank.parent}, which draws others in their place"
    empty = []
    for quiz in chosen:
        short = whole[quiz.identifier] - len(quiz.items)
        if short and quiz.items:
            print(f"{quiz.identifier} is short: {short} of its {whole[quiz.identifier]} items are left out; {fill}",
                  file=sys.stderr)
        elif short:
            empty.append(quiz.identifier)
    if empty and arguments.quizzes:
        raise BadInput([
            Problem("quiz-empty", Place("--quiz"), "", f"all items of {name!r} are suspended or retired", fill)
            for name in empty
        ])
    for name in empty:
        print(f"{name} is not written: all its items are suspended or retired; {fill}", file=sys.stderr)
    return [quiz for quiz in chosen if quiz.items]


def _unlisted(arguments: argparse.Namespace, bank: Bank) -> frozenset[str]:
    """Return the items that the package of the whole bank leaves out: those that show no feedback."""
    if arguments.graded or arguments.quizzes or arguments.trial:
        return frozenset()
    return bank.silent()


def _told_unlisted(name: str, bank: Bank, unlisted: frozenset[str]) -> str:
    """Return which items the package of the whole bank leaves out, and how to get them."""
    quizzes = [quiz.identifier for quiz in bank.quizzes if not quiz.show_feedback]
    if not quizzes:
        return (f"{name}: the package of the whole bank leaves out {len(unlisted)} kept item{'s' * (len(unlisted) != 1)} that"
                " show no feedback; --graded puts them in")
    more = f" and {len(quizzes) - _NAMED} more" if len(quizzes) > _NAMED else ""
    return (
        f"{name}: the package of the whole bank leaves out the {len(unlisted)} items of {', '.join(quizzes[:_NAMED])}{more},"
        " which show no feedback and are in their quizzes' packages only; --graded puts them in"
    )


def write_all(arguments: argparse.Namespace, bank: Bank, chosen: Sequence[Quiz]) -> tuple[list[str], list[str]]:
    """Write packages or tables, and beside them what they cannot carry; return what to say of it, and of what is left out."""
    from bank.store import Bank

    shelf = bank.shelf._replace(unlisted=_unlisted(arguments, bank))
    with Bank.open(shelf, known=bank.fingerprint) as listed:
        return _write_all(arguments, bank, listed, chosen)


def _write_all(
    arguments: argparse.Namespace, bank: Bank, listed: Bank, chosen: Sequence[Quiz]
) -> tuple[list[str], list[str]]:
    """Do what `write_all` does; packages of the whole bank hold what is *listed* of it, tables hold all."""
    import importlib

    from bank.progress import Progress
    from exporters._portability import target_of
    from exporters._reports import write_reports
    from exporters._trial import one_of_each, trial_quiz, write_note

    whole_bank, tried = not arguments.quizzes, []
    if arguments.trial:
        used = list(dict.fromkeys(item for quiz in chosen for item in quiz.items))
        tried = one_of_each(bank.items(None if whole_bank else used))
        if not tried:
            return [], ["there are no items, so there is nothing to try"]
        whole_bank, chosen = False, [trial_quiz(tried, [quiz.identifier for quiz in bank.quizzes])]
    targets: list[Target] = []
    said: list[str] = []
    noted: list[str] = []
    for name in dict.fromkeys(arguments.targets):
        exporter = importlib.import_module(f"exporters.{name}")
        target = target_of(exporter)
        given = bank if target.tables else listed
        with Progress(f"Writing {name}") as progress:
            written = exporter.write(
                given.shelf, given, chosen, arguments.folder, whole_bank=whole_bank, jobs=arguments.jobs,
                progress=progress,
            )
        targets.append(target)
        if listed.shelf.unlisted and not target.tables:
            noted.append(_told_unlisted(name, bank, listed.shelf.unlisted))
        said += [str(path) for path in written[:3]]
        if len(written) > 3:
            said.append(f"... and {len(written) - 3} more files of {name}")
        if tried and written:
            said.append(str(write_note(targets[-1], tried, chosen[0], bank.info, written[0].name, arguments.folder)))
    for report in write_reports(targets, listed, chosen, arguments.folder, whole_bank=whole_bank):
        page = f"{arguments.folder / report.target.name / report.name}.portability.html"
        if not report.items:
            noted.append(f"{report.target.name}: {report.name} has no items")
        elif report.left_out:
            reasons = "; ".join([f"{count}: {reason}" for reason, count in report.reasons.most_common(3)])
            noted.append(
                f"{report.target.name}: {report.left_out} of {report.items} items of {report.name} are left out "
                f"({reasons}). See {page}"
            )  # fmt: skip
    for target in targets:
        said.append(f"{arguments.folder / target.name / '*.portability.html'}: what {target.name} cannot carry")
    return said, noted
