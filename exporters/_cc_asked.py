"""What an item becomes in a Common Cartridge: one of three question types of the cartridge's QTI 1.2.1 profile.

The profile knows choose one (three options or more), choose several, and a typed answer compared with listed
spellings; nothing to put in order, match, choose in the line or mark in a text. What can be asked as choose one and
marked right is asked so; what cannot is refused here (`refusal`), never written wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from hashlib import blake2b
from typing import NamedTuple

from bank.answers import accepted_forms, instruction, policy_named
from bank.identity import asked_otherwise
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, Offer, Option, PutInOrder, Trace,
    TypedNumber,
)
from exporters import _layout
from exporters._faults import ExportFault
from exporters._item import checked_key, option_text
from exporters._text import escape, leaf_text, plain_text
from exporters._kind_find import ELSEWHERE, FOUND
from exporters._words import Words, own_language

ONE, SEVERAL, TYPED = "multiple_choice", "multiple_response", "fib"
"""Question types, as the profile calls them."""
LEAST = 3
"""Options that a choose-one question must have at least (rule 4d of the profile); with two it would be true/false."""
ORDERS = 5
"""Orders offered at most where putting in order becomes choose one."""
CHOOSE_ONE, CHOOSE_ALL = "Choose one answer.", "Choose all that are right."
CHOOSE_ORDER = "Choose the line in which the numbers stand in the right order."
CHOOSE_STEP = "Choose the step with the mistake."
STEP_ONLY = " Nothing else is to be answered here."
"""Said where the stem may ask for the right answer as well, which has no field here."""
RIGHT_ONE = "This one is right."
"""Said to each right choice of several, for it says nothing of the others."""
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


_Option = tuple[str, str, str]
"""Identifier, text, feedback or empty."""
_Chosen = tuple[str, str, tuple[_Option, ...], tuple[str, ...]]
"""Question type, what is to be done, options and keys."""


class Asked(NamedTuple):
    """An item as the profile can ask it. Markup is HTML; feedback is escaped once, texts are not escaped."""

    profile: str
    """`ONE`, `SEVERAL` or `TYPED`."""
    stem: str
    """HTML of the stem and of what is to be done."""
    options: tuple[_Option, ...]
    """In the order shown; none where the answer is typed."""
    keys: tuple[str, ...]
    """Identifiers of the right options."""
    spellings: tuple[str, ...]
    """Right spellings of a typed answer."""
    foreseen: tuple[tuple[str, str, tuple[str, ...]], ...]
    """(name, feedback, spellings) of foreseen wrong answers to a typed one."""
    right: str
    """Feedback on a right typed answer; empty for none."""
    other: str
    """Feedback on any other typed answer; empty for none."""
    solution: str
    """HTML of the worked solution; empty for none."""


def refusal(item: Item) -> str:
    """Return why the profile cannot mark *item* right, so that it must be left out; empty where it can."""
    response = item.response
    if isinstance(response, MatchPairs):
        return "pairs cannot be matched in this profile"
    if isinstance(response, Choice | ChooseInLine):
        offered = len(response.options)
        if offered < LEAST:
            return f"it offers {offered} options, and this profile's choose-one questions have three or more"
    if isinstance(response, FindMistake) and len(response.steps) < LEAST:
        return f"its working has {len(response.steps)} steps, and choosing one of them takes three or more"
    if isinstance(response, PutInOrder) and len(response.mistakes) < LEAST - 1:
        return "fewer than two wrong orders are known, and putting in order can only be asked as a choice of orders"
    return ""


def as_asked(item: Item) -> Item:
    """Return *item* with what is asked and credited here: all marks or none, and of a mistake the step alone.

    Its identifier is that which it has in a cartridge.
    """
    response = item.response
    name = asked_otherwise(item)
    if name != item.identifier:
        item = replace(item, identifier=name)
    if isinstance(response, FindMistake):
        return replace(item, response=replace(response, typed=None, credit="all"))
    if isinstance(response, ChooseSeveral | PutInOrder | MatchPairs):
        return replace(item, response=replace(response, credit="all"))
    return item


class Asking:
    """Says how the items of one bank are asked."""

    def __init__(self, locale: Locale) -> None:
        self._locale = locale
        self._own = own_html(locale)
        self._words = Words(locale, self._own)

    def asked(self, item: Item, feedback: bool) -> Asked:
        """Return how *item*, which must not be refused, is asked, with feedback and worked solution or without.

        Raises:
            ExportFault: it contradicts itself in what no schema checks.
        """
        response = item.response
        if isinstance(response, TypedNumber):
            found = self._typed(item, response, feedback)
        else:
            profile, todo, options, keys = self._chosen(item, feedback)
            found = Asked(profile, self._stem(item, todo), options, keys, (), (), "", "", "")
            _check(found)
        if feedback and item.family.show_solution:
            found = found._replace(solution=worked(item.solution, self._locale))
        return found

    def _chosen(self, item: Item, feedback: bool) -> _Chosen:
        response = item.response
        if isinstance(response, Choice):
            return self._choice(item, response, feedback)
        if isinstance(response, ChooseSeveral):
            return SEVERAL, CHOOSE_ALL, *self._offers(item, response.options, feedback, RIGHT_ONE)
        if isinstance(response, ChooseInLine):
            return ONE, CHOOSE_ONE, *self._offers(item, response.options, feedback)
        if isinstance(response, PutInOrder):
            return self._order(item, response, feedback)
        if isinstance(response, FindMistake):
            return self._steps(item, response, feedback)
        raise ExportFault("", "", f"this target does not know {type(response).__name__}")

    def _choice(self, item: Item, response: Choice, feedback: bool) -> _Chosen:
        key = checked_key(item, response)
        options = tuple([
            (option.identifier, option_text(option, item.family, self._locale), self._said(item, option, feedback))
            for option in response.options
        ])
        return ONE, CHOOSE_ONE, options, (key.identifier,)

    def _offers(
        self, item: Item, offers: Sequence[Offer], feedback: bool, praise: str = ""
    ) -> tuple[tuple[_Option, ...], tuple[str, ...]]:
        options = tuple([
            (offer.identifier, offer_text(offer, self._locale), self._said(item, offer, feedback, praise))
            for offer in offers
        ])
        return options, tuple([offer.identifier for offer in offers if offer.is_key])

    def _order(self, item: Item, response: PutInOrder, feedback: bool) -> _Chosen:
        words, locale, offered = self._words, self._locale, orders(item.identifier, response)
        names = {offer.identifier: offer_text(offer, locale) for offer in response.offers}
        options = tuple([
            (letter, listed([names[name] for name in order], locale),
             (words.rationale(item, why) if why else words.praise(item.family)) if feedback else "")
            for letter, order, why in offered
        ])  # fmt: skip
        return ONE, CHOOSE_ORDER, options, tuple([name for name, order, _ in offered if order == response.right])

    def _steps(self, item: Item, response: FindMistake, feedback: bool) -> _Chosen:
        words, family = self._words, item.family
        elsewhere = f"{words.phrase(ELSEWHERE)} {words.joined(family.hint)}".rstrip()
        said = dict.fromkeys([step.identifier for step in response.steps], elsewhere)
        said[response.right] = f"{words.phrase(FOUND)} {words.rationale(item, (response.mistake,))}".rstrip()
        options = tuple([
            (step.identifier, step_text(number, step, self._locale), said[step.identifier] if feedback else "")
            for number, step in enumerate(response.steps, 1)
        ])
        return ONE, CHOOSE_STEP + (STEP_ONLY if response.typed else ""), options, (response.right,)

    def _said(self, item: Item, option: Option | Offer, feedback: bool, praise: str = "") -> str:
        """Return the feedback on an option or offer; *praise* takes the place of the family's."""
        if not feedback:
            return ""
        if option.is_key:
            return self._words.phrase(praise) if praise else self._words.praise(item.family)
        return self._words.rationale(item, option.mistakes)

    def _typed(self, item: Item, response: TypedNumber, feedback: bool) -> Asked:
        family, words = item.family, self._words
        forms = accepted_forms(item.key, self._locale, response.policy, family.unit)
        todo = instruction(response.policy, item.key, family.unit)
        if family.unit is not None and policy_named(response.policy).unit != "must":
            todo = f"{todo} The answer is in {family.unit.text}."
        foreseen, right, other = (), "", ""
        if feedback:
            cases = words.foreseen(item, response, forms)
            foreseen = tuple([(name, said, tuple(new)) for name, _, said, new in cases])
            right, other = words.praise(family), words.joined(family.hint)
        return Asked(TYPED, self._stem(item, todo), (), (), forms, foreseen, right, other, "")

    def _stem(self, item: Item, todo: str) -> str:
        """Return the stem in HTML: its lines, the wrong working where one is to be judged, and what is to be done."""
        locale, response = self._locale, item.response
        lines = ["".join([leaf_text(leaf, locale) for leaf in line]) for line in item.stem]
        working = shown_working(response.working, locale) if isinstance(response, FindMistake) else ""
        return f"<p>{'</p><p>'.join(lines)}</p>{working}<p{self._own}>{escape(todo)}</p>"


