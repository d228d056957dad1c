"""A quiz as a test: its sections in fixed order, time limit, what the pupil may do, and the sum of the scores."""

from __future__ import annotations

from bank.model import BankInfo, Quiz
from exporters._faults import ExportFault
from exporters._qti import ITEM_FOLDER, MANIFEST, PROLOG, TOOL, XSI, Version
from exporters._text import escape_attribute, is_ncname
from exporters._words import LANGUAGE

_TEST = (
    PROLOG + '<assessmentTest xmlns="{namespace}" xmlns:xsi="' + XSI + '" xsi:schemaLocation="{namespace} {location}" '
    'identifier="{identifier}" title="{title}" toolName="' + TOOL + '" toolVersion="{tool}">\n'
    '<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float">'
    "<defaultValue><value>0</value></defaultValue></outcomeDeclaration>\n"
    '<outcomeDeclaration identifier="MAXSCORE" cardinality="single" baseType="float">'
    "<defaultValue><value>{count}</value></defaultValue></outcomeDeclaration>\n"
    "{limit}"
    '<testPart identifier="part1" navigationMode="nonlinear" submissionMode="{submission}">\n'
    '<itemSessionControl maxAttempts="{attempts}" showFeedback="{feedback}" allowReview="{feedback}" '
    'showSolution="false" allowComment="false" allowSkipping="true" validateResponses="false"/>\n'
    "{sections}</testPart>\n"
    '<outcomeProcessing>\n<setOutcomeValue identifier="SCORE"><sum><testVariables variableIdentifier="SCORE"/></sum>'
    "</setOutcomeValue>\n</outcomeProcessing>\n</assessmentTest>\n"
)
_LIMIT = '<timeLimits maxTime="{seconds}" allowLateSubmission="{late}"/>\n'
_SECTION = (
    '<assessmentSection identifier="section{number}" title="{title}" visible="true" keepTogether="true">\n'
    "{rubric}{items}</assessmentSection>\n"
)
_RUBRIC = '<rubricBlock{use} view="candidate" xml:lang="{language}">{words}</rubricBlock>\n'
_ITEM = '<assessmentItemRef identifier="{0}" href="' + ITEM_FOLDER + '{0}.xml"/>\n'


def test_file(quiz: Quiz) -> str:
    """Return the name of the test's file in the package of *quiz*."""
    return f"{quiz.identifier}.xml"


def write_test(version: Version, quiz: Quiz, info: BankInfo, marks: int) -> str:
    """Return *quiz*, whose items are worth so many *marks* in all, as an XML file of a test.

    Raises:
        ExportFault: an identifier is not legal, an item stands in it twice, or a text holds what XML cannot hold.
    """
    check_quiz(quiz)
    limit = ""
    if quiz.minutes:
        limit = _LIMIT.format(seconds=60 * quiz.minutes, late=_yes(quiz.use != "graded"))
    return version.spell(_TEST.format(
        namespace=version.namespace, location=version.location, identifier=quiz.identifier,
        title=escape_attribute(quiz.title), tool=escape_attribute(info.tool_version), count=marks,
        limit=limit, submission="individual" if quiz.show_feedback else "simultaneous", attempts=attempts(quiz),
        feedback=_yes(quiz.show_feedback), sections=_sections(version, quiz),
    ))


def attempts(quiz: Quiz) -> int:
    """Return how often an item may be answered: without limit (0) in practice, else once."""
    return 0 if quiz.use == "practice" else 1


def check_quiz(quiz: Quiz) -> None:
    """Return nothing where *quiz* can become a package.

    Raises:
        ExportFault: its identifier is no NCName or is the manifest's name, it has no items, or an item stands in it
            twice.
    """
    if not is_ncname(quiz.identifier):
        raise ExportFault(quiz.identifier, "", "the quiz's identifier is no NCName")
    if test_file(quiz) == MANIFEST:
        raise ExportFault(quiz.identifier, "", "the quiz's file would have the manifest's name")
    if not quiz.items:
        raise ExportFault(quiz.identifier, "", "the quiz has no items")
    if len(set(quiz.items)) != len(quiz.items):
        raise ExportFault(quiz.identifier, "", "an item stands twice in the quiz")


def _sections(version: Version, quiz: Quiz) -> str:
    words = "You may use a calculator." if quiz.calculator else "Work without a calculator."
    rubric = _RUBRIC.format(
        use=' use="instructions"' if version.rubric_use else "", language=LANGUAGE,
        words=version.content(f"<p>{words}</p>"),
    )
    return "".join([
        _SECTION.format(
            number=number, title=escape_attribute(section.title), rubric=rubric,
            items="".join([_ITEM.format(item) for item in section.items]),
        )
        for number, section in enumerate(quiz.sections, 1)
    ])


def _yes(truth: bool) -> str:
    return "true" if truth else "false"
