"""Packages: items rendered, checked and deflated in jobs, written in order, read back from the disk, put in place.

A job is a range of the bank or a list of identifiers, never larger than `JOB`, whatever the number of processes;
so the packages are the same bytes with any number. A worker opens the bank itself and hands back finished bytes,
which go into the bank's package and into the quizzes' packages as they are.
"""

from __future__ import annotations

import gc
from collections import Counter, deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from contextlib import ExitStack
from hashlib import blake2b
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Protocol

from bank import mistakes
from bank.files import SUFFIX, replacing
from bank.model import BankInfo, Item, Quiz
from exporters._assessment import check_quiz, test_file, write_test
from exporters._faults import ExportFault
from exporters._item import Renderer
from exporters._manifest import CLOSING, ItemEntries, opening
from exporters._profile import Profile, safe_parser
from exporters._qti import ITEM_FOLDER, MANIFEST, Version
from exporters._readback import ItemReader, check_contents, difference, parsed
from exporters._unzip import Entry, ZipReader
from exporters._zip import Deflated, Pieces, ZipWriter, deflate, deflate_piece

JOB = 250
"""Items of one job."""
BANK = "bank"
"""Name of the package of the whole bank."""
Progress = Callable[[int, int], None]


class Readable(Protocol):
    """What this exporter reads of a bank."""

    @property
    def info(self) -> BankInfo:
        """What the bank says of itself."""

    @property
    def count(self) -> int:
        """Number of items."""

    def items(
        self, identifiers: Sequence[str] | None = None, *, start: int = 0, stop: int | None = None
    ) -> Iterator[Item]:
        """Give items."""


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


class Made(NamedTuple):
    """A finished item: its entry, and what the manifest says of it."""

    entry: Deflated
    resource: str


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

    def _items(self, job: Job) -> Iterator[Item]:
        if job.identifiers is not None:
            return self._bank.items(job.identifiers)
        return self._bank.items(start=job.start, stop=job.stop)

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

    def verify(self, path: Path, name: str, entries: list[Entry], job: Job, known: dict[str, bytes]) -> dict[str, bytes]:
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
        items = list(self._items(job))
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


