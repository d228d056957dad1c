"""Put in order: an order interaction; feedback on the orders that mistakes lead to.

Credit ``all``: one mark for the right order. Credit ``places``: each place of the response is compared with the same
place of the right order, and each that agrees earns a mark.
"""

from __future__ import annotations

from bank.model import Item, Locale, Offer, PutInOrder
from exporters import _grammar as g
from exporters._faults import ExportFault
from exporters._frame import FEEDBACK, SCORE, Frame, Parts, check_offers
from exporters._shape import OTHER, RIGHT
from exporters._words import is_known

PROFILE = "order"
KEPT = 4096
"""Rules kept at most for further items with the same orders."""
PROMPTS = {"ascending": "The smallest comes first.", "descending": "The largest comes first."}
PLACES = " Each one in its right place earns a mark."
_DECLARED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="ordered" baseType="identifier">'
    "<correctResponse>%s</correctResponse></responseDeclaration>\n"
)
_VALUE = "<value>%s</value>"
_INTERACTION = (
    '<orderInteraction responseIdentifier="RESPONSE" shuffle="false" orientation="vertical">'
    "<prompt%s>%s</prompt>\n%s</orderInteraction>\n"
)
_OFFER = '<simpleChoice identifier="%s"%s>%s</simpleChoice>\n'


class Writer:
    """Writes items that ask to put in order."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        spell = frame.spell
        self._declared, self._value = spell(_DECLARED), spell(_VALUE)
        self._interaction, self._offer = spell(_INTERACTION), spell(_OFFER)
        self._all = spell(g.all_or_nothing())
        self._scores: dict[tuple[str, ...], str] = {}
        self._feedback: dict[tuple[tuple[str, ...], ...], str] = {}

    def parts(self, item: Item, response: PutInOrder, feedback: bool, cards: list[str]) -> Parts:
        """Return what the kind writes of *item*; spoken forms are added to *cards*.

        Raises:
            ExportFault: the response contradicts itself.
        """
        frame, family = self._frame, item.family
        names = [offer.identifier for offer in response.offers]
        check_offers(names, response.right)
        if sorted(names) != sorted(response.right) or tuple(names) == response.right:
            raise ExportFault("", "", "the right order is not all that is offered, or is the order first shown")
        body = frame.paragraphs(item.stem, family.unit, cards)
        shown = [
            self._offer % (offer.identifier, frame.spoken(offer.text, family.unit, cards), frame.markup(offer.text))
            for offer in response.offers
        ]
        prompt = PROMPTS[response.direction] + (PLACES if response.credit == "places" else "")
        body += self._interaction % (frame.own, prompt, "".join(shown))
        declared = self._declared % "".join([self._value % name for name in response.right])
        rules = self._scored(response.right) if response.credit == "places" else self._all
        if not feedback:
            return Parts(declared, body, rules)
        foreseen = _foreseen(response)
        orders = tuple([order for order, _ in foreseen])
        told = [
            frame.modal(FEEDBACK, f"mistake{at}", "Look again", frame.words.rationale(item, mistakes))
            for at, (_, mistakes) in enumerate(foreseen, 1)
        ]
        modals = (
            frame.modal(FEEDBACK, RIGHT, "Right", frame.words.praise(family)), *told,
            frame.modal(FEEDBACK, OTHER, "Look again", frame.words.joined(family.hint)),
        )
        return Parts(declared, body, rules + self._said(orders), ((FEEDBACK, "single"),), modals="".join(modals))

    def _scored(self, right: tuple[str, ...]) -> str:
        """Return the rules that give a mark for each place.

        The right identifiers stand in them as constants: the player in the tests takes two indexed values for numbers.
        """
        found = self._scores.get(right)
        if found is None:
            text = g.marks(SCORE, 0) + "\n" + "".join([
                g.condition((g.match(g.place(at, g.variable()), g.value("identifier", name)), g.one_more(SCORE)))
                for at, name in enumerate(right, 1)
            ])
            found = self._frame.spell(text)
            if len(self._scores) < KEPT:
                self._scores[right] = found
        return found

    def _said(self, orders: tuple[tuple[str, ...], ...]) -> str:
        found = self._feedback.get(orders)
        if found is None:
            branches = [(g.match(g.variable(), g.correct()), g.word(FEEDBACK, RIGHT))]
            branches += [(g.match(g.variable(), g.ordered(order)), g.word(FEEDBACK, f"mistake{at}"))
                         for at, order in enumerate(orders, 1)]  # fmt: skip
            branches.append((g.answered(), g.word(FEEDBACK, OTHER)))
            found = self._frame.spell(g.condition(*branches))
            if len(self._feedback) < KEPT:
                self._feedback[orders] = found
        return found


def _foreseen(response: PutInOrder) -> list[tuple[tuple[str, ...], tuple[str, ...]]]:
    return [(order, mistakes) for order, mistakes in response.mistakes if is_known(mistakes)]


def interactions(response: PutInOrder) -> tuple[str, ...]:
    """Return the 2.x names of the interactions, in order."""
    return ("orderInteraction",)


def answer(answers: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return the answers to all interactions as `bank.marking` takes them."""
    return answers[0]


def offered(response: PutInOrder) -> tuple[tuple[Offer, ...], ...]:
    """Return what each interaction offers."""
    return (response.offers,)


def right(response: PutInOrder) -> tuple[tuple[str, ...], ...]:
    """Return the right answer of each interaction."""
    return (response.right,)


def context(item: Item, response: PutInOrder, locale: Locale) -> None:
    """Return what `said` and `foreseen_answers` need to know of an item, worked out once."""


def said(response: PutInOrder, answers: tuple[tuple[str, ...], ...], context: None) -> dict[str, object]:
    """Return the outcomes that feedback on *answers* hangs on; those without value are left out."""
    order = answers[0]
    if not order:
        return {}
    if order == response.right:
        return {FEEDBACK: RIGHT}
    for at, (known, _) in enumerate(_foreseen(response), 1):
        if order == known:
            return {FEEDBACK: f"mistake{at}"}
    return {FEEDBACK: OTHER}


def foreseen_answers(response: PutInOrder, context: None) -> list[tuple[tuple[str, ...], ...]]:
    """Return the answers that mistakes lead to."""
    return [(order,) for order, _ in response.mistakes]


def shape(response: PutInOrder) -> str:
    """Return all of *response* that marks, `said` and `foreseen_answers` follow from, but the orders."""
    return response.credit


def named(response: PutInOrder, context: None) -> list[tuple[object, tuple[str, ...]]]:
    """Return what `shape` leaves out: the right order, and those that mistakes lead to."""
    return [("", response.right), *[(is_known(mistakes), order) for order, mistakes in response.mistakes]]
