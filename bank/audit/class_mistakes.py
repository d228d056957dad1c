"""What the wrong answers of a class, and of its pupils, fit: how often a mistake shows, and whether it comes back.

A mistake is told apart from a slip by its coming back. A pupil's answers are said to fit a mistake *again and again*
where it could show at least `CHANCES` times, showed at least twice and in at least half of them, and slips and guesses
alone would bring that about with a chance of at most `LEVEL`. Where one answer fits several mistakes it is given to
the one that explains most of this pupil's answers, and the others are named as fitting as well.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from bank.audit.counting.columns import count
from bank.audit.explained import Explainer
from bank.audit.records import Answers, Counts, Form
from bank.audit.statistics.estimates import wilson
from bank.audit.suppression import withheld_groups
from bank.audit.withholding import hidden_groups

CHANCES = 3
"""Chances that are needed before a mistake is told apart from a slip (Cox 1974, ERIC ED092407 for recurrence; the
number is common practice, no source)."""
LEVEL = 0.01
"""Chance at which slips and guesses are no longer taken for the reason. Our own choice, see the recovery figures."""
TYPED_SLIP = 0.10
"""Share of a pupil's typed wrong answers that would fit a given mistake by accident. Our own choice, no source."""
TYPED_KIND = 0.20
"""Share of a class's typed wrong answers that one kind of slip, such as the point one place off, may make up and that
would then look like a mistake. Our own choice, no source."""
MOST_PUPILS = 20_000
"""Pupils whose answers are looked at one by one; in larger files only the shares of the class are told."""
FULL = 1000
EVERYONE = ""
"""Stands for all pupils where a group's name stands; answers without a group are part of it only."""


class ItemMistake(NamedTuple):
    """What the wrong answers to one item fit."""

    item: str
    version: int
    response: str
    """As in the form."""
    mistakes: tuple[str, ...]
    """One, several or none."""
    note: str
    """What else is to be said where none does."""
    n: int
    wrong: int
    """Wrong answers to the item in all (omitted ones are none)."""


class ItemWrong(NamedTuple):
    """What the wrong answers to one item fit."""

    wrong: int
    fits: tuple[tuple[str, int], ...]
    """(mistake, answers that fit it), most first; an answer that fits several counts for each."""
    none: int
    """Answers that fit none."""


class ClassMistake(NamedTuple):
    """How often answers of a class fit a mistake. Where chances are too few nothing is claimed."""

    mistake: str
    group: str
    """Group of pupils; empty for all of them."""
    possible: int
    """Answers to items in which it can show: given ones."""
    shown: int
    """Answers that fit it."""
    alone: int
    """Answers that fit it and no other."""
    low: float
    """Ends of the 95 % interval of shown / possible (Wilson)."""
    high: float
    wrong: int
    """Wrong answers among the possible ones."""
    guessed: float
    """Answers that would fit it if the wrong answers to choose were spread evenly over the wrong options."""
    beyond_guessing: float
    """Chance of at least so many by such guesses, and by slips where answers are typed (`TYPED_KIND`)."""
    items: int
    """Items in which it can show."""
    pupils_with_chances: int
    """Pupils with at least `CHANCES` chances."""
    pupils: int
    """Of these, pupils whose answers fit it again and again; 0 where they were not looked at one by one."""
    pupils_low: float
    """Ends of the 95 % interval of the share of such pupils; 0 and 1 where no pupil had the chances."""
    pupils_high: float


