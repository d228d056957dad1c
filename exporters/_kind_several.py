"""Choose several: a choice interaction without limit; feedback beside each option, and on a right one left out.

Credit ``all``: one mark where exactly the right options are chosen. Credit ``each``: a mapping gives a mark for each
right option and takes one for each wrong one, and its lower bound keeps it from going below none.
"""

from __future__ import annotations

from bank.marking import most_marks
from bank.model import ChooseSeveral, Item, Locale, Offer
from exporters import _grammar as g
from exporters._faults import ExportFault
from exporters._frame import FEEDBACK, Frame, Parts, check_offers
from exporters._words import is_known

PROFILE = "several"
ADVICE = "ADVICE"
"""Outcome that says what the choice as a whole lacks: ``right``, ``missed-A`` (the first right option left out whose
mistake is known), ``missing`` (another was left out), ``other`` (only wrong ones too many)."""
MISSING = "Not all right ones are chosen yet."
COMPLETE = "These are all the right ones."
PROMPTS = {
    "all": "Choose all that are right.",
    "each": "Choose all that are right. Each right one earns a mark, each wrong one takes a mark away.",
}
_DECLARED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="multiple" baseType="identifier">'
    "<correctResponse>%s</correctResponse>%s</responseDeclaration>\n"
)
_VALUE = "<value>%s</value>"
_MAPPING = '\n<mapping lowerBound="0" upperBound="%d" defaultValue="0">\n%s</mapping>'
_ENTRY = '<mapEntry mapKey="%s" mappedValue="%d" caseSensitive="true"/>\n'
_INTERACTION = (
    '<choiceInteraction responseIdentifier="RESPONSE" shuffle="false" maxChoices="0">'
    "<prompt%s>%s</prompt>\n%s</choiceInteraction>\n"
)
_OPTION = '<simpleChoice identifier="%s"%s>%s%s</simpleChoice>\n'
_INLINE = '<feedbackInline outcomeIdentifier="FEEDBACK" identifier="%s" showHide="show">\u2003%s</feedbackInline>'


