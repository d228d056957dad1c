"""One item in XML as the cartridge's QTI 1.2.1 profile writes it.

The score runs from 0 to 100 and a right answer sets 100 (common practice, no source; the schema has no default). What
the schema gives defaults for is written out. `other` ends the conditions of typed items only, behind conditions that
all stop, so that it means the same whether it is read as "no other condition held" or as "always".
"""

from __future__ import annotations

from bank.identity import asked_otherwise
from bank.marking import most_marks
from bank.model import BankInfo, FindMistake, Item
from exporters._cc_asked import SEVERAL, TYPED, Asked, Asking
from exporters._faults import ExportFault
from exporters._text import escape, escape_attribute, escape_new, is_ncname

RESPONSE = "RESPONSE"
FULL = "100"
"""Score of a right answer."""
SOLUTION = "solution"
"""Identifier that the profile keeps for worked solutions."""
MOST_WEIGHT = 99
"""Largest weight that the profile can say (rule 2c)."""
RIGHT, OTHER = "right", "other"
"""Names of the feedback on a right, and on any other typed answer."""
_FIELD = "<qtimetadatafield><fieldlabel>%s</fieldlabel><fieldentry>%s</fieldentry></qtimetadatafield>\n"
_TEXT = '<mattext texttype="%s" charset="utf-8">%s</mattext>'
_PLAIN, _HTML = "text/plain", "text/html"
_OPTION = f'<response_label ident="%s" rshuffle="No"><material>{_TEXT % (_PLAIN, "%s")}</material></response_label>\n'
_EQUAL = f'<varequal respident="{RESPONSE}" case="Yes">%s</varequal>'
_SET = f'<setvar varname="SCORE" action="Set">{FULL}</setvar>'
_SHOWN = '<displayfeedback feedbacktype="%s" linkrefid="%s"/>'
_SOLVED = _SHOWN % ("Solution", SOLUTION)
_CONDITION = '<respcondition continue="%s"><conditionvar>%s</conditionvar>%s</respcondition>\n'
_FEEDBACK = (
    f'<itemfeedback ident="%s"><flow_mat class="Block"><material>{_TEXT % ("%s", "%s")}</material></flow_mat>'
    "</itemfeedback>\n"
)
_SOLUTION = (
    f'<itemfeedback ident="{SOLUTION}"><solution feedbackstyle="Complete"><solutionmaterial><flow_mat class="Block">'
    f'<material>{_TEXT % (_HTML, "%s")}</material></flow_mat></solutionmaterial></solution></itemfeedback>\n'
)
_BLANK = '<response_label ident="ANSWER" rshuffle="No"/>'
"""The place to type in. The schema lets it be absent; then one library that was tried finds no question there."""
_FIELDS = (10, 20, 40, 80)
"""Lengths of the field for a typed answer: the shortest with room, so that it hardly tells the key's length."""


class ItemWriter:
    """Writes the items of one bank."""

    def __init__(self, info: BankInfo) -> None:
        self._asking = Asking(info.locale)
        self._language = escape_attribute(info.locale.language)

    def item(self, item: Item, feedback: bool) -> str:
        """Return *item*, which must not be one that is refused, as an element.

        Raises:
            ExportFault: it contradicts itself in what no schema checks, or holds what XML cannot hold.
        """
        try:
            if not is_ncname(item.identifier):
                raise ExportFault("", "", "the identifier is no NCName")
            return self._written(item, self._asking.asked(item, feedback))
        except ExportFault as fault:
            raise ExportFault(fault.file or "cc13", item.identifier, fault.wrong) from None

    def _written(self, item: Item, asked: Asked) -> str:
        fields = [
            _FIELD % ("cc_profile", f"cc.{asked.profile}.v0p1"),
            _FIELD % ("cc_question_category", escape(item.family.topic)), _FIELD % ("cc_weighting", str(_weight(item))),
            _FIELD % ("qmd_scoringpermitted", "Yes"), _FIELD % ("qmd_computerscored", "Yes"),
        ]  # fmt: skip
        presented, conditions, said = _typed(asked) if asked.profile == TYPED else _chosen(asked)
        if asked.solution:
            said.append(_SOLUTION % _again(asked.solution))
        return (
            f'<item ident="{asked_otherwise(item)}" title="{escape_attribute(item.family.title)}" '
            f'xml:lang="{self._language}">\n'
            f"<itemmetadata><qtimetadata>\n{''.join(fields)}</qtimetadata></itemmetadata>\n"
            f"<presentation>\n<material>{_TEXT % (_HTML, _again(asked.stem))}</material>\n{presented}"
            '</presentation>\n<resprocessing>\n<outcomes><decvar varname="SCORE" vartype="Integer" minvalue="0" '
            f'maxvalue="{FULL}"/></outcomes>\n'
            f"{''.join(conditions)}</resprocessing>\n{''.join(said)}</item>\n"
        )