class PupilMistake(NamedTuple):
    """A pupil's answers and a mistake. For the teacher only; it describes answers, not the pupil."""

    pupil: int
    """Index into `Answers.pupils`."""
    group: int
    mistake: str
    shown: int
    possible: int
    low: float
    """Ends of the 95 % interval of shown / possible (Wilson)."""
    high: float
    by_accident: float
    """Chance of at least so many by slips and guesses alone."""
    recurs: bool
    as_well: tuple[str, ...]
    """Mistakes that fit all of these answers too."""
    items: tuple[str, ...]
    """Items whose answers fit it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Explained:
    """All that the answers say about mistakes."""

    items: tuple[ItemMistake, ...]
    classes: tuple[ClassMistake, ...]
    """For all pupils first, then by group; in each the mistake that comes back in most pupils first."""
    pupils: tuple[PupilMistake, ...]
    """Pairs with at least one answer that fits; those that come back first."""
    one_by_one: bool
    """Whether pupils were looked at one by one."""
    wrong: int
    """Wrong answers in all."""
    explained: int
    """Those that fit at least one mistake."""
    unclear: int
    """Those of the explained that fit several."""

    def of_items(self) -> dict[tuple[str, int], ItemWrong]:
        """Return by item and version what its wrong answers fit."""
        found: dict[tuple[str, int], tuple[Counter[str], list[int]]] = {}
        for row in self.items:
            fits, counts = found.setdefault((row.item, row.version), (Counter(), [0, 0]))
            counts[0] += row.n
            counts[1] += 0 if row.mistakes else row.n
            for name in row.mistakes:
                fits[name] += row.n
        return {
            key: ItemWrong(wrong, tuple(sorted(fits.items(), key=lambda pair: (-pair[1], pair[0]))), none)
            for key, (fits, (wrong, none)) in found.items()
        }

    @property
    def unexplained(self) -> tuple[ItemMistake, ...]:
        """Wrong answers that fit none and are numbers: candidates for mistakes that are not in the library."""
        found = [one for one in self.items if not one.mistakes and not one.note]
        return tuple(sorted(found, key=lambda one: (-one.n, one.item, one.response)))


class _Coded(NamedTuple):
    """What the codes of one item of a form mean."""

    possible: tuple[str, ...]
    fits: tuple[tuple[str, ...], ...]
    wrong: np.ndarray
    guess: dict[str, float]
    """By mistake the share of the wrong options that fit it; empty where nothing is chosen."""


def explain_answers(answers: Answers, explainers: Mapping[str, Explainer], least: int = 0) -> Explained:
    """Return what *answers* fit; *explainers* by item id, items that are not among them are left out."""
    return explain([count(form, answers.groups) for form in answers.forms], explainers, answers, least)


def explain(
    counts: Sequence[Counts], explainers: Mapping[str, Explainer], answers: Answers | None, least: int = 0
) -> Explained:
    """Return what the answers in *counts* fit; with the *answers* themselves, of the same forms, pupils one by one.

    Answers of a group to an item are left out of the group's rows where fewer than *least* of it gave one, or where
    such a group could be worked out from the others.
    """
    coded = [
        [_coded(one.form, place, explainers.get(item)) for place, item in enumerate(one.form.items)] for one in counts
    ]
    forms = answers.forms if answers is not None else (None,) * len(counts)
    tallies = [
        _tallies(one, hidden_groups(one, form, least)) for one, form in zip(counts, forms, strict=True)
    ]
    items = tuple(
        row for one, known, tally in zip(counts, coded, tallies, strict=True)
        for row in _item_rows(one.form, known, tally[EVERYONE], explainers)
    )
    one_by_one = answers is not None and len(answers.pupils) <= MOST_PUPILS
    pupils = _pupils(answers, coded) if answers is not None and one_by_one else ()
    chances = _with_chances(answers, coded) if answers is not None else {}
    wrong = sum(one.n for one in items)
    explained = sum(one.n for one in items if one.mistakes)
    return Explained(
        items=items, pupils=pupils,
        classes=_without_few(_classes(counts, coded, tallies, pupils, chances), chances, least), one_by_one=one_by_one,
        wrong=wrong, explained=explained, unclear=sum(one.n for one in items if len(one.mistakes) > 1),
    )


def _coded(form: Form, place: int, known: Explainer | None) -> _Coded:
    responses, credits = form.responses[place], form.credits[place]
    wrong = np.array([credit < FULL for credit in credits], dtype=bool)
    if known is None:
        return _Coded((), tuple(() for _ in responses), wrong, {})
    fits = tuple(
        known.explain(text) if is_wrong else () for text, is_wrong in zip(responses, wrong.tolist(), strict=True)
    )
    number = len(known.wrong_options)
    guess = {
        name: sum(name in names for names in known.wrong_options) / number for name in known.possible
    } if number else {}
    return _Coded(known.possible, fits, wrong, guess)


_Tally = list[np.ndarray]
"""For each item of a form how many gave each response."""


def _tallies(counts: Counts, hidden: Sequence[frozenset[str]]) -> dict[str, _Tally]:
    """Return the tally of each group that occurs, and of `EVERYONE`; *hidden* are groups left out, by item."""
    found: dict[str, _Tally] = {}
    given = counts.response >= 0
    for group, name in [(-1, EVERYONE), *enumerate(counts.groups)]:
        inside = given if group < 0 else given & (counts.group == group)
        if group >= 0 and (name == EVERYONE or not inside.any()):
            continue
        tally = [np.zeros(len(responses), dtype=np.int64) for responses in counts.form.responses]
        for item in np.unique(counts.item[inside]).tolist():
            if name in hidden[item] and name != EVERYONE:
                continue
            cells = inside & (counts.item == item)
            np.add.at(tally[item], counts.response[cells].astype(np.int64), counts.n[cells])
        found[name] = tally
    return found


def _item_rows(
    form: Form, coded: Sequence[_Coded], tally: _Tally, explainers: Mapping[str, Explainer]
) -> Iterable[ItemMistake]:
    for place, known in enumerate(coded):
        item, given = form.items[place], tally[place]
        total = int(given[known.wrong].sum())
        for code, names in enumerate(known.fits):
            if known.wrong[code] and given[code]:
                text = form.responses[place][code]
                note = explainers[item].note(text) if not names and item in explainers else ""
                yield ItemMistake(item, form.versions[place], text, names, note, int(given[code]), total)


class _Sums:
    """Counts of one mistake in one group."""

    __slots__ = ("accident", "alone", "guessed", "items", "possible", "shown", "variance", "wrong")

    def __init__(self) -> None:
        self.possible = self.shown = self.alone = self.wrong = 0
        self.guessed = self.accident = self.variance = 0.0
        self.items: set[str] = set()


def _classes(
    counts: Sequence[Counts], coded: Sequence[Sequence[_Coded]], tallies: Sequence[dict[str, _Tally]],
    pupils: Sequence[PupilMistake], chances: Mapping[tuple[str, str], int],
) -> tuple[ClassMistake, ...]:
    sums: dict[tuple[str, str], _Sums] = {}
    for one, known, found in zip(counts, coded, tallies, strict=True):
        for group, tally in found.items():
            for place, item in enumerate(known):
                _add_item(sums, group, one.form.items[place], item, tally[place])
    recurring: dict[tuple[str, str], int] = {}
    for pair in pupils:
        if pair.recurs:
            for group in {EVERYONE, counts[0].groups[pair.group]} if counts else ():
                recurring[group, pair.mistake] = recurring.get((group, pair.mistake), 0) + 1
    rows = [
        _class_row(name, group, found, chances.get((group, name), 0), recurring.get((group, name), 0))
        for (group, name), found in sums.items()
    ]
    return tuple(sorted(rows, key=lambda row: (row.group, -row.pupils, -(row.shown - row.guessed), row.mistake)))


def _without_few(
    rows: Iterable[ClassMistake], chances: Mapping[tuple[str, str], int], least: int
) -> tuple[ClassMistake, ...]:
    """Return *rows* without those of groups of which too few had the chances, or that give such a group away."""
    sizes: dict[str, dict[str, int]] = {}
    for (group, mistake), size in chances.items():
        if group != EVERYONE:
            sizes.setdefault(mistake, {})[group] = size
    hidden = {
        mistake: withheld_groups(of | {EVERYONE: chances[EVERYONE, mistake] - sum(of.values())}, least)
        for mistake, of in sizes.items()
    }
    return tuple(row for row in rows if row.group == EVERYONE or row.group not in hidden.get(row.mistake, ()))


def _add_item(sums: dict[tuple[str, str], _Sums], group: str, item: str, known: _Coded, given: np.ndarray) -> None:
    answered, wrong = int(given.sum()), int(given[known.wrong].sum())
    if not answered:
        return
    for name in known.possible:
        found = sums.setdefault((group, name), _Sums())
        found.possible += answered
        found.wrong += wrong
        found.items.add(item)
        share = known.guess.get(name, TYPED_KIND)
        if known.guess:
            found.guessed += wrong * share
        found.accident += wrong * share
        found.variance += wrong * share * (1 - share)
    for code, names in enumerate(known.fits):
        for name in names:
            sums[group, name].shown += int(given[code])
            sums[group, name].alone += int(given[code]) if len(names) == 1 else 0


def _class_row(name: str, group: str, found: _Sums, chances: int, recurring: int) -> ClassMistake:
    low, high = wilson(found.shown / found.possible, found.possible) or (0.0, 1.0)
    many = wilson(recurring / chances, chances) if chances else None
    pupils_low, pupils_high = many or (0.0, 1.0)
    return ClassMistake(
        name, group, found.possible, found.shown, found.alone, low, high, found.wrong, found.guessed,
        _tail(found), len(found.items), chances, recurring, pupils_low, pupils_high,
    )


def _tail(found: _Sums) -> float:
    """Return the chance of at least so many fitting answers by guesses and slips: a sum that is nearly normal."""
    from scipy.special import ndtr

    if found.variance <= 0:
        return 1.0 if found.shown <= found.accident else 0.0
    return float(ndtr(-(found.shown - 0.5 - found.accident) / found.variance**0.5))


def _with_chances(answers: Answers, coded: Sequence[Sequence[_Coded]]) -> dict[tuple[str, str], int]:
    """Return how many pupils had at least `CHANCES` chances, by group and mistake."""
    places: dict[str, list[tuple[int, int]]] = {}
    for number, known in enumerate(coded):
        for place, one in enumerate(known):
            for name in one.possible:
                places.setdefault(name, []).append((number, place))
    group_of = answers.pupil_groups()
    found: dict[tuple[str, str], int] = {}
    for name, where in places.items():
        chances = np.zeros(len(answers.pupils), dtype=np.int32)
        for number, place in where:
            form = answers.forms[number]
            np.add.at(chances, form.pupils, form.codes[:, place] >= 0)
        enough = chances >= CHANCES
        sizes = np.bincount(group_of[enough], minlength=len(answers.groups))
        for group, size in zip(answers.groups, sizes.tolist(), strict=True):
            found[group, name] = int(size)
        found[EVERYONE, name] = int(enough.sum())
    return found


class _Given(NamedTuple):
    """A pupil's answer."""

    item: str
    possible: tuple[str, ...]
    fits: tuple[str, ...]
    wrong: bool
    guess: dict[str, float]


