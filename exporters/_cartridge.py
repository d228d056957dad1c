"""Cartridges: items made by workers in pieces of one file, read back from the disk, put in place all together.

All items of a cartridge stand in one file, which may be long: it is packed in pieces of `JOB` items that can be
unpacked apart, so that no process holds more than a piece, and each piece is read back, checked against our schema and
compared with the bank as it lies on the disk. Pieces do not hang on the number of processes, nor do the bytes.
"""

from __future__ import annotations

import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any, NamedTuple

from bank import mistakes
from bank.files import replacing
from bank.model import Item, Quiz
from bank.store import Source
from exporters import _cc_files
from exporters._assessment import check_quiz, check_shown
from exporters._cc_asked import refusal
from exporters._cc_back import Comparer, check_resources
from exporters._cc_item import ItemWriter
from exporters._faults import ExportFault
from exporters._profile import Profile
from exporters._qti import MANIFEST
from exporters._unzip import MAX_ENTRY, ZipReader
from exporters._worker import Crew, Job, Readable
from exporters._zip import LOCAL, Pieces, ZipWriter, deflate, deflate_piece

JOB = 100
"""Items of one piece."""
BANK = "bank"
"""Name of the cartridge with the whole bank."""
Progress = Callable[[int, int], None]


class Made(NamedTuple):
    """A finished piece."""

    content: bytes
    packed: bytes
    items: int
    topics: frozenset[str]
    codes: frozenset[str]
    carried: tuple[str, ...]
    silent: frozenset[str]
    """Items that show no feedback."""


class Placed(NamedTuple):
    """Where a piece lies in the file of a cartridge."""

    job: Job
    offset: int
    packed: int
    size: int


class Worker:
    """Does jobs with a bank of its own."""

    def __init__(self, version: _cc_files.Cartridge, bank: Readable, wanted: frozenset[str]) -> None:
        mistakes.load()
        self._bank = bank
        self._writer = ItemWriter(bank.info)
        self._profile, self._manifest_profile = Profile(version, "items"), Profile(version, "manifest")
        self._comparer = Comparer(bank.info.locale)

    def _carried(self, job: Job) -> Iterator[Item]:
        if job.identifiers is not None:
            items = self._bank.items(job.identifiers)
        else:
            items = self._bank.items(start=job.start, stop=job.stop)
        return (item for item in items if not refusal(item))

    def make(self, job: Job) -> Made:
        """Return the items of *job* as a piece, those left out that the profile cannot mark right."""
        items = list(self._carried(job))
        content = "".join([self._writer.item(item, item.shows_feedback) for item in items]).encode()
        families = {item.family.template: item.family for item in items}.values()
        topics = frozenset([family.topic for family in families])
        codes = frozenset([code for family in families for code in family.codes])
        silent = frozenset([item.identifier for item in items if not item.shows_feedback])
        return Made(content, deflate_piece(content) if items else b"", len(items), topics, codes, tuple([item.identifier for item in items]), silent)

    def manifest(self, quiz: Quiz | None, topics: set[str], codes: set[str]) -> bytes:
        """Return the manifest, checked against our schema."""
        content = _cc_files.manifest(self._bank.info, quiz, sorted(topics), sorted(codes)).encode()
        self._manifest_profile.check(content, MANIFEST, quiz.identifier if quiz else BANK)
        return content

    def verify(self, path: Path, name: str, quiz: Quiz | None, placed: Placed) -> None:
        """Read a piece back from the file at *path*, check it against our schema and compare it with the bank.

        Raises:
            ExportFault: it does not follow the schema, or differs from the bank.
        """
        with path.open("rb") as file:
            file.seek(placed.offset)
            packed = file.read(placed.packed)
        try:
            content = zlib.decompressobj(-15).decompress(packed, placed.size + 1)
        except zlib.error as error:
            raise ExportFault(name, "", f"it cannot be inflated ({error})") from error
        if len(content) != placed.size:
            raise ExportFault(name, "", "a piece is not as long as it was")
        info = self._bank.info
        whole = b"".join((_cc_files.head(info, quiz).encode(), content, _cc_files.end(quiz).encode()))
        root = self._profile.check(whole, name)
        self._comparer.check_frame(root, quiz, name)
        self._comparer.check_items(root, self._carried(placed.job), name)


