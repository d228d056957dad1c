"""Cues a guesser could use without doing any arithmetic, and what each would earn.

Each cue scores the options of an item; the guesser picks the option with the highest score and guesses
among ties. Three kinds are enough: what an option looks like by itself (`own`), how it resembles the
others (`pair`, summed over the others), and where it stands (`place`). Scores of all cues lie side by
side in one whole number, `FIELD` bits a cue, so that a set of options is scored in a few additions.

Sources: the cues are those that item-writing guides warn of (longest option, convergence, clang
association, odd one out: Haladyna, Downing & Rodriguez 2002; NBME, Constructing Written Test Questions),
key places: Attali & Bar-Hillel 2003. The rest are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import combinations
from typing import NamedTuple

from bank.numerals import Numeral

FIELD = 16
"""Bits of one cue's score, the topmost kept free for comparing."""
UNIT = 60
"""Credit for a sure hit; divisible by every possible number of tied options."""
LARGEST_SET = 5
"""Most options an item may have."""


class Shape(NamedTuple):
    """What an option looks like to someone who does not calculate."""

    text: str
    whole: str
    """Digits before the point."""
    decimals: str
    """Digits after the point."""
    figures: str
    """Digits without leading and trailing zeros: equal for members of a x10 chain."""
    bag: tuple[int, ...]
    """How often each digit occurs."""
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
    text = numeral.text()
    whole, _, decimals = text.lstrip("-").partition(".")
    digits = whole + decimals
    figures = digits.strip("0")
    count = digits.count
    bag = tuple([count(digit) for digit in "0123456789"])
    repeats = 0
    for known in stem_figures:
        if known in digits:
            repeats += 1
    return Shape(text, whole, decimals, figures, bag, repeats)


def stem_figures(operands: Sequence[Numeral]) -> tuple[str, ...]:
    """Return the digit strings of *operands* that an option could repeat: at least two digits, no outer zeros."""
    strings = [str(abs(operand.coefficient)).strip("0") for operand in operands]
    return tuple([digits for digits in strings if len(digits) > 1])


@cue("longest", "own", "the longest option")
def _longest(option: Shape) -> int:
    return len(option.text)


@cue("shortest", "own", "the shortest option")
def _shortest(option: Shape) -> int:
    return 100 - len(option.text)


@cue("most-places", "own", "the option with most decimal places")
def _most_places(option: Shape) -> int:
    return len(option.decimals)


@cue("fewest-places", "own", "the option with fewest decimal places")
def _fewest_places(option: Shape) -> int:
    return 100 - len(option.decimals)


@cue("repeats-the-stem", "own", "the option that repeats a figure of the stem")
def _repeats(option: Shape) -> int:
    return option.repeats


@cue("roundest", "own", "the option with fewest digits other than zero")
def _roundest(option: Shape) -> int:
    return 100 - len(option.figures)


@cue("digits-in-common", "pair", "the option that shares most digits, place by place, with the others")
def _digits_in_common(option: Shape, other: Shape) -> int:
    alike = 0
    for mine, theirs in zip(option.decimals, other.decimals, strict=False):
        alike += mine == theirs
    for mine, theirs in zip(reversed(option.whole), reversed(other.whole), strict=False):
        alike += mine == theirs
    return alike


@cue("same-digits-used", "pair", "the option made of the digits that the others use")
def _same_digits_used(option: Shape, other: Shape) -> int:
    return sum(map(min, option.bag, other.bag))


@cue("most-alike-in-form", "pair", "the option whose form (digits before and after the point) is most like the others'")
def _form(option: Shape, other: Shape) -> int:
    return 100 - abs(len(option.whole) - len(other.whole)) - abs(len(option.decimals) - len(other.decimals))


@cue("commonest-places", "pair", "an option with the commonest number of places")
def _commonest_places(option: Shape, other: Shape) -> int:
    return len(option.decimals) == len(other.decimals)


@cue("odd-places", "pair", "the option that is alone in its number of places")
def _odd_places(option: Shape, other: Shape) -> int:
    return len(option.decimals) != len(other.decimals)


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


