"""Reads zip files as `exporters._zip` writes them, and trusts nothing that they say of themselves."""

from __future__ import annotations

import os
import struct
import zlib
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import NamedTuple, Self

from deflate import DeflateError, crc32, deflate_decompress

from exporters._faults import ExportFault
from exporters._zip import CENTRAL, DEFLATED, END, END64, LOCAL, LOCATOR64, MAX16, MAX32, Head, local_header

MAX_ENTRY = 1 << 20
"""Bytes that a file of a package may have when inflated, the manifest apart."""


MAX_RATIO = 200
"""How many times longer than packed a file may be that is read piece by piece and may be longer than `MAX_ENTRY`: a
manifest, or the items of a cartridge. What this tool writes comes to some forty times; a bomb comes to a thousand."""


class Entry(NamedTuple):
    """An entry of a zip file that lies on the disk."""

    name: str
    offset: int
    packed: int
    """Bytes in the file."""
    size: int
    crc: int


def placed(heads: Iterable[Head], begin: int) -> list[Entry]:
    """Return the entries with *heads*, which lie behind one another from *begin* on."""
    entries = []
    for name, crc, size, packed in heads:
        entries.append(Entry(name, begin, packed, size, crc))
        begin += LOCAL.size + len(name) + packed
    return entries


class EntryReader:
    """Reads entries of a zip file whose places are known already, though it may not be finished; a context manager.

    Faults call the file by *name*, which is what it will be called where that is another name than it has.
    """

    def __init__(self, path: Path, name: str = "") -> None:
        self.path, self.name = path, name or path.name
        self._file = path.open("rb")

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._file.close()

    def _fault(self, wrong: str, name: str = "") -> ExportFault:
        return ExportFault(self.name, name, wrong)

    def packed(self, entry: Entry) -> bytes:
        """Return the bytes of *entry* as they lie in the file, its own header checked."""
        return self.packed_together([entry])[0]

    def packed_together(self, entries: Sequence[Entry]) -> list[bytes]:
        """Return the bytes of *entries*, which lie one behind the other in the file, their own headers checked."""
        if not entries:
            return []
        first, last = entries[0].offset, entries[-1]
        self._file.seek(first)
        data = self._file.read(last.offset + LOCAL.size + len(last.name) + last.packed - first)
        found = []
        for name, offset, packed, size, crc in entries:
            start = offset - first
            encoded = name.encode("ascii")
            end = start + LOCAL.size + len(encoded)
            if data[start:end] != local_header(encoded, crc, packed, size) + encoded:
                raise self._fault("its header and the directory differ", name)
            if len(data) < end + packed:
                raise self._fault("its bytes end too early", name)
            found.append(data[end : end + packed])
        return found

    def content(self, entry: Entry, packed: bytes | None = None) -> bytes:
        """Return *entry* inflated and its checksum checked; *packed* are its bytes where they were read already."""
        if entry.size > MAX_ENTRY:
            raise self._fault(f"it is longer than {MAX_ENTRY} bytes", entry.name)
        data = self.packed(entry) if packed is None else packed
        unpacker = zlib.decompressobj(-15)
        try:
            content = unpacker.decompress(data, entry.size + 1)
        except zlib.error as error:
            raise self._fault(f"it cannot be inflated ({error})", entry.name) from error
        if len(content) != entry.size or not unpacker.eof or unpacker.unused_data or zlib.crc32(content) != entry.crc:
            raise self._fault("its content is not what its checksum says", entry.name)
        return content


    def unpacked(self, entry: Entry, packed: bytes) -> bytes:
        """Return *entry*, whose bytes are *packed*, inflated and its checksum checked, in less time than `content`.

        Of bytes behind the end of what was deflated it says nothing: it is for entries that were just written.
        """
        if entry.size > MAX_ENTRY:
            raise self._fault(f"it is longer than {MAX_ENTRY} bytes", entry.name)
        try:
            content = bytes(deflate_decompress(packed, entry.size))
        except DeflateError as error:
            raise self._fault(f"it cannot be inflated ({error})", entry.name) from error
        if len(content) != entry.size or crc32(content) != entry.crc:
            raise self._fault("its content is not what its checksum says", entry.name)
        return content


