"""Large plain tables, read in columns by `bank.audit.counting.files` instead of row by row.

It is for CSV files in UTF-8 whose columns mean what canonical tables mean; rows that are broken are read with care by
the counting room, and listed. What those rooms do not look at is looked at here, batch by batch: scores against the
key, times, statuses, the mark of simulation. Where a table has a habit that only the careful reader knows, `NotPlain`
is raised and everything is read again by that one.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from bank.audit.counting.blocks import Batch
from bank.audit.counting.files import read_csv
from bank.audit.counting.keys import STATES, QuizKey, TooManyResponses
from bank.audit.counting.layout import Layout
from bank.audit.counting.lookup import Lookup
from bank.audit.pseudonyms import Salt, looks_like_mail, naming_problem, naming_reason
from bank.audit.reading._catalogue import UNKNOWN, Catalogue
from bank.audit.reading._gather import GAPS, STATUSES, Refused, contradicts, only_used
from bank.audit.reading._keys import key_of
from bank.audit.reading._mangled import lost_a_zero, unwrapped
from bank.audit.reading._mapping import Columns
from bank.audit.reading._sources import SAVE_AS_UTF8, Source, encoding_of, problem
from bank.audit.reading._tables import YES, milliseconds_of
from bank.audit.records import NOT_GIVEN, Answers, FormAnswers
from bank.errors import BadInput
from bank.identity import answered

FROM_BYTES = 4 << 20
"""Bytes from which on tables are read in columns."""
_NO_ITEM = re.compile("the quiz has no item (?:'(.*)'|(.*))")
_SAMPLED = 2_000
FEW_REFUSED = 0.01
"""Share of the answers to the least answered item that may be refused before a table is read row by row."""
_MOST_TEXTS = 1_000_000
"""Distinct texts of a column that are told apart here."""


class NotPlain(Exception):
    """A table that must be read row by row."""


def is_bulk(sources: Sequence[Source]) -> bool:
    """Whether *sources* are all plain CSV files on the disk, and large."""
    if not sources or any(source.entry for source in sources) or sum(one.size for one in sources) < FROM_BYTES:
        return False
    for source in sources:
        with source.open() as file:
            head = file.read(1 << 14)
        if head.lstrip(b"\xef\xbb\xbf \t\r\n")[:1] == b"<" or b"\n" not in head or b"\0" in head:
            return False
        if encoding_of(head[:4096], source.name)[0] != "utf-8":
            return False
    return True


def read_bulk(
    catalogue: Catalogue, salt: Salt, sources: Sequence[Source], tables: Sequence[tuple[Columns, str, int, str]],
    attempts: str,
) -> Answers:
    """Return the answers in *sources*; *tables* are for each its columns, delimiter, rows of heading and whole quiz.

    Raises:
        NotPlain: the careful reader must read them.
        BadInput: they name people.
    """
    whole = {quiz for _, _, _, quiz in tables}
    if len(whole) > 1:
        raise NotPlain
    (quiz,) = whole
    first = tables[0][0]
    heading = "" if first.wide else first.shown("response")
    keys = [_plain(key_of(catalogue, name), heading) for name in ([quiz] if quiz else catalogue.quizzes)]
    layouts = [
        _layout(source, columns, delimiter, rows, keys)
        for source, (columns, delimiter, rows, _) in zip(sources, tables)
    ]
    watches = {layout: _Watch(catalogue, keys, columns, layout) for layout, (columns, _, _, _) in zip(layouts, tables)}
    if len(watches) < len(layouts) and len(set(layouts)) < len({columns for columns, _, _, _ in tables}):
        raise NotPlain
    names: list[str] = []

    def pseudonym(text: str) -> str:
        if looks_like_mail(text):
            raise BadInput(naming_problem(sources[0].name, "column 'pupil'", "holds e-mail addresses"))
        if len(text) > 200:
            raise NotPlain
        names.append(text)
        return salt.digest(text)

    try:
        read = read_csv(
            [source.path for source in sources], keys, attempts=attempts, pseudonym=pseudonym, layouts=layouts,
            watch=lambda layout, batch: watches[layout].see(batch),
        )
    except TooManyResponses as error:
        raise NotPlain from error
    for file, row, why in read.rejected:
        if why.startswith("the row is not UTF-8"):
            raise BadInput(problem("not-utf", file, "is not UTF-8", SAVE_AS_UTF8, row))
    fewest = min((int((form.codes != NOT_GIVEN).sum(axis=0).min()) for form in read.forms), default=0)
    if read.rejected_rows > FEW_REFUSED * fewest:
        raise NotPlain  # of which items how many were refused, only the careful reader knows
    reason = naming_reason(names[:: max(1, len(names) // _SAMPLED)])
    if reason:
        raise BadInput(naming_problem(sources[0].name, "column 'pupil'", reason))
    if read.contradicted and any(columns.place("date") >= 0 and columns.place("attempt") < 0 for columns, *_ in tables):
        raise NotPlain  # dates may tell those answers apart
    if not read.forms:
        raise NotPlain  # nothing counts, and only the careful reader says of each row why
    if len(set(read.pupils)) < len(read.pupils):
        raise NotPlain  # the same pseudonym with other blanks around it
    remarks = _remarks(read.doubled, read.contradicted, read.rejected_rows - len(read.rejected))
    for watch in watches.values():
        remarks += watch.remarks()
    forms = [_timed(form, [watch for watch in watches.values()], names) for form in read.forms]
    forms, pupils = only_used(forms, read.pupils)
    return Answers(
        forms=tuple(forms), pupils=pupils, groups=read.groups,
        rows=sum(int((form.codes != NOT_GIVEN).sum()) for form in forms),
        refused_rows=read.rejected_rows,
        rejected=tuple([(file, row, _explained(catalogue, reason)) for file, row, reason in read.rejected]),
        remarks=tuple(remarks), simulated=any(watch.simulated for watch in watches.values()),
    )


def _explained(catalogue: Catalogue, reason: str) -> str:
    """Return *reason*, and of an item that a quiz does not hold what the bank knows of it."""
    item = _NO_ITEM.fullmatch(reason)
    if item is None:
        return reason
    return f"{reason}: " + (catalogue.why_no_item(item[1], "that the row names") if item[1] else f"item {item[2]} {UNKNOWN}")


def _remarks(doubled: int, contradicted: int, unlisted: int) -> list[str]:
    said = []
    if unlisted:
        said.append(f"{unlisted} more rows that do not count are not listed")
    if doubled:
        said.append(f"{doubled} answers stand more than once and count once")
    if contradicted:
        said.append(f"of {contradicted} answers the rows tell different things, and no attempt tells them apart: none"
                    " of them counts")
    return said


def _plain(key: QuizKey, heading: str) -> QuizKey:
    """Return *key* with a score that knows where the careful reader must judge, and names the column.

    That is *heading*, as messages call it, or the item's own in a wide table.
    """
    def score(place: int, text: str) -> tuple[str, int]:
        text = unwrapped(text)
        if not text.strip() or text.strip().lower().replace("_", " ") in GAPS:
            raise NotPlain
        try:
            return key.score(place, text)
        except ValueError as error:
            raise ValueError(f"{heading or f'column {key.items[place]!r}'}: {error}") from None

    return replace(key, score=score)


def _layout(source: Source, columns: Columns, delimiter: str, rows: int, keys: Sequence[QuizKey]) -> Layout:
    """Return where what stands in *source*, after its heading of so many *rows*."""
    with source.open() as file:
        line = file.read(1 << 22).partition(b"\n")[0]
    if rows != 1 or line.count(b'"') % 2:
        raise NotPlain
    if columns.numbered and len(keys) != 1:
        raise NotPlain
    items = tuple([
        (place, keys[0].items[int(item) - 1] if columns.numbered and int(item) <= len(keys[0].items) else item)
        for place, item in columns.items
    ])
    names = ("pupil", "group", "quiz", "attempt", "item", "response", "version", "status")
    places = {name: columns.place(name) for name in names}
    if columns.wide and places["response"] >= 0:
        places["response"] = -1
    return Layout(separator=delimiter, columns=len(columns.header), start=len(line) + 1, items=items, **places)


class _Watch:
    """Looks at what counting does not look at."""

    def __init__(self, catalogue: Catalogue, keys: Sequence[QuizKey], columns: Columns, layout: Layout) -> None:
        self.catalogue, self.keys, self.columns, self.layout = catalogue, keys, columns, layout
        self.simulated = False
        self._only = keys[0].quiz if len(keys) == 1 else ""
        self._texts: dict[str, tuple[Lookup, list[str]]] = {}
        self._found: dict[str, tuple[np.ndarray, list[str], int]] = {}
        """Of the batch that is looked at."""
        self._scored: dict[tuple[int, ...], bool] = {}
        self._wrong: dict[tuple[str, str], list[object]] = {}
        self._times: dict[str, np.ndarray] = {}
        self._timed = next((name for name in ("milliseconds", "seconds") if columns.place(name) >= 0), "")
        self._untimed = False
        self._values = np.zeros(0, dtype=np.int32)

    def see(self, batch: Batch) -> None:
        """Look at one batch.

        Raises:
            NotPlain: the careful reader must read the table.
        """
        self._found.clear()
        if self.columns.place("simulated") >= 0:
            _, texts, new = self._numbers(batch, "simulated")
            self.simulated = self.simulated or any(text.strip().lower() in YES for text in texts[new:])
        for field in ("quiz", "group", "attempt", "version"):
            if self.columns.place(field) >= 0:
                _, texts, new = self._numbers(batch, field)
                if any(" ".join(text.split()) != text or not text.isprintable() for text in texts[new:]):
                    raise NotPlain
        if self.layout.status >= 0:
            self._see_status(batch)
        if self.columns.wide:
            return
        if self.columns.place("item") >= 0:
            _, texts, new = self._numbers(batch, "item")
            if any(text.strip().isdigit() or text != text.strip() for text in texts[new:]):
                raise NotPlain
        if self.columns.place("score") >= 0:
            self._see_scores(batch)
        if self._timed:
            self._see_times(batch)

    def _numbers(self, batch: Batch, field: str) -> tuple[np.ndarray, list[str], int]:
        """Return numbers of the texts in the column of *field*, all texts by number, and how many were known before."""
        known_already = self._found.get(field)
        if known_already is not None:
            return known_already
        lookup, texts = self._texts.setdefault(field, (Lookup(), []))
        numbers = lookup.find_runs(batch.words(self.columns.place(field)))
        known = len(texts)
        if lookup.size > known:
            if lookup.size > _MOST_TEXTS:
                raise NotPlain
            for number in range(known, lookup.size):
                raw = b"".join([word.to_bytes(8, "little") for word in lookup.words_of(number)]).rstrip(b"\0")
                if raw[:1] == b"\0":
                    raise NotPlain
                texts.append(raw.decode())
        self._found[field] = numbers, texts, known
        return self._found[field]

    def _see_status(self, batch: Batch) -> None:
        """Make sure that counting, which reads a status only where there is no response, judges as the others do."""
        numbers, texts, _ = self._numbers(batch, "status")
        meanings = [STATUSES.get(text.strip().lower().replace("_", " ")) for text in texts]
        if None in meanings or self.layout.response < 0:
            raise NotPlain
        with_response = np.array([not text or meaning == 0 for text, meaning in zip(texts, meanings)])
        without = np.array([text in STATES for text in texts])
        answered = batch.lengths[self.layout.response] > 0
        if not np.where(answered, with_response[numbers], without[numbers]).all():
            raise NotPlain

    def _see_scores(self, batch: Batch) -> None:
        fields = ["item", "response", "score"]
        fields += [name for name in ("quiz", "maximum") if self.columns.place(name) >= 0]
        found = [self._numbers(batch, name) for name in fields]
        combined = np.zeros(len(batch.rows), dtype=np.int64)
        for numbers, texts, _ in found:
            combined = combined * (len(texts) + 1) + numbers
        _, first, count = np.unique(combined, return_index=True, return_counts=True)
        for at, times in zip(first.tolist(), count.tolist()):
            cells = [(int(numbers[at]), texts) for numbers, texts, _ in found]
            self._see_score(fields, cells, int(batch.rows[at]), times)

    def _see_score(self, fields: list[str], cells: list[tuple[int, list[str]]], row: int, times: int) -> None:
        key = tuple([number for number, _ in cells])
        text = {name: texts[number] for name, (number, texts) in zip(fields, cells)}
        quiz = text.get("quiz") or self._only
        known = self._scored.get(key)
        if known is None:
            if len(self._scored) > _MOST_TEXTS:
                raise NotPlain
            known = self._scored[key] = self._contradicts(quiz, text)
        if known:
            said = f"in row {row}"
            entry = self._wrong.setdefault((quiz, text["item"]), [0, said])
            entry[0] = int(str(entry[0])) + times

    def _contradicts(self, quiz: str, text: dict[str, str]) -> bool:
        if not text["score"].strip():
            return False
        place = self.catalogue.place(quiz, text["item"])
        try:
            contradicts(0, text["score"].strip(), text.get("maximum", "").strip())
            if place is None or not text["response"]:
                return False
            marker = self.catalogue.markers(quiz)[place]
            credit = marker.mark(text["response"]).credit
            if credit == 0 and lost_a_zero(marker.item, marker.locale, text["response"]):
                raise NotPlain  # a score may tell that a zero was lost
            return contradicts(credit, text["score"].strip(), text.get("maximum", "").strip())
        except Refused as refused:
            raise NotPlain from refused  # such a row does not count
        except ValueError:
            return False

    def _see_times(self, batch: Batch) -> None:
        if self.layout.attempt >= 0:
            _, texts, _ = self._numbers(batch, "attempt")
            if len(texts) > 1:
                self._timed, self._untimed = "", True  # of which attempt a time is, only the careful reader knows
                self._times.clear()
                return
        numbers, texts, new = self._numbers(batch, self._timed)
        values = self._milliseconds(texts, new)[numbers]
        pupils, names, _ = self._numbers(batch, "pupil")
        items, item_names, _ = self._numbers(batch, "item")
        quizzes, quiz_names = np.zeros(len(pupils), dtype=np.int32), [self._only]
        if self.layout.quiz >= 0:
            quizzes, quiz_names, _ = self._numbers(batch, "quiz")
        for number, quiz in enumerate(quiz_names):
            known = self.catalogue.places.get(quiz)
            if known is None:
                continue
            places = np.array([known.get(answered(name), -1) for name in item_names], dtype=np.int64)[items]
            mine = np.flatnonzero((quizzes == number) & (places >= 0))
            if len(mine):
                self._room(quiz, len(names), len(known))[pupils[mine], places[mine]] = values[mine]

    def _milliseconds(self, texts: list[str], new: int) -> np.ndarray:
        if new < len(texts):
            try:
                fresh = [milliseconds_of(text.strip(), self._timed) for text in texts[new:]]
            except Refused as refused:
                raise NotPlain from refused  # such a row does not count
            self._values = np.concatenate((self._values, np.array(fresh, dtype=np.int32)))
        return self._values

    def _room(self, quiz: str, pupils: int, items: int) -> np.ndarray:
        table = self._times.get(quiz)
        if table is None or len(table) < pupils:
            more = np.full((max(1024, 2 * pupils), items), -1, dtype=np.int32)
            if table is not None:
                more[: len(table)] = table
            table = self._times[quiz] = more
        return table

    def times(self, quiz: str, names: Sequence[str]) -> np.ndarray | None:
        """Return milliseconds [pupils, K] at *quiz* of the pupils *names*, -1 where unknown; None without any."""
        table = self._times.get(quiz)
        if table is None:
            return None
        mine = {name: number for number, name in enumerate(self._texts["pupil"][1])}
        numbers = np.array([mine.get(name, -1) for name in names], dtype=np.int64)
        found = np.full((len(names), table.shape[1]), -1, dtype=np.int32)
        found[numbers >= 0] = table[numbers[numbers >= 0]]
        return found

    def remarks(self) -> list[str]:
        """Return what was noticed."""
        if self._untimed:
            return ["times are not read from a table of this size with several attempts", *self._scores_remarks()]
        return self._scores_remarks()

    def _scores_remarks(self) -> list[str]:
        if not self._wrong:
            return []
        total = sum(int(str(count)) for count, _ in self._wrong.values())
        said = [f"{total} scores contradict the bank's key; the bank's key decides"]
        for (quiz, item), (count, first) in sorted(self._wrong.items()):
            said.append(f"{quiz}, {item}: {count} {'score contradicts' if count == 1 else 'scores contradict'} the key,"
                        f" first {first}")
        return said


def _timed(form: FormAnswers, watches: Sequence[_Watch], names: Sequence[str]) -> FormAnswers:
    mine = [names[pupil] for pupil in form.pupils.tolist()] if any(watch._times for watch in watches) else []
    times = None
    for watch in watches if mine else ():
        found = watch.times(form.form.quiz, mine)
        if found is not None:
            times = found if times is None else np.where(times < 0, found, times)
    return form if times is None else replace(form, milliseconds=times)

