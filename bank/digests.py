"""Digests as people can read and copy them: letters and digits that are not mistaken for each other."""

from __future__ import annotations

LETTERS = "abcdefghijkmnpqrstuvwxyz23456789"
"""32 characters, five bits each; without l, o, 0 and 1."""
_TWO_LETTERS = tuple([first + second for second in LETTERS for first in LETTERS])


def thirteen_letters(number: int) -> str:
    """Return *number*, below 2**64, in 13 letters, the last place first."""
    two = _TWO_LETTERS
    return (
        two[number & 1023] + two[number >> 10 & 1023] + two[number >> 20 & 1023] + two[number >> 30 & 1023]
        + two[number >> 40 & 1023] + two[number >> 50 & 1023] + LETTERS[number >> 60]
    )


def letters(digest: bytes, count: int) -> str:
    """Return the first 5 * *count* bits of *digest* in *count* letters."""
    number = int.from_bytes(digest, "big") >> 8 * len(digest) - 5 * count
    return "".join([LETTERS[number >> 5 * place & 31] for place in range(count - 1, -1, -1)])