def own_html(locale: Locale) -> str:
    """Return the attribute of HTML that marks the tool's own phrases; empty where they are in the locale's language."""
    return own_language(locale).replace("xml:", "")


def offer_text(offer: Offer, locale: Locale) -> str:
    """Return what is written for *offer*; a sign alone is written as the locale writes it."""
    return locale.sign(plain_text(offer.text, locale))


def step_text(number: int, step: Offer, locale: Locale) -> str:
    """Return what is written for a step, with its number, for two steps may read alike."""
    return f"Step {number}: {plain_text(step.text, locale)}"


def listed(texts: Sequence[str], locale: Locale) -> str:
    """Return *texts* as a list in one line."""
    return f"{locale.list_separator} ".join(texts)


def orders(identifier: str, response: PutInOrder) -> list[tuple[str, tuple[str, ...], tuple[str, ...]]]:
    """Return (letter, order, ids of the mistakes that lead there) of the orders offered, the right one among them.

    They stand in an order drawn by lot from the item's *identifier*: sorted by size, the right one would come first.
    """
    offered = [(response.right, ()), *response.mistakes[: ORDERS - 1]]
    drawn = sorted(offered, key=lambda one: blake2b(f"{identifier} {' '.join(one[0])}".encode()).digest())
    return [(letter, order, why) for letter, (order, why) in zip(_LETTERS, drawn, strict=False)]


