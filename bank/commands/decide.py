"""Record a decision about items: keep, revise, suspend, retire, or accept a warning; by whom and why."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

TYPE_CHECKING = False
if TYPE_CHECKING:
    from bank.decisions import Decision
    from bank.model import Finding, Item, Quiz
    from bank.store import Bank

    Known = Mapping[str, tuple[int, str]]
    """Version and digest of the question, by item; 0 and the digest of what it holds, by quiz."""

_PAUSE = 0.05
"""Seconds after which a busy folder is tried again."""


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright decide``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    parser.add_argument("items", nargs="+", metavar="ITEM", help="ids of the items, or of quizzes whose warning is accepted")
    ways = parser.add_mutually_exclusive_group(required=True)
    for name, help_text in (
        ("keep", "use on, and leave as it is when its template changes"), ("revise", "write a new version"),
        ("suspend", "do not use until looked at"), ("retire", "do not use again"),
    ):
        ways.add_argument(f"--{name}", dest="decision", action="store_const", const=name, help=help_text)
    ways.add_argument("--accept", metavar="CHECK", default="", help="accept the warning of this check")
    parser.add_argument("--by", required=True, metavar="WHO", help="who decides")
    parser.add_argument("--why", required=True, metavar="REASON", help="why")


def run(arguments: argparse.Namespace) -> int:
    """Record and return the exit status."""
    from datetime import UTC, datetime

    from bank.decisions import Decision, add_decisions, file_beside, read_decisions
    from bank.store import Bank

    wanted = list(dict.fromkeys(arguments.items))
    path = file_beside(arguments.bank)
    decision = "accept" if arguments.accept else arguments.decision
    with Bank.checked(arguments.bank) as bank:
        known = _known(bank, wanted, read_decisions(path), decision)
        if arguments.accept:
            _refuse_what_was_not_found(bank, wanted, arguments.accept)
        now = f"{datetime.now(UTC):%Y-%m-%dT%H:%MZ}"
        add_decisions(path, [
            Decision(now, arguments.by, item, version, decision, arguments.why, arguments.accept, question)
            for item, (version, question) in ((item, known[item]) for item in wanted)
        ])
        print(f"{decision}{f' {arguments.accept}' * bool(arguments.accept)}: {', '.join(wanted)}\nRecorded in {path}")
        for line in _what_follows(bank, wanted, read_decisions(path), decision):
            print(line)
    print(_page_made_anew(arguments.bank, path))
    return 0


def _known(bank: Bank, wanted: Sequence[str], trail: Sequence[Decision], decision: str) -> Known:
    """Return what a decision must say of each of *wanted*: of the bank, else of the trail, which outlives rebuilds.

    Raises:
        BadInput: it is in neither (``item-unknown``), or a quiz, of which only warnings are accepted (``is-a-quiz``).
    """
    from bank.errors import BadInput, Place, Problem, did_you_mean
    from bank.questions import content_of, question_of

    place, problems = Place("ITEM"), []
    quizzes = {quiz.identifier: quiz for quiz in bank.quizzes}
    items = set(bank.identifiers())
    known: dict[str, tuple[int, str]] = {one.item: (one.version, one.question) for one in trail if one.version}
    for name in wanted:
        if name in quizzes and decision == "accept":
            known[name] = (0, content_of(quizzes[name]))
        elif name in quizzes and name not in items:
            problems.append(Problem("is-a-quiz", place, "", f"{name!r} is a quiz", "name the items of it that are meant"))
        elif name not in items and (name not in known or decision == "accept"):
            near = did_you_mean(name, items | set(quizzes) if decision == "accept" else items)
            problems.append(Problem("item-unknown", place, "", f"the bank has no item {name!r}", near))
    if problems:
        raise BadInput(problems)
    for item in bank.items([name for name in wanted if name in items], solutions=False):
        known[item.identifier] = (item.family.version, question_of(item))
    return known


def _refuse_what_was_not_found(bank: Bank, wanted: Sequence[str], check: str) -> None:
    """Raise where *check* warns of one of *wanted* no more, or never did: nothing can be accepted then.

    Raises:
        BadInput: there is no such check (``check-unknown``), or no such warning (``nothing-to-accept``).
    """
    from bank import checks
    from bank.errors import BadInput, Place, Problem, did_you_mean

    place = Place("--accept")
    known = checks.load()
    if check not in known:
        raise BadInput(Problem(
            "check-unknown", place, "", f"there is no check {check!r}", did_you_mean(check, known)
        ))
    found: dict[str, set[str]] = {name: set() for name in wanted}
    for finding in _findings(bank, wanted):
        if finding.severity == "warning" and finding.item in found:
            found[finding.item].add(finding.check)
    problems = []
    for name, checked in found.items():
        if check not in checked:
            others = f"of {name} these checks warn: {', '.join(sorted(checked))}" if checked else "leave it out"
            problems.append(Problem("nothing-to-accept", place, "", f"{check} does not warn of {name}", others))
    if problems:
        raise BadInput(problems)


def _findings(bank: Bank, wanted: Sequence[str]) -> Iterator[Finding]:
    """Yield what the checks find in the items and quizzes *wanted*, and in quizzes that hold one of the items."""
    from bank import checks

    asked = set(wanted)
    quizzes: list[Quiz] = [quiz for quiz in bank.quizzes if quiz.identifier in asked or asked & set(quiz.items)]
    used = dict.fromkeys([item for quiz in quizzes for item in quiz.items])
    known = set(bank.identifiers())
    read = list(dict.fromkeys([*[name for name in wanted if name in known], *used]))
    items: dict[str, Item] = {item.identifier: item for item in bank.items(read)}
    for name, item in items.items():
        if name in asked:
            yield from checks.run_item_checks(item, bank.info.locale)
    for quiz in quizzes:
        yield from checks.run_quiz_checks(quiz, items)


def _what_follows(bank: Bank, wanted: Sequence[str], trail: Sequence[Decision], decision: str) -> Iterator[str]:
    """Yield what the decision does from now on."""
    from bank.summary import from_json, reviewed

    if decision == "accept":
        summary = from_json(bank.summary)
        count = len(reviewed(summary.findings, bank, trail).open_warnings)
        count += sum(more for _, severity, more in summary.more if severity == "warning")
        yield f"{count} warning{'s' * (count != 1)} still open"
    quizzes = [quiz.identifier for quiz in bank.quizzes if set(quiz.items) & set(wanted)]
    if decision in ("retire", "suspend"):
        yield "Left out of every export from now on, and not drawn again by a build into this folder."
        if quizzes:
            yield f"Build again to replace it in {', '.join(quizzes)}."
    if decision == "keep":
        yield "Stays as it is when its template changes."


def _page_made_anew(where: Path, path: Path) -> str:
    """Write the review page beside the bank anew, where there is one, with the trail at *path*; return what was done.

    Who finds another run in the folder waits a little for it: the decision stands already, and the page can follow.
    """
    import time

    from bank.decisions import read_decisions
    from bank.errors import BadInput
    from bank.review import write_review
    from bank.run import PATIENCE, Run
    from bank.store import Bank
    from bank.summary import from_json

    page = where.with_name("review.html")
    if not page.exists():
        return f"No review page lies beside {where.name}"
    patient = time.monotonic() + PATIENCE
    while True:
        try:
            with Run(page.parent, "decide"), Bank.open(where) as bank:  # a build may have put another there meanwhile
                write_review(bank, from_json(bank.summary), page, read_decisions(path))
        except BadInput as error:
            busy = any(one.code == "folder-busy" for one in error.problems)
            if not busy or time.monotonic() > patient:
                return f"The review page is as it was: {error.problems[0].wrong}"
            time.sleep(_PAUSE)
        else:
            return f"Review page: {page}"
