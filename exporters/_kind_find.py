"""Find the mistake: hottext over the steps of a wrong working, below its columns; and where asked the right answer.

The working is a table and a list of steps; the pupil marks one step. Where the right answer is asked too, the item has
two interactions and two responses, RESPONSE and ANSWER, each with its marks in an outcome of its own. Credit ``all``:
the product of both is the score; credit ``each``: their sum.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache

from bank.answers import accepted_forms, instruction, policy_named
from bank.mistakes import best_known_beside
from bank.model import FindMistake, Item, Locale, Offer, TypedNumber
from exporters import _grammar as g
from exporters import _layout
from exporters._faults import ExportFault
from exporters._frame import FEEDBACK, SCORE, Frame, Parts, check_offers
from exporters._shape import OTHER, RIGHT, field_length
from exporters._text import attribute_letters, escape, escape_attribute, plain_text
from exporters._words import Case, Words

PROFILE = "find"
ANSWER = "ANSWER"
"""The response that holds what is typed."""
STEP_SCORE, ANSWER_SCORE, ANSWER_FEEDBACK = f"{SCORE}_STEP", f"{SCORE}_ANSWER", f"{FEEDBACK}_ANSWER"
PROMPT = "Mark the step where the mistake is."
BOTH = {"all": "Then type the right answer.", "each": "Then type the right answer. Step and answer earn a mark each."}
FOUND = "Here it goes wrong."
ELSEWHERE = "The mistake is in another step."
_DECLARED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="single" baseType="identifier">'
    "<correctResponse><value>%s</value></correctResponse></responseDeclaration>\n"
)
_DECLARED_ANSWER = (
    '<responseDeclaration identifier="ANSWER" cardinality="single" baseType="string">'
    "<correctResponse><value>%s</value></correctResponse>\n"
    '<mapping lowerBound="0" upperBound="1" defaultValue="0">\n%s</mapping></responseDeclaration>\n'
)
_ENTRY = '<mapEntry mapKey="%s" mappedValue="1" caseSensitive="true"/>\n'
_INTERACTION = (
    '<hottextInteraction responseIdentifier="RESPONSE" maxChoices="1">'
    "<prompt%s>%s</prompt>\n<ol%s>\n%s</ol>\n</hottextInteraction>\n"
)
_STEP = '<li><hottext identifier="%s">%s</hottext></li>\n'
_FIELD = (
    '<p%s>%s %s</p>\n<div class="stemwright-answer"><span%s>Right answer:</span> %s'
    '<textEntryInteraction responseIdentifier="ANSWER" expectedLength="%d"%s/>%s</div>\n'
)
_STRING = '<baseValue baseType="string">%s</baseValue>'
_FORESEEN = (
    '<responseElseIf><member><variable identifier="ANSWER"/><multiple>%s</multiple></member>'
    + g.word(ANSWER_FEEDBACK, "%s") + "</responseElseIf>\n"
)


class Writer:
    """Writes items that ask to find the mistake."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        spell = frame.spell
        self._declared, self._declared_answer = spell(_DECLARED), spell(_DECLARED_ANSWER)
        self._entry, self._interaction, self._step = spell(_ENTRY), spell(_INTERACTION), spell(_STEP)
        self._field, self._string, self._foreseen = spell(_FIELD), spell(_STRING), spell(_FORESEEN)
        self._step_only = spell(g.all_or_nothing())
        scored = g.all_or_nothing(STEP_SCORE) + g.by_mapping(ANSWER_SCORE, ANSWER)
        self._both = {
            "all": spell(scored + g.put(SCORE, g.product(g.variable(STEP_SCORE), g.variable(ANSWER_SCORE))) + "\n"),
            "each": spell(scored + g.put(SCORE, g.total(g.variable(STEP_SCORE), g.variable(ANSWER_SCORE))) + "\n"),
        }
        self._step_said = spell(g.condition(
            (g.match(g.variable(), g.correct()), g.word(FEEDBACK, RIGHT)), (g.answered(), g.word(FEEDBACK, OTHER))
        ))
        self._answer_said = spell(
            f"<responseCondition><responseIf>{g.marked(ANSWER_SCORE)}{g.word(ANSWER_FEEDBACK, RIGHT)}</responseIf>\n%s"
            f"<responseElseIf>{g.answered(ANSWER)}{g.word(ANSWER_FEEDBACK, OTHER)}</responseElseIf>"
            "</responseCondition>\n"
        )

    def parts(self, item: Item, response: FindMistake, feedback: bool, cards: list[str]) -> Parts:
        """Return what the kind writes of *item*; spoken forms are added to *cards*.

        Raises:
            ExportFault: the response contradicts itself.
        """
        frame, family, locale = self._frame, item.family, self._frame.locale
        check_offers([step.identifier for step in response.steps], [response.right])
        working, own = response.working, frame.own
        if tuple([step.text for step in response.steps]) != working.steps:
            raise ExportFault("", "", "the steps to mark are not those of the working")
        if working.result == item.key:
            raise ExportFault("", "", "the working gives the right answer")
        body = frame.paragraphs(item.stem, family.unit, cards)
        if working.rows:
            body += _layout.table(working, _layout.judged(working, locale), locale, own)
        steps = "".join([self._step % (s.identifier, escape(plain_text(s.text, locale))) for s in response.steps])
        body += self._interaction % (own, PROMPT, own, steps)
        declared = self._declared % response.right
        if response.typed is None:
            modals = self._step_modals(item, response) if feedback else ""
            words = ((FEEDBACK, "single"),) if feedback else ()
            return Parts(declared, body, self._step_only + self._step_said * feedback, words, modals=modals)
        typed = response.typed
        forms = accepted_forms(item.key, locale, typed.policy, family.unit)
        entries = "".join([self._entry % attribute_letters(form) for form in forms])
        declared += self._declared_answer % (escape(forms[0]), entries)
        body += self._typed_field(item, response, typed, forms[0])
        scores = (STEP_SCORE, ANSWER_SCORE)
        if not feedback:
            return Parts(declared, body, self._both[response.credit], scores=scores)
        cases = foreseen(frame.words, item, response, typed, forms)
        branches = "".join([
            self._foreseen % ("".join([self._string % escape(form) for form in new]), name)
            for name, _, _, new in cases
        ])
        rules = self._both[response.credit] + self._step_said + self._answer_said % branches
        told = [(RIGHT, "Right", frame.words.praise(family)), *[case[:3] for case in cases],
                (OTHER, "Look again", frame.words.joined(family.hint))]  # fmt: skip
        modals = self._step_modals(item, response) + "".join([frame.modal(ANSWER_FEEDBACK, *one) for one in told])
        words = ((FEEDBACK, "single"), (ANSWER_FEEDBACK, "single"))
        return Parts(declared, body, rules, words, scores, modals)

    def _typed_field(self, item: Item, response: FindMistake, typed: TypedNumber, canonical: str) -> str:
        own, unit = self._frame.own, item.family.unit
        asked = instruction(typed.policy, item.key, unit)
        said = f"Right answer in {unit.spoken or unit.text}" if unit else "Right answer"
        label = f' aria-label="{escape_attribute(f"{said}. {asked}")}"' if self._frame.version.aria else ""
        beside = unit if policy_named(typed.policy).unit != "must" else None
        before = escape(beside.text) if beside and beside.before else ""
        after = escape(f" {beside.text}") if beside and not beside.before else ""
        return self._field % (
            own, BOTH[response.credit], escape(asked), own, before, field_length(len(canonical)), label, after
        )

    def _step_modals(self, item: Item, response: FindMistake) -> str:
        words = self._frame.words
        found = f"{words.phrase(FOUND)} {words.rationale(item, (response.mistake,))}".rstrip()
        other = f"{words.phrase(ELSEWHERE)} {words.joined(item.family.hint)}".rstrip()
        return (
            self._frame.modal(FEEDBACK, RIGHT, "Right", found) + self._frame.modal(FEEDBACK, OTHER, "Look again", other)
        )


