"""QTI results: attempts, gaps, times, groups, keys and places of documents."""

from __future__ import annotations

import zipfile
from pathlib import Path

import pytest
from items import POINT
from results_bank import QUIZ, bank_of_kinds, bank_path

from bank.audit.pseudonyms import Salt
from bank.audit.reading import read_results
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Answers
from bank.model import FindMistake
from bank.store import Bank

SALT = Salt(key=b"only for tests, of no secrecy at all")
SPACE = "http://www.imsglobal.org/xsd/imsqti_result_v{}"


def items() -> tuple[str, ...]:
    with Bank.open(bank_path()) as bank:
        return next(one.items for one in bank.quizzes if one.identifier == QUIZ)


def variable(name: str, *values: str, more: str = "", kind: str = "single") -> str:
    shown = "".join([f"<value>{value}</value>" for value in values])
    return (f'<responseVariable identifier="{name}" cardinality="{kind}" {more}>'
            f"<candidateResponse>{shown}</candidateResponse></responseVariable>")


def item_result(place: int, *variables: str, date: str = "2027-02-01T09:00:00", status: str = "final") -> str:
    return (f'<itemResult identifier="{items()[place]}" datestamp="{date}" sessionStatus="{status}">'
            + "".join(variables) + "</itemResult>")


def document(*results: str, pupil: str = "P1", quiz: str = QUIZ, date: str = "2027-02-01T09:00:00",
             version: str = "3p0", session: str = "") -> str:
    test = f'<testResult identifier="{quiz}" datestamp="{date}"/>' if quiz else ""
    return (f'<assessmentResult xmlns="{SPACE.format(version)}"><context sourcedId="{pupil}">{session}</context>{test}'
            + "".join(results) + "</assessmentResult>")


def read(folder: Path, *texts: str, **more: str) -> Answers:
    for number, text in enumerate(texts):
        (folder / f"{number}.xml").write_text(text, encoding="utf-8")
    with Bank.open(bank_path()) as bank:
        return read_results(bank, [folder], salt=SALT, **more)  # type: ignore[arg-type]


def given(answers: Answers, row: int = 0) -> list[str | int]:
    form = answers.forms[0]
    codes = form.codes[row].tolist()
    return [form.form.responses[place][code] if code >= 0 else code for place, code in enumerate(codes)]


def test_several_tries_at_an_item_are_told_apart_by_their_number(tmp_path: Path) -> None:
    text = document(item_result(0, variable("numAttempts", "2"), variable("RESPONSE", "B")),
                    item_result(0, variable("numAttempts", "1"), variable("RESPONSE", "A")))
    assert given(read(tmp_path, text))[0] == "A" and given(read(tmp_path, text, attempts="last"))[0] == "B"


def test_a_later_try_without_the_first_is_told(tmp_path: Path) -> None:
    text = document(item_result(0, variable("numAttempts", "3"), variable("RESPONSE", "B")),
                    item_result(1, variable("numAttempts", "1"), variable("RESPONSE", "A")))
    (remark,) = [one for one in read(tmp_path, text).remarks if "later attempt" in one]
    assert remark.startswith("1 answers are of a later attempt")


def test_several_sittings_are_told_apart_by_their_dates(tmp_path: Path) -> None:
    later = document(item_result(0, variable("RESPONSE", "B")), date="2027-03-01T09:00:00")
    sooner = document(item_result(1, variable("RESPONSE", "A")))
    assert given(read(tmp_path, later, sooner))[:2] == [NOT_GIVEN, "A"]
    assert given(read(tmp_path, later, sooner, attempts="last"))[:2] == ["B", NOT_GIVEN]
    assert len(read(tmp_path, later, sooner, attempts="all").forms[0].pupils) == 2


def test_gaps_are_told_apart(tmp_path: Path) -> None:
    text = document(
        item_result(0, variable("RESPONSE")), item_result(1, variable("RESPONSE", "A")),
        item_result(3, variable("RESPONSE", more='answeredStatus="notpresented"')),
        item_result(4, variable("RESPONSE"), status="initial"),
    )
    assert given(read(tmp_path, text)) == [OMITTED, "A", NOT_GIVEN, NOT_REACHED, NOT_REACHED, NOT_GIVEN]


@pytest.mark.parametrize(
    ("told", "milliseconds"), [("41.5", 41_500), ("PT1M2S", 62_000), ("PT0.25S", 250), ("soon", -1)]
)
def test_durations_are_read(told: str, milliseconds: int, tmp_path: Path) -> None:
    text = document(item_result(0, variable("duration", told), variable("RESPONSE", "A")))
    times = read(tmp_path, text).forms[0].milliseconds
    assert (times is None) == (milliseconds < 0) and (times is None or times[0][0] == milliseconds)


@pytest.mark.parametrize("version", ["2p1", "2p2", "3p0"])
def test_the_three_versions_are_read_alone_together_and_packed(version: str, tmp_path: Path) -> None:
    text = document(item_result(0, variable("RESPONSE", "A")), version=version)
    assert read(tmp_path, text).rows == 1
    wrapped = f"<results>{text}{text.replace('P1', 'P2')}</results>"
    assert read(tmp_path, wrapped).rows == 2
    with zipfile.ZipFile(tmp_path / "all.zip", "w") as packed:
        packed.writestr("inner/a.xml", text.replace("P1", "P3"))
        packed.writestr("b.csv", f"pupil,item,response\nP4,{items()[1]},C\n")
    assert read(tmp_path).rows == 4


def test_the_quiz_may_be_known_by_its_items_or_be_told(tmp_path: Path) -> None:
    text = document(item_result(0, variable("RESPONSE", "A")), quiz="")
    assert read(tmp_path, text).forms[0].form.quiz == QUIZ
    renamed = document(item_result(0, variable("RESPONSE", "A")), quiz="an-id-of-the-school")
    assert read(tmp_path, renamed).forms[0].form.quiz == QUIZ
    assert read(tmp_path, renamed, quiz=QUIZ).rows == 1


def test_a_group_and_the_mark_of_simulation_are_read(tmp_path: Path) -> None:
    session = ('<sessionIdentifier sourceID="urn:stemwright:group:5%20a" identifier="group"/>'
               '<sessionIdentifier sourceID="urn:stemwright:simulated" identifier="yes"/>')
    answers = read(tmp_path, document(item_result(0, variable("RESPONSE", "A")), session=session))
    assert answers.groups == ("", "5 a") and answers.simulated


def test_answers_to_steps_are_put_together_from_two_variables(tmp_path: Path) -> None:
    with Bank.open(bank_of_kinds()) as bank:
        find = next(item for item in bank.items() if item.identifier.startswith("find-"))
        assert isinstance(find.response, FindMistake)
        results, step, answer = [], find.response.right, POINT.number(find.key)
        for number, variables in enumerate(((step, answer), (step, ""), ("", answer))):
            named = zip(("RESPONSE", "ANSWER"), variables)
            parts = [variable(name, *([value] if value else [])) for name, value in named]
            results.append(document(
                f'<itemResult identifier="{find.identifier}" datestamp="2027" sessionStatus="final">'
                + "".join(parts) + "</itemResult>", quiz="kinds", pupil=f"P{number}",
            ))
        (tmp_path / "r.xml").write_text(f"<all>{''.join(results)}</all>", encoding="utf-8")
        answers = read_results(bank, [tmp_path / "r.xml"], salt=SALT)
    place = answers.forms[0].form.items.index(find.identifier)
    assert answers.forms[0].form.responses[place] == (f"- {answer}", f"{step} -", f"{step} {answer}")
    assert answers.forms[0].form.credits[place] == (500, 500, 1000)
