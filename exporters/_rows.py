"""Items as rows of the two tables, written as they stand in the files.

Cells that many rows share, such as those of a family or of the mistakes behind an answer, are guarded, quoted and
joined once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from typing import NamedTuple

from bank import mistakes
from bank.answers import accepted_forms
from bank.model import (
    SIGNS, BankInfo, Choice, Expression, Family, FindMistake, Item, Leaf, Line, Quiz, TypedNumber, Unit,
)
from bank.numerals import Numeral
from bank.store import kind_of
from exporters._cells import cell
from exporters._kind_rows import SEPARATOR, KindRow, answer_text, asked, kind_rows, number_is_asked, offered_lines
from exporters._told import carriers_of
from exporters._words import Words

ITEM_COLUMNS = (
    "item", "template", "template_version", "template_title", "topic", "codes", "quizzes", "weeks", "shows_feedback", "response",
    "stem", "operation", "operands", "key", "key_value", "unit", "policy", "accepted_forms", "options",
    "credit", "right", "predicted_band", "predicted_share_right_low", "predicted_share_right_high", "features", "parameters", "seed",
    "tool_version", "bank_fingerprint", "bank_checksum", "template_checksum",
)  # fmt: skip
"""Columns of ``items.csv``. What is predicted is no observation; shares are those of the 80 % interval, 0 to 1.
``shows_feedback`` is no for items of quizzes that show none: packages of the whole bank leave them out.
``key`` is what a pupil would answer, as it is shown; ``key_value`` its value where it is a number. ``stem`` ends with what is
put in order or matched. ``accepted_forms`` lists the spellings that are right for a typed answer, one with a blank at an
end in quotation marks; ``options`` counts what is offered to choose, order or match. ``credit`` and ``right`` are of the further kinds: how marks are given where a part is right, and the right
answer by the ids of what is offered."""
OPTION_COLUMNS = (
    "item", "kind", "option", "text", "value", "is_key", "mistakes", "mistake_names", "feedback", "feedback_carried_by",
)  # fmt: skip
"""Columns of ``options.csv``; kind is ``option`` (offered) or ``foreseen`` (a wrong answer someone may type), or one of
those of the further kinds of response, see `exporters._kind_rows`. ``feedback`` is the one remedy that fits the item;
``feedback_carried_by`` says which targets say it to this answer (``qti`` in all versions, ``cc13``), or ``none``."""
END = "\r\n"
REMEMBERED = 4096
"""Cells of one kind that are held in memory; what is rarer is made again."""
_QUOTED = frozenset(';"')
_NO_USE = ","
"""Cells ``quizzes`` and ``weeks`` of an item that no quiz uses."""


def header(columns: Iterable[str]) -> str:
    """Return the header row of a table."""
    return ",".join(columns) + END


def uses_of(quizzes: Iterable[Quiz]) -> dict[str, str]:
    """Return by item the cells that say which of *quizzes* use it, and in which weeks."""
    uses: dict[str, tuple[Quiz, ...]] = {}
    for quiz in quizzes:
        for identifier in dict.fromkeys(quiz.items):
            uses[identifier] = (*uses.get(identifier, ()), quiz)
    shared: dict[str, str] = {}
    cells: dict[str, str] = {}
    for identifier, found in uses.items():
        weeks = SEPARATOR.join([str(week) for week in sorted({quiz.week for quiz in found})])
        joined = f"{cell(SEPARATOR.join([quiz.identifier for quiz in found]))},{cell(weeks)}"
        cells[identifier] = shared.setdefault(joined, joined)
    return cells


class _Kind(NamedTuple):
    """Cells that all items of a family share."""

    family: Family
    head: str
    """From the template to the codes."""
    operation: str
    unit: str
    tail: str
    """From the seed to the template's checksum, and the end of the row."""


