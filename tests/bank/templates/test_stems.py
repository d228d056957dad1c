"""Stems: two readers that agree, lines of leaves, branches, units, and what stems may not do."""

from __future__ import annotations

import re

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from template_text import kept, template_of

from bank.errors import BadInput
from bank.expressions import ExpressionError
from bank.model import Expression, Line
from bank.numerals import Numeral
from bank.templates import Template
from bank.templates._stems import Shown, read_stem
from bank.templates._tags import read_tagged

STEM_TEXT = st.lists(
    st.one_of(
        st.text("Ab é.,?!\n{}%#|-", max_size=8),
        st.builds(
            lambda name, filters, space: space.join(["{{", name, *(f"|{space}{one}" for one in filters), "}}"]),
            st.sampled_from(["a", "work", "thing_2", "total"]),
            st.lists(st.sampled_from(["unit", "shortest", "capitalized"]), max_size=2), st.sampled_from(["", " "]),
        ),
    ),
    max_size=6,
).map("".join)


@settings(max_examples=400)
@given(STEM_TEXT)
def test_both_readers_read_the_same(text: str) -> None:
    opened = re.findall(r"\{\{|\{%|\{#", text)
    try:
        ours = read_stem(text)
    except ExpressionError:
        ours = None
    try:
        theirs = read_tagged(text)
    except ExpressionError:
        theirs = None
    assert ours == theirs
    assume(opened)


def lines(stem: str, index: int = 0, **fields: str) -> tuple[Line, ...]:
    """Return the lines of *stem* for one draw of a template with the parameters a, n, thing."""
    return _template(stem, **fields).stem((15, index, "hose"))


def _template(stem: str, **fields: str) -> Template:
    parameters = "{a: {from: 1.5, to: 2.0, step: 0.1}, n: {list: [0.50, 3]}, thing: {list: [hose, pipe]}, " \
                 "s: {derive: a * n}, k: {derive: s * 2, places: 2}}"
    body = "\n".join("  " + line for line in stem.split("\n"))
    fields = {"operands": "[1.5, 0.5]", "key": "2", "unit": "m", **fields}
    # Every parameter is used here and none is worked on, so that a stem may show what it likes.
    constraints = '["a + n > 0 or thing == \\"hose\\"", s > 0, k > 0]'
    return template_of(parameters=parameters, constraints=constraints, stem=f"|\n{body}", **fields)


A, N = Numeral(15, 1), Numeral(50, 2)


@pytest.mark.parametrize(("stem", "wanted"), [
    ("Take {{ a }}.", (("Take ", A, "."),)),
    ("{{a}} and {{ n }}", ((A, " and ", N),)),
    ("One\nline of   words {{ thing }}.", (("One line of words hose.",),)),
    ("First {{ a }}.\n\nSecond {{ thing }}.\n \n\nThird.", (("First ", A, "."), ("Second hose.",), ("Third.",))),
    ("{{ thing|capitalized }} of {{ a|unit }}", (("Hose of ", A, "\u00a0m"),)),
    ("{{ n|shortest }} {{ n }}", ((Numeral(5, 1), " ", N),)),
    ("{{ n|shortest|unit }}", ((Numeral(5, 1), "\u00a0m"),)),
    ("{{ work }}", ((Expression((Numeral(15, 1), "+", Numeral(5, 1))),),)),
    ("{{ equation }}", ((Expression((Numeral(15, 1), "+", Numeral(5, 1), "=", "?")),),)),
    ("{{ s }} {{ k }}", ((Numeral(75, 2), " ", Numeral(150, 2)),)),
    ("{{ thing }}{{ thing }}", (("hosehose",),)),
    ("100 % of {{ a }} } and { too", (("100 % of ", A, " } and { too"),)),
    ("<b>{{ a }}</b> & \"more\"", (("<b>", A, "</b> & \"more\""),)),
    ("{# a remark #}{{ a }}", ((A,),)),
    ("{% if a > 1.45 and n < 3 %}Yes{% else %}No{% endif %} {{ a }}", (("Yes ", A),)),
    ("{% if a == 1.50 %}same{% endif %} {{ a }}", (("same ", A),)),
    ("{% if not a > 1.5 %}small\n\n{% endif %}{{ a }}", (("small",), (A,))),
    ('{% if thing == "pipe" %}P{% elif thing == "hose" %}H{% else %}O{% endif %}{{ a }}', (("H", A),)),
    ("{% if a > 1.6 %}x{% if n > 1 %}y{% endif %}{% else %}z{% if n < 1 %}w{% endif %}{% endif %}{{ a }}",
     (("zw", A),)),
    ("{%- if a < 1.6 -%} tight {%- endif -%} {{ a }}", (("tight", A),)),
])
def test_stems_become_lines_of_leaves(stem: str, wanted: tuple[Line, ...]) -> None:
    found = lines(stem)
    assert found == wanted
    flat = [(one, other) for line, other_line in zip(found, wanted, strict=True)
            for one, other in zip(line, other_line, strict=True)]
    numerals = [pair for pair in flat if isinstance(pair[0], Numeral)]
    assert all(one.same_writing(other) for one, other in numerals)