def write_packages(
    version: Version, source: Path, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool,
    jobs: int, progress: Progress,
) -> list[Path]:
    """Write a package for each of *quizzes*, and ``bank.zip`` where *whole_bank*, and return their paths.

    All files are read back from the disk before the first of them takes its place.

    Raises:
        ExportFault: a file would have been wrong; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    for quiz in quizzes:
        check_quiz(quiz)
    target = folder / version.name
    _sweep(target)
    wanted = frozenset(item for quiz in quizzes for item in quiz.items)
    with Crew(version, source, bank, wanted, jobs) as crew, ExitStack() as stack:
        return _Export(version, bank, quizzes, target, whole_bank, progress, crew, stack).run()


def _sweep(target: Path) -> None:
    """Remove what a killed run left half written."""
    if target.is_dir():
        for stale in target.glob(f".*.zip{SUFFIX}"):
            stale.unlink(missing_ok=True)


class _Export:
    """One run of `write_packages`."""

    def __init__(
        self, version: Version, bank: Readable, quizzes: Sequence[Quiz], target: Path, whole_bank: bool,
        progress: Progress, crew: Crew, stack: ExitStack,
    ) -> None:
        self._version, self._bank, self._quizzes, self._target = version, bank, quizzes, target
        self._whole_bank, self._progress, self._crew, self._stack = whole_bank, progress, crew, stack
        uses = Counter((item, quiz.show_feedback) for quiz in quizzes for item in quiz.items)
        apart = [use for use in uses if not (whole_bank and use[1])]
        self._uses = uses
        self._apart = [
            Job(identifiers=tuple(names[first : first + JOB]), feedback=feedback)
            for feedback in (True, False)
            for names in [[name for name, shown in apart if shown is feedback]]
            for first in range(0, len(names), JOB)
        ]
        self._ranges = [
            Job(first, min(first + JOB, bank.count)) for first in range(0, bank.count, JOB) if whole_bank
        ]
        self._kept: dict[tuple[str, bool], Made] = {}
        self._done = 0
        self._total = 2 * (sum(job.size for job in self._ranges) + sum(job.size for job in self._apart))

    def run(self) -> list[Path]:
        names = [quiz.identifier for quiz in self._quizzes] + [BANK] * self._whole_bank
        if len(set(names)) != len(names):
            raise ExportFault(BANK, "", "two packages would have one name")
        paths = [self._target / f"{name}.zip" for name in names]
        parts = {name: self._stack.enter_context(replacing(path)) for name, path in zip(names, paths)}
        if self._whole_bank:
            self._write_bank(parts[BANK])
        self._make_apart()
        for quiz in self._quizzes:
            self._write_quiz(quiz, parts[quiz.identifier])
        known: dict[str, bytes] = {}
        if self._whole_bank:
            known = self._verify_bank(parts[BANK])
        self._verify_quizzes(parts, known)
        return paths

    def _advance(self, items: int) -> None:
        self._done += items
        self._progress(min(self._done, self._total), self._total)

    def _keep(self, batch: Batch, feedback: bool) -> None:
        for entry in batch.entries:
            identifier = entry.name[len(ITEM_FOLDER) : -len(".xml")]
            if (identifier, feedback) in self._uses:
                self._kept[identifier, feedback] = Made(entry, batch.resources[identifier])

    def _write_bank(self, part: Path) -> None:
        head = opening(self._version, self._bank.info, None).encode()
        manifest = Pieces()
        manifest.add(head, deflate_piece(head))
        with part.open("wb") as file:
            writer = ZipWriter(file)
            for job, batch in zip(self._ranges, self._crew.run("make", [(job,) for job in self._ranges]), strict=True):
                for entry in batch.entries:
                    writer.add(entry)
                manifest.add(batch.listed, batch.packed)
                self._keep(batch, True)
                self._advance(job.size)
            manifest.add(CLOSING.encode(), deflate_piece(CLOSING.encode()))
            writer.add_pieces(MANIFEST, manifest)
            writer.close()

    def _make_apart(self) -> None:
        for job, batch in zip(self._apart, self._crew.run("make", [(job,) for job in self._apart]), strict=True):
            self._keep(batch, job.feedback)
            self._advance(job.size)

    def _write_quiz(self, quiz: Quiz, part: Path) -> None:
        made = [self._kept[item, quiz.show_feedback] for item in quiz.items]
        here = self._crew.here
        with part.open("wb") as file:
            writer = ZipWriter(file)
            for one in made:
                writer.add(one.entry)
            writer.add(deflate(test_file(quiz), here.test(quiz)))
            writer.add(deflate(MANIFEST, here.manifest(quiz, [one.resource for one in made])))
            writer.close()
        for item in quiz.items:
            use = (item, quiz.show_feedback)
            self._uses[use] -= 1
            if not self._uses[use]:
                del self._kept[use]

    def _verify_bank(self, part: Path) -> dict[str, bytes]:
        known: dict[str, bytes] = {}
        name = f"{BANK}.zip"
        with ZipReader(part) as reader:
            if reader.count != self._bank.count + 1:
                raise ExportFault(name, "", f"it has {reader.count} entries for {self._bank.count} items")
            entries = check_contents(self._version, reader)
            tasks = ((part, name, [next(entries) for _ in range(job.size)], job, {}) for job in self._ranges)
            for job, digests in zip(self._ranges, self._crew.run("verify", tasks), strict=True):
                known.update(digests)
                self._advance(job.size)
            if next(entries, None) is not None:
                raise ExportFault(name, "", "it has more items than the bank")
        return known

    def _verify_quizzes(self, parts: dict[str, Path], known: dict[str, bytes]) -> None:
        tasks = (self._quiz_task(quiz, parts[quiz.identifier], known) for quiz in self._quizzes)
        for quiz, _ in zip(self._quizzes, self._crew.run("verify", tasks), strict=True):
            if not self._whole_bank or not quiz.show_feedback:
                self._advance(len(quiz.items))

    def _quiz_task(self, quiz: Quiz, part: Path, known: dict[str, bytes]) -> tuple[Any, ...]:
        name = f"{quiz.identifier}.zip"
        with ZipReader(part) as reader:
            entries = list(check_contents(self._version, reader))
            test = next(entry for entry in reader.entries() if entry.name == test_file(quiz))
            self._check_test(quiz, reader.content(test), name)
        job = Job(identifiers=quiz.items, feedback=quiz.show_feedback)
        shared = {item: known[item] for item in quiz.items if item in known} if quiz.show_feedback else {}
        return part, name, entries, job, shared

    def _check_test(self, quiz: Quiz, content: bytes, name: str) -> None:
        root = parsed(content, name, safe_parser())
        tag = self._version.tag
        refs = [ref.get("identifier") for ref in root.iter(tag("assessmentItemRef"))]
        files = [ref.get("href") for ref in root.iter(tag("assessmentItemRef"))]
        if refs != list(quiz.items) or files != [f"{ITEM_FOLDER}{item}.xml" for item in quiz.items]:
            raise ExportFault(name, "", "the test does not list the quiz's items in their order")
        limit = root.find(tag("timeLimits"))
        if (limit.get(self._version.attribute("maxTime")) if limit is not None else "0") != str(60 * quiz.minutes):
            raise ExportFault(name, "", "the test has another time limit than the quiz")
