"""Packages as files: their contents, the same bytes however they are made, and never half a file."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import zipfile
from collections.abc import Sequence
from dataclasses import replace
from itertools import cycle, islice
from pathlib import Path

import pytest
from lxml import etree

import sampler
from bank.answers import accepted_forms
from bank.model import Choice, Item, Quiz, Section
from bank.run import Run
from exported import GERMAN, QTI, exporter, ignore, packages, unzipped, version, write
from exporters import _worker
from exporters._faults import ExportFault
from exporters._manifest import ItemEntries
from exporters._package import JOB
from exporters._qti import MANIFEST
from exporters._zip import Segment, ZipWriter, segment
from sampler import SamplerBank


def long_bank(count: int) -> SamplerBank:
    """Return a bank of *count* items, the sampler's over and over under new identifiers."""
    items = [
        replace(one, identifier=f"n{at}.{one.identifier}")
        for at, one in enumerate(islice(cycle(sampler.ITEMS), count))
    ]
    names = [one.identifier for one in items]
    quizzes = (
        Quiz(identifier="first", title="First", week=1, sections=(Section(title="A", items=tuple(names[5:-1:9])),)),
        Quiz(identifier="silent", title="Silent", week=1, show_feedback=False,
             sections=(Section(title="A", items=tuple(names[::11])),)),
    )  # fmt: skip
    return sampler.bank(items=items, quizzes=quizzes)


@pytest.mark.parametrize("name", QTI)
def test_a_package_holds_its_items_its_test_and_the_manifest_last(name: str) -> None:
    for quiz in sampler.QUIZZES:
        files = packages(name)[quiz.identifier]
        assert list(files) == [f"items/{item}.xml" for item in quiz.items] + [f"{quiz.identifier}.xml", MANIFEST]
    assert list(packages(name)["bank"]) == [f"items/{item}.xml" for item in sampler.NAMES] + [MANIFEST]


@pytest.mark.parametrize("name", QTI)
def test_the_manifest_lists_every_file_and_the_test_depends_on_its_items(name: str) -> None:
    record = version(name)
    for package, files in packages(name).items():
        resources = list(etree.fromstring(files[MANIFEST]).iter("{*}resource"))
        listed = [file.get("href") for resource in resources for file in resource.iter("{*}file")]
        assert sorted(listed) == sorted(set(files) - {MANIFEST})
        assert all(resource.get("href") in files for resource in resources)
        tests = [resource for resource in resources if resource.get("type") == record.test_type]
        assert len(tests) == (package != "bank")
        for test in tests:
            items = [resource.get("identifier") for resource in resources if resource is not test]
            assert [one.get("identifierref") for one in test.iter("{*}dependency")] == items


@pytest.mark.parametrize("name", QTI)
def test_the_manifest_says_tool_and_version_and_marks_its_own_words_as_english(name: str) -> None:
    manifest = etree.fromstring(packages(name, GERMAN)["bank"][MANIFEST])
    resources = list(manifest.iter("{*}resource"))
    assert len(resources) == len(sampler.ITEMS)
    for item, resource in zip(sampler.ITEMS, resources, strict=True):
        assert resource.findtext(".//{*}version/{*}string") == str(item.family.version)
        assert resource.findtext(".//{*}toolName") == "Stemwright"
        assert resource.findtext(".//{*}toolVersion") == sampler.info().tool_version
    spoken = {(text.getparent().tag.rpartition("}")[2], text.get("language")) for text in manifest.iter("{*}string")}
    assert spoken >= {("title", "de"), ("keyword", "en"), ("version", "en"), ("description", "en")}
    assert not spoken & {("title", "en"), ("keyword", "de")}


@pytest.mark.parametrize("name", QTI)
def test_an_item_is_the_same_bytes_in_the_bank_and_in_every_quiz_with_feedback(name: str) -> None:
    for quiz in sampler.QUIZZES:
        for item in quiz.items:
            file, bank = f"items/{item}.xml", packages(name)["bank"]
            assert bank.get(file) == (packages(name)[quiz.identifier][file] if quiz.show_feedback else None)