class ZipReader(EntryReader):
    """Reads a whole zip file that `ZipWriter` may have written; a context manager.

    Raises:
        ExportFault: the file is not such a file, or what it says of itself does not hold.
    """

    def __init__(self, path: Path, name: str = "") -> None:
        super().__init__(path, name)
        try:
            self.count, self._start, self._length = self._end()
        except BaseException:
            self._file.close()
            raise

    def _end(self) -> tuple[int, int, int]:
        """Return number of entries, and offset and length of the directory."""
        length = self._file.seek(0, os.SEEK_END)
        tail = END.size + LOCATOR64.size + END64.size
        self._file.seek(max(0, length - tail))
        data = self._file.read()
        if len(data) < END.size or data[-END.size :][:4] != b"PK\x05\x06":
            raise self._fault("the end record is missing")
        count, directory, offset = END.unpack(data[-END.size :])[4:7]
        end = length - END.size
        if data[-END.size - LOCATOR64.size :][:4] == b"PK\x06\x07" and len(data) == tail:
            count, directory, offset = END64.unpack(data[: END64.size])[7:10]
            end = length - tail
        if offset + directory != end:
            raise self._fault("the directory does not lie where the end record says")
        return count, offset, directory

    def directory(self) -> bytes:
        """Return the central directory as it lies in the file."""
        self._file.seek(self._start)
        return self._file.read(self._length)

    def entries(self) -> Iterator[Entry]:
        """Give the entries in the order of the directory, which must be their order in the file, without gaps."""
        expected = at = 0
        position, end, data = self._start, self._start + self._length, b""
        for _ in range(self.count):
            if len(data) - at < CENTRAL.size + 2 * MAX16 and position + len(data) - at < end:
                data, at = data[at:], 0
                self._file.seek(position + len(data))
                data += self._file.read(min(1 << 20, end - position - len(data)))
            if len(data) - at < CENTRAL.size or data[at : at + 4] != b"PK\x01\x02":
                raise self._fault("the directory is damaged")
            fields = CENTRAL.unpack_from(data, at)
            method, crc, packed, size, name_length, extra_length, comment = (*fields[4:5], *fields[7:13])
            offset = fields[16]
            used = CENTRAL.size + name_length + extra_length + comment
            name_end = at + CENTRAL.size + name_length
            name = data[at + CENTRAL.size : name_end]
            if offset == MAX32 and extra_length == 12:
                offset = struct.unpack_from("<Q", data, name_end + 4)[0]
            if method != DEFLATED or offset != expected or not name.isascii():
                raise self._fault("the directory is not one that this tool writes")
            yield Entry(name.decode("ascii"), offset, packed, size, crc)
            expected = offset + LOCAL.size + name_length + packed
            position += used
            at += used
        if expected != self._start or position != end:
            raise self._fault("there are bytes between the entries and the directory")

    def pieces(self, entry: Entry, step: int = 1 << 14) -> Iterator[bytes]:
        """Give *entry* inflated, piece by piece, and check its length and checksum at the end."""
        if entry.size > MAX_RATIO * entry.packed + MAX_ENTRY:
            raise self._fault("it is far longer than it is packed", entry.name)
        length = LOCAL.size + len(entry.name)
        self._file.seek(entry.offset)
        name = entry.name.encode("ascii")
        if self._file.read(length) != local_header(name, entry.crc, entry.packed, entry.size) + name:
            raise self._fault("its header and the directory differ", entry.name)
        unpacker, crc, size, left = zlib.decompressobj(-15), 0, 0, entry.packed
        position = entry.offset + length
        while left and not unpacker.eof:
            self._file.seek(position)
            data = self._file.read(min(step, left))
            if not data:
                raise self._fault("its bytes end too early", entry.name)
            position += len(data)
            left -= len(data)
            try:
                content = unpacker.decompress(data)
            except zlib.error as error:
                raise self._fault(f"it cannot be inflated ({error})", entry.name) from error
            crc, size = zlib.crc32(content, crc), size + len(content)
            if size > entry.size:
                break
            yield content
        if size != entry.size or crc != entry.crc or not unpacker.eof:
            raise self._fault("its content is not what its checksum says", entry.name)
