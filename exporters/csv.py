"""Comma-separated values: one table of items and one of options, for reading in a spreadsheet or by a program.

The form is that of RFC 4180: a header row, commas, CRLF, double quotes where needed; UTF-8. Numbers for reckoning
stand in columns whose names end in ``_value`` or ``operands``, always with a point; the other columns show what the
pupil sees, in the bank's locale. Texts that a spreadsheet might
run as formulas are guarded, see `exporters._cells`.
"""

from __future__ import annotations

import csv
from array import array
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple, Protocol

from bank import mistakes
from bank.answers import accepted_forms
from bank.files import replacing
from bank.model import BankInfo, Choice, Expression, Item, Line, Locale, Quiz, Unit
from bank.numerals import Numeral
from exporters._cells import guarded, unguarded
from exporters._faults import ExportFault

NAME = "csv"
TITLE = "Comma-separated values (two tables: items and options)"

ITEM_COLUMNS = (
    "item", "template", "template_version", "template_title", "topic", "codes", "quizzes", "weeks", "response",
    "stem", "operation", "operands", "key", "key_value", "unit", "policy", "accepted_forms", "options",
    "predicted_band", "predicted_share_right_low", "predicted_share_right_high", "features", "parameters", "seed",
    "tool_version", "bank_checksum", "template_checksum",
)  # fmt: skip
"""Columns of ``items.csv``. What is predicted is no observation; shares are those of the 80 % interval, 0 to 1.
``accepted_forms`` counts the spellings that are right for a typed answer, ``options`` those of a choice."""
OPTION_COLUMNS = (
    "item", "kind", "option", "text", "value", "is_key", "mistakes", "mistake_names", "feedback",
)  # fmt: skip
"""Columns of ``options.csv``; kind is ``option`` (offered) or ``foreseen`` (a wrong answer someone may type)."""
SEPARATOR = "; "
"""Stands between several values in one cell."""
STEP = 250
"""Items between two reports of progress."""


class Readable(Protocol):
    """What this exporter reads of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def quizzes(self) -> tuple[Quiz, ...]:
        """All quizzes."""

    @property
    def count(self) -> int:
        """Number of items."""

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[Item]:
        """Give items."""


def write(
    source: Path,
    bank: Readable,
    quizzes: Sequence[Quiz],
    folder: Path,
    *,
    whole_bank: bool,
    jobs: int,
    progress: Callable[[int, int], None],
) -> list[Path]:
    """Write ``csv/items.csv`` and ``csv/options.csv`` under *folder* and return their paths.

    The items are those of the whole bank in bank order, or else of *quizzes* in the order of use, each once.
    One item is in memory at a time; *jobs* is not used: writing rows is quicker than handing them over. Before
    the files take their places they are read back, and every key and option compared with the item it came from.

    Raises:
        ExportFault: what was read back differs from the bank; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    chosen = None if whole_bank else list(dict.fromkeys(item for quiz in quizzes for item in quiz.items))
    total = bank.count if chosen is None else len(chosen)
    uses = _uses(bank.quizzes if whole_bank else quizzes)
    targets = [folder / NAME / "items.csv", folder / NAME / "options.csv"]
    marks = array("q")
    with replacing(targets[0]) as items_part, replacing(targets[1]) as options_part:
        with _opened(items_part) as items_file, _opened(options_part) as options_file:
            item_rows, option_rows = csv.writer(items_file), csv.writer(options_file)
            item_rows.writerow(ITEM_COLUMNS)
            option_rows.writerow(OPTION_COLUMNS)
            for done, item in enumerate(bank.items(chosen), 1):
                item_rows.writerow(map(guarded, item_row(item, bank.info, uses.get(item.identifier, ()))))
                option_rows.writerows(map(guarded, row) for row in answer_rows(item, bank.info.locale))
                marks.append(_mark(scoring(item)))
                if not done % STEP or done == total:
                    progress(done, total)
        _compare(items_part, options_part, marks)
    return targets


def _opened(path: Path) -> Any:
    return path.open("w", encoding="utf-8", newline="")


def _uses(quizzes: Iterable[Quiz]) -> dict[str, tuple[Quiz, ...]]:
    uses: dict[str, tuple[Quiz, ...]] = {}
    for quiz in quizzes:
        for identifier in dict.fromkeys(quiz.items):
            uses[identifier] = (*uses.get(identifier, ()), quiz)
    return uses


def item_row(item: Item, info: BankInfo, quizzes: Sequence[Quiz] = ()) -> list[str]:
    """Return the row of *item*, unguarded, in the order of `ITEM_COLUMNS`."""
    family, response, locale, prediction = item.family, item.response, info.locale, item.prediction
    return [
        item.identifier,
        family.template,
        str(family.version),
        family.title,
        family.topic,
        SEPARATOR.join(family.codes),
        SEPARATOR.join(quiz.identifier for quiz in quizzes),
        SEPARATOR.join(str(week) for week in sorted({quiz.week for quiz in quizzes})),
        "choice" if isinstance(response, Choice) else "typed",
        stem_text(item.stem, locale),
        family.operation,
        SEPARATOR.join(operand.text() for operand in item.operands),
        shown(item.key, family.unit, locale),
        item.key.text(),
        family.unit.text if family.unit else "",
        *_response_cells(item, locale),
        prediction.band,
        _share(prediction.low_share),
        _share(prediction.high_share),
        SEPARATOR.join(f"{name}={value}" for name, value in item.features),
        SEPARATOR.join(f"{name}={value}" for name, value in item.parameters),
        str(info.seed),
        info.tool_version,
        info.checksum,
        family.checksum,
    ]


