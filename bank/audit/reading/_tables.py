"""Tables of results, read carefully row by row: CSV with a row an answer (long) or a row a pupil (wide)."""

from __future__ import annotations

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from itertools import chain, islice
from pathlib import Path

from bank.audit.harmless import told as quoted
from bank.audit.pseudonyms import Salt, is_naming, looks_like_mail, mail_reason, naming_problem, naming_reason
from bank.audit.reading._catalogue import Catalogue
from bank.audit.reading._gather import Entry, Gatherer, Refused, plain_group
from bank.audit.reading._mapping import Columns, columns_of, remember, shown_heading
from bank.audit.reading._sources import Source, problem, text_lines
from bank.errors import BadInput
from bank.identity import answered

DELIMITERS = (",", ";", "\t")
MOST_MILLISECONDS = 2**31 - 1
LOOKED_AT = 5_000
"""Rows that are looked at for names before any is read."""
NO_FORM = "the items are only numbered and no quiz is named, so nobody can tell which key the answers belong to"
NAME_IT = "name the quiz with --results-quiz ID or in a column 'quiz'"
YES = frozenset(("yes", "true", "1", "simulated", "y"))
_DATE = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}([T ][0-9:.]+(Z|[+-][0-9:]+)?)?")
_LINES_OF_A_CELL = 5
_NOTHING = "\ufeff ,;\t\r\n"
"""Characters of lines in which nothing stands."""
_SAMPLED = 2_000
BROKEN = "\x00"
"""Stands for the cells of a row whose quotes do not close."""
TORN = "\x00\r"
"""Stands for the cells of a row with a zero byte or a carriage return inside."""
_CLOCK = re.compile(r"(?:([0-9]+):)?([0-9]{1,2}):([0-9]{1,2})(?:[.,]([0-9]+))?")


