"""Where results come from: files, folders and zip files, opened without trust in what they say of themselves.

A zip file is refused where it holds too much, claims more than its bytes can hold, lets entries overlap, or is locked.
Text is UTF-8 or UTF-16; other encodings are refused rather than guessed, because a wrong guess changes answers.
"""

from __future__ import annotations

import codecs
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from bank.audit.harmless import is_plain_file_name
from bank.errors import BadInput, Place, Problem
from bank.ordinary import is_ordinary, odd_about, refuse_odd_file, shown_path

MOST_ENTRIES = 500_000
"""Files that a zip file or a folder may hold."""
LARGEST_XML = 64 << 20
"""Bytes of one XML file."""
LARGEST_INFLATED = 16 << 30
"""Bytes that a zip file may hold when inflated."""
LARGEST_RATIO = 250
"""How many times its packed bytes a file in a zip file may hold, beyond the first mebibyte; tables of answers pack to
some twentieth, deflate's limit is 1032."""
_FREE = 1 << 20
LONGEST_LINE = 4 << 20
"""Characters of one line of a table."""
SUFFIXES = (".csv", ".tsv", ".txt", ".xml")
ZIP_DAMAGE = (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError)
"""What reading from a damaged, locked or unknown zip file raises."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Source:
    """One file with results."""

    name: str
    """What it is called in messages."""
    path: Path
    """The file on the disk, or the zip file that holds it."""
    entry: str = ""
    """Name within the zip file; empty for a file on the disk."""
    size: int = 0
    packed: zipfile.ZipFile | None = None
    """The open zip file that holds it."""

    @property
    def suffix(self) -> str:
        """The name's ending, in small letters."""
        return Path(self.entry or self.path.name).suffix.lower()

    def content(self, most: int) -> bytes:
        """Return the whole content.

        Raises:
            BadInput: it is longer than *most* bytes, cannot be read, or is damaged.
        """
        if self.size > most:
            raise BadInput(problem("results-too-large", self.name, f"is longer than {most >> 20} MiB", "split it"))
        try:
            with self.open() as file:
                return file.read(most + 1)
        except OSError as error:
            raise BadInput(_unreadable(self.name, error)) from error
        except ZIP_DAMAGE as error:
            raise BadInput(_damaged(self.name)) from error

    def open(self) -> BinaryIO:
        """Return the content as a file of bytes."""
        if self.packed is None:
            return self.path.open("rb")
        return self.packed.open(self.entry)  # type: ignore[return-value]


def problem(code: str, name: str, wrong: str, remedy: str, row: int = 0, field: str = "") -> Problem:
    """Return a problem at the file *name*, and at *row* of it."""
    return Problem(code, Place(name, row, 1 if row else 0), field, wrong, remedy)


def sources(paths: Sequence[Path], stack: ExitStack) -> list[Source]:
    """Return all files with results that *paths* (files, folders, zip files) name, in order of their names.

    Zip files stay open until *stack* closes them.

    Raises:
        BadInput: a path is not there, holds nothing that can be read, or is a zip file that cannot be trusted.
    """
    found: list[Source] = []
    for path in dict.fromkeys(paths):
        if odd_about(path) == "is a folder":
            try:
                inside = sorted(one for one in path.rglob("*") if is_ordinary(one) and not one.name.startswith("."))
            except OSError as error:
                raise BadInput(_unreadable(shown_path(path), error)) from error
            files = [one for one in inside if one.suffix.lower() in (*SUFFIXES, ".zip")]
            if len(files) > MOST_ENTRIES:
                raise BadInput(problem("results-too-many", str(path), f"holds more than {MOST_ENTRIES} files",
                                       "split the folder"))
            if not files:
                raise BadInput(problem("results-none", str(path), "the folder holds no results",
                                       "put .csv or .xml files into it"))
            for number, one in enumerate(files, 1):
                found += _in_file(one, stack, _inner_name(path, one.relative_to(path).as_posix(), number))
        else:
            refuse_odd_file(path, "results-missing", "name a file with results, or a folder or zip file of them")
            found += _in_file(path, stack, shown_path(path))
    return found


def _inner_name(outer: Path, inner: str, number: int) -> str:
    """Return what a file within a folder or zip file is called: by its *number* where its name may be a pupil's."""
    return f"{outer}/{inner}" if is_plain_file_name(inner) else f"{outer}/(file {number} in order of names)"


def _in_file(path: Path, stack: ExitStack, name: str) -> list[Source]:
    try:
        size = path.stat().st_size
        with path.open("rb") as file:
            head = file.read(4)
    except OSError as error:
        raise BadInput(_unreadable(name, error)) from error
    if head[:4] == b"PK\x03\x04" or head[:4] == b"PK\x05\x06" or path.suffix.lower() == ".zip":
        return _in_zip(path, size, stack, name)
    return [Source(name=name, path=path, size=size)]


