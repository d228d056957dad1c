"""Cues a guesser could use without doing any arithmetic, and what each would earn.

Each cue scores the options of an item; the guesser picks the option with the highest score and guesses
among ties. Kinds: what an option looks like by itself (`own`), how it resembles the others (`pair`, summed
over the others), where it stands (`place`), what needs all options at once (`set`), and those that the choice
of options never looks at (`held-out`), which test whether steering against the others helps in general.

`bank.cues.packed` works them out for many sets of options at once; a test holds it equal to the plain definitions.

Sources: the cues are those that item-writing guides warn of (longest option, convergence, clang
association, odd one out: Haladyna, Downing & Rodriguez 2002; NBME, Constructing Written Test Questions),
key places: Attali & Bar-Hillel 2003. The rest are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import NamedTuple

from bank.numerals import POWERS, Numeral

UNIT = 60
"""Credit for a sure hit; divisible by every possible number of tied options."""
LARGEST_SET = 5
"""Most options an item may have."""
ALIGNED = 16
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
    shift = 4 * (ALIGNED - places)
    return Shape(
        text, len(text), places, whole, digits.strip("0"), digit_set, int(digits, 16) << shift,
        _WRITTEN[len(digits)] << shift, coefficient * POWERS[ALIGNED - places], repeats,
    )


_DIGIT_BIT = {str(digit): 1 << digit for digit in range(10)}
_WRITTEN = tuple(sum(1 << 4 * place for place in range(count)) for count in range(4 * ALIGNED))


def stem_figures(operands: Sequence[Numeral]) -> tuple[str, ...]:
    """Return the digit strings of *operands* that an option could repeat: at least two digits, no outer zeros."""
    strings = [str(abs(operand.coefficient)).strip("0") for operand in operands]
    return tuple([digits for digits in strings if len(digits) > 1])


@lru_cache(maxsize=1)
def changes() -> Callable[[str, str], int]:
    """Return what counts single-character changes; only the processes that choose options load its library."""
    from rapidfuzz.distance import Levenshtein

    return Levenshtein.distance


def edit_distance(option: Shape, other: Shape) -> int:
    """Return how many single-character changes turn one text into the other (Levenshtein 1965)."""
    return changes()(option.text, other.text)


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


OWN = [found for found in CUES if found.kind == "own"]
PAIR = [found for found in CUES if found.kind == "pair"]
PLACE = [found for found in CUES if found.kind == "place"]
SET = [found for found in CUES if found.kind == "set"]
HELD_OUT = [found for found in CUES if found.kind == "held-out"]
PACKED = (*OWN, *PAIR, *PLACE)
"""Cues scored in packed form, in order of their fields."""
STEERED = (*PACKED, *SET)
"""Cues that the choice of wrong options is steered against."""
PANEL = (*STEERED, *HELD_OUT)
"""Strategies of the guesser's panel; those held out are not steered against, so they test the steering."""


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
    return share(scores, key)


def share(scores: Sequence[int], key: int) -> int:
    """Return what a guesser earns who picks among the highest of *scores*, the key's being that at *key*."""
    best = max(scores)
    return UNIT // scores.count(best) if scores[key] == best else 0
