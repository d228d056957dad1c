"""What no target may stumble over: hostile texts, long texts, ids that clash, banks of none or one, closed folders.

And what no reader of packages may do: resolve entities, write outside a folder, unpack a bomb.
"""

from __future__ import annotations

import importlib
import os
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from lxml import etree

import exporters
import sampler
from bank import registry
from bank.errors import BadInput
from bank.model import BankInfo, Item, Quiz, Section, Unit
from cartridge_rules import Question
from exported import QTI, exporter, unzipped, write
from exporters import _unzip
from exporters._faults import ExportFault
from exporters._qti import MANIFEST
from exporters._rows_back import read_tables
from exporters._unzip import MAX_ENTRY, MAX_RATIO, EntryReader, ZipReader
from exporters._zip import ZipWriter, deflate
from sampler import SamplerBank

TARGETS = registry.module_names(exporters)
PACKED = [name for name in TARGETS if name != "csv"]
TEXTS = {
    "markup": '<script>alert("1")</script> &amp; &#65; <![CDATA[x]]> --> ]]>',
    "quotes": "\"'\u201c\u2018`\u00ab",
    "right to left": "\u05d0\u05d1\u05d2 \u0627\u0644\u0639 \u202eabc\u202c \u200f1\u200e",
    "emoji": "\U0001f9ee\U0001f468\u200d\U0001f469\u200d\U0001f467 e\u0301 \U00020000",
    "formats": "%s %(a)s %% {0} {a} \\x \\1 $x",
    "formula": "=1+1",
    "10,000 characters": "\u00e4 < & " * 2000,
}


def hostile(text: str) -> SamplerBank:
    """Return a bank in which every text that a person can write is *text*."""
    unit = Unit(text=f"m{text[:20]}".strip())
    family = replace(
        sampler.ITEMS[0].family, title=text, hint=((text,),), praise=((text,),), topic="t", unit=unit
    )
    choice = replace(sampler.ITEMS[0], stem=((text,),), family=family)
    typed = replace(sampler.ITEMS[13], stem=((text,),), family=replace(family, template="other"), identifier="typed-1")
    quiz = Quiz(
        identifier="q", title=text, week=1, sections=(Section(title=text, items=(choice.identifier, typed.identifier)),)
    )
    info = replace(sampler.info(), title=text, rights=text, tool_version=text[:200])
    return SamplerBank(info, (quiz,), (choice, typed))


def stems(name: str, folder: Path, paths: list[Path]) -> Iterator[str]:
    """Give the stems that a program reads out of what was written."""
    if name == "csv":
        import csv

        with (folder / "csv/items.csv").open(encoding="utf-8", newline="") as file:
            yield from [row["stem"].removeprefix("'") for row in csv.DictReader(file)]
        return
    for path in paths:
        for file, content in unzipped(path).items():
            root = etree.fromstring(content)
            if name == "cc13" and file != MANIFEST:
                yield from [Question(one).stem() for one in root.iter("{*}item")]
            elif file.startswith("items/"):
                yield next(root.iter("{*}p")).text or ""


@pytest.mark.parametrize("name", TARGETS)
@pytest.mark.parametrize("text", TEXTS.values(), ids=TEXTS)
def test_texts_of_any_kind_arrive_as_they_were(name: str, text: str, tmp_path: Path) -> None:
    bank = hostile(text)
    paths = write(name, bank, tmp_path)
    found = list(stems(name, tmp_path, paths))
    assert len(found) == (2 if name == "csv" else 4)
    wanted = text.removeprefix("'")
    assert all(" ".join(wanted.split()) in " ".join(stem.split()) for stem in found)


@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("character", ["\x00", "\x1b", "\ud800"], ids=ascii)
@pytest.mark.parametrize("field", ["stem", "title", "hint", "quiz"])
def test_a_character_that_no_xml_can_hold_is_refused_and_nothing_is_written(
    name: str, character: str, field: str, tmp_path: Path
) -> None:
    text, bank = f"a{character}b", hostile("plain")
    item, quiz = bank.kept[0], bank.quizzes[0]
    if field == "stem":
        item = replace(item, stem=((text,),))
    elif field == "quiz":
        quiz = replace(quiz, title=text)
    else:
        item = replace(item, family=replace(item.family, **{field: text if field == "title" else ((text,),)}))
    with pytest.raises(ExportFault, match="XML cannot hold"):
        write(name, replace(bank, kept=(item, bank.kept[1]), quizzes=(quiz,)), tmp_path)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("identifier", ["1st", "a b", "a:b", "../a", "a/b", "", "\u00e4", "a\n"], ids=ascii)
