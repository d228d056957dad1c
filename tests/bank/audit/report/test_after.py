"""The audit after use, of simulated results: on the page, in the tables, on the terminal; and where answers are few."""

from __future__ import annotations

import csv
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest
import standards
from audit_pages import Page, assert_sound
from bank import cli, difficulty
from bank.audit.after import AfterUse, audit_after, material_of, material_of_counts
from bank.audit.before import audit_before
from bank.audit.classes import chosen_class
from bank.decisions import Decision, add_decisions, file_beside
from bank.audit.report._flags import SHOWN_TEMPLATES, flag_groups, flag_lines, flag_rows
from bank.audit.report.after import terminal_lines, write_after
from bank.audit.report.pupils import write_pupils
from bank.audit.report.usage import write_usage
from bank.audit.counting.outcome import Counted
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED
from bank.audit.simulation import Settings, simulate
from bank.audit.statistics.aberrant import SetAside
from bank.store import Bank
from lxml import etree
from wanted import LIBRARIES, OFFICIAL_SCHEMAS, needs

pytestmark = pytest.mark.long

SCHEMAS = {"3.0": "qtiv3p0/imsqti_usagedatav3p0_v1p0.xsd", "2.1": "qtiv2p1/imsqti_usagedata_v2p1.xsd"}
QUIZZES = ("week-06-diagnosis", "week-07-graded", "week-05-mixed")


def audited(built: Path, pupils: int, folder: Path | None = None, **more: object) -> AfterUse:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        answers = simulate(bank, pupils=pupils, seed=11, quizzes=QUIZZES, **more).answers  # type: ignore[arg-type]
        audit = audit_after(before, bank, material_of(answers), least=min(pupils, 10))
        if folder is not None:
            write_after(audit, bank, (), folder, "2027-03-01")
        return audit


@pytest.fixture(scope="module")
def large(built: Path, tmp_path_factory: pytest.TempPathFactory) -> tuple[AfterUse, Path]:
    folder = tmp_path_factory.mktemp("large")
    return audited(built, 240, folder, groups=("north", "south", "hill")), folder


