"""The cues scored for many sets of options at once: scores lie side by side in one whole number, `FIELD` bits a cue."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from operator import mul

from bank.cues import LARGEST_SET, OWN, PACKED, PAIR, PLACE, UNIT, Shape, changes

FIELD = 8
"""Bits of one cue's score, the topmost kept free for comparing: summed scores stay below 128."""
_PLACES = {
    size: tuple(
        sum(
            int(found.score(rank, size)) << (FIELD * (len(OWN) + len(PAIR) + place))
            for place, found in enumerate(PLACE)
        )
        for rank in range(size)
    )
    for size in range(2, LARGEST_SET + 1)
}
_SPAN = len(PACKED)
_SHARE = tuple(UNIT // (tied + 1) for tied in range(LARGEST_SET))
"""What a hit earns where so many options tie with the key."""
MOST_AT_ONCE = 32
_HIGH = sum(1 << (FIELD * field + FIELD - 1) for field in range(_SPAN))
_HIGHS = tuple(sum(_HIGH << FIELD * _SPAN * place for place in range(count)) for count in range(MOST_AT_ONCE + 1))
_SHARE_OF = bytes(
    _SHARE[byte - (1 << FIELD - 1)] if 0 <= byte - (1 << FIELD - 1) < LARGEST_SET else 0 for byte in range(1 << FIELD)
)
"""The share that belongs to a field: its guard bit says whether the cue picks the key, the rest how many tie."""
_AT = tuple(FIELD * (len(OWN) + place) for place in range(len(PAIR)))
_BIT = tuple(1 << shift for shift in _AT)


def _chain_credits(figures: Sequence[str], key: int) -> tuple[int, int]:
    """Return what the inner and the outer place of a x10 chain earn, where two options have the same figures."""
    inner, outer = [], []
    for rank, mine in enumerate(figures):
        below, above = mine in figures[:rank], mine in figures[rank + 1 :]
        inner.append(below and above)
        outer.append(below != above)
    size = len(figures)
    between, ends = inner.count(True), outer.count(True)
    return (
        UNIT // (between or size) if inner[key] or not between else 0,
        UNIT // (ends or size) if outer[key] or not ends else 0,
    )


class Scores:
    """Packed scores of the candidate options of an item, each worked out once, to credit any set drawn from them."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.shapes = shapes
        self._changes = changes()
        self._count = len(shapes)
        self._pairs = [0] * (self._count * self._count)
        """Packed pair scores by ``first * count + second``, worked out where first asked for; never 0 then."""
        self._figures = [option.figures for option in shapes]
        self._sizes = [option.size for option in shapes]
        self._own = [
            option.length
            | 100 - option.length << FIELD
            | option.places << 2 * FIELD
            | 100 - option.places << 3 * FIELD
            | option.repeats << 4 * FIELD
            | 100 - len(option.figures) << 5 * FIELD
            for option in shapes
        ]

    def _pair(self, first: int, second: int) -> int:
        """Return the packed scores of the pair cues, in the order in which they are defined above."""
        text, _, places, whole, figures, digit_set, aligned, written, _, _ = self.shapes[first]
        other_text, _, others, other_whole, other_figures, other_set, other_aligned, other_written, _, _ = (
            self.shapes[second]
        )
        differ = aligned ^ other_aligned
        differ |= differ >> 2
        differ |= differ >> 1
        form = 31 - abs(whole - other_whole) - abs(places - others)
        apart = 31 - self._changes(text, other_text)
        packed = (
            (written & other_written & ~differ).bit_count() << _AT[0]
            | (digit_set & other_set).bit_count() << _AT[1]
            | (form if form > 0 else 0) << _AT[2]
            | (apart if apart > 0 else 0) << _AT[3]
            | (_BIT[4] if places == others else _BIT[5])
            | (_BIT[6] if text[-1] == other_text[-1] else _BIT[7])
            | (_BIT[9] if figures == other_figures else _BIT[10])
        )
        if figures[:1] == other_figures[:1]:
            packed |= _BIT[8]
        count = self._count
        self._pairs[first * count + second] = self._pairs[second * count + first] = packed
        return packed

    def _totals(self, chosen: Sequence[int]) -> list[int]:
        """Return the packed total score of each option of *chosen*: its own, its place's, and its pairs'."""
        own, pairs, count, places = self._own, self._pairs, self._count, _PLACES[len(chosen)]
        if len(chosen) == 4:
            a, b, c, d = chosen
            at_a, at_b, at_c = a * count, b * count, c * count
            ab = pairs[at_a + b] or self._pair(a, b)
            ac = pairs[at_a + c] or self._pair(a, c)
            ad = pairs[at_a + d] or self._pair(a, d)
            bc = pairs[at_b + c] or self._pair(b, c)
            bd = pairs[at_b + d] or self._pair(b, d)
            cd = pairs[at_c + d] or self._pair(c, d)
            return [
                own[a] + places[0] + ab + ac + ad, own[b] + places[1] + ab + bc + bd,
                own[c] + places[2] + ac + bc + cd, own[d] + places[3] + ad + bd + cd,
            ]
        totals = [own[mine] + place for mine, place in zip(chosen, places, strict=True)]
        for second, mine in enumerate(chosen):
            for first in range(second):
                packed = pairs[chosen[first] * count + mine] or self._pair(chosen[first], mine)
                totals[first] += packed
                totals[second] += packed
        return totals

    def _shares(self, sets: Sequence[Sequence[int]], key: int) -> bytes:
        """Return what each cue of `PACKED` earns, a byte each, set after set: all sets are compared in one go."""
        columns = zip(*[self._totals(chosen) for chosen in sets], strict=True)
        totals = [int.from_bytes(b"".join([one.to_bytes(_SPAN, "little") for one in column]), "little")
                  for column in columns]
        best = totals.pop(key)
        high = _HIGHS[len(sets)]
        guarded, picked, ties = best | high, high, 0
        for total in totals:
            least = (guarded - total) & high
            picked &= least
            ties += (least & ((total | high) - best)) >> (FIELD - 1)
        return (picked | ties).to_bytes(_SPAN * len(sets), "little").translate(_SHARE_OF)

    def _credit_of_sets(self, chosen: Sequence[int], key: int) -> tuple[int, int, int]:
        all_figures, all_sizes = self._figures, self._sizes
        size = len(chosen)
        figures = [all_figures[mine] for mine in chosen]
        if len(set(figures)) == size:
            inner = outer = UNIT // size
        else:
            inner, outer = _chain_credits(figures, key)
        sizes = [all_sizes[mine] for mine in chosen]
        own = sizes[key]
        sizes.sort()
        place = sizes.index(own)
        gaps = [upper - lower for lower, upper in pairwise(sizes)]
        least = min(gaps)
        if gaps[place if place < size - 1 else place - 1] != least and (not place or gaps[place - 1] != least):
            return inner, outer, 0
        if gaps.count(least) == 1:
            return inner, outer, UNIT // 2
        close = {end for at, gap in enumerate(gaps) if gap == least for end in (at, at + 1)}
        return inner, outer, UNIT // len(close)

    def least(
        self, sets: Sequence[Sequence[int]], key: int, weights: Sequence[int], enough: int
    ) -> tuple[int, int, list[int]]:
        """Return the place of the first of *sets* that costs *enough* or less, or of the least dear; its cost; credits.

        A cost is the sum of *weights* times what each cue of `STEERED` earns; *key* is the place of the key in each set.
        """
        best, least, size = 0, -1, min(len(sets), MOST_AT_ONCE)
        earned: list[int] = []
        for begin in range(0, len(sets), size):
            some = sets[begin : begin + size]
            shares = self._shares(some, key)
            for place, chosen in enumerate(some):
                mine = shares[place * _SPAN : (place + 1) * _SPAN]
                cost = sum(map(mul, weights, mine))
                if 0 <= least <= cost:
                    continue
                of_sets = self._credit_of_sets(chosen, key)
                cost += sum(map(mul, weights[_SPAN:], of_sets))
                if least < 0 or cost < least:
                    best, least, earned = begin + place, cost, [*mine, *of_sets]
                    if cost <= enough:
                        return best, least, earned
        return best, least, earned

    def credits(self, chosen: Sequence[int], key: int) -> list[int]:
        """Return what each cue of `STEERED` earns in units of 1/`UNIT` on the options *chosen*.

        *chosen* are indices into the shapes, in the order shown; *key* is the place of the key among them.
        """
        return [*self._shares([chosen], key), *self._credit_of_sets(chosen, key)]


def held_out(options: Sequence[Shape], key: int) -> list[int]:
    """Return what the cues that are held out earn, in the order in which they end `PANEL`."""
    sizes = [option.size for option in options]
    count, total = len(sizes), sum(sizes)
    order = sorted(sizes)
    nearest = {}
    for place, size in enumerate(order):
        below = size - order[place - 1] if place else order[-1]
        above = order[place + 1] - size if place < count - 1 else order[-1]
        nearest[size] = below if below < above else above
    scored = (
        [-abs(size * count - total) for size in sizes],
        [nearest[size] for size in sizes],
        [int(option.text[-1] in "05") for option in options],
        [100 * option.repeats + option.length for option in options],
    )
    earned = []
    for scores in scored:
        mine = scores[key]
        earned.append(UNIT // scores.count(mine) if mine == max(scores) else 0)
    return earned
