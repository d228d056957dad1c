"""The command ``check``: what it prints for files that are well, for folders, and for files that are not."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from template_text import text_of

from bank import cli
from bank.build import trying
from bank.templates import FOLDER, built_in


def written(folder: Path, name: str, text: str) -> Path:
    """Return a file of *folder* that holds *text*."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_few_draws_are_counted_and_many_estimated(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    few = written(tmp_path, "few.yaml", text_of(
        template="few", topic="decimal-addition", parameters="{a: {whole: [1, 9]}, b: {whole: [1, 9]}}",
        constraints="[a > b]",
    ))
    many = written(tmp_path, "many.yaml", text_of(
        template="many", topic="decimal-addition", constraints="[b < 2.5]",
        parameters="{a: {from: 0.1, to: 100.0, step: 0.1}, b: {from: 0.01, to: 5.00, step: 0.01}}",
    ))
    assert cli.main(["check", str(few), str(many)]) == 0
    out, err = capsys.readouterr()
    first, second = out.splitlines()
    assert err == "" and first == f"{few}: template few version 1: 81 draws possible, 36 kept; looked at all 81 draws, made 12 items to try"
    assert second.startswith(f"{many}: template many version 1: 500,000 draws possible, about 2")
    low, _, high = second.partition("95 % interval ")[2].partition(")")[0].partition(" to ")
    assert int(low.replace(",", "")) <= 249 * 1000 <= int(high.replace(",", ""))


def test_a_problem_is_shown_with_its_line_and_a_caret(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    text = text_of(topic="decimal-addition", parameters="{a: {from: 0.2, to: 1.0, step: 0.3}, b: {whole: [1, 9]}}")
    path = written(tmp_path, "ragged.yaml", text)
    assert cli.main(["check", str(path)]) == 2
    out, err = capsys.readouterr()
    message, line, caret, summary = err.splitlines()
    assert out == "" and message == (
        f"{path}:5:44: parameters.a.step: 0.3 never reaches 1.0 from 0.2; end at 0.8 or 1.1, or change the step"
    )
    assert line.strip() == text.splitlines()[4] and line[caret.index("^") :].startswith("0.3")
    assert summary == "1 problem in 1 of 1 file"


@pytest.mark.long
def test_a_folder_stands_for_its_files_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", str(FOLDER)]) == 0
    out, err = capsys.readouterr()
    assert err == "" and [line.partition(":")[0] for line in out.splitlines()] == [str(path) for path in built_in()]


@pytest.mark.long
def test_all_content_that_comes_along_is_well(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", str(FOLDER.parent)]) == 0
    out, err = capsys.readouterr()
    assert err == "" and {line.split(": ")[1].split()[0] for line in out.splitlines()} == {
        "template", "plan", "topic", "locale", "weights", "kinds", "thresholds"
    }


def test_topics_given_along_are_known_to_templates(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    template = written(tmp_path, "a-template.yaml", text_of(topic="hoses"))
    topic = written(tmp_path, "z-topic.yaml", "topic: hoses\ntitle: Hoses\ncodes: [OWN 1]\n")
    assert cli.main(["check", str(template)]) == 2
    assert "there is no topic 'hoses'" in capsys.readouterr().err
    assert cli.main(["check", str(template), str(topic)]) == 0


def test_hundreds_of_problems_are_capped_and_counted(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    foreign = "".join(f"foreign-{number}: 1\n" for number in range(150))
    path = written(tmp_path, "many.yaml", "topic: hoses\ntitle: Hoses\n" + foreign)
    assert cli.main(["check", str(path)]) == 2
    err = capsys.readouterr().err
    assert err.count("there is no such key") == 100 and "... and 50 more\n150 problems in 1 of 1 file\n" in err


def test_what_a_build_would_refuse_is_named_with_an_item_that_breaks_the_rule(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, "breaks-off.yaml", text_of(topic="decimal-addition", stem="'{{ work }} is how much'"))
    assert cli.main(["check", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith(f"{path}:9:7: stem: looked at ")
    assert "and none gives an item" in err and "ends as a sentence or with the calculation" in err
    assert re.search(r"such as a = [0-9.]+, b = [0-9.]+: the last line breaks off; end it with", err)
    assert cli.main(["check", "--reads-only", str(path)]) == 0


def test_check_says_how_many_draws_it_looked_at_and_finds_the_same_again(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = written(tmp_path, "sum.yaml", text_of(topic="decimal-addition"))
    told = []
    for _ in range(2):
        assert cli.main(["check", str(path)]) == 0
        told.append(capsys.readouterr().out)
    assert told[0] == told[1] and re.search(r"; looked at 200 draws of 7,371, made 12 items to try\n$", told[0])


PLAN = """plan: short
title: Short
seed: 1
locale: en-point
templates: [sum.yaml]
pool:
  - {items: 3, topic: decimal-addition}
  - {items: %s, topic: decimal-addition%s}
"""


@pytest.mark.parametrize(("items", "more"), [("4", ", mistake: add.carry-forgotten"), ("40", "")])
def test_a_line_that_a_build_could_not_meet_is_named_in_its_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], items: str, more: str
) -> None:
    written(tmp_path, "sum.yaml", text_of(
        topic="decimal-addition", template="few",
        parameters="{a: {list: [2.1, 2.2, 2.3]}, b: {list: [1.12, 1.21, 1.34]}}",
    ))
    plan = written(tmp_path, "plan.yaml", PLAN % (items, more))
    assert cli.main(["check", str(plan)]) == 2
    of_check = capsys.readouterr().err.splitlines()[0]
    assert cli.main(["build", str(plan), "-o", str(tmp_path / "out"), "--jobs", "1"]) == 2
    assert of_check == capsys.readouterr().err.splitlines()[0] and f"{plan}:8:5: items: " in of_check


def test_a_long_plan_is_tried_in_part_and_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trying, "MOST", 20)
    written(tmp_path, "sum.yaml", text_of(topic="decimal-addition"))
    plan = written(tmp_path, "plan.yaml", PLAN % (400, ""))
    assert cli.main(["check", str(plan)]) == 0
    assert "; tried 22 of the 403 items, which could be drawn; the others were not tried" in capsys.readouterr().out
    plan = written(tmp_path, "plan.yaml", PLAN % (7400, ""))
    assert cli.main(["check", str(plan)]) == 2
    assert "asks for 7400 items, the templates that fit have 7371 draws in all" in capsys.readouterr().err


def test_a_folder_names_what_it_does_not_check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    written(tmp_path, "sum.yaml", text_of(topic="decimal-addition"))
    written(tmp_path, "prices.yaml", "bread: 2.40\n")
    written(tmp_path, "notes.txt", "Ask about week 3.\n")
    assert cli.main(["check", str(tmp_path)]) == 0
    out = capsys.readouterr().out.splitlines()
    assert [line.split(": ")[1] for line in out] == ["not checked", "template made version 1", "not checked"]
    assert cli.main(["check", str(tmp_path / "prices.yaml")]) == 2
    assert "the first key is 'bread'" in capsys.readouterr().err
