"""Match pairs: a match interaction, each source with one target; feedback on the wrong pairs that mistakes lead to.

A target may be taken by several sources, so that one wrong pair does not force another. Credit ``all``: one mark where
all pairs are right. Credit ``each``: a mapping gives a mark for each right pair. Feedback of each source hangs on an
outcome of its own, for several sources can be matched wrong at once.
"""

from __future__ import annotations

from bank.marking import most_marks
from bank.model import Item, Locale, MatchPairs, Offer
from exporters import _grammar as g
from exporters._faults import ExportFault
from exporters._frame import FEEDBACK, Frame, Parts, check_offers
from exporters._shape import OTHER, RIGHT
from exporters._text import line_text
from exporters._words import is_known

PROFILE = "pairs"
PROMPTS = {
    "all": "Choose one match for each. Some may be left over.",
    "each": "Choose one match for each. Some may be left over. Each right match earns a mark.",
}
_DECLARED = (
    '<responseDeclaration identifier="RESPONSE" cardinality="multiple" baseType="directedPair">'
    "<correctResponse>%s</correctResponse>%s</responseDeclaration>\n"
)
_VALUE = "<value>%s %s</value>"
_MAPPING = '\n<mapping lowerBound="0" upperBound="%d" defaultValue="0">\n%s</mapping>'
_ENTRY = '<mapEntry mapKey="%s %s" mappedValue="1" caseSensitive="true"/>\n'
_INTERACTION = (
    '<matchInteraction%s responseIdentifier="RESPONSE" shuffle="false" maxAssociations="%d">'
    "<prompt%s>%s</prompt>\n<simpleMatchSet>\n%s</simpleMatchSet>\n<simpleMatchSet>\n%s</simpleMatchSet>\n"
    "</matchInteraction>\n"
)
_TABULAR = ' class="qti-match-tabular"'
"""Asks for a grid; from the shared vocabulary of 3.0."""
_OFFER = '<simpleAssociableChoice identifier="%s" matchMax="%d"%s>%s</simpleAssociableChoice>\n'

Wrong = tuple[tuple[str, tuple[str, ...]], ...]
"""(source, targets that mistakes lead to) of the sources that have such targets."""


class Writer:
    """Writes items that ask to match pairs."""

    def __init__(self, frame: Frame) -> None:
        self._frame = frame
        spell = frame.spell
        self._declared, self._value, self._interaction = spell(_DECLARED), spell(_VALUE), spell(_INTERACTION)
        self._mapping, self._entry, self._offer = spell(_MAPPING), spell(_ENTRY), spell(_OFFER)
        self._tabular = _TABULAR if frame.version.tabular else ""
        self._rules: dict[tuple[str, Wrong | None], str] = {}

    def parts(self, item: Item, response: MatchPairs, feedback: bool, cards: list[str]) -> Parts:
        """Return what the kind writes of *item*; spoken forms are added to *cards*.

        Raises:
            ExportFault: the response contradicts itself.
        """
        frame, family = self._frame, item.family
        sources = [offer.identifier for offer in response.sources]
        targets = [offer.identifier for offer in response.targets]
        check_offers(sources + targets, [name for pair in response.pairs for name in pair])
        if [source for source, _ in response.pairs] != sources or set(targets) < {to for _, to in response.pairs}:
            raise ExportFault("", "", "the right pairs are not one of each source with a target")
        body = frame.paragraphs(item.stem, family.unit, cards)
        sides = [
            "".join([
                self._offer % (offer.identifier, most, frame.spoken(offer.text, family.unit, cards),
                               frame.markup(offer.text))
                for offer in offers
            ])
            for offers, most in ((response.sources, 1), (response.targets, len(sources)))
        ]  # fmt: skip
        body += self._interaction % (self._tabular, len(sources), frame.own, PROMPTS[response.credit], *sides)
        mapping = ""
        if response.credit == "each":
            mapping = self._mapping % (most_marks(response), "".join([self._entry % pair for pair in response.pairs]))
        declared = self._declared % ("".join([self._value % pair for pair in response.pairs]), mapping)
        if not feedback:
            return Parts(declared, body, self._written(response.credit, None))
        known = _foreseen(response)
        wrong: Wrong = tuple([
            (source, tuple([target for (of, target), _ in known if of == source])) for source in sources
            if any([of == source for (of, _), _ in known])
        ])
        words = ((FEEDBACK, "single"), *[(_outcome(source), "single") for source, _ in wrong])
        return Parts(
            declared, body, self._written(response.credit, wrong), words, modals=self._modals(item, response, wrong)
        )

    def _written(self, credit: str, wrong: Wrong | None) -> str:
        found = self._rules.get((credit, wrong))
        if found is None:
            text = g.all_or_nothing() if credit == "all" else g.by_mapping()
            if wrong is not None:
                text += g.condition(
                    (g.match(g.variable(), g.correct()), g.word(FEEDBACK, RIGHT)),
                    (g.answered(), g.word(FEEDBACK, OTHER)),
                )
                for source, targets in wrong:
                    text += g.condition(*[
                        (g.member(g.value("directedPair", f"{source} {target}"), g.variable()),
                         g.word(_outcome(source), target))
                        for target in targets
                    ])  # fmt: skip
            found = self._rules[credit, wrong] = self._frame.spell(text)
        return found

    def _modals(self, item: Item, response: MatchPairs, wrong: Wrong) -> str:
        frame, family = self._frame, item.family
        names = dict(response.mistakes)
        texts = {offer.identifier: line_text(offer.text, frame.locale) for offer in response.sources}
        parts = [frame.modal(FEEDBACK, RIGHT, "Right", frame.words.praise(family)),
                 frame.modal(FEEDBACK, OTHER, "Look again", frame.words.joined(family.hint))]  # fmt: skip
        parts += [
            frame.modal(_outcome(source), target, "Look again",
                        f"{texts[source]}: {frame.words.reasons(item, names[source, target])}")
            for source, targets in wrong for target in targets
        ]  # fmt: skip
        return "".join(parts)


