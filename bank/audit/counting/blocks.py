"""Canonical CSV in blocks of bytes: where each field of each row begins and ends, found for a whole block at once.

Rows with quotation marks elsewhere than around whole fields, a zero byte, a carriage return inside, bytes that are no
UTF-8, too few or too many fields or a very long field are read one by one by `bank.audit.counting.layout.fields_of`,
and come in a batch of their own.
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
_LINE, _RETURN, _QUOTE = b'\n\r"'
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
    columns = layout.columns
    stops = np.flatnonzero(breaks)
    starts = np.concatenate(([0], stops[:-1] + 1))
    separators = body == ord(layout.separator)
    quotes = _Quotes(body, starts, stops) if b'"' in text else None
    if quotes is not None:
        separators &= ~quotes.inside
    marks = np.flatnonzero(breaks | separators)
    good = _good_lines(text, body, breaks, stops)
    if quotes is not None:
        good &= quotes.counts & 1 == 0
    if len(marks) != columns * len(stops) or not bool((marks[columns - 1 :: columns] == stops).all()):
        fields = np.diff(np.searchsorted(marks, stops, side="right"), prepend=0)
        good &= fields == columns
        marks = marks[np.repeat(good, fields)]
    elif not good.all():
        marks = marks[np.repeat(good, columns)]
    lines = np.flatnonzero(good)
    batch = None
    if len(lines):
        begins, lengths = _fields(data, marks.reshape(-1, columns).T, starts[lines], b"\r" in text)
        careful = np.zeros(len(lines), dtype=np.bool_)
        if quotes is not None:
            careful |= quotes.strip(data, begins, lengths) != quotes.counts[lines]
        if int(lengths.max()) > LONGEST:
            careful |= (lengths[_used(layout)] > LONGEST).any(axis=0)
        if columns == 1:
            careful |= lengths[0] == 0
        if careful.any():
            good[lines[careful]] = False
            begins, lengths, lines = begins[:, ~careful], lengths[:, ~careful], lines[~careful]
        batch = Batch(data, begins, lengths, line + lines)
    yield from _read_slowly(
        text, [(line + at, int(starts[at]), int(stops[at])) for at in np.flatnonzero(~good).tolist()],
        layout, name, rejected, long_texts,
    )
    if len(lines) and batch is not None:
        yield batch


def _fields(data: np.ndarray, ends: np.ndarray, first: np.ndarray, returns: bool) -> tuple[np.ndarray, np.ndarray]:
    """Return where fields begin and how long they are, [columns, n]; *ends* are the marks after them, *first* where the
    rows begin, *returns* says whether there may be carriage returns before their ends."""
    ends = np.ascontiguousarray(ends)
    begins = np.empty_like(ends)
    begins[0] = first
    begins[1:] = ends[:-1] + 1
    lengths = ends - begins
    if returns:
        lengths[-1] -= (lengths[-1] > 0) & (data[ends[-1] - 1] == _RETURN)
    return begins, lengths


class _Quotes:
    """Quotation marks of a block whose lines each begin outside of them."""

    def __init__(self, body: np.ndarray, starts: np.ndarray, stops: np.ndarray) -> None:
        marks = body == _QUOTE
        self.counts = np.diff(np.searchsorted(np.flatnonzero(marks), stops), prepend=0)
        """Marks in each line."""
        self.inside = np.cumsum(marks, dtype=np.uint8) & 1 == 1
        """Whether a byte stands after an opening mark."""
        if (self.counts & 1).any():
            before = (np.cumsum(self.counts) - self.counts) & 1 == 1
            self.inside ^= np.repeat(before, stops - starts + 1)

    def strip(self, data: np.ndarray, begins: np.ndarray, lengths: np.ndarray) -> np.ndarray:
        """Take the marks around fields off them, in place, and return how many marks that were in each row."""
        closed = (lengths > 1) & (data[begins] == _QUOTE)
        closed &= data[begins + np.maximum(lengths, 1) - 1] == _QUOTE
        begins += closed
        lengths -= 2 * closed
        return 2 * np.count_nonzero(closed, axis=0)


def _used(layout: Layout) -> list[int]:
    single = (layout.pupil, layout.group, layout.quiz, layout.attempt, layout.item, layout.response, layout.version,
              layout.status)
    return [column for column in single if column >= 0] + [column for column, _ in layout.items]


def _good_lines(text: bytes, body: np.ndarray, breaks: np.ndarray, stops: np.ndarray) -> np.ndarray:
    """Return which lines hold no byte that makes them odd."""
    places = []
    if text.find(b"\0", 0, len(body)) >= 0:
        places.append(np.flatnonzero(body == 0))
    if text.find(b"\r", 0, len(body)) >= 0:
        returns = np.flatnonzero(body == _RETURN)
        places.append(returns[~breaks[returns + 1]])
    if int(body.max()) > 127:
        places.append(_undecodable(text[: len(body)]))
    good = np.ones(len(stops), dtype=np.bool_)
    for found in places:
        good[np.searchsorted(stops, found)] = False
    return good


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
