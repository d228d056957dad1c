"""Learners' mistakes as programs: one decorated function each, found by folder.

A mistake works on numerals as they are written and returns the numeral that a learner with that mistake
writes, or None where the wrong procedure cannot be carried out on these operands. Whether the outcome
differs from the key is asked by `outcomes`, so a mistake need not test it.

Two mistakes can give one answer on some numbers; `outcomes` lists both. Only where a mistake without a source
would by its nature repeat what another mistake describes better does it return None, and its docstring says so.
Procedures never raise, change nothing, and take numerals from zero up.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from bank import registry
from bank.mistakes._remedies import CONDITIONS, GENERAL, Remedy, Seen, seen_of
from bank.numerals import POWERS, Numeral

__all__ = [
    "CONDITIONS", "EVIDENCE", "FORESEEN", "GENERAL", "MEMBERS", "Mistake", "Procedure", "Remedy", "Seen", "best_known",
    "best_known_beside", "just_made", "load", "mistake", "of_operation", "options_for", "outcomes", "remedy", "seen_of",
]

EVIDENCE = ("published", "common practice", "memory")
FORESEEN = 3
"""Foreseen wrong answers of a typed item that get a remedy of their own: each adds some 600 bytes. Those whose mistake
has a published source come first; the others get the family's hint, like any wrong answer."""

Procedure = Callable[..., Numeral | None]


class Mistake(NamedTuple):
    """A record with a reason: what the learner does, what helps, and how we know."""

    identifier: str
    """``operation.words-with-hyphens``, such as ``add.carry-forgotten``."""
    name: str
    """Name for people, a few words."""
    operation: str
    """``add``, ``subtract``, ``multiply``, ``divide``, ``compare`` or ``round``."""
    topic: str
    """What the mistake is about: ``decimal addition``, ``subtraction with regrouping``..."""
    learner_does: str
    remedies: tuple[Remedy, ...]
    """What helps, those for certain items first; the first one that fits an item is said."""
    source: str
    """Source keys with a page or address, or ``common practice, no source``, or ``from memory``."""
    evidence: str
    """One of `EVIDENCE`."""
    procedure: Procedure

    @property
    def feedback(self) -> str:
        """The remedy for items of the usual kind."""
        return self.remedies[-1].words


MEMBERS: registry.Members[Mistake] = registry.Members("mistake")
_by_operation: dict[str, tuple[Mistake, ...]] = {}


def mistake(
    identifier: str, *, name: str, topic: str, learner_does: str, feedback: str, source: str, evidence: str,
    needs: tuple[str, ...] = (), instead: Mapping[str, str] | None = None,
) -> Callable[[Procedure], Procedure]:
    """Register the decorated procedure as a mistake; the operation is the id's first word.

    *feedback* fits items on which the conditions *needs* hold; *instead* gives by condition (or several, with `` and ``
    between) what is said on other items.

    Raises:
        ValueError: *evidence* is none of `EVIDENCE`, a condition none of `CONDITIONS`, or the id is taken.
    """
    if evidence not in EVIDENCE:
        raise ValueError(f"{identifier}: evidence is one of {EVIDENCE}")
    remedies = (*[Remedy(words, tuple(name.split(" and "))) for name, words in (instead or {}).items()],
                Remedy(feedback, needs))
    unknown = {name for one in remedies for name in one.needs} - set(CONDITIONS)
    if unknown:
        raise ValueError(f"{identifier}: conditions are {', '.join(CONDITIONS)}, not {', '.join(sorted(unknown))}")

    def register(procedure: Procedure) -> Procedure:
        record = Mistake(
            identifier, name, identifier.partition(".")[0], topic, learner_does, remedies, source, evidence, procedure
        )
        MEMBERS.add(identifier, record, f"{procedure.__module__}.{procedure.__name__}")
        return procedure

    return register


def load() -> registry.Members[Mistake]:
    """Import the room's modules once and return all mistakes."""
    if not _by_operation:
        registry.import_members(sys.modules[__name__])
        for record in MEMBERS.values():
            _by_operation[record.operation] = (*_by_operation.get(record.operation, ()), record)
    return MEMBERS


def of_operation(operation: str) -> tuple[Mistake, ...]:
    """Return the mistakes of *operation* in order of their ids."""
    load()
    return _by_operation.get(operation, ())


