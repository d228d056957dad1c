"""Zip files that are the same bytes for the same content; `exporters._unzip` reads them back.

Every entry is deflated at one level and stamped 1980-01-01; order is the order of writing. Entries come in deflated,
one (`Deflated`) or many behind one another (`Segment`), so that whoever has the time may do that part, and one entry
may be deflated in pieces. With more than 65,535 entries, or 4 GiB, the 64-bit records are written. Field layout:
PKWARE's public APPNOTE, sections 4.3.7 (local header), 4.3.12 (central directory), 4.3.14 to 4.3.16 (end records),
read from memory and checked against the standard library's reader in the tests.
"""

from __future__ import annotations

import struct
import tempfile
import zlib
from collections.abc import Container, Iterable, Iterator
from hashlib import blake2b
from types import TracebackType
from typing import BinaryIO, NamedTuple

from deflate import crc32, deflate_compress

from exporters._faults import ExportFault

LEVEL = 1
"""Of libdeflate, which packs whole files. 1,500 items of 6.4 kB took 23 microseconds each and became 1,788 bytes; with
zlib's level 3 it was 50 and 1,822, with its level 6 it was 70 and 1,707. What is packed is inflated by zlib, another
program, when it is read back."""
_PIECE_LEVEL = 6
"""Of zlib, which packs the manifest, piece by piece."""
_STAMP = (0, 0x21)
"""Time and date 1980-01-01 00:00, the first that the format can write."""
LOCAL = struct.Struct("<4s5H3L2H")
CENTRAL = struct.Struct("<4s6H3L5H2L")
END = struct.Struct("<4s4H2LH")
END64 = struct.Struct("<4sQ2H2L4Q")
LOCATOR64 = struct.Struct("<4sLQL")
DEFLATED = 8
_MADE_ON_UNIX, _REGULAR_FILE = 3 << 8, 0o100644 << 16
MAX16, MAX32 = 0xFFFF, 0xFFFFFFFF
PIECE_END = b"\x03\x00"
"""An empty last block: ends a stream that was deflated in pieces."""


class Head(NamedTuple):
    """What the headers say of an entry."""

    name: str
    crc: int
    size: int
    """Bytes when inflated."""
    packed: int
    """Bytes when deflated."""


class Deflated(NamedTuple):
    """An entry ready to be written."""

    name: str
    crc: int
    size: int
    """Bytes when inflated."""
    data: bytes


class Segment(NamedTuple):
    """Entries ready to be written, headers and all, as one run of bytes."""

    heads: list[Head]
    data: bytes


def deflate(name: str, content: bytes) -> Deflated:
    """Return *content* as an entry."""
    return Deflated(name, crc32(content), len(content), bytes(deflate_compress(content, LEVEL)))


def segment(names: Iterable[str], contents: Iterable[bytes]) -> Segment:
    """Return the files called *names*, with *contents*, as entries behind one another."""
    heads: list[Head] = []
    parts: list[bytes | bytearray] = []
    for name, content in zip(names, contents, strict=True):
        data = deflate_compress(content, LEVEL)
        head = Head(name, crc32(content), len(content), len(data))
        encoded = name.encode("ascii")
        heads.append(head)
        parts += (local_header(encoded, head.crc, head.packed, head.size), encoded, data)
    return Segment(heads, b"".join(parts))


def cut(whole: Segment, names: Container[str]) -> Iterator[Deflated]:
    """Give the entries of *whole* that are called one of *names*, by themselves."""
    end = 0
    for name, crc, size, packed in whole.heads:
        end += LOCAL.size + len(name) + packed
        if name in names:
            yield Deflated(name, crc, size, whole.data[end - packed : end])


def deflate_piece(content: bytes) -> bytes:
    """Return *content* as one piece of an entry; pieces may be joined, `PIECE_END` ends them."""
    packer = zlib.compressobj(_PIECE_LEVEL, zlib.DEFLATED, -15)
    return packer.compress(content) + packer.flush(zlib.Z_FULL_FLUSH)


