"""The tests' interpreter of response processing, tried itself: the standard's own templates, small items, a second
opinion (``pyslet``, a library that we did not write)."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

import pytest
from lxml import etree
from wanted import OFFICIAL_SCHEMAS, needs

import sampler
from bank.model import Choice, TypedNumber
from exported import packages
from qti_rules import Session
from second_opinion import SecondSession
from standards import folder

NAMESPACES = {"v2p1": "http://www.imsglobal.org/xsd/imsqti_v2p1", "v3p0": "http://www.imsglobal.org/xsd/imsqtiasi_v3p0"}

Response = str | Sequence[str] | None


def small_item(declaration: str, rules: str = "", outcomes: str = "", version: str = "v2p1") -> bytes:
    """Return an item with *declaration*, SCORE, MAXSCORE, further *outcomes* and *rules*, in 2.1's spelling."""
    text = (
        f'<assessmentItem xmlns="{NAMESPACES["v2p1"]}" identifier="tried" title="Tried" adaptive="false"'
        f' timeDependent="false">{declaration}'
        '<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float"/>'
        '<outcomeDeclaration identifier="MAXSCORE" cardinality="single" baseType="float">'
        f"<defaultValue><value>2</value></defaultValue></outcomeDeclaration>{outcomes}"
        f"<responseProcessing>{rules}</responseProcessing></assessmentItem>"
    )
    return text.replace(NAMESPACES["v2p1"], NAMESPACES[version]).encode()


def response(cardinality: str, base: str, *values: str, mapping: str = "") -> str:
    """Return a response declaration with *values* as the correct response."""
    listed = "".join(f"<value>{value}</value>" for value in values)
    return (
        f'<responseDeclaration identifier="RESPONSE" cardinality="{cardinality}" baseType="{base}">'
        f"<correctResponse>{listed}</correctResponse>{mapping}</responseDeclaration>"
    )


ONE = response("single", "identifier", "B")
SEVERAL = response("multiple", "identifier", "A", "C", mapping=(
    '<mapping lowerBound="0" upperBound="2" defaultValue="-1"><mapEntry mapKey="A" mappedValue="1"/>'
    '<mapEntry mapKey="C" mappedValue="1"/></mapping>'
))
ORDER = response("ordered", "identifier", "B", "A", "C")
PAIRS = response("multiple", "directedPair", "S1 T2", "S2 T1", mapping=(
    '<mapping defaultValue="0"><mapEntry mapKey="S1 T2" mappedValue="1"/><mapEntry mapKey="S2 T1" mappedValue="1"/>'
    "</mapping>"
))
TEXT = response("single", "string", "2.5", mapping=(
    '<mapping lowerBound="0" defaultValue="0"><mapEntry mapKey="2.5" mappedValue="1" caseSensitive="true"/>'
    '<mapEntry mapKey="2.50" mappedValue="1" caseSensitive="true"/></mapping>'
))

TEMPLATES: list[tuple[str, str, Response, int]] = [
    ("match_correct", ONE, "B", 1), ("match_correct", ONE, "A", 0), ("match_correct", ONE, None, 0),
    ("match_correct", SEVERAL, ["C", "A"], 1), ("match_correct", SEVERAL, ["A"], 0),
    ("match_correct", SEVERAL, ["A", "B", "C"], 0),
    ("match_correct", ORDER, ["B", "A", "C"], 1), ("match_correct", ORDER, ["A", "B", "C"], 0),
    ("match_correct", PAIRS, ["S2 T1", "S1 T2"], 1), ("match_correct", PAIRS, ["S1 T1", "S2 T2"], 0),
    ("map_response", SEVERAL, ["A", "C"], 2), ("map_response", SEVERAL, ["A", "B"], 0),
    ("map_response", SEVERAL, ["B"], 0), ("map_response", SEVERAL, ["A"], 1), ("map_response", SEVERAL, None, 0),
    ("map_response", PAIRS, ["S1 T2", "S2 T3"], 1), ("map_response", TEXT, "2.50", 1), ("map_response", TEXT, "2.51", 0),
    ("CC2_match", ONE, "B", 1), ("CC2_match", ONE, "C", 0), ("CC2_match_basic", ONE, "B", 2),
    ("CC2_map_response", SEVERAL, ["A", "C"], 2),
]
"""What the standard's templates must give: their files say it in their rules, and their names."""


