"""The track record of predictions: kept only when asked, read by the next audit, widening bands where it must."""

from __future__ import annotations

from pathlib import Path

import pytest
from audit_pages import assert_sound
from bank import cli
from bank.audit.calibration import Coverage
from bank.audit.track import Entry, add_entry, file_beside, read_record, widening
from bank.errors import BadInput

POOR = Coverage(40, 20, 0.35, 0.65, 1.6, 1.2, 30)
GOOD = Coverage(40, 33, 0.68, 0.91, 1.0, 0.1, 34)


def test_entries_come_back_and_saying_the_same_twice_changes_nothing(tmp_path: Path) -> None:
    path = file_beside(tmp_path / "bank.sqlite")
    add_entry(path, "2027-02-08", "week-01-sums", "some-weeks-after", 1, POOR, False)
    once = path.read_bytes()
    add_entry(path, "2027-02-08", "week-01-sums", "some-weeks-after", 1, POOR, False)
    assert path.read_bytes() == once
    assert read_record(path) == (
        Entry("2027-02-08", "week-01-sums", "some-weeks-after", 1, 40, 20, 1.6, 1.2, False),
    )


def test_the_latest_entry_of_this_class_and_these_weights_decides_and_simulated_ones_do_not(tmp_path: Path) -> None:
    path = tmp_path / "bank.predictions.csv"
    add_entry(path, "2027-02-08", "a", "some-weeks-after", 1, POOR, False)
    assert widening(read_record(path), "some-weeks-after", 1).factor == 1.6
    assert widening(read_record(path), "revision", 1) is None
    assert widening(read_record(path), "some-weeks-after", 2) is None
    add_entry(path, "2027-02-09", "b", "some-weeks-after", 1, POOR._replace(factor=9.0), True)
    assert widening(read_record(path), "some-weeks-after", 1).factor == 1.6
    add_entry(path, "2027-03-08", "a", "some-weeks-after", 1, GOOD, False)
    assert widening(read_record(path), "some-weeks-after", 1) is None


@pytest.mark.parametrize("text", ["", "date\r\n", "x,y\r\n1,2\r\n"])
def test_a_damaged_record_is_refused(tmp_path: Path, text: str) -> None:
    path = tmp_path / "bank.predictions.csv"
    path.write_text(text)
    with pytest.raises(BadInput) as caught:
        read_record(path)
    assert caught.value.problems[0].code == "record-damaged"


def test_the_audit_before_use_widens_its_bands_and_says_so(built: Path, tmp_path: Path) -> None:
    assert cli.main(["audit", str(built), "-o", str(tmp_path / "plain")]) == 0
    add_entry(file_beside(built), "2027-02-08", "week-01-sums", "some-weeks-after", 1, POOR, False)
    assert cli.main(["audit", str(built), "-o", str(tmp_path / "wide")]) == 0
    page = assert_sound((tmp_path / "wide" / "audit.html").read_text(encoding="utf-8"))
    assert "Bands are widened by 1.60" in page.says and "20 of 40 (35 to 65 %)" in page.says
    assert "Bands are widened" not in (tmp_path / "plain" / "audit.html").read_text(encoding="utf-8")


def test_nothing_is_put_on_record_unless_results_are_kept(built: Path, tmp_path: Path) -> None:
    results, salt = str(tmp_path / "results.csv"), str(tmp_path / "salt")
    file_beside(built).unlink(missing_ok=True)
    sample = ["sample", str(built), "--pupils", "30", "--seed", "3", "--quiz", "week-05-sums", "-o", results]
    assert cli.main(sample) == 0
    words = ["audit", str(built), "--results", results, "--salt", salt, "-o", str(tmp_path / "out")]
    assert cli.main(words) == 0
    assert not file_beside(built).exists()
    assert cli.main([*words, "--keep"]) == 0
    found = read_record(file_beside(built))
    assert len(found) == 1 and found[0].simulated and found[0].items > 10
