"""Who the simulated pupils are and what they answer.

The model, for pupil i and item j: with ability theta_i and difficulty b_j (the item's predicted score, less the level
of the class that predictions are for, plus a deviation of its own), someone whom no mistake leads elsewhere is right
with the chance logistic(theta_i - b_j) (Rasch). A pupil who holds a mistake shows it where the item makes it possible:
nearly always if it is stable, now and then if it is not. Holding is likelier for less able pupils, and mistakes are
commoner in some groups than in others. All sizes are our own choices, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Answers, Form, FormAnswers
from bank.audit.simulation._chance import logistic, normals, shares
from bank.audit.simulation._ways import Ways, ways
from bank.difficulty import load_weights
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.model import Item, Quiz
from bank.store import Bank
from bank.trees import WEIGHTS

MOST_PUPILS = 5_000_000


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """Sizes of the simulation; logits where nothing else is said."""

    ability_deviation: float = 1.0
    group_deviation: float = 0.3
    item_deviation: float = 0.5
    """What an item's difficulty departs from its prediction."""
    held_from: float = 0.02
    """Share of pupils of middle ability who hold the rarest mistake; the commonest: *held_to*."""
    held_to: float = 0.12
    held_slope: float = 0.8
    """How much less likely holding a mistake is, a logit of ability more."""
    group_mistakes: float = 0.7
    """Spread between groups of the logit of holding a mistake."""
    stable_share: float = 0.5
    """Share of the held mistakes that are stable."""
    shown_stable: float = 0.9
    shown_unstable: float = 0.35
    omitted: float = 0.02
    slow_share: float = 0.06
    """Share of pupils who do not reach the end of a quiz."""
    not_given: float = 0.0
    """Share of answers that the pupil's form does not hold."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Truth:
    """What was put in, for tests of recovery."""

    abilities: np.ndarray
    """float64 [N]"""
    difficulties: tuple[tuple[str, float], ...]
    """(item, logit), on the scale where the class that predictions are for has mean 0."""
    mistakes: tuple[str, ...]
    """M ids of mistakes that the items make possible."""
    held: np.ndarray
    """int8 [N, M]: 0 not held, 1 unstable, 2 stable."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Simulation:
    """Simulated answers, pupils named by invented labels, with how they were spelled and what was put in."""

    answers: Answers
    spellings: tuple[tuple[tuple[tuple[str, ...], ...], ...], ...]
    """For each form, item and response code its spellings."""
    written: tuple[np.ndarray, ...]
    """For each form int8 [N, K]: which spelling was used, the codes of no answer where there is none."""
    kinds: tuple[tuple[str, ...], ...]
    """For each form and item the kind of its response: the name of its record in `bank.model`."""
    truth: Truth
    seed: int
    fingerprint: str
    """Of the bank whose quizzes were answered."""

    @property
    def labels(self) -> tuple[str, ...]:
        """Labels of the pupils."""
        return self.answers.pupils