def edit_distance(left: str, right: str) -> int:
    """Return how many single-character changes turn *left* into *right* (Levenshtein 1965)."""
    row = list(range(len(right) + 1))
    for place, mine in enumerate(left, 1):
        diagonal, row[0] = row[0], place
        for column, theirs in enumerate(right, 1):
            diagonal, row[column] = row[column], min(
                row[column] + 1, row[column - 1] + 1, diagonal + (mine != theirs)
            )
    return row[-1]


@cue("fewest-changes", "held-out", "the option from which fewest single-character changes lead to the others")
def _fewest_changes(rank: int, options: Sequence[Shape]) -> int:
    mine = options[rank].text
    return 1000 - sum(edit_distance(mine, other.text) for other in options)


@cue("nearest-the-average", "held-out", "the option nearest the average of all")
def _nearest_the_average(rank: int, options: Sequence[Shape]) -> int:
    most = max(len(option.decimals) for option in options)
    values = [int(option.whole + option.decimals.ljust(most, "0")) for option in options]
    total = sum(values)
    distances = [abs(value * len(values) - total) for value in values]
    return sum(distances[rank] < distance for distance in distances)


@cue("closest-pair", "held-out", "one of the two options that lie closest together")
def _closest_pair(rank: int, options: Sequence[Shape]) -> int:
    most = max(len(option.decimals) for option in options)
    values = sorted(int(option.whole + option.decimals.ljust(most, "0")) for option in options)
    gaps = [upper - lower for lower, upper in zip(values, values[1:], strict=False)]
    least = gaps.index(min(gaps))
    return rank in (least, least + 1)


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

_HIGH = sum(1 << (FIELD * field + FIELD - 1) for field in range(len(PACKED)))
_SPAN = 2 * len(PACKED)
_PAIR_SHIFTS = [(found.score, FIELD * (len(_OWN) + place)) for place, found in enumerate(_PAIR)]
_OWN_SHIFTS = [(found.score, FIELD * place) for place, found in enumerate(_OWN)]
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


def pack_own(option: Shape) -> int:
    """Return the packed scores of the own cues."""
    packed = 0
    for score, shift in _OWN_SHIFTS:
        packed += score(option) << shift
    return packed


def pack_pair(option: Shape, other: Shape) -> int:
    """Return the packed scores of the pair cues; the same for both of a pair."""
    packed = 0
    for score, shift in _PAIR_SHIFTS:
        packed += score(option, other) << shift
    return packed


class Scores:
    """Packed scores of all candidate options of an item, computed once, to credit any set drawn from them."""

    def __init__(self, shapes: Sequence[Shape]) -> None:
        self.shapes = shapes
        self._own = [pack_own(option) for option in shapes]
        size = len(shapes)
        self._pair = [[0] * size for _ in range(size)]
        for first, second in combinations(range(size), 2):
            self._pair[first][second] = self._pair[second][first] = pack_pair(shapes[first], shapes[second])

    def credits(self, chosen: Sequence[int], key: int) -> list[int]:
        """Return what each cue of `STEERED` earns in units of 1/`UNIT` on the options *chosen*.

        *chosen* are indices into the shapes, in the order shown; *key* is the place of the key among them.
        """
        places = _PLACES[len(chosen)]
        totals = []
        for rank, mine in enumerate(chosen):
            row = self._pair[mine]
            total = self._own[mine] + places[rank]
            for other in chosen:
                total += row[other]
            totals.append(total)
        best = totals.pop(key)
        guarded = best | _HIGH
        picked, ties = _HIGH, 0
        for total in totals:
            least = (guarded - total) & _HIGH
            picked &= least
            ties += (least & ((total | _HIGH) - best)) >> (FIELD - 1)
        high = picked.to_bytes(_SPAN, "little")[1::2]
        tied = ties.to_bytes(_SPAN, "little")[::2]
        earned = [_CREDIT[count] if bit else 0 for bit, count in zip(high, tied, strict=True)]
        if _SET:
            options = [self.shapes[mine] for mine in chosen]
            for found in _SET:
                earned.append(credit(found, options, key))
        return earned


_CREDIT = tuple(UNIT // count for count in range(1, LARGEST_SET + 1))


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
