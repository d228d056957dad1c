"""Jobs of an export: items rendered and deflated; read back from the disk, checked against our schemas, compared.

A job is a range of the bank or a list of identifiers. A worker opens the bank itself and hands back finished bytes;
once these lie in the file, it is given their place there and reads them back. An item is parsed once, then: as it
lies on the disk. Nothing that was not checked stands under its final name, for packages take their places only when
everything has been read back.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import partial
from hashlib import blake2b
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from lxml import etree

from bank import mistakes
from bank.marking import most_marks
from bank.model import BankInfo, Choice, Item, Quiz, TypedNumber
from bank.store import Source
from bank.work import Begun, Pool
from exporters._assessment import test_file, write_test
from exporters._faults import ExportFault
from exporters._item import Renderer
from exporters._kinds_back import KindChecks
from exporters._manifest import BANK_MANIFEST, CLOSING, ItemEntries, bank_digest, opening
from exporters._profile import Profile
from exporters._qti import ITEM_FOLDER, MANIFEST, Version
from exporters._readback import ItemReader, difference
from exporters._unzip import Entry, EntryReader, ZipReader, placed
from exporters._zip import Head, Segment, deflate_piece, segment


MOST_SAID = 4096
"""Metadata that are remembered; more would only cost memory."""
_PLAIN = (Choice, TypedNumber)
"""Responses that are written and read by the short way; all others by the modules of `exporters._kinds`."""


class Readable(Protocol):
    """What this exporter reads of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def count(self) -> int:
        """Number of items."""

    def identifiers(self) -> Sequence[str]:
        """Give the ids of all items in bank order."""

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None,
        answers_only: bool = False,
    ) -> Iterator[Item]:
        """Give items; with *answers_only* their stems and solutions may be empty."""


class Job(NamedTuple):
    """Items to work on: those from *start* up to before *stop* in the bank, or those with *identifiers*."""

    start: int = 0
    stop: int = 0
    identifiers: tuple[str, ...] | None = None

    @property
    def size(self) -> int:
        """Number of items."""
        return self.stop - self.start if self.identifiers is None else len(self.identifiers)


class Batch(NamedTuple):
    """What became of a job."""

    entries: Segment
    resources: dict[str, str]
    """By identifier, only of items that quizzes use."""
    listed: bytes
    """The job's part of the bank's manifest; empty where the job is not a range of the bank."""
    packed: bytes
    """The same, deflated."""
    marks: dict[str, int]
    """By identifier, only of items that quizzes use and that are worth more than one mark."""
    silent: frozenset[str]
    """Those of the items that quizzes use that show no feedback."""


