"""The zip writer and reader by themselves, against the standard library's."""

from __future__ import annotations

import zipfile
from pathlib import Path
from typing import Any, BinaryIO

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from exporters._faults import ExportFault
from exporters._unzip import EntryReader, ZipReader, placed
from exporters._zip import Deflated, Pieces, ZipWriter, cut, deflate, deflate_piece, segment

contents = st.lists(st.binary(max_size=400), max_size=6)


def written(path: Path, entries: list[Deflated]) -> Path:
    """Write a zip file of *entries* and return its path."""
    with path.open("wb") as file:
        writer = ZipWriter(file)
        for entry in entries:
            writer.add(entry)
        writer.close()
    return path


@settings(max_examples=40, deadline=None)
@given(contents)
def test_what_is_written_is_read_by_us_and_by_the_standard_library(
    tmp_path_factory: pytest.TempPathFactory, files: list[bytes]
) -> None:
    path = written(tmp_path_factory.mktemp("zip") / "a.zip", [deflate(f"f{at}", one) for at, one in enumerate(files)])
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        assert [package.read(name) for name in package.namelist()] == files
    with ZipReader(path) as reader:
        entries = list(reader.entries())
        assert [entry.name for entry in entries] == [f"f{at}" for at in range(len(files))]
        assert [reader.content(entry) for entry in entries] == files
        assert [b"".join(reader.pieces(entry)) for entry in entries] == files


@settings(max_examples=40, deadline=None)
@given(contents, contents)
def test_segments_are_the_same_bytes_as_entries_one_by_one_and_are_read_before_the_end_is_written(
    tmp_path_factory: pytest.TempPathFactory, first: list[bytes], second: list[bytes]
) -> None:
    folder = tmp_path_factory.mktemp("zip")
    names = [f"f{at}" for at in range(len(first) + len(second))]
    one_by_one = written(folder / "a.zip", [deflate(*one) for one in zip(names, first + second, strict=True)])
    segments = segment(names[: len(first)], first), segment(names[len(first) :], second)
    assert [list(cut(one, names[1:3])) for one in segments] == [
        [deflate(*one) for one in zip(names[:3], first, strict=False) if one[0] in names[1:3]],
        [deflate(*one) for one in zip(names[len(first) :], second, strict=True) if one[0] in names[1:3]],
    ]
    path = folder / "b.zip"
    with path.open("wb") as file:
        writer = ZipWriter(file)
        for one, content in zip(segments, (first, second), strict=True):
            begin = writer.add_segment(one)
            file.flush()
            with EntryReader(path) as reader:
                assert [reader.content(entry) for entry in placed(one.heads, begin)] == content
        writer.close()
    assert path.read_bytes() == one_by_one.read_bytes()


@settings(max_examples=40, deadline=None)
@given(contents)
def test_an_entry_in_pieces_is_what_its_pieces_are_together(
    tmp_path_factory: pytest.TempPathFactory, pieces: list[bytes]
) -> None:
    path = tmp_path_factory.mktemp("zip") / "a.zip"
    with path.open("wb") as file, Pieces() as collected:
        for piece in pieces:
            collected.add(piece, deflate_piece(piece))
        writer = ZipWriter(file)
        writer.add_pieces("long", collected)
        writer.add(deflate("after", b"x"))
        writer.close()
    with zipfile.ZipFile(path) as package:
        assert package.read("long") == b"".join(pieces) and package.read("after") == b"x"
    with ZipReader(path) as reader:
        assert b"".join(reader.pieces(next(reader.entries()))) == b"".join(pieces)


@pytest.mark.long
def test_more_entries_than_sixteen_bits_count(tmp_path: Path) -> None:
    count = 65_540
    empty = deflate("", b"")
    path = written(tmp_path / "many.zip", [empty._replace(name=f"items/n{at}.xml") for at in range(count)])
    with zipfile.ZipFile(path) as package:
        assert len(package.namelist()) == count and package.read(f"items/n{count - 1}.xml") == b""
    with ZipReader(path) as reader:
        assert reader.count == count
        assert [entry.name for entry in reader.entries()][-1] == f"items/n{count - 1}.xml"


class Sparse:
    """A file in which long writes leave holes, so that one of several gigabytes takes no room."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file

    def write(self, data: bytes) -> Any:
        """Write *data*, or skip its length where it is long."""
        return self._file.write(data) if len(data) < 1 << 20 else self._file.seek(len(data), 1)


def test_entries_beyond_four_gigabytes_are_found(tmp_path: Path) -> None:
    path = tmp_path / "large.zip"
    filler = Deflated("filler", 0, 1 << 30, bytes(1 << 30))
    with path.open("wb") as file:
        writer = ZipWriter(Sparse(file))  # type: ignore[arg-type]
        for at in range(4):
            writer.add(filler._replace(name=f"filler{at}"))
        writer.add(deflate("last", b"beyond"))
        writer.close()
    with zipfile.ZipFile(path) as package:
        assert package.read("last") == b"beyond" and package.getinfo("last").header_offset > 1 << 32
    with ZipReader(path) as reader:
        assert reader.content(list(reader.entries())[-1]) == b"beyond"
    path.unlink()


def test_an_entry_is_deflated_and_names_no_time_of_ours(tmp_path: Path) -> None:
    path = written(tmp_path / "a.zip", [deflate("f", b"text " * 99)])
    with zipfile.ZipFile(path) as package:
        entry = package.infolist()[0]
    assert (entry.date_time, entry.compress_type, entry.flag_bits) == ((1980, 1, 1, 0, 0, 0), zipfile.ZIP_DEFLATED, 0)
    assert entry.external_attr >> 16 == 0o100644 and entry.compress_size < entry.file_size


def test_files_that_others_wrote_or_spoiled_are_refused(tmp_path: Path) -> None:
    foreign = tmp_path / "foreign.zip"
    with zipfile.ZipFile(foreign, "w", zipfile.ZIP_STORED) as package:
        package.writestr("f", b"stored")
    with pytest.raises(ExportFault, match="foreign"), ZipReader(foreign) as reader:
        list(reader.entries())
    for spoiled in (b"", b"PK", b"PK\x05\x06" + bytes(18) + b"!", b"no zip at all" * 9):
        foreign.write_bytes(spoiled)
        with pytest.raises(ExportFault, match="foreign"):
            ZipReader(foreign)


def test_a_stream_that_inflates_to_more_than_it_says_is_refused(tmp_path: Path) -> None:
    honest = deflate("f", b" " * 100_000)
    path = written(tmp_path / "a.zip", [honest._replace(size=10)])
    with ZipReader(path) as reader:
        entry = next(reader.entries())
        with pytest.raises(ExportFault, match="checksum"):
            reader.content(entry)
        with pytest.raises(ExportFault, match="checksum"):
            list(reader.pieces(entry))
