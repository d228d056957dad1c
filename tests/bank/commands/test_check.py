"""The command ``check``: what it prints for files that are well, for folders, and for files that are not."""

from __future__ import annotations

from pathlib import Path

import pytest
from template_text import text_of

from bank import cli
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
    assert err == "" and first == f"{few}: template few version 1: 81 draws possible, 36 kept"
    assert second.startswith(f"{many}: template many version 1: 500,000 draws possible, about 2")
    low, _, high = second.partition("95 % interval ")[2].rstrip(")").partition(" to ")
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


def test_a_folder_stands_for_its_files_in_order(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["check", str(FOLDER)]) == 0
    out, err = capsys.readouterr()
    assert err == "" and [line.partition(":")[0] for line in out.splitlines()] == [str(path) for path in built_in()]


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
