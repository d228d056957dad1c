"""A dictionary for many short texts at once: a text is some 64-bit words, and each different one gets a number.

The table is open (linear probing), its hash is a sum of products, so that zero words at the end change nothing. A hash
only says where to look: every word is compared.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

Words = Sequence[np.ndarray]
"""Columns of uint64: first eight bytes of each text, next eight ..., filled up with zero bytes."""

_ODD = (
    0x9E3779B97F4A7C15, 0xC2B2AE3D27D4EB4F, 0x165667B19E3779F9, 0xD6E8FEB86659FD93,
    0xA0761D6478BD642F, 0xE7037ED1A0B428DB, 0x8EBC6AF09C88C6E3, 0x589965CC75374CC3,
)
"""Odd numbers with mixed bits; any will do, for a poor hash only costs time."""
_SPREAD = 8
"""The table has at least this many slots for each text."""
_FIRST = 1 << 13
"""Slots at first."""


class Lookup:
    """Numbers texts from 0 in order of appearance (texts that come in one call: in the order of the call)."""

    def __init__(self) -> None:
        self.size = 0
        self._words = [np.zeros(_FIRST // _SPREAD, dtype=np.uint64)]
        self._slots = np.full(_FIRST, -1, dtype=np.int32)
        self._shift = np.uint64(64 - 13)

    def find(self, words: Words) -> np.ndarray:
        """Return the number of each text (int32); texts that are new are given the next ones."""
        while len(words) > len(self._words):
            self._words.append(np.zeros_like(self._words[0]))
        slot = self._hash(words)
        found = self._slots[slot]
        missed = np.flatnonzero(~self._same(words, found))
        if len(missed):
            found[missed] = self._find_further([word[missed] for word in words], slot[missed], found[missed])
        return found

    def find_runs(self, words: Words) -> np.ndarray:
        """Return what `find` does, quicker where many texts are like the one before."""
        count = len(words[0])
        if count < 2:
            return self.find(words)
        change = words[0][1:] != words[0][:-1]
        for word in words[1:]:
            change |= word[1:] != word[:-1]
        heads = np.flatnonzero(change)
        if 2 * len(heads) > count:
            return self.find(words)
        heads = np.concatenate(([0], heads + 1))
        return np.repeat(self.find([word[heads] for word in words]), np.diff(heads, append=count))

    def words_of(self, number: int) -> tuple[int, ...]:
        """Return the words of the text with this number."""
        return tuple(int(column[number]) for column in self._words)

    def texts(self) -> list[bytes]:
        """Return all texts in order of their numbers."""
        table = np.stack([column[: self.size] for column in self._words], axis=1).astype("<u8")
        raw = table.tobytes()
        width = 8 * len(self._words)
        return [raw[at : at + width].rstrip(b"\0") for at in range(0, len(raw), width)]

    def _hash(self, words: Words) -> np.ndarray:
        mixed = words[0] * np.uint64(_ODD[0])
        for at, word in enumerate(words[1:], start=1):
            mixed += word * np.uint64(_ODD[at % len(_ODD)])
        # The sum's low bits are poor: fold the high ones into them, and multiply once more.
        mixed ^= mixed >> np.uint64(32)
        mixed *= np.uint64(_ODD[-1])
        return (mixed >> self._shift).astype(np.int64)

    def _same(self, words: Words, found: np.ndarray) -> np.ndarray:
        same = found >= 0
        for at, column in enumerate(self._words):
            same &= column[found] == (words[at] if at < len(words) else np.uint64(0))
        return same

    def _find_further(self, words: Words, slot: np.ndarray, found: np.ndarray) -> np.ndarray:
        """Return the numbers of texts that were not in their first slot, in which *found* is; *slot* is changed."""
        mask = len(self._slots) - 1
        waiting = np.flatnonzero(found >= 0)
        while len(waiting):
            slot[waiting] = (slot[waiting] + 1) & mask
            there = self._slots[slot[waiting]]
            found[waiting] = there
            other = (there >= 0) & ~self._same([word[waiting] for word in words], there)
            waiting = waiting[other]
        new = np.flatnonzero(found < 0)
        if len(new):
            found[new] = self._add([word[new] for word in words])
        return found

    def _add(self, words: Words) -> np.ndarray:
        """Return the numbers of texts that are not in the table, which may be alike among themselves."""
        self._make_room(len(words[0]))
        slot = self._hash(words)
        # Every text is taken for new at first; the first of those that are alike will hold the slot.
        tried = np.arange(self.size, self.size + len(slot), dtype=np.int32)
        for at, column in enumerate(self._words):
            column[tried] = words[at] if at < len(words) else 0
        result = np.full(len(slot), -1, dtype=np.int32)
        waiting = np.arange(len(slot))
        mask = len(self._slots) - 1
        while len(waiting):
            free = waiting[self._slots[slot[waiting]] < 0][::-1]
            self._slots[slot[free]] = tried[free]  # of several writers the last, so the first of the texts, stays
            found = self._slots[slot[waiting]]
            same = self._same([word[waiting] for word in words], found)
            result[waiting[same]] = found[same]
            waiting = waiting[~same]
            slot[waiting] = (slot[waiting] + 1) & mask
        self._close_ranks(result, slot)
        return result

    def _close_ranks(self, result: np.ndarray, slot: np.ndarray) -> None:
        """Give the new texts numbers without gaps."""
        new = np.unique(result[result >= self.size])
        for column in self._words:
            kept = column[new]
            column[self.size : self.size + len(result)] = 0
            column[self.size : self.size + len(new)] = kept
        fresh = result >= self.size
        numbers = (self.size + np.searchsorted(new, result[fresh])).astype(np.int32)
        self._slots[slot[fresh]] = numbers
        result[fresh] = numbers
        self.size += len(new)

    def _make_room(self, more: int) -> None:
        needed = self.size + more
        if needed > len(self._words[0]):
            room = 1 << (needed - 1).bit_length()
            self._words = [np.concatenate((column, np.zeros(room - len(column), dtype=np.uint64)))
                           for column in self._words]
        if needed * _SPREAD > len(self._slots):
            bits = (needed * _SPREAD - 1).bit_length()
            self._slots = np.full(1 << bits, -1, dtype=np.int32)
            self._shift = np.uint64(64 - bits)
            self._insert_all(self._hash([column[: self.size] for column in self._words]))

    def _insert_all(self, slot: np.ndarray) -> None:
        """Put every text, all different, into the empty table."""
        waiting = np.arange(self.size, dtype=np.int32)
        mask = len(self._slots) - 1
        while len(waiting):
            free = waiting[self._slots[slot[waiting]] < 0]
            self._slots[slot[free]] = free
            waiting = waiting[self._slots[slot[waiting]] != waiting]
            slot[waiting] = (slot[waiting] + 1) & mask
