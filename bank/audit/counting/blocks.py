"""Canonical CSV in blocks of bytes: where each field of each row begins and ends, found for a whole block at once.

Rows with a quotation mark, a zero byte, a carriage return inside, bytes that are no UTF-8, too few or too many fields
or a very long field are read one by one by `bank.audit.counting.layout.fields_of`, and come in a batch of their own.
"""

from __future__ import annotations

from codecs import utf_8_decode
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

from bank.audit.counting.layout import Layout, fields_of
from bank.audit.counting.outcome import Rejected
from bank.audit.counting.plain import wrong_number

BLOCK = 1 << 20
"""Bytes read at a time."""
LONGEST = 64
"""Bytes of a field that is read with others; a longer one stands for itself by a number after a zero byte."""
_PAD = LONGEST + 16
"""Zero bytes behind a block, so that words can be read beyond its end."""
_LINE, _RETURN = 10, 13
_KEEP = np.array([(1 << 8 * length) - 1 for length in range(9)], dtype=np.uint64)
"""Masks for the first bytes of a word."""


class LongTexts:
    """Texts over `LONGEST` bytes, each by a short token that no text can be."""

    def __init__(self) -> None:
        self._tokens: dict[bytes, bytes] = {}
        self._texts: list[bytes] = []

    def token(self, text: bytes) -> bytes:
        """Return what stands for *text*: itself where it is short."""
        if len(text) <= LONGEST:
            return text
        token = self._tokens.setdefault(text, b"\0%d" % len(self._tokens))
        if len(self._texts) < len(self._tokens):
            self._texts.append(text)
        return token

    def text(self, token: bytes) -> bytes:
        """Return the text that *token* stands for."""
        return self._texts[int(token[1:])] if token[:1] == b"\0" else token


