"""Cues a guesser could use without doing any arithmetic, and what each would earn.

Each cue scores the options of an item; the guesser picks the option with the highest score and guesses
among ties. Kinds: what an option looks like by itself (`own`), how it resembles the others (`pair`, summed
over the others), where it stands (`place`), what needs all options at once (`set`), and those that the choice
of options never looks at (`held-out`), which test whether steering against the others helps in general.

`Scores` works out the first three kinds for many sets of options at once: their scores lie side by side in
one whole number, `FIELD` bits a cue. A test holds it equal to the plain definitions.

Sources: the cues are those that item-writing guides warn of (longest option, convergence, clang
association, odd one out: Haladyna, Downing & Rodriguez 2002; NBME, Constructing Written Test Questions),
key places: Attali & Bar-Hillel 2003. The rest are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from operator import mul
from typing import NamedTuple

from rapidfuzz.distance import Levenshtein

from bank.numerals import POWERS, Numeral

FIELD = 8
"""Bits of one cue's score, the topmost kept free for comparing: summed scores stay below 128."""
UNIT = 60
"""Credit for a sure hit; divisible by every possible number of tied options."""
LARGEST_SET = 5
"""Most options an item may have."""
_changes = Levenshtein.distance
_ALIGNED = 16
"""Places to which numbers are aligned for comparing digits and sizes."""


class Shape(NamedTuple):
    """What an option looks like to someone who does not calculate."""

    text: str
    length: int
    places: int
    whole: int
    """How many digits stand before the point."""
    figures: str
    """Digits without leading and trailing zeros: equal for members of a x10 chain."""
    digit_set: int
    """Bit d is set where the digit d occurs."""
    aligned: int
    """Digits, four bits each, the ones at a fixed height."""
    written: int
    """A bit for each digit written, at the lowest bit of its four."""
    size: int
    """Value as a whole number of units far right of the point, for comparing distances."""
    repeats: int
    """How many figures of the stem it repeats."""


class Cue(NamedTuple):
    """A strategy of a guesser, with what it does in words."""

    identifier: str
    kind: str
    """``own``, ``pair`` or ``place``."""
    picks: str
    score: Callable[..., int]


CUES: list[Cue] = []


def cue(identifier: str, kind: str, picks: str) -> Callable[[Callable[..., int]], Callable[..., int]]:
    """Register the decorated score as a cue; scores lie in 0..4000 after summing over the others."""

    def register(score: Callable[..., int]) -> Callable[..., int]:
        CUES.append(Cue(identifier, kind, picks, score))
        return score

    return register


def shape(numeral: Numeral, stem_figures: Sequence[str]) -> Shape:
    """Return what *numeral* looks like beside a stem that shows *stem_figures* (digit strings without a point)."""
    coefficient, places = numeral.coefficient, numeral.places
    digits = str(coefficient)
    whole = len(digits) - places
    if whole < 1:
        digits = digits.zfill(places + 1)
        whole = 1
    text = f"{digits[:whole]}.{digits[whole:]}" if places else digits
    digit_set = 0
    for digit in digits:
        digit_set |= _DIGIT_BIT[digit]
    repeats = 0
    for known in stem_figures:
        if known in digits:
            repeats += 1
    shift = 4 * (_ALIGNED - places)
    return Shape(
        text, len(text), places, whole, digits.strip("0"), digit_set, int(digits, 16) << shift,
        _WRITTEN[len(digits)] << shift, coefficient * POWERS[_ALIGNED - places], repeats,
    )


_DIGIT_BIT = {str(digit): 1 << digit for digit in range(10)}
_WRITTEN = tuple(sum(1 << 4 * place for place in range(count)) for count in range(4 * _ALIGNED))


def stem_figures(operands: Sequence[Numeral]) -> tuple[str, ...]:
    """Return the digit strings of *operands* that an option could repeat: at least two digits, no outer zeros."""
    strings = [str(abs(operand.coefficient)).strip("0") for operand in operands]
    return tuple([digits for digits in strings if len(digits) > 1])


def edit_distance(option: Shape, other: Shape) -> int:
    """Return how many single-character changes turn one text into the other (Levenshtein 1965)."""
    return _changes(option.text, other.text)


@cue("longest", "own", "the longest option")
def _longest(option: Shape) -> int:
    return option.length


@cue("shortest", "own", "the shortest option")
def _shortest(option: Shape) -> int:
    return 100 - option.length


@cue("most-places", "own", "the option with most decimal places")
def _most_places(option: Shape) -> int:
    return option.places


@cue("fewest-places", "own", "the option with fewest decimal places")
def _fewest_places(option: Shape) -> int:
    return 100 - option.places


@cue("repeats-the-stem", "own", "the option that repeats a figure of the stem")
def _repeats(option: Shape) -> int:
    return option.repeats


@cue("roundest", "own", "the option with fewest digits other than zero")
def _roundest(option: Shape) -> int:
    return 100 - len(option.figures)


@cue("digits-in-common", "pair", "the option that shares most digits, place by place, with the others")
def _digits_in_common(option: Shape, other: Shape) -> int:
    differ = option.aligned ^ other.aligned
    differ |= differ >> 2
    differ |= differ >> 1
    return (option.written & other.written & ~differ).bit_count()


@cue("same-digits-used", "pair", "the option made of the digits that the others use")
def _same_digits_used(option: Shape, other: Shape) -> int:
    return (option.digit_set & other.digit_set).bit_count()


@cue("most-alike-in-form", "pair", "the option whose form (digits before and after the point) is most like the others'")
def _form(option: Shape, other: Shape) -> int:
    return max(0, 31 - abs(option.whole - other.whole) - abs(option.places - other.places))