def write_cartridges(
    source: Source, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool, jobs: int,
    progress: Progress,
) -> list[Path]:
    """Write a cartridge for each of *quizzes*, and one of the whole bank, and return the paths of those written.

    A cartridge that would hold no item is not written, for the profile has no empty ones.

    Raises:
        ExportFault: a file would have been wrong; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    for quiz in quizzes:
        check_quiz(quiz)
    target = folder / _cc_files.NAME
    with Crew(_cc_files.Cartridge(), source, bank, frozenset(), jobs, Worker) as crew, ExitStack() as stack:
        return _Export(bank, quizzes, target, whole_bank, progress, crew, stack).run()


class _Export:
    """One run of `write_cartridges`."""

    def __init__(
        self, bank: Readable, quizzes: Sequence[Quiz], target: Path, whole_bank: bool, progress: Progress, crew: Crew,
        stack: ExitStack,
    ) -> None:
        self._info, self._target, self._progress, self._crew, self._stack = bank.info, target, progress, crew, stack
        self._packages: list[tuple[str, Quiz | None, list[Job]]] = [
            (quiz.identifier, quiz, [
                Job(identifiers=quiz.items[first : first + JOB])
                for first in range(0, len(quiz.items), JOB)
            ])
            for quiz in quizzes
        ]  # fmt: skip
        if whole_bank:
            ranges = [Job(first, min(first + JOB, bank.count)) for first in range(0, bank.count, JOB)]
            self._packages.append((BANK, None, ranges))
        self._total = 2 * sum([job.size for _, _, jobs in self._packages for job in jobs])
        self._done = 0

    def run(self) -> list[Path]:
        names = [name for name, _, _ in self._packages]
        if len(set(names)) != len(names):
            raise ExportFault(BANK, "", "two cartridges would have one name")
        made = self._crew.run("make", ((job,) for _, _, jobs in self._packages for job in jobs))
        paths, tasks = [], []
        for name, quiz, jobs in self._packages:
            path = self._target / f"{name}{_cc_files.SUFFIX}"
            written = self._write(path, quiz, jobs, made)
            if written is not None:
                paths.append(path)
                tasks += [(written[0], path.name, quiz, placed) for placed in written[1]]
            verified = sum([placed.job.size for placed in written[1]]) if written else 0
            self._advance(sum([job.size for job in jobs]) - verified)
        for task, _ in zip(tasks, self._crew.run("verify", tasks), strict=True):
            self._advance(task[3].job.size)
        return paths

    def _advance(self, items: int) -> None:
        self._done += items
        self._progress(self._done, self._total)

    def _write(
        self, path: Path, quiz: Quiz | None, jobs: Sequence[Job], made: Iterator[Any]
    ) -> tuple[Path, list[Placed]] | None:
        """Write one cartridge and return the path of the file and where its pieces lie, or None for an empty one."""
        topics: set[str] = set()
        codes: set[str] = set()
        placed: list[Placed] = []
        name = _cc_files.items_file(quiz)
        head, end = _cc_files.head(self._info, quiz).encode(), _cc_files.end(quiz).encode()
        with Pieces() as pieces:
            pieces.add(head, deflate_piece(head))
            for job in jobs:
                piece: Made = next(made)
                if quiz is not None:
                    check_shown(quiz, piece.carried, piece.silent)
                if piece.items:
                    placed.append(Placed(job, pieces.packed, len(piece.packed), len(piece.content)))
                    pieces.add(piece.content, piece.packed)
                    topics |= piece.topics
                    codes |= piece.codes
                self._advance(job.size)
            if not placed:
                return None
            pieces.add(end, deflate_piece(end))
            part = self._stack.enter_context(replacing(path))
            manifest = deflate(MANIFEST, self._crew.here.manifest(quiz, topics, codes))
            with part.open("wb") as file:
                writer = ZipWriter(file)
                begin = writer.add_pieces(name, pieces) + LOCAL.size + len(name)
                writer.add(manifest)
                writer.close()
            self._check(part, path.name, name, writer, pieces)
        return part, [one._replace(offset=one.offset + begin) for one in placed]

    def _check(self, part: Path, file: str, name: str, writer: ZipWriter, pieces: Pieces) -> None:
        """Check that the cartridge lies on the disk as it was written."""
        with ZipReader(part, file) as reader:
            entries = list(reader.entries())
            if [entry.name for entry in entries] != [name, MANIFEST] or reader.directory() != writer.directory:
                raise ExportFault(file, "", "its directory was written otherwise")
            for _ in reader.pieces(entries[0]):
                pass
            if entries[0].crc != pieces.crc or entries[1].size > MAX_ENTRY:
                raise ExportFault(file, "", "it was written otherwise")
            check_resources(reader, entries[1], name)
