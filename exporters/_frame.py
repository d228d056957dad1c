"""What items of every kind beyond choice and typed number have in common: head, outcomes, stem, catalog, solution.

A kind's module writes its declaration, interaction, rules and feedback; `Frame.item` puts an item together. Everything
is written in 2.x spelling and spelled once, when a kind is made, not once an item.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import NamedTuple

from bank.marking import most_marks
from bank.model import BankInfo, Expression, Family, Item, Line, Unit
from exporters import _formula, _layout, _shape, _spoken
from exporters._faults import ExportFault
from exporters._qti import Version
from exporters._text import escape, escape_attribute, leaf_text
from exporters._words import PRAISE, Words, own_language

RESPONSE = "RESPONSE"
FEEDBACK, SOLUTION, SCORE = "FEEDBACK", "SOLUTION", "SCORE"

_SCORES = (
    '<outcomeDeclaration identifier="SCORE" cardinality="single" baseType="float" normalMaximum="%d" '
    'normalMinimum="0"><defaultValue><value>0</value></defaultValue></outcomeDeclaration>\n'
    '<outcomeDeclaration identifier="MAXSCORE" cardinality="single" baseType="float">'
    "<defaultValue><value>%d</value></defaultValue></outcomeDeclaration>\n"
)
_PART_SCORE = (
    '<outcomeDeclaration identifier="%s" cardinality="single" baseType="float">'
    "<defaultValue><value>0</value></defaultValue></outcomeDeclaration>\n"
)
_WORD = '<outcomeDeclaration identifier="%s" cardinality="%s" baseType="identifier"/>\n'
_BODY = "<itemBody>\n%s</itemBody>\n"
_RULES = "<responseProcessing>\n%s</responseProcessing>\n"
_END = "</assessmentItem>\n"
_CARD = '<catalog id="%s"><card support="spoken"><htmlContent>%s</htmlContent></card></catalog>'
_CATALOG_INFO = "<catalogInfo>%s</catalogInfo>\n"


class Parts(NamedTuple):
    """What a kind writes of one item, spelled for the version."""

    declared: str
    """Response declarations."""
    body: str
    """Everything in the item's body."""
    rules: str
    words: tuple[tuple[str, str], ...] = ()
    """(name, cardinality) of the outcomes that feedback hangs on."""
    scores: tuple[str, ...] = ()
    """Names of outcomes that hold the marks of parts."""
    modals: str = ""


class Frame:
    """Puts items together for one bank and version."""

    def __init__(self, version: Version, info: BankInfo) -> None:
        self.version, self.locale = version, info.locale
        self.own = own_language(info.locale)
        """Attribute that marks the language of the tool's own phrases; empty where it is the locale's."""
        self.words = Words(info.locale, self.own)
        self.right = self.words.phrase(PRAISE)
        """Said of a part that is right."""
        self._speaks = version.catalog and not self.own  # spoken forms are words of the tool's language
        self._info = info
        self._heads: dict[str, str] = {}
        spell = self.spell = version.spell
        self._scores, self._part_score, self._word = spell(_SCORES), spell(_PART_SCORE), spell(_WORD)
        self._body, self._rules, self._end = spell(_BODY), spell(_RULES), spell(_END)
        self._card, self._catalog_info = spell(_CARD), spell(_CATALOG_INFO)
        self._show_working = spell(_shape.SET_WORD.format(SOLUTION, _shape.WORKED) + "\n")
        self._modal = spell(_shape.modal(version, "%s", "%s", "%s", "<p>%s</p>"))
        self._working = spell(_shape.modal(version, SOLUTION, _shape.WORKED, "Worked solution", "%s"))

    def item(self, item: Item, feedback: bool, parts: Parts, cards: Sequence[str]) -> bytes:
        """Return *item* as an XML file, made of what its kind wrote; *cards* are spoken forms in order."""
        marks = most_marks(item.response)
        working = feedback and item.family.show_solution
        words = (*parts.words, (SOLUTION, "single")) if working else parts.words
        text = (
            self._head(item.family) % item.identifier, parts.declared, self._scores % (marks, marks),
            "".join([self._part_score % name for name in parts.scores]),
            "".join([self._word % word for word in words]),
            self._body % parts.body,
            self._catalog_info % "".join(cards) if cards else "",
            self._rules % (parts.rules + (self._show_working if working else "")),
            parts.modals,
            self._working % _layout.solution(item.solution, self.locale, self.own) if working else "",
            self._end,
        )  # fmt: skip
        return "".join(text).encode()

    def _head(self, family: Family) -> str:
        found = self._heads.get(family.template)
        if found is None:
            found = self._heads[family.template] = self.spell(_shape.head(
                self.version, escape_attribute(family.title), escape_attribute(self.locale.language),
                escape_attribute(self._info.tool_version),
            ))
        return found

    def spoken(self, line: Line, unit: Unit | None, cards: list[str]) -> str:
        """Return the attribute that names the spoken form of *line*, which is added to *cards*; empty without one."""
        if not self._speaks:
            return ""
        said = _spoken.line(line, self.locale.decimal_mark, unit)
        if not said:
            return ""
        name = f"spoken{len(cards) + 1}"
        cards.append(self._card % (name, escape(said)))
        return f' data-catalog-idref="{name}"'

    def paragraphs(self, lines: Iterable[Line], unit: Unit | None, cards: list[str]) -> str:
        """Return *lines* as paragraphs, their spoken forms added to *cards*."""
        return "".join([f"<p{self.spoken(line, unit, cards)}>{self.markup(line)}</p>\n" for line in lines])

    def markup(self, line: Line) -> str:
        """Return *line* as markup: words and numbers as text, expressions as MathML."""
        locale = self.locale
        return "".join([self.math(leaf) if isinstance(leaf, Expression) else leaf_text(leaf, locale) for leaf in line])

    def math(self, expression: Expression) -> str:
        """Return *expression* as MathML, with a text form."""
        return _formula.math(expression, self.locale, self.own)

    def modal(self, outcome: str, name: str, title: str, said: str) -> str:
        """Return modal feedback that says *said*, escaped, where *outcome* is *name*; empty where nothing is said."""
        return self._modal % (outcome, name, title, said) if said else ""


def check_offers(identifiers: Sequence[str], right: Iterable[str], least: int = 2) -> None:
    """Return nothing where *identifiers* are at least so many and differ, and all of *right* are among them.

    Raises:
        ExportFault: otherwise; no schema of the standard checks these.
    """
    known = set(identifiers)
    if len(known) != len(identifiers):
        raise ExportFault("", "", "two offers share an identifier")
    if len(identifiers) < least:
        raise ExportFault("", "", f"it offers {len(identifiers)}, not at least {least}")
    unknown = sorted(set(right) - known)
    if unknown:
        raise ExportFault("", "", f"the right answer names {', '.join(unknown)}, which is not offered")
