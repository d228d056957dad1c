"""Randomness that is a pure function of names: the same on every machine and every Python.

Nothing here reads a clock or a system source. A draw's numbers come from a digest of what names it.
"""

from __future__ import annotations

from hashlib import blake2b


def digest_numbers(*names: object) -> tuple[int, int, int, int]:
    """Return four whole numbers below 2**64 that *names* decide."""
    text = "\x1f".join(map(str, names)).encode()
    digest = blake2b(text, digest_size=32).digest()
    return (
        int.from_bytes(digest[:8], "big"), int.from_bytes(digest[8:16], "big"),
        int.from_bytes(digest[16:24], "big"), int.from_bytes(digest[24:], "big"),
    )


_TABLED = 12
"""Bits of half a number up to which what a round makes of each half is kept: the same halves come again and again."""


class Shuffle:
    """A keyed one-to-one reordering of the whole numbers from 0 up to before *size*, without a table of them.

    A four-round Feistel network over the next even number of bits; results outside are walked on
    (cycle walking: Black & Rogaway 2002). Every order of visiting gives each number exactly once.
    """

    def __init__(self, size: int, *names: object) -> None:
        if size < 1:
            raise ValueError("a shuffle needs at least one number")
        self.size = size
        half = max(1, ((size - 1).bit_length() + 1) // 2)
        self._half = half
        self._mask = (1 << half) - 1
        self._keys = tuple(number | 1 for number in digest_numbers("shuffle", size, *names))
        self._rounds = [[-1] * (1 << half) for _ in self._keys] if half <= _TABLED else []
        """What each round makes of each half, -1 where that was not asked yet."""

    def __getitem__(self, place: int) -> int:
        """Return the number at *place*."""
        if not self._rounds:
            return self._worked_out(place)
        half, mask, size = self._half, self._mask, self.size
        first, second, third, fourth = self._rounds
        number = place
        while True:
            left, right = number >> half, number & mask
            found = first[right]
            left ^= found if found >= 0 else self._noted(0, right)
            found = second[left]
            right ^= found if found >= 0 else self._noted(1, left)
            found = third[right]
            left ^= found if found >= 0 else self._noted(2, right)
            found = fourth[left]
            right ^= found if found >= 0 else self._noted(3, left)
            number = left << half | right
            if number < size:
                return number

    def _noted(self, turn: int, half: int) -> int:
        key = self._keys[turn]
        mixed = ((half ^ key) * 0x9E3779B97F4A7C15 + key) & 0xFFFFFFFFFFFFFFFF
        mixed = ((mixed ^ (mixed >> 29)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
        found = self._rounds[turn][half] = (mixed ^ (mixed >> 32)) & self._mask
        return found

    def _worked_out(self, place: int) -> int:
        half, mask = self._half, self._mask
        number = place
        while True:
            left, right = number >> half, number & mask
            for key in self._keys:  # as in `_noted`; a call for each round would be felt
                mixed = ((right ^ key) * 0x9E3779B97F4A7C15 + key) & 0xFFFFFFFFFFFFFFFF
                mixed = ((mixed ^ (mixed >> 29)) * 0xBF58476D1CE4E5B9) & 0xFFFFFFFFFFFFFFFF
                left, right = right, left ^ ((mixed ^ (mixed >> 32)) & mask)
            number = left << half | right
            if number < self.size:
                return number


def shuffled(values: list[int], *names: object) -> list[int]:
    """Return *values* in an order that *names* decide."""
    if len(values) < 2:
        return list(values)
    order = Shuffle(len(values), *names)
    return [values[order[place]] for place in range(len(values))]
