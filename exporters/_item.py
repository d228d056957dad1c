"""One item as XML: its own parts, put into the text form that its family shares (`exporters._shape`)."""

from __future__ import annotations

from collections.abc import Sequence

from bank.answers import accepted_forms, instruction, policy_named
from bank.model import BankInfo, Choice, Expression, Family, Item, Line, Locale, Option, TypedNumber, Unit
from bank.numerals import POWERS
from exporters import _layout, _shape, _spoken
from exporters._faults import ExportFault
from exporters._formula import math
from exporters._kinds import Kinds
from exporters._qti import Version
from exporters._text import attribute_letters, escape, escape_attribute, escape_new, is_ncname, leaf_text, number
from exporters._words import Words, own_language

_SPECIAL = frozenset('&<>"')

_ENTRY = '<mapEntry mapKey="%s" mappedValue="1" caseSensitive="true"/>\n'
_OPTION = '<simpleChoice identifier="%s"%s>%s%s</simpleChoice>\n'
_INLINE = '<feedbackInline outcomeIdentifier="FEEDBACK" identifier="%s" showHide="show">\u2003%s</feedbackInline>'
_STRING = '<baseValue baseType="string">%s</baseValue>'
_RULE = (
    '<responseElseIf><match><variable identifier="RESPONSE"/>' + _STRING + "</match>"
    + _shape.SET_WORD.format("FEEDBACK", "%s") + "</responseElseIf>\n"
)
_RULE_OF_MANY = (
    '<responseElseIf><member><variable identifier="RESPONSE"/><multiple>%s</multiple></member>'
    + _shape.SET_WORD.format("FEEDBACK", "%s") + "</responseElseIf>\n"
)
_CATALOG = '<catalog id="%s"><card support="spoken"><htmlContent>%s</htmlContent></card></catalog>'
_CATALOG_INFO = "<catalogInfo>%s</catalogInfo>\n"


