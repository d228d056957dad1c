"""What a pupil or a marking program notices of an item, facet by facet, as lines of plain text that can be compared."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from bank import mistakes
from bank.answers import accepted_forms, instruction
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Line, Locale, MatchPairs, Offer, PutInOrder,
    Response, TypedNumber, Unit,
)
from bank.numerals import Numeral
from bank.review import views, writing
from bank.summary import kind_of

KEY = "\u2713 key"
"""Stands behind what is right."""


class Facet(NamedTuple):
    """One side of an item, as the old bank and the new one have it."""

    name: str
    old: tuple[str, ...]
    """Lines of plain text; none where it has no such side."""
    new: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether the two are not alike."""
        return self.old != self.new


def differing(old: dict[str, tuple[str, ...]], new: dict[str, tuple[str, ...]]) -> tuple[Facet, ...]:
    """Return the question and every other facet that differs."""
    found = [Facet(name, old.get(name, ()), new.get(name, ())) for name in dict.fromkeys([*old, *new])]
    return tuple([facet for facet in found if facet.name == "Question" or facet.differs])


def facets_of(item: Item, locale: Locale) -> dict[str, tuple[str, ...]]:
    """Return the facets of *item* by name, in the order in which a page shows them."""
    family, response = item.family, item.response
    shown = item.shows_feedback
    return {
        "Question": tuple([plain(line, locale) for line in item.stem]),
        "Title": (family.title,),
        "How it is answered": tuple(_manner(item)),
        "Answers": tuple(_answers(response, family.unit, locale)),
        "Right answer": (writing.answer(item.key, family.unit, locale),),
        "Also right": tuple(_spellings(item, locale)),
        "Feedback and solution": ("shown" if shown else "not shown",),
        "If wrong": tuple([plain(line, locale) for line in family.hint]) if shown else (),
        "If right": tuple([plain(line, locale) for line in family.praise]) if shown else (),
        "Said to wrong answers": tuple(_reasons(response, family.unit, locale)) if shown else (),
        "Worked solution": tuple([plain(line, locale) for line in item.solution.steps])
        if shown and family.show_solution else (),
        "Version": (str(family.version),),
    }


def question_in_words(item: Item, locale: Locale) -> str:
    """Return the question of *item* as one line of plain text."""
    return " ".join([plain(line, locale) for line in item.stem])


def plain(line: Line, locale: Locale) -> str:
    """Return *line* as plain text, as the locale writes it."""
    return "".join([
        leaf if isinstance(leaf, str) else locale.number(leaf) if isinstance(leaf, Numeral)
        else writing.expression(leaf, locale) for leaf in line
    ])


def _manner(item: Item) -> Iterator[str]:
    response, unit = item.response, item.family.unit
    yield views.RESPONSES[kind_of(response)]
    typed = response if isinstance(response, TypedNumber) else getattr(response, "typed", None)
    if typed is not None:
        yield instruction(typed.policy, item.key, unit)
    if isinstance(response, Choice) and response.order != "ascending":
        yield "in the order of the question"
    if isinstance(response, PutInOrder):
        yield response.direction
    credit = getattr(response, "credit", "all")
    if credit != "all":
        yield f"marks for each of its parts ({credit})"


def _answers(response: Response, unit: Unit | None, locale: Locale) -> Iterator[str]:
    if isinstance(response, Choice):
        for option in response.options:
            yield f"{option.identifier} {writing.answer(option.numeral, unit, locale)}{f' {KEY}' * option.is_key}"
    elif isinstance(response, ChooseSeveral | ChooseInLine):
        yield from _offered(response.options, locale)
    elif isinstance(response, PutInOrder):
        yield from _offered(response.offers, locale)
        texts = {offer.identifier: plain(offer.text, locale) for offer in response.offers}
        yield f"{KEY}: {', then '.join([texts[name] for name in response.right])}"
    elif isinstance(response, MatchPairs):
        yield from _offered((*response.sources, *response.targets), locale)
        yield f"{KEY}: {', '.join([f'{source} with {target}' for source, target in response.pairs])}"
    elif isinstance(response, FindMistake):
        for step in response.steps:
            yield f"{step.identifier} {plain(step.text, locale)}{f' {KEY}' * (step.identifier == response.right)}"


def _offered(offers: Iterable[Offer], locale: Locale) -> Iterator[str]:
    for offer in offers:
        yield f"{offer.identifier} {_shown(offer, locale)}{f' {KEY}' * offer.is_key}"


def _shown(offer: Offer, locale: Locale) -> str:
    text = plain(offer.text, locale)
    return locale.sign(text) if len(text) == 1 else text


def _spellings(item: Item, locale: Locale) -> Sequence[str]:
    typed = item.response if isinstance(item.response, TypedNumber) else getattr(item.response, "typed", None)
    if typed is None:
        return ()
    return accepted_forms(item.key, locale, typed.policy, item.family.unit)[1:]


def _reasons(response: Response, unit: Unit | None, locale: Locale) -> Iterator[str]:
    """Yield wrong answers with what is said to them."""
    if isinstance(response, Choice):
        for option in response.options:
            if option.mistakes:
                yield f"{writing.answer(option.numeral, unit, locale)}: {_said(option.mistakes)}"
    elif isinstance(response, TypedNumber):
        for numeral, names in response.mistakes:
            yield f"{writing.answer(numeral, unit, locale)}: {_said(names)}"
    elif isinstance(response, ChooseSeveral | ChooseInLine):
        for offer in response.options:
            if offer.mistakes:
                yield f"{_shown(offer, locale)}: {_said(offer.mistakes)}"
    elif isinstance(response, PutInOrder | MatchPairs):
        for answer, names in response.mistakes:
            yield f"{' '.join(answer)}: {_said(names)}"
    elif isinstance(response, FindMistake):
        yield _said((response.mistake,))


def _said(names: Sequence[str]) -> str:
    known = mistakes.load()
    return "; ".join([known[name].feedback if name in known else name for name in names])