@cue("fewest-changes", "pair", "the option from which fewest single-character changes lead to the others")
def _fewest_changes(option: Shape, other: Shape) -> int:
    return max(0, 31 - edit_distance(option, other))


@cue("commonest-places", "pair", "an option with the commonest number of places")
def _commonest_places(option: Shape, other: Shape) -> int:
    return option.places == other.places


@cue("odd-places", "pair", "the option that is alone in its number of places")
def _odd_places(option: Shape, other: Shape) -> int:
    return option.places != other.places


@cue("commonest-last-digit", "pair", "an option with the commonest last digit")
def _commonest_last_digit(option: Shape, other: Shape) -> int:
    return option.text[-1] == other.text[-1]


@cue("odd-last-digit", "pair", "the option that is alone in its last digit")
def _odd_last_digit(option: Shape, other: Shape) -> int:
    return option.text[-1] != other.text[-1]


@cue("commonest-first-digit", "pair", "an option with the commonest first figure")
def _commonest_first_digit(option: Shape, other: Shape) -> int:
    return option.figures[:1] == other.figures[:1]


@cue("in-the-chain", "pair", "an option that differs from others only in where the point stands")
def _in_the_chain(option: Shape, other: Shape) -> int:
    return option.figures == other.figures


@cue("outside-the-chain", "pair", "an option whose digits no other option has")
def _outside_the_chain(option: Shape, other: Shape) -> int:
    return option.figures != other.figures


@cue("smallest", "place", "the first option")
def _smallest(rank: int, size: int) -> int:
    return rank == 0


@cue("second", "place", "the second option")
def _second(rank: int, size: int) -> int:
    return rank == 1


@cue("last-but-one", "place", "the last option but one")
def _last_but_one(rank: int, size: int) -> int:
    return rank == size - 2


@cue("largest", "place", "the last option")
def _largest(rank: int, size: int) -> int:
    return rank == size - 1


@cue("middle", "place", "an option that stands neither first nor last")
def _middle(rank: int, size: int) -> int:
    return 0 < rank < size - 1


@cue("inner-of-chain", "set", "the option between two others that differ from it only in where the point stands")
def _inner_of_chain(rank: int, options: Sequence[Shape]) -> int:
    figures = options[rank].figures
    below = any(option.figures == figures for option in options[:rank])
    return below and any(option.figures == figures for option in options[rank + 1 :])


@cue("outer-of-chain", "set", "an end of a chain of options that differ only in where the point stands")
def _outer_of_chain(rank: int, options: Sequence[Shape]) -> int:
    figures = options[rank].figures
    below = any(option.figures == figures for option in options[:rank])
    return below != any(option.figures == figures for option in options[rank + 1 :])


@cue("closest-pair", "set", "one of the two options that lie closest together")
def _closest_pair(rank: int, options: Sequence[Shape]) -> int:
    sizes = [option.size for option in options]
    return -min(abs(sizes[rank] - size) for place, size in enumerate(sizes) if place != rank)


@cue("nearest-the-average", "held-out", "the option nearest the average of all")
def _nearest_the_average(rank: int, options: Sequence[Shape]) -> int:
    total = sum(option.size for option in options)
    return -abs(options[rank].size * len(options) - total)


@cue("loneliest", "held-out", "the option farthest from its nearest neighbour")
def _loneliest(rank: int, options: Sequence[Shape]) -> int:
    return -_closest_pair(rank, options)


@cue("ends-in-five", "held-out", "an option that ends in 5, or in 0")
def _ends_in_five(rank: int, options: Sequence[Shape]) -> int:
    return options[rank].text[-1] in "05"


@cue("stem-then-length", "held-out", "an option that repeats most figures of the stem, or is longest")
def _repeats_or_longest(rank: int, options: Sequence[Shape]) -> int:
    return 100 * options[rank].repeats + options[rank].length


_OWN = [found for found in CUES if found.kind == "own"]
_PAIR = [found for found in CUES if found.kind == "pair"]
_PLACE = [found for found in CUES if found.kind == "place"]
_SET = [found for found in CUES if found.kind == "set"]
_HELD_OUT = [found for found in CUES if found.kind == "held-out"]
PACKED = (*_OWN, *_PAIR, *_PLACE)
"""Cues scored in packed form, in order of their fields."""
STEERED = (*PACKED, *_SET)
"""Cues that the choice of wrong options is steered against."""
PANEL = (*STEERED, *_HELD_OUT)
"""Strategies of the guesser's panel; those held out are not steered against, so they test the steering."""

_PLACES = {
    size: tuple(
        sum(
            int(found.score(rank, size)) << (FIELD * (len(_OWN) + len(_PAIR) + place))
            for place, found in enumerate(_PLACE)
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
_AT = tuple(FIELD * (len(_OWN) + place) for place in range(len(_PAIR)))
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
        changes = 31 - _changes(text, other_text)
        packed = (
            (written & other_written & ~differ).bit_count() << _AT[0]
            | (digit_set & other_set).bit_count() << _AT[1]
            | (form if form > 0 else 0) << _AT[2]
            | (changes if changes > 0 else 0) << _AT[3]
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


def credit(found: Cue, options: Sequence[Shape], key: int) -> int:
    """Return what one cue earns on *options* in the order shown, by its own score, in units of 1/`UNIT`."""
    size = len(options)
    if found.kind == "own":
        scores = [found.score(option) for option in options]
    elif found.kind == "pair":
        scores = [
            sum(found.score(option, other) for other in options if other is not option) for option in options
        ]
    elif found.kind == "place":
        scores = [found.score(rank, size) for rank in range(size)]
    else:
        scores = [found.score(rank, options) for rank in range(size)]
    best = max(scores)
    return UNIT // scores.count(best) if scores[key] == best else 0