def template(version: str, name: str) -> etree._Element:
    """Return the rules of one of the standard's own templates; skip where they are absent."""
    base = folder()
    path = Path(base or ".") / "rptemplates" / version / f"{name}.xml"
    if base is None:
        pytest.skip(needs(OFFICIAL_SCHEMAS))
    return etree.parse(str(path)).getroot()


@pytest.mark.parametrize(("version", "name", "declaration", "given", "score"), [
    (version, *case) for version in NAMESPACES for case in TEMPLATES
    if version != "v2p1" or not case[0].startswith("CC2")  # of later versions only
])
def test_the_standard_s_own_templates_score_as_they_say(
    version: str, name: str, declaration: str, given: Response, score: int
) -> None:
    basic = '<outcomeDeclaration identifier="FEEDBACKBASIC" cardinality="single" baseType="identifier"/>'
    feedback = '<outcomeDeclaration identifier="FEEDBACK" cardinality="single" baseType="identifier"/>'
    content = small_item(declaration, outcomes=basic + feedback, version=version)
    assert Session(content, template(version, name)).answer(given)["SCORE"] == score
    if version == "v2p1":
        assert SecondSession(content, template(version, name)).answer(given)["SCORE"] in (score, None if not score else 1)


def scored(expression: str) -> str:
    """Return rules that give SCORE the value of *expression*."""
    return f'<setOutcomeValue identifier="SCORE">{expression}</setOutcomeValue>'


def verdict(condition: str) -> str:
    """Return rules that give SCORE 1 where *condition* is true and 3 elsewhere."""
    one, three = (scored(f'<baseValue baseType="float">{number}</baseValue>') for number in (1, 3))
    return (
        f"<responseCondition><responseIf>{condition}{one}</responseIf><responseElse>{three}</responseElse>"
        "</responseCondition>"
    )


GIVEN = '<variable identifier="RESPONSE"/>'
CORRECT = '<correct identifier="RESPONSE"/>'


def base(text: str, kind: str = "identifier") -> str:
    """Return a base value."""
    return f'<baseValue baseType="{kind}">{text}</baseValue>'


