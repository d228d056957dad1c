"""What people have decided, set against what a bank holds: warnings that are open, accepted, or no longer accepted."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from bank.decisions import Acceptance, Decision, accepted, kept, lapsed, out_of_use
from bank.model import Finding
from bank.questions import content_of
from bank.summary.records import Bank

ACCEPTED_SHOWN = 8
"""Lines on accepted warnings in a terminal."""


class Reviewed(NamedTuple):
    """Decisions that concern a bank."""

    open_warnings: tuple[Finding, ...] = ()
    accepted: tuple[Acceptance, ...] = ()
    lapsed: tuple[Decision, ...] = ()
    """Acceptances that no longer hold, because the item is not in the bank as it was, or the quiz has changed."""
    out: tuple[Decision, ...] = ()
    """On items of the bank that are suspended or retired."""
    kept: tuple[Decision, ...] = ()
    """On items of the bank that stay as they are."""

    def is_accepted(self, finding: Finding) -> bool:
        """Return whether *finding* is a warning that somebody accepted."""
        return any(one.finding == finding for one in self.accepted)


def reviewed(findings: Iterable[Finding], bank: Bank, trail: Sequence[Decision]) -> Reviewed:
    """Return what the *trail* says of *bank*, in which checks had these *findings*."""
    found = tuple(findings)
    if not trail:
        return Reviewed(tuple([one for one in found if one.severity == "warning"]))
    held = set(bank.identifiers())
    holds = {quiz.identifier: content_of(quiz) for quiz in bank.quizzes}
    agreed = accepted(found, trail, holds)
    closed = {one.finding for one in agreed}
    return Reviewed(
        tuple([one for one in found if one.severity == "warning" and one not in closed]), agreed,
        lapsed(trail, held, holds),
        tuple([one for item, one in out_of_use(trail).items() if item in held]),
        tuple([one for item, one in kept(trail).items() if item in held]),
    )


def reviewed_lines(found: Reviewed) -> Iterator[str]:
    """Yield in words who accepted what, and what was decided of items that the bank holds."""
    by = Counter((one.decision.check, one.decision.by, one.decision.why) for one in found.accepted)
    for (check, who, why), count in sorted(by.items())[:ACCEPTED_SHOWN]:
        yield f"accepted by {who}: {check}{f', {count} times' if count > 1 else ''} ({why})"
    if len(by) > ACCEPTED_SHOWN:
        yield f"and {len(by) - ACCEPTED_SHOWN} more accepted warnings"
    if found.lapsed:
        names = ", ".join(dict.fromkeys([one.item for one in found.lapsed]))
        count = len(found.lapsed)
        yield (f"{count} acceptance{'s' * (count != 1)} no longer hold{'s' * (count == 1)}: changed or no longer in the bank: "
               f"{names[:200]}{'...' * (len(names) > 200)}")
    if found.out:
        names = ", ".join([one.item for one in found.out[:ACCEPTED_SHOWN]])
        count = len(found.out)
        yield (f"suspended or retired, left out of exports: {count} item{'s' * (count != 1)} ({names}"
               f"{' ...' * (count > ACCEPTED_SHOWN)}); build again to replace them")