def foreseen(
    words: Words, item: Item, response: FindMistake, typed: TypedNumber, forms: tuple[str, ...]
) -> list[Case]:
    """Return the foreseen wrong answers: that of the wrong working, and others as far as there is room."""
    shown = response.working.result, (response.mistake,)
    return words.foreseen(item, replace(typed, mistakes=tuple(best_known_beside(shown, typed.mistakes))), forms)


def interactions(response: FindMistake) -> tuple[str, ...]:
    """Return the 2.x names of the interactions, in order."""
    return ("hottextInteraction", "textEntryInteraction") if response.typed else ("hottextInteraction",)


def answer(answers: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return the answers to all interactions as `bank.marking` takes them."""
    return tuple([one[0] if one else "" for one in answers])


def offered(response: FindMistake) -> tuple[tuple[Offer, ...], ...]:
    """Return what each interaction offers."""
    return (response.steps, ()) if response.typed else (response.steps,)


def right(response: FindMistake) -> tuple[tuple[str, ...], ...]:
    """Return the right answer of each interaction that offers something."""
    return ((response.right,),)


Context = tuple[tuple[str, ...], list[Case]]
"""Spellings that are right, and foreseen wrong answers; both empty where only the step is asked."""


def context(item: Item, response: FindMistake, locale: Locale) -> Context:
    """Return what `said` and `foreseen_answers` need to know of an item, worked out once."""
    if response.typed is None:
        return (), []
    forms = accepted_forms(item.key, locale, response.typed.policy, item.family.unit)
    return forms, foreseen(_words(locale), item, response, response.typed, forms)


@lru_cache(maxsize=8)
def _words(locale: Locale) -> Words:
    return Words(locale)


def said(response: FindMistake, answers: tuple[tuple[str, ...], ...], context: Context) -> dict[str, object]:
    """Return the outcomes that feedback on *answers* hangs on; those without value are left out."""
    found: dict[str, object] = {}
    if answers[0]:
        found[FEEDBACK] = RIGHT if answers[0][0] == response.right else OTHER
    if response.typed is not None and answers[1]:
        forms, cases = context
        text = answers[1][0]
        named = [name for name, _, _, spelled in cases if text in spelled]
        found[ANSWER_FEEDBACK] = RIGHT if text in forms else named[0] if named else OTHER
    return found


def foreseen_answers(response: FindMistake, context: Context) -> list[tuple[tuple[str, ...], ...]]:
    """Return the answers that mistakes lead to: the first spelling of each."""
    return [((response.right,), (spelled[0],)) for _, _, _, spelled in context[1]]


def shape(response: FindMistake) -> tuple[object, ...]:
    """Return all of *response* that marks, `said` and `foreseen_answers` follow from, but what is typed."""
    return response.right, response.credit, response.typed is None


def named(response: FindMistake, context: Context) -> list[tuple[object, Sequence[str]]]:
    """Return what `shape` leaves out: spellings that are right, and foreseen wrong ones; nothing if none are typed."""
    forms, cases = context
    return [("", forms), *[(name, spelled) for name, _, _, spelled in cases]] if forms else []
