"""Choose in the line: an inline choice interaction where the stem's expression has its gap; feedback on each choice.

An interaction cannot stand inside a formula, so the expression is parted: what is left of the gap is one formula, what
is right of it another.
"""

from __future__ import annotations

from bank.model import ChooseInLine, Expression, Item, Line, Locale, Offer, Unit
from exporters import _grammar as g
from exporters._faults import ExportFault
from exporters._frame import FEEDBACK, Frame, Parts, check_offers
from exporters._text import escape, leaf_text, plain_text

PROFILE = "inline"
GAP = "?"
PROMPT = "Choose from the list in the gap."
_DECLARED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="single" baseType="identifier">'
    "<correctResponse><value>%s</value></correctResponse></responseDeclaration>\n"
)
NAME = "Choice for the gap"
"""Name of the list for a reading voice, where the version has one."""
_INTERACTION = (
    '<inlineChoiceInteraction responseIdentifier="RESPONSE" shuffle="false"%s>%s</inlineChoiceInteraction>'
)
_OPTION = '<inlineChoice identifier="%s">%s</inlineChoice>'


class Writer:
    """Writes items that ask to choose in the line."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        spell = frame.spell
        self._declared, self._interaction, self._option = spell(_DECLARED), spell(_INTERACTION), spell(_OPTION)
        self._rules = {
            True: spell(g.all_or_nothing() + g.put(FEEDBACK, g.variable()) + "\n"), False: spell(g.all_or_nothing())
        }

    def parts(self, item: Item, response: ChooseInLine, feedback: bool, cards: list[str]) -> Parts:
        """Return what the kind writes of *item*; spoken forms are added to *cards*.

        Raises:
            ExportFault: the response contradicts itself, or the stem has not just one gap.
        """
        frame, family, options = self._frame, item.family, response.options
        keys = [option.identifier for option in options if option.is_key]
        check_offers([option.identifier for option in options], keys)
        gaps = [leaf for line in item.stem for leaf in line if isinstance(leaf, Expression) and GAP in leaf.parts]
        if len(keys) != 1 or len(gaps) != 1 or gaps[0].parts.count(GAP) != 1:
            raise ExportFault("", "", "it has not just one key and one gap")
        choices = "".join([self._option % (one.identifier, _shown(one, frame.locale)) for one in options])
        interaction = self._interaction % (f' aria-label="{NAME}"' if frame.version.aria else "", choices)
        body = "".join([
            self._parted(line, interaction, family.unit, cards) if gaps[0] in line
            else frame.paragraphs((line,), family.unit, cards)
            for line in item.stem
        ])
        body += f"<p{frame.own}>{PROMPT}</p>\n"
        declared = self._declared % keys[0]
        if not feedback:
            return Parts(declared, body, self._rules[False])
        modals = [
            frame.modal(FEEDBACK, one.identifier, "Right" if one.is_key else "Look again",
                        frame.words.praise(family) if one.is_key else frame.words.rationale(item, one.mistakes))
            for one in options
        ]  # fmt: skip
        return Parts(declared, body, self._rules[True], ((FEEDBACK, "single"),), modals="".join(modals))

    def _parted(self, line: Line, interaction: str, unit: Unit | None, cards: list[str]) -> str:
        """Return *line*, with the gap, as a paragraph that holds the interaction."""
        made = []
        for leaf in line:
            if isinstance(leaf, Expression) and GAP in leaf.parts:
                at = leaf.parts.index(GAP)
                sides = [self._side(leaf.parts[:at], unit, cards), self._side(leaf.parts[at + 1 :], unit, cards)]
                made.append(f" {interaction} ".join(sides))
            elif isinstance(leaf, Expression):
                made.append(self._frame.math(leaf))
            else:
                made.append(leaf_text(leaf, self._frame.locale))
        return f"<p>{''.join(made).strip()}</p>\n"

    def _side(self, parts: tuple[object, ...], unit: Unit | None, cards: list[str]) -> str:
        """Return what stands on one side of the gap, with its spoken form."""
        if not parts:
            return ""
        side = Expression(parts)  # type: ignore[arg-type]
        return f"<span{self._frame.spoken((side,), unit, cards)}>{self._frame.math(side)}</span>"


def _shown(option: Offer, locale: Locale) -> str:
    """Return how *option*, a neutral sign or a number, is written, escaped."""
    if len(option.text) == 1 and isinstance(option.text[0], str):
        return escape(locale.sign(option.text[0]))
    return escape(plain_text(option.text, locale))


def interactions(response: ChooseInLine) -> tuple[str, ...]:
    """Return the 2.x names of the interactions, in order."""
    return ("inlineChoiceInteraction",)


def answer(answers: tuple[tuple[str, ...], ...]) -> str:
    """Return the answers to all interactions as `bank.marking` takes them."""
    return answers[0][0] if answers[0] else ""


def offered(response: ChooseInLine) -> tuple[tuple[Offer, ...], ...]:
    """Return what each interaction offers."""
    return (response.options,)


def right(response: ChooseInLine) -> tuple[tuple[str, ...], ...]:
    """Return the right answer of each interaction."""
    return (tuple([option.identifier for option in response.options if option.is_key]),)


def context(item: Item, response: ChooseInLine, locale: Locale) -> None:
    """Return what `said` and `foreseen_answers` need to know of an item, worked out once."""


def said(response: ChooseInLine, answers: tuple[tuple[str, ...], ...], context: None) -> dict[str, object]:
    """Return the outcomes that feedback on *answers* hangs on; those without value are left out."""
    return {FEEDBACK: answers[0][0]} if answers[0] else {}


def foreseen_answers(response: ChooseInLine, context: None) -> list[tuple[tuple[str, ...], ...]]:
    """Return the answers that mistakes lead to: all are tried anyway."""
    return []


def shape(response: ChooseInLine) -> tuple[object, ...]:
    """Return all of *response* that marks, `said` and `foreseen_answers` follow from."""
    return tuple([(one.identifier, one.is_key) for one in response.options])


def named(response: ChooseInLine, context: None) -> tuple[()]:
    """Return what `shape` leaves out: nothing."""
    return ()
