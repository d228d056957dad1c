"""Pupils who did not answer the items: nearly all blank, or one letter, one answer or one pattern all along.

Such answers say nothing of the items, but make keys look wrong and distractors busy. They are set aside from the
statistics, and counted aloud. The index is the longest string of equal answers (longstring; Johnson 2005, Journal of
Research in Personality 39:103) and of answers that repeat after two, three or four items (after the autocorrelation
screening of Gottfried and others 2022, Practical Assessment, Research & Evaluation 27; both from memory), judged by its
chance: the most likely that any honest pupil, able, weak or guessing, gives just these answers, times the number of
strings that would have been noticed. Whom the keys lead to one letter is not set aside, nor who guesses blindly and
irregularly: that cannot be told from weakness.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from bank.audit.records import NOT_GIVEN, FormAnswers
from bank.audit.settings import Settings
from bank.audit.statistics.tables import MARK

PERIODS = (1, 2, 3, 4)
"""After so many items answers are looked for that come back. Our own choice: the letters A to D, in any order."""
FEWEST = 5
"""Answers in a string before its chance is worked out; fewer are never beyond it."""
_ABILITIES = np.arange(-5.0, 5.01, 0.25)
_FEWEST_GIVEN = 4
"""Items that a pupil must have been given before nearly all blank can be said. Our own choice."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SetAside:
    """How many pupils of a form were set aside; never who."""

    quiz: str
    pupils: int
    """In all."""
    alike: int = 0
    """One letter, one answer or one pattern."""
    blank: int = 0
    """Nearly all blank."""
    why: str = ""
    """Why nobody was set aside although some could have been, or why it was not looked for."""

    @property
    def n(self) -> int:
        """Pupils set aside."""
        return self.alike + self.blank


def set_aside(
    answers: FormAnswers, letters: Mapping[str, tuple[str, ...]], settings: Settings
) -> tuple[FormAnswers, SetAside]:
    """Return *answers* without the pupils whose answers say nothing of the items, and how many those are.

    *letters* holds by item the identifiers of its options in order, for items of which one is chosen. Where more than
    ``aberrant_most`` of the pupils would go, nobody is set aside: then it is the quiz or the file that is odd.
    """
    quiz, pupils = answers.form.quiz, len(answers.pupils)
    blank = _blank(answers.codes, settings["aberrant_answered"])
    alike = np.zeros(pupils, dtype=bool)
    for string in _strings(answers, letters):
        alike |= string.aberrant(settings["aberrant_level"], settings["aberrant_share"])
    alike &= ~blank
    found = SetAside(quiz=quiz, pupils=pupils, alike=int(alike.sum()), blank=int(blank.sum()))
    if not found.n:
        return answers, found
    if found.n > settings["aberrant_most"] * pupils:
        why = f"{found.n} of {pupils} pupils answered in one pattern or hardly at all: too many to set aside"
        return answers, SetAside(quiz=quiz, pupils=pupils, why=why)
    kept = ~(alike | blank)
    times = answers.milliseconds
    return replace(
        answers, pupils=answers.pupils[kept], codes=answers.codes[kept], groups=answers.groups[kept],
        milliseconds=None if times is None else times[kept],
    ), found


def _blank(codes: np.ndarray, answered: float) -> np.ndarray:
    """Bool [N]: whether at most a share of *answered* of the items that the pupil was given has an answer."""
    given = (codes != NOT_GIVEN).sum(axis=1)
    return (given >= _FEWEST_GIVEN) & ((codes >= 0).sum(axis=1) <= answered * given)


def _strings(answers: FormAnswers, letters: Mapping[str, tuple[str, ...]]) -> list[_String]:
    """Return the answers to items of choice as one string of letters, all others as one of texts."""
    form = answers.form
    chosen = [place for place, item in enumerate(form.items) if letters.get(item)]
    others = [place for place in range(len(form.items)) if place not in set(chosen)]
    texts = {text: number for number, text in enumerate(dict.fromkeys(
        text for place in others for text in form.responses[place]
    ))}
    found = []
    if len(chosen) >= FEWEST:
        known = [{name: at for at, name in enumerate(letters[form.items[place]])} for place in chosen]
        found.append(_String(answers, chosen, known, [len(one) for one in known], PERIODS))
    if len(others) >= FEWEST:
        found.append(_String(answers, others, [texts] * len(others), [0] * len(others), PERIODS[:1]))
    return found