def _weight(item: Item) -> int:
    """Return how many marks the item counts: as many as elsewhere, but of a mistake to be found only the step."""
    return 1 if isinstance(item.response, FindMistake) else min(most_marks(item.response), MOST_WEIGHT)


def _again(markup: str) -> str:
    """Return HTML, whose texts are escaped already, as text of an element."""
    return markup.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _feedback(name: str, said: str) -> str:
    """Return a piece of feedback; HTML where a part of it is marked as being in another language, else plain text."""
    if "<" in said:
        return _FEEDBACK % (f"feedback-{name}", _HTML, _again(f"<p>{said}</p>"))
    return _FEEDBACK % (f"feedback-{name}", _PLAIN, said)


def _chosen(asked: Asked) -> tuple[str, list[str], list[str]]:
    """Return what is presented, the conditions and the feedback of a question with options.

    First come conditions that only give feedback and go on, then the one that scores.
    """
    labels = "".join([_OPTION % (name, escape_new(text)) for name, text, _ in asked.options])
    several = asked.profile == SEVERAL
    most = len(asked.options) if several else 1
    presented = (
        f'<response_lid ident="{RESPONSE}" rcardinality="{"Multiple" if several else "Single"}" rtiming="No">'
        f'<render_choice shuffle="No" minnumber="0" maxnumber="{most}">\n{labels}</render_choice></response_lid>\n'
    )
    solved = _SOLVED if asked.solution else ""
    conditions, feedback = [], []
    for name, _, said in asked.options:
        shown = (_SHOWN % ("Response", f"feedback-{name}") if said else "") + solved
        if shown:
            conditions.append(_CONDITION % ("Yes", _EQUAL % name, shown))
        if said:
            feedback.append(_feedback(name, said))
    equal = {name: _EQUAL % name for name, _, _ in asked.options}
    wanted = "".join([one if name in asked.keys else f"<not>{one}</not>" for name, one in equal.items()])
    right = f"<and>{wanted}</and>" if several else equal[asked.keys[0]]
    conditions.append(_CONDITION % ("No", right, _SET))
    return presented, conditions, feedback


def _typed(asked: Asked) -> tuple[str, list[str], list[str]]:
    """Return what is presented, the conditions and the feedback of a question with a typed answer.

    Every spelling has a condition of its own that stops: the profile has no "or".
    """
    room = max([len(form) for form in asked.spellings[:1]]) + 2
    length = next((wide for wide in _FIELDS if wide >= room), room)
    presented = (
        f'<response_str ident="{RESPONSE}" rcardinality="Single" rtiming="No"><render_fib encoding="utf-8" '
        f'charset="utf-8" rows="1" columns="{length}" prompt="Box" fibtype="String">{_BLANK}</render_fib>'
        "</response_str>\n"
    )
    solved = _SOLVED if asked.solution else ""
    cases = [(RIGHT, asked.right, asked.spellings, _SET), *[(*case, "") for case in asked.foreseen]]
    conditions, feedback = [], []
    for name, said, spellings, scored in cases:
        done = scored + (_SHOWN % ("Response", f"feedback-{name}") if said else "") + solved
        conditions += [_CONDITION % ("No", _EQUAL % escape_new(form), done) for form in spellings]
        if said:
            feedback.append(_feedback(name, said))
    rest = (_SHOWN % ("Response", f"feedback-{OTHER}") if asked.other else "") + solved
    if rest:
        conditions.append(_CONDITION % ("No", "<other/>", rest))
    if asked.other:
        feedback.append(_feedback(OTHER, asked.other))
    return presented, conditions, feedback
