"""Portability reports: beside each package a page and a table of what the target cannot carry of it, item by item.

All targets of an export are served by one pass over the items. Of a quiz the rows are kept until they are written, in
the quiz's order; those of the whole bank go straight into the table, and its page lists only some.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Iterator, Sequence
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TextIO

from bank.files import replacing
from bank.model import BankInfo, Item, Line, Quiz
from exporters._cells import cell
from exporters._portability import EFFECTS, LEFT_OUT, QuizRemark, Remark, Target, kind_of

COLUMNS = ("about", "item", "template", "kind", "effect", "remarks", "says")
"""Columns of the table. ``about`` is ``item`` (an item; its gravest effect, the codes of its remarks, why it is left
out), ``quiz`` (a remark on the whole) or ``remark`` (what a code means)."""
CARRIED = "carried"
"""Effect of an item on which there is no remark."""
ENDING = ".portability"
BANK, TABLES = "bank", "tables"
"""Names of what is no quiz: the whole bank, and the tables of a target that has no packages."""
LISTED = 250
"""Items that a page lists one by one at most, and that it names to a remark."""
BLOCK = 500
"""Items that are looked at together."""
_END = "\r\n"
_GRAVITY = {effect: place for place, effect in enumerate((*EFFECTS, CARRIED))}


class Row(NamedTuple):
    """An item in a report."""

    identifier: str
    template: str
    title: str
    stem: tuple[Line, ...]
    kind: str
    refused: str
    """Why it is left out; empty where it is not."""
    remarks: tuple[Remark, ...]

    @property
    def effect(self) -> str:
        """The gravest effect."""
        if self.refused:
            return LEFT_OUT
        return min([remark.effect for remark in self.remarks], key=_GRAVITY.__getitem__, default=CARRIED)


class Report(NamedTuple):
    """What is known of one package when all items have been seen."""

    target: Target
    name: str
    """Name of the package, without ending."""
    title: str
    """Title of the quiz, or of the bank."""
    is_bank: bool
    info: BankInfo
    quiz_remarks: tuple[QuizRemark, ...]
    effects: Counter[str]
    """Items by their gravest effect."""
    held: dict[Remark, list[str]]
    """The first `LISTED` items by remark."""
    counts: Counter[Remark]
    refused: dict[str, list[str]]
    """The first `LISTED` items by why they are left out."""
    reasons: Counter[str]
    rows: list[Row]
    """The first `LISTED` items, or all of a quiz."""

    @property
    def items(self) -> int:
        """Number of items."""
        return sum(self.effects.values())

    @property
    def left_out(self) -> int:
        """Number of items left out."""
        return self.effects[LEFT_OUT]


class Readable(Protocol):
    """What reports read of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    def items(self, identifiers: Sequence[str] | None = None, *, solutions: bool = True) -> Iterator[Item]:
        """Give items; without *solutions* their solutions may be empty."""

    def alike(self) -> Iterator[tuple[str, Hashable]]:
        """Give ids of all items, each with what it shares with items that differ in numbers only, or None."""


class _Open:
    """A report under way, with its table."""

    def __init__(self, target: Target, name: str, quiz: Quiz | None, info: BankInfo, stack: ExitStack, folder: Path):
        self.report = Report(
            target, name, quiz.title if quiz else info.title, quiz is None, info,
            tuple([remark for remark in target.quiz_remarks if remark.holds(quiz)]), Counter(), {}, Counter(), {},
            Counter(), [],
        )  # fmt: skip
        stem = folder / target.name / f"{name}{ENDING}"
        self.page = stack.enter_context(replacing(stem.with_name(stem.name + ".html")))
        table = stack.enter_context(replacing(stem.with_name(stem.name + ".csv")))
        self._file: TextIO = stack.enter_context(table.open("w", encoding="utf-8", newline=""))
        self._alike: dict[tuple[str, str, str, tuple[Remark, ...]], list[Any]] = {}
        """How many items are alike in all but their names, and the end of their rows."""
        self._line(COLUMNS)

    def add(self, row: Row) -> None:
        """Add an item."""
        alike = (row.template, row.kind, row.refused, row.remarks)
        known = self._alike.get(alike)
        if known is None:
            known = self._alike[alike] = [0, self._rest(row)]
        known[0] += 1
        if known[0] <= LISTED:
            self._note(row)
        self._file.write(f"item,{cell(row.identifier)},{known[1]}")

    def _rest(self, row: Row) -> str:
        """Return what the rows of all items have behind their names that are alike in it."""
        codes = "" if row.refused else "; ".join([remark.code for remark in row.remarks])
        return ",".join([cell(text) for text in (row.template, row.kind, row.effect, codes, row.refused)]) + _END

    def _note(self, row: Row) -> None:
        """Keep the item to be named on the page, as far as there is room."""
        report = self.report
        for noted in [report.refused.setdefault(row.refused, [])] if row.refused else [
            report.held.setdefault(remark, []) for remark in row.remarks
        ]:
            if len(noted) < LISTED:
                noted.append(row.identifier)
        if len(report.rows) < LISTED or not report.is_bank:
            report.rows.append(row)

    def _count(self) -> None:
        report = self.report
        for (template, kind, refused, remarks), (count, _) in self._alike.items():
            report.effects[Row("", template, "", (), kind, refused, remarks).effect] += count
            if refused:
                report.reasons[refused] += count
            for remark in () if refused else remarks:
                report.counts[remark] += count

    def close(self) -> None:
        """Finish the table, and write the page."""
        from exporters._report_page import page

        report = self.report
        self._count()
        for one in report.quiz_remarks:
            self._line(("quiz", "", "", "", one.effect, one.code, one.says))
        for remark in sorted(report.counts, key=report.target.remarks.index):
            self._line(("remark", "", "", "", remark.effect, remark.code, remark.says))
        self._file.close()
        self.page.write_text(page(report), encoding="utf-8")

    def _line(self, texts: Iterable[str]) -> None:
        self._file.write(",".join([cell(text) for text in texts]) + _END)


