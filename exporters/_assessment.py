"""A quiz as a test: its sections, which items are asked, time limit, what the pupil may do, the sum of the scores."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from bank.identity import test_identifier_of
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
    "<defaultValue><value>{marks}</value></defaultValue></outcomeDeclaration>\n"
    "{limit}"
    '<testPart identifier="part1" navigationMode="nonlinear" submissionMode="{submission}">\n'
    '<itemSessionControl maxAttempts="{attempts}" showFeedback="{feedback}" allowReview="{feedback}" '
    'showSolution="false" allowComment="false" allowSkipping="true" validateResponses="false"/>\n'
    "{sections}</testPart>\n"
    '<outcomeProcessing>\n<setOutcomeValue identifier="SCORE"><sum><testVariables variableIdentifier="SCORE"/></sum>'
    "</setOutcomeValue>\n{most}</outcomeProcessing>\n</assessmentTest>\n"
)
_MOST = (
    '<setOutcomeValue identifier="MAXSCORE"><sum><testVariables variableIdentifier="MAXSCORE"/></sum>'
    "</setOutcomeValue>\n"
)
"""Where each pupil is asked a part of the items, the most that can be earned hangs on which these are."""
_LIMIT = '<timeLimits maxTime="{seconds}" allowLateSubmission="{late}"/>\n'
_SECTION = (
    '<assessmentSection identifier="section{number}" title="{title}" visible="true" keepTogether="true">\n'
    "{selection}{ordering}{rubric}{items}</assessmentSection>\n"
)
_SELECTION = '<selection select="{0}" withReplacement="false"/>\n'
_ORDERING = '<ordering shuffle="true"/>\n'
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
        namespace=version.namespace, location=version.location, identifier=test_identifier_of(quiz, info.locale),
        title=escape_attribute(quiz.title), tool=escape_attribute(info.tool_version), marks=marks,
        limit=limit, submission=_submission(quiz), attempts=quiz.most_attempts,
        most=_MOST if any([section.select for section in quiz.sections]) else "",
        feedback=_yes(quiz.show_feedback), sections=_sections(version, quiz),
    ))


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
    for section in quiz.sections:
        if not 0 <= section.select <= len(section.items):
            raise ExportFault(quiz.identifier, "", f"the section {section.title!r} asks more items than it has")


def check_shown(quiz: Quiz, items: Iterable[str], silent: Collection[str]) -> None:
    """Return nothing where *items* of *quiz* give feedback just where the quiz does; *silent* are those that give none.

    Raises:
        ExportFault: one does otherwise: the quiz would say what it keeps back elsewhere, or keep back what it promises.
    """
    for item in items:
        if (item in silent) is quiz.show_feedback:
            does = "shows no feedback" if quiz.show_feedback else "shows feedback"
            raise ExportFault(quiz.identifier, item, f"the item {does}, otherwise than its quiz")


def _submission(quiz: Quiz) -> str:
    """Return when answers are handed in: all at the end where there is no feedback and one attempt at each.

    Handing in all together leaves one attempt only (from memory, the specification of submission modes).
    """
    return "simultaneous" if not quiz.show_feedback and quiz.most_attempts == 1 else "individual"


def _sections(version: Version, quiz: Quiz) -> str:
    words = "You may use a calculator." if quiz.calculator else "Work without a calculator."
    rubric = _RUBRIC.format(
        use=' use="instructions"' if version.rubric_use else "", language=LANGUAGE,
        words=version.content(f"<p>{words}</p>"),
    )
    return "".join([
        _SECTION.format(
            number=number, title=escape_attribute(section.title), rubric=rubric,
            selection=_SELECTION.format(section.select) if section.select else "",
            ordering=_ORDERING if quiz.shuffled else "",
            items="".join([_ITEM.format(item) for item in section.items]),
        )
        for number, section in enumerate(quiz.sections, 1)
    ])


def _yes(truth: bool) -> str:
    return "true" if truth else "false"
