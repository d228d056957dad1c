"""Numerals written into lanes of bytes, so that all pairs of an item's options are compared in a few large numbers."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from operator import itemgetter
from typing import Any, NamedTuple

from bank.cues import ALIGNED, changes
from bank.numerals import POWERS, Numeral

_FLAG = 0x10
"""Marks a byte that counts: written digits have this bit, spaces have not. The four bits below are compared."""

_SINGLE = 5
"""Single bytes at the end of a lane."""


class _Lane(NamedTuple):
    """How a numeral is written for comparison: digits about a fixed point, set of digits, and single bytes.

    The order is: digits; room, in which the length stands; a byte for each of the ten digits, whether it is used;
    number of places, last digit, first figure; number of figures, whether it ends in 5 or 0. There is so much room that
    a sum over as many bytes as there are digits takes in either the digits or the set of digits.
    """

    whole: int
    """Digits that may stand before the point."""
    places: int
    """Digits that may stand after it."""

    @property
    def digits(self) -> int:
        """Bytes for digits."""
        return self.whole + self.places

    @property
    def single(self) -> int:
        """Where the single bytes begin."""
        return 2 * self.digits

    @property
    def width(self) -> int:
        """Bytes in all."""
        return 2 * self.digits + _SINGLE


_NARROW, _WIDE = _Lane(6, 5), _Lane(12, 8)
"""Nearly all numerals of school arithmetic fit the first; what fits neither is scored the plain way."""


class _Used(dict[str, int]):
    """The digits used in up to three digits, a bit each."""

    def __missing__(self, digits: str) -> int:
        found = self[digits] = sum([1 << int(digit) for digit in set(digits)])
        return found


_used = _Used()
_DIGIT_SETS = tuple("".join([chr(_FLAG) if used >> digit & 1 else "\0" for digit in range(10)]) for used in range(1024))
_SPACES = tuple(" " * count for count in range(_WIDE.digits + 1))
_CHARACTERS = tuple(map(chr, range(64)))
_ROOM = {lane: "\0" * (lane.digits - 11) for lane in (_NARROW, _WIDE)}


def _written(lane: _Lane, digits: str, places: int, figures: str) -> bytes:
    """Return the numeral in *lane*, nothing where it does not fit."""
    count = len(digits)
    most_whole, most_places = lane
    if count - places > most_whole or places > most_places:
        return b""
    used = _used[digits[:3]]
    if count > 3:
        used |= _used[digits[3:6]]
        for more in range(6, count, 3):
            used |= _used[digits[more : more + 3]]
    last = digits[-1]
    return (
        f"{_SPACES[most_whole - count + places]}{digits}{_SPACES[most_places - places]}"
        f"{_CHARACTERS[count + 1 if places else count]}{_ROOM[lane]}{_DIGIT_SETS[used]}"
        f"{_CHARACTERS[_FLAG | places]}{last}{figures[:1] or ':'}{_CHARACTERS[len(figures)]}"
        f"{_CHARACTERS[last in '05']}"
    ).encode()


@lru_cache(maxsize=4096)
def look(coefficient: int, places: int) -> tuple[str, str, str, int, bytes]:
    """Return how a numeral looks: text, digits, figures and size as in `bank.cues.Shape`, and its narrow lane.

    A third of an item's options come again soon, so they are kept for a while.
    """
    digits = text = str(coefficient)
    if places:
        if len(digits) <= places:
            digits = digits.zfill(places + 1)
        text = f"{digits[:-places]}.{digits[-places:]}"
    figures = digits.strip("0")
    size = coefficient * POWERS[ALIGNED - places]
    return text, digits, figures, size, _written(_NARROW, digits, places, figures)


def wide(numerals: Sequence[Numeral]) -> tuple[bytes, ...]:
    """Return the wide lanes of *numerals*, nothing for one that does not fit."""
    looks = [(look(numeral.coefficient, numeral.places), numeral.places) for numeral in numerals]
    return tuple([_written(_WIDE, digits, places, figures) for (_, digits, figures, _, _), places in looks])


def getter(places: Sequence[int]) -> Any:
    """Return what takes the members at *places* out of a sequence, as a tuple even if it is only one."""
    if len(places) == 1:
        return lambda members: (members[places[0]],)
    return itemgetter(*places)


class Pairs:
    """Pairs of options that are compared, by the places of the options among an item's."""

    def __init__(self, pairs: Sequence[tuple[int, int]]) -> None:
        self.count = len(pairs)
        self.firsts = getter([first for first, _ in pairs])
        self.seconds = getter([second for _, second in pairs])


PAIRED = ("digits", "digits used", "places alike", "last digit", "first figure", "form", "changes")
ALONE = ("length", "places", "figures", "five")


def count_pairs(pairs: Pairs, lanes: Sequence[bytes], texts: Sequence[str]) -> tuple[bytes, ...]:
    """Return a column of bytes for each of `PAIRED`, a byte a pair, of options with these *lanes* and *texts*.

    They are: digits in common, digits that both use, whether number of places, last digit and first figure are alike,
    by how many places the forms differ, and how many changes lead from one text to the other.
    """
    firsts, seconds = pairs.firsts, pairs.seconds
    wide, width, low, flags, digit_flags, window, sums, digit_sum, alike_bits = _constants(len(lanes[0]), pairs.count)
    left = int.from_bytes(b"".join(firsts(lanes)), "little")
    right = int.from_bytes(b"".join(seconds(lanes)), "little")
    unlike = left ^ right
    alike = (((unlike + low) ^ flags) & left & right & flags) >> 4
    form = (((unlike & digit_flags) >> 4) * window & digit_sum) << 8
    found = (alike * window & sums | form | alike & alike_bits).to_bytes(width * pairs.count, "little")
    single = 2 * wide
    return (
        found[wide - 1 :: width], found[single - 1 :: width],
        found[single::width], found[single + 1 :: width], found[single + 2 :: width],
        found[wide::width], bytes(map(changes(), firsts(texts), seconds(texts))),
    )


def count_alone(lanes: Sequence[bytes]) -> tuple[bytes, ...]:
    """Return a column of bytes for each of `ALONE`, a byte for each option of these *lanes*; places are flagged."""
    width = len(lanes[0])
    wide = (width - _SINGLE) // 2
    alone = b"".join(lanes)
    return alone[wide::width], alone[2 * wide :: width], alone[2 * wide + 3 :: width], alone[2 * wide + 4 :: width]


@lru_cache(maxsize=256)
def _constants(width: int, count: int) -> tuple[int, ...]:
    """Return the numbers with which *count* lanes of *width* bytes are compared at once.

    In order: bytes for digits; bytes in all; what carries a difference into the flag; flags of all that is compared,
    and of the digits; what to multiply by so that each byte becomes the sum of as many bytes up to it as there are
    digits; where sums stand, and where that of the digits does; the bits that say what is alike.
    """

    def in_each(value: int, places: Sequence[int]) -> int:
        one = bytearray(width)
        for place in places:
            one[place] = value
        return int.from_bytes(one * count, "little")

    wide = (width - _SINGLE) // 2
    single = 2 * wide
    digits, used, alike = range(wide), range(single - 10, single), range(single, single + 3)
    return (
        wide, width, in_each(_FLAG - 1, range(width)), in_each(_FLAG, [*digits, *used, *alike]),
        in_each(_FLAG, digits), sum([1 << 8 * place for place in digits]), in_each(255, [wide - 1, single - 1]),
        in_each(255, [wide - 1]), in_each(1, alike),
    )