@lru_cache(maxsize=4096)
def remedy(seen: Seen, names: tuple[str, ...]) -> tuple[str, Remedy] | None:
    """Return the one remedy for a wrong answer that the mistakes *names* lead to, and the id of its mistake.

    Of the mistakes that have a remedy for such an item the best documented one is taken: published before common
    practice before memory, then the one with most sources, then the first. Where none has one, it is `GENERAL`; where the
    library knows none of *names*, None. *seen* is what `seen_of` gives of the item.
    """
    known = load()
    records = sorted([known[name] for name in names if name in known], key=_documented)
    for record in records:
        for one in record.remedies:
            if one.fits(seen):
                return record.identifier, one
    return (records[0].identifier, GENERAL) if records else None


def best_known(
    wrong: Sequence[tuple[Numeral, tuple[str, ...]]], most: int = FORESEEN
) -> list[tuple[Numeral, tuple[str, ...]]]:
    """Return at most so many of the *wrong* answers, each with its mistakes; those with a published mistake first."""
    return sorted(wrong, key=_is_less_known)[:most]


def best_known_beside(
    shown: tuple[Numeral, tuple[str, ...]], wrong: Sequence[tuple[Numeral, tuple[str, ...]]]
) -> list[tuple[Numeral, tuple[str, ...]]]:
    """Return what `best_known` does where the answer of a wrong working is *shown*: that one, and others with room left."""
    return [shown, *best_known([one for one in wrong if one[0] != shown[0]], FORESEEN - 1)]


def _is_less_known(wrong: tuple[Numeral, tuple[str, ...]]) -> bool:
    return _are_unpublished(wrong[1])


@lru_cache(maxsize=4096)
def _are_unpublished(names: tuple[str, ...]) -> bool:
    known = load()
    return all([known[name].evidence != "published" for name in names if name in known])


def _documented(record: Mistake) -> tuple[int, int]:
    return EVIDENCE.index(record.evidence), -record.source.count(";")


def options_for(operation: str, layout: str = "", places: int | None = None) -> dict[str, object]:
    """Return the options that procedures of *operation* take: ``want`` (compare), ``places`` (round, divide)."""
    if operation == "compare":
        return {"want": "smallest" if layout in ("smallest", "ascending") else "largest"}
    if operation in ("round", "divide"):
        return {"places": places}
    return {}


_made: tuple[object, object, Sequence[Mistake], list[Numeral | None]] = (None, None, (), [])
"""What `outcomes` was asked last, and what each mistake gave, whether it shows or not."""
_places: dict[int, tuple[Sequence[Mistake], dict[str, int]]] = {}
"""Where each mistake stands among those asked together, which are the same objects for all items of a template."""


def just_made(operands: Sequence[Numeral], options: dict[str, object]) -> tuple[dict[str, int], list[Numeral | None]]:
    """Return what the mistakes gave that `outcomes` ran last: by id a place in the answers, and these.

    Both are empty where it ran on other *operands* (they must be the same object, not only equal) or *options*. A
    procedure gives the same whenever it is asked.
    """
    asked, given, records, answers = _made
    if asked is not operands or given != options:
        return {}, []
    known = _places.get(id(records))
    if known is None or known[0] is not records:
        if len(_places) >= 1024:
            _places.clear()
        known = _places[id(records)] = records, {record.identifier: at for at, record in enumerate(records)}
    return known[1], answers


def outcomes(
    records: Sequence[Mistake], operands: Sequence[Numeral], key: Numeral, **options: object
) -> list[tuple[Mistake, Numeral]]:
    """Return the mistakes that show on *operands*, each with the wrong numeral it gives.

    *options* are those of `options_for`. Numerals below zero have no written columns: nothing shows on them.
    """
    for operand in operands:
        if operand.coefficient < 0:
            return []
    if "places" in options:
        arguments = (*operands, options["places"])  # it is the last positional one: cheaper than by name
        answers = [record.procedure(*arguments) for record in records]
    elif options:
        answers = [record.procedure(*operands, **options) for record in records]
    elif len(operands) == 2:
        first, second = operands
        answers = [record.procedure(first, second) for record in records]
    else:
        answers = [record.procedure(*operands) for record in records]
    global _made
    _made = operands, options, records, answers
    coefficient, places = key.coefficient, key.places
    shown: list[tuple[Mistake, Numeral]] = []
    for record, answer in zip(records, answers):
        if answer is None:
            continue
        more = answer.places - places
        if not more:
            wrong = answer.coefficient != coefficient
        elif more > 0:
            wrong = answer.coefficient != coefficient * POWERS[more]
        else:
            wrong = answer.coefficient * POWERS[-more] != coefficient
        if wrong:
            shown.append((record, answer))
    return shown