def test_a_unit_may_stand_before_the_number() -> None:
    found = lines("It costs {{ a|unit }} more.", unit="{text: $, before: true}")
    assert found == (("It costs $", A, " more."),)


def test_each_combination_of_branches_is_made_once_and_right() -> None:
    stem = "{% if a > 1.7 %}big{% else %}small{% endif %} {% if n > 1 %}three{% else %}half{% endif %} {{ a }}"
    template = _template(stem)
    seen = {(values[0] > 17, values[1] == 1): template.stem(values)[0][0] for values in kept(template, 24)}
    assert seen == {
        (True, True): "big three ", (True, False): "big half ", (False, True): "small three ",
        (False, False): "small half ",
    }


def test_decimals_in_conditions_are_never_floats() -> None:
    # As floats, 0.1 + 0.2 and 0.3 differ; 1.7 is drawn exactly and must be told from 1.6999999999999999.
    template = _template("{% if a == 1.7 %}hit{% else %}miss{% endif %} {{ a }}")
    assert [template.stem((top, 0, "hose"))[0][0] for top in (16, 17, 18)] == ["miss ", "hit ", "miss "]
    with pytest.raises(BadInput) as caught:
        _template("{% if a > 1.6e0 %}x{% endif %} {{ a }}")
    assert [problem.code for problem in caught.value.problems] == ["bad-stem"]


HOSTILE = [
    "{{ ''.__class__.__mro__[1].__subclasses__() }}", "{{ a.__init__ }}", "{{ a['x'] }}", "{{ cycler.__init__ }}",
    "{{ self }}{{ self.__dict__ }}", "{{ range(999999999) }}", "{{ lipsum() }}", "{{ namespace(x=1) }}",
    "{{ 'x' * 9999999 }}",
    "{{ a ** 99999999 }}", "{{ a ~ n }}", "{{ [a] }}", "{{ {'a': 1} }}", "{{ (a, n) }}", "{{ a if n else n }}",
    "{% for x in (1, 2) %}{% endfor %}", "{% include 'x' %}", "{% extends 'x' %}", "{% import 'x' as y %}",
    "{% from 'x' import y %}", "{% block b %}{% endblock %}", "{% macro m() %}{% endmacro %}", "{% set x = 1 %}",
    "{% call a() %}{% endcall %}", "{% filter upper %}x{% endfilter %}", "{% with x = 1 %}{% endwith %}",
    "{% autoescape false %}{% endautoescape %}", "{% if a is defined %}x{% endif %}", "{% if a in n %}x{% endif %}",
    "{% if a.real > 1 %}x{% endif %}", "{% if f(a) %}x{% endif %}", "{% if true %}x{% endif %}",
    "{% if a + n > 2 %}x{% endif %}",
    "{{ a|attr('x') }}", "{{ a|map }}", "{{ a|safe }}", "{{ a|unit(1) }}", "{{ 1 }}", "{{ 'text' }}", "{{ none }}",
    "{% if a > 1 %}" * 40, "{{ a", "{% if a > 1 %}", "{{ }}", "{{ a b }}", "{% endif %}", "{{ a|}}",
    "{% trans %}x{% endtrans %}",
]


@pytest.mark.parametrize("stem", HOSTILE)
def test_whatever_could_reach_out_or_hang_is_refused(stem: str) -> None:
    with pytest.raises(BadInput) as caught:
        _template("Take {{ a }}. " + stem)
    assert all(problem.place.line for problem in caught.value.problems)


def test_deeply_nested_conditions_are_refused_not_followed() -> None:
    with pytest.raises(ExpressionError):
        read_stem("{% if " + "(" * 3000 + "a" + ")" * 3000 + " %}x{% endif %}")


def test_names_filters_and_offsets_are_kept() -> None:
    parts = read_stem("Take {{ a | unit|shortest }}.")
    assert parts[1] == Shown("a", ("unit", "shortest"), 5)