class Renderer:
    """Writes the items of one bank in one version, keeping what items share."""

    def __init__(self, version: Version, info: BankInfo) -> None:
        self.version = version
        self.locale = info.locale
        self._info = info
        self._shapes: dict[tuple[str, str, bool], bytes] = {}
        self._own = own_language(info.locale)
        self._speaks = version.catalog and not self._own  # spoken forms are words of the tool's language
        self._words = Words(info.locale, self._own)
        self._kinds = Kinds(version, info)
        spell = version.spell
        self._entry, self._string = spell(_ENTRY), spell(_STRING)
        self._rule, self._rule_of_many = spell(_RULE), spell(_RULE_OF_MANY)
        begin, _, end = self._entry.partition("%s")
        self._entries = begin, end + begin, end
        self._option, self._inline = spell(_OPTION), spell(_INLINE)
        self._catalog, self._catalog_info = spell(_CATALOG), spell(_CATALOG_INFO)
        self._modal = spell(_shape.modal(version, "FEEDBACK", "%s", "%s", "<p>%s</p>"))

    def item(self, item: Item, feedback: bool) -> bytes:
        """Return *item* as an XML file; *feedback* says whether it carries feedback and the worked solution.

        Raises:
            ExportFault: the item contradicts itself in what no schema checks, or holds what XML cannot hold.
        """
        try:
            if not is_ncname(item.identifier):
                raise ExportFault("", "", "the identifier is no NCName")
            if isinstance(item.response, Choice):
                return self._choice(item, item.response, feedback)
            if isinstance(item.response, TypedNumber):
                return self._typed(item, item.response, feedback)
            return self._kinds.item(item, feedback)
        except ExportFault as fault:
            raise ExportFault(fault.file or self.version.name, item.identifier, fault.wrong) from None

    def _choice(self, item: Item, response: Choice, feedback: bool) -> bytes:
        family = item.family
        key = checked_key(item, response)
        cards: list[str] = []
        stem = self._stem(item.stem, family.unit, cards)
        options = "".join([self._one_option(item, option, feedback, cards) for option in response.options])
        slots = item.identifier, key.identifier, stem, options, self._catalogs(cards), self._working(item, feedback)
        return self._filled(family, "choice", feedback, slots)

    def _typed(self, item: Item, response: TypedNumber, feedback: bool) -> bytes:
        family, locale = item.family, self.locale
        forms = accepted_forms(item.key, locale, response.policy, family.unit)
        cards: list[str] = []
        stem = self._stem(item.stem, family.unit, cards)
        entries = self._listed(forms)
        asked = instruction(response.policy, item.key, family.unit)
        length = _shape.field_length(len(forms[0]))
        rules, modals = self._foreseen(item, response, forms) if feedback else ("", "")
        slots = (
            item.identifier, forms[0], entries, stem, asked, str(length), asked, self._catalogs(cards), rules, modals,
            self._working(item, feedback),
        )  # fmt: skip
        beside = policy_named(response.policy).unit != "must"
        return self._filled(family, "typed" if beside else "typed with unit", feedback, slots)

    def _listed(self, forms: Sequence[str]) -> str:
        """Return the entries of the mapping for *forms*."""
        together = "".join(forms)
        if together.isprintable() and not _SPECIAL.intersection(together):
            begin, between, end = self._entries
            return begin + between.join(forms) + end
        return "".join([self._entry % attribute_letters(form) for form in forms])

    def _working(self, item: Item, feedback: bool) -> str:
        return _layout.solution(item.solution, self.locale, self._own) if feedback and item.family.show_solution else ""

    def _filled(self, family: Family, kind: str, feedback: bool, slots: tuple[str, ...]) -> bytes:
        """Return the family's form with *slots* filled in: in bytes, for few slots hold more than ASCII."""
        known = (family.template, kind, feedback)
        shape = self._shapes.get(known)
        if shape is None:
            shape = self._shapes[known] = self._new_shape(family, kind, feedback).encode()
        return shape % tuple([slot.encode() for slot in slots])

    def _new_shape(self, family: Family, kind: str, feedback: bool) -> str:
        choice = kind == "choice"
        hint = praise = ""
        if feedback and not choice:
            praise = f"<p>{self._words.praise(family)}</p>"
            praise = _shape.modal(self.version, "FEEDBACK", _shape.RIGHT, "Right", praise)
            said = self._words.joined(family.hint)
            hint = said and _shape.modal(self.version, "FEEDBACK", _shape.OTHER, "Look again", f"<p>{said}</p>")
        unit = family.unit if kind != "typed with unit" else None  # there it is typed, and so not shown
        return _shape.compiled(
            self.version, choice=choice, title=escape_attribute(family.title),
            language=escape_attribute(self.locale.language), tool=escape_attribute(self._info.tool_version),
            feedback=feedback, working=feedback and family.show_solution, hint=hint, praise=praise, own=self._own,
            before=escape(unit.text) if unit and unit.before else "",
            after=escape(" " + unit.text) if unit and not unit.before else "",
            asked_in=escape_attribute(unit.spoken or unit.text) if unit else "",
        )

    def _stem(self, lines: Sequence[Line], unit: Unit | None, cards: list[str]) -> str:
        """Return the paragraphs of a stem; their spoken forms are added to *cards* where the version has a catalog."""
        locale, own = self.locale, self._own
        paragraphs: list[str] = []
        for line in lines:
            content = "".join([
                math(leaf, locale, own) if isinstance(leaf, Expression) else leaf_text(leaf, locale) for leaf in line
            ])
            spoken = _spoken.line(line, locale.decimal_mark, unit) if self._speaks else ""
            paragraphs.append(f"<p{self._card(spoken, cards) if spoken else ''}>{content}</p>\n")
        return "".join(paragraphs)

    def _card(self, spoken: str, cards: list[str]) -> str:
        """Return the attribute that names the card with what is *spoken*, which is added to *cards*."""
        name = f"spoken{len(cards) + 1}"
        cards.append(self._catalog % (name, escape_new(spoken)))
        return f' data-catalog-idref="{name}"'

    def _catalogs(self, cards: list[str]) -> str:
        return self._catalog_info % "".join(cards) if cards else ""

    def _one_option(self, item: Item, option: Option, feedback: bool, cards: list[str]) -> str:
        family = item.family
        text = option_text(option, family, self.locale)
        spoken = said = ""
        if self._speaks:
            spoken = self._card(_spoken.amount(option.numeral, self.locale.decimal_mark, family.unit), cards)
        if feedback:
            said = self._words.praise(family) if option.is_key else self._words.rationale(item, option.mistakes)
            said = said and self._inline % (option.identifier, said)
        return self._option % (option.identifier, spoken, escape_new(text), said)

    def _foreseen(self, item: Item, response: TypedNumber, forms: Sequence[str]) -> tuple[str, str]:
        """Return rules and modal feedback for foreseen answers that are wrong, or not in the form wanted."""
        rules, modals = [], []
        for name, title, said, new in self._words.foreseen(item, response, forms):
            if len(new) == 1:
                rules.append(self._rule % (new[0], name))
            else:
                rules.append(self._rule_of_many % ("".join([self._string % form for form in new]), name))
            modals.append(self._modal % (name, title, said))
        return "".join(rules), "".join(modals)


def option_text(option: Option, family: Family, locale: Locale) -> str:
    """Return what is written for *option*, with the family's unit; not escaped."""
    text = number(option.numeral, locale)
    unit = family.unit
    if unit is None:
        return text
    return unit.text + text if unit.before else f"{text} {unit.text}"


def checked_key(item: Item, response: Choice) -> Option:
    """Return the option that is the key.

    Raises:
        ExportFault: there is not exactly one, it has another value than the item's key, or two options share an
            identifier or a value. No schema checks these.
    """
    options = response.options
    keys = [option for option in options if option.is_key]
    if len(keys) != 1 or keys[0].numeral != item.key:
        raise ExportFault("", "", "not exactly one option is the key")
    if len({option.identifier for option in options}) != len(options):
        raise ExportFault("", "", "two options share an identifier")
    numerals = [option.numeral for option in options]
    finest = max([numeral.places for numeral in numerals])
    if len({numeral.coefficient * POWERS[finest - numeral.places] for numeral in numerals}) != len(options):
        raise ExportFault("", "", "two options have one value")
    return keys[0]