def test_an_identifier_that_is_not_legal_is_refused_not_mended(name: str, identifier: str, tmp_path: Path) -> None:
    item = replace(sampler.ITEMS[0], identifier=identifier)
    with pytest.raises(ExportFault, match="NCName"):
        write(name, sampler.bank(items=(item,), quizzes=()), tmp_path)
    quiz = Quiz(identifier=identifier, title="Q", week=1, sections=(Section(title="S", items=(sampler.NAMES[0],)),))
    with pytest.raises(ExportFault, match="NCName"):
        write(name, sampler.bank(quizzes=(quiz,)), tmp_path)
    assert not [path for path in tmp_path.rglob("*") if path.is_file()]


@pytest.mark.parametrize("name", PACKED)
def test_a_quiz_called_like_another_file_is_refused(name: str, tmp_path: Path) -> None:
    for identifier, wrong in (("imsmanifest", "manifest's name"), ("bank", "one name")):
        quiz = Quiz(identifier=identifier, title="Q", week=1, sections=(Section(title="S", items=(sampler.NAMES[0],)),))
        with pytest.raises(ExportFault, match=wrong):
            write(name, sampler.bank(quizzes=(quiz,)), tmp_path)


def number_of_items(name: str, folder: Path, paths: list[Path]) -> int:
    """Return how many items are in what was written, read back."""
    if name == "csv":
        return len(list(read_tables(folder / "csv/items.csv", folder / "csv/options.csv")))
    return sum(len(list(exporter(name).read_back(path))) for path in paths)


@pytest.mark.parametrize("name", TARGETS)
@pytest.mark.parametrize("items", [(), sampler.ITEMS[:1]], ids=["none", "one"])
def test_a_bank_of_none_or_one_item_is_exported(name: str, items: tuple[Item, ...], tmp_path: Path) -> None:
    paths = write(name, sampler.bank(items=items, quizzes=()), tmp_path)
    assert len(paths) == (2 if name == "csv" else 0 if name == "cc13" and not items else 1)
    assert number_of_items(name, tmp_path, paths) == len(items)


@pytest.mark.parametrize("name", TARGETS)
def test_a_folder_that_cannot_be_written_is_named(name: str, tmp_path: Path) -> None:
    closed = Path("/proc/nothing")
    if not Path("/proc/1").exists():
        pytest.skip("there is no place here that nobody may write to")
    with pytest.raises(BadInput) as caught:
        write(name, sampler.bank(), closed)
    assert {problem.code for problem in caught.value.problems} == {"cannot-write"}
    (tmp_path / name).write_text("a file stands where the folder should be")
    with pytest.raises(BadInput, match="cannot be written"):
        write(name, sampler.bank(), tmp_path)


@pytest.mark.parametrize("name", TARGETS)
def test_an_export_leaves_no_other_file_behind(name: str, tmp_path: Path) -> None:
    paths = write(name, sampler.bank(), tmp_path)
    assert sorted(path for path in tmp_path.rglob("*") if path.is_file()) == sorted(paths)


# Packages that somebody else has made.


def repacked(path: Path, files: list[tuple[str, bytes]]) -> Path:
    """Write a package of *files* to *path* and return it."""
    with path.open("wb") as file:
        writer = ZipWriter(file)
        for name, content in files:
            writer.add(deflate(name, content))
        writer.close()
    return path


def fresh(name: str, folder: Path) -> tuple[Path, list[tuple[str, bytes]]]:
    """Return a new package of a quiz, and its files."""
    path = next(path for path in write(name, sampler.bank(), folder) if path.stem == "week-01-a")
    return path, list(unzipped(path).items())


