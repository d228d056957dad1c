"""The text form of a family's items: everything they share, with slots for what is an item's own.

A form is written in 2.x spelling, spelled for the version, and filled with what the family says; what stays are
``%s`` slots, in the order of `CHOICE_SLOTS` or `TYPED_SLOTS`. A slot that a family does not show is ``%.0s``.
Rules are written out, no template is named: every implementation tried runs them alike.
"""

from __future__ import annotations

from exporters._qti import PROLOG, TOOL, XSI, Version

CHOICE_SLOTS = ("identifier", "key", "stem", "options", "catalog", "working")
TYPED_SLOTS = (
    "identifier", "answer", "entries", "stem", "asked", "length", "label", "catalog", "rules", "modals", "working",
)  # fmt: skip
RIGHT, OTHER = "right", "other"
"""Values of FEEDBACK of a typed item for a right answer, and for a wrong one that was not foreseen."""
FIELD_LENGTHS = (10, 20, 40, 80)
"""Lengths of the field for a typed answer: the shortest with room, so that it hardly tells the key's length."""
WORKED = "worked"
"""Value of SOLUTION: set with every answer, for then the working is shown."""

_HEAD = (
    PROLOG + '<assessmentItem xmlns="{namespace}" xmlns:xsi="' + XSI + '" xsi:schemaLocation="{namespace} {location}" '
    'identifier="%s" title="{title}" xml:lang="{language}" adaptive="false" timeDependent="false" '
    'toolName="' + TOOL + '" toolVersion="{tool}">\n'
)
_DECLARED_CHOICE = (
    '<responseDeclaration identifier="RESPONSE" cardinality="single" baseType="identifier">'
    "<correctResponse><value>%s</value></correctResponse></responseDeclaration>\n"
)
_DECLARED_TYPED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="single" baseType="string">'
    "<correctResponse><value>%s</value></correctResponse>\n"
    '<mapping lowerBound="0" upperBound="1" defaultValue="0">\n%s</mapping></responseDeclaration>\n'
)
_SCORES = (
    '<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float" normalMaximum="1" normalMinimum="0">'
    "<defaultValue><value>0</value></defaultValue></outcomeDeclaration>\n"
    '<outcomeDeclaration identifier="MAXSCORE" cardinality="single" baseType="float">'
    "<defaultValue><value>1</value></defaultValue></outcomeDeclaration>\n"
)
_WORD = '<outcomeDeclaration identifier="{0}" cardinality="single" baseType="identifier"/>\n'
_BODY_CHOICE = (
    "<itemBody>\n%s"
    '<choiceInteraction responseIdentifier="RESPONSE" shuffle="false" maxChoices="1">'
    "<prompt{own}>Choose one answer.</prompt>\n%s</choiceInteraction>\n</itemBody>\n"
)
_BODY_TYPED = (
    "<itemBody>\n%s<p{own}>%s</p>\n"
    '<div class="stemwright-answer">{answer} {before}<textEntryInteraction responseIdentifier="RESPONSE" '
    'expectedLength="%s"{label}/>{after}</div>\n</itemBody>\n'
)
_NULL = '<isNull><variable identifier="RESPONSE"/></isNull>'
_RIGHT = '<gt><variable identifier="SCORE"/><baseValue baseType="float">0</baseValue></gt>'
_SET_SCORE = '<setOutcomeValue identifier="SCORE"><baseValue baseType="float">{0}</baseValue></setOutcomeValue>'
SET_WORD = '<setOutcomeValue identifier="{0}"><baseValue baseType="identifier">{1}</baseValue></setOutcomeValue>'
_SCORE_CHOICE = (
    '<responseCondition><responseIf><match><variable identifier="RESPONSE"/><correct identifier="RESPONSE"/></match>'
    + _SET_SCORE.format(1) + "</responseIf><responseElse>" + _SET_SCORE.format(0)
    + "</responseElse></responseCondition>\n"
)
_FEEDBACK_CHOICE = '<setOutcomeValue identifier="FEEDBACK"><variable identifier="RESPONSE"/></setOutcomeValue>\n'
_SCORE_TYPED = (
    "<responseCondition><responseIf>" + _NULL + _SET_SCORE.format(0) + "</responseIf><responseElse>"
    '<setOutcomeValue identifier="SCORE"><mapResponse identifier="RESPONSE"/></setOutcomeValue>'
    "</responseElse></responseCondition>\n"
)
_FEEDBACK_TYPED = (
    "<responseCondition><responseIf>" + _RIGHT + SET_WORD.format("FEEDBACK", RIGHT) + "</responseIf>\n%s"
    "{other}</responseCondition>\n"
)
_OTHER = (
    "<responseElseIf><not>" + _NULL + "</not>" + SET_WORD.format("FEEDBACK", OTHER) + "</responseElseIf>\n"
)
_SHOW_WORKING = SET_WORD.format("SOLUTION", WORKED) + "\n"
_MODAL = '<modalFeedback outcomeIdentifier="{0}" identifier="{1}" showHide="show" title="{2}">'
_MODAL_END = "</modalFeedback>\n"


