"""Statistics out: as QTI Usage Data (2.1 and 3.0) and as CSV, each value with n, context, date and item version.

Usage Data has no place for the version of an item, nor for an interval: the version stands in the fragment of the
context, and the ends of an interval are statistics of their own, named after the value with ``-low`` and ``-high``.
Only options have identifiers, which the schema wants of parts; values of answers that were typed or composed are mapped
by the answer, one statistic of the item for all of them.
A value that is withheld has a row in the CSV table, with the reason, and nothing in the XML.
"""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby
from math import isfinite
from pathlib import Path
from urllib.parse import quote
from xml.sax.saxutils import escape, quoteattr

from bank.files import replacing

NAMESPACES = {
    "2.1": "http://www.imsglobal.org/xsd/imsqti_usagedata_v2p1",
    "3.0": "http://www.imsglobal.org/xsd/imsqti_usagedata_v3p0",
}
"""There is none of its own for QTI 2.2 among the official schemas known to us."""
CONTEXT = "urn:stemwright:context:"
HEADER = (
    "quiz", "item", "version", "part", "statistic", "category", "value", "low", "high", "standard_error", "n",
    "convention", "withheld", "context", "date", "simulated",
)
_NAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
_BLANKS = re.compile(r"[\t\n\r]")
_ILLEGAL = re.compile("[^\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 has not, whatever they are written as."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Statistic:
    """One value of one thing: of an item, or of a whole quiz where *item* is empty."""

    quiz: str
    name: str
    """A legal identifier, such as ``facility``."""
    value: float | None
    """None where it is withheld or cannot be said."""
    n: int
    """How many pupils it rests on."""
    item: str = ""
    version: int = 0
    part: str = ""
    """The response that the value is of, where it is of one: an option's identifier, or an answer as it was given."""
    offered: bool = True
    """Whether *part* is an option of the item. What was typed, put in order or joined is no part of an item: in the XML
    it is a key of a mapping."""
    category: str = ""
    """Where the statistic has a value for each of several categories, such as score thirds: which one."""
    low: float | None = None
    high: float | None = None
    standard_error: float | None = None
    convention: str = ""
    why: str = ""
    """Why there is no value."""


def usage_data(
    statistics: Iterable[Statistic], *, context: str, day: date, simulated: bool = False, version: str = "3.0"
) -> str:
    """Return *statistics* as a Usage Data document of QTI *version* (a key of `NAMESPACES`).

    *context* says in a few words which pupils the values are of; it becomes part of an address. Values that are none
    or not finite are left out.

    Raises:
        ValueError: a statistic's name is no identifier.
    """
    address = CONTEXT + ("simulated:" if simulated else "") + quote(context, safe="")
    written: list[str] = []
    answers: dict[tuple[str, str, int, str], list[Statistic]] = {}
    for _, same in groupby(statistics, key=lambda one: (one.quiz, one.item, one.version, one.part, one.name)):
        values = list(same)
        first = values[0]
        if first.part and not (first.offered and _NAME.fullmatch(first.part)):
            for one in values:
                for name, value in _ends(one):
                    name += f"-{one.category}" if one.category else ""
                    answers.setdefault((first.quiz, first.item, first.version, name), []).append(
                        replace(one, name=name, category=one.part, value=value, part="", standard_error=None)
                    )
        else:
            written += _element(values, address, day.isoformat(), typed=version != "2.1")
    for values in answers.values():
        written += _element(values, address, day.isoformat(), typed=version != "2.1")
    mark = "<!-- Simulated: these are not statistics of people. -->\n" if simulated else ""
    return (
        f'<?xml version="1.0" encoding="UTF-8"?>\n{mark}<usageData xmlns="{NAMESPACES[version]}">\n'
        + "".join(written) + "</usageData>\n"
    )


def _element(same: Sequence[Statistic], address: str, day: str, *, typed: bool) -> list[str]:
    """Return the elements of values of one name and thing; *typed* where the kind of thing has an attribute."""
    first = same[0]
    if not _NAME.fullmatch(first.name):
        raise ValueError(f"{first.name!r} is no name of a statistic")
    place = f"{address}#quiz={quote(first.quiz, safe='')}"
    if first.item:
        place += f";version={first.version}"
    part = f" partIdentifier={quoteattr(first.part)}" if first.part else ""
    kind = ' objectType="%s"' % ("choice" if first.part else "item" if first.item else "test") if typed else ""
    target = f"<targetObject identifier={quoteattr(first.item or first.quiz)}{part}{kind}/>"
    if first.category:
        keys: dict[str, Statistic] = {}
        for one in same:
            if one.value is not None and isfinite(one.value):
                keys.setdefault(_key(one.category, keys), one)
        if not keys:
            return []
        entries = [f'<mapEntry mapKey={quoteattr(key)} mappedValue="{one.value!r}"/>' for key, one in keys.items()]
        about = _about(first.name, place, max(one.n for one in same), None, day)
        return [f"<categorizedStatistic {about}>{target}<mapping>{''.join(entries)}</mapping></categorizedStatistic>\n"]
    return [line for one in same for line in _ordinary(one, target, place, day)]


def _key(text: str, known: Collection[str]) -> str:
    """Return *text* as the key of a mapping: on one line, of characters that XML has, unlike all that are *known*."""
    clean = key = _ILLEGAL.sub("\ufffd", _BLANKS.sub(" ", text))
    number = 1
    while key in known:
        number += 1
        key = f"{clean} ({number})"
    return key


def _ends(one: Statistic) -> Iterator[tuple[str, float | None]]:
    """Give the value and the ends of its interval, each with its name."""
    yield one.name, one.value
    for end, value in (("low", one.low), ("high", one.high)):
        if value is not None:
            yield f"{one.name}-{end}", value


def _ordinary(one: Statistic, target: str, place: str, day: str) -> list[str]:
    if one.value is None or not isfinite(one.value):
        return []
    lines = []
    for name, value in _ends(one):
        if value is not None and isfinite(value):
            about = _about(name, place, one.n, one.standard_error if name == one.name else None, day)
            shown = escape(repr(float(value)))
            lines.append(f'<ordinaryStatistic {about}>{target}<value baseType="float">{shown}</value>'
                         "</ordinaryStatistic>\n")
    return lines


def _about(name: str, place: str, n: int, error: float | None, day: str) -> str:
    shown = f' stdError="{error!r}"' if error is not None and isfinite(error) else ""
    return f'name="{name}" context={quoteattr(place)} caseCount="{n}"{shown} lastUpdated="{day}"'


def write_usage_data(
    path: Path, statistics: Iterable[Statistic], *, context: str, day: date, simulated: bool = False,
    version: str = "3.0",
) -> None:
    """Write what `usage_data` gives to *path*.

    Raises:
        BadInput: it cannot be written (``cannot-write``).
    """
    text = usage_data(statistics, context=context, day=day, simulated=simulated, version=version)
    with replacing(path) as part:
        part.write_text(text, encoding="utf-8")


def write_statistics_table(
    path: Path, statistics: Iterable[Statistic], *, context: str, day: date, simulated: bool = False
) -> None:
    """Write *statistics* to *path* as CSV, a row a value; what is withheld has a row without one.

    Raises:
        BadInput: it cannot be written (``cannot-write``).
    """
    with replacing(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file, lineterminator="\n").writerow
        write(HEADER)
        for one in statistics:
            write((
                one.quiz, one.item, one.version or "", one.part, one.name, one.category, *map(
                    _cell, (one.value, one.low, one.high, one.standard_error)
                ), one.n, one.convention, one.why, context, day.isoformat(), "yes" if simulated else "no",
            ))


def _cell(value: float | None) -> str:
    return repr(float(value)) if value is not None and isfinite(value) else ""
