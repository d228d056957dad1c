"""The audit before use: what it works out, the page, the tables, and the command."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from audit_pages import assert_sound
from bank import cli, difficulty
from bank.audit.before import BeforeUse, audit_before
from bank.audit.classes import chosen_class
from bank.decisions import Decision, add_decisions, file_beside
from bank.store import Bank
from bank.summary import BuildSummary, from_json, mistakes_of, to_json



@pytest.fixture(scope="module")
def audited(built: Path) -> tuple[BeforeUse, BuildSummary]:
    with Bank.open(built) as bank:
        return audit_before(bank, difficulty.load_weights(), chosen_class(None)), from_json(bank.summary)


@pytest.fixture(scope="module")
def written(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("audit")
    with Bank.open(built) as bank:
        item = bank.identifiers()[0]
    add_decisions(file_beside(built), [Decision("2027-02-08T09:30Z", "O. Maren", item, 1, "suspend", "<b>unclear</b>")])
    assert cli.main(["audit", str(built), "-o", str(folder)]) == 0
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_the_panel_run_again_finds_what_the_build_found(audited: tuple[BeforeUse, BuildSummary]) -> None:
    audit, summary = audited
    assert sorted(audit.panel) == sorted(summary.panel)


def test_the_checks_asked_again_find_what_the_build_found(audited: tuple[BeforeUse, BuildSummary]) -> None:
    audit, summary = audited
    assert sorted(audit.findings) == sorted(summary.findings)


def test_topics_and_bands_are_those_of_the_build(audited: tuple[BeforeUse, BuildSummary]) -> None:
    audit, summary = audited
    found = {(row.topic, band): count for row in audit.topics for band, count in zip(difficulty.BANDS, row.counts)}
    assert {pair: count for pair, count in found.items() if count} == {
        (topic, band): count for topic, band, count in summary.topic_bands
    }


def test_every_empty_corner_is_named_as_a_gap(audited: tuple[BeforeUse, BuildSummary]) -> None:
    audit, _ = audited
    for row in audit.topics:
        for band, count in zip(difficulty.BANDS, row.counts, strict=True):
            named = any(band in gap.what and row.topic.replace("-", " ") in gap.what for gap in audit.gaps)
            assert named or count


def test_mistakes_covered_are_those_behind_wrong_answers(audited: tuple[BeforeUse, BuildSummary]) -> None:
    audit, summary = audited
    assert tuple((row.identifier, row.offered + row.foreseen) for row in audit.mistakes) == summary.mistake_use


def test_the_page_is_sound_and_says_that_nothing_is_observed(written: Path) -> None:
    page = assert_sound((written / "audit.html").read_text(encoding="utf-8"))
    assert "predicted, not observed" in page.says
    assert "high stakes" in page.says and "local policy" in page.says
    assert "Invented scenario" in page.says
    assert "<b>unclear</b>" in page.says


def test_the_tables_have_a_row_an_item_and_an_answer(built: Path, written: Path) -> None:
    with Bank.open(built) as bank:
        items = list(bank.items())
        found = rows(written / "audit.csv")
        assert [row["item"] for row in found] == [item.identifier for item in items]
        offered = rows(written / "options.csv")
        assert {row["item"] for row in offered} == {item.identifier for item in items if any(mistakes_of(item))}
        chosen = [row for row in offered if row["item"] == items[0].identifier]
        assert [row["answer"] for row in chosen] == [option.numeral.text() for option in items[0].response.options]
    assert found[0]["decision"] == "suspend" and found[0]["decision_why"] == "<b>unclear</b>"
    for row in found:
        assert 0 < float(row["predicted_low_share"]) < float(row["predicted_high_share"]) < 1
        assert not any(name.startswith("observed") for name in row)


def test_suspended_items_are_named_on_the_terminal(
    built: Path, written: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(["audit", str(built), "-o", str(written), "--class", "revision"]) == 0
    told = capsys.readouterr().out
    assert "1 items are suspended or retired" in told
    assert "Predicted, not observed" in told


def test_deciding_writes_beside_the_bank_and_refuses_what_is_not_there(
    built: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Bank.open(built) as bank:
        item = bank.identifiers()[5]
    assert cli.main(["decide", str(built), item, "--revise", "--by", "O. Maren", "--why", "story too long"]) == 0
    assert item in file_beside(built).read_text(encoding="utf-8")
    assert cli.main(["decide", str(built), item[:-1], "--keep", "--by", "x", "--why", "y"]) == 2
    assert "did you mean" in capsys.readouterr().err


def test_a_bank_of_one_item_and_no_quiz_is_audited(tmp_path: Path) -> None:
    from bank.store import pack, write_bank
    from review_bank import make_bank

    made = make_bank(1)
    item = next(made.items())
    write_bank(tmp_path / "bank.sqlite", made.info, [item.family], [],
               [(item.identifier, item.family.template, item.prediction.band, pack(item))], to_json(BuildSummary()))
    assert cli.main(["audit", str(tmp_path / "bank.sqlite"), "-o", str(tmp_path / "out")]) == 2  # its item breaks a check
    assert_sound((tmp_path / "out" / "audit.html").read_text(encoding="utf-8"))


def test_an_error_in_an_item_that_is_retired_stops_nobody(tmp_path: Path) -> None:
    from bank.store import pack, write_bank
    from review_bank import make_bank

    made = make_bank(1)
    item = next(made.items())
    path, out = tmp_path / "bank.sqlite", ["-o", str(tmp_path / "out")]
    write_bank(path, made.info, [item.family], [],
               [(item.identifier, item.family.template, item.prediction.band, pack(item))], to_json(BuildSummary()))
    with Bank.open(path) as bank:
        found = audit_before(bank, difficulty.load_weights(), chosen_class(None)).findings
    assert [one.item for one in found if one.severity == "error"] == [item.identifier]
    assert cli.main(["audit", str(path), *out]) == 2
    assert cli.main(["decide", str(path), item.identifier, "--retire", "--by", "O. Maren", "--why", "wrong"]) == 0
    assert cli.main(["audit", str(path), *out]) == 0