def worked(trace: Trace, locale: Locale) -> str:
    """Return a worked solution in HTML: columns as a table of real text, and the steps as a list."""
    return _layout.solution(trace, locale, own_html(locale)).replace("<td/>", "<td></td>")


def shown_working(trace: Trace, locale: Locale) -> str:
    """Return the columns of a working that is to be judged, in HTML, without its steps; empty where it has none."""
    if not trace.rows:
        return ""
    return _layout.table(trace, _layout.judged(trace, locale), locale, own_html(locale)).replace("<td/>", "<td></td>")


def _check(found: Asked) -> None:
    """Check what no schema does.

    Raises:
        ExportFault: options share an identifier or a text, a key is no option, or their number is wrong.
    """
    names = [name for name, _, _ in found.options]
    if len(set(names)) != len(names):
        raise ExportFault("", "", "two options share an identifier")
    if len({text for _, text, _ in found.options}) != len(names):
        raise ExportFault("", "", "two options read alike")
    if not set(found.keys) <= set(names) or len(set(found.keys)) != len(found.keys):
        raise ExportFault("", "", "the key is no option")
    if found.profile == ONE and (len(found.keys) != 1 or len(names) < LEAST):
        raise ExportFault("", "", "a choose-one question has one key among three options or more")
    if found.profile == SEVERAL and not 0 < len(found.keys) < len(names):
        raise ExportFault("", "", "of several options some are right and some are not")
