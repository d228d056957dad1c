"""Templates: drawing, refusing, operands and keys, each against plain exact arithmetic."""

from __future__ import annotations

import pickle
import subprocess
import sys
from fractions import Fraction
from typing import Any

import pytest
from expression_walker import NoValue, walk
from hypothesis import given, settings
from hypothesis import strategies as st
from template_items import TEMPLATES as BUILT_IN
from template_text import kept, template_of, text_of

from bank.errors import BadInput
from bank.model import Unit
from bank.numerals import Numeral
from bank.templates import (
    ChoiceWanted, Derived, Listed, NumberWanted, Stepped, Template, Worded, built_in, load_template,
)



def drawn_numerals(template: Template, values: tuple[int | str, ...]) -> dict[str, Any]:
    """Return what a draw gives each name, worked out from the declarations alone."""
    found: dict[str, Any] = {}
    for parameter, value in zip(template.drawn, values, strict=True):
        if isinstance(parameter, Stepped):
            numeral = Numeral(int(value), parameter.scale)
            found[parameter.name] = numeral.normal() if parameter.shortest else numeral
        elif isinstance(parameter, Listed):
            found[parameter.name] = parameter.numerals[int(value)]
        else:
            found[parameter.name] = value
    for parameter in template.derived:
        value = walk(parameter.part, found)
        try:
            found[parameter.name] = Numeral.from_fraction(value, parameter.places)
        except ValueError:
            found[parameter.name] = _Endless(value)
    return found


class _Endless(Numeral):
    """A derived number that cannot be written."""

    def __init__(self, value: Fraction) -> None:
        super().__init__(0)
        self.exact = value

    @property
    def value(self) -> Fraction:
        """The exact value."""
        return self.exact


