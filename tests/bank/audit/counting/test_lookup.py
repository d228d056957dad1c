"""The dictionary for many texts at once gives what a plain dictionary gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bank.audit.counting.lookup import Lookup


def _words(texts: list[bytes]) -> list[np.ndarray]:
    width = max([1, *[-(-len(text) // 8) for text in texts]])
    table = np.array([text.ljust(8 * width, b"\0") for text in texts], dtype=f"S{8 * width}")
    return list(np.frombuffer(table.tobytes(), dtype="<u8").reshape(len(texts), width).T.copy())


_TEXTS = st.lists(st.binary(max_size=20).map(lambda raw: raw.replace(b"\0", b"0")), min_size=1, max_size=30)


@pytest.mark.long
@given(st.lists(_TEXTS, min_size=1, max_size=6))
@settings(max_examples=100, deadline=None)
def test_texts_are_numbered_in_order_of_appearance(calls: list[list[bytes]]) -> None:
    lookup, plain = Lookup(), {}
    for texts in calls:
        numbers = [plain.setdefault(text, len(plain)) for text in texts]
        assert lookup.find(_words(texts)).tolist() == numbers
        assert lookup.find_runs(_words(texts)).tolist() == numbers
    assert lookup.texts() == list(plain)
    assert lookup.size == len(plain)


def test_hundreds_of_thousands_of_texts_that_differ_little_are_told_apart() -> None:
    lookup = Lookup()
    texts = np.arange(300_000, dtype=np.uint64)
    words = [np.full(len(texts), 0x3030303030303030, dtype=np.uint64), texts << np.uint64(40)]
    assert lookup.find(words).tolist() == list(range(300_000))
    backwards = lookup.find([word[::-1].copy() for word in words])
    assert backwards.tolist() == list(range(300_000))[::-1]


def test_texts_that_fall_on_one_slot_are_told_apart() -> None:
    lookup = Lookup()
    lookup._hash = lambda words: np.zeros(len(words[0]), dtype=np.int64)  # type: ignore[method-assign]
    texts = [b"%d" % (number % 40) for number in range(200)]
    assert lookup.find(_words(texts)).tolist() == [number % 40 for number in range(200)]
    assert lookup.find(_words([b"39", b"new", b"0", b"new"])).tolist() == [39, 40, 0, 40]