@pytest.fixture(scope="module")
def written(built: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Everything by commands: simulate, decide, audit."""
    folder = tmp_path_factory.mktemp("after")
    results, salt = folder / "results.csv", folder / "salt"
    quizzes = [word for quiz in QUIZZES for word in ("--quiz", quiz)]
    assert cli.main(["sample", str(built), "--pupils", "40", "--seed", "3", *quizzes, "-o", str(results)]) == 0
    with Bank.open(built) as bank:
        item = bank.quizzes[11].items[0]
    add_decisions(file_beside(built), [Decision("2027-02-08T09:30Z", "O. Maren", item, 1, "retire", "too wordy")])
    words = ["audit", str(built), "--results", str(results), "--salt", str(salt), "-o", str(folder), "--pupils"]
    assert cli.main(words) == 0
    return folder


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def page_of(folder: Path, name: str = "audit.html") -> Page:
    return assert_sound((folder / name).read_text(encoding="utf-8"))


def test_the_page_is_sound_and_says_that_the_answers_are_simulated(large: tuple[AfterUse, Path]) -> None:
    page = page_of(large[1])
    assert "Simulated results: no pupil gave these answers" in page.says
    assert "these answers fit the mistake" in page.says
    assert "High stakes" in page.says and "local policy decides" in page.says


def test_every_table_says_that_the_answers_are_simulated(large: tuple[AfterUse, Path]) -> None:
    for name in ("audit.csv", "options.csv", "mistakes.csv"):
        found = rows(large[1] / name)
        assert found and all(row["simulated"] == "yes" for row in found)


def test_predicted_and_observed_never_share_a_name(large: tuple[AfterUse, Path]) -> None:
    names = list(rows(large[1] / "audit.csv")[0])
    assert any(name.startswith("predicted_") for name in names) and any(name.startswith("observed_") for name in names)
    about_difficulty = [name for name in names if "share" in name or "rasch" in name or "facility" in name]
    assert all(name.startswith(("predicted_", "observed_")) for name in about_difficulty)


def test_observed_figures_are_those_of_the_statistics(large: tuple[AfterUse, Path]) -> None:
    audit, folder = large
    by_item = {(row["item"], row["quiz"]): row for row in rows(folder / "audit.csv")}
    for item in audit.items:
        row = by_item[item.item, item.quiz]
        assert item.statistics.facility.value is not None
        assert float(row["observed_facility"]) == pytest.approx(item.statistics.facility.value, rel=1e-5)
        if item.observed.value is not None:
            assert float(row["observed_rasch_b"]) == pytest.approx(item.observed.value, rel=1e-5)
        elif item.statistics.dichotomous:
            assert row["observed_rasch_b"] == "" and item.statistics.facility.value in (0, 1)
        else:
            assert row["observed_rasch_b"] == "" and "part marks" in row["withheld"]
        assert int(row["observed_n"]) == item.statistics.n
        assert row["observed_inside_predicted_band"] == ("yes" if item.predicted and item.predicted.is_inside else "no")


def test_every_item_of_the_bank_has_a_row_answered_or_not(built: Path, large: tuple[AfterUse, Path]) -> None:
    found = rows(large[1] / "audit.csv")
    with Bank.open(built) as bank:
        assert {row["item"] for row in found} == set(bank.identifiers())
    unanswered = [row for row in found if row["observed_n"] == "0"]
    assert unanswered and all(row["withheld"] for row in unanswered)


def test_only_items_outside_their_band_are_flagged_for_it(large: tuple[AfterUse, Path]) -> None:
    for item in large[0].items:
        flagged = any(flag.identifier == "outside-predicted-band" for flag in item.flags)
        assert item.predicted is not None and item.inside is item.predicted.is_inside
        assert not (flagged and item.inside)


def test_coverage_counts_what_the_page_draws(large: tuple[AfterUse, Path]) -> None:
    audit = large[0]
    assert audit.coverage is not None and audit.coverage.factor == 1.0
    assert audit.coverage.inside == sum(bool(item.predicted and item.predicted.is_inside) for item in audit.items)
    assert audit.coverage.items == len(audit.items)


def test_choices_of_an_item_sum_to_those_who_met_it(large: tuple[AfterUse, Path]) -> None:
    audit, folder = large
    given: dict[tuple[str, str], int] = {}
    for row in rows(folder / "options.csv"):
        given[row["item"], row["quiz"]] = given.get((row["item"], row["quiz"]), 0) + int(row["n"])
    assert given == {(item.item, item.quiz): item.statistics.n for item in audit.items}


def test_mistakes_by_group_sum_to_the_class(large: tuple[AfterUse, Path]) -> None:
    by_group: dict[str, dict[str, int]] = {}
    for row in rows(large[1] / "mistakes.csv"):
        by_group.setdefault(row["mistake"], {})[row["group"]] = int(row["shown"])
    for shown in by_group.values():
        assert sum(count for group, count in shown.items() if group) == shown[""]


def test_few_pupils_get_no_correlation_and_no_rasch_and_the_page_says_why(built: Path, tmp_path: Path) -> None:
    audit = audited(built, 25, tmp_path)
    assert all(item.rest_r.value is None and item.observed.value is None for item in audit.items)
    assert all(item.statistics.facility.value is not None for item in audit.items)
    page = page_of(tmp_path)
    assert "25 of the 30 pupils needed" in page.says and "25 of the 100 pupils needed" in page.says
    for row in rows(tmp_path / "audit.csv"):
        assert row["observed_item_rest_r"] == "" and row["observed_rasch_b"] == "" and row["withheld"]


def test_small_groups_are_withheld_and_so_is_what_would_give_them_away(built: Path, tmp_path: Path) -> None:
    audit = audited(built, 33, tmp_path, groups=("a", "b", "c", "d", "e", "f"))
    assert audit.groups == () and audit.withheld == 6
    assert {row["group"] for row in rows(tmp_path / "mistakes.csv")} == {""}


def test_one_pupil_is_audited_without_a_not_a_number(built: Path, tmp_path: Path) -> None:
    audited(built, 1, tmp_path)
    page_of(tmp_path)


def test_commands_lead_from_simulated_results_to_a_page_with_the_decision(written: Path) -> None:
    page = page_of(written)
    assert "too wordy" in page.says and "suspended or retired items were used" in page.says


def test_the_teachers_file_names_pseudonyms_only_and_is_cautious(written: Path) -> None:
    text = (written / "pupils.html").read_text(encoding="utf-8")
    page = Page(text)
    assert not page.open and not page.unclosed
    assert "For the teacher of these pupils only" in page.says and "Simulated results" in page.says
    assert "pupil-0" not in text
    found = rows(written / "pupils.csv")
    assert found and not any(row["pupil"].startswith("pupil-") for row in found)
    for row in found:
        assert int(row["shown"]) <= int(row["possible"])
        assert float(row["share_low"]) <= int(row["shown"]) / int(row["possible"]) <= float(row["share_high"])


def test_without_the_wish_nothing_of_single_pupils_is_written(large: tuple[AfterUse, Path]) -> None:
    names = sorted(path.name for path in large[1].iterdir())
    assert names == ["audit.csv", "audit.html", "mistakes.csv", "options.csv"]


def test_so_few_pupils_are_refused_with_what_to_do(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    results, salt, out = (str(tmp_path / name) for name in ("results.csv", "salt", "out"))
    assert cli.main(["sample", str(built), "--pupils", "6", "--seed", "3", "--quiz", QUIZZES[0], "-o", results]) == 0
    words = ["audit", str(built), "--results", results, "--salt", salt, "-o", out]
    assert cli.main(words) == 2
    assert "--least" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert cli.main([*words, "--least", "5"]) == 0


def test_counts_alone_give_the_same_figures_but_none_of_single_pupils(built: Path, tmp_path: Path) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        plain = Settings(omitted=0.0, slow_share=0.0)
        answers = simulate(bank, pupils=150, seed=11, quizzes=QUIZZES, groups=("a", "b", "c"), settings=plain).answers
        whole = material_of(answers)
        counted = Counted(counts=whole.counts, answers=answers.rows)
        one, two = (audit_after(before, bank, made) for made in (whole, material_of_counts(counted, True)))
        write_after(two, bank, (), tmp_path, "2027-03-01")
    assert [form.statistics for form in one.forms] == [form.statistics for form in two.forms]
    for mine, other in zip(one.items, two.items, strict=True):
        if other.observed.value is None:  # a form with part marks needs the answers themselves
            assert mine.observed.why == other.observed.why or "from counts alone" in other.observed.why
        else:
            assert other.observed.value == pytest.approx(mine.observed.value, abs=1e-5)
    assert any(other.observed.value is not None for other in two.items)
    assert one.groups == two.groups and one.coverage == two.coverage
    assert {(row.mistake, row.group): row.shown for row in one.classes} == {
        (row.mistake, row.group): row.shown for row in two.classes
    }
    assert two.explained.pupils == () and all(row.pupils == 0 for row in two.classes)
    assert "single pupils are not known here" in page_of(tmp_path).says


def test_an_engine_counts_files_for_the_same_report_and_it_says_that_they_are_simulated(
    built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    pytest.importorskip("duckdb", reason=needs(LIBRARIES))
    results = str(tmp_path / "results.csv")
    assert cli.main(["sample", str(built), "--pupils", "45", "--seed", "3", "--quiz", QUIZZES[0], "-o", results]) == 0
    words = ["audit", str(built), "--results", results]
    assert cli.main([*words, "--engine", "duckdb:", "-o", str(tmp_path / "engine")]) == 0
    assert "SIMULATED RESULTS" in capsys.readouterr().out
    assert cli.main([*words, "--salt", str(tmp_path / "salt"), "-o", str(tmp_path / "memory")]) == 0
    one, two = (rows(tmp_path / name / "audit.csv") for name in ("engine", "memory"))
    assert [(row["item"], row["observed_facility"], row["observed_item_rest_r"]) for row in one] == [
        (row["item"], row["observed_facility"], row["observed_item_rest_r"]) for row in two
    ]


def test_an_engine_that_is_not_there_is_refused(built: Path, tmp_path: Path) -> None:
    assert cli.main(["audit", str(built), "--engine", "oracle:", "-o", str(tmp_path / "out")]) == 2
    assert cli.main(["audit", str(built), "--engine", f"sqlite:{tmp_path}/none.db", "-o", str(tmp_path / "out")]) == 2
    assert not (tmp_path / "out").exists()


def test_statistics_go_out_as_usage_data_and_as_a_table(large: tuple[AfterUse, Path], tmp_path: Path) -> None:
    audit, _ = large
    paths = write_usage(audit, tmp_path, "3.0", date(2027, 3, 1))
    document = etree.parse(paths[0]).getroot()
    facilities = document.xpath("//*[local-name()='ordinaryStatistic'][@name='facility']")
    assert len(facilities) == len(audit.items)
    assert "Simulated" in paths[0].read_text(encoding="utf-8")
    found = rows(paths[1])
    names = {row["statistic"] for row in found}
    assert names >= {"alpha", "facility", "item-rest-r", "rasch-b", "share", "share-by-third"}
    assert all(row["value"] or row["withheld"] for row in found)
    assert all(row["n"] and row["context"] and row["date"] == "2027-03-01" for row in found)


@pytest.mark.parametrize("version", ["2.1", "3.0"])
def test_usage_data_name_options_only_and_are_valid_with_typed_items(
    large: tuple[AfterUse, Path], tmp_path: Path, version: str
) -> None:
    audit, _ = large
    document = etree.parse(write_usage(audit, tmp_path, version, date(2027, 3, 1))[0])
    letters = {item.item: {*item.facts.letters, "omitted"} for item in audit.items if item.facts and item.facts.letters}
    typed = {item.item for item in audit.items} - set(letters)
    parts = [one for one in document.iter("{*}targetObject") if one.get("partIdentifier")]
    assert parts and all(one.get("partIdentifier") in letters[one.get("identifier")] for one in parts)
    mapped = {one.find("{*}targetObject").get("identifier") for one in document.iter("{*}categorizedStatistic")
              if one.get("name") == "share"}
    assert typed and mapped == typed
    folder = standards.folder()
    if folder is None:
        pytest.skip(needs(OFFICIAL_SCHEMAS))
    etree.XMLSchema(etree.parse(str(folder / SCHEMAS[version]))).assertValid(document)


def test_a_wrong_key_is_the_first_thing_that_page_and_terminal_say(built: Path, tmp_path: Path) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        answers = simulate(bank, pupils=240, seed=2, quizzes=QUIZZES[1:2]).answers
        form = answers.forms[0].form
        place = next(k for k, found in enumerate(form.responses) if found[0] in "ABCD" and len(found) >= 4)
        swapped = (0, 1000, *form.credits[place][2:])
        credits = (*form.credits[:place], swapped, *form.credits[place + 1:])
        wrong = replace(answers, forms=(replace(answers.forms[0], form=replace(form, credits=credits)),))
        audit = audit_after(before, bank, material_of(wrong))
        write_after(audit, bank, (), tmp_path, "2027-03-01")
        lines = [line for line in terminal_lines(audit, {}) if line.startswith("!")]
    assert form.items[place] in lines[0] and "Check the key" in lines[0]
    assert flag_rows(audit)[0].item == form.items[place] and flag_rows(audit)[0].alarm
    page = page_of(tmp_path)
    assert "check the key before anything else" in page.says
    assert page.says.index("wrong key?") < page.says.index("hard for its use")


def test_no_sign_of_a_wrong_key_is_said_only_of_what_was_tested(built: Path, tmp_path: Path) -> None:
    def looks(pupils: int, least: int) -> list[str]:
        with Bank.open(built) as bank:
            before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
            answers = simulate(bank, pupils=pupils, seed=4, quizzes=QUIZZES[1:2]).answers
            audit = audit_after(before, bank, material_of(answers), least=least)
            write_after(audit, bank, (), tmp_path, "2027-03-01")
            assert "No answer raises the alarm" not in page_of(tmp_path).says
            return [line for line in terminal_lines(audit, {}) if "key" in line.lower() and "raise" not in line]

    assert looks(60, 10)[0] == "+ No sign of a wrong key in the 16 items tested, of 16"
    found = looks(20, 10)
    assert found[0] == "+ No sign of a wrong key in the 16 items tested, of 16"
    assert "16 of these keys were tested roughly" in found[1] and "fewer than 50 pupils" in found[1]
    found = looks(7, 5)
    assert "! Keys of 16 of 16 items not tested: too few pupils (6 to 7, 10 needed)" in found
    assert not any("No sign" in line for line in found)


def test_pupils_who_answer_in_one_letter_are_set_aside_aloud_and_counted_again_when_asked(
    built: Path, tmp_path: Path
) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        answers = simulate(bank, pupils=60, seed=4, quizzes=QUIZZES[1:2]).answers
        form = answers.forms[0]
        letters = {one.identifier: one.letters for one in before.items if one.letters}
        codes = form.codes.copy()
        for place, (item, names) in enumerate(zip(form.form.items, form.form.responses, strict=True)):
            if item in letters:
                codes[:6, place] = names.index("A")
        codes[6, 1:] = OMITTED
        material = material_of(replace(answers, forms=(replace(form, codes=codes),)))
        assert sum(item in letters for item in form.form.items) >= 7
        audit = audit_after(before, bank, material)
        everyone = audit_after(before, bank, replace(material, set_aside=()))
        honest = audit_after(before, bank, material_of(replace(answers, forms=(
            replace(form, pupils=form.pupils[7:], codes=form.codes[7:], groups=form.groups[7:],
                    milliseconds=form.milliseconds[7:]),))))
        write_after(audit, bank, (), tmp_path, "2027-03-01")
        first = next(line for line in terminal_lines(audit, {}) if line.startswith(("+", "!")))
    assert [(one.alike, one.blank, one.pupils) for one in audit.set_aside] == [(6, 1, 60)]
    assert [item.statistics for item in audit.items] == [item.statistics for item in honest.items]
    assert everyone.set_aside == () and everyone.forms[0].statistics.persons == 60
    assert "Set aside: the answers of 7 pupils" in first and "--count-unusual" in first
    assert "6 in one letter, one answer or one pattern, 1 nearly all blank" in first
    assert "7 of 60 pupils" in page_of(tmp_path).says


def test_who_is_set_aside_in_two_quizzes_is_not_called_two_pupils() -> None:
    told = [
        list(flag_lines(cast(AfterUse, SimpleNamespace(
            items=(), forms=(), set_aside=tuple(SetAside(quiz=quiz, pupils=30, blank=n) for quiz, n in blank.items()),
        ))))
        for blank in ({"one": 1, "two": 1}, {"one": 2, "two": 0})
    ]
    assert told[0][0][1].startswith("Set aside: 2 sets of answers to 2 quizzes, a pupil counted once in each quiz")
    assert told[1][0][1].startswith("Set aside: the answers of 2 pupils to a quiz (2 nearly all blank)")


def test_the_command_sets_aside_and_counts_again(built: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    results, out = tmp_path / "results.csv", tmp_path / "out"
    words = ["sample", str(built), "--pupils", "30", "--seed", "3", "--quiz", QUIZZES[0], "-o", str(results)]
    assert cli.main(words) == 0
    with results.open(encoding="utf-8", newline="") as file:
        table = list(csv.DictReader(file))
    lazy = table[0]["pupil"]
    for number, row in enumerate(row for row in table if row["pupil"] == lazy):
        row.update(response=row["response"] if number == 0 else "", status="" if number == 0 else "omitted", score="")
    with results.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(table[0]))
        writer.writeheader()
        writer.writerows(table)
    words = ["audit", str(built), "--results", str(results), "--salt", str(tmp_path / "salt"), "-o", str(out)]
    for more, pupils in (([], 29), (["--count-unusual"], 30)):
        assert cli.main([*words, *more]) == 0
        assert ("Set aside: the answers of 1 pupil" in capsys.readouterr().out) is not bool(more)
        answered = [row for row in rows(out / "audit.csv") if row["quiz"] == QUIZZES[0]]
        assert max(int(row["observed_n"]) for row in answered) == pupils


def test_flags_of_use_are_grouped_by_template_and_capped(built: Path, tmp_path: Path) -> None:
    # Items that differ widely: some are then far too hard, whatever the ids lead the draws to.
    audit, folder = audited(built, 240, tmp_path, settings=Settings(item_deviation=2.0)), tmp_path
    wanted = [flag for item in audit.items for flag in item.flags if flag.identifier == "too-hard"]
    group = next(one for one in flag_groups(flag_rows(audit)) if one.name == "hard for its use")
    assert len({row.template for row in group.rows}) == len(group.rows) <= SHOWN_TEMPLATES
    assert group.count == len(wanted) == group.left + sum(1 + row.more for row in group.rows)
    assert group.rows[0].item == max(wanted, key=lambda flag: flag.weight).item
    line = next(words for words in terminal_lines(audit, {}) if "items to look at" in words or "When and where" in words)
    assert "hard for its use" not in line or line.startswith("! When and where to use items")
    assert "more of" in page_of(folder).says or all(row.more == 0 for row in group.rows)


def test_groups_are_compared_only_when_asked_and_flags_are_for_review(built: Path, tmp_path: Path) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        answers = simulate(bank, pupils=700, seed=2, quizzes=QUIZZES[1:2], groups=("a", "b")).answers
        plain = audit_after(before, bank, material_of(answers))
        audit = audit_after(before, bank, material_of(answers), compare=("a", "b"))
        write_after(audit, bank, (), tmp_path, "2027-03-01")
    assert plain.groups_compared == ()
    assert {one.item for one in audit.groups_compared[0].items} == {item.item for item in audit.items}
    assert any(one.letter for one in audit.groups_compared[0].items)
    says = page_of(tmp_path).says
    assert "never a verdict of bias" in says and "is not \u201cnone\u201d" in says


def test_practice_is_not_judged_as_a_graded_test(large: tuple[AfterUse, Path]) -> None:
    for form in large[0].forms:
        kinds = {flag.identifier for item in form.items for flag in item.flags}
        if form.use == "practice":
            assert not kinds & {"too-easy", "poor-discrimination", "exposure"}


def test_thresholds_of_ones_own_are_used_and_shown(built: Path, tmp_path: Path) -> None:
    settings = tmp_path / "own.yaml"
    settings.write_text(
        "audit: thresholds\nthresholds:\n  too_hard_practice: {value: 0.99, basis: local, source: Our school.}\n"
    )
    results = str(tmp_path / "results.csv")
    assert cli.main(["sample", str(built), "--pupils", "120", "--seed", "3", "--quiz", QUIZZES[2], "-o", results]) == 0
    words = ["audit", str(built), "--results", results, "--salt", str(tmp_path / "salt"), "-o", str(tmp_path)]
    assert cli.main([*words, "--settings", str(settings)]) == 0
    page = page_of(tmp_path)
    assert "Our school." in page.says and "set locally" in page.says
    answered = [row for row in rows(tmp_path / "audit.csv") if row["observed_n"] != "0"]
    assert len(answered) > 10 and all("too-hard" in row["flags"] for row in answered)


def test_items_that_changed_since_an_earlier_use_are_flagged(built: Path, tmp_path: Path) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        alike = Settings(item_deviation=0.0, held_from=1e-9, held_to=1e-9)
        now, again = (simulate(bank, pupils=150, seed=seed, quizzes=QUIZZES[:1], settings=alike) for seed in (2, 3))
        same = material_of(again.answers).counts
        form = now.answers.forms[0]
        hardest = int(np.argmin([(form.codes[:, place] == 0).mean() for place in range(form.codes.shape[1])]))
        known, better = form.codes.copy(), form.codes.copy()
        known[known[:, hardest] >= 0, hardest] = 0
        better[::2] = np.where(better[::2] >= 0, 0, better[::2])
        one, all_alike = (
            material_of(replace(now.answers, forms=(replace(form, codes=codes.astype(np.int16)),))).counts
            for codes in (known, better)
        )
        audits = [
            audit_after(before, bank, material_of(now.answers), earlier=earlier)
            for earlier in ((), same, all_alike, one)
        ]
        write_after(audits[3], bank, (), tmp_path, "2027-03-01")
        few = audit_after(before, bank, material_of(now.answers), earlier=material_of(
            simulate(bank, pupils=20, seed=3, quizzes=QUIZZES[:1]).answers).counts)
    found = [
        [item.item for item in audit.items if any(flag.identifier == "drift" for flag in item.flags)]
        for audit in audits
    ]
    assert found[:2] == [[], []] and len(found[2]) <= 1, "a class that is better at everything is no drift"
    assert found[3] == [form.form.items[hardest]]
    assert audits[0].earlier == () and audits[2].earlier == QUIZZES[:1]
    assert "The change of the class as a whole is taken off" in page_of(tmp_path).says
    assert any("Not tested: changes of week-06-diagnosis" in words and "30 answers" in words
               for words in few.withheld_words)


@pytest.mark.parametrize("pupils", [1, 12, 130])
@pytest.mark.parametrize("way", [
    "all right", "all wrong", "all omitted", "one item", "nobody came to the end", "not given",
])
def test_odd_results_give_a_sound_page_and_no_figure_that_is_none(
    built: Path, tmp_path: Path, way: str, pupils: int
) -> None:
    with Bank.open(built) as bank:
        before = audit_before(bank, difficulty.load_weights(), chosen_class(None))
        answers = simulate(bank, pupils=pupils, seed=2, quizzes=QUIZZES[2:]).answers
        given = answers.forms[0]
        codes, form = given.codes.copy(), given.form
        if way == "all right":
            codes[:] = 0
        elif way == "all wrong":
            codes[:] = 1
        elif way == "all omitted":
            codes[:] = OMITTED
        elif way == "not given":
            codes[:, ::2] = NOT_GIVEN
        elif way == "nobody came to the end":
            codes[:, 4] = OMITTED
            codes[:, 5:] = NOT_REACHED
        else:
            codes = codes[:, :1]
            form = replace(form, items=form.items[:1], versions=form.versions[:1], responses=form.responses[:1],
                           credits=form.credits[:1])
        odd = replace(answers, forms=(replace(given, codes=codes, form=form, milliseconds=None),))
        audit = audit_after(before, bank, material_of(odd), least=1)
        write_after(audit, bank, (), tmp_path, "2027-03-01")
        write_pupils(audit, bank, odd, tmp_path, "2027-03-01")
        write_usage(audit, tmp_path, "3.0", date(2027, 3, 1))
        assert list(terminal_lines(audit, {}))
    text = (tmp_path / "audit.html").read_text(encoding="utf-8")
    page = Page(text)
    assert not page.open and not page.unclosed
    for path in tmp_path.iterdir():
        words = path.read_text(encoding="utf-8").lower().replace("xsd/", "")
        assert not re.search(r"\bnan\b|\binf\b", words), path.name