class _String:
    """Answers to some of a form's items, in order, as symbols that can be equal across items."""

    def __init__(
        self, answers: FormAnswers, places: Sequence[int], known: Sequence[Mapping[str, int]], options: Sequence[int],
        periods: Sequence[int],
    ) -> None:
        form, codes = answers.form, answers.codes[:, places]
        self.credits = [np.array(form.credits[place]) for place in places]
        self.options, self.periods = options, periods
        symbols = np.full(codes.shape, -1, dtype=np.int32)
        for column, place in enumerate(places):
            table = np.array([*[known[column].get(text, -1) for text in form.responses[place]], -1, -1, -1])
            symbols[:, column] = table[codes[:, column]]
        # What a pupil was not given leaves no gap: the string goes on with the next item.
        given = codes != NOT_GIVEN
        self.order = np.argsort(~given, axis=1, kind="stable")
        self.symbols = np.take_along_axis(np.where(given, symbols, -2), self.order, axis=1)
        self.length = given.sum(axis=1)
        self.codes = codes
        self.kinds = max(options) or len({one for row in known for one in row}) or 1

    def aberrant(self, level: float, share: float) -> np.ndarray:
        """Bool [N]: a string over *share* of these items that no honest pupil gives with a chance of *level*."""
        found = np.zeros(len(self.codes), dtype=bool)
        if not level:
            return found
        runs = {period: self._longest(period) for period in self.periods}
        need = np.maximum(FEWEST, np.ceil(share * self.length - 1e-9))
        candidates = np.zeros(len(found), dtype=bool)
        for size, _ in runs.values():
            candidates |= size >= need
        if not candidates.any():
            return found
        honest = _Honest(self.codes[~candidates], self.credits, self.options)
        for period, (size, end) in runs.items():
            for pupil in np.flatnonzero((size >= need) & ~found).tolist():
                length = int(size[pupil])
                inside = self.order[pupil, int(end[pupil]) - length + 1: int(end[pupil]) + 1]
                strings = (int(self.length[pupil]) - length + 1) * len(self.periods) * float(self.kinds) ** period
                chance = honest.chance(inside, self.codes[pupil, inside])
                found[pupil] = chance + math.log(strings) < math.log(level)
        return found

    def _longest(self, period: int) -> tuple[np.ndarray, np.ndarray]:
        """Return by pupil the longest string of answers that repeat after *period* items, and its last place."""
        pupils, width = self.symbols.shape
        run, best = np.zeros(pupils, dtype=np.int64), np.zeros(pupils, dtype=np.int64)
        end = np.zeros(pupils, dtype=np.int64)
        for place in range(period, width):
            here, there = self.symbols[:, place], self.symbols[:, place - period]
            run = np.where((here == there) & (here >= 0), run + 1, 0)
            better = run > best
            best[better], end[better] = run[better], place
        # Twice the period at least: else nothing has come back.
        return np.where(best >= period, best + period, 0), end


class _Honest:
    """How likely honest pupils give certain answers, from the answers of pupils without a long string."""

    def __init__(self, codes: np.ndarray, credits: Sequence[np.ndarray], options: Sequence[int]) -> None:
        self.logits, self.wrong, self.credits, self.options = [], [], credits, options
        for column, credit in enumerate(credits):
            given = codes[:, column][codes[:, column] >= 0]
            n = np.bincount(given, minlength=len(credit)).astype(float)
            right, wrong = n[credit == MARK].sum(), np.where(credit < MARK, n, 0.0)
            self.logits.append(math.log((right + 1) / (wrong.sum() + 1)))
            self.wrong.append(np.log((wrong + 1) / (wrong.sum() + max(1, int((credit < MARK).sum())))))

    def chance(self, places: np.ndarray, codes: np.ndarray) -> float:
        """Return the logarithm of the largest chance of *codes* at *places* over all abilities, and by blind guesses.

        Rasch, the items as hard as the others found them; a wrong answer falls as theirs do.
        """
        total, guessed = np.zeros(len(_ABILITIES)), 0.0
        for place, code in zip(places.tolist(), codes.tolist(), strict=True):
            logit = self.logits[place] + _ABILITIES
            if self.credits[place][code] == MARK:
                total -= np.logaddexp(0, -logit)
            else:
                total += self.wrong[place][code] - np.logaddexp(0, logit)
            guessed -= math.log(self.options[place]) if self.options[place] else math.inf
        return max(float(total.max()), guessed)
