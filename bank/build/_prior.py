"""The bank that lies in the folder before a build: what was decided of its items, and which templates were edited."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from contextlib import closing
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import NamedTuple

from bank.audit.kept import is_kept, kept_items, kept_path
from bank.decisions import Decision, file_beside, kept, out_of_use, read_decisions
from bank.errors import BadInput, Place, Problem
from bank.model import BankInfo, Correction, Family, Item
from bank.plans import Plan
from bank.questions import of_letters, question
from bank.store import Bank

_NAMED = 5
"""Items that a message names one by one."""


class Old(NamedTuple):
    """An item of the bank that lies there, about which something was decided."""

    item: Item
    quiz: str
    """Id of the quiz in which it stands, or stood before it was withdrawn; empty for the pool."""
    in_use: bool
    """Whether it was not withdrawn before."""
    decision: Decision

    @property
    def question(self) -> bytes:
        """As `bank.draw.Kept.question`."""
        return question(self.item.stem, self.item.operands, self.item.family.operation)


class Edited(NamedTuple):
    """A template whose items would look otherwise to pupils though its version is the same."""

    family: Family
    """As it is now."""
    source: str
    """Name of its file."""
    items: int
    """How many items of the bank are concerned."""
    named: tuple[str, ...]
    """Their ids, or as many of them as a message names."""
    met: int | None
    """How many of them pupils have met; None where no answers are kept beside the bank."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Prior:
    """What a build must know of the bank that lies there; empty where none does."""

    trail: tuple[Decision, ...] = ()
    info: BankInfo | None = None
    kept: tuple[Old, ...] = ()
    """Items that are to stay as they are, in the order of the bank."""
    out: tuple[Old, ...] = ()
    """Items that are suspended or retired and still lie in the bank."""
    banned: Mapping[bytes, Decision] = field(default_factory=dict)
    """Questions of all items that are suspended or retired."""
    out_of_use: Mapping[str, Decision] = field(default_factory=dict)
    """By the ids of these items."""
    lost: tuple[Decision, ...] = ()
    """On items that are to stay as they are, but do not lie in the bank."""
    edited: tuple[Edited, ...] = ()
    corrections: tuple[Correction, ...] = ()
    """As `bank.model.BankInfo.corrections`."""
    unread: str = ""
    """Why the bank there could not be read; empty where it could, or where there is none."""


def read_prior(folder: Path, plan: Plan) -> Prior:
    """Return what lies in *folder* before *plan* is built into it.

    Raises:
        BadInput: the trail of decisions cannot be read (``decisions-damaged``).
    """
    path = folder / "bank.sqlite"
    trail = read_decisions(file_beside(path))
    out, stay = out_of_use(trail), kept(trail)
    banned = {of_letters(one.question): one for one in out.values() if one.question}
    if not path.exists():
        return Prior(trail=trail, banned=banned, out_of_use=out, lost=tuple(stay.values()))
    try:
        with closing(Bank.checked(path)) as bank:
            bank.check()
            found = tuple(_olds(bank, {**out, **stay}))
            edited = tuple(_edited(bank, plan))
            info = bank.info
    except BadInput as error:
        unread = error.problems[0].wrong
        return Prior(trail=trail, banned=banned, out_of_use=out, lost=tuple(stay.values()), unread=unread)
    gone = tuple([one for one in found if one.item.identifier in out])
    here = {one.item.identifier for one in found}
    return Prior(
        trail=trail, info=info, kept=tuple([one for one in found if one.item.identifier in stay]), out=gone,
        banned={**{one.question: one.decision for one in gone}, **banned}, out_of_use=out,
        lost=tuple([one for item, one in stay.items() if item not in here]), edited=edited,
        corrections=info.corrections,
    )


def _olds(bank: Bank, decided: Mapping[str, Decision]) -> Iterable[Old]:
    if not decided:
        return
    held = {item: quiz.identifier for quiz in reversed(bank.quizzes) for item in (*quiz.items, *quiz.withdrawn)}
    here = bank.identifiers()
    in_use = set(here)
    wanted = [item for item in dict.fromkeys([*here, *held]) if item in decided]
    for item in bank.items(wanted):
        yield Old(item, held.get(item.identifier, ""), item.identifier in in_use, decided[item.identifier])


def _edited(bank: Bank, plan: Plan) -> Iterable[Edited]:
    """Yield the templates of *plan* that were edited so that a pupil could notice, under the version of *bank*.

    Items that stay as they are keep the family that they had; that was settled when they were first carried over.
    """
    corrected = {(one.template, one.version, one.visible) for one in bank.info.corrections}
    met: frozenset[str] | None = None
    for template in plan.templates:
        now = template.family
        before = {key: family for key, family in bank.families.items()
                  if (family.template, family.version) == (now.template, now.version) and family.visible}
        current = {key: family for key, family in before.items() if not family.carried}
        if not current and (now.template, now.version, now.visible) in corrected:
            continue
        differing = {key for key, family in (current or before).items() if family.visible != now.visible}
        if not differing:
            continue
        names = bank.identifiers()
        found = [name for name, key in zip(names, bank.templates_of(names), strict=True) if key in differing]
        if met is None and is_kept(kept_path(bank.path)):
            met = kept_items(kept_path(bank.path))
        yield Edited(
            now, template.source, len(found), tuple(found[:_NAMED]),
            None if met is None else len(met.intersection(found)),
        )


def corrected(prior: Prior, reason: str) -> Prior:
    """Return *prior* with a correction for each template that was edited, for *reason*.

    Raises:
        BadInput: templates were edited and no *reason* is given (``edited-under-its-version``).
    """
    if prior.edited and not reason.strip():
        raise BadInput([_unsaid(one) for one in prior.edited])
    made = [Correction(one.family.template, one.family.version, one.family.visible, reason) for one in prior.edited]
    return replace(prior, corrections=(*prior.corrections, *made))


def _unsaid(one: Edited) -> Problem:
    version = one.family.version
    if one.met is None:
        met = "no answers are kept beside the bank, so whether pupils have met them is not known"
    else:
        met = f"pupils have met {one.met} of them"
    more = f" and {one.items - len(one.named)} more" if one.items > len(one.named) else ""
    names = f" ({', '.join(one.named)}{more})" if one.named else ""
    what = f"{one.items} item{'s' * (one.items != 1)} of the bank there{names}"
    return Problem(
        "edited-under-its-version", Place(one.source), "version",
        f"{one.family.template} was changed so that pupils could notice, but it is still version {version}: "
        f"{what} may look different to pupils; {met}",
        f"write version: {version + 1}; or, where it mends a mistake, build with --correction REASON",
    )