class Worker:
    """Does jobs with a bank of its own."""

    def __init__(self, version: Version, bank: Readable, wanted: frozenset[str]) -> None:
        mistakes.load()
        self._version, self._bank, self._wanted = version, bank, wanted
        self._renderer, self._entries = Renderer(version, bank.info), ItemEntries(version, bank.info)
        self._item_profile, self._manifest_profile = Profile(version, "item"), Profile(version, "manifest")
        self._test_profile = Profile(version, "test")
        self._reader, self._kinds = ItemReader(version), KindChecks(version, bank.info.locale)
        self._opening = opening(version, bank.info, None)
        self._item_type = version.item_type
        self._said: set[str] = set()
        """Metadata of items in the bank's manifest that were held to the schema."""
        self._addresses = [self._listed("@href"), self._listed("c:file/@href")]
        self._types = self._listed("@type")
        self._made: dict[int, tuple[list[Item], list[Head]]] = {}
        """By the start of their job: items that were made here and wait to be verified."""

    def _listed(self, path: str) -> etree.XPath:
        """Return what finds *path* in all resources of a manifest."""
        spaces = {"c": self._version.manifest_namespace}
        return etree.XPath(f"c:resources/c:resource/{path}", namespaces=spaces, smart_strings=False)

    def _items(self, job: Job, *, answers_only: bool = False) -> Iterator[Item]:
        if job.identifiers is not None:
            return self._bank.items(job.identifiers, answers_only=answers_only)
        return self._bank.items(start=job.start, stop=job.stop, answers_only=answers_only)

    def make(self, job: Job) -> Batch:
        """Return the items of *job* rendered and deflated, and for a range its checked part of the manifest.

        The items themselves are checked when they are read back: `verify_made` or `verify`. Those of a range are
        kept here until then.
        """
        items = list(self._items(job))
        names = [f"{ITEM_FOLDER}{item.identifier}.xml" for item in items]
        render, entry = self._renderer.item, self._entries.entry
        entries = segment(names, [render(item, item.shows_feedback) for item in items])
        lines = [entry(item, item.shows_feedback) for item in items]
        resources = {item.identifier: line for item, line in zip(items, lines) if item.identifier in self._wanted}
        several = [item for item in items if not isinstance(item.response, _PLAIN) and item.identifier in self._wanted]
        marks = {item.identifier: most_marks(item.response) for item in several}
        silent = frozenset([item.identifier for item in items if not item.shows_feedback and item.identifier in resources])
        if job.identifiers is not None:
            return Batch(entries, resources, b"", b"", marks, silent)
        self._made[job.start] = items, entries.heads
        part = "".join(lines).encode()
        self._check_listed(lines, names)
        return Batch(entries, resources, part, deflate_piece(part), marks, silent)

    def _check_listed(self, lines: Sequence[str], names: Sequence[str]) -> None:
        """Check that *lines* of the bank's manifest follow the schema and list the files called *names*, item by item.

        A line is the address of an item round metadata that many items share word for word: these are held to the
        schema once, in the line in which they first come, the address in every line to the letter. That no two
        identifiers are the same is counted, for the schema no longer sees all of them together.
        """
        if len({f"{ITEM_FOLDER}{BANK_MANIFEST}{bank_digest(self._bank.info)}.xml", *names}) <= len(names):
            raise ExportFault(MANIFEST, "", "the manifest lists two things under one identifier")
        fresh, listed = [], []
        for line, name in zip(lines, names, strict=True):
            begin = f'<resource identifier="{name[len(ITEM_FOLDER) : -len(".xml")]}" type="{self._item_type}" href="{name}">'
            end = f'<file href="{name}"/></resource>\n'
            if not (line.startswith(begin) and line.endswith(end)):
                raise ExportFault(MANIFEST, "", "the manifest lists other files than there are")
            said = line[len(begin) : -len(end)]
            if said not in self._said:
                self._said.add(said)
                fresh.append(line)
                listed.append(name)
        if not fresh:
            return
        if len(self._said) > MOST_SAID:
            self._said.clear()
        root = self._manifest_profile.check("".join((self._opening, *fresh, CLOSING)).encode(), MANIFEST)
        for path in self._addresses:
            if path(root) != listed:
                raise ExportFault(MANIFEST, "", "the manifest lists other files than there are")
        if self._types(root) != [self._item_type] * len(listed):
            raise ExportFault(MANIFEST, "", "the manifest lists something that is no item")

    def test(self, quiz: Quiz, marks: int) -> bytes:
        """Return the test of *quiz*, whose items are worth so many *marks* in all, checked against our schema."""
        content = write_test(self._version, quiz, self._bank.info, marks).encode()
        self._test_profile.check(content, test_file(quiz), quiz.identifier)
        return content

    def manifest(self, quiz: Quiz, resources: Iterable[str]) -> bytes:
        """Return the manifest of the package of *quiz*, checked against our schema."""
        head = opening(self._version, self._bank.info, quiz)
        content = "".join((head, *resources, CLOSING)).encode()
        self._manifest_profile.check(content, MANIFEST, quiz.identifier)
        return content

    def verify_made(self, path: Path, name: str, job: Job, begin: int) -> dict[str, bytes]:
        """Return what `verify` returns of *job*, a range that was made here and lies in the file from *begin* on."""
        items, heads = self._made.pop(job.start)
        with EntryReader(path, name) as reader:
            return self._verified(reader, placed(heads, begin), items, name)

    def verify(
        self, path: Path, name: str, entries: list[Entry], job: Job, known: dict[str, bytes]
    ) -> dict[str, bytes]:
        """Return digests of the deflated bytes of the items that quizzes use, all items having been read back.

        *path* is the file as it lies on the disk, *name* what it will be called, *entries* those of *job*'s items.
        An entry whose bytes have the digest that *known* gives for it was read back before in this run.

        Raises:
            ExportFault: an item read back does not follow our schema or differs from the bank.
        """
        with ZipReader(path, name) as reader:
            if known:
                entries, job = self._unknown(reader, entries, job, known)
            items = list(self._items(job, answers_only=True))
            return self._verified(reader, entries, items, name)

    def _verified(
        self, reader: EntryReader, entries: list[Entry], items: list[Item], name: str
    ) -> dict[str, bytes]:
        digests: dict[str, bytes] = {}
        for entry, item, data in zip(entries, items, reader.packed_together(entries), strict=True):
            identifier, feedback = item.identifier, item.shows_feedback
            if entry.name != f"{ITEM_FOLDER}{identifier}.xml":
                raise ExportFault(name, identifier, f"the file is called {entry.name}")
            content = reader.unpacked(entry, data)
            try:
                if isinstance(item.response, _PLAIN):
                    root = self._item_profile.check(content, entry.name)
                    wrong = difference(item, self._reader.of(root, content, entry.name), self._bank.info, feedback)
                else:
                    wrong = self._kinds.difference(item, content, entry.name, feedback)
            except ExportFault as fault:
                raise ExportFault(name, identifier, fault.wrong) from fault
            if wrong:
                raise ExportFault(name, identifier, f"read back, it differs from the bank: {wrong}")
            if identifier in self._wanted:
                digests[identifier] = digest(data)
        return digests

    def _unknown(
        self, reader: ZipReader, entries: list[Entry], job: Job, known: dict[str, bytes]
    ) -> tuple[list[Entry], Job]:
        """Return what of a job has not been read back before, byte for byte."""
        left = [
            (entry, identifier)
            for entry, identifier in zip(entries, job.identifiers or (), strict=True)
            if entry.name != f"{ITEM_FOLDER}{identifier}.xml" or known.get(identifier) != digest(reader.packed(entry))
        ]
        return [entry for entry, _ in left], job._replace(identifiers=tuple([identifier for _, identifier in left]))


