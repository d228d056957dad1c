"""Trees of content: what a plan finds beside it, what replaces what comes along, and that a copied tree is what is read."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from template_text import text_of

from bank import cli, trees
from bank.commands._checking import check_files
from bank.errors import BadInput
from bank.plans import Plan, load_plan
from bank.store import Bank
from bank.trees import SHIPPED, tree_of

PLAN = "plan: own\ntitle: Own\nseed: 1\nlocale: {locale}\npool: [{{items: 3, template: {template}}}]\n"


def put(path: Path, text: str) -> Path:
    """Write *text* to *path*, folders made, and return the path."""
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def plan_at(path: Path, template: str, locale: str = "en-point") -> Plan:
    """Return the plan of three items of *template*, written to *path*."""
    return load_plan(put(path, PLAN.format(template=template, locale=locale)))


@pytest.mark.parametrize("where", ["plan.yaml", "plans/plan.yaml"])
def test_templates_and_topics_beside_a_plan_are_found_and_add_to_those_that_come_along(
    tmp_path: Path, where: str
) -> None:
    put(tmp_path / "topics" / "hoses.yaml", "topic: hoses\ntitle: Hoses\ncodes: [OWN 1]\nafter: [decimal-addition]\n")
    put(tmp_path / "templates" / "garden" / "hose-sum.yaml", text_of(template="hose-sum", topic="hoses"))
    plan = plan_at(tmp_path / where, "hose-sum")
    found = {template.identifier: template for template in plan.templates}
    assert found["hose-sum"].codes == ("OWN 1",) and "ragged-sum" in found
    assert plan.notes == () and str(tmp_path / "templates") in plan.says[1] and "1 template, 1 topic" in plan.says[1]


@pytest.mark.long
def test_an_own_id_replaces_one_that_comes_along_aloud(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = put(tmp_path / "templates" / "mine.yaml", text_of(template="ragged-sum", topic="decimal-addition"))
    shipped = SHIPPED / "templates" / "decimal-addition" / "ragged-sum.yaml"
    plan = plan_at(tmp_path / "plan.yaml", "ragged-sum")
    assert next(one.title for one in plan.templates if one.identifier == "ragged-sum") == "A made template"
    note = f"note: template ragged-sum: {own} replaces {shipped}, which comes along\n"
    for command in (["check", str(tmp_path / "plan.yaml")], ["check", str(own)],
                    ["build", str(tmp_path / "plan.yaml"), "-o", str(tmp_path / "out"), "--jobs", "1"]):
        assert cli.main(command) == 0
        assert capsys.readouterr().err == note


@pytest.mark.long
@pytest.mark.parametrize("folder", ["templates", "topics", "locales"])
def test_a_file_that_is_not_read_for_its_name_is_named(tmp_path: Path, folder: str) -> None:
    put(tmp_path / "templates" / "mine.yaml", text_of(template="mine", topic="decimal-addition"))
    left = put(tmp_path / folder / "ragged-sum.yml", "never read")
    plan = plan_at(tmp_path / "plan.yaml", "ragged-sum")
    assert plan.notes == (f"{left}: not read: its name does not end in .yaml",)


def test_own_topics_and_locales_replace_and_add_in_the_same_way(tmp_path: Path) -> None:
    shipped = (SHIPPED / "topics" / "money.yaml").read_text(encoding="utf-8")
    put(tmp_path / "topics" / "money.yaml", shipped.replace("title: ", "title: Our "))
    text = (SHIPPED / "locales" / "en-point.yaml").read_text(encoding="utf-8")
    put(tmp_path / "locales" / "quay.yaml", text.replace("locale: en-point", "locale: quay") + "division: ':'\n")
    plan = plan_at(tmp_path / "plan.yaml", "even-sum", "quay")
    assert plan.locale.division == ":" and plan.topics["money"].title.startswith("Our ")
    assert [note.split(":")[0] for note in plan.notes] == ["topic money"]


def test_a_locale_is_called_by_its_file(tmp_path: Path) -> None:
    text = (SHIPPED / "locales" / "en-point.yaml").read_text(encoding="utf-8")
    put(tmp_path / "locales" / "quay.yaml", text)
    with pytest.raises(BadInput) as caught:
        plan_at(tmp_path / "plan.yaml", "even-sum", "quay")
    assert [problem.code for problem in caught.value.problems] == ["misnamed"]


def test_a_link_out_of_a_tree_is_refused(tmp_path: Path) -> None:
    put(tmp_path / "elsewhere.yaml", text_of(topic="decimal-addition"))
    (tmp_path / "own" / "templates").mkdir(parents=True)
    (tmp_path / "own" / "templates" / "link.yaml").symlink_to(tmp_path / "elsewhere.yaml")
    with pytest.raises(BadInput) as caught:
        plan_at(tmp_path / "own" / "plan.yaml", "even-sum")
    assert [problem.code for problem in caught.value.problems] == ["climbs-out"]


@pytest.fixture
def copied(tmp_path: Path) -> Path:
    """A copy of the tree that comes along."""
    return Path(shutil.copytree(SHIPPED, tmp_path / "content"))


def edited(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")


@pytest.mark.long
def test_each_kind_of_file_of_a_copied_tree_is_what_is_read(
    copied: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    edited(copied / "templates" / "decimal-subtraction" / "ribbon-left.yaml", "title: ", "title: Our ")
    edited(copied / "topics" / "decimal-subtraction.yaml", "title: ", "title: Our ")
    edited(copied / "locales" / "en-point.yaml", "language: en", "language: en-GB")
    edited(copied / "difficulty.yaml", "  level: 3.02", "  level: 2.02")
    edited(copied / "classes.yaml", "class: some-weeks-after", "class: our-class")
    edited(copied / "audit.yaml", "  smallest_group:\n    value: 10", "  smallest_group:\n    value: 13")
    (copied / "templates" / "decimal-addition" / "ragged-sum.yaml").unlink()
    path = copied / "plans" / "first-steps.yaml"
    plan = load_plan(path)
    names = {template.identifier: template for template in plan.templates}
    assert names["ribbon-left"].title.startswith("Our ") and "ragged-sum" not in names
    assert plan.topics["decimal-subtraction"].title.startswith("Our ") and plan.locale.language == "en-GB"
    assert plan.notes == () and plan.says[0].startswith(f"everything from {copied}: 7")
    assert cli.main(["build", str(path), "-o", str(tmp_path / "out"), "--jobs", "1"]) == 0
    assert f"Read: everything from {copied}: " in capsys.readouterr().out
    assert cli.main(["build", str(SHIPPED / "plans" / "first-steps.yaml"), "-o", str(tmp_path / "usual")]) == 0
    with Bank.open(tmp_path / "out" / "bank.sqlite") as own, Bank.open(tmp_path / "usual" / "bank.sqlite") as usual:
        mine = {item.family.template: item.prediction for item in own.items()}
        theirs = {item.family.template: item.prediction for item in usual.items()}
        assert mine["ribbon-left"].high_share < theirs["ribbon-left"].high_share
        assert {name for name, _ in own.info.settings} == set(trees.SETTINGS) and usual.info.settings == ()
    capsys.readouterr()
    assert cli.main(["audit", str(tmp_path / "out" / "bank.sqlite"), "--class", "our-class"]) == 0
    assert cli.main(["audit", str(tmp_path / "usual" / "bank.sqlite"), "--class", "our-class"]) == 2


@pytest.mark.long
def test_a_copied_tree_passes_the_check_whole_and_its_parts_by_themselves(
    copied: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (copied / "README.txt").write_text("Ours.\n")
    assert cli.main(["check", "--reads-only", str(copied)]) == 0
    out, err = capsys.readouterr()
    files = sorted(copied.rglob("*.yaml"))
    assert err == "" and len(out.splitlines()) == len(files) + 1
    assert out.splitlines()[-1] == f"{copied / 'README.txt'}: not checked: its name does not end in .yaml"
    edited(copied / "topics" / "money.yaml", "topic: money", "topic: coins")
    found = check_files([copied / "templates" / "money" / "change-from-a-note.yaml"], makes_items=False)
    assert [problem.code for problem in found.problems] == ["unknown-topic"]


def test_files_that_come_along_are_called_by_their_ids() -> None:
    for folder in trees.FOLDERS:
        for path in (SHIPPED / folder).rglob("*.yaml"):
            lines = path.read_text(encoding="utf-8").splitlines()
            assert f"{folder[:-1]}: {path.stem}" in lines, path


def test_the_tree_of_a_file_is_found_from_where_one_stands(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = put(tmp_path / "own" / "templates" / "deep" / "sum.yaml", "")
    assert tree_of(path).own == tmp_path / "own"
    monkeypatch.chdir(tmp_path / "own")
    assert tree_of(Path("templates/deep/sum.yaml")).own == Path(".")
    monkeypatch.chdir(tmp_path / "own" / "templates")
    assert tree_of(Path("deep/sum.yaml")).own == tmp_path / "own"
    assert tree_of(tmp_path / "alone.yaml").own is None and tree_of(SHIPPED / "plans" / "kinds.yaml").own is None
