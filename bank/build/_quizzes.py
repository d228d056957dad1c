"""Quizzes: which items stand where, and what the checks of quizzes say of them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from bank import checks
from bank.build._collect import Collected, Entry
from bank.chance import shuffled
from bank.checks.forms import most_by_chance
from bank.cues import LARGEST_SET
from bank.model import Family, Finding, Quiz, Section
from bank.plans import Plan, PlannedQuiz
from bank.store import unpack
from bank.work import Pool

LONGEST_RUN = 3
"""Keys that may stand at one place one after the other. Common practice, no source."""
EASY_START = 2
"""Items at the head of a section that are its easiest by prediction. Common practice, no source."""
_ATTEMPTS = 100
SECTIONS = {
    "choice": "Choose the answer", "choose-in-line": "Choose the sign", "choose-several": "Choose all that are right",
    "match-pairs": "Match", "put-in-order": "Put in order", "find-mistake": "Find the mistake",
    "typed": "Type the answer",
}
"""Titles of a quiz's sections by kind of response, in the order in which they come."""


def arrange(plan: Plan, collected: Collected, seed: int) -> list[tuple[list[Entry], Quiz]]:
    """Return each quiz of *plan* with its items in order, a section for each way of answering, in order of `SECTIONS`."""
    made = []
    for planned in plan.quizzes:
        entries = collected.of_quiz(planned.identifier)
        sections, order = [], []
        for kind, title in SECTIONS.items():
            part = _mixed([entry for entry in entries if entry.kind == kind], seed, planned.identifier)
            if part:
                sections.append(Section(title=title, items=tuple(collected.kept(entry)[0] for entry in part)))
                order += part
        quiz = _quiz(planned, tuple(_selected(sections, planned.ask)))
        withdrawn = [collected.kept(entry)[0] for entry in collected.withdrawn.get(planned.identifier, ())]
        made.append((order, replace(quiz, withdrawn=tuple(withdrawn))))
    return made


def _selected(sections: Sequence[Section], ask: int) -> list[Section]:
    """Return *sections* with how many items of each a pupil is asked: *ask* in all, shared out as the items are.

    Each section asks at least one; what is left over after whole shares goes to the largest remainders, the first
    section first.
    """
    total = sum([len(section.items) for section in sections])
    if not ask or ask >= total:
        return list(sections)
    shares = [ask * len(section.items) // total for section in sections]
    by_remainder = sorted(range(len(sections)), key=lambda at: -(ask * len(sections[at].items) % total))
    for at in by_remainder[: ask - sum(shares)]:
        shares[at] += 1
    return [replace(section, select=max(1, share)) for section, share in zip(sections, shares, strict=True)]


def _quiz(planned: PlannedQuiz, sections: tuple[Section, ...]) -> Quiz:
    return Quiz(
        identifier=planned.identifier, title=planned.title, week=planned.week, sections=sections, use=planned.use,
        show_feedback=planned.show_feedback, minutes=planned.minutes, calculator=planned.calculator,
        attempts=planned.attempts, shuffled=planned.shuffled,
    )


def quiz_findings(
    collected: Collected, quizzes: Sequence[tuple[list[Entry], Quiz]], pool: Pool
) -> Iterator[Finding]:
    """Yield what the checks of quizzes find."""
    families = collected.families
    tasks = (
        ((quiz, [(identifier, families[entry.template], content) for entry in entries
                for identifier, _, content in [collected.kept(entry)]]),)
        for entries, quiz in quizzes
    )
    for found in pool.each(_check_quiz, tasks):
        yield from found


def _check_quiz(task: tuple[Quiz, list[tuple[str, Family, str]]]) -> list[Finding]:
    quiz, kept = task
    items = {identifier: unpack(identifier, family, content) for identifier, family, content in kept}
    return checks.run_quiz_checks(quiz, items)


def _mixed(entries: list[Entry], seed: int, quiz: str) -> list[Entry]:
    """Mix the items of a section: an easy start, and no more than `LONGEST_RUN` keys running at one place."""
    by_score = sorted(entries, key=lambda entry: (entry.score, entry.start))
    first, rest = by_score[:EASY_START], by_score[EASY_START:]
    order = by_score
    for attempt in range(_ATTEMPTS):
        order = first + [rest[place] for place in shuffled(list(range(len(rest))), seed, quiz, "order", attempt)]
        if not _runs(order):
            break
    return order


def _runs(order: Sequence[Entry]) -> bool:
    places = [entry.key_place for entry in order if entry.in_order]
    return any(
        len(set(places[start : start + LONGEST_RUN + 1])) == 1 for start in range(len(places) - LONGEST_RUN)
    )


def level_keys(collected: Collected) -> None:
    """Exchange items between quizzes until no place holds more keys of a quiz than chance allows.

    Only siblings that meet the same filters, and show feedback or not alike, are exchanged, so every line still gets
    what it asked for.
    """
    for quiz in collected.plan.quizzes:
        for size in range(2, LARGEST_SET + 1):
            while (place := _crowded(collected.of_quiz(quiz.identifier), size)) is not None:
                if not _exchange(collected, quiz.identifier, size, place):
                    break


def _crowded(entries: Sequence[Entry], size: int) -> int | None:
    """Return the place that holds too many keys of the items with *size* options, None where there is none."""
    places = [entry.key_place for entry in entries if entry.in_order and entry.size == size]
    most = most_by_chance(len(places), size, size) if places else 0
    return next((place for place in range(size) if places.count(place) > most), None)


def _exchange(collected: Collected, quiz: str, size: int, place: int) -> bool:
    """Give an item of *quiz* with its key at *place* away for a sibling with another; return whether one was found."""
    mine = [(line, at) for line, at, entry in _ordered(collected, size)
            if collected.lines[line].quiz == quiz and entry.key_place == place]
    for line, at in mine:
        given = collected.entries[line][at]
        for other_line, other_at, other in _ordered(collected, size):
            wants, gets = collected.lines[line], collected.lines[other_line]
            if (
                gets.quiz != quiz and other.template == given.template and other.key_place != place
                and (wants.mistake, wants.band, wants.shows_feedback) == (gets.mistake, gets.band, gets.shows_feedback)
            ):
                collected.entries[line][at], collected.entries[other_line][other_at] = other, given
                if not gets.quiz or _crowded(collected.of_quiz(gets.quiz), size) is None:
                    return True
                collected.entries[line][at], collected.entries[other_line][other_at] = given, other
    return False


def _ordered(collected: Collected, size: int) -> Iterator[tuple[int, int, Entry]]:
    for line, entries in enumerate(collected.entries):
        for at, entry in enumerate(entries):
            if entry.in_order and entry.size == size and entry.start not in collected.settled:
                yield line, at, entry