def simulate(
    bank: Bank, *, pupils: int, seed: int, quizzes: Sequence[str] = (), groups: Sequence[str] = ("",),
    settings: Settings = Settings(),
) -> Simulation:
    """Return what *pupils* simulated pupils answer to the *quizzes* of *bank* (none: all of them).

    Pupils are dealt out to *groups* in turn. The result is decided by the bank's items, *seed* and the other
    arguments.

    Raises:
        BadInput: there is no such quiz (``quiz-unknown``), the bank has none (``no-quizzes``), or the number of
            pupils is out of range (``pupils-out-of-range``).
    """
    chosen = _chosen(bank, quizzes)
    if not 1 <= pupils <= MOST_PUPILS:
        raise BadInput(Problem("pupils-out-of-range", Place("--pupils"), "", f"{pupils} is no number of pupils",
                               f"write a whole number from 1 to {MOST_PUPILS}"))
    wanted = list(dict.fromkeys(name for quiz in chosen for name in quiz.items))
    items = {item.identifier: item for item in bank.items(wanted, solutions=False)}
    manner = {name: ways(item, bank.info.locale) for name, item in items.items()}
    names = tuple(sorted({name for one in manner.values() for name, _ in one.by_mistake}))
    group = np.arange(pupils, dtype=np.int16) % len(groups)
    crowd = _Crowd(pupils, group, tuple(groups), names, seed, settings)
    difficulties = _difficulties(bank, items.values(), seed, settings)
    known = [_form(quiz, items, manner) for quiz in chosen]
    told = [_sit(quiz, manner, difficulties, crowd) for quiz in chosen]
    everyone = np.arange(pupils, dtype=np.int32)
    forms = tuple(
        FormAnswers(form=form, pupils=everyone, codes=codes, groups=group, milliseconds=times)
        for form, (codes, _, times) in zip(known, told)
    )
    width = len(str(pupils))
    labels = tuple([f"pupil-{number:0{width}d}" for number in range(1, pupils + 1)])
    rows = int(sum((form.codes != NOT_GIVEN).sum() for form in forms))
    return Simulation(
        answers=Answers(forms=forms, pupils=labels, groups=tuple(groups), rows=rows, simulated=True),
        spellings=tuple(tuple(manner[name].spellings for name in quiz.items) for quiz in chosen),
        kinds=tuple(tuple(type(items[name].response).__name__ for name in quiz.items) for quiz in chosen),
        written=tuple(written for _, written, _ in told),
        truth=Truth(
            abilities=crowd.abilities, difficulties=tuple(difficulties.items()), mistakes=names, held=crowd.held
        ),
        seed=seed, fingerprint=bank.fingerprint,
    )


def _chosen(bank: Bank, quizzes: Sequence[str]) -> list[Quiz]:
    known = {quiz.identifier: quiz for quiz in bank.quizzes}
    if not known:
        raise BadInput(Problem("no-quizzes", Place(str(bank.path)), "", "the bank has no quizzes",
                               "build a bank from a plan with quizzes"))
    missing = [name for name in quizzes if name not in known]
    if missing:
        raise BadInput([
            Problem("quiz-unknown", Place("--quiz"), "", f"the bank has no quiz {name!r}", did_you_mean(name, known))
            for name in missing
        ])
    return [known[name] for name in dict.fromkeys(quizzes)] or list(bank.quizzes)


def _difficulties(bank: Bank, items: Iterable[Item], seed: int, settings: Settings) -> dict[str, float]:
    level = load_weights(bank.own_setting(WEIGHTS)).level
    found = {}
    for item in items:
        own = float(normals(1, seed, "item", item.identifier)[0]) * settings.item_deviation
        found[item.identifier] = (item.prediction.score - level) / 1000 + own
    return found


def _form(quiz: Quiz, items: dict[str, Item], manner: dict[str, Ways]) -> Form:
    return Form(
        quiz=quiz.identifier, items=quiz.items, versions=tuple(items[name].family.version for name in quiz.items),
        responses=tuple(tuple(one.response for one in manner[name].answers) for name in quiz.items),
        credits=tuple(tuple(one.credit for one in manner[name].answers) for name in quiz.items),
    )


class _Crowd:
    """The pupils: abilities, what they hold, and how fast they are."""

    def __init__(
        self, pupils: int, group: np.ndarray, groups: tuple[str, ...], names: tuple[str, ...], seed: int,
        settings: Settings,
    ) -> None:
        self.count, self.seed, self.settings, self.names = pupils, seed, settings, names
        shift = np.array([float(normals(1, seed, "group", one)[0]) for one in groups]) * settings.group_deviation
        if len(groups) == 1:
            shift[:] = 0.0
        self.abilities = normals(pupils, seed, "ability") * settings.ability_deviation + shift[group]
        self.held = np.zeros((pupils, len(names)), dtype=np.int8)
        low, high = np.log(settings.held_from), np.log(settings.held_to)
        for place, name in enumerate(names):
            share = float(np.exp(low + (high - low) * shares(1, seed, "common", name)[0]))
            by_group = np.array([float(normals(1, seed, "common", name, one)[0]) for one in groups])
            logit = np.log(share / (1 - share)) - settings.held_slope * self.abilities
            if len(groups) > 1:
                logit = logit + settings.group_mistakes * by_group[group]
            holds = shares(pupils, seed, "holds", name) < logistic(logit)
            stable = shares(pupils, seed, "stable", name) < settings.stable_share
            self.held[:, place] = np.where(holds, np.where(stable, 2, 1), 0)

    def showing(self, name: str, item: str) -> np.ndarray:
        """Return int8 [N]: whether mistake *name* shows on *item*, where it can: 1 unstable, 2 stable, else 0."""
        settings = self.settings
        held = self.held[:, self.names.index(name)]
        chance = np.array([0.0, settings.shown_unstable, settings.shown_stable])[held]
        return np.where(shares(self.count, self.seed, "shows", name, item) < chance, held, 0)


