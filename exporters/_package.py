"""Packages: items made by workers, written in order, read back from the disk, put in place all together.

Every item is checked against our schema as it was read back, and so before its package takes its place; tests and
manifests are checked before they are written.

A job is never larger than `JOB`, whatever the number of processes, so the packages are the same bytes with any
number. An item's bytes go into the bank's package and into the quizzes' packages as they are.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Callable, Sequence
from contextlib import ExitStack
from hashlib import blake2b
from pathlib import Path
from typing import Any, NamedTuple

from bank.files import replacing
from bank.model import Quiz
from bank.store import Source
from exporters._assessment import check_quiz, check_shown, test_file
from exporters._faults import ExportFault
from exporters._manifest import CLOSING, opening
from exporters._profile import parsed, safe_parser
from exporters._qti import ITEM_FOLDER, MANIFEST, Version
from exporters._readback import check_contents
from exporters._unzip import ZipReader, placed
from exporters._worker import Batch, Crew, Job, Readable
from exporters._zip import Deflated, Pieces, ZipWriter, cut, deflate, deflate_piece

JOB = 250
"""Items of one job."""
BANK = "bank"
"""Name of the package of the whole bank."""
Progress = Callable[[int, int], None]


class Made(NamedTuple):
    """A finished item: its entry, and what the manifest says of it."""

    entry: Deflated
    resource: str


def write_packages(
    version: Version, source: Source, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool,
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
    wanted = frozenset(item for quiz in quizzes for item in quiz.items)
    with Crew(version, source, bank, wanted, jobs) as crew, ExitStack() as stack:
        return _Export(version, bank, quizzes, target, whole_bank, progress, crew, stack).run()


class _Export:
    """One run of `write_packages`."""

    def __init__(
        self, version: Version, bank: Readable, quizzes: Sequence[Quiz], target: Path, whole_bank: bool,
        progress: Progress, crew: Crew, stack: ExitStack,
    ) -> None:
        self._version, self._bank, self._quizzes, self._target = version, bank, quizzes, target
        self._whole_bank, self._progress, self._crew, self._stack = whole_bank, progress, crew, stack
        self._uses = uses = Counter(item for quiz in quizzes for item in quiz.items)
        listed = frozenset(bank.identifiers()) if whole_bank else frozenset()
        apart = [item for item in uses if item not in listed]
        self._alone = frozenset(apart)
        """Items of quizzes that are not in the package of the whole bank."""
        self._apart = [Job(identifiers=tuple(apart[first : first + JOB])) for first in range(0, len(apart), JOB)]
        self._ranges = [
            Job(first, min(first + JOB, bank.count)) for first in range(0, bank.count, JOB) if whole_bank
        ]
        self._kept: dict[str, Made] = {}
        self._silent: set[str] = set()
        """Items in quizzes that show no feedback."""
        self._marks: dict[str, int] = {}
        """Of items in quizzes that are worth more than one mark."""
        self._done = 0
        self._total = 2 * (sum(job.size for job in self._ranges) + sum(job.size for job in self._apart))

    def run(self) -> list[Path]:
        names = [quiz.identifier for quiz in self._quizzes] + [BANK] * self._whole_bank
        if len(set(names)) != len(names):
            raise ExportFault(BANK, "", "two packages would have one name")
        paths = [self._target / f"{name}.zip" for name in names]
        parts = {name: self._stack.enter_context(replacing(path)) for name, path in zip(names, paths)}
        known = self._write_bank(parts[BANK]) if self._whole_bank else {}
        self._make_apart()
        for quiz in self._quizzes:
            self._write_quiz(quiz, parts[quiz.identifier])
        self._verify_quizzes(parts, known)
        return paths

    def _advance(self, items: int) -> None:
        self._done += items
        self._progress(min(self._done, self._total), self._total)

    def _keep(self, batch: Batch) -> None:
        self._marks.update(batch.marks)
        self._silent |= batch.silent
        if not batch.resources:
            return
        files = {f"{ITEM_FOLDER}{item}.xml": item for item in batch.resources if item in self._uses}
        for entry in cut(batch.entries, files):
            item = files[entry.name]
            self._kept[item] = Made(entry, batch.resources[item])

    def _write_bank(self, part: Path) -> dict[str, bytes]:
        """Write the package of the whole bank, each job read back as soon as it lies in the file.

        Return digests of the deflated bytes of the items that quizzes use.
        """
        crew, name, known = self._crew, f"{BANK}.zip", {}
        making: deque[tuple[int, Job, Any]] = deque()
        reading: deque[tuple[Job, Any]] = deque()
        head, end = opening(self._version, self._bank.info, None).encode(), CLOSING.encode()
        with part.open("wb") as file, Pieces() as manifest:
            writer = ZipWriter(file)

            def write_oldest() -> None:
                number, job, made = making.popleft()
                batch: Batch = made.result()
                if len(batch.entries.heads) != job.size:
                    raise ExportFault(name, "", f"it has {len(batch.entries.heads)} entries for {job.size} items")
                begin = writer.add_segment(batch.entries)
                file.flush()
                reading.append((job, crew.begin(number, "verify_made", part, name, job, begin)))
                manifest.add(batch.listed, batch.packed)
                self._keep(batch)
                self._advance(job.size)
                if len(reading) > crew.ahead:
                    read_oldest()

            def read_oldest() -> None:
                job, read = reading.popleft()
                known.update(read.result())
                self._advance(job.size)

            manifest.add(head, deflate_piece(head))
            for number, job in enumerate(self._ranges):
                making.append((number, job, crew.begin(number, "make", job)))
                if len(making) > crew.ahead:
                    write_oldest()
            while making:
                write_oldest()
            while reading:
                read_oldest()
            manifest.add(end, deflate_piece(end))
            begin = writer.add_pieces(MANIFEST, manifest)
            writer.close()
        self._check_bank(part, writer, manifest, begin)
        return known

    def _check_bank(self, part: Path, writer: ZipWriter, manifest: Pieces, begin: int) -> None:
        """Check that the end of the bank's package lies on the disk as it was written, piece by checked piece."""
        with ZipReader(part, f"{BANK}.zip") as reader:
            if reader.count != self._bank.count + 1 or reader.directory() != writer.directory:
                raise ExportFault(f"{BANK}.zip", "", "its directory was written otherwise")
            entry = placed([manifest.head(MANIFEST)], begin)[0]
            read = blake2b()
            for piece in reader.pieces(entry):
                read.update(piece)
            if read.digest() != manifest.digest():
                raise ExportFault(f"{BANK}.zip", MANIFEST, "it was written otherwise")

    def _make_apart(self) -> None:
        for job, batch in zip(self._apart, self._crew.run("make", [(job,) for job in self._apart]), strict=True):
            self._keep(batch)
            self._advance(job.size)

    def _write_quiz(self, quiz: Quiz, part: Path) -> None:
        check_shown(quiz, quiz.items, self._silent)
        made = [self._kept[item] for item in quiz.items]
        here = self._crew.here
        with part.open("wb") as file:
            writer = ZipWriter(file)
            for one in made:
                writer.add(one.entry)
            writer.add(deflate(test_file(quiz), here.test(quiz, sum([self._marks.get(item, 1) for item in quiz.items]))))
            writer.add(deflate(MANIFEST, here.manifest(quiz, [one.resource for one in made])))
            writer.close()
        for item in quiz.items:
            self._uses[item] -= 1
            if not self._uses[item]:
                del self._kept[item]

    def _verify_quizzes(self, parts: dict[str, Path], known: dict[str, bytes]) -> None:
        tasks = (self._quiz_task(quiz, parts[quiz.identifier], known) for quiz in self._quizzes)
        for quiz, _ in zip(self._quizzes, self._crew.run("verify", tasks), strict=True):
            self._advance(sum([item in self._alone for item in quiz.items]))

    def _quiz_task(self, quiz: Quiz, part: Path, known: dict[str, bytes]) -> tuple[Any, ...]:
        name = f"{quiz.identifier}.zip"
        with ZipReader(part, name) as reader:
            entries = list(check_contents(self._version, reader))
            test = next(entry for entry in reader.entries() if entry.name == test_file(quiz))
            self._check_test(quiz, reader.content(test), name)
        job = Job(identifiers=quiz.items)
        shared = {item: known[item] for item in quiz.items if item in known}
        return part, name, entries, job, shared

    def _check_lots(self, quiz: Quiz, root: Any, name: str) -> None:
        """Check how many items of each section are asked, whether their order is drawn, and how often they may be."""
        tag, said = self._version.tag, self._version.attribute
        drawn = [
            ([one.get("select") for one in section.iterchildren(tag("selection"))],
             [one.get("shuffle") for one in section.iterchildren(tag("ordering"))])
            for section in root.iter(tag("assessmentSection"))
        ]  # fmt: skip
        wanted = [
            ([str(section.select)] if section.select else [], ["true"] if quiz.shuffled else [])
            for section in quiz.sections
        ]
        attempts = [one.get(said("maxAttempts")) for one in root.iter(tag("itemSessionControl"))]
        if drawn != wanted or attempts != [str(quiz.most_attempts)]:
            raise ExportFault(name, "", "the test draws its items otherwise than the quiz, or allows other attempts")

    def _check_test(self, quiz: Quiz, content: bytes, name: str) -> None:
        root = parsed(content, name, "", safe_parser())
        tag = self._version.tag
        refs = [ref.get("identifier") for ref in root.iter(tag("assessmentItemRef"))]
        files = [ref.get("href") for ref in root.iter(tag("assessmentItemRef"))]
        if refs != list(quiz.items) or files != [f"{ITEM_FOLDER}{item}.xml" for item in quiz.items]:
            raise ExportFault(name, "", "the test does not list the quiz's items in their order")
        self._check_lots(quiz, root, name)
        limit = root.find(tag("timeLimits"))
        if (limit.get(self._version.attribute("maxTime")) if limit is not None else "0") != str(60 * quiz.minutes):
            raise ExportFault(name, "", "the test has another time limit than the quiz")