class Pieces:
    """The content of one long entry, in pieces deflated apart; keeps little in memory; a context manager."""

    def __init__(self) -> None:
        self.crc = self.size = self.packed = 0
        self._digest = blake2b()
        self._spool = tempfile.SpooledTemporaryFile(max_size=4 << 20)

    def __enter__(self) -> Pieces:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._spool.close()

    def add(self, content: bytes, packed: bytes) -> None:
        """Append *content*, which `deflate_piece` made into *packed*."""
        self.crc = zlib.crc32(content, self.crc)
        self._digest.update(content)
        self.size += len(content)
        self.packed += len(packed)
        self._spool.write(packed)

    def head(self, name: str) -> Head:
        """Return what the headers say of the entry, called *name*."""
        return Head(name, self.crc, self.size, self.packed + len(PIECE_END))

    def digest(self) -> bytes:
        """Return a digest of the content."""
        return self._digest.digest()

    def read(self) -> Iterator[bytes]:
        """Give the packed bytes in blocks."""
        self._spool.seek(0)
        while block := self._spool.read(1 << 16):
            yield block


class ZipWriter:
    """Writes a zip file to an open file, entry by entry."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._offset = 0
        self._count = 0
        self.directory = bytearray()
        """The central directory as far as it has been filled."""

    def add(self, entry: Deflated) -> None:
        """Write *entry*."""
        name = entry.name.encode("ascii")
        self._file.write(local_header(name, entry.crc, len(entry.data), entry.size))
        self._file.write(name)
        self._file.write(entry.data)
        self._listed(name, entry.crc, len(entry.data), entry.size)

    def add_segment(self, entries: Segment) -> int:
        """Write *entries* and return where in the file they begin."""
        begin = self._offset
        self._file.write(entries.data)
        for name, crc, size, packed in entries.heads:
            self._listed(name.encode("ascii"), crc, packed, size)
        return begin

    def add_pieces(self, name: str, pieces: Pieces) -> int:
        """Write an entry from *pieces* and return where in the file it begins.

        Raises:
            ExportFault: the entry is longer than 4 GiB.
        """
        encoded, packed, begin = name.encode("ascii"), pieces.packed + len(PIECE_END), self._offset
        if max(pieces.size, packed) >= MAX32:
            raise ExportFault(name, "", "the entry is longer than 4 GiB")
        self._file.write(local_header(encoded, pieces.crc, packed, pieces.size))
        self._file.write(encoded)
        for piece in pieces.read():
            self._file.write(piece)
        self._file.write(PIECE_END)
        self._listed(encoded, pieces.crc, packed, pieces.size)
        return begin

    def _listed(self, name: bytes, crc: int, packed: int, size: int) -> None:
        extra, offset = b"", self._offset
        if offset >= MAX32:
            extra, offset = struct.pack("<2HQ", 1, 8, offset), MAX32
        needed = 45 if extra else 20
        self.directory += CENTRAL.pack(
            b"PK\x01\x02", _MADE_ON_UNIX | needed, needed, 0, DEFLATED, *_STAMP, crc, packed, size, len(name),
            len(extra), 0, 0, 0, _REGULAR_FILE, offset,
        )  # fmt: skip
        self.directory += name + extra
        self._count += 1
        self._offset += LOCAL.size + len(name) + packed

    def close(self) -> None:
        """Write the directory; the file itself stays open."""
        self._file.write(self.directory)
        count, length, offset = self._count, len(self.directory), self._offset
        if count >= MAX16 or offset >= MAX32 or length >= MAX32:
            self._file.write(END64.pack(
                b"PK\x06\x06", END64.size - 12, _MADE_ON_UNIX | 45, 45, 0, 0, count, count, length, offset
            ))
            self._file.write(LOCATOR64.pack(b"PK\x06\x07", 0, offset + length, 1))
            count, length, offset = min(count, MAX16), min(length, MAX32), min(offset, MAX32)
        self._file.write(END.pack(b"PK\x05\x06", 0, 0, count, count, length, offset, 0))


def local_header(name: bytes, crc: int, packed: int, size: int) -> bytes:
    """Return the header that stands before an entry, without the name that ends it."""
    return LOCAL.pack(b"PK\x03\x04", 20, 0, DEFLATED, *_STAMP, crc, packed, size, len(name), 0)
