"""The demo term as a whole: large enough, level against guessers, exported and read back in every format."""

from __future__ import annotations

import importlib
from collections import Counter
from pathlib import Path

import pytest

import exporters
from bank import mistakes, registry
from bank.build import build
from bank.model import Choice, TypedNumber
from bank.plans import load_plan
from bank.store import Bank
from bank.summary import BuildSummary, mistakes_of
from bank.templates import FOLDER

PLAN = FOLDER.parent / "plans" / "demo-term.yaml"


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, BuildSummary]:
    folder = tmp_path_factory.mktemp("demo")
    return folder, build(load_plan(PLAN), folder, jobs=2)


def test_the_term_is_as_large_as_promised(demo: tuple[Path, BuildSummary]) -> None:
    with Bank.open(demo[0] / "bank.sqlite") as bank:
        assert bank.info.invented
        assert len({quiz.week for quiz in bank.quizzes}) >= 10
        assert len(bank.families) >= 20
        assert {"add", "subtract", "multiply", "divide"} <= {family.operation for family in bank.families.values()}
        assert {family.context for family in bank.families.values()} == {True, False}
        assert bank.count >= 300


def test_no_strategy_of_a_guesser_beats_chance_beyond_its_bound(demo: tuple[Path, BuildSummary]) -> None:
    over = [result for result in demo[1].panel if result.over]
    assert over == []
    scopes = {result.scope for result in demo[1].panel}
    with Bank.open(demo[0] / "bank.sqlite") as bank:
        choices = {item.identifier for item in bank.items() if isinstance(item.response, Choice)}
        assert {quiz.identifier for quiz in bank.quizzes if choices & set(quiz.items)} | {"bank"} == scopes


def test_no_check_finds_an_error(demo: tuple[Path, BuildSummary]) -> None:
    assert [finding for finding in demo[1].findings if finding.severity == "error"] == []


def test_use_is_spread_over_the_mistakes(demo: tuple[Path, BuildSummary]) -> None:
    used = dict(demo[1].mistake_use)
    assert len(used) >= len(mistakes.load()) * 85 // 100
    assert max(used.values()) <= sum(used.values()) // 20, "one mistake stands behind a twentieth of all"


def test_every_wrong_option_is_what_its_mistakes_give(demo: tuple[Path, BuildSummary]) -> None:
    known = mistakes.load()
    seen: Counter[str] = Counter()
    further: Counter[str] = Counter()
    with Bank.open(demo[0] / "bank.sqlite") as bank:
        for item in bank.items():
            family = item.family
            options = mistakes.options_for(family.operation, family.layout, family.rounding)
            if isinstance(item.response, Choice):
                wrong = [(option.numeral, option.mistakes) for option in item.response.options if not option.is_key]
            elif not isinstance(item.response, TypedNumber):
                further.update(set(mistakes_of(item)))  # a check makes these again
                continue
            else:
                wrong = list(item.response.mistakes)
            for numeral, names in wrong:
                for name in names:
                    assert known[name].procedure(*item.operands, **options) == numeral, (item.identifier, name)
                    seen[name] += 1
    assert dict(demo[1].mistake_use).keys() == seen.keys() | further.keys() and further


def test_no_guess_at_further_kinds_earns_more_than_chance_allows(demo: tuple[Path, BuildSummary]) -> None:
    assert {result.kind for result in demo[1].guessing} >= {
        "choose-several", "put-in-order", "match-pairs", "choose-in-line"}
    assert not [result for result in demo[1].guessing if result.over]


@pytest.mark.parametrize("name", registry.module_names(exporters))
def test_every_format_is_written_alike_by_one_and_by_two_processes(
    demo: tuple[Path, BuildSummary], tmp_path: Path, name: str
) -> None:
    exporter = importlib.import_module(f"exporters.{name}")
    source = demo[0] / "bank.sqlite"
    with Bank.open(source) as bank:
        for jobs in (1, 2):
            written = exporter.write(
                source, bank, bank.quizzes, tmp_path / str(jobs), whole_bank=True, jobs=jobs,
                progress=lambda done, total: None,
            )
            assert len(written) == (2 if name == "csv" else len(bank.quizzes) + 1)
    one, two = (
        {path.relative_to(tmp_path / jobs): path.read_bytes() for path in (tmp_path / jobs).rglob("*") if path.is_file()}
        for jobs in ("1", "2")
    )
    assert one == two
