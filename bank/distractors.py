"""Which wrong answers become options: each a mistake re-run on these numbers, chosen against guessing.

Options stand in numerical order, so the place of the key follows from which mistakes are chosen. A
`Chooser` keeps count, over the items of one template, of where keys stood, what each cue would have
earned and how often each mistake was used, and picks the set that keeps all three level.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import combinations, islice
from typing import NamedTuple

from bank import cues
from bank.mistakes import Mistake
from bank.numerals import POWERS, Numeral

MOST_SETS = 8
"""Sets of wrong options compared for one item; more cost time and gain little (measured on the demo bank)."""
MOST_WRONG = 7
"""Wrong answers that enter the comparison for one item."""
SPARE_DIGITS = 2
"""A wrong option may have this many digits more than the key or the longest operand: longer ones look absurd.
Common practice, no source."""
FARTHEST = 4
"""Wrong options lie within this power of ten of the key, either way. Common practice, no source."""
OVERDUE = 3
"""Keys owed to a place from which on other numbers are tried, where a template has plenty."""
_USE_WEIGHT = 6000
_AMBIGUOUS = 4000


class Wrong(NamedTuple):
    """A wrong answer, as it would be shown, with the ids of all mistakes that give it."""

    numeral: Numeral
    mistakes: tuple[str, ...]


class Chosen(NamedTuple):
    """The wrong answers chosen, in numerical order, and how many of them are smaller than the key."""

    wrong: tuple[Wrong, ...]
    key_place: int


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
    by_value: dict[Numeral, list[str]] = {}
    forms: dict[Numeral, Numeral] = {}
    least, most = key.coefficient, key.coefficient * POWERS[2 * FARTHEST]
    for record, answer in shown:
        if answer.coefficient <= 0:
            continue
        if as_written:
            form = answer
        else:
            form = answer.normal()
            if places is not None:
                if form.places > places:
                    continue
                form = form.with_places(places)
        if max(len(str(form.coefficient)), form.places + 1) > most_digits:
            continue
        size = form.coefficient * POWERS[FARTHEST + key.places]
        if not least * POWERS[form.places] <= size <= most * POWERS[form.places]:
            continue
        found = by_value.get(form)
        if found is None:
            by_value[form] = [record.identifier]
            forms[form] = form
        else:
            found.append(record.identifier)
    return [Wrong(forms[form], tuple(by_value[form])) for form in sorted(by_value)]


class Chooser:
    """Chooses sets of wrong options for the items of one template, keeping the cues level over them.

    Its choices depend only on the items it has seen and on the numbers passed in, so that a template's
    items are the same whatever else is built.
    """

    def __init__(self) -> None:
        self.excess = [0] * len(cues.STEERED)
        self.items = 0
        self.uses: dict[str, int] = {}
        self._owed: dict[int, list[int]] = {}
        self._steered = [place for place, cue in enumerate(cues.STEERED) if cue.kind != "place"]

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
        kept = self._short_list(wrong, must)
        below = [place for place, answer in enumerate(kept) if answer.numeral < key]
        above = list(range(len(below), len(kept)))
        needed = next((place for place, answer in enumerate(kept) if must and must in answer.mistakes), -1)
        key_place = self._key_place(len(below), len(above), wanted, number, patient, needed)
        if key_place is None:
            return None
        sets = self._sets(below, above, key_place, wanted, number, needed)
        best = self._least_costly(kept, key, operands, sets, len(below), key_place)
        return Chosen(tuple([kept[place] for place in best]), key_place)

    def accepts(self, shown: Sequence[Numeral], key: Numeral, number: int, *, patient: bool) -> bool:
        """Return whether the numbers *shown*, in this order, may be the options as they stand.

        False, where *patient*, when the key stands where too many keys stood, or a cue that has earned too much
        would earn again.
        """
        size = len(shown)
        place = list(shown).index(key)
        owed = self._owed.setdefault(size, [0] * size)
        due = number % size
        shapes = [cues.shape(numeral, ()) for numeral in shown]
        chance = cues.UNIT // size
        earned = cues.Scores(shapes).credits(range(size), place)
        worst = max([self.excess[cue] for cue in self._steered if earned[cue] > chance], default=0)
        if patient and (owed[place] + (due == place) <= 0 or worst > OVERDUE * cues.UNIT):
            return False
        owed[due] += 1
        owed[place] -= 1
        for cue, credit in enumerate(earned):
            self.excess[cue] += credit - chance
        self.items += 1
        return True

    def _short_list(self, wrong: Sequence[Wrong], must: str) -> list[Wrong]:
        if len(wrong) <= MOST_WRONG:
            return list(wrong)
        uses = self.uses.get

        def rank(place: int) -> tuple[bool, bool, int]:
            names = wrong[place].mistakes
            return must not in names if must else False, len(names) > 1, sum([uses(name, 0) for name in names])

        return [wrong[place] for place in sorted(sorted(range(len(wrong)), key=rank)[:MOST_WRONG])]

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
        due = number % size
        owed[due] += 1
        turn = number >> 8
        possible = range(low, high + 1)
        best = max(possible, key=lambda place: (owed[place], (place + turn) % size))
        if patient and owed[best] <= 0 and max(owed) >= OVERDUE:
            owed[due] -= 1
            return None
        owed[best] -= 1
        return best

    def _sets(
        self, below: list[int], above: list[int], key_place: int, wanted: int, number: int, needed: int
    ) -> list[tuple[int, ...]]:
        lower = _some(list(combinations(below, key_place)), number >> 16)
        upper = _some(list(combinations(above, wanted - key_place)), number >> 24)
        if needed >= 0:
            if needed < len(below):
                lower = [part for part in lower if needed in part] or [_with(below, key_place, needed)]
            else:
                upper = [part for part in upper if needed in part] or [_with(above, wanted - key_place, needed)]
        pairs = [(first, second) for first in lower for second in upper]
        step = max(1, len(pairs) // MOST_SETS)
        return [first + second for first, second in islice(pairs[(number >> 32) % step :: step], MOST_SETS)]

    def _least_costly(
        self,
        kept: Sequence[Wrong],
        key: Numeral,
        operands: Sequence[Numeral],
        sets: Sequence[tuple[int, ...]],
        below: int,
        key_place: int,
    ) -> tuple[int, ...]:
        figures = cues.stem_figures(operands)
        shapes = [cues.shape(answer.numeral, figures) for answer in kept]
        shapes.append(cues.shape(key, figures))
        scores = cues.Scores(shapes)
        last = len(kept)
        chance = cues.UNIT // (len(sets[0]) + 1)
        excess, steered = self.excess, self._steered
        best, best_cost, best_earned = sets[0], 0, []
        for chosen in sets:
            earned = scores.credits((*chosen[:key_place], last, *chosen[key_place:]), key_place)
            cost = 0
            for place in steered:
                change = earned[place] - chance
                if change:
                    cost += change * (2 * excess[place] + change)
            for place in chosen:
                names = kept[place].mistakes
                if len(names) > 1:
                    cost += _AMBIGUOUS
                cost += _USE_WEIGHT * self.uses.get(names[0], 0) // (self.items + 1)
            if not best_earned or cost < best_cost:
                best, best_cost, best_earned = chosen, cost, earned
        for place, credit in enumerate(best_earned):
            excess[place] += credit - chance
        self.items += 1
        for place in best:
            for name in kept[place].mistakes:
                self.uses[name] = self.uses.get(name, 0) + 1
        return best


def _some(parts: list[tuple[int, ...]], number: int) -> list[tuple[int, ...]]:
    start = number % len(parts)
    return parts[start:] + parts[:start]


def _with(places: list[int], size: int, needed: int) -> tuple[int, ...]:
    rest = [place for place in places if place != needed][: size - 1]
    return tuple(sorted([*rest, needed]))
