"""Jobs of an export: items rendered, checked against our schemas and deflated, and read back from the disk.

A job is a range of the bank or a list of identifiers. A worker opens the bank itself and hands back finished bytes.
"""

from __future__ import annotations

import gc
from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from hashlib import blake2b
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from bank import mistakes
from bank.model import BankInfo, Item, Quiz
from exporters._assessment import test_file, write_test
from exporters._faults import ExportFault
from exporters._item import Renderer
from exporters._manifest import CLOSING, ItemEntries, opening
from exporters._profile import Profile
from exporters._qti import ITEM_FOLDER, MANIFEST, Version
from exporters._readback import ItemReader, difference
from exporters._unzip import Entry, ZipReader
from exporters._zip import Deflated, deflate, deflate_piece


class Readable(Protocol):
    """What this exporter reads of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def count(self) -> int:
        """Number of items."""

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
    feedback: bool = True

    @property
    def size(self) -> int:
        """Number of items."""
        return self.stop - self.start if self.identifiers is None else len(self.identifiers)


class Batch(NamedTuple):
    """What became of a job."""

    entries: list[Deflated]
    resources: dict[str, str]
    """By identifier, only of items that quizzes use."""
    listed: bytes
    """The job's part of the bank's manifest; empty where the job is not a range of the bank."""
    packed: bytes
    """The same, deflated."""


class Worker:
    """Does jobs with a bank of its own."""

    def __init__(self, version: Version, bank: Readable, wanted: frozenset[str]) -> None:
        mistakes.load()
        self._version, self._bank, self._wanted = version, bank, wanted
        self._renderer, self._entries = Renderer(version, bank.info), ItemEntries(version, bank.info)
        self._item_profile, self._manifest_profile = Profile(version, "item"), Profile(version, "manifest")
        self._test_profile = Profile(version, "test")
        self._reader = ItemReader(version)
        self._opening = opening(version, bank.info, None)

    def _items(self, job: Job, *, answers_only: bool = False) -> Iterator[Item]:
        if job.identifiers is not None:
            return self._bank.items(job.identifiers, answers_only=answers_only)
        return self._bank.items(start=job.start, stop=job.stop, answers_only=answers_only)

    def make(self, job: Job) -> Batch:
        """Return the items of *job* rendered, checked against our schemas and deflated.

        Step by step for all of them, not item by item: each step then finds its tables in the processor's cache.
        """
        items = list(self._items(job))
        names = [f"{ITEM_FOLDER}{item.identifier}.xml" for item in items]
        contents = [self._renderer.item(item, job.feedback).encode() for item in items]
        for content, name, item in zip(contents, names, items):
            self._item_profile.check(content, name, item.identifier)
        entries = [deflate(name, content) for name, content in zip(names, contents)]
        lines = [self._entries.entry(item, job.feedback) for item in items]
        resources = {item.identifier: line for item, line in zip(items, lines) if item.identifier in self._wanted}
        if job.identifiers is not None:
            return Batch(entries, resources, b"", b"")
        listed = "".join(lines)
        self._manifest_profile.check((self._opening + listed + CLOSING).encode(), MANIFEST)
        part = listed.encode()
        return Batch(entries, resources, part, deflate_piece(part))

    def test(self, quiz: Quiz) -> bytes:
        """Return the test of *quiz*, checked against our schema."""
        content = write_test(self._version, quiz, self._bank.info).encode()
        self._test_profile.check(content, test_file(quiz), quiz.identifier)
        return content

    def manifest(self, quiz: Quiz, resources: Iterable[str]) -> bytes:
        """Return the manifest of the package of *quiz*, checked against our schema."""
        head = opening(self._version, self._bank.info, quiz)
        content = "".join((head, *resources, CLOSING)).encode()
        self._manifest_profile.check(content, MANIFEST, quiz.identifier)
        return content

    def verify(
        self, path: Path, name: str, entries: list[Entry], job: Job, known: dict[str, bytes]
    ) -> dict[str, bytes]:
        """Return digests of the deflated bytes of the items that quizzes use, all items having been read back.

        *path* is the file as it lies on the disk, *name* what it will be called, *entries* those of *job*'s items.
        An entry whose bytes have the digest that *known* gives for it was read back before in this run.

        Raises:
            ExportFault: an item read back differs from the bank.
        """
        digests: dict[str, bytes] = {}
        with ZipReader(path) as reader:
            if known:
                entries, job = self._unknown(reader, entries, job, known)
            packed = reader.packed_together(entries)
            contents = [reader.content(entry, data) for entry, data in zip(entries, packed)]
        items = list(self._items(job, answers_only=True))
        for entry, item, data, content in zip(entries, items, packed, contents, strict=True):
            self._compare(item, entry, content, job.feedback, name)
            if item.identifier in self._wanted:
                digests[item.identifier] = digest(data)
        return digests

    def _compare(self, item: Item, entry: Entry, content: bytes, feedback: bool, name: str) -> None:
        if entry.name != f"{ITEM_FOLDER}{item.identifier}.xml":
            raise ExportFault(name, item.identifier, f"the file is called {entry.name}")
        try:
            wrong = difference(item, self._reader.read(content, entry.name), self._bank.info, feedback)
        except ExportFault as fault:
            raise ExportFault(name, item.identifier, fault.wrong) from fault
        if wrong:
            raise ExportFault(name, item.identifier, f"read back, it differs from the bank: {wrong}")

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


_worker: Worker | None = None
"""The worker of this process, where it is one of several."""


def _begin(version: Version, source: Path, wanted: frozenset[str]) -> None:
    from bank.store import Bank

    global _worker
    gc.set_threshold(100_000)  # jobs make no cycles, and looking for them costs some 4 % of the time
    _worker = Worker(version, Bank.open(source), wanted)


def _do(task: str, arguments: tuple[Any, ...]) -> Any:
    return getattr(_worker, task)(*arguments)


class Crew:
    """One worker in this process, and more in others where there is more than one job at a time."""

    def __init__(self, version: Version, source: Path, bank: Readable, wanted: frozenset[str], jobs: int) -> None:
        self.here = Worker(version, bank, wanted)
        self._ahead = 2 * jobs + 2
        self._pool = None
        if jobs > 1:
            self._pool = ProcessPoolExecutor(jobs, initializer=_begin, initargs=(version, source, wanted))

    def __enter__(self) -> Crew:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self._pool is not None:
            self._pool.shutdown(cancel_futures=True)

    def run(self, task: str, arguments: Iterable[tuple[Any, ...]]) -> Iterator[Any]:
        """Give the results of the worker's method *task*, in order, a bounded number of them ahead."""
        if self._pool is None:
            for one in arguments:
                yield getattr(self.here, task)(*one)
            return
        under_way: deque[Future[Any]] = deque()
        for one in arguments:
            under_way.append(self._pool.submit(_do, task, one))
            if len(under_way) > self._ahead:
                yield under_way.popleft().result()
        while under_way:
            yield under_way.popleft().result()