def modal(version: Version, outcome: str, name: str, title: str, content: str) -> str:
    """Return modal feedback, in 2.x spelling, shown where *outcome* is *name*."""
    return _MODAL.format(outcome, name, title) + version.content(content) + _MODAL_END


def field_length(written: int) -> int:
    """Return the length of the field for an answer of so many characters."""
    room = written + 2
    return next((wide for wide in FIELD_LENGTHS if wide >= room), room)


def head(version: Version, title: str, language: str, tool: str) -> str:
    """Return the opening tag of an item, in 2.x spelling, with a slot for its identifier; texts are escaped."""
    return _HEAD.format(
        namespace=version.namespace, location=version.location, title=_doubled(title), language=_doubled(language),
        tool=_doubled(tool),
    )


def compiled(
    version: Version, *, choice: bool, title: str, language: str, tool: str, feedback: bool, working: bool,
    hint: str = "", praise: str = "", before: str = "", after: str = "", asked_in: str = "",
    own: str = "",
) -> str:
    """Return the text form of a family's items.

    All texts are escaped. *praise* and *hint* are the markup of modal feedback of typed items, empty where there is
    none; *before* and *after* are the unit beside the field, *asked_in* is how the unit is said. *own* is
    the attribute that marks the tool's own phrases.
    """
    begin = head(version, title, language, tool)
    words = ["FEEDBACK"] * feedback + ["SOLUTION"] * working
    outcomes = _SCORES + "".join([_WORD.format(word) for word in words])
    if choice:
        declared, body = _DECLARED_CHOICE, _BODY_CHOICE.format(own=own)
        rules = _SCORE_CHOICE + _FEEDBACK_CHOICE * feedback
    else:
        declared = _DECLARED_TYPED
        said = f"Answer in {_doubled(asked_in)}" if asked_in else "Answer"
        label = f' aria-label="{said}. %s"' if version.aria else "%.0s"
        answer = f"<span{own}>Answer:</span>" if own else "Answer:"
        body = _BODY_TYPED.format(own=own, answer=answer, before=_doubled(before), after=_doubled(after), label=label)
        rules = _SCORE_TYPED + (_FEEDBACK_TYPED.format(other=_OTHER if hint else "") if feedback else "%.0s")
    rules += _SHOW_WORKING * working
    modals = "" if choice else _doubled(praise) + "%s"
    modals += _doubled(hint)
    modals += modal(version, "SOLUTION", WORKED, "Worked solution", "%s") if working else "%.0s"
    return version.spell(
        f"{begin}{declared}{outcomes}{body}%s<responseProcessing>\n{rules}</responseProcessing>\n"
        f"{modals}</assessmentItem>\n"
    )


def _doubled(text: str) -> str:
    return text.replace("%", "%%")