@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("stray", ["../evil.xml", "/etc/evil", "C:\\evil", "items/../../evil.xml", "evil\x00.xml"])
def test_nothing_is_ever_written_from_a_package_and_strange_names_are_refused(
    name: str, stray: str, tmp_path: Path
) -> None:
    path, files = fresh(name, tmp_path)
    before = sorted(tmp_path.parent.rglob("*"))
    with pytest.raises(ExportFault):
        list(exporter(name).read_back(repacked(path, [(stray, b"x"), *files])))
    with pytest.raises(ExportFault):
        renamed = [(stray if at == 0 else file, content) for at, (file, content) in enumerate(files)]
        list(exporter(name).read_back(repacked(path, renamed)))
    assert sorted(tmp_path.parent.rglob("*")) == before


@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("which", ["items", "manifest"])
def test_entities_are_never_resolved(name: str, which: str, tmp_path: Path) -> None:
    (tmp_path / "secret").write_text("SECRET")
    path, files = fresh(name, tmp_path)
    kinds = {
        "file": f'<!ENTITY x SYSTEM "{(tmp_path / "secret").as_uri()}">',
        "bomb": '<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY x "&b;&b;&b;&b;">',
        "outside": '<!ENTITY % p SYSTEM "http://127.0.0.1:9/x.dtd"> %p;',
    }
    for said in kinds.values():
        changed = []
        for file, content in files:
            if (file == MANIFEST) == (which == "manifest"):
                head, rest = content.split(b"\n", 1)
                content = head + f"\n<!DOCTYPE r [{said}]>\n".encode() + rest.replace(b"Adding", b"&x;")
            changed.append((file, content))
        with pytest.raises(ExportFault, match="document type"):
            list(exporter(name).read_back(repacked(path, changed)))


@pytest.mark.parametrize("name", PACKED)
@pytest.mark.parametrize("which", ["first", "manifest"])
def test_a_bomb_is_refused_before_it_is_unpacked(
    name: str, which: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, files = fresh(name, tmp_path)
    place = 0 if which == "first" else len(files) - 1
    file, content = files[place]
    swollen = content + b" " * (MAX_RATIO * 100_000)
    files[place] = file, swollen
    bomb = repacked(path, files)
    assert len(swollen) > MAX_RATIO * bomb.stat().st_size
    unpacked = []
    real = zlib.decompressobj
    monkeypatch.setattr(_unzip.zlib, "decompressobj", lambda *given: unpacked.append(1) or real(*given))
    with pytest.raises(ExportFault, match="far longer than it is packed|longer than"):
        list(exporter(name).read_back(bomb))
    assert len(unpacked) <= 1


def test_the_limits_of_reading_are_these() -> None:
    assert (MAX_ENTRY, MAX_RATIO) == (1_048_576, 200)


def test_what_says_that_it_is_shorter_than_it_is_is_refused(tmp_path: Path) -> None:
    path, files = fresh("qti30", tmp_path)
    liar = tmp_path / "liar.zip"
    with liar.open("wb") as file:
        writer = ZipWriter(file)
        long = deflate(files[0][0], b" " * (8 << 20))
        writer.add(long._replace(size=100))
        writer.close()
    with EntryReader(liar) as reader, ZipReader(liar) as whole:
        (entry,) = whole.entries()
        with pytest.raises(ExportFault, match="checksum"):
            reader.content(entry)
        with pytest.raises(ExportFault, match="checksum"):
            list(whole.pieces(entry))


@pytest.mark.parametrize("name", PACKED)
def test_a_package_in_another_form_is_refused(name: str, tmp_path: Path) -> None:
    path, files = fresh(name, tmp_path)
    with zipfile.ZipFile(path, "w", zipfile.ZIP_STORED) as package:
        for file, content in files:
            package.writestr(file, content)
    with pytest.raises(ExportFault):
        list(exporter(name).read_back(path))
    for content in (b"", b"PK", os.urandom(400), b"PK\x05\x06" + bytes(18)):
        path.write_bytes(content)
        with pytest.raises(ExportFault):
            list(exporter(name).read_back(path))


def test_every_target_is_tried_here() -> None:
    assert set(QTI) | {"cc13", "csv"} == set(TARGETS)
    assert all(importlib.import_module(f"exporters.{name}").NAME == name for name in TARGETS)
    assert isinstance(sampler.info(), BankInfo)
