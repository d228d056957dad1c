"""Batches of rows turned into codes: texts are looked up for a whole batch, and each different one is judged once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from bank.audit.counting.blocks import Batch, LongTexts
from bank.audit.counting.gathering import EMPTY, Gathered
from bank.audit.counting.keys import REFUSED, Codebook, QuizKey
from bank.audit.counting.layout import Layout
from bank.audit.counting.lookup import Lookup
from bank.audit.counting.outcome import Rejected
from bank.audit.counting.plain import attempt_of
from bank.audit.counting.resolve import Resolver
from bank.audit.harmless import told
from bank.audit.records import FormAnswers

_UNKNOWN = EMPTY + 1
"""Marks a byte that was not met yet."""
_NOBODY = "the row names no pupil or no item"


class Judged:
    """Texts of a column with a number that each stands for, and the reason where it stands for none.

    *judge* takes a text and returns its number, or raises ValueError.
    """

    def __init__(self, judge: Callable[[str], int], long_texts: LongTexts) -> None:
        self._judge = judge
        self._long = long_texts
        self._lookup = Lookup()
        self._values = np.zeros(256, dtype=np.int32)
        self.reasons: dict[int, str] = {}
        """By number of the text."""

    def find(self, batch: Batch, column: int) -> tuple[np.ndarray, np.ndarray]:
        """Return for each row the value (int32) and the number of the text."""
        before = self._lookup.size
        number = self._lookup.find_runs(batch.words(column))
        if self._lookup.size > before:
            self._learn(before)
        return self._values[number], number

    def _learn(self, before: int) -> None:
        size = self._lookup.size
        if size > len(self._values):
            self._values = np.concatenate((self._values, np.zeros(size, dtype=np.int32)))
        for number in range(before, size):
            try:
                self._values[number] = self._judge(text_of(self._lookup.words_of(number), self._long))
            except ValueError as error:
                self._values[number] = -1
                self.reasons[number] = str(error)


def text_of(words: Sequence[int], long_texts: LongTexts) -> str:
    """Return the text that *words* hold."""
    raw = b"".join([word.to_bytes(8, "little") for word in words])
    # A token of a long text begins with a zero byte; other texts hold none, so those at the end are filling.
    return long_texts.text(raw.rstrip(b"\0")).decode()


class Reading:
    """What is known while files are read: texts, quizzes, answers so far."""

    def __init__(self, keys: Sequence[QuizKey], attempts: str) -> None:
        self.keys = keys
        self.long_texts = LongTexts()
        self.rejected = Rejected()
        self.resolver = Resolver(keys)
        self.forms = [Gathered(Codebook(key), attempts) for key in keys]
        self.offsets = np.concatenate(([0], np.cumsum([len(key.items) for key in keys])))
        """Before each quiz's items, where the items of all quizzes stand in one row."""
        self.pupils = Lookup()
        self.groups = Lookup()
        self.quizzes = Judged(self.resolver.form, self.long_texts)
        self.attempts = Judged(attempt_of, self.long_texts)
        self.several_attempts = False
        """Whether some file has a column of attempts."""
        self._responses = Lookup()
        self._codes = np.zeros(1024, dtype=np.int16)
        self._reasons: dict[int, str] = {}

    def codes(self, words: Sequence[np.ndarray], slot: np.ndarray) -> np.ndarray:
        """Return the code (int16) of each response; *slot* says the item, in the row of all items."""
        words = [(slot + 1).astype(np.uint64), *words]
        before = self._responses.size
        number = self._responses.find(words)
        if self._responses.size > before:
            self._learn(before)
        codes = self._codes[number]
        if self._reasons:
            self._last_numbers = number
        return codes

    def reason(self, at: int) -> str:
        """Return why the response at this place of the last call of `codes` was refused."""
        return self._reasons[int(self._last_numbers[at])]

    def code_of(self, slot: int, text: str) -> int:
        """Return the code of one response.

        Raises:
            ValueError: the item takes no such response.
        """
        form = int(np.searchsorted(self.offsets, slot, side="right")) - 1
        return self.forms[form].book.code(slot - int(self.offsets[form]), text)

    def _learn(self, before: int) -> None:
        size = self._responses.size
        if size > len(self._codes):
            self._codes = np.concatenate((self._codes, np.zeros(size, dtype=np.int16)))
        for number in range(before, size):
            slot, *words = self._responses.words_of(number)
            try:
                self._codes[number] = self.code_of(slot - 1, text_of(words, self.long_texts))
            except ValueError as error:
                self._codes[number] = REFUSED
                self._reasons[number] = str(error)

    def pupil_names(self) -> list[str]:
        """Return the pupils as the files name them, in order of appearance."""
        return [self.long_texts.text(text).decode() for text in self.pupils.texts()]

    def answers(self) -> tuple[tuple[FormAnswers, ...], tuple[str, ...]]:
        """Return the answers of the quizzes that somebody answered, and the names of the groups that occur in them:
        the unnamed first, the others in order of their texts."""
        forms = [form for form in [gathered.answers() for gathered in self.forms] if form is not None]
        names = ["", *[self.long_texts.text(text).decode() for text in self.groups.texts()]]
        used = {0}.union(*[np.unique(form.groups).tolist() for form in forms])
        ordered = sorted(used, key=lambda number: names[number])
        numbers = np.zeros(len(names), dtype=np.int16)
        numbers[ordered] = np.arange(len(ordered))
        return (
            tuple([replace(form, groups=numbers[form.groups]) for form in forms]),
            tuple([names[number] for number in ordered]),
        )