def rows_of(items: Iterable[Item], targets: Sequence[Target]) -> Iterator[tuple[str, list[Row]]]:
    """Give each item's identifier and its row for each of *targets*, under the identifier that it has there."""
    asked = [(target.refusal, target.as_asked, [(remark, remark.holds) for remark in target.remarks]) for target in targets]
    for item in items:
        family, kind, name = item.family, kind_of(item), item.identifier
        yield name, [
            Row(name if refusal(item) else as_asked(item).identifier, family.template, family.title, item.stem, kind, refusal(item),
                tuple([remark for remark, holds in remarks
                       if holds(item) and (item.shows_feedback or not remark.of_feedback)]))
            for refusal, as_asked, remarks in asked
        ]  # fmt: skip


def _rows_of_bank(
    bank: Readable, targets: Sequence[Target], wanted: frozenset[str]
) -> Iterator[tuple[str, list[Row]]]:
    """Give what `rows_of` gives of all items, asking once for choice and typed items that differ in numbers only.

    Rows have the stem of another item then, but for those *wanted* and the first `LISTED`, which pages show.
    """
    known: dict[Hashable, list[Row] | None] = {}
    place = 0
    alike = bank.alike()
    while block := list(islice(alike, BLOCK)):
        needed = []
        for name, words in block:
            if place < LISTED or name in wanted or words is None or words not in known:
                needed.append(name)
                known.setdefault(words)
            place += 1
        made = {item.identifier: item for item in bank.items(needed, solutions=False)}
        for name, words in block:
            item = made.get(name)
            if item is not None:
                ((_, rows),) = rows_of([item], targets)
                known[words] = rows
                yield name, rows
            else:
                yield name, [row._replace(identifier=name) for row in known[words] or ()]


def write_reports(
    targets: Sequence[Target], bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool
) -> list[Report]:
    """Write the reports of *targets* under *folder*, each beside its packages, and return what they say.

    Raises:
        BadInput: a file cannot be written, or *bank* is damaged; the older files stay as they were.
    """
    info = bank.info
    used = list(dict.fromkeys(item for quiz in quizzes for item in quiz.items))
    with ExitStack() as stack:
        kept: dict[str, list[Row]] = {}
        wholes = [
            _Open(target, TABLES if target.tables else BANK, None, info, stack, folder)
            if whole_bank or target.tables else None
            for target in targets
        ]  # fmt: skip
        wanted = frozenset(used)
        every = _rows_of_bank(bank, targets, wanted) if whole_bank else rows_of(
            bank.items(used, solutions=False), targets)
        for identifier, rows in every:
            for opened, row in zip(wholes, rows):
                if opened is not None:
                    opened.add(row)
            if identifier in wanted:
                kept[identifier] = rows
        apart = [item for item in used if item not in kept]
        for identifier, rows in rows_of(bank.items(apart, solutions=False), targets) if apart else ():
            kept[identifier] = rows
            for opened, row in zip(wholes, rows):
                if opened is not None and opened.report.target.tables:
                    opened.add(row)
        done = []
        for place, target in enumerate(targets):
            for quiz in () if target.tables else quizzes:
                rows = [kept[identifier][place] for identifier in quiz.items]
                done.append(_quiz_report(target, quiz, info, rows, folder))
            whole = wholes[place]
            if whole is not None:
                whole.close()
                done.append(whole.report)
        return done


def _quiz_report(target: Target, quiz: Quiz, info: BankInfo, rows: Iterable[Row], folder: Path) -> Report:
    with ExitStack() as stack:
        opened = _Open(target, quiz.identifier, quiz, info, stack, folder)
        for row in rows:
            opened.add(row)
        opened.close()
        return opened.report