class TableReader:
    """Reads tables into a gatherer."""

    def __init__(
        self, catalogue: Catalogue, gatherer: Gatherer, salt: Salt, *, mapping: Mapping[str, str] | None = None,
        quiz: str = "", memory: Path | None = None, tell: Callable[[str], None] = lambda line: None,
    ) -> None:
        self.catalogue, self.gatherer, self.salt = catalogue, gatherer, salt
        self.mapping, self.quiz, self.memory, self.tell = mapping, quiz, memory, tell
        self._digests: dict[str, int] = {}
        self._told: set[str] = set()
        self._only = next(iter(catalogue.quizzes)) if len(catalogue.quizzes) == 1 else ""
        self._file = ""
        self.broken_lines = False
        """Whether a row among the first of a table goes over several lines, or cannot be read."""
        self._odd_dates = 0

    def read(self, source: Source) -> None:
        """Read *source*.

        Raises:
            BadInput: the table as a whole cannot be read, or it names people.
        """
        self._file = source.name
        lines = text_lines(source)
        head = list(islice(lines, LOOKED_AT))
        columns, delimiter, first, whole = self.table(source, head)
        rows = (one for one in _rows(chain(head, lines), delimiter) if one[0] > first)
        (self._wide if columns.wide else self._long)(source, columns, rows, whole)

    def table(self, source: Source, head: Sequence[str] | None = None) -> tuple[Columns, str, int, str]:
        """Return columns, delimiter, rows up to the headings, and the quiz of all rows where no column tells it.

        Raises:
            BadInput: the table as a whole cannot be read, or it names people.
        """
        if head is None:
            head = list(islice(text_lines(source), LOOKED_AT))
        columns, delimiter, first = self.columns(source, head)
        self.broken_lines = self.broken_lines or any('"' in line and not _closed([line], delimiter) for line in head)
        place = columns.place("bank")
        for _, row in _rows(head[first + 1 :], delimiter) if place >= 0 else ():
            if place < len(row):
                self.catalogue.belonging.told(row[place].strip())
        return columns, delimiter, first, self._quiz_for(source, columns, head, delimiter, first)

    def finish(self) -> None:
        """Look at all pupils' pseudonyms together: those of later rows too.

        Raises:
            BadInput: they look like names.
        """
        step = max(1, len(self._digests) // _SAMPLED)
        reason = naming_reason(list(self._digests)[::step])
        if reason:
            raise BadInput(naming_problem(self._file, "column 'pupil'", reason))

    def columns(self, source: Source, head: Sequence[str]) -> tuple[Columns, str, int]:
        """Return columns, delimiter and number of rows up to the headings, from the first lines *head* of *source*.

        The choice is told and remembered.

        Raises:
            BadInput: there are no headings or not those that are needed, or a column names people.
        """
        if not any(line.strip(_NOTHING) for line in head):
            raise BadInput(problem("results-empty", source.name, "the file is empty", "hand in a file with results"))
        first = next(number for number, line in enumerate(head) if line.strip(_NOTHING))
        delimiter = delimiter_of(head[first:])
        header = next(_rows(head[first:], delimiter))[1]
        if len(header) == 1 and first + 1 == len(head):
            raise BadInput(problem("no-table", source.name, "there is one line with one cell and nothing else",
                                   "hand in a table with headings and rows, or XML", first + 1))
        for place, heading in enumerate(header):
            if is_naming(heading) or looks_like_mail(heading):
                column = shown_heading(heading, place)
                raise BadInput(naming_problem(source.name, column, "is headed as names or addresses are"))
        items = self.catalogue.items
        columns = columns_of(header, source.name, dict.fromkeys(items), self.mapping, self.memory)
        self._refuse_names(source, columns, head, delimiter, first)
        told = f"{Path(source.name).name}: {columns.told()}"
        if told not in self._told:
            self._told.add(told)
            self.tell(told)
        if self.memory is not None:
            remember(self.memory, columns)
        return columns, delimiter, first + 1

    def _refuse_names(
        self, source: Source, columns: Columns, head: Sequence[str], delimiter: str, first: int
    ) -> None:
        rows = [row for number, row in _rows(head, delimiter) if number > first + 1]
        pupil, group, response = (columns.place(field) for field in ("pupil", "group", "response"))
        used = {place for _, place in columns.fields} | {place for place, _ in columns.items}
        for place, heading in enumerate(columns.header):
            if place == response:
                continue
            values = [row[place] for row in rows if place < len(row)]
            if place == pupil or place == group:
                reason = naming_reason(values, groups=place == group)
                if place == group and not reason and _tells_pupils_apart(rows, pupil, place):
                    reason = naming_reason(values)
            else:
                reason = mail_reason(values)
                if not reason and place not in used and _tells_pupils_apart(rows, pupil, place):
                    reason = naming_reason(values)
            if reason:
                raise BadInput(naming_problem(source.name, shown_heading(heading, place), reason))

    def _quiz_for(
        self, source: Source, columns: Columns, head: Sequence[str], delimiter: str, first: int
    ) -> str:
        """Return the quiz of all rows where no column tells it.

        Raises:
            BadInput: it cannot be told, or it is none of the bank.
        """
        if self.quiz:
            if self.quiz not in self.catalogue.quizzes:
                raise BadInput(problem("quiz-foreign", "--results-quiz", self.catalogue.why_no_quiz(self.quiz), ""))
            return self.quiz
        if columns.place("quiz") >= 0:
            return ""
        if columns.numbered:
            raise BadInput(problem(
                "letters-without-form", source.name, NO_FORM, NAME_IT, 1,
                shown_heading(columns.header[columns.items[0][0]], columns.items[0][0]),
            ))
        if columns.wide:
            items = [item for _, item in columns.items]
        else:
            place = columns.place("item")
            items = [row[place] for _, row in _rows(head[first:], delimiter) if place < len(row)]
            if items and all(item.strip().isdigit() for item in items):
                raise BadInput(problem(
                    "letters-without-form", source.name, NO_FORM, NAME_IT, first + 1,
                    columns.shown("item"),
                ))
        found = self.catalogue.quizzes_with(items)
        if len(found) == 1:
            self.tell(f"{Path(source.name).name}: quiz (by its items): {found[0]}")
            return found[0]
        if not found:
            older = [item for item in items if answered(item) not in self.catalogue.items]
            for item in items:
                self.catalogue.name(item.strip())
            self.catalogue.belonging.check((), source.name)
            why = self.catalogue.why_no_item(older[0], "") if older else "its items do not stand in one quiz"
            raise BadInput(problem("quiz-foreign", source.name, f"the results belong to no quiz of this bank: {why}",
                                   "name the bank that the quiz was made from, or the quiz with --results-quiz ID", first + 1))
        raise BadInput(problem(
            "quiz-unclear", source.name, f"the items stand in several quizzes: {', '.join(found[:5])}", NAME_IT
        ))

    def _pupil(self, text: str) -> int:
        number = self._digests.get(text)
        if number is None:
            if not text.strip():
                raise Refused("pupil", "is empty: whose answer is it?")
            if looks_like_mail(text):
                raise BadInput(naming_problem(self._file, "column 'pupil'", "holds e-mail addresses"))
            if len(text) > 200:
                raise Refused("pupil", "is longer than a pseudonym can be")
            number = self._digests[text] = self.gatherer.pupil(self.salt.digest(text))
        return number

    def _sat(self, get: Callable[[str], str], whole: str) -> tuple[object, str, str]:
        """Return sitting, quiz, and what its tries are ordered by."""
        pupil = self._pupil(get("pupil"))
        quiz = self.catalogue.quiz_called(get("quiz").strip()) or whole or self._only
        if not quiz:
            raise Refused("quiz", "is empty")
        attempt = get("attempt").strip()
        if attempt and not (attempt.isascii() and attempt.isdigit() and 0 < int(attempt) < 10_000):
            raise Refused("attempt", f"{quoted(attempt)} is no number of an attempt; attempts count from 1")
        date = get("date").strip()
        if date and not _DATE.fullmatch(date):
            self._odd_dates += 1
            date = ""
        told = get("simulated").strip().lower()
        self.gatherer.simulated.add(told in YES)
        group = plain_group(get("group"))
        return self.gatherer.sit(pupil, quiz, (int(attempt or 1), ""), group), quiz, date

    def _whole_rows(
        self, name: str, columns: Columns, rows: Iterator[tuple[int, list[str]]]
    ) -> Iterator[tuple[int, list[str], Callable[[str], str]]]:
        """Give number and cells of each row as wide as the headings, with what gives a field's text; reject others."""
        places = dict(columns.fields)
        width = len(columns.header)
        for number, row in rows:
            if len(row) != width:
                if any(row):
                    self.gatherer.reject(name, number, _wrong_width(row, width), max(1, len(columns.items)))
                continue

            def get(field: str, row: list[str] = row) -> str:
                place = places.get(field, -1)
                return row[place] if place >= 0 else ""

            yield number, row, get

    def _long(
        self, source: Source, columns: Columns, rows: Iterator[tuple[int, list[str]]], whole: str
    ) -> None:
        gatherer, name = self.gatherer, source.name
        for number, _, get in self._whole_rows(name, columns, rows):
            try:
                sat, quiz, date = self._sat(get, whole)
                item = self._item(get("item").strip(), quiz)
                gatherer.add(quiz, sat, Entry(  # type: ignore[arg-type]
                    item, get("response"), get("version").strip(), get("status"), get("score").strip(),
                    get("maximum").strip(), _milliseconds(get), "" if get("attempt").strip() else date,
                ), name, number)
            except Refused as refused:
                gatherer.reject(name, number, f"{columns.shown(refused.field)}: {refused.why}")
                if refused.field == "quiz":
                    self.catalogue.name(get("item").strip())
        self._note_dates(name)

    def _item(self, item: str, quiz: str) -> str:
        """Return the item's id; a number is the item's place in the quiz."""
        if not item:
            raise Refused("item", "is empty")
        if item.isascii() and item.isdigit():
            items = self.catalogue.quizzes[quiz].items
            if not 1 <= int(item) <= len(items):
                raise Refused("item", f"the quiz has {len(items)} items, no {quoted(item)}")
            return items[int(item) - 1]
        return item

    def _wide(
        self, source: Source, columns: Columns, rows: Iterator[tuple[int, list[str]]], whole: str
    ) -> None:
        gatherer, name = self.gatherer, source.name
        numbered = columns.numbered
        for number, row, get in self._whole_rows(name, columns, rows):
            try:
                sat, quiz, date = self._sat(get, whole)
            except Refused as refused:
                gatherer.reject(name, number, f"{columns.shown(refused.field)}: {refused.why}", len(columns.items))
                for place, item in columns.items if refused.field == "quiz" else ():
                    if row[place].strip():
                        self.catalogue.name(item)
                continue
            for place, item in columns.items:
                text = row[place]
                if not numbered and self.catalogue.place(quiz, item) is None:
                    if text.strip():
                        why = self.catalogue.why_no_item(item, quiz)
                        gatherer.reject(name, number, f"{shown_heading(columns.header[place], place)}: {why}")
                    continue
                try:
                    wanted = self._item(item, quiz) if numbered else item
                    tries = "" if get("attempt").strip() else date
                    gatherer.add(quiz, sat, Entry(wanted, text, tries=tries), name, number)  # type: ignore[arg-type]
                except Refused as refused:
                    gatherer.reject(name, number, f"{shown_heading(columns.header[place], place)}: {refused.why}")
        self._note_dates(name)

    def _note_dates(self, name: str) -> None:
        if self._odd_dates:
            self.gatherer.remarks.append(
                f"{name}: {self._odd_dates} dates are not written as 2027-01-31; they are not used to order attempts"
            )
            self._odd_dates = 0


def _tells_pupils_apart(rows: Sequence[Sequence[str]], pupil: int, place: int) -> bool:
    """Whether the column at *place* says one thing of each pupil and hardly the same of any two, as names do.

    Titles of questions and kinds of questions look like names as well, but belong to items.
    """
    told: dict[str, set[str]] = {}
    for row in rows:
        if max(place, pupil) < len(row):
            told.setdefault(row[pupil], set()).add(row[place])
    different = {text for texts in told.values() for text in texts}
    return len(told) > 1 and all(len(texts) == 1 for texts in told.values()) and 2 * len(different) > len(told)


def _wrong_width(row: Sequence[str], width: int) -> str:
    if row == [BROKEN]:
        return "a quote in the row is not closed; the file may have been cut off here"
    if row == [TORN]:
        return "a zero byte or a carriage return stands inside the row; have the file exported anew"
    return f"the row has {len(row)} cells, the headings are {width}: a cell with the delimiter in it must be in quotes"


def _milliseconds(get: Callable[[str], str]) -> str:
    """Return the time of an answer in whole milliseconds, as text; empty where none is told.

    Raises:
        Refused: it is no time.
    """
    for field in ("milliseconds", "seconds"):
        text = get(field).strip()
        if text:
            return str(milliseconds_of(text, field))
    return ""


def milliseconds_of(text: str, field: str) -> int:
    """Return the whole milliseconds that *text* tells in a column of *field*, -1 where it is empty.

    Raises:
        Refused: it is no time.
    """
    if not text:
        return -1
    if field == "milliseconds":
        if not (text.isascii() and text.isdigit()):
            raise Refused(field, f"{quoted(text)} is no number of milliseconds")
        return min(int(text[:12]), MOST_MILLISECONDS)
    clock = _CLOCK.fullmatch(text)
    if clock:
        hours, minutes, seconds, rest = clock.groups()
        whole = str((int(hours or 0) * 60 + int(minutes)) * 60 + int(seconds))
    else:
        whole, _, rest = text.replace(",", ".").partition(".")
        digits = whole + rest
        if not digits.isascii() or not digits.isdigit():
            raise Refused(field, f"{quoted(text)} is no number of seconds")
    return min(int((whole[:12] or "0") + ((rest or "") + "000")[:3]), MOST_MILLISECONDS)


def delimiter_of(lines: Sequence[str]) -> str:
    """Return what parts the cells: the delimiter that occurs in the first line and in the most others equally often."""
    first = lines[0]
    counts = {mark: _outside_quotes(first, mark) for mark in DELIMITERS}
    some = [mark for mark in DELIMITERS if counts[mark]]
    if not some:
        return ","

    def agreeing(mark: str) -> tuple[int, int]:
        found = Counter(_outside_quotes(line, mark) for line in lines[1:50])
        return found[counts[mark]], counts[mark]

    return max(some, key=agreeing)


def _outside_quotes(line: str, mark: str) -> int:
    return sum(part.count(mark) for part in line.split('"')[::2])


def _rows(lines: Iterable[str], delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Yield (line, cells) of each row; lines count from 1. A row that cannot be read has the one cell `BROKEN`.

    A quote that is not closed within a few lines spoils its own line only, not the rest of the file.
    """
    waiting: list[str] = []
    source = iter(lines)
    number = 0
    while True:
        line = waiting.pop(0) if waiting else next(source, None)
        if line is None:
            return
        number += 1
        if "\0" in line or "\r" in line.rstrip("\r\n"):
            yield number, [TORN]
            continue
        if '"' not in line:
            yield number, line.rstrip("\r\n").split(delimiter)
            continue
        piece = [line]
        while not _closed(piece, delimiter) and len(piece) < _LINES_OF_A_CELL:
            more = waiting.pop(0) if waiting else next(source, None)
            if more is None:
                break
            piece.append(more)
        try:
            cells = list(csv.reader(piece, delimiter=delimiter, strict=True))
            if len(cells) != 1:
                raise csv.Error("a quote is not closed")
            yield number, cells[0]
            number += len(piece) - 1
        except csv.Error:
            yield number, [BROKEN]
            waiting[:0] = piece[1:]


def _closed(piece: Sequence[str], delimiter: str) -> bool:
    """Whether the lines of *piece* are one row."""
    try:
        return len(list(csv.reader(piece, delimiter=delimiter, strict=True))) == 1
    except csv.Error:
        return False
