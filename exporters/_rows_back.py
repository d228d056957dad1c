"""The two tables read back: what they say of each item's key and answers, and where they differ from the bank.

They are read with the standard library's reader of comma-separated values, not with the code that wrote them.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Iterator
from functools import lru_cache
from itertools import chain
from pathlib import Path
from typing import NamedTuple

from bank.answers import accepted_forms
from bank.model import Locale, Response
from bank.numerals import Numeral
from bank.store import ItemAnswers
from exporters._cells import unguarded
from exporters._faults import ExportFault
from exporters._kind_rows import ROW_KINDS, SEPARATOR, answer_text, asked, kind_rows, number_is_asked
from exporters._rows import END, ITEM_COLUMNS, OPTION_COLUMNS, REMEMBERED, header, shown

ITEMS, OPTIONS = "items.csv", "options.csv"
_REASONS = OPTION_COLUMNS.index("mistakes")
"""The cells from here on are the same for all answers that the same mistakes lead to."""
_VALUE, _RESPONSE, _POLICY = [ITEM_COLUMNS.index(name) for name in ("key_value", "response", "policy")]
_OPTIONS, _CREDIT, _RIGHT = [ITEM_COLUMNS.index(name) for name in ("options", "credit", "right")]
_KEY, _FORMS = [ITEM_COLUMNS.index(name) for name in ("key", "accepted_forms")]
_PLAIN = ("choice", "typed")

KindFound = tuple[str, str, tuple[int, ...], str, tuple[str, ...]]
"""A row of a further kind: kind, identifiers, coefficient and places of its value, whether it is right, mistakes."""


class ReadItem(NamedTuple):
    """What the two files say of one item, as far as scoring goes."""

    identifier: str
    response: str
    """``choice``, ``typed``, or one of `bank.store.KINDS`."""
    policy: str
    """Policy of a typed answer."""
    key: str
    """What a pupil would answer, as it is shown."""
    forms: tuple[str, ...]
    """Right spellings of a typed answer."""
    written: tuple[int, ...]
    """Coefficient and places of the key, and then of each answer, as they are written; of a further kind only those of
    the key, where it is a number."""
    letters: str
    """Ids of the options one after the other; of answers foreseen none."""
    keys: tuple[bool, ...]
    """For each answer, whether it is the key."""
    mistakes: tuple[tuple[str, ...], ...]
    """For each answer, the ids of the mistakes behind it."""
    further: tuple[tuple[int, str, str], tuple[KindFound, ...]] | None = None
    """Of a further kind: (number of things offered, credit, right answer), and its rows."""


def scoring(bank: ItemAnswers, locale: Locale) -> ReadItem:
    """Return what `read_items` must give for what the *bank*, in this *locale*, says of an item."""
    if bank.response is not None:
        return _scoring_of_kind(bank, bank.response, locale)
    identifier, kind, policy, written, keys, mistakes, family, _ = bank
    number, forms = Numeral(*written[:2]), ()
    if kind == "choice":
        response, key = "choice", shown(locale.number(number), family.unit)
    else:
        forms = accepted_forms(number, locale, policy, family.unit)
        response, key = "typed", forms[0]
    return ReadItem(identifier, response, policy, key, forms, written, bank.letters, keys, mistakes)


def _scoring_of_kind(bank: ItemAnswers, response: Response, locale: Locale) -> ReadItem:
    policy, options, credit, right = asked(response)
    rows = tuple([
        (row.kind, row.option, () if row.value is None else (row.value.coefficient, row.value.places), row.is_key,
         row.mistakes)
        for row in kind_rows(response)
    ])
    number, unit = Numeral(*bank.written), bank.family.unit
    asked_for = number_is_asked(response)
    return ReadItem(
        bank.identifier, bank.kind, policy, answer_text(response, number, unit, locale),
        accepted_forms(number, locale, policy, unit) if asked_for else (), bank.written if asked_for else (), "", (), (),
        ((options, credit, right), rows),
    )


def read_items(items: Iterable[str], options: Iterable[str]) -> Iterator[ReadItem]:
    """Give the items that the lines of the two tables hold, header rows left out, in their order.

    Raises:
        ExportFault: a table is not of the form that this tool writes.
    """
    first = ""
    rest = _option_rows(options)
    try:
        waiting = next(rest, None)
        for row in _rows(items):
            if len(row) != len(ITEM_COLUMNS):
                raise ValueError(f"{len(row)} cells, wanted {len(ITEM_COLUMNS)}")
            first = row[0]
            written = [*_written(row[_VALUE])] if row[_VALUE] else []
            key, forms = unguarded(row[_KEY]), _forms(unguarded(row[_FORMS]))
            if row[_RESPONSE] not in _PLAIN:
                found = []
                while waiting and waiting[0] == first:
                    found.append(_kind_row(waiting))
                    waiting = next(rest, None)
                said = (int(row[_OPTIONS]), unguarded(row[_CREDIT]), unguarded(row[_RIGHT]))
                yield ReadItem(
                    unguarded(first), unguarded(row[_RESPONSE]), unguarded(row[_POLICY]), key, forms, tuple(written), "",
                    (), (),
                    (said, tuple(found)),
                )
                continue
            letters, keys, mistakes = "", [], []
            while waiting and waiting[0] == first:
                _, kind, option, _, value, right, names, _, _, _ = waiting
                letter, is_key = _standing(kind, option, right)
                letters += letter
                keys.append(is_key)
                written += _written(value)
                mistakes.append(_several(names))
                waiting = next(rest, None)
            yield ReadItem(
                unguarded(first), row[_RESPONSE], unguarded(row[_POLICY]), key, forms, tuple(written), letters,
                tuple(keys), tuple(mistakes),
            )
    except (csv.Error, ValueError) as error:
        raise ExportFault(f"{ITEMS}, {OPTIONS}", first, f"at this item or behind it: {error}") from error
    if waiting is not None:
        raise ExportFault(OPTIONS, waiting[0] if waiting else "", f"it is not in {ITEMS}, or not in its place")


def _kind_row(row: list[str]) -> KindFound:
    """Return what a row says of what an item of a further kind offers."""
    _, kind, option, _, value, right, names, _, _, _ = row
    if kind not in ROW_KINDS or right not in ("yes", "no", ""):
        raise ValueError(f"a row of kind {kind!r}, key {right!r}")
    return kind, unguarded(option), _written(value) if value else (), right, _several(names)


def _rows(lines: Iterable[str]) -> Iterator[list[str]]:
    return csv.reader(lines, strict=True)


def _option_rows(lines: Iterable[str]) -> Iterator[list[str]]:
    """Give the rows that `_rows` gives; ends of lines that say what other lines have said are read once."""
    rest = iter(lines)
    for line in rest:
        row = line.split(",", _REASONS)
        end = row.pop()
        quote = line.find('"')
        if 0 <= quote < len(line) - len(end) or end.count('"') % 2:
            yield next(_rows(chain((line,), rest)))
        else:  # no quote stands before the cells of the end, and those in it are closed where the line ends
            row += _cells(end)
            yield row


@lru_cache(REMEMBERED)
def _cells(end: str) -> list[str]:
    return next(_rows((end,)))


@lru_cache(REMEMBERED)
def _standing(kind: str, letter: str, key: str) -> tuple[str, bool]:
    """Return the option's id and whether it is the key, of a row that says so."""
    if (kind, bool(letter), key) not in (("option", True, "yes"), ("option", True, "no"), ("foreseen", False, "no")):
        raise ValueError(f"a row of kind {kind!r}, option {letter!r}, key {key!r}")
    return unguarded(letter), key == "yes"