class _Reader:
    """What both kinds of tables have in common."""

    def __init__(self, reading: Reading, layout: Layout, name: str) -> None:
        self.reading = reading
        self.layout = layout
        self.name = name

    def columns(self) -> list[int]:
        """Return the columns whose texts are looked up in every row."""
        layout = self.layout
        wanted = (layout.pupil, layout.group, layout.quiz, layout.attempt, layout.item, layout.version)
        found = [column for column in wanted if column >= 0]
        return [*found, layout.response] if not layout.wide and layout.status < 0 else found

    def reject(self, batch: Batch, at: np.ndarray, reason: Callable[[int], str]) -> None:
        """Add the rows at these places of the batch to the rejected, each with its reason."""
        rejected = self.reading.rejected
        for place in at.tolist():
            rejected.add(self.name, int(batch.rows[place]), reason(place))

    def judged(self, batch: Batch, column: int, judged: Judged, usual: int, good: np.ndarray) -> np.ndarray:
        """Return the values of a column; rows that have none are rejected and struck from *good*."""
        if column < 0:
            return np.full(len(batch.rows), usual, dtype=np.int32)
        values, numbers = judged.find(batch, column)
        if judged.reasons:
            bad = good & (values < 0)
            self.reject(batch, np.flatnonzero(bad), lambda place: judged.reasons[int(numbers[place])])
            good &= ~bad
        return values

    def people(self, batch: Batch) -> tuple[np.ndarray, ...]:
        """Return which rows are good, and for each its pupil, group, quiz and attempt."""
        reading, layout = self.reading, self.layout
        good = np.ones(len(batch.rows), dtype=np.bool_)
        attempt = self.judged(batch, layout.attempt, reading.attempts, 1, good)
        nobody = good & (batch.lengths[layout.pupil] == 0)
        if nobody.any():
            self.reject(batch, np.flatnonzero(nobody), lambda place: _NOBODY)
            good &= ~nobody
        form = np.maximum(self.judged(batch, layout.quiz, reading.quizzes, 0, good), 0)
        pupil = reading.pupils.find_runs(batch.words(layout.pupil))
        group = np.zeros(len(pupil), dtype=np.int32)
        if layout.group >= 0:
            group = reading.groups.find_runs(batch.words(layout.group)) + 1
            group[batch.lengths[layout.group] == 0] = 0
        return good, pupil, group, form, attempt

    def rows(
        self, gathered: Gathered, pupil: np.ndarray, group: np.ndarray, attempt: np.ndarray, taken: np.ndarray
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return the pupils' rows, and which answers count: those *taken* that are of the attempt that counts, which
        refused ones help to find. Groups are those of the answers that count."""
        row = gathered.rows(pupil)
        if self.reading.several_attempts:
            taken = taken & gathered.in_attempt(row, attempt)
        if not taken.all():
            row, group = row[taken], group[taken]
        gathered.name_groups(row, group)
        return row, taken


class LongReader(_Reader):
    """Reads batches of a table with a row for each pupil and item."""

    def __init__(self, reading: Reading, layout: Layout, name: str) -> None:
        super().__init__(reading, layout, name)
        self._items = Lookup()
        self._places = np.full((len(reading.keys), 256), -1, dtype=np.int32)
        self._versions = Judged(_version, reading.long_texts)
        self._wanted = np.array([version for key in reading.keys for version in key.versions], dtype=np.int64)

    def take(self, batch: Batch) -> None:
        """Take the answers of a batch."""
        reading, layout = self.reading, self.layout
        good, pupil, group, form, attempt = self.people(batch)
        place = self._find_places(batch, form)
        slot = np.maximum(reading.offsets[form] + place, 0)
        bad = good & (place < 0)
        if layout.version >= 0:
            version, _ = self._versions.find(batch, layout.version)
            bad |= good & (version >= 0) & (version != self._wanted[slot])
        if bad.any():
            self.reject(batch, np.flatnonzero(bad), lambda at: self._why(batch, at))
            good &= ~bad
        words = self._responses(batch)
        codes = np.full(len(good), REFUSED, dtype=np.int16)
        kept = np.flatnonzero(good)
        if len(kept) == len(good):
            codes = reading.codes(words, slot)
        elif len(kept):
            codes[kept] = reading.codes([word[kept] for word in words], slot[kept])
        refused = np.flatnonzero(codes[kept] == REFUSED)
        if len(refused):
            for at in refused.tolist():
                reading.rejected.add(self.name, int(batch.rows[kept[at]]), reading.reason(at))
        self._add(good, pupil, group, form, attempt, place, codes)

    def _responses(self, batch: Batch) -> list[np.ndarray]:
        """Return the words of each row's response, or of its status where the response is empty."""
        response, status = self.layout.response, self.layout.status
        if status < 0:
            return batch.words(response)
        empty = batch.lengths[response] == 0
        return batch.words_at(
            np.where(empty, batch.begins[status], batch.begins[response]),
            np.where(empty, batch.lengths[status], batch.lengths[response]),
        )

    def _add(
        self, good: np.ndarray, pupil: np.ndarray, group: np.ndarray, form: np.ndarray, attempt: np.ndarray,
        place: np.ndarray, codes: np.ndarray,
    ) -> None:
        for number, gathered in enumerate(self.reading.forms):
            mine = good if len(self.reading.forms) == 1 else good & (form == number)
            if not mine.all():
                if not mine.any():
                    continue
                one = [column[mine] for column in (pupil, group, attempt, place, codes)]
            else:
                one = [pupil, group, attempt, place, codes]
            row, counting = self.rows(gathered, *one[:3], one[4] != REFUSED)
            if counting.all():
                gathered.add(row, one[3], one[4])
            else:
                gathered.add(row, one[3][counting], one[4][counting])

    def _find_places(self, batch: Batch, form: np.ndarray) -> np.ndarray:
        """Return the place of each row's item in its quiz, -1 where it has none."""
        before = self._items.size
        number = self._items.find_runs(batch.words(self.layout.item))
        size = self._items.size
        if size > self._places.shape[1]:
            more = np.full((len(self._places), size), -1, dtype=np.int32)
            self._places = np.concatenate((self._places, more), axis=1)
        for new in range(before, size):
            text = text_of(self._items.words_of(new), self.reading.long_texts)
            self._places[:, new] = self.reading.resolver.places(text)
        return self._places[0][number] if len(self._places) == 1 else self._places[form, number]

    def _why(self, batch: Batch, at: int) -> str:
        layout, long_texts = self.layout, self.reading.long_texts
        texts = [
            long_texts.text(batch.text(column, at)).decode() if column >= 0 else ""
            for column in (layout.quiz, layout.item, layout.version)
        ]
        try:
            self.reading.resolver.place(*texts)
        except ValueError as error:
            return str(error)
        raise AssertionError("the row has a place")


def _version(text: str) -> int:
    """Return the number of a version as it is written; -1 for none, and one that no item has for other texts."""
    if not text:
        return -1
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 and str(int(text)) == text else 2**31 - 1


class WideReader(_Reader):
    """Reads batches of a table with a row for each pupil and a column for each item."""

    def __init__(self, reading: Reading, layout: Layout, name: str) -> None:
        super().__init__(reading, layout, name)
        places = reading.resolver.places
        self._columns = np.array([column for column, _ in layout.items], dtype=np.int64)
        self._items = [item for _, item in layout.items]
        self._places = np.array([places(item) for item in self._items], dtype=np.int64).reshape(-1, len(reading.keys))
        self._tables: dict[int, np.ndarray] = {}

    def take(self, batch: Batch) -> None:
        """Take the answers of a batch."""
        good, pupil, group, form, attempt = self.people(batch)
        for number, gathered in enumerate(self.reading.forms):
            rows = np.flatnonzero(good & (form == number))
            if not len(rows):
                continue
            codes = self._codes(batch, number, rows)
            if not bool((self._places[:, number] >= 0).any()):
                continue  # no column is an item of this quiz
            row, counting = self.rows(
                gathered, pupil[rows], group[rows], attempt[rows], (codes != REFUSED).any(axis=1)
            )
            gathered.add_rows(row, codes if bool(counting.all()) else codes[counting])

    def _codes(self, batch: Batch, number: int, rows: np.ndarray) -> np.ndarray:
        """Return the codes int16 [n, K] of these rows of one quiz; cells that are no answer are rejected."""
        reading = self.reading
        codes = np.full((len(rows), len(reading.keys[number].items)), EMPTY, dtype=np.int16)
        places = self._places[:, number]
        whole = len(rows) == len(batch.rows)
        for column, item, place in zip(self._columns.tolist(), self._items, places.tolist(), strict=True):
            begins, lengths = batch.begins[column], batch.lengths[column]
            if not whole:
                begins, lengths = begins[rows], lengths[rows]
            if place < 0:
                stray = np.flatnonzero(lengths)
                self.reject(batch, rows[stray], lambda at: f"the quiz has no item {told(item)}")
                continue
            slot = int(reading.offsets[number]) + place
            found = self._short(batch, begins, lengths, slot)
            if found is None:
                found = reading.codes(batch.words_at(begins, lengths), np.full(len(rows), slot))
                refused = np.flatnonzero(found == REFUSED)
                for at in refused.tolist():
                    reading.rejected.add(self.name, int(batch.rows[rows[at]]), reading.reason(at))
            codes[:, place] = found
        return codes

    def _short(self, batch: Batch, begins: np.ndarray, lengths: np.ndarray, slot: int) -> np.ndarray | None:
        """Return the codes of a column of single bytes, each byte judged once; None where it holds longer texts or
        something that is no answer."""
        if lengths.max() > 1:
            return None
        table = self._tables.get(slot)
        if table is None:
            table = self._tables[slot] = np.full(256, _UNKNOWN, dtype=np.int16)
        byte = batch.data[begins] * (lengths > 0)
        found = table[byte]
        unknown = found == _UNKNOWN
        if not unknown.any():
            return found
        for one in np.unique(byte[unknown]).tolist():
            try:
                table[one] = self.reading.code_of(slot, chr(one) if one else "")
            except ValueError:
                return None
        return table[byte]
