"""Which wrong answers become options: each a mistake re-run on these numbers, chosen against guessing.

Options stand in numerical order, so the place of the key follows from which mistakes are chosen. A
`Chooser` keeps count, over the items of one template, of where keys stood, what each cue would have
earned and how often each mistake was used, and picks the set that keeps all three level.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Sequence
from functools import lru_cache
from itertools import combinations
from operator import add, attrgetter
from typing import NamedTuple

from bank import cues
from bank.cues import packed
from bank.mistakes import Mistake
from bank.numerals import POWERS, Numeral

THOROUGH = (4, 24)
"""Wrong answers on either side of the key that are compared beyond those needed, and sets of them compared: for
short quizzes, where every item counts, and for an item on which a cue has earned too much so far."""
LEAN = (2, 8)
"""The same for long banks, where the cues are kept level over many items."""
CAREFUL = (2, 12)
FEW_ITEMS = 100
"""Items of a template from which on the choice is `LEAN`."""
MOST_PUT_OFF = 8
"""Draws put off one after the other because guessers would do well on all their sets of options, or because the key
cannot stand where it is due; then the debt is forgiven, as some templates never allow that place."""
TOO_MUCH = 4
"""Hits above chance from which on a cue is kept down thoroughly."""
SPARE_DIGITS = 2
"""A wrong option may have this many digits more than the key or the longest operand: longer ones look absurd.
Common practice, no source."""
FINER = 4
"""Places beyond the most digits that an option may have in which values are compared; finer ones are no options."""
FARTHEST = 2
"""Wrong options lie within this power of ten of the key, either way. Common practice, no source."""
FAR = 2
"""A wrong option is far where it is more than so many times the key, or the key more than so many times it: a rough
estimate rules it out. Near ones are preferred (Haladyna, Downing & Rodriguez 2002: options should be plausible)."""
OVERDUE = 3
"""Keys owed to a place from which on other numbers are tried, where a template has plenty."""
HEAD_START = {"most-alike-in-form": 3}
"""Hits above chance that are held against a cue from the start: a key mostly has the commonest form, so this cue
leads in every template (measured on the demo bank)."""
SLACK = 64
"""One more hit above chance is let pass for each so many items."""
_FAR_WEIGHT = 1500
_USE_WEIGHT = 1000
_AMBIGUOUS = 3000
_GOOD = 75
_GOOD_LEAN = 100
_BASE = 1 * cues.UNIT
_numeral = attrgetter("numeral")


class Wrong(NamedTuple):
    """A wrong answer, as it would be shown, with the ids of all mistakes that give it."""

    numeral: Numeral
    mistakes: tuple[str, ...]
    is_far: bool = False
    """Whether a rough estimate rules it out: see `FAR`."""


class Chosen(NamedTuple):
    """The wrong answers chosen, in numerical order, and how many of them are smaller than the key."""

    wrong: tuple[Wrong, ...]
    key_place: int
    earned: bytes
    """What each strategy of `bank.cues.PANEL` earns on these options, in units."""


def wrong_answers(
    shown: Iterable[tuple[Mistake, Numeral]],
    key: Numeral,
    operands: Sequence[Numeral],
    *,
    places: int | None,
    as_written: bool = False,
) -> list[Wrong]:
    """Return the plausible wrong answers among the outcomes *shown*, in numerical order, one entry a value.

    *places* fixes the number of places (money); *as_written* keeps the learner's places (rounding);
    otherwise numerals are shown without trailing zeros.
    """
    longest = max([len(str(operand.coefficient)) for operand in operands])
    most_digits = max(longest, len(str(key.coefficient)), key.places + 1) + SPARE_DIGITS
    too_long, finest = POWERS[most_digits], most_digits + FINER
    near = key.coefficient * POWERS[finest - key.places]  # values are compared in units of the finest place
    least, most = -(-near // POWERS[FARTHEST]), near * POWERS[FARTHEST]
    found: dict[int, tuple[Numeral, list[str]]] = {}
    for record, answer in shown:
        coefficient, decimals = answer.coefficient, answer.places
        while decimals > finest and not coefficient % 10:
            coefficient //= 10
            decimals -= 1
        if decimals > finest:
            continue
        value = coefficient * POWERS[finest - decimals]
        known = found.get(value)
        if known is not None:
            known[1].append(record.identifier)
            continue
        if coefficient <= 0 or not least <= value <= most:
            continue
        while decimals and not coefficient % 10:
            coefficient //= 10
            decimals -= 1
        if as_written:
            form = answer
        elif places is None:
            form = answer if decimals == answer.places else Numeral(coefficient, decimals)
        elif decimals > places:
            continue
        else:
            form = Numeral(coefficient * POWERS[places - decimals], places)
        if form.places < most_digits and form.coefficient < too_long:
            found[value] = form, [record.identifier]
    low, high = near, near * FAR
    return [
        Wrong(form, tuple(names), value > high or value * FAR < low) for value, (form, names) in sorted(found.items())
    ]


class Chooser:
    """Chooses sets of wrong options for the items of one template, keeping the cues level over them.

    Its choices depend only on the items it has seen and on the numbers passed in, so that a template's
    items are the same whatever else is built.
    """

    def __init__(self, items: int) -> None:
        self._effort = THOROUGH if items <= FEW_ITEMS else LEAN
        self._good = _GOOD if items <= FEW_ITEMS else _GOOD_LEAN
        self.items = 0
        self._hits = [cues.UNIT * HEAD_START.get(cues.STEERED[cue].identifier, 0) for cue in packed.WEIGHED]
        """What each of these cues has earned so far, in units."""
        self._chance = 0
        """What picking at random has earned."""
        self._put_off = 0
        self._due = self._waited = 0
        self._held: int | None = None
        self.uses: dict[str, int] = {}
        self._owed: dict[int, list[int]] = {}

    def choose(
        self,
        wrong: Sequence[Wrong],
        key: Numeral,
        operands: Sequence[Numeral],
        wanted: int,
        number: int,
        *,
        must: str = "",
        patient: bool = True,
    ) -> Chosen | None:
        """Return the set of *wanted* wrong options chosen, or None where other numbers should be tried first.

        *wrong* is in numerical order; *must* names a mistake that has to be among them; *number* is this
        item's random number; *patient* allows None because the key's place is owed elsewhere.
        """
        smaller = bisect_left(wrong, key, key=_numeral)
        needed = -1
        if must:
            needed = next((place for place, answer in enumerate(wrong) if must in answer.mistakes), -1)
        key_place = self._key_place(smaller, len(wrong) - smaller, wanted, number, patient, needed)
        if key_place is None:
            return None
        free = self._chance - _BASE
        weights = [hits - free if hits > free else 0 for hits in self._hits]
        spare, most = self._effort
        if max(weights) > (TOO_MUCH + self.items // SLACK) * cues.UNIT + _BASE:
            spare, most = max(spare, CAREFUL[0]), max(most, CAREFUL[1])
        lower = self._short_list(wrong[:smaller], key_place, spare, must, number)
        upper = self._short_list(wrong[smaller:], wanted - key_place, spare, must, number >> 7)
        kept = [*lower, *upper]
        if must:
            needed = next((place for place, answer in enumerate(kept) if must in answer.mistakes), -1)
        plan = _plan(len(lower), len(upper), key_place, wanted, needed, most, number)
        size = wanted + 1
        numerals = [answer.numeral for answer in kept]
        numerals.insert(len(lower), key)
        compared = packed.Comparison(plan, numerals, cues.stem_figures(operands))
        good_enough = cues.UNIT // size * sum(weights) * self._good // 100
        best, cost = compared.least(weights, good_enough, lambda: self._burdens(kept, len(lower)))
        if cost > good_enough and patient and self._effort is THOROUGH and self._put_off < MOST_PUT_OFF:
            self._owed[size][key_place] += 1
            self._hold(size)
            self._put_off += 1
            return None
        self._put_off = 0
        earned = compared.earned(best)
        self._count(earned, size)
        chosen = tuple([kept[place - (place > len(lower))] for place in plan.sets[best] if place != len(lower)])
        for answer in chosen:
            for name in answer.mistakes:
                self.uses[name] = self.uses.get(name, 0) + 1
        return Chosen(chosen, key_place, earned)

    def accepts(self, shown: Sequence[Numeral], key: Numeral, number: int, *, patient: bool) -> bytes | None:
        """Return what each strategy earns where the numbers *shown*, in this order, may be the options.

        None, where *patient*, when the key stands where too many keys stood, or a cue that has earned too much
        would earn again.
        """
        size = len(shown)
        place = list(shown).index(key)
        owed = self._owed.setdefault(size, [0] * size)
        due = number % size
        chance = cues.UNIT // size
        earned = packed.credits(shown, place, ())
        units = packed.weighed(earned)
        worst = max([hits for hits, mine in zip(self._hits, units, strict=True) if mine > chance], default=0)
        too_much = worst - self._chance > OVERDUE * cues.UNIT
        if patient and (owed[place] + (due == place) <= -OVERDUE or too_much):
            return None
        owed[due] += 1
        owed[place] -= 1
        self._count(earned, size)
        return earned

    def _count(self, earned: bytes, size: int) -> None:
        """Count an item of *size* options on which the strategies earn *earned*."""
        self._hits = list(map(add, self._hits, packed.weighed(earned)))
        self._chance += cues.UNIT // size
        self.items += 1

    def _short_list(
        self, side: Sequence[Wrong], needed: int, spare: int, must: str, number: int
    ) -> Sequence[Wrong]:
        """Return the answers of one side of the key that enter the comparison: clear and seldom used ones first."""
        if not needed:
            return ()
        most, size = needed + spare, len(side)
        if size <= most:
            return side
        uses, items, turn = self.uses.get, self.items + 1, number % size
        ranks = []
        for place, (_, names, is_far) in enumerate(side, turn):
            if len(names) == 1:
                often = 8 * uses(names[0], 0) // items
            else:
                often = 8 * sum([uses(name, 0) for name in names]) // items + 3 * (len(names) - 1)
            if is_far:
                often += 2
            if must and must in names:
                often = -1
            ranks.append(often * size + place % size)
        ranks.sort()
        return [side[place] for place in sorted([(rank - turn) % size for rank in ranks[:most]])]

    def _burdens(self, kept: Sequence[Wrong], key_at: int) -> list[int]:
        """Return how far each answer is from what is wanted: clear, near, seldom used; a 0 for the key at *key_at*."""
        uses, items = self.uses.get, self.items + 1
        burdens = []
        for _, names, is_far in kept:
            if len(names) == 1:
                burden = _USE_WEIGHT * uses(names[0], 0) // items
            else:
                burden = _AMBIGUOUS + _USE_WEIGHT * sum([uses(name, 0) for name in names]) // items
            burdens.append(burden + _FAR_WEIGHT if is_far else burden)
        burdens.insert(key_at, 0)
        return burdens

    def _key_place(
        self, below: int, above: int, wanted: int, number: int, patient: bool, needed: int
    ) -> int | None:
        size = wanted + 1
        owed = self._owed.setdefault(size, [0] * size)
        low, high = max(0, wanted - above), min(wanted, below)
        if needed >= 0 and needed < below:
            low = max(low, 1)
        elif needed >= 0:
            high = min(high, wanted - 1)
        due = self._due = number % size if self._held is None else self._held
        self._held = None
        owed[due] += 1
        turn = number >> 8
        ranks = [owed[place] * size + (place + turn) % size for place in range(low, high + 1)]
        best = (max(ranks) - turn) % size
        if owed[best] <= 0 and max(owed) >= OVERDUE:
            self._waited += 1
            if patient and self._waited <= MOST_PUT_OFF:
                self._hold(size)
                return None
            owed[owed.index(max(owed))] = 0
        self._waited = 0
        owed[best] -= 1
        return best

    def _hold(self, size: int) -> None:
        """Keep the place that is due for the next draw: what is put off must not thin out the places it stood for."""
        self._held = self._due
        self._owed[size][self._due] -= 1


@lru_cache(maxsize=1024)
def _sets(lower: int, upper: int, key_place: int, wanted: int, needed: int) -> list[tuple[int, ...]]:
    """Return all sets of *wanted* + 1 places among *lower* answers, the key and *upper* answers, the key in its place.

    Where *needed* is not -1, only those with this answer, as counted without the key.
    """
    firsts = combinations(range(lower), key_place)
    seconds = list(combinations(range(lower + 1, lower + 1 + upper), wanted - key_place))
    sets = [(*first, lower, *second) for first in firsts for second in seconds]
    if needed >= 0:
        needed += needed >= lower
        sets = [chosen for chosen in sets if needed in chosen]
    return sets


def _plan(lower: int, upper: int, key_place: int, wanted: int, needed: int, most: int, number: int) -> packed.Plan:
    """Return the plan to compare about *most* of the sets, evenly spread, *number* saying where to begin."""
    step = max(1, len(_sets(lower, upper, key_place, wanted, needed)) // most)
    return _plan_of(lower, upper, key_place, wanted, needed, most, step, number % step)


@lru_cache(maxsize=1024)
def _plan_of(
    lower: int, upper: int, key_place: int, wanted: int, needed: int, most: int, step: int, begin: int
) -> packed.Plan:
    sets = _sets(lower, upper, key_place, wanted, needed)[begin::step][:most]
    return packed.Plan(lower + 1 + upper, sets, key_place)