class Rows:
    """Writes the rows of one bank's items.

    *uses* gives the cells ``quizzes`` and ``weeks`` by item, as `uses_of` makes them.
    """

    def __init__(self, info: BankInfo, uses: Mapping[str, str]) -> None:
        self._info, self._locale, self._uses = info, info.locale, uses
        self._mark, self._minus = info.locale.decimal_mark, info.locale.minus
        self._pointed = self._mark == "."
        self._signs = {sign: info.locale.sign(sign) for sign in SIGNS}
        self._records = mistakes.load()
        self._kinds: dict[str, _Kind] = {}
        self._reasons: dict[tuple[mistakes.Seen, tuple[str, ...]], tuple[str, bool]] = {}
        self._words = Words(info.locale)

    def tables(self, items: Iterable[Item]) -> tuple[str, str]:
        """Return the rows of *items* for ``items.csv`` and those for ``options.csv``."""
        item_rows: list[str] = []
        option_rows: list[str] = []
        for item in items:
            identifier = cell(item.identifier)
            item_rows.append(self.item_row(item, identifier))
            option_rows += self.answer_rows(item, identifier)
        return "".join(item_rows), "".join(option_rows)

    def item_row(self, item: Item, identifier: str) -> str:
        """Return the row of *item* in the order of `ITEM_COLUMNS`; *identifier* is its first cell."""
        response, prediction, family = item.response, item.prediction, item.family
        kind = self._kinds.get(family.template)
        if kind is None or kind.family is not family:
            kind = self._kind(family)
        unit = family.unit
        if isinstance(response, Choice):
            name, key, how = "choice", self._number(item.key, unit), f",,{len(response.options)},,"
        elif isinstance(response, TypedNumber):
            forms = accepted_forms(item.key, self._locale, response.policy, unit)
            name, key = "typed", f"{cell(forms[0])},{cell(item.key.text())}"
            how = f"{cell(response.policy)},{cell(forms_text(forms))},,,"
        else:
            name, how = kind_of(response), self._asked(item)
            value = cell(item.key.text()) if number_is_asked(response) else ""
            key = f"{cell(answer_text(response, item.key, unit, self._locale))},{value}"
        return ",".join((
            identifier, kind.head, self._uses.get(item.identifier, _NO_USE),
            "yes" if item.shows_feedback else "no", name,
            cell(self._stem(self._asked_lines(item))), kind.operation,
            cell(SEPARATOR.join([operand.text() for operand in item.operands])),
            key, kind.unit, how,
            _prediction(prediction.band, prediction.low_share, prediction.high_share), _pairs(item.features),
            cell(SEPARATOR.join([f"{name}={value}" for name, value in item.parameters])), kind.tail,
        ))

    def answer_rows(self, item: Item, identifier: str) -> list[str]:
        """Return the rows of what is offered or foreseen in *item*, in the order of `OPTION_COLUMNS`."""
        response, unit = item.response, item.family.unit
        number, seen = self._number, mistakes.seen_of(item)
        carried = carriers_of(item, self._words, self._locale)

        def end(kind: str, name: str, value: Numeral | None, is_key: bool, names: tuple[str, ...]) -> str:
            cells, says = self._reasons.get((seen, names)) or self._reason(seen, names)
            return f"{cells},{carried(kind, name, value, is_key) if says else ''}{END}"

        if isinstance(response, Choice):
            return [
                f"{identifier},option,{_letter(one.identifier)},{number(one.numeral, unit)},"
                f"{'yes' if one.is_key else 'no'},"
                f"{end('option', one.identifier, one.numeral, one.is_key, one.mistakes)}"
                for one in response.options
            ]
        if not isinstance(response, TypedNumber):
            return [
                f"{identifier},{self._kind_row(row, unit)},"
                f"{end(row.kind, row.option, row.value, row.is_key == 'yes', row.mistakes)}"
                for row in kind_rows(response)
            ]
        return [
            f"{identifier},foreseen,,{number(numeral, unit)},no,{end('foreseen', '', numeral, False, names)}"
            for numeral, names in response.mistakes
        ]

    def _asked_lines(self, item: Item) -> Iterable[Line]:
        """Return the lines of the stem, and what it asks to put in order or match, which a pupil sees with it."""
        lines = list(item.stem)
        for texts in offered_lines(item.response):
            line: list[Leaf] = []
            for text in texts:
                line += [SEPARATOR, *text] if line else text
            lines.append(tuple(line))
        return lines

    def _asked(self, item: Item) -> str:
        """Return the cells from ``policy`` to ``right`` of an item of a further kind."""
        response = item.response
        policy, options, credit, right = asked(response)
        typed = response.typed if isinstance(response, FindMistake) else None
        forms = "" if typed is None else forms_text(
            accepted_forms(item.key, self._locale, typed.policy, item.family.unit))
        return f"{cell(policy)},{cell(forms)},{options},{cell(credit)},{cell(right)}"

    def _kind_row(self, row: KindRow, unit: Unit | None) -> str:
        """Return the cells from ``kind`` to ``is_key`` of what is offered, or foreseen, in an item of a further kind."""
        if row.kind == "foreseen" and row.value is not None:
            shows = self._number(row.value, unit)
        else:
            text = "" if row.text is None else self._stem([row.text])
            shows = f"{cell(text)},{'' if row.value is None else cell(row.value.text())}"
        return f"{row.kind},{cell(row.option)},{shows},{row.is_key}"

    def _number(self, numeral: Numeral, unit: Unit | None) -> str:
        """Return the cells that show an answer: as the pupil sees it, and its value."""
        value = numeral.text()
        if numeral.coefficient < 0:
            return f"{cell(shown(self._locale.number(numeral), unit))},{cell(value)}"
        # From zero up a numeral is digits and a mark; with a point there is nothing to guard or to quote.
        if unit is None and self._pointed:
            return f"{value},{value}"
        return f"{cell(shown(numeral.text(self._mark), unit))},{value}"

    def _stem(self, lines: Iterable[Line]) -> str:
        """Return *lines* as plain text in the locale's writing, one line each."""
        return "\n".join([
            "".join([leaf if isinstance(leaf, str) else self._leaf(leaf) for leaf in line]) for line in lines
        ])

    def _leaf(self, leaf: Numeral | Expression) -> str:
        mark, minus, signs = self._mark, self._minus, self._signs
        if isinstance(leaf, Numeral):
            return leaf.text(mark, minus)
        return " ".join([signs[part] if isinstance(part, str) else part.text(mark, minus) for part in leaf.parts])

    def _kind(self, family: Family) -> _Kind:
        info = self._info
        head = (family.template, str(family.version), family.title, family.topic, SEPARATOR.join(family.codes))
        tail = (str(info.seed), info.tool_version, info.fingerprint, info.checksum, family.checksum)
        kind = self._kinds[family.template] = _Kind(
            family, ",".join(map(cell, head)), cell(family.operation), cell(family.unit.text if family.unit else ""),
            header(map(cell, tail)),
        )
        return kind

    def _reason(self, seen: mistakes.Seen, identifiers: tuple[str, ...]) -> tuple[str, bool]:
        """Return the cells that say what leads to an answer and what helps, and whether there is something to say."""
        if len(self._reasons) >= REMEMBERED:
            self._reasons.clear()
        records = [self._records[identifier] for identifier in identifiers if identifier in self._records]
        found = mistakes.remedy(seen, identifiers)
        texts = (
            SEPARATOR.join(identifiers), SEPARATOR.join([record.name for record in records]),
            found[1].words if found else "",
        )
        made = self._reasons[seen, identifiers] = ",".join(map(cell, texts)), found is not None
        return made


@lru_cache(REMEMBERED)
def _letter(identifier: str) -> str:
    return cell(identifier)


@lru_cache(REMEMBERED)
def _prediction(band: str, low: int, high: int) -> str:
    return f"{cell(band)},{_share(low)},{_share(high)}"


def _share(thousandths: int) -> str:
    return f"{thousandths // 1000}.{thousandths % 1000:03}"


@lru_cache(REMEMBERED)
def _pairs(pairs: tuple[tuple[str, int], ...]) -> str:
    return cell(SEPARATOR.join([f"{name}={value}" for name, value in pairs]))


def forms_text(forms: Iterable[str]) -> str:
    """Return spellings as one text: apart by semicolons, in quotation marks where one has a blank at an end."""
    return SEPARATOR.join([
        form if form == form.strip() and not _QUOTED.intersection(form) else '"' + form.replace('"', '""') + '"'
        for form in forms
    ])


def shown(number: str, unit: Unit | None) -> str:
    """Return an answer, its *number* written, as the pupil sees it."""
    if unit is None:
        return number
    return unit.text + number if unit.before else f"{number} {unit.text}"
