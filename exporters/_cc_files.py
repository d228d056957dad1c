"""The files of a cartridge, apart from the items in them: assessment, question bank, manifest.

Facts: the official schemas of Common Cartridge 1.1 and the rules in them. Version 1.3 changes the namespaces, resource
types and the version number, which are from memory and as seen in public files; the namespace of the items is the same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable

from bank.identity import test_identifier_of
from bank.model import BankInfo, Quiz
from exporters._assessment import test_file
from exporters._manifest import bank_digest, description
from exporters._qti import PROLOG, XSI
from exporters._text import escape, escape_attribute, is_ncname
from exporters._words import LANGUAGE, own_language

NAME = "cc13"
SUFFIX = ".imscc"
"""Ending of a cartridge (common practice, no source): an ordinary zip file, which an LMS knows by it."""
BANK_FILE = "question-bank.xml"
NAMESPACE = "http://www.imsglobal.org/xsd/ims_qtiasiv1p2"
_LOCATION = "http://www.imsglobal.org/profile/cc/ccv1p3/ccv1p3_qtiasiv1p2p1_v1p0.xsd"
_PACKAGE = "http://www.imsglobal.org/xsd/imsccv1p3/imscp_v1p1"
_PACKAGE_LOCATION = "http://www.imsglobal.org/profile/cc/ccv1p3/ccv1p3_imscp_v1p2_v1p0.xsd"
_LOM = "http://ltsc.ieee.org/xsd/imsccv1p3/LOM/manifest"
_LOM_LOCATION = "http://www.imsglobal.org/profile/cc/ccv1p3/LOM/ccv1p3_lommanifest_v1p0.xsd"
_TYPE = "imsqti_xmlv1p2/imscc_xmlv1p3/"
ASSESSMENT_TYPE, BANK_TYPE = _TYPE + "assessment", _TYPE + "question-bank"
MOST_ATTEMPTS = 5
"""Most attempts that the profile can say, but for any number (rule 1i)."""
MOST_MINUTES = 527040
"""Longest time limit that the profile can say (rule 1g)."""

_ROOT = (
    PROLOG + f'<questestinterop xmlns="{NAMESPACE}" xmlns:xsi="{XSI}" '
    f'xsi:schemaLocation="{NAMESPACE} {_LOCATION}">\n'
)
_ROOT_END = "</questestinterop>\n"
_BANK = '<objectbank ident="%s">\n'
_ASSESSMENT = (
    '<assessment ident="{identifier}" title="{title}" xml:lang="{language}">\n<qtimetadata>\n{fields}</qtimetadata>\n'
    '<rubric><material><mattext texttype="text/plain" charset="utf-8"{own}>{rubric}</mattext></material></rubric>\n'
    '<section ident="{identifier}-section" title="{title}" xml:lang="{language}">\n'
)
_ASSESSMENT_END = "</section>\n</assessment>\n"
_FIELD = "<qtimetadatafield><fieldlabel>%s</fieldlabel><fieldentry>%s</fieldentry></qtimetadatafield>\n"
_MANIFEST = (
    PROLOG + f'<manifest xmlns="{_PACKAGE}" xmlns:l="{_LOM}" xmlns:xsi="{XSI}" xsi:schemaLocation="{_PACKAGE} '
    f'{_PACKAGE_LOCATION} {_LOM} {_LOM_LOCATION}" identifier="manifest-{{name}}">\n'
    "<metadata>\n<schema>IMS Common Cartridge</schema>\n<schemaversion>1.3.0</schemaversion>\n"
    "<l:lom><l:general><l:title>{title}</l:title><l:language>{language}</l:language>"
    "<l:description>{description}</l:description>{keywords}</l:general>{rights}{codes}</l:lom>\n</metadata>\n"
    '{organizations}<resources>\n<resource identifier="resource-{name}" type="{type}"><file href="{file}"/>'
    "</resource>\n</resources>\n</manifest>\n"
)
_ORGANIZATIONS = (
    '<organizations><organization identifier="organization-{name}" structure="rooted-hierarchy">'
    '<item identifier="root-{name}"><item identifier="item-{name}" identifierref="resource-{name}">'
    "<title>{title}</title></item></item></organization></organizations>\n"
)
_STRING = '<l:string language="%s">%s</l:string>'
_CODES = "<l:classification>%s</l:classification>"
_CODE = "<l:taxonPath><l:taxon><l:id>%s</l:id></l:taxon></l:taxonPath>"
"""The cartridge's own schema of metadata names no source of a code, so that it stands with the code."""


