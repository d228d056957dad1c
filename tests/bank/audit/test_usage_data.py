"""Statistics out: valid usage data, and a table with what was withheld."""

from __future__ import annotations

import csv
import io
from datetime import date
from pathlib import Path

import pytest
import standards
from lxml import etree
from wanted import OFFICIAL_SCHEMAS, needs

from bank.audit.usage_data import NAMESPACES, Statistic, usage_data, write_statistics_table, write_usage_data

DAY = date(2027, 3, 1)
ROWS = [
    Statistic(quiz="week-1", name="alpha", value=0.71, low=0.5, high=0.85, n=40, convention="coefficient alpha"),
    Statistic(quiz="week-1", item="sum-v2-abc", version=2, name="facility", value=0.65, low=0.5, high=0.78, n=40),
    Statistic(
        quiz="week-1", item="sum-v2-abc", version=2, name="item-rest-r", value=None, n=12, why="under 30 answers",
    ),
    Statistic(quiz="week-1", item="sum-v2-abc", version=2, name="rasch-b", value=-0.4, standard_error=0.2, n=120),
    Statistic(quiz="week-1", item="sum-v2-abc", version=2, part="B", name="share", value=0.25, n=40),
    *[Statistic(quiz="week-1", item="sum-v2-abc", version=2, part="B", name="thirds", category=name, value=value, n=13)
      for name, value in (("lower", 0.5), ("middle", 0.25), ("upper", float("nan")))],
]
TYPED = ("47.7", "<p>45.54</p>", "A C", "1 2", "S1 T2", "", "(omitted)", "\x0c4\t5\n", "3,5 kg", 'say "5" & 6', "\ufffe")
"""Answers that are no options, some of them odd."""
ROWS += [
    Statistic(quiz="week-1", item="typed-v1-abc", version=1, part=part, offered=False, name=name, value=0.1, n=40, **more)
    for part in TYPED if part
    for name, more in (("share", {"low": 0.05, "high": 0.2}), ("share-by-third", {"category": "lower"}),
                       ("share-by-third", {"category": "upper"}))
]
SCHEMAS = {"3.0": "qtiv3p0/imsqti_usagedatav3p0_v1p0.xsd", "2.1": "qtiv2p1/imsqti_usagedata_v2p1.xsd"}


@pytest.mark.parametrize("version", NAMESPACES)
@pytest.mark.parametrize("simulated", [False, True])
def test_usage_data_are_valid_against_the_official_schema(version: str, simulated: bool, tmp_path: Path) -> None:
    folder = standards.folder()
    if folder is None:
        pytest.skip(needs(OFFICIAL_SCHEMAS))
    path = tmp_path / "u.xml"
    write_usage_data(path, ROWS, context="5a & 5b, spring", day=DAY, simulated=simulated, version=version)
    etree.XMLSchema(etree.parse(str(folder / SCHEMAS[version]))).assertValid(etree.parse(str(path)))


def test_every_value_says_n_context_date_and_version() -> None:
    root = etree.fromstring(usage_data(ROWS, context="5a", day=DAY).encode())
    names = [one.get("name") for one in root]
    assert names == [
        "alpha", "alpha-low", "alpha-high", "facility", "facility-low", "facility-high", "rasch-b", "share", "thirds",
        "share", "share-low", "share-high", "share-by-third-lower", "share-by-third-upper",
    ]
    for one in root:
        assert int(one.get("caseCount", "0")) and one.get("lastUpdated") == "2027-03-01"
        assert one.get("context", "").startswith("urn:stemwright:context:5a#quiz=week-1")
    facility = root[3]
    assert facility.get("context", "").endswith(";version=2")
    assert facility.findtext("{*}value") == "0.65" and root[6].get("stdError") == "0.2"
    assert [one.get("mapKey") for one in root[8].iter("{*}mapEntry")] == ["lower", "middle"]


def test_only_options_are_parts_and_typed_answers_are_keys_of_a_mapping() -> None:
    root = etree.fromstring(usage_data(ROWS, context="5a", day=DAY).encode())
    assert [one.get("partIdentifier") for one in root.iter("{*}targetObject") if one.get("partIdentifier")] == ["B"] * 2
    shares = root[9]
    assert shares.get("caseCount") == "40" and shares.find("{*}targetObject").get("objectType") == "item"
    keys = [one.get("mapKey") for one in shares.iter("{*}mapEntry")]
    assert len(keys) == len(set(keys)) == len([one for one in TYPED if one])
    assert keys[:4] == ["47.7", "<p>45.54</p>", "A C", "1 2"] and "\ufffd4 5 " in keys and 'say "5" & 6' in keys


def test_nothing_that_is_no_number_is_written(tmp_path: Path) -> None:
    text = usage_data(ROWS, context="5a", day=DAY)
    write_statistics_table(tmp_path / "s.csv", ROWS, context="5a", day=DAY)
    table = (tmp_path / "s.csv").read_text(encoding="utf-8")
    assert "nan" not in text.lower().replace("xsd/", "") and "nan" not in table.lower() and "None" not in text + table
    rows = list(csv.DictReader(io.StringIO(table)))
    assert [row["withheld"] for row in rows if row["statistic"] == "item-rest-r"] == ["under 30 answers"]
    assert len(rows) == len(ROWS) and all(row["n"] and row["date"] and row["context"] for row in rows)


def test_simulated_statistics_say_so(tmp_path: Path) -> None:
    assert "Simulated" in usage_data(ROWS, context="5a", day=DAY, simulated=True)
    write_statistics_table(tmp_path / "s.csv", ROWS, context="5a", day=DAY, simulated=True)
    assert (tmp_path / "s.csv").read_text(encoding="utf-8").count(",yes\n") == len(ROWS)