class Writer:
    """Writes items that ask to choose several."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        spell = frame.spell
        self._declared, self._value, self._interaction = spell(_DECLARED), spell(_VALUE), spell(_INTERACTION)
        self._mapping, self._entry = spell(_MAPPING), spell(_ENTRY)
        self._option, self._inline = spell(_OPTION), spell(_INLINE)
        self._rules: dict[tuple[object, ...], str] = {}

    def parts(self, item: Item, response: ChooseSeveral, feedback: bool, cards: list[str]) -> Parts:
        """Return what the kind writes of *item*; spoken forms are added to *cards*.

        Raises:
            ExportFault: the response contradicts itself.
        """
        frame, family, options = self._frame, item.family, response.options
        right = [option.identifier for option in options if option.is_key]
        check_offers([option.identifier for option in options], right)
        if not right or len(right) == len(options):
            raise ExportFault("", "", "not some options are right and some wrong")
        body = frame.paragraphs(item.stem, family.unit, cards)
        shown = "".join([self._shown(item, option, feedback, cards) for option in options])
        body += self._interaction % (frame.own, PROMPTS[response.credit], shown)
        mapping = ""
        if response.credit == "each":
            entries = [self._entry % (option.identifier, 1 if option.is_key else -1) for option in options]
            mapping = self._mapping % (most_marks(response), "".join(entries))
        declared = self._declared % ("".join([self._value % name for name in right]), mapping)
        if not feedback:
            return Parts(declared, body, self._written(response.credit, (), False))
        missed = tuple([(option.identifier, is_known(option.mistakes)) for option in options if option.is_key])
        rules = self._written(response.credit, missed, True)
        words = ((FEEDBACK, "multiple"), (ADVICE, "single"))
        return Parts(declared, body, rules, words, modals=self._advice(item, options, missed))

    def _shown(self, item: Item, option: Offer, feedback: bool, cards: list[str]) -> str:
        frame = self._frame
        spoken = frame.spoken(option.text, item.family.unit, cards)
        said = ""
        if feedback:
            said = frame.right if option.is_key else frame.words.rationale(item, option.mistakes)
            said = said and self._inline % (option.identifier, said)
        return self._option % (option.identifier, spoken, frame.markup(option.text), said)

    def _written(self, credit: str, missed: tuple[tuple[str, bool], ...], feedback: bool) -> str:
        """Return the rules, which are the same for all items with the same right options."""
        known = (credit, missed, feedback)
        found = self._rules.get(known)
        if found is None:
            text = g.all_or_nothing() if credit == "all" else g.by_mapping()
            if feedback:
                text += g.put(FEEDBACK, g.variable()) + "\n"
                branches = [(g.match(g.variable(), g.correct()), g.word(ADVICE, "right"))]
                branches += [
                    (g.negated(g.member(g.value("identifier", name), g.variable())),
                     g.word(ADVICE, f"missed-{name}" if told else "missing"))
                    for name, told in missed
                ]  # fmt: skip
                text += g.condition((g.answered(), g.condition(*branches, otherwise=g.word(ADVICE, "other"))))
            found = self._rules[known] = self._frame.spell(text)
        return found

    def _advice(self, item: Item, options: tuple[Offer, ...], missed: tuple[tuple[str, bool], ...]) -> str:
        frame, words, family = self._frame, self._frame.words, item.family
        told = {name for name, has_reason in missed if has_reason}
        hint = words.joined(family.hint)
        parts = [frame.modal(ADVICE, "right", "Right", words.joined(family.praise) or words.phrase(COMPLETE))]
        parts += [
            frame.modal(ADVICE, f"missed-{o.identifier}", "Look again",
                        f"{words.phrase(MISSING)} {words.rationale(item, o.mistakes)}")
            for o in options if o.identifier in told
        ]  # fmt: skip
        if len(told) < len(missed):
            parts.append(frame.modal(ADVICE, "missing", "Look again", f"{words.phrase(MISSING)} {hint}".rstrip()))
        parts.append(frame.modal(ADVICE, "other", "Look again", hint))
        return "".join(parts)


def interactions(response: ChooseSeveral) -> tuple[str, ...]:
    """Return the 2.x names of the interactions, in order."""
    return ("choiceInteraction",)


def answer(answers: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return the answers to all interactions as `bank.marking` takes them."""
    return answers[0]


def offered(response: ChooseSeveral) -> tuple[tuple[Offer, ...], ...]:
    """Return what each interaction offers."""
    return (response.options,)


def right(response: ChooseSeveral) -> tuple[tuple[str, ...], ...]:
    """Return the right answer of each interaction."""
    return (tuple([option.identifier for option in response.options if option.is_key]),)


def context(item: Item, response: ChooseSeveral, locale: Locale) -> None:
    """Return what `said` and `foreseen_answers` need to know of an item, worked out once."""


def said(response: ChooseSeveral, answers: tuple[tuple[str, ...], ...], context: None) -> dict[str, object]:
    """Return the outcomes that feedback on *answers* hangs on; those without value are left out."""
    chosen = answers[0]
    if not chosen:
        return {}
    missed = [option for option in response.options if option.is_key and option.identifier not in chosen]
    advice = "right" if sorted(chosen) == sorted(right(response)[0]) else "other"
    if missed:
        advice = f"missed-{missed[0].identifier}" if is_known(missed[0].mistakes) else "missing"
    return {FEEDBACK: chosen, ADVICE: advice}


def foreseen_answers(response: ChooseSeveral, context: None) -> list[tuple[tuple[str, ...], ...]]:
    """Return the answers that mistakes lead to: all are tried anyway."""
    return []


def shape(response: ChooseSeveral) -> tuple[object, ...]:
    """Return all of *response* that marks, `said` and `foreseen_answers` follow from."""
    return response.credit, tuple([(one.identifier, one.is_key, is_known(one.mistakes)) for one in response.options])


def named(response: ChooseSeveral, context: None) -> tuple[()]:
    """Return what `shape` leaves out: nothing."""
    return ()