def _outcome(source: str) -> str:
    return f"{FEEDBACK}_{source}"


def _foreseen(response: MatchPairs) -> list[tuple[tuple[str, str], tuple[str, ...]]]:
    """Return the wrong pairs whose mistakes are known.

    Raises:
        ExportFault: one is a right pair, or names what is not offered.
    """
    offered = {offer.identifier for offer in response.targets}
    for (source, target), _ in response.mistakes:
        if (source, target) in response.pairs or target not in offered:
            raise ExportFault("", "", f"a mistake leads to {source} {target}, which is no wrong pair")
    return [(pair, mistakes) for pair, mistakes in response.mistakes if is_known(mistakes)]


def interactions(response: MatchPairs) -> tuple[str, ...]:
    """Return the 2.x names of the interactions, in order."""
    return ("matchInteraction",)


def answer(answers: tuple[tuple[str, ...], ...]) -> tuple[str, ...]:
    """Return the answers to all interactions as `bank.marking` takes them."""
    return answers[0]


def offered(response: MatchPairs) -> tuple[tuple[Offer, ...], ...]:
    """Return what each interaction offers: sources, then targets."""
    return ((*response.sources, *response.targets),)


def right(response: MatchPairs) -> tuple[tuple[str, ...], ...]:
    """Return the right answer of each interaction."""
    return (tuple([f"{source} {target}" for source, target in response.pairs]),)


def context(item: Item, response: MatchPairs, locale: Locale) -> None:
    """Return what `said` and `foreseen_answers` need to know of an item, worked out once."""


def said(response: MatchPairs, answers: tuple[tuple[str, ...], ...], context: None) -> dict[str, object]:
    """Return the outcomes that feedback on *answers* hangs on; those without value are left out."""
    pairs = answers[0]
    if not pairs:
        return {}
    found: dict[str, object] = {FEEDBACK: RIGHT if sorted(pairs) == sorted(right(response)[0]) else OTHER}
    for (source, target), _ in _foreseen(response):
        if f"{source} {target}" in pairs:
            found.setdefault(_outcome(source), target)
    return found


def foreseen_answers(response: MatchPairs, context: None) -> list[tuple[tuple[str, ...], ...]]:
    """Return the answers that mistakes lead to: all are tried anyway."""
    return []


def shape(response: MatchPairs) -> tuple[object, ...]:
    """Return all of *response* that marks, `said` and `foreseen_answers` follow from."""
    return (
        response.credit, response.pairs, tuple([offer.identifier for offer in response.targets]),
        tuple([(pair, is_known(names)) for pair, names in response.mistakes]),
    )


def named(response: MatchPairs, context: None) -> tuple[()]:
    """Return what `shape` leaves out: nothing."""
    return ()