OPERATORS: list[tuple[str, str, Response, Fraction | None]] = [
    (ONE, verdict(f"<match>{GIVEN}{base('B')}</match>"), "B", Fraction(1)),
    (ONE, verdict(f"<match>{GIVEN}{base('B')}</match>"), None, Fraction(3)),
    (ONE, verdict(f"<not><match>{GIVEN}{base('B')}</match></not>"), None, Fraction(3)),
    (ONE, verdict(f"<or><match>{GIVEN}{base('B')}</match><isNull>{GIVEN}</isNull></or>"), None, Fraction(1)),
    (ONE, verdict(f"<and><match>{GIVEN}{base('B')}</match><isNull>{GIVEN}</isNull></and>"), None, Fraction(3)),
    (SEVERAL, verdict(f"<member>{base('C')}{GIVEN}</member>"), ["A", "C"], Fraction(1)),
    (SEVERAL, verdict(f"<member>{base('C')}{GIVEN}</member>"), ["A"], Fraction(3)),
    (SEVERAL, verdict(f"<contains>{GIVEN}<multiple>{base('A')}{base('B')}</multiple></contains>"), ["B", "A"],
     Fraction(1)),
    (SEVERAL, scored(f"<integerToFloat><containerSize>{GIVEN}</containerSize></integerToFloat>"), ["A", "B"],
     Fraction(2)),
    (SEVERAL, scored('<mapResponse identifier="RESPONSE"/>'), ["A", "A", "C"], Fraction(2)),
    (SEVERAL, verdict(f"<match>{GIVEN}<multiple>{base('B')}{base('A')}</multiple></match>"), ["A", "B"], Fraction(1)),
    (ORDER, verdict(f"<match>{GIVEN}{CORRECT}</match>"), ["B", "A", "C"], Fraction(1)),
    (ORDER, verdict(f'<match><index n="2">{GIVEN}</index>{base("A")}</match>'), ["C", "A", "B"], Fraction(1)),
    (ORDER, verdict(f'<match><index n="4">{GIVEN}</index>{base("A")}</match>'), ["C", "A", "B"], Fraction(3)),
    (PAIRS, verdict(f"<member>{base('S1 T2', 'directedPair')}{GIVEN}</member>"), ["S1 T2"], Fraction(1)),
    (PAIRS, verdict(f"<member>{base('T2 S1', 'directedPair')}{GIVEN}</member>"), ["S1 T2"], Fraction(3)),
    (TEXT, verdict(f'<stringMatch caseSensitive="true">{GIVEN}{base("2.5", "string")}</stringMatch>'), "2.5",
     Fraction(1)),
    (TEXT, verdict(f"<member>{GIVEN}<multiple>{base('2.5', 'string')}{base('02.5', 'string')}</multiple></member>"),
     "02.5", Fraction(1)),
    (TEXT, verdict(f"<member>{GIVEN}<multiple>{base('2.5', 'string')}{base('02.5', 'string')}</multiple></member>"),
     "2.5x", Fraction(3)),
    (ONE, scored(f"<sum>{base('0.5', 'float')}{base('0.25', 'float')}</sum>"), "B", Fraction(3, 4)),
    (ONE, scored(f"<divide>{base('1', 'float')}{base('0', 'float')}</divide>"), "B", None),
    (ONE, scored(f"<subtract>{base('2', 'float')}{base('0.5', 'float')}</subtract>"), "B", Fraction(3, 2)),
]
"""Declaration, rules, answer and the score that the specification gives."""


@pytest.mark.parametrize(("declaration", "rules", "given", "score"), OPERATORS)
def test_operators_do_what_the_specification_says_here_and_in_the_second_opinion(
    declaration: str, rules: str, given: Response, score: Fraction | None
) -> None:
    content = small_item(declaration, rules)
    assert Session(content).answer(given)["SCORE"] == score
    second = SecondSession(content).answer(given)["SCORE"]
    assert (second if second is None else Fraction(second)) == score


@pytest.mark.parametrize("rules", [
    "<unheardOf/>", scored("<unheardOf/>"), '<setOutcomeValue identifier="RESPONSE"><null/></setOutcomeValue>',
    scored(base("words", "string")),
])
def test_what_the_interpreter_does_not_know_it_refuses(rules: str) -> None:
    with pytest.raises(ValueError):
        Session(small_item(ONE, rules)).answer("B")


@pytest.mark.parametrize("one", sampler.ITEMS, ids=lambda one: one.identifier)
def test_both_interpreters_agree_on_every_exported_item(one: object) -> None:
    content = packages("qti21")["bank"][f"items/{one.identifier}.xml"]  # type: ignore[attr-defined]
    ours, theirs = Session(content), SecondSession(content)
    tried: list[str | None] = [None]
    if isinstance(one.response, Choice):  # type: ignore[attr-defined]
        tried += [option.identifier for option in one.response.options]  # type: ignore[attr-defined]
    elif isinstance(one.response, TypedNumber):  # type: ignore[attr-defined]
        key = str(one.key)  # type: ignore[attr-defined]
        tried += [key, key + "0", f"0{key}", key.replace(".", ","), f"{key}x", f" {key}", "0"]
        tried += [str(wrong) for wrong, _ in one.response.mistakes]  # type: ignore[attr-defined]
    for given in tried:
        first, second = ours.answer(given), theirs.answer(given)
        assert Fraction(second["SCORE"]) == first["SCORE"], given
        assert second.get("FEEDBACK") == first.get("FEEDBACK"), given