def digest(packed: bytes) -> bytes:
    """Return a digest of the bytes of an entry."""
    return blake2b(packed, digest_size=16).digest()


def _station(kind: Callable[..., Any], version: Any, source: Source, known: str, wanted: frozenset[str]) -> Any:
    from bank.store import Bank

    return kind(version, Bank.open(source, known=known), wanted)


class Crew:
    """One worker in this process, and where there is more than one job at a time, one in each of so many others.

    *kind* makes a worker of *version* (whatever it is that says so to the worker), a bank and *wanted*.
    """

    def __init__(
        self, version: Any, source: Source, bank: Readable, wanted: frozenset[str], jobs: int,
        kind: Callable[..., Any] = Worker,
    ) -> None:
        self.here = kind(version, bank, wanted)
        others = jobs if jobs > 1 else 0
        self.ahead = 2 * jobs + 1 if others else 0
        """How many tasks may be begun before the first result is asked for."""
        self._pool = Pool(others, partial(_station, kind, version, source, bank.info.fingerprint, wanted), self.here)

    def __enter__(self) -> Crew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._pool.__exit__(kind, error, trace)

    def begin(self, number: int, task: str, *arguments: Any) -> Begun:
        """Begin the worker's method *task*; tasks of one *number* are done by one worker, one after the other."""
        return self._pool.begin(task, *arguments, at=number)

    def run(self, task: str, arguments: Iterable[tuple[Any, ...]]) -> Iterator[Any]:
        """Give the results of the worker's method *task*, in order, a bounded number of them ahead."""
        return self._pool.each(task, arguments, ahead=self.ahead)