@pytest.mark.parametrize("template", BUILT_IN, ids=lambda template: template.identifier)
def test_draws_are_judged_and_solved_as_by_plain_arithmetic(template: Template) -> None:
    step = max(1, template.space_size // 300) | 1
    for index in range(0, template.space_size, step):
        values = template.values_at(index)
        number = template.check(values)
        assert template.refusal(values) == ("" if number < 0 else template.refusals[number])
        try:
            names = drawn_numerals(template, values)
            held = [walk(constraint.part, names) for constraint in template.constraints]
        except NoValue:
            continue
        failing = held.index(False) if False in held else -1
        if number < len(template.constraints):
            assert number == failing
        else:
            assert failing == -1
        if number >= 0:
            continue
        exact = walk(template.key_part, names)
        top, bottom = template.exact_key(values)
        assert Fraction(top, bottom) == exact
        key = template.key(values)
        if template.rounding is None:
            assert key.value == exact
        else:
            assert abs(key.value - exact) <= Fraction(1, 2) / Fraction(10) ** template.rounding
        assert key.same_writing(key.normal() if template.places is None else key.with_places(template.places))
        operands = [walk(part, names) for part in template.operand_parts]
        assert [operand.value for operand in template.operands(values)] == operands


@pytest.mark.parametrize("template", BUILT_IN, ids=lambda template: template.identifier)
def test_stems_of_kept_draws_are_whole_sentences_of_leaves(template: Template) -> None:
    for values in kept(template, 50):
        for line in template.stem(values):
            assert line and all(line)
            words = "".join(leaf if isinstance(leaf, str) else "7" for leaf in line)
            assert words == words.strip() and "  " not in words and not set("{}%\x00\n") & set(words)


PARAMETERS = st.one_of(
    st.builds(
        lambda first, step, count, places: f"{{from: {Numeral(first, places)}, step: {Numeral(step, places)}, "
        f"to: {Numeral(first + step * count, places)}}}",
        st.integers(0, 500), st.integers(1, 30), st.integers(0, 8), st.integers(0, 3),
    ),
    st.builds(lambda low, count: f"{{whole: [{low}, {low + count}]}}", st.integers(0, 40), st.integers(0, 6)),
    st.lists(st.sampled_from(["0.5", "0.50", "3", "12.125", "0.05", "7.0"]), min_size=1, max_size=5, unique=True).map(
        lambda numbers: f"{{list: [{', '.join(numbers)}]}}"
    ),
    st.lists(st.sampled_from(["hose", "pipe", "cord"]), min_size=1, max_size=3, unique=True).map(
        lambda words: f"{{list: [{', '.join(words)}]}}"
    ),
)


@settings(max_examples=60)
@given(st.lists(PARAMETERS, min_size=1, max_size=3))
def test_every_index_gives_another_draw_and_all_draws_are_given(parameters: list[str]) -> None:
    names = [f"p{number}" for number in range(len(parameters))]
    declared = ", ".join(f"{name}: {parameter}" for name, parameter in zip(names, parameters, strict=True))
    stem = "'" + " ".join(f"{{{{ {name} }}}}" for name in names) + " {{ work }}'"
    template = template_of(
        parameters=f"{{{declared}}}", operands='["1", "2"]', key='"3"', stem=stem,
    )
    draws = [template.values_at(index) for index in range(template.space_size)]
    assert len(set(draws)) == template.space_size
    wanted = 1
    for parameter in template.drawn:
        wanted *= parameter.size
    assert template.space_size == wanted
    written = {template.parameters_as_written(values) for values in draws}
    assert len(written) == template.space_size, "two draws that read the same could not be told apart"
    for values in draws[:20]:
        numerals = drawn_numerals(template, values)
        for name, text in template.parameters_as_written(values):
            value = numerals[name]
            assert text == (value.text() if isinstance(value, Numeral) else value)


def test_a_range_is_written_with_the_places_of_its_step() -> None:
    template = template_of(parameters="{a: {from: 1, to: 3, step: 0.50}, b: {whole: [4, 6]}}")
    draws = {template.parameters_as_written(template.values_at(index))[0][1] for index in range(template.space_size)}
    assert draws == {"1.00", "1.50", "2.00", "2.50", "3.00"}


def test_a_range_can_be_written_without_trailing_zeros() -> None:
    template = template_of(parameters="{a: {from: 1, to: 3, step: 0.50, written: shortest}, b: {whole: [4, 6]}}",
                           constraints="[places(a) == 1]")
    assert {values[0] for values in kept(template)} == {150, 250}
    assert {operands[0].text() for operands in map(template.operands, kept(template))} == {"1.5", "2.5"}


def test_listed_numerals_keep_their_writing() -> None:
    template = template_of(parameters="{a: {list: [0.5, 0.50, 3]}, b: {whole: [1, 1]}}", constraints="[places(a) > 0]")
    assert [template.operands(values)[0].text() for values in kept(template)] == ["0.5", "0.50"]
    assert template.parameters[0] == Listed("a", (Numeral(5, 1), Numeral(50, 2), Numeral(3)))


def test_derived_parameters_may_stand_in_any_order() -> None:
    template = template_of(
        parameters="{total: {derive: rate * n}, rate: {derive: n + 0.5}, n: {whole: [2, 9]}}",
        operation="multiply", operands="[rate, n]", key="total",
    )
    assert [parameter.name for parameter in template.derived] == ["rate", "total"]
    assert template.key((4,)) == Numeral(18)
    assert [operand.text() for operand in template.operands((4,))] == ["4.5", "4"]
    assert template.parameters_as_written((4,)) == (("n", "4"),)


def test_a_derived_number_can_have_fixed_places() -> None:
    template = template_of(
        parameters="{n: {whole: [1, 9]}, price: {derive: n / 4, places: 1}}", operands="[price, n]", key="price + n",
    )
    assert [values for values in kept(template)] == [(2,), (4,), (6,), (8,)]
    assert template.operands((4,))[0].text() == "1.0"
    assert template.refusal((3,)) == "an expression has no value for this draw"


def test_money_is_written_with_fixed_places() -> None:
    template = template_of(places="2")
    assert [template.key(values).places for values in kept(template)] == [2] * len(kept(template))
    assert template.family.places == 2


def test_quotients_are_rounded_a_half_away_from_zero() -> None:
    template = template_of(
        parameters="{a: {whole: [1, 30]}, b: {whole: [8, 8]}}", operation="divide", key="a / b",
        rounding="{places: 2, asked: to two places}", stem="Work out {{ work }} to two places.",
    )
    assert template.key((1, 8)).text() == "0.13"
    assert template.key((3, 8)).text() == "0.38"
    assert template.exact_key((3, 8)) in ((3, 8), (375, 1000))
    assert template.family.rounding == 2


@pytest.mark.parametrize(("places", "number", "wanted"), [(0, 25, "3"), (0, 24, "2"), (-1, 250, "30"), (-1, 249, "20")])
def test_numbers_are_rounded_to_places_and_tens(places: int, number: int, wanted: str) -> None:
    template = template_of(
        parameters="{a: {from: 1.1, to: 39.9, step: 0.1}}", operation="round", operands="[a]", key="a",
        rounding=f"{{places: {places}, asked: round}}", stem="Round {{ a }}.",
    )
    assert template.key((number,)).text() == wanted


def test_comparisons_take_the_layout_for_what_is_wanted() -> None:
    fields = {"operation": "compare", "constraints": "[a != b]", "stem": "Which, {{ a }} or {{ b }}?"}
    largest = template_of(key="max(a, b)", **fields)
    smallest = template_of(key="min(a, b)", layout="smallest", **fields)
    values = kept(largest)[0]
    assert largest.layout == "largest" and smallest.layout == "smallest"
    assert {largest.key(values), smallest.key(values)} == set(largest.operands(values))
    assert largest.distractors == 1


def test_responses_say_what_is_wanted() -> None:
    assert template_of().response == ChoiceWanted(None) and template_of().distractors == 3
    assert template_of(response="{choice: {distractors: 4}}").distractors == 4
    typed = template_of(response="{number: {policy: places}}")
    assert typed.response == NumberWanted("places") and typed.distractors == 0 and typed.policy == "places"
    assert template_of(response="number").policy == "value" and template_of().policy == ""


def test_the_family_carries_what_items_share() -> None:
    template = template_of(
        codes="[OWN 2]", unit="{text: $, before: true, spoken: dollars}", context="true", show_solution="false",
        feedback="{wrong: 'Look at the points.', right: 'Yes.'}", draws="12",
    )
    family = template.family
    assert (family.template, family.version, family.topic, family.codes) == ("made", 1, "any", ("OWN 2",))
    assert family.unit == Unit(text="$", before=True, spoken="dollars")
    assert family.hint == (("Look at the points.",),) and family.praise == (("Yes.",),)
    assert family.context and not family.show_solution and template.draws == 12
    assert template_of().codes == ("OWN 1", "OWN 2"), "a template without codes takes its topic's"


def test_radicals_and_incidentals_are_kept() -> None:
    template = template_of(
        parameters="{a: {whole: [1, 9], radical: true}, b: {whole: [1, 9]}, who: {list: [Ida, Nour], radical: false}}",
        stem="'{{ who }} writes {{ work }}.'",
    )
    assert template.radicals == ("a",) and template.incidentals == ("who",)


def test_templates_travel_between_processes() -> None:
    template = template_of(parameters="{a: {list: [0.5, 1.50]}, b: {whole: [1, 4]}, thing: {list: [hose, pipe]}}",
                           stem="'{% if a > 1 %}Long{% else %}Short{% endif %} {{ thing }}: {{ work }}'")
    values = template.values_at(5)
    before = template.stem(values), template.key(values), template.check(values)
    again = pickle.loads(pickle.dumps(template))
    assert again == template and "stem" not in vars(again)
    assert (again.stem(values), again.key(values), again.check(values)) == before
    assert again.checksum == template.checksum and again.family == template.family


def test_the_checksum_tells_what_matters_from_what_does_not() -> None:
    text = text_of(note="first thoughts")
    first = template_of(text).checksum
    assert template_of("# a comment\n" + text.replace("[a, b]", "\n- a\n- b\n")).checksum == first
    assert template_of(text.replace("first thoughts", "second thoughts")).checksum == first
    lines = text.splitlines(keepends=True)
    assert template_of("".join(reversed(lines))).checksum == first
    for old, new in (("a + b", "b + a"), ("1.5", "1.50"), ("Work out", "Find"), ("version: 1", "version: 2")):
        assert template_of(text.replace(old, new)).checksum != first


def test_small_spaces_are_counted_and_large_ones_estimated() -> None:
    few = template_of(parameters="{a: {whole: [1, 20]}, b: {whole: [1, 20]}}", constraints="[a > b]").survey
    assert few.exact and (few.possible, few.kept, few.admissible, few.margin) == (400, 190, 190, 0)
    assert few.refused == ((0, 210),)
    many = template_of(parameters="{a: {whole: [1, 300]}, b: {whole: [1, 300]}}", constraints="[a > b]").survey
    assert not many.exact and many.possible == 90_000
    assert abs(many.admissible - 300 * 299 // 2) <= many.margin < 90_000 // 20


def test_a_template_whose_draws_are_rare_is_searched_before_it_is_refused() -> None:
    rare = template_of(
        parameters="{a: {from: 0.01, to: 100.00, step: 0.01}, b: {whole: [3, 7]}}", constraints="[a == 77.77, b == 5]"
    )
    assert rare.survey.exact and rare.survey.kept == 1
    with pytest.raises(BadInput) as caught:
        template_of(parameters="{a: {from: 0.01, to: 9999.99, step: 0.01}, b: {whole: [3, 7]}}",
                    constraints="[a == 77.77, b == 5, a + b > 90]")
    assert [problem.code for problem in caught.value.problems] == ["no-draw"]


def test_drawn_words_and_numbers_have_types_of_their_own() -> None:
    template = template_of(parameters="{a: {whole: [1, 9], step: 4}, b: {derive: a * 2}, c: {list: [hose]}}",
                           stem="'{{ c }}: {{ work }}'")
    assert template.parameters[0] == Stepped("a", 1, 4, 3, 0) and template.parameters[2] == Worded("c", ("hose",))
    assert isinstance(template.parameters[1], Derived)
    assert template.drawn == (template.parameters[0], template.parameters[2])


def test_reading_a_plain_template_loads_neither_jinja2_nor_what_exporters_need() -> None:
    plain = next(path for path in built_in() if "{%" not in path.read_text(encoding="utf-8"))
    code = (
        "import sys\nfrom bank.cli import main\nstatus = main(['check', '--reads-only', sys.argv[1]])\n"
        "dear = {'jinja2', 'lxml', 'xmlschema', 'jsonschema', 'numpy', 'sqlite3', 'bank.methods', 'bank.plans'}\n"
        "sys.exit(f'loaded: {dear & set(sys.modules)}' if dear & set(sys.modules) else status)"
    )
    done = subprocess.run([sys.executable, "-c", code, str(plain)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert load_template(plain).identifier in done.stdout


@pytest.mark.parametrize(("old", "new"), [
    ("first thoughts", "second thoughts"), ("version: 1", "version: 2"), ("1.5", "2.5"), ("OWN 1", "OWN 2"),
    ("draws: 12", "draws: 13"), ("context: false", "context: true"), ("[a > 1]", "[a > 2]"),
])
def test_what_no_pupil_could_notice_leaves_the_visible_digest_alone(old: str, new: str) -> None:
    text = text_of(note="first thoughts", codes="[OWN 1]", draws="12", context="false", constraints="[a > 1]")
    assert old in text
    assert template_of(text.replace(old, new)).family.visible == template_of(text).family.visible


@pytest.mark.parametrize(("old", "new"), [
    ("Work out", "Find"), ("a + b", "b + a"), ("[a, b]", "[b, a]"), ("{{ work }}", "{{ work }} exactly"),
    ("Look there", "Look here"), ("'Yes.'", "'Right.'"), ("show_solution: true", "show_solution: false"),
    ("distractors: 3", "distractors: 4"), ("kg", "m"), ("places: 3", "places: 4"), ("A sum", "A total"),
    ("{choice: {distractors: 3}}", "number"),
])
def test_what_a_pupil_could_notice_of_a_template_changes_its_visible_digest(old: str, new: str) -> None:
    text = text_of(
        title="A sum", feedback="{wrong: 'Look there.', right: 'Yes.'}", show_solution="true", unit="kg", places="3",
        response="{choice: {distractors: 3}}", key="a + b", stem="'Work out {{ work }}.'",
    )
    assert old in text
    assert template_of(text.replace(old, new)).family.visible != template_of(text).family.visible


def test_a_default_written_out_is_no_change_that_a_pupil_could_notice() -> None:
    assert template_of(response="{choice: {}}").family.visible == template_of(response="choice").family.visible
    assert template_of(show_solution="true").family.visible == template_of().family.visible


@pytest.mark.parametrize("fields", [
    {"operands": "[a, 2 * b]", "key": "a + 2 * b"},
    {"operands": "[a, 2 * b]", "key": "a + 2 * b", "operation": "subtract"},
    {"operands": "[a * b]", "key": "a * b", "operation": "round", "rounding": "{places: 1, asked: to tenths}"},
    {"operands": "[a, b / 0.05]", "key": "a * b / 0.05", "operation": "multiply"},
    {"operands": "[a + b, 4]", "key": "(a + b) / 4", "operation": "divide"},
])
def test_an_operand_that_hides_a_step_is_refused_whatever_the_operation(fields: dict[str, str]) -> None:
    fields = {**fields, "stem": "'A rope of {{ a }} m and one of {{ b }} m. How long, to tenths?'"}
    if fields.get("operation") == "subtract":
        fields["key"], fields["constraints"] = "a - 2 * b", "[a > 2 * b]"
    with pytest.raises(BadInput) as caught:
        template_of(**fields)
    assert [problem.code for problem in caught.value.problems] == ["hidden-step"]
    assert caught.value.problems[0].place.line and "work out" in caught.value.problems[0].wrong


def test_operands_that_pupils_read_may_be_worked_out_by_the_template() -> None:
    shown = template_of(operands="[a, 2 * b]", key="a + 2 * b")
    assert shown.operands((15, 25)) and shown.stem_parts
    template_of(
        parameters="{a: {from: 1.5, to: 9.5, step: 0.1}, c: {whole: [2, 9]}, b: {derive: c / 4}}",
        stem="'A rope of {{ a }} m and one of {{ b }} m. How long are they together?'",
    )
    template_of(operands="[a, 0.5]", key="a + 0.5", parameters="{a: {from: 1.5, to: 9.5, step: 0.1}}",
                stem="'A rope of {{ a }} m and one of half a metre. How many metres are they together?'")