class Batch:
    """Rows of a block: bytes, and for each column where its fields begin and how long they are."""

    def __init__(self, data: np.ndarray, begins: np.ndarray, lengths: np.ndarray, rows: np.ndarray) -> None:
        self.data = data
        """uint8, some zero bytes longer than the text, in whole words."""
        self.begins = begins
        """int64 [columns, n]"""
        self.lengths = lengths
        """int64 [columns, n]"""
        self.rows = rows
        """int64 [n]: lines of the file."""
        self._whole = data.view("<u8")
        self._words: dict[int, list[np.ndarray]] = {}

    def words(self, column: int) -> list[np.ndarray]:
        """Return the texts of a column as words for `bank.audit.counting.lookup.Lookup`."""
        if column not in self._words:
            self._words[column] = self.words_at(self.begins[column], self.lengths[column])
        return self._words[column]

    def words_at(self, begins: np.ndarray, lengths: np.ndarray) -> list[np.ndarray]:
        """Return the texts at *begins* as words."""
        if not len(begins):
            return [np.zeros(0, dtype=np.uint64)]
        longest, shortest = int(lengths.max()), int(lengths.min())
        first = begins >> 3
        shift = ((begins & 7) << 3).astype(np.uint64)
        back = np.uint64(64) - shift
        low = self._whole[first]
        words = []
        for at in range(max(1, -(-longest // 8))):
            first += 1
            high = self._whole[first]
            word = high << back  # a shift by 64 gives 0
            word |= low >> shift
            if shortest == longest:
                word &= _KEEP[min(longest - 8 * at, 8)]
            elif shortest < 8 * (at + 1):
                word &= _KEEP[np.minimum(np.maximum(lengths - 8 * at, 0), 8)]
            words.append(word)
            low = high
        return words

    def text(self, column: int, at: int) -> bytes:
        """Return one field."""
        begin = int(self.begins[column][at])
        return self.data[begin : begin + int(self.lengths[column][at])].tobytes()


def read_batches(path: Path, layout: Layout, rejected: Rejected, long_texts: LongTexts) -> Iterator[Batch]:
    """Yield the rows of the file at *path* in batches; rows that are none are added to *rejected*.

    Fields over `LONGEST` bytes are put into *long_texts*.
    """
    buffer = bytearray(BLOCK + _PAD)
    line, rest = 2, 0
    with path.open("rb") as file:
        file.seek(layout.start)
        while True:
            if len(buffer) - _PAD - rest < BLOCK // 2:
                buffer.extend(bytes(len(buffer)))
            with memoryview(buffer) as view:
                got = file.readinto(view[rest : len(buffer) - _PAD])
            filled = rest + got
            if not got:
                if not filled:
                    return
                buffer[filled : filled + 1] = b"\n"
                filled += 1
            end = buffer.rfind(b"\n", 0, filled) + 1
            if end:
                text = b"".join((memoryview(buffer)[:end], bytes(_PAD + -end % 8)))
                kept = bytes(memoryview(buffer)[end:filled])
                breaks = np.frombuffer(text, dtype=np.uint8, count=end) == _LINE
                yield from _batches(text, breaks, line, layout, str(path), rejected, long_texts)
                line += int(np.count_nonzero(breaks))
                buffer[: len(kept)] = kept
                filled = len(kept)
            if not got:
                return
            rest = filled


def _batches(
    text: bytes, breaks: np.ndarray, line: int, layout: Layout, name: str, rejected: Rejected, long_texts: LongTexts
) -> Iterator[Batch]:
    data = np.frombuffer(text, dtype=np.uint8)
    body = data[: len(breaks)]
    count = int(np.count_nonzero(breaks))
    marks = np.flatnonzero(breaks | (body == ord(layout.separator)))
    columns = layout.columns
    ends = marks[columns - 1 :: columns]
    odd = _odd_lines(text, body, breaks, count)
    regular = len(marks) == columns * count and bool((body[ends] == _LINE).all())
    lines = None
    if not regular or odd is not None:
        stops = np.flatnonzero(breaks)
        fields = np.diff(np.searchsorted(marks, stops, side="right"), prepend=0)
        good = fields == columns
        if odd is not None:
            good &= ~odd
        marks = marks[np.repeat(good, fields)]
        lines = np.flatnonzero(good)
        begin = np.concatenate(([0], stops[:-1] + 1))
        yield from _read_slowly(
            text, [(line + int(at), int(begin[at]), int(stops[at])) for at in np.flatnonzero(~good)],
            layout, name, rejected, long_texts,
        )
        first = begin[lines]
    else:
        first = np.concatenate(([0], ends[:-1] + 1)) if count else np.zeros(0, dtype=np.int64)
        lines = np.arange(count)
    if not len(lines):
        return
    stops_at = np.ascontiguousarray(marks.reshape(-1, columns).T)
    begins = np.empty_like(stops_at)
    begins[0] = first
    begins[1:] = stops_at[:-1] + 1
    lengths = stops_at - begins
    if _RETURN in text:
        lengths[-1] -= (lengths[-1] > 0) & (data[stops_at[-1] - 1] == _RETURN)
    if int(lengths.max()) > LONGEST:
        too_long = (lengths[_used(layout)] > LONGEST).any(axis=0)
        bad = np.flatnonzero(too_long)
        yield from _read_slowly(
            text, [(line + int(lines[at]), int(begins[0][at]), int(stops_at[-1][at])) for at in bad],
            layout, name, rejected, long_texts,
        )
        begins, lengths, lines = begins[:, ~too_long], lengths[:, ~too_long], lines[~too_long]
    if columns == 1 and len(lines):
        filled = lengths[0] > 0
        begins, lengths, lines = begins[:, filled], lengths[:, filled], lines[filled]
    if len(lines):
        yield Batch(data, begins, lengths, line + lines)


def _used(layout: Layout) -> list[int]:
    single = (layout.pupil, layout.group, layout.quiz, layout.attempt, layout.item, layout.response, layout.version,
              layout.status)
    return [column for column in single if column >= 0] + [column for column, _ in layout.items]


def _odd_lines(text: bytes, body: np.ndarray, breaks: np.ndarray, count: int) -> np.ndarray | None:
    """Return which lines must be read with care, or None where none must."""
    end = len(body)
    places = []
    for byte in (b'"', b"\0"):
        if text.find(byte, 0, end) >= 0:
            places.append(np.flatnonzero(body == byte[0]))
    if text.find(b"\r", 0, end) >= 0:
        returns = np.flatnonzero(body == _RETURN)
        places.append(returns[~breaks[returns + 1]])
    if len(body) and int(body.max()) > 127:
        places.append(_undecodable(text[:end]))
    places = [found for found in places if len(found)]
    if not places:
        return None
    odd = np.zeros(count, dtype=np.bool_)
    stops = np.flatnonzero(breaks)
    for found in places:
        odd[np.searchsorted(stops, found)] = True
    return odd


def _undecodable(text: bytes) -> np.ndarray:
    """Return a place in each line that is no UTF-8."""
    places, start, view = [], 0, memoryview(text)
    while start < len(text):
        try:
            utf_8_decode(view[start:], "strict", True)
            break
        except UnicodeDecodeError as error:
            places.append(start + error.start)
            start = text.find(b"\n", start + error.start) + 1
    return np.array(places, dtype=np.int64)


def _read_slowly(
    text: bytes, lines: Sequence[tuple[int, int, int]], layout: Layout, name: str, rejected: Rejected,
    long_texts: LongTexts,
) -> Iterator[Batch]:
    """Yield the rows at (line, begin, end) of *text* that are rows after all."""
    rows: list[int] = []
    fields: list[bytes] = []
    for line, begin, end in lines:
        one = text[begin:end].removesuffix(b"\r")
        if not one:
            continue
        cells = fields_of(one, layout.separator)
        if isinstance(cells, str):
            rejected.add(name, line, cells)
        elif len(cells) != layout.columns:
            rejected.add(name, line, wrong_number(len(cells), layout.columns))
        else:
            rows.append(line)
            fields += [long_texts.token(cell) for cell in cells]
    if not rows:
        return
    joined = b"".join(fields)
    lengths = np.array([len(cell) for cell in fields], dtype=np.int64)
    begins = np.concatenate(([0], np.cumsum(lengths)[:-1]))
    data = np.frombuffer(joined + bytes(_PAD + -len(joined) % 8), dtype=np.uint8)
    shape = (len(rows), layout.columns)
    yield Batch(
        data, np.ascontiguousarray(begins.reshape(shape).T), np.ascontiguousarray(lengths.reshape(shape).T),
        np.array(rows, dtype=np.int64),
    )
