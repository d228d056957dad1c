"""Simulated results: the same for the same seed, marked, valid, and with what was put in."""

from __future__ import annotations

import csv
import io
import zipfile
from pathlib import Path

import numpy as np
import pytest
import standards
from items import POINT
from lxml import etree
from results_bank import QUIZ, bank_of_kinds, bank_path, every_kind
from wanted import OFFICIAL_SCHEMAS, needs

from bank.audit.marking import FULL, Marker
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED
from bank.audit.simulation import FORMS, Settings, Simulation, simulate, write_results, write_truth
from bank.audit.simulation._ways import ways
from bank.errors import BadInput
from bank.store import Bank


def simulated(pupils: int = 60, seed: int = 5, **more: object) -> Simulation:
    with Bank.open(bank_path()) as bank:
        return simulate(bank, pupils=pupils, seed=seed, **more)  # type: ignore[arg-type]


def test_the_same_seed_gives_the_same_answers_and_another_does_not() -> None:
    one, same, other = simulated(), simulated(), simulated(seed=6)
    for first, second, third in zip(one.answers.forms, same.answers.forms, other.answers.forms):
        assert np.array_equal(first.codes, second.codes)
        assert not np.array_equal(first.codes, third.codes)


@pytest.mark.parametrize("kind", every_kind())
def test_every_kind_of_response_can_be_simulated(kind: str) -> None:
    item = every_kind()[kind]
    found = ways(item, POINT)
    marker = Marker(item, POINT)
    assert found.answers[0].credit == FULL and all(one.credit < FULL for one in found.answers[1:])
    assert found.slips and (found.by_mistake or kind == "several, each")
    for answer, spellings in zip(found.answers, found.spellings):
        assert spellings and all(marker.mark(text) == answer for text in spellings)


def test_held_mistakes_lead_to_their_answers_far_more_often_in_those_who_hold_them() -> None:
    made = simulated(pupils=2_000)
    shown, by_others = [], []
    with Bank.open(bank_path()) as bank:
        items = {item.identifier: item for item in bank.items(solutions=False)}
    for form in made.answers.forms:
        for place, name in enumerate(form.form.items):
            for mistake, code in ways(items[name], POINT).by_mistake:
                stable = made.truth.held[:, made.truth.mistakes.index(mistake)] == 2
                others = made.truth.held[:, made.truth.mistakes.index(mistake)] == 0
                given = form.codes[:, place] == code
                shown.append(given[stable].mean())
                by_others.append(given[others].mean())
    assert np.mean(shown) > 0.6 > 0.2 > np.mean(by_others)
    assert all(one > 2 * other for one, other in zip(shown, by_others))


def test_able_pupils_are_right_more_often() -> None:
    made = simulated(pupils=1_000)
    able = made.truth.abilities > np.median(made.truth.abilities)
    for form in made.answers.forms:
        right = form.codes == 0
        assert right[able].mean() > right[~able].mean() + 0.1


def test_gaps_at_the_end_are_one_omitted_and_the_others_not_reached() -> None:
    made = simulated(pupils=500, settings=Settings(slow_share=0.5, omitted=0.1, not_given=0.1))
    seen = 0
    for form in made.answers.forms:
        for row in form.codes.tolist():
            given = [code for code in row if code != NOT_GIVEN]
            while given and given[-1] == NOT_REACHED:
                given.pop()
                seen += 1
            assert NOT_REACHED not in given
            if seen and len(given) > 1 and given[-1] == OMITTED:
                assert given[-2] != NOT_REACHED
    assert seen > 50


def test_the_long_table_says_what_was_simulated(tmp_path: Path) -> None:
    made = simulated(groups=("5a", "5b"))
    write_results(made, tmp_path / "s.csv", "long")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "s.csv").read_text(encoding="utf-8"))))
    assert len(rows) == 60 * sum(len(form.form.items) for form in made.answers.forms)
    assert {row["simulated"] for row in rows} == {"yes"} and {row["group"] for row in rows} == {"5a", "5b"}
    assert all(bool(row["response"]) != bool(row["status"]) for row in rows)
    assert any(row["score"] == "0" for row in rows) and any(row["score"] == "1" for row in rows)


@pytest.mark.parametrize(("form", "schema"), [
    ("qti30", "qtiv3p0/imsqti_resultv3p0_v1p0.xsd"), ("qti22", "qtiv2p2/imsqti_result_v2p2.xsd"),
    ("qti21", "qtiv2p1/imsqti_result_v2p1.xsd"),
])
def test_result_files_are_valid_against_the_official_schema(form: str, schema: str, tmp_path: Path) -> None:
    folder = standards.folder()
    if folder is None:
        pytest.skip(needs(OFFICIAL_SCHEMAS))
    with Bank.open(bank_of_kinds()) as bank:
        made = simulate(bank, pupils=8, seed=1, groups=("5a", "5b"), settings=Settings(slow_share=0.5, omitted=0.2))
    write_results(made, tmp_path / "s.zip", form)
    valid = etree.XMLSchema(etree.parse(str(folder / schema)))
    with zipfile.ZipFile(tmp_path / "s.zip") as packed:
        assert len(packed.namelist()) == 8 * len(made.answers.forms)
        for name in packed.namelist():
            content = packed.read(name)
            valid.assertValid(etree.fromstring(content))
            assert b"Simulated" in content and b"urn:stemwright:simulated" in content


@pytest.mark.parametrize("form", FORMS)
def test_files_are_the_same_bytes_for_the_same_seed(form: str, tmp_path: Path) -> None:
    for name in ("one", "two"):
        write_results(simulated(pupils=5), tmp_path / name, form)
    assert (tmp_path / "one").read_bytes() == (tmp_path / "two").read_bytes()


def test_the_truth_names_abilities_difficulties_and_held_mistakes(tmp_path: Path) -> None:
    made = simulated(pupils=40)
    write_truth(made, tmp_path / "truth.csv")
    rows = list(csv.DictReader(io.StringIO((tmp_path / "truth.csv").read_text(encoding="utf-8"))))
    kinds = {kind: sum(row["kind"] == kind for row in rows) for kind in ("ability", "difficulty", "holds")}
    assert kinds == {"ability": 40, "difficulty": 10, "holds": int((made.truth.held > 0).sum())} and kinds["holds"]


def test_an_unknown_quiz_and_an_odd_number_of_pupils_are_refused() -> None:
    for more, code in (({"quizzes": ["week-9"]}, "quiz-unknown"), ({"pupils": 0}, "pupils-out-of-range")):
        with pytest.raises(BadInput) as refused:
            simulated(**more)  # type: ignore[arg-type]
        assert refused.value.problems[0].code == code


def test_only_the_quizzes_that_were_asked_for_are_answered() -> None:
    assert [form.form.quiz for form in simulated(quizzes=[QUIZ]).answers.forms] == [QUIZ]