@lru_cache(REMEMBERED)
def _several(cell: str) -> tuple[str, ...]:
    return tuple(unguarded(cell).split(SEPARATOR)) if cell else ()


def _forms(cell: str) -> tuple[str, ...]:
    """Return the spellings that *cell* lists."""
    return tuple(next(csv.reader((cell,), delimiter=";", skipinitialspace=True, strict=True))) if cell else ()


def _written(cell: str) -> tuple[int, int]:
    """Return coefficient and places of the number that *cell* writes with a point.

    Raises:
        ValueError: it writes none.
    """
    whole, point, decimals = cell.partition(".")
    digits = whole + decimals
    if digits.isdecimal() and cell.isascii() and whole and (decimals or not point):
        return int(digits), len(decimals)
    numeral = Numeral.parse(unguarded(cell))
    return numeral.coefficient, numeral.places


def compare(read: Iterator[ReadItem], bank: Iterable[ItemAnswers], locale: Locale) -> None:
    """Compare what was read back, item by item, with what the *bank*, in this *locale*, says.

    Raises:
        ExportFault: they differ.
    """
    for wanted in bank:
        found = next(read, None)
        if found is None:
            raise ExportFault(ITEMS, wanted.identifier, "the item is missing")
        if found != scoring(wanted, locale):
            raise ExportFault(ITEMS, found.identifier, "key, spellings or options read back are not those of the bank")
    for more in read:
        raise ExportFault(ITEMS, more.identifier, "the item is not in the bank, or stands there twice")


def read_tables(items: Path, options: Path) -> Iterator[ReadItem]:
    """Give the items that two whole files hold, in their order.

    Raises:
        ExportFault: a file is not of the form that this tool writes.
    """
    with items.open(encoding="utf-8", newline=END) as item_lines, options.open(encoding="utf-8", newline=END) as rest:
        for lines, columns, name in ((item_lines, ITEM_COLUMNS, ITEMS), (rest, OPTION_COLUMNS, OPTIONS)):
            if lines.readline() != header(columns):
                raise ExportFault(name, "", f"the header row is not {', '.join(columns)}")
        yield from read_items(item_lines, rest)