@pytest.mark.parametrize("name", QTI)
def test_the_packages_are_the_same_bytes_with_one_process_or_two(name: str, tmp_path: Path) -> None:
    bank = long_bank(2 * JOB + 30)
    source = bank.save(tmp_path / "bank.sqlite")
    one = write(name, bank, tmp_path / "one")
    two = write(name, bank, tmp_path / "two", jobs=2, source=source)
    assert [path.name for path in one] == ["first.zip", "silent.zip", "bank.zip"] == [path.name for path in two]
    for left, right in zip(one, two, strict=True):
        assert left.read_bytes() == right.read_bytes()


@pytest.mark.parametrize("name", QTI)
def test_a_quiz_is_the_same_bytes_with_the_bank_or_without(name: str, tmp_path: Path) -> None:
    bank = long_bank(JOB + 30)
    alone = write(name, bank, tmp_path / "alone", whole_bank=False)
    together = write(name, bank, tmp_path / "together")
    assert [path.name for path in alone] == ["first.zip", "silent.zip"]
    for left, right in zip(alone, together, strict=False):
        assert left.read_bytes() == right.read_bytes()


@pytest.mark.parametrize("name", QTI)
def test_read_back_gives_options_key_spellings_and_scores(name: str, tmp_path: Path) -> None:
    path = write(name, sampler.bank(), tmp_path)[-1]
    for item, read in zip(sampler.ITEMS, exporter(name).read_back(path), strict=True):
        assert read.identifier == item.identifier
        if isinstance(item.response, Choice):
            key = next(option.identifier for option in item.response.options if option.is_key)
            assert read.right == key and dict(read.scores)[key] == "1"
            assert [option for option, _ in read.options] == [option.identifier for option in item.response.options]
        else:
            assert read.options == ()
            assert set(read.spellings) == set(
                accepted_forms(item.key, sampler.POINT, item.response.policy, item.family.unit)
            )


def test_progress_ends_at_the_total(tmp_path: Path) -> None:
    said: list[tuple[int, int]] = []
    bank = long_bank(JOB + 10)
    exporter("qti30").write(tmp_path, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=1,
                            progress=lambda done, total: said.append((done, total)))
    assert said[-1][0] == said[-1][1] and [done for done, _ in said] == sorted(done for done, _ in said)
    assert len({total for _, total in said}) == 1


@pytest.mark.parametrize("jobs", [1, 2])
def test_an_export_that_is_broken_off_leaves_the_old_file(tmp_path: Path, jobs: int) -> None:
    bank = long_bank(JOB + 10)
    source = bank.save(tmp_path / "bank.sqlite")
    old = {path: path.read_bytes() for path in write("qti30", sampler.bank(), tmp_path)}

    def break_off(done: int, total: int) -> None:
        if done > total // 2:
            raise RuntimeError("broken off")

    with pytest.raises(RuntimeError, match="broken off"):
        exporter("qti30").write(source, bank, bank.quizzes, tmp_path, whole_bank=True, jobs=jobs, progress=break_off)
    assert {path: path.read_bytes() for path in (tmp_path / "qti30").iterdir()} == old