def _in_zip(path: Path, size: int, stack: ExitStack, name: str) -> list[Source]:
    try:
        packed = stack.enter_context(zipfile.ZipFile(path))
        entries = packed.infolist()
    except OSError as error:
        raise BadInput(_unreadable(name, error)) from error
    except (zipfile.BadZipFile, NotImplementedError, ValueError, RuntimeError, EOFError) as error:
        raise BadInput(_damaged(name)) from error
    _check_entries(name, size, entries)
    wanted = sorted(
        (one for one in entries if not one.is_dir() and Path(one.filename).suffix.lower() in SUFFIXES
         and not Path(one.filename).name.startswith(".")),
        key=lambda one: one.filename,
    )
    if not wanted:
        raise BadInput(problem("results-none", name, "the zip file holds no results", "put .csv or .xml files into it"))
    return [
        Source(name=_inner_name(Path(name), one.filename, number), path=path, entry=one.filename, size=one.file_size,
               packed=packed)
        for number, one in enumerate(wanted, 1)
    ]


def _check_entries(name: str, size: int, entries: list[zipfile.ZipInfo]) -> None:
    """Refuse a zip file that says what cannot be, or that would inflate beyond measure."""
    if len(entries) > MOST_ENTRIES:
        raise BadInput(problem("results-too-many", name, f"holds more than {MOST_ENTRIES} files", "split it"))
    if sum(one.compress_size for one in entries) > size or sum(one.file_size for one in entries) > LARGEST_INFLATED:
        raise BadInput(_bomb(name))
    end = 0
    for one in sorted(entries, key=lambda one: one.header_offset):
        if one.header_offset < end or one.file_size > _FREE + LARGEST_RATIO * one.compress_size:
            raise BadInput(_bomb(name))
        end = one.header_offset + 30 + one.compress_size
        if one.flag_bits & 1:
            raise BadInput(problem("results-locked", name, "a file in it is locked with a password",
                                   "hand in a zip file without a password"))
    names = [one.filename for one in entries]
    if len(set(names)) != len(names):
        raise BadInput(problem("zip-damaged", name, "two files in it have one name", "pack it anew"))


def _bomb(name: str) -> Problem:
    return problem("zip-bomb", name, "the zip file holds far more than its size allows, or entries overlap",
                   "unpack it with a tool that you trust and name the folder")


def _damaged(name: str) -> Problem:
    return problem("zip-damaged", name, "the zip file is damaged", "fetch or pack it anew")


def _unreadable(name: str, error: OSError) -> Problem:
    return problem("results-unreadable", name, f"cannot be read ({error.strerror or error})", "check its permissions")


_MARKS = ((codecs.BOM_UTF8, "utf-8"), (codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be"))
SAVE_AS_UTF8 = "save it as UTF-8 (in a spreadsheet: CSV UTF-8)"


def encoding_of(head: bytes, name: str) -> tuple[str, int]:
    """Return the encoding that the first bytes *head* of the file *name* tell, and how long its mark is.

    Raises:
        BadInput: it is none that is read (``not-utf``).
    """
    if head.startswith((codecs.BOM_UTF32_LE, codecs.BOM_UTF32_BE)):
        raise BadInput(problem("not-utf", name, "is UTF-32", SAVE_AS_UTF8))
    for mark, encoding in _MARKS:
        if head.startswith(mark):
            return encoding, len(mark)
    even, odd = head[:400:2].count(0), head[1:400:2].count(0)
    if even or odd:
        if not even and odd > len(head[:400]) // 4:
            return "utf-16-le", 0
        if not odd and even > len(head[:400]) // 4:
            return "utf-16-be", 0
        raise BadInput(problem("not-utf", name, "is no text: it holds zero bytes", "hand in a CSV or XML file"))
    return "utf-8", 0


def decoded(content: bytes, name: str) -> str:
    """Return *content* as text without its mark.

    Raises:
        BadInput: it is neither UTF-8 nor UTF-16 (``not-utf``), with the row of the first byte that is not.
    """
    encoding, length = encoding_of(content[:4096], name)
    try:
        return content[length:].decode(encoding)
    except UnicodeDecodeError as error:
        row = content[: length + error.start].count(b"\n") + 1
        raise BadInput(problem("not-utf", name, f"is not {encoding.upper()}", SAVE_AS_UTF8, row)) from error


def text_lines(source: Source) -> Iterator[str]:
    """Yield the lines of *source* with their ends, decoded piece by piece.

    Raises:
        BadInput: it is neither UTF-8 nor UTF-16, or cannot be read.
    """
    row = 1
    try:
        with source.open() as file:
            head = file.read(1 << 16)
            encoding, length = encoding_of(head, source.name)
            decoder = codecs.getincrementaldecoder(encoding)()
            rest, piece = "", head[length:]
            old_ends = b"\r" in head and b"\n" not in head
            while piece:
                text = decoder.decode(piece)
                lines = (rest + (text.replace("\r", "\n") if old_ends else text)).split("\n")
                rest = lines.pop()
                if len(rest) > LONGEST_LINE:
                    raise BadInput(problem("line-too-long", source.name, "the line does not end", "write a row a line",
                                           row + len(lines)))
                for line in lines:
                    yield line + "\n"
                    row += 1
                piece = file.read(1 << 16)
            rest += decoder.decode(b"", final=True)
            if rest:
                yield rest
    except UnicodeDecodeError as error:
        row += error.object[: error.start].count(b"\n")
        raise BadInput(problem("not-utf", source.name, f"is not {encoding.upper()}", SAVE_AS_UTF8, row)) from error
    except OSError as error:
        raise BadInput(_unreadable(source.name, error)) from error
    except ZIP_DAMAGE as error:
        raise BadInput(_damaged(source.name)) from error
