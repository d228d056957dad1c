"""Quizzes: which items stand where, and what the checks of quizzes say of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from bank import checks
from bank.build._collect import Collected, Entry
from bank.build._crew import Crew
from bank.chance import shuffled
from bank.model import Family, Finding, Quiz, Section
from bank.plans import Plan, PlannedQuiz
from bank.store import unpack

LONGEST_RUN = 3
"""Keys that may stand at one place one after the other. Common practice, no source."""


def arrange(plan: Plan, collected: Collected, seed: int) -> list[tuple[list[Entry], Quiz]]:
    """Return each quiz of *plan* with its items in order, those to choose first, then those to type."""
    made = []
    for planned in plan.quizzes:
        entries = collected.of_quiz(planned.identifier)
        choices = _mixed([entry for entry in entries if entry.size], seed, planned.identifier)
        typed = _mixed([entry for entry in entries if not entry.size], seed, planned.identifier)
        sections = []
        if choices:
            sections.append(Section(title="Choose the answer", items=tuple(e.identifier for e in choices)))
        if typed:
            sections.append(Section(title="Type the answer", items=tuple(e.identifier for e in typed)))
        made.append((choices + typed, _quiz(planned, tuple(sections))))
    return made


def _quiz(planned: PlannedQuiz, sections: tuple[Section, ...]) -> Quiz:
    return Quiz(
        identifier=planned.identifier, title=planned.title, week=planned.week, sections=sections, use=planned.use,
        show_feedback=planned.show_feedback, minutes=planned.minutes, calculator=planned.calculator,
    )


def quiz_findings(
    collected: Collected, quizzes: Sequence[tuple[list[Entry], Quiz]], crew: Crew
) -> Iterator[Finding]:
    """Yield what the checks of quizzes find."""
    families = {template.identifier: template.family for template in collected.plan.templates}
    tasks = (
        (quiz, [(entry.identifier, families[entry.template], collected.content(entry)) for entry in entries])
        for entries, quiz in quizzes
    )
    for found in crew.do(_check_quiz, tasks):
        yield from found


def _check_quiz(task: tuple[Quiz, list[tuple[str, Family, str]]]) -> list[Finding]:
    quiz, kept = task
    items = {identifier: unpack(identifier, family, content) for identifier, family, content in kept}
    return checks.run_quiz_checks(quiz, items)


def _mixed(entries: list[Entry], seed: int, quiz: str) -> list[Entry]:
    """Mix the items of a section, with no more than `LONGEST_RUN` keys at one place one after the other."""
    order = [entries[place] for place in shuffled(list(range(len(entries))), seed, quiz, "order")]
    for place in range(LONGEST_RUN, len(order)):
        run = {entry.key_place for entry in order[place - LONGEST_RUN : place + 1]}
        if len(run) == 1 and order[place].size:
            other = next((later for later in range(place + 1, len(order))
                          if order[later].key_place != order[place].key_place), None)
            if other is not None:
                order[place], order[other] = order[other], order[place]
    return order
