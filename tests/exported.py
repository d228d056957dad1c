"""Exports of the sampler for the exporters' tests: the versions of QTI, written once and unzipped in memory."""

from __future__ import annotations

import importlib
import re
import tempfile
import zipfile
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import kind_items
import sampler
from bank.model import Locale, Quiz, Section
from bank.store import Shelf
from exporters._kinds import MODULES
from exporters._qti import Version
from sampler import SamplerBank

QTI = ("qti30", "qti22", "qti21")


def exporter(name: str) -> ModuleType:
    """Return the exporter's module."""
    return importlib.import_module(f"exporters.{name}")


def version(name: str) -> Version:
    """Return the exporter's record of its version."""
    found = exporter(name).VERSION
    assert isinstance(found, Version)
    return found


def spelled(record: Version, markup: str) -> str:
    """Return *markup*, which may be a piece of a tag, in the version's spelling."""
    markup = re.sub("(?<=<)(/?)([A-Za-z]+)", lambda tag: tag[1] + record.element(tag[2]), markup)
    return re.sub(r"(?<= )([A-Za-z]+)(?==)", lambda name: record.attribute(name[1]), markup)


def ignore(done: int, total: int) -> None:
    """Show no progress."""


def write(
    name: str, bank: SamplerBank, folder: Path, *, whole_bank: bool = True, jobs: int = 1, source: Path = Path("none")
) -> list[Path]:
    """Export *bank* into *folder* and return the paths of the packages."""
    told = bank.delivered()
    paths = exporter(name).write(
        Shelf(source, unlisted=told.unlisted), told, told.quizzes, folder, whole_bank=whole_bank, jobs=jobs,
        progress=ignore,
    )
    assert isinstance(paths, list)
    return paths


_FINGERPRINT = re.compile(rb"\b[a-km-np-z2-9]{4}(?:-[a-km-np-z2-9]{4}){3}\b")


def unprinted(data: bytes) -> bytes:
    """Return *data* with the same letters for every bank's fingerprint, as golden files have it.

    A fingerprint changes with any item of a bank; that it stands where it should is tested elsewhere.
    """
    return _FINGERPRINT.sub(b"bank-finger-print", data)


def unzipped(path: Path) -> dict[str, bytes]:
    """Return the files of a package by name, in their order."""
    with zipfile.ZipFile(path) as package:
        assert package.testzip() is None
        return {name: package.read(name) for name in package.namelist()}


GERMAN = replace(sampler.COMMA, identifier="de-comma", language="de")
"""A locale in another language than the tool's own phrases."""

KIND_ITEMS = [one for one in kind_items.ITEMS if type(one.response) in MODULES]
"""Of each kind beyond choice and typed number that the QTI exporters write."""
KIND_QUIZZES = tuple([
    Quiz(identifier=use, title=f"All kinds, for {use}", week=1, use=use, show_feedback=use != "graded",
         sections=(Section(title="All", items=tuple([one.identifier for one in KIND_ITEMS])),))
    for use in ("practice", "graded")
])  # fmt: skip


@lru_cache(maxsize=16)
def kind_packages(name: str, locale: Locale = sampler.POINT) -> dict[str, dict[str, bytes]]:
    """Return the packages of a bank of `KIND_ITEMS` in *locale*, by name of quiz, unzipped."""
    with tempfile.TemporaryDirectory() as folder:
        bank = sampler.bank(locale, KIND_ITEMS, KIND_QUIZZES)
        return {path.stem: unzipped(path) for path in write(name, bank, Path(folder))}


@lru_cache(maxsize=16)
def packages(name: str, locale: Locale = sampler.POINT) -> dict[str, dict[str, bytes]]:
    """Return the sampler's packages in *locale*, by name of quiz (``bank`` for the whole bank), unzipped."""
    with tempfile.TemporaryDirectory() as folder:
        return {path.stem: unzipped(path) for path in write(name, sampler.bank(locale), Path(folder))}
