"""What cues earn on many sets of an item's options at once: counts lie side by side in whole numbers, a byte each.

All that depends only on the number of options and on the sets compared stands in a `Plan`, made once. For an item,
what is counted of options and pairs of them (`bank.cues.lanes`) is dealt out to the sets, and all sets are compared in
one go. A test holds the outcome equal to the plain definitions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import combinations, pairwise, product
from operator import eq, itemgetter, sub
from struct import Struct

from bank import cues
from bank.cues import LARGEST_SET, OWN, PAIR, PLACE, SET, STEERED, UNIT, lanes
from bank.numerals import Numeral

_PAIRED = (*lanes.PAIRED, "chain")
"""What is counted for pairs of options, and added up over the others of a set."""
_COUNTED = (*_PAIRED, *lanes.ALONE, "repeats")
_GOES_BY = {
    "longest": ("most", "length"), "shortest": ("least", "length"),
    "most-places": ("most", "places"), "fewest-places": ("least", "places"),
    "repeats-the-stem": ("most", "repeats"), "roundest": ("least", "figures"),
    "digits-in-common": ("most", "digits"), "same-digits-used": ("most", "digits used"),
    "most-alike-in-form": ("least", "form"), "fewest-changes": ("least", "changes"),
    "commonest-places": ("most", "places alike"), "odd-places": ("least", "places alike"),
    "commonest-last-digit": ("most", "last digit"), "odd-last-digit": ("least", "last digit"),
    "commonest-first-digit": ("most", "first figure"),
    "in-the-chain": ("most", "chain"), "outside-the-chain": ("least", "chain"),
    "ends-in-five": ("most", "five"),
}
"""What these cues pick: the option with most or least of what is counted."""
_BEHIND = ("inner-of-chain", "outer-of-chain", "closest-pair")
"""Their shares stand behind those of having most, then least, of each count."""


def _row(identifier: str) -> int:
    """Return which row of shares is that of a cue."""
    if identifier in _BEHIND:
        return 2 * len(_COUNTED) + _BEHIND.index(identifier)
    which, counted = _GOES_BY[identifier]
    return _COUNTED.index(counted) + (len(_COUNTED) if which == "least" else 0)


WEIGHED = tuple(place for place, cue in enumerate(STEERED) if cue.kind != "place")
"""The cues that sets are weighed by, by their places in `STEERED`: keys' places are steered by what is owed."""
weighed = itemgetter(*WEIGHED)
"""Takes what these earn out of what all cues of `PANEL` earn."""
_ROWS = tuple(_row(STEERED[place].identifier) for place in WEIGHED)
_of_options = itemgetter(*(_row(cue.identifier) for cue in (*OWN, *PAIR)))
_of_sets = itemgetter(*(_row(cue.identifier) for cue in SET))
_FIVE = _row("ends-in-five")
_GUARD = 0x80
"""The topmost bit of a field is kept free for comparing: summed counts stay below."""
_SHARE_OF = bytes(UNIT // (byte - _GUARD + 1) if 0 <= byte - _GUARD < LARGEST_SET else 0 for byte in range(256))
"""The share that belongs to a field: its guard bit says whether the cue picks the key, the rest how many tie."""


class Plan:
    """All that does not depend on the options themselves where *sets* of so many *options* are compared.

    A set holds the places of its options among an item's, in the order shown; the key is at place *key* of each.
    """

    def __init__(
        self, options: int, sets: Sequence[tuple[int, ...]], key: int, rising: Sequence[int] | None = None
    ) -> None:
        """Prepare to compare *sets* of so many *options*.

        A set holds the places of its options among an item's, in the order shown; the key is at place *key* of each.
        *rising* gives the places in a set in numerical order, where that is not the order shown.
        """
        self.sets, self.key = sets, key
        self.count, self.size = len(sets), len(sets[0])
        ranks = list(combinations(range(self.size), 2))
        self.ranks = len(ranks)
        pairs = sorted({pair for chosen in sets for pair in combinations(chosen, 2)})
        self.pairs = lanes.Pairs(pairs)
        self.paired = bytes([pairs.index(pair) for chosen in sets for pair in combinations(chosen, 2)])
        """The pairs of each set, one set after the other."""
        self.order = order = tuple(range(self.size)) if rising is None else tuple(rising)
        between = [(chosen[lower], chosen[upper]) for chosen in sets for lower, upper in pairwise(order)]
        gaps = sorted(set(between))
        self.gaps = lanes.Pairs(gaps)
        """Pairs between which no other option of a set lies."""
        numbers = [gaps.index(pair) for pair in between]
        each = self.size - 1
        self.between = [lanes.getter(numbers[at : at + each]) for at in range(0, len(numbers), each)]
        """What takes those of each set, in numerical order."""
        self.closest = _closest_credits(self.size, order.index(key))
        self.alone = bytes([option for chosen in sets for option in chosen])
        self.rest_of_pairs, self.rest_alone = bytes(256 - self.pairs.count), bytes(256 - options)
        """What fills columns up to tables for `bytes.translate`, which deals counts out to the sets."""
        self.no_chain = bytes(len(self.paired))
        self.no_chain_shares = bytes([UNIT // self.size]) * (2 * self.count)
        self.of_rank = [
            lanes.getter([at for at, pair in enumerate(ranks) if rank in pair]) for rank in range(self.size)
        ]
        self.behind_pairs = 8 * len(_PAIRED) * self.count
        self.fields = len(_COUNTED) * self.count
        self.guards = int.from_bytes(bytes([_GUARD]) * self.fields, "little")
        self.costs = Struct(f"<{self.count}Q").unpack
        self.place_credits = bytes(
            [cues.share([cue.score(rank, self.size) for rank in range(self.size)], key) for cue in PLACE]
        )


def _closest_credits(size: int, place: int) -> dict[tuple[bool, ...], int]:
    """Return what the closest pair earns with the key at *place* in numerical order, by which gaps are the smallest."""
    credits = {}
    for smallest in product((False, True), repeat=size - 1):
        beside = [low or high for low, high in zip((False, *smallest), (*smallest, False), strict=True)]
        credits[smallest] = cues.share(beside, place)
    return credits


@lru_cache(maxsize=256)
def _plan_of_one(rising: tuple[int, ...], key: int) -> Plan:
    return Plan(len(rising), [tuple(range(len(rising)))], key, rising)


def credits(numerals: Sequence[Numeral], key: int, figures: Sequence[str]) -> bytes:
    """Return what each cue of `PANEL` earns where *numerals* are the options, in the order shown, in units of 1/`UNIT`.

    *key* is the key's place, *figures* are those of the stem (`bank.cues.stem_figures`).
    """
    rising = tuple(sorted(range(len(numerals)), key=numerals.__getitem__))
    return Comparison(_plan_of_one(rising, key), numerals, figures).earned(0)


class Comparison:
    """An item's options compared by *plan*, beside a stem that shows *figures* (`bank.cues.stem_figures`)."""

    def __init__(self, plan: Plan, numerals: Sequence[Numeral], figures: Sequence[str]) -> None:
        self._plan = plan
        looks = [lanes.look(numeral.coefficient, numeral.places) for numeral in numerals]
        self._texts, digits, known, self._sizes, written = zip(*looks)
        if len(figures) == 2:
            one, other = figures
            self._repeats = bytes([(one in mine) + (other in mine) for mine in digits])
        elif figures:
            self._repeats = bytes([sum([one in mine for one in figures]) for mine in digits])
        else:
            self._repeats = bytes(len(looks))
        chain = b""
        if len(set(known)) < len(known):
            alike = bytes(map(eq, plan.pairs.firsts(known), plan.pairs.seconds(known)))
            chain = plan.paired.translate(alike + plan.rest_of_pairs)
        if b"" in written:
            written = lanes.wide(numerals)
        if b"" in written:
            self._shares = self._shares_one_by_one(numerals, figures)
        else:
            self._shares = self._compare(
                lanes.count_pairs(plan.pairs, written, self._texts), lanes.count_alone(written), chain or plan.no_chain
            )
        self._gaps = list(map(sub, plan.gaps.seconds(self._sizes), plan.gaps.firsts(self._sizes)))
        self._shares += (self._chains(chain) if chain else plan.no_chain_shares) + self._closest()

    def _chains(self, alike: bytes) -> bytes:
        """Return the shares of the cues of chains, where *alike* says which pairs of each set have equal figures."""
        plan = self._plan
        ranks, size, key = plan.ranks, plan.size, plan.key
        pairs = [_chain_credits(alike[at : at + ranks], size, key) for at in range(0, len(alike), ranks)]
        shares = b"".join(pairs)
        return shares[::2] + shares[1::2]

    def _closest(self) -> bytes:
        """Return what the closest pair earns, a byte a set."""
        gaps, credits, found = self._gaps, self._plan.closest, []
        if self._plan.size == 4:
            for between in self._plan.between:
                one, two, three = between(gaps)
                least = one if one < two else two
                if three < least:
                    least = three
                found.append(credits[one == least, two == least, three == least])
        else:
            for between in self._plan.between:
                mine = between(gaps)
                least = min(mine)
                found.append(credits[tuple([gap == least for gap in mine])])
        return bytes(found)

    def _compare(self, of_pairs: Sequence[bytes], alone: Sequence[bytes], chain: bytes) -> bytes:
        """Return the shares of having most of each count, then least, a byte a set."""
        plan = self._plan
        translate, rest = plan.paired.translate, plan.rest_of_pairs
        dealt = b"".join([translate(column + rest) for column in of_pairs]) + chain
        ranks, size = plan.ranks, plan.size
        columns = [int.from_bytes(dealt[rank::ranks], "little") for rank in range(ranks)]
        if ranks == 6:
            ab, ac, ad, bc, bd, cd = columns
            totals = [ab + ac + ad, ab + bc + bd, ac + bc + cd, ad + bd + cd]
        else:
            totals = [sum(mine(columns)) for mine in plan.of_rank]
        translate, rest, behind = plan.alone.translate, plan.rest_alone, plan.behind_pairs
        own = b"".join([translate(column + rest) for column in (*alone, self._repeats)])
        totals = [total + (int.from_bytes(own[rank::size], "little") << behind) for rank, total in enumerate(totals)]
        mine = totals.pop(plan.key)
        high = most = least = plan.guards
        guarded, ties, fields = mine | high, 0, plan.fields
        for total in totals:
            at_least = (guarded - total) & high
            at_most = ((total | high) - mine) & high
            most &= at_least
            least &= at_most
            ties += at_least & at_most
        ties >>= 7
        shares = (most | ties).to_bytes(fields, "little") + (least | ties).to_bytes(fields, "little")
        return shares.translate(_SHARE_OF)

    def _shares_one_by_one(self, numerals: Sequence[Numeral], figures: Sequence[str]) -> bytes:
        """Return shares as `_compare` does, by the cues' own scores."""
        plan = self._plan
        shapes = [cues.shape(numeral, figures) for numeral in numerals]
        shares = bytearray(2 * plan.fields)
        for place, chosen in enumerate(plan.sets):
            options = [shapes[option] for option in chosen]
            for cue in cues.PANEL:
                if cue.identifier in _GOES_BY:
                    shares[_row(cue.identifier) * plan.count + place] = cues.credit(cue, options, plan.key)
        return bytes(shares)

    def _costs(self, weights: Sequence[int]) -> Sequence[int]:
        """Return what each set costs: the sum of *weights* times what the cues of `WEIGHED` earn."""
        shares, count, cost = self._shares, self._plan.count, 0
        for row, weight in zip(_ROWS, weights):
            if weight:
                cost += weight * _spread(shares[row * count : row * count + count])
        return self._plan.costs(cost.to_bytes(8 * count, "little"))

    def least(self, weights: Sequence[int], enough: int, burdens: Callable[[], Sequence[int]]) -> tuple[int, int]:
        """Return the place among the sets of the one to take, and its cost.

        A cost is the sum of *weights* times what the cues of `WEIGHED` earn. Taken is a set that costs *enough* or
        less, or else of the least dear; among several the one whose options add up to least by *burdens*.
        """
        costs = self._costs(weights)
        least = min(costs)
        most = max(least, enough)
        some = [place for place, cost in enumerate(costs) if cost <= most]
        if len(some) == 1:
            return some[0], least
        burden, sets = burdens(), self._plan.sets
        best = min(some, key=lambda place: sum([burden[option] for option in sets[place]]))
        return best, costs[best]

    def earned(self, place: int) -> bytes:
        """Return what each cue of `PANEL` earns on the set at *place*, in units of 1/`UNIT`."""
        plan = self._plan
        shares = self._shares[place :: plan.count]
        chosen, key, count = plan.sets[place], plan.key, plan.size
        sizes = [self._sizes[option] for option in chosen]
        total = sum(sizes)
        away = [abs(size * count - total) for size in sizes]
        busy = [100 * self._repeats[option] + len(self._texts[option]) for option in chosen]
        gaps = plan.between[place](self._gaps)
        alone = list(map(min, (gaps[0], *gaps), (*gaps, gaps[-1])))
        near, far, most = away[key], alone[plan.order.index(key)], busy[key]
        return bytes((
            *_of_options(shares), *plan.place_credits, *_of_sets(shares),
            UNIT // away.count(near) if near == min(away) else 0, UNIT // alone.count(far) if far == max(alone) else 0,
            shares[_FIVE], UNIT // busy.count(most) if most == max(busy) else 0,
        ))


@lru_cache(maxsize=4096)
def _spread(shares: bytes) -> int:
    """Return *shares* as a whole number, eight bytes for each, so that they can be weighted and added at once.

    Seven rows of shares in eight are known.
    """
    spread = bytearray(8 * len(shares))
    spread[::8] = shares
    return int.from_bytes(spread, "little")


@lru_cache(maxsize=512)
def _chain_credits(alike: bytes, size: int, key: int) -> bytes:
    """Return what inner and outer places of a x10 chain earn, where *alike* says which pairs have equal figures."""
    above, below = [False] * size, [False] * size
    for (lower, upper), same in zip(combinations(range(size), 2), alike, strict=True):
        if same:
            above[lower] = below[upper] = True
    inner = [one and other for one, other in zip(below, above, strict=True)]
    outer = [one != other for one, other in zip(below, above, strict=True)]
    return bytes([cues.share(inner, key), cues.share(outer, key)])