def _response_cells(item: Item, locale: Locale) -> list[str]:
    """Return policy, number of accepted spellings and number of options."""
    response = item.response
    if isinstance(response, Choice):
        return ["", "", str(len(response.options))]
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    return [response.policy, str(len(forms)), ""]


def answer_rows(item: Item, locale: Locale) -> Iterator[list[str]]:
    """Give the rows of what is offered or foreseen in *item*, unguarded, in the order of `OPTION_COLUMNS`."""
    response, unit = item.response, item.family.unit
    if isinstance(response, Choice):
        for option in response.options:
            kind = ["option", option.identifier]
            yield [item.identifier, *kind, *_answer(option.numeral, option.is_key, option.mistakes, unit, locale)]
    else:
        for numeral, identifiers in response.mistakes:
            yield [item.identifier, "foreseen", "", *_answer(numeral, False, identifiers, unit, locale)]


def _answer(numeral: Numeral, is_key: bool, identifiers: Sequence[str], unit: Unit | None, locale: Locale) -> list[str]:
    known = mistakes.load()
    records = [known[identifier] for identifier in identifiers if identifier in known]
    return [
        shown(numeral, unit, locale),
        numeral.text(),
        "yes" if is_key else "no",
        SEPARATOR.join(identifiers),
        SEPARATOR.join(record.name for record in records),
        " ".join(dict.fromkeys(record.feedback for record in records)),
    ]


def _share(thousandths: int) -> str:
    return f"{thousandths // 1000}.{thousandths % 1000:03}"


def shown(numeral: Numeral, unit: Unit | None, locale: Locale) -> str:
    """Return an answer as the pupil sees it, with its unit."""
    number = locale.number(numeral)
    if unit is None:
        return number
    return unit.text + number if unit.before else f"{number} {unit.text}"


def stem_text(lines: Iterable[Line], locale: Locale) -> str:
    """Return *lines* as plain text in the locale's writing, one line each."""
    return "\n".join("".join(_leaf(leaf, locale) for leaf in line) for line in lines)


def _leaf(leaf: str | Numeral | Expression, locale: Locale) -> str:
    if isinstance(leaf, str):
        return leaf
    if isinstance(leaf, Numeral):
        return locale.number(leaf)
    return " ".join(
        locale.number(part) if isinstance(part, Numeral) else locale.sign(part) for part in leaf.parts
    )


class ReadItem(NamedTuple):
    """What the two files say of one item, as far as scoring goes."""

    identifier: str
    key: Numeral
    answers: tuple[tuple[str, Numeral, bool, tuple[str, ...]], ...]
    """(option id, or empty where foreseen; value; whether it is the key; mistake ids)."""


def read_rows(path: Path, columns: Sequence[str]) -> Iterator[dict[str, str]]:
    """Give the rows of a file that `write` made, unguarded, by column name.

    Raises:
        ExportFault: the file is not of that form.
    """
    with path.open(encoding="utf-8", newline="") as opened:
        rows = csv.reader(opened, strict=True)
        if tuple(next(rows, ())) != tuple(columns):
            raise ExportFault(path.name, "", f"the header row is not {', '.join(columns)}")
        for row in rows:
            if len(row) != len(columns):
                raise ExportFault(path.name, row[0], f"{len(row)} cells, wanted {len(columns)}")
            yield dict(zip(columns, map(unguarded, row), strict=True))


def read_back(folder: Path) -> Iterator[ReadItem]:
    """Give the items that the files under *folder* hold, in their order.

    Raises:
        ExportFault: a file is not of the form that `write` gives it.
    """
    return _read(folder / NAME / "items.csv", folder / NAME / "options.csv")


def _read(items: Path, options: Path) -> Iterator[ReadItem]:
    answer_rows_left = read_rows(options, OPTION_COLUMNS)
    waiting = next(answer_rows_left, None)
    for row in read_rows(items, ITEM_COLUMNS):
        answers = []
        while waiting is not None and waiting["item"] == row["item"]:
            identifiers = tuple(waiting["mistakes"].split(SEPARATOR)) if waiting["mistakes"] else ()
            value = _value(options, waiting, "value")
            answers.append((waiting["option"], value, waiting["is_key"] == "yes", identifiers))
            waiting = next(answer_rows_left, None)
        yield ReadItem(row["item"], _value(items, row, "key_value"), tuple(answers))
    if waiting is not None:
        raise ExportFault(options.name, waiting["item"], "the item is not in items.csv, or not in its place")


def _value(path: Path, row: dict[str, str], column: str) -> Numeral:
    try:
        return Numeral.parse(row[column])
    except ValueError as error:
        raise ExportFault(path.name, row["item"], f"{column}: {error}") from error


def _compare(items: Path, options: Path, marks: array[int]) -> None:
    count = 0
    for count, read in enumerate(_read(items, options), 1):
        if count > len(marks) or _mark(read) != marks[count - 1]:
            raise ExportFault(items.name, read.identifier, "key or options read back are not those of the bank")
    if count != len(marks):
        raise ExportFault(items.name, "", f"{count} items read back of {len(marks)}")


def _mark(read: ReadItem) -> int:
    """Return a number that changes with anything that scoring depends on, how numbers are written too."""
    key = (read.key.coefficient, read.key.places)
    answers = [(name, one.coefficient, one.places, is_key, ids) for name, one, is_key, ids in read.answers]
    return hash((read.identifier, key, tuple(answers)))


def scoring(item: Item) -> ReadItem:
    """Return what `read_back` must give for *item*."""
    response = item.response
    if isinstance(response, Choice):
        answers = tuple((one.identifier, one.numeral, one.is_key, one.mistakes) for one in response.options)
    else:
        answers = tuple(("", numeral, False, identifiers) for numeral, identifiers in response.mistakes)
    return ReadItem(item.identifier, item.key, answers)