def test_a_killed_export_leaves_the_old_file_and_the_next_one_cleans_up(tmp_path: Path) -> None:
    old = write("qti30", sampler.bank(), tmp_path)[-1].read_bytes()
    program = textwrap.dedent("""
        import os, signal, sys
        from pathlib import Path
        sys.path[:0] = sys.argv[2].split(os.pathsep)
        import sampler
        from bank.run import Run
        from exporters import qti30
        bank = sampler.bank(items=sampler.ITEMS[:9], quizzes=())
        kill = lambda done, total: os.kill(os.getpid(), signal.SIGKILL)
        with Run(Path(sys.argv[1]), "export"):
            qti30.write(Path("none"), bank, (), Path(sys.argv[1]), whole_bank=True, jobs=1, progress=kill)
    """)
    killed = subprocess.run([sys.executable, "-c", program, str(tmp_path), os.pathsep.join(sys.path)], check=False)
    assert killed.returncode == -signal.SIGKILL
    folder = tmp_path / "qti30"
    left = sorted(path.name for path in folder.iterdir() if path.name.startswith("."))
    assert left and (folder / "bank.zip").read_bytes() == old
    with Run(tmp_path, "export"):
        write("qti30", sampler.bank(quizzes=()), tmp_path)
    assert not [path for path in folder.iterdir() if path.name.startswith(".")]


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize(
    ("old", "new", "wrong"),
    [
        (b">5.27<", b">5.28<", r"read back, it differs from the bank: option A is 'A' with '5\.28'"),
        (b"</caption>", b"</captain>", "it is no XML"),
        (b'scope="row"', b'scope="col"', "it does not follow"),
    ],
    ids=["another number", "no XML", "not as the schema says"],
)
@pytest.mark.parametrize("whole", [True, False], ids=["bank", "quiz"])
def test_a_package_that_is_wrong_when_read_back_takes_no_place(
    name: str, old: bytes, new: bytes, wrong: str, whole: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    quizzes = () if whole else (quiz_of("add-01.v1-s1", identifier="bank"),)
    bank = sampler.bank(quizzes=quizzes)
    before = write(name, bank, tmp_path, whole_bank=whole)[-1].read_bytes()

    def spoiled(names: Sequence[str], contents: Sequence[bytes]) -> Segment:
        assert any(old in content for content in contents)
        return segment(names, [content.replace(old, new) for content in contents])

    monkeypatch.setattr(_worker, "segment", spoiled)
    with pytest.raises(ExportFault, match=rf"bank\.zip: add-01\.v1-s1: {wrong}"):
        write(name, bank, tmp_path, whole_bank=whole)
    assert [path.name for path in (tmp_path / name).iterdir()] == ["bank.zip"]
    assert (tmp_path / name / "bank.zip").read_bytes() == before


@pytest.mark.parametrize("old", [b'type="imsqti_item', b'href="items/', b"<file "])
def test_a_manifest_that_is_wrong_takes_no_place(old: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entry = ItemEntries.entry
    monkeypatch.setattr(
        ItemEntries, "entry", lambda self, item, shown: entry(self, item, shown).replace(old.decode(), "x", 1)
    )
    with pytest.raises(ExportFault, match=r"imsmanifest\.xml"):
        write("qti30", sampler.bank(quizzes=()), tmp_path)
    assert not list(tmp_path.rglob("*.zip"))


@pytest.mark.parametrize(
    ("old", "new"),
    [("q:toolName", "q:tool"), ("><metadata>", "><file href=\"items/x.xml\"/><metadata>"), ("</metadata>", "</metadata> x"),
     ("</metadata>", "</metadata></resource><resource identifier=\"x\" type=\"imsqti_item_xmlv3p0\" href=\"x.xml\">")],
)  # fmt: skip
def test_a_manifest_that_is_wrong_of_one_item_takes_no_place(
    old: str, new: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    entry = ItemEntries.entry
    last = sampler.bank(quizzes=()).kept[-1]

    def spoiled(self: ItemEntries, item: Item, shown: bool) -> str:
        line = entry(self, item, shown)
        return line.replace(old, new) if item.identifier == last.identifier else line

    monkeypatch.setattr(ItemEntries, "entry", spoiled)
    with pytest.raises(ExportFault, match=r"imsmanifest\.xml"):
        write("qti30", sampler.bank(quizzes=()), tmp_path)
    assert not list(tmp_path.rglob("*.zip"))


@pytest.mark.parametrize("taken", ["add-01.v1-s1", "manifest-bank"])
def test_an_identifier_that_is_taken_takes_no_place_in_a_manifest(taken: str, tmp_path: Path) -> None:
    first, *others = sampler.ITEMS
    items = [first, replace(first, identifier=taken), *others]
    with pytest.raises(ExportFault, match=r"imsmanifest\.xml: the manifest lists two things under one identifier"):
        write("qti30", sampler.SamplerBank(sampler.info(), (), tuple(items)), tmp_path)
    assert not list(tmp_path.rglob("*.zip"))


def test_a_manifest_that_lists_other_files_takes_no_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    entry = ItemEntries.entry
    monkeypatch.setattr(
        ItemEntries, "entry", lambda self, item, shown: entry(self, item, shown).replace("add-01", "add-99")
    )
    with pytest.raises(ExportFault, match=r"imsmanifest\.xml: the manifest lists other files"):
        write("qti30", sampler.bank(quizzes=()), tmp_path)


def test_bytes_that_change_on_the_disk_before_the_end_are_noticed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    close = ZipWriter.close

    def close_and_spoil(writer: ZipWriter, at: int) -> None:
        close(writer)
        writer._file.flush()
        (part,) = (tmp_path / "qti30").glob(".*.part")
        with part.open("rb+") as file:
            file.seek(at, os.SEEK_END)
            byte = file.read(1)
            file.seek(at, os.SEEK_END)
            file.write(bytes([byte[0] ^ 1]))

    for at in (-30, -200, -1400):  # in the directory twice, in the manifest
        monkeypatch.setattr(ZipWriter, "close", lambda writer, at=at: close_and_spoil(writer, at))
        with pytest.raises(ExportFault, match=r"bank\.zip"):
            write("qti30", sampler.bank(quizzes=()), tmp_path)
        assert not list(tmp_path.rglob("*.zip"))


def quiz_of(*items: str, identifier: str = "q") -> Quiz:
    """Return a quiz of *items*."""
    return Quiz(identifier=identifier, title="Q", week=1, sections=(Section(title="S", items=items),))


@pytest.mark.parametrize(
    ("quizzes", "wrong"),
    [
        ((quiz_of("add-01.v1-s1", "add-01.v1-s1"),), "twice"),
        ((quiz_of(),), "no items"),
        ((quiz_of("add-01.v1-s1", identifier="../q"),), "NCName"),
        ((quiz_of("add-01.v1-s1", identifier="1q"),), "NCName"),
        ((quiz_of("add-01.v1-s1", identifier="bank"),), "one name"),
        ((quiz_of("add-01.v1-s1"), quiz_of("add-02.v1-s2")), "one name"),
    ],
)
def test_a_quiz_that_can_be_no_package_is_refused(quizzes: tuple[Quiz, ...], wrong: str, tmp_path: Path) -> None:
    with pytest.raises(ExportFault, match=wrong):
        write("qti30", sampler.bank(quizzes=quizzes), tmp_path)
    assert not list(tmp_path.rglob("*.zip"))


def with_text(text: str) -> Item:
    """Return an item with *text* in its stem."""
    return replace(sampler.ITEMS[0], stem=((text,),))


@pytest.mark.parametrize("text", ["a\x00b", "a\x1bb", "a\ufffeb", "a\ud800b"], ids=ascii)
def test_a_character_that_xml_cannot_hold_is_refused_by_name(text: str, tmp_path: Path) -> None:
    with pytest.raises(ExportFault, match=r"add-01\.v1-s1: .* which XML cannot hold"):
        write("qti21", sampler.bank(items=(with_text(text),), quizzes=()), tmp_path)


@pytest.mark.parametrize(
    "text",
    ["\U0001f9ee caf\u00e9 \u05d0 \u4e2d", "&amp; &#65; <![CDATA[x]]>", "%s %(a)s {0} {a} %", "\ttab\n"],
    ids=ascii,
)
def test_any_other_text_arrives_as_it_was(text: str, tmp_path: Path) -> None:
    for name in QTI:
        path = write(name, sampler.bank(items=(with_text(text),), quizzes=()), tmp_path)[-1]
        root = etree.fromstring(unzipped(path)["items/add-01.v1-s1.xml"])
        assert next(root.iter("{*}p")).text == text


def test_an_item_whose_options_contradict_its_key_is_refused(tmp_path: Path) -> None:
    one = sampler.ITEMS[0]
    assert isinstance(one.response, Choice)
    options = one.response.options
    for spoiled in (
        tuple(replace(option, is_key=False) for option in options),
        tuple(replace(option, is_key=True) for option in options),
        (replace(options[0], identifier="B"), *options[1:]),
        (replace(options[0], numeral=options[2].numeral), *options[1:]),
    ):
        item = replace(one, response=replace(one.response, options=spoiled))
        with pytest.raises(ExportFault, match=r"qti30: add-01\.v1-s1: "):
            write("qti30", sampler.bank(items=(item,), quizzes=()), tmp_path)


def test_the_standard_library_reads_every_package(tmp_path: Path) -> None:
    for path in write("qti30", long_bank(JOB + 5), tmp_path):
        with zipfile.ZipFile(path) as package:
            assert package.testzip() is None
            assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_an_empty_export_writes_nothing(tmp_path: Path) -> None:
    write = exporter("qti30").write
    assert write(tmp_path, sampler.bank(), (), tmp_path, whole_bank=False, jobs=1, progress=ignore) == []
