"""Items of every template that comes along, from draws all over its space, as the builder makes them."""

from __future__ import annotations

from functools import lru_cache

from bank import difficulty, locales
from bank.draw import Demand
from bank.further import drawer_of
from bank.model import Choice, FindMistake, Item, MatchPairs, PutInOrder, TypedNumber
from bank.store import unpack
from bank.templates import Template, built_in, load_templates

TEMPLATES = load_templates(built_in())
WANTED = 12
SEEDS = (1, 2, 3)


@lru_cache(maxsize=None)
def items_of(template: Template, seed: int, locale: str = "en-point") -> tuple[Item, ...]:
    """Return `WANTED` items of *template*, or as many as it has."""
    weights = difficulty.load_weights()
    drawer = drawer_of(template)(template, locales.load_locale(locale), weights, seed, WANTED, 0, 1)
    batch = drawer.more([Demand(0, WANTED)])
    return tuple([unpack(one.identifier, template.family, one.content) for one in batch.kept])


def wrong_answers(item: Item) -> list[tuple[str, ...]]:
    """Return for each wrong answer that is offered or foreseen in *item* the mistakes that lead there."""
    response = item.response
    if isinstance(response, (TypedNumber, PutInOrder, MatchPairs)):
        return [names for _, names in response.mistakes]
    if isinstance(response, FindMistake):
        return [(response.mistake,), *[names for _, names in (response.typed.mistakes if response.typed else ())]]
    wrong = [one for one in response.options if not one.is_key or not isinstance(response, Choice)]
    return [one.mistakes for one in wrong if one.mistakes]
