"""Packages spoiled on the disk: reading back refuses them and names the file and the item."""

from __future__ import annotations

import random
import re
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from sweeps import sweep

import sampler
from bank.model import Choice
from exported import QTI, exporter, spelled, version, write
from exporters._faults import ExportFault
from exporters._qti import MANIFEST
from exporters._readback import check_contents, difference
from exporters._unzip import ZipReader
from exporters._worker import Job, Worker
from exporters._zip import ZipWriter, deflate
from sampler import SamplerBank

CHOICE, TYPED = "items/add-01.v1-s1.xml", "items/subtract-03.v1-s3.xml"
Change = Callable[[bytes], bytes]


def verify(name: str, path: Path, bank: SamplerBank) -> None:
    """Read the package of a whole bank back and compare it, as an export does."""
    with ZipReader(path) as reader:
        entries = list(check_contents(version(name), reader))
    Worker(version(name), bank, frozenset()).verify(path, path.name, entries, Job(0, bank.count), {})


def difference_without_schema(name: str, path: Path, bank: SamplerBank) -> str:
    """Return what reading back says of the package, though no schema had refused an item of it before."""
    try:
        for item, read in zip(bank.items(), exporter(name).read_back(path), strict=True):
            if wrong := difference(item, read, bank.info, True):
                return wrong
    except ExportFault as fault:
        return fault.wrong
    return ""


def rewritten(path: Path, changes: dict[str, Change], *, order: Callable[[list[str]], list[str]] = list) -> None:
    """Write the package anew with some files changed; checksums and sizes are right again."""
    with zipfile.ZipFile(path) as package:
        files = {file: package.read(file) for file in package.namelist()}
    with path.open("wb") as opened:
        writer = ZipWriter(opened)
        for file in order(list(files)):
            content = files.get(file, b"<x/>")
            changed = changes.get(file, lambda same: same)(content)
            assert file not in changes or changed != content, "the change must change something"
            writer.add(deflate(file, changed))
        writer.close()


CHANGES: list[dict[str, str]] = yaml.safe_load((Path(__file__).parent / "cases/changes.yaml").read_text("utf-8"))


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("case", CHANGES, ids=[case["change"] for case in CHANGES])
def test_a_changed_item_is_refused_by_name(name: str, case: dict[str, str], tmp_path: Path) -> None:
    file = CHOICE if case["of"] == "choice" else TYPED
    bank = sampler.bank(quizzes=())
    path = write(name, bank, tmp_path)[-1]
    verify(name, path, bank)
    assert difference_without_schema(name, path, bank) == ""

    before, after = (spelled(version(name), one).encode() for one in (case["from"], case["to"]))
    rewritten(path, {file: lambda content: content.replace(before, after, 1)})
    assert re.search(case["says"], difference_without_schema(name, path, bank))
    with pytest.raises(ExportFault) as found:
        verify(name, path, bank)
    assert found.value.file == "bank.zip" and found.value.item == file[len("items/") : -len(".xml")]


@pytest.mark.parametrize("name", sweep(QTI, 3))
def test_any_changed_byte_of_an_entry_is_noticed(name: str, tmp_path: Path) -> None:
    bank = sampler.bank(items=sampler.ITEMS[:3], quizzes=())
    path = write(name, bank, tmp_path)[-1]
    whole = path.read_bytes()
    with ZipReader(path) as reader:
        entries = list(reader.entries())
    end = entries[-1].offset
    chosen = random.Random(4)
    for _ in range(120):
        at = chosen.randrange(end)
        spoiled = bytearray(whole)
        spoiled[at] ^= 1 << chosen.randrange(8)
        path.write_bytes(spoiled)
        with pytest.raises(ExportFault):
            verify(name, path, bank)


@pytest.mark.parametrize("kept", [0, 1, 21, 60, -1, -22, -40])
def test_a_file_cut_short_is_refused(kept: int, tmp_path: Path) -> None:
    path = write("qti30", sampler.bank(quizzes=()), tmp_path)[-1]
    path.write_bytes(path.read_bytes()[:kept])
    with pytest.raises(ExportFault, match=r"bank\.zip"):
        list(exporter("qti30").read_back(path))


@pytest.mark.parametrize("name", QTI)
def test_a_package_of_another_bank_is_refused(name: str, tmp_path: Path) -> None:
    bank = sampler.bank(quizzes=())
    one = sampler.ITEMS[0]
    assert isinstance(one.response, Choice)
    a, b, *rest = one.response.options
    moved = (replace(a, is_key=True, numeral=b.numeral), replace(b, is_key=False, numeral=a.numeral), *rest)
    other = replace(one, response=replace(one.response, options=moved))
    path = write(name, sampler.bank(items=(other, *sampler.ITEMS[1:]), quizzes=()), tmp_path)[-1]
    with pytest.raises(ExportFault, match=r"add-01\.v1-s1: read back, it differs from the bank: option A"):
        verify(name, path, bank)


def test_files_and_manifest_must_agree(tmp_path: Path) -> None:
    def spoil(changes: dict[str, Change], order: Callable[[list[str]], list[str]] = list) -> None:
        path = write("qti30", sampler.bank(quizzes=()), tmp_path)[-1]
        rewritten(path, changes, order=order)
        with pytest.raises(ExportFault):
            verify("qti30", path, sampler.bank(quizzes=()))

    spoil({}, lambda files: files[1:])
    spoil({}, lambda files: [*files[:-1], "items/more.xml", files[-1]])
    spoil({}, lambda files: [files[1], files[0], *files[2:]])
    spoil({}, lambda files: [files[-1], *files[:-1]])
    spoil({}, lambda files: files[:-1])
    spoil({MANIFEST: lambda content: content.replace(b"items/add-01", b"items/add-02", 1)})
    spoil({MANIFEST: lambda content: content.replace(b"imsqti_item", b"imsqti_test", 1)})
    spoil({MANIFEST: lambda content: content[:-20]})


@pytest.mark.parametrize("file", [CHOICE, MANIFEST])
def test_a_document_type_is_refused(file: str, tmp_path: Path) -> None:
    path = write("qti30", sampler.bank(quizzes=()), tmp_path)[-1]
    head = b'<?xml version="1.0" encoding="UTF-8"?>\n'
    bomb = b'<!DOCTYPE x [<!ENTITY a "aaaaaa"><!ENTITY b "&a;&a;&a;&a;"><!ENTITY file SYSTEM "file:///secret">]>\n'
    rewritten(path, {file: lambda content: content.replace(head, head + bomb, 1)})
    with pytest.raises(ExportFault, match="document type"):
        list(exporter("qti30").read_back(path))


def test_an_entry_that_is_too_long_is_refused_before_it_is_inflated(tmp_path: Path) -> None:
    path = write("qti30", sampler.bank(quizzes=()), tmp_path)[-1]
    rewritten(path, {CHOICE: lambda content: content + b" " * (2 << 20)})
    with pytest.raises(ExportFault, match="longer than"):
        list(exporter("qti30").read_back(path))
