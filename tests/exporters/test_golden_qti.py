"""The sampler's packages, file by file, against the golden folders; ``--accept`` writes them anew."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

import sampler
from bank.model import Locale
from exported import GERMAN, QTI, kind_packages, packages, unprinted

GOLDEN = Path(__file__).parent / "golden"
FOLDERS = [(name, name, sampler.POINT) for name in QTI] + [("qti30-comma", "qti30", sampler.EITHER)]


SPELLED = ("items/add-01", "items/subtract-03", "items/divide-08")
"""Items of which the 2.x versions are kept: one of each kind, for the rest is the same in another spelling."""


def shown(files: dict[str, dict[str, bytes]], folder: str) -> dict[str, bytes]:
    """Return what of the packages lies in the golden *folder*: each different file once."""
    kept = {}
    for package, content in files.items():
        for name, data in content.items():
            again = name.startswith("items/") and package != "bank" and data == files["bank"].get(name)
            if folder == "qti30-comma":
                wanted = package == "bank" and (b"text-entry" in data or name.startswith("items/divide"))
            else:
                wanted = folder == "qti30" or not name.startswith("items/") or name.startswith(SPELLED)
            if wanted and not again:
                kept[f"{package}/{name}"] = data
    return kept


KINDS = {
    "qti30": "", "qti21": "items/(several|order|pairs|find-typed)-parts|items/inline", "qti22": "items/find-typed-parts",
    "qti30-german": "items/(several|find-typed)-parts",
}  # fmt: skip
"""By version, which items of the further kinds are kept: all of 3.0; of 2.x what is not just another spelling."""


@pytest.mark.parametrize(("folder", "name", "locale"), FOLDERS, ids=[folder for folder, _, _ in FOLDERS])
def test_the_packages_are_the_golden_ones(folder: str, name: str, locale: Locale, accept: bool) -> None:
    compare(GOLDEN / folder, shown(packages(name, locale), folder), accept)


@pytest.mark.parametrize("folder", KINDS)
def test_items_of_the_further_kinds_are_the_golden_ones(folder: str, accept: bool) -> None:
    locale = GERMAN if folder.endswith("german") else sampler.POINT
    files = kind_packages(folder.partition("-")[0], locale)
    kept = {f"bank/{name}": data for name, data in files["bank"].items() if re.match(KINDS[folder] or "items/", name)}
    if folder == "qti30":
        kept |= {f"graded/{name}": data for name, data in files["graded"].items()
                 if re.match("items/(several|find-typed)-parts|graded", name)}  # fmt: skip
    compare(GOLDEN / "kinds" / folder, kept, accept)


def compare(place: Path, found: dict[str, bytes], accept: bool) -> None:
    """Hold the files *found* to those that lie at *place*, or where asked write them there."""
    found = {file: unprinted(data) for file, data in found.items()}
    if accept:
        for old in place.rglob("*.xml"):
            old.unlink()
        for file, data in found.items():
            (place / file).parent.mkdir(parents=True, exist_ok=True)
            (place / file).write_bytes(data)
    golden = {old.relative_to(place).as_posix(): old for old in place.rglob("*.xml")}
    assert sorted(found) == sorted(golden)
    for file, data in found.items():
        assert data.decode() == golden[file].read_text(encoding="utf-8"), file
