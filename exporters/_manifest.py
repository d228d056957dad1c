"""The manifest of a package: what lies in it, and what each item is about.

A bank may hold a hundred thousand items, so what is said of each is short, and the manifest is made in pieces:
`opening`, one `ItemEntries.entry` an item, `CLOSING`.

Curriculum codes stand in the classification. The curriculum-standards metadata of QTI 3.0 and 2.2 would ask for the
GUID that a standards body gave each statement [its schemas: labelledGUID]; templates know codes, and none is made up.
What the tool says is marked as being in the tool's language, what the writer says as being in the locale's.
"""

from __future__ import annotations

from bank.identity import test_identifier_of
from bank.model import BankInfo, Choice, Family, Item, Quiz, TypedNumber
from exporters._assessment import test_file
from exporters._kinds import interactions
from exporters._qti import ITEM_FOLDER, LOM, LOM_LOCATION, PROLOG, TOOL, XSI, Version
from exporters._text import escape, escape_attribute
from exporters._words import LANGUAGE

_OPENING = (
    PROLOG + '<manifest xmlns="{namespace}" xmlns:q="{metadata}" xmlns:l="' + LOM + '" xmlns:xsi="' + XSI + '" '
    'xsi:schemaLocation="{namespace} {location} {metadata} {metadata_location} ' + LOM + " " + LOM_LOCATION + '{more}" '
    '{spaces}identifier="{identifier}">\n'
    "<metadata>\n<schema>{schema}</schema>\n<schemaversion>{schema_version}</schemaversion>\n"
    "<l:lom><l:general><l:title>{title}</l:title><l:language>{language}</l:language>"
    "<l:description>{description}</l:description></l:general>{rights}</l:lom>\n</metadata>\n"
    "<organizations/>\n<resources>\n"
)
CLOSING = "</resources>\n</manifest>\n"
_STRING = '<l:string language="{0}">{1}</l:string>'
_RIGHTS = "<l:rights><l:description>{0}</l:description></l:rights>"
_TEST = (
    '<resource identifier="test-{identifier}" type="{type}" href="{file}">\n<file href="{file}"/>\n{items}</resource>\n'
)
BANK_MANIFEST = "manifest-bank"
"""Begin of the identifier of the manifest of a whole bank; `bank_digest` is its end."""
_DEPENDENCY = '<dependency identifierref="{0}"/>\n'
_ITEM = (
    '<resource identifier="%s" type="{type}" href="' + ITEM_FOLDER + '%s.xml"><metadata>'
    "<q:qtiMetadata>{interactions}<q:feedbackType>{feedback}</q:feedbackType>"
    "<q:solutionAvailable>{solution}</q:solutionAvailable>"
    "<q:toolName>" + TOOL + "</q:toolName><q:toolVersion>{tool}</q:toolVersion></q:qtiMetadata>{standards}"
    "<l:lom><l:general><l:title>{title}</l:title><l:keyword>{topic}</l:keyword><l:keyword>{predicted}</l:keyword>"
    "</l:general><l:lifeCycle><l:version>{version}</l:version></l:lifeCycle>{codes}</l:lom></metadata>"
    '<file href="' + ITEM_FOLDER + '%s.xml"/></resource>\n'
)
_INTERACTION = "<q:interactionType>{0}</q:interactionType>"
_CHOICE, _TYPED = ("choiceInteraction",), ("textEntryInteraction",)
_CODES = "<l:classification>{0}</l:classification>"
_CODE = "<l:taxonPath><l:source>{0}</l:source><l:taxon><l:id>{1}</l:id></l:taxon></l:taxonPath>"
_STANDARDS = "<c:curriculumStandardsMetadataSet>{0}</c:curriculumStandardsMetadataSet>"
_OF_PROVIDER = (
    '<c:curriculumStandardsMetadata providerId="{0}"><c:setOfGUIDs>{1}</c:setOfGUIDs></c:curriculumStandardsMetadata>'
)
_LABELLED = "<c:labelledGUID><c:label>{0}</c:label><c:GUID>{0}</c:GUID></c:labelledGUID>"
"""A framework's own code stands for the identifier: banks know no others."""
INVENTED = "The scenario is invented."
PREDICTED = "predicted difficulty: %s, share right 0.%03d to 0.%03d (not observed)"


