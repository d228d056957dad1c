"""Our own profiles: they take what the exporters write and refuse every damage of the case file."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
import yaml

import sampler
from exported import GERMAN, QTI, packages, spelled, version
from exporters._faults import ExportFault
from exporters._profile import Profile
from exporters._qti import MANIFEST, Version

DAMAGES: list[dict[str, Any]] = yaml.safe_load((Path(__file__).parent / "cases/damages.yaml").read_text("utf-8"))
FILES = {
    "choice": "items/add-01.v1-s1.xml", "typed": "items/subtract-03.v1-s3.xml", "test": "week-03-b.xml",
    "manifest": MANIFEST,
}  # fmt: skip


def part(file: str) -> str:
    """Return which profile a file of a package has."""
    return "manifest" if file == MANIFEST else "item" if file.startswith("items/") else "test"


def original(name: str, of: str) -> str:
    """Return the file that a case damages."""
    package = "bank" if of in ("choice", "typed") else "week-03-b"
    return packages(name)[package][FILES[of]].decode()


def damaged(case: dict[str, Any], record: Version, text: str) -> str:
    """Return *text* with the damage done once."""
    def said(markup: str) -> str:
        return (markup if case["of"] == "manifest" else spelled(record, markup)).replace("NAMESPACE", record.namespace)

    old = said(case["from"])
    start = text.index(old)
    end = start + len(old)
    if "until" in case:
        until = said(case["until"])
        end = text.index(until, end) + len(until)
    return text[:start] + said(case["to"]) + text[end:]


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("locale", [sampler.POINT, sampler.EITHER, GERMAN], ids=lambda locale: locale.identifier)
def test_every_file_that_is_written_follows_its_profile(name: str, locale: Any) -> None:
    profiles = {part: Profile(version(name), part) for part in ("item", "test", "manifest")}
    for files in packages(name, locale).values():
        for file, content in files.items():
            profiles[part(file)].check(content, file)


@pytest.mark.parametrize("name", QTI)
@pytest.mark.parametrize("case", DAMAGES, ids=[case["damage"] for case in DAMAGES])
def test_a_damaged_file_is_refused(name: str, case: dict[str, Any]) -> None:
    record, text = version(name), original(name, case["of"])
    profile = Profile(record, part(FILES[case["of"]]))
    profile.check(text.encode(), "as written")
    with pytest.raises(ExportFault, match=r"does not follow|no XML"):
        profile.check(damaged(case, record, text).encode(), "damaged")


def test_a_test_tells_in_its_own_language_what_is_allowed() -> None:
    quiz = packages("qti30", GERMAN)["week-02-test"]["week-02-test.xml"]
    assert b'xml:lang="en"><qti-content-body><p>You may use a calculator.' in quiz


def test_there_are_enough_damages_of_each_kind() -> None:
    kinds = [case["of"] for case in DAMAGES]
    assert len(DAMAGES) >= 40 and min(kinds.count(kind) for kind in FILES) >= 5