def _sit(
    quiz: Quiz, manner: dict[str, Ways], difficulties: dict[str, float], crowd: _Crowd
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return codes, spellings and milliseconds of everyone's answers to *quiz*, each [N, K]."""
    count, length, seed, settings = crowd.count, len(quiz.items), crowd.seed, crowd.settings
    codes = np.empty((count, length), dtype=np.int16)
    written = np.empty((count, length), dtype=np.int8)
    times = np.empty((count, length), dtype=np.int32)
    slow = shares(count, seed, "slow", quiz.identifier) < settings.slow_share
    reached = np.where(slow, np.floor(length * (0.5 + 0.5 * shares(count, seed, "end", quiz.identifier))), length)
    for place, name in enumerate(quiz.items):
        given = _answered(manner[name], name, difficulties[name], crowd)
        which = shares(count, seed, "spelling", name)
        amounts = np.array([len(one) for one in manner[name].spellings])[given]
        spelling = np.where(which < 0.7, 0, np.floor((which - 0.7) / 0.3 * amounts)).astype(np.int8)
        left_out = shares(count, seed, "omits", name) < settings.omitted
        absent = shares(count, seed, "form", name) < settings.not_given
        late = place > reached
        gone = np.where(left_out | (place == reached), OMITTED, 0)
        gone = np.where(absent, NOT_GIVEN, np.where(late, NOT_REACHED, gone))
        codes[:, place] = np.where(gone < 0, gone, given)
        written[:, place] = np.where(gone < 0, gone, spelling)
        seconds = np.exp(3.6 + 0.5 * normals(count, seed, "time", name) - 0.1 * crowd.abilities)
        times[:, place] = np.where((gone == NOT_REACHED) | (gone == NOT_GIVEN), -1, np.rint(seconds) * 1000)
    _trailing(codes, written, times)
    return codes, written, times


def _answered(manner: Ways, name: str, difficulty: float, crowd: _Crowd) -> np.ndarray:
    """Return the codes of everyone's answers to the item *name*, had everyone answered."""
    count, seed = crowd.count, crowd.seed
    right = shares(count, seed, "right", name) < logistic(crowd.abilities - difficulty)
    slips = np.array(manner.slips or (0,), dtype=np.int16)
    slipped = slips[np.floor(shares(count, seed, "slips", name) * len(slips)).astype(np.int64)]
    given = np.where(right, 0, slipped).astype(np.int16)
    start = crowd.seed % max(1, len(manner.by_mistake))
    order = manner.by_mistake[start:] + manner.by_mistake[:start]
    showing = [(crowd.showing(mistake, name), code) for mistake, code in order]
    for strength in (1, 2):  # a stable mistake goes before an unstable one
        for shown, code in showing:
            given[shown == strength] = code
    return given


def _trailing(codes: np.ndarray, written: np.ndarray, times: np.ndarray) -> None:
    """Make gaps at the end what a reader would take them for: the first omitted, the others not reached."""
    blank = (codes == OMITTED) | (codes == NOT_REACHED) | (codes == NOT_GIVEN)
    tail = np.logical_and.accumulate(blank[:, ::-1], axis=1)[:, ::-1]
    seen = tail & (codes != NOT_GIVEN)
    first = seen & (np.cumsum(seen, axis=1) == 1)
    for table in (codes, written):
        table[seen] = NOT_REACHED
        table[first] = OMITTED
    times[seen & ~first] = -1