def opening(version: Version, info: BankInfo, quiz: Quiz | None) -> str:
    """Return the manifest up to its first item: of the package of *quiz*, or of the whole bank where it is None.

    Raises:
        ExportFault: a text holds what XML cannot hold.
    """
    language = escape_attribute(info.locale.language)
    title = info.title if quiz is None else f"{info.title}: {quiz.title}"
    text = _OPENING.format(
        namespace=version.manifest_namespace, location=version.manifest_location, metadata=version.metadata_namespace,
        metadata_location=version.metadata_location, identifier=_identifier(info, quiz),
        schema=version.package_schema if quiz else version.bank_schema, schema_version=version.schema_version,
        title=_STRING.format(language, escape(title)), language=language,
        more=f" {version.standards_namespace} {version.standards_location}" if version.standards_namespace else "",
        spaces=f'xmlns:c="{version.standards_namespace}" ' if version.standards_namespace else "",
        description=_STRING.format(LANGUAGE, escape(description(info, quiz))),
        rights=_RIGHTS.format(_STRING.format(language, escape(info.rights))) if info.rights else "",
    )
    if quiz is not None:
        items = "".join([_DEPENDENCY.format(item) for item in quiz.items])
        text += _TEST.format(identifier=test_identifier_of(quiz, info.locale), type=version.test_type, file=test_file(quiz), items=items)
    return text


def _identifier(info: BankInfo, quiz: Quiz | None) -> str:
    """Return the manifest's identifier, which is another where the package has another content."""
    if quiz is not None:
        return f"manifest-{test_identifier_of(quiz, info.locale)}"
    return BANK_MANIFEST + bank_digest(info)


def bank_digest(info: BankInfo) -> str:
    """Return the end of identifiers of packages of the whole bank: its fingerprint, and whether items are left out."""
    return (f"-{info.fingerprint}" if info.fingerprint else "") + ("-in-part" if info.in_part else "")


def made_by(info: BankInfo) -> str:
    """Return what made a file, and from which bank."""
    bank = f" from the bank {info.fingerprint}" if info.fingerprint else ""
    return f"Made by {TOOL} {info.tool_version}{bank}."


def description(info: BankInfo, quiz: Quiz | None) -> str:
    """Return what a manifest says of the package of *quiz*, or of the whole bank, in the tool's words."""
    said = [INVENTED] if info.invented else []
    if quiz is not None:
        said.append(f"Use: {quiz.use}. Week {quiz.week}.")
    return " ".join([*said, made_by(info)])


class ItemEntries:
    """Writes what the manifest says of each item of one bank, keeping what the items of a family share."""

    def __init__(self, version: Version, info: BankInfo) -> None:
        self._version = version
        self._info = info
        self._forms: dict[tuple[str, tuple[str, ...], bool], str] = {}

    def entry(self, item: Item, feedback: bool) -> str:
        """Return the resource of *item*, which carries feedback or not."""
        response = item.response
        asked = _CHOICE if isinstance(response, Choice) else _TYPED
        if asked is _TYPED and not isinstance(response, TypedNumber):
            asked = interactions(response)
        known = (item.family.template, asked, feedback)
        form = self._forms.get(known)
        if form is None:
            form = self._forms[known] = self._form(item.family, asked, feedback)
        name, prediction = item.identifier, item.prediction
        return form % (
            name, name, escape(prediction.band), min(prediction.low_share, 999), min(prediction.high_share, 999),
            name,
        )  # fmt: skip

    def _form(self, family: Family, asked: tuple[str, ...], feedback: bool) -> str:
        language = escape_attribute(self._info.locale.language)
        codes, standards = self._curriculum(family, language)
        fixed = {
            "type": self._version.item_type,
            "interactions": "".join([_INTERACTION.format(name) for name in asked]),
            "feedback": "nonadaptive" if feedback else "none",
            "solution": "true" if feedback and family.show_solution else "false",
            "title": _STRING.format(language, escape(family.title)),
            "topic": _STRING.format(LANGUAGE, escape(f"topic: {family.topic}")),
            "tool": escape(self._info.tool_version),
            "version": _STRING.format(LANGUAGE, family.version),
            "codes": codes, "standards": standards,
        }
        doubled = {name: text.replace("%", "%%") for name, text in fixed.items()}
        return _ITEM.format(predicted=_STRING.format(LANGUAGE, PREDICTED), **doubled)

    def _curriculum(self, family: Family, language: str) -> tuple[str, str]:
        """Return the codes of *family* as learning object metadata or, where the version has it, in its own form."""
        codes: list[str] = []
        labelled: dict[str, list[str]] = {}
        for code in family.codes:
            system, _, number = code.rpartition(" ")
            system, number = escape(system or "curriculum"), escape(number)
            codes.append(_CODE.format(_STRING.format(language, system), number))
            labelled.setdefault(system.replace('"', "&quot;"), []).append(_LABELLED.format(number))
        if not self._version.standards_namespace:
            return (_CODES.format("".join(codes)) if codes else ""), ""
        sets = [_OF_PROVIDER.format(system, "".join(labels)) for system, labels in labelled.items()]
        return "", (_STANDARDS.format("".join(sets)) if sets else "")