def _pupils(answers: Answers, coded: Sequence[Sequence[_Coded]]) -> tuple[PupilMistake, ...]:
    by_pupil: list[list[_Given]] = [[] for _ in answers.pupils]
    for form, known in zip(answers.forms, coded, strict=True):
        made = [
            [_Given(item, one.possible, fits, bool(one.wrong[code]), one.guess)
             for code, fits in enumerate(one.fits)]
            for item, one in zip(form.form.items, known, strict=True)
        ]
        for pupil, codes in zip(form.pupils.tolist(), form.codes.tolist(), strict=True):
            by_pupil[pupil] += [of_item[code] for of_item, code in zip(made, codes, strict=True) if code >= 0]
    group = answers.pupil_groups().tolist()
    rows = [row for pupil, given in enumerate(by_pupil) for row in _one_pupil(pupil, group[pupil], given)]
    return tuple(sorted(rows, key=lambda row: (not row.recurs, row.by_accident, row.pupil, row.mistake)))


def _one_pupil(pupil: int, group: int, given: Sequence[_Given]) -> Iterable[PupilMistake]:
    """Yield the mistakes that the answers of one pupil fit, each answer given to the one that explains most."""
    fitting: dict[str, list[int]] = {}
    for place, one in enumerate(given):
        for name in one.fits:
            fitting.setdefault(name, []).append(place)
    if not fitting:
        return
    shares: dict[str, list[float]] = {name: [] for name in fitting}
    for one in given:
        for name in one.possible:
            if name in shares:
                shares[name].append(one.guess.get(name, TYPED_SLIP))
    wrong, count = sum(one.wrong for one in given), len(given)
    rated = {name: _by_accident(len(places), shares[name], wrong, count) for name, places in fitting.items()}
    while fitting:
        best = min(fitting, key=lambda name: (rated[name], -len(fitting[name]), name))
        places = fitting.pop(best)
        possible, accident, shown = len(shares[best]), rated[best], len(places)
        low, high = wilson(shown / possible, possible) or (0.0, 1.0)
        recurs = possible >= CHANCES and shown >= 2 and 2 * shown >= possible and accident <= LEVEL
        as_well = tuple(sorted(name for name, others in fitting.items() if others == places))
        yield PupilMistake(
            pupil, group, best, shown, possible, low, high, accident, recurs, as_well,
            tuple([given[place].item for place in places]),
        )
        for name in {name for place in places for name in given[place].fits if name in fitting}:
            fitting[name] = [place for place in fitting[name] if place not in places]
            if fitting[name]:
                rated[name] = _by_accident(len(fitting[name]), shares[name], wrong, count)
            else:
                del fitting[name]


def _by_accident(shown: int, shares: Sequence[float], wrong: int, given: int) -> float:
    """Return how likely slips and guesses alone show a mistake so often.

    At each chance a slip comes with the share of wrong answers among this pupil's other answers, drawn towards one
    half by two answers of a half, and fits the mistake with the chance's share.
    """
    rate = (wrong - shown + 1) / (given - shown + 2)
    return _at_least(shown, [rate * share for share in shares])


def _at_least(count: int, odds: Sequence[float]) -> float:
    """Return the chance of at least *count* successes in trials of unequal *odds*."""
    below = [1.0] + [0.0] * (count - 1) if count else []
    for one in odds:
        for place in range(count - 1, 0, -1):
            below[place] = below[place] * (1 - one) + below[place - 1] * one
        if count:
            below[0] *= 1 - one
    return max(0.0, 1.0 - sum(below)) if count else 1.0
