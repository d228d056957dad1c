"""What the README shows to write is what the tool takes: its template and its plan are checked and built."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from bank import cli
from bank.store import Bank

README = Path(__file__).resolve().parents[1] / "README.md"


def test_the_template_and_the_plan_of_the_readme_pass_the_check_and_are_built(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    template, plan = re.findall(r"```yaml\n(.*?)```", README.read_text(encoding="utf-8"), flags=re.DOTALL)
    assert template.startswith("template: ragged-sum\n") and plan.startswith("plan: our-autumn\n")
    (tmp_path / "templates").mkdir()
    (tmp_path / "templates" / "ragged-sum.yaml").write_text(template, encoding="utf-8")
    (tmp_path / "plan.yaml").write_text(plan, encoding="utf-8")
    assert cli.main(["check", str(tmp_path)]) == 0
    out, _ = capsys.readouterr()
    assert "; all 22 items could be drawn" in out and "template ragged-sum" in out
    assert cli.main(["build", str(tmp_path / "plan.yaml"), "-o", str(tmp_path / "term"), "--jobs", "1"]) == 0
    with Bank.open(tmp_path / "term" / "bank.sqlite") as bank:
        assert bank.count == 22
        assert {item.family.title for item in bank.items()} >= {"Sum of two decimals with one and two places"}