class Cartridge:
    """What stands for a version where one is asked for."""

    name = NAME

    def profile(self, part: str) -> str:
        """Return the name of our own schema of *part*: ``items`` or ``manifest``."""
        return f"{NAME}-{part}.xsd"


def items_file(quiz: Quiz | None) -> str:
    """Return the name of the file with the items: of *quiz*, or of the whole bank."""
    return test_file(quiz) if quiz else BANK_FILE


def head(info: BankInfo, quiz: Quiz | None) -> str:
    """Return what stands before the items: of *quiz* as an assessment, or of the bank."""
    if quiz is None:
        return _ROOT + _BANK % bank_identifier(info)
    fields = [
        ("cc_profile", "cc.exam.v0p1"), ("qmd_assessmenttype", "Examination"), ("qmd_scoretype", "Percentage"),
        ("qmd_feedbackpermitted", _yes(quiz.show_feedback)), ("qmd_hintspermitted", "No"),
        ("qmd_solutionspermitted", _yes(quiz.show_feedback)),
        ("cc_maxattempts", str(min(quiz.most_attempts, MOST_ATTEMPTS)) if quiz.most_attempts else "unlimited"),
    ]  # fmt: skip
    if 0 < quiz.minutes <= MOST_MINUTES:
        fields += [("qmd_timelimit", str(quiz.minutes)), ("cc_allow_late_submission", _yes(quiz.use != "graded"))]
    return _ROOT + _ASSESSMENT.format(
        identifier=test_identifier_of(quiz, info.locale), title=escape_attribute(quiz.title), language=escape_attribute(info.locale.language),
        fields="".join([_FIELD % field for field in fields]), own=own_language(info.locale),
        rubric="You may use a calculator." if quiz.calculator else "Work without a calculator.",
    )


def end(quiz: Quiz | None) -> str:
    """Return what stands behind the items."""
    return ("</objectbank>\n" if quiz is None else _ASSESSMENT_END) + _ROOT_END


def bank_identifier(info: BankInfo) -> str:
    """Return the identifier of the question bank: another for every content."""
    return (f"bank-{info.plan}" if is_ncname(f"bank-{info.plan}") else "bank") + bank_digest(info)


def manifest(info: BankInfo, quiz: Quiz | None, topics: Collection[str], codes: Iterable[str]) -> str:
    """Return the manifest of the cartridge of *quiz*, or of the question bank, which no organization may show."""
    language = escape_attribute(info.locale.language)

    def said(text: str, of: str = language) -> str:
        return _STRING % (of, escape(text))

    title = f"{info.title}: {quiz.title}" if quiz else info.title
    name = test_identifier_of(quiz, info.locale) if quiz else f"bank{bank_digest(info)}"
    paths = "".join([_CODE % escape(code) for code in codes])
    return _MANIFEST.format(
        name=name, title=said(title), language=language, description=said(description(info, quiz), LANGUAGE),
        keywords="".join([f"<l:keyword>{said(f'topic: {topic}', LANGUAGE)}</l:keyword>" for topic in topics]),
        rights=f"<l:rights><l:description>{said(info.rights)}</l:description></l:rights>" if info.rights else "",
        codes=_CODES % paths if paths else "",
        organizations=_ORGANIZATIONS.format(name=name, title=escape(quiz.title)) if quiz else "<organizations/>\n",
        type=ASSESSMENT_TYPE if quiz else BANK_TYPE, file=items_file(quiz),
    )


def _yes(truth: bool) -> str:
    return "Yes" if truth else "No"
