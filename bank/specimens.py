"""Specimens: a few items of a template, made and checked as a build makes them, to see what a build would refuse."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from bank import refusals
from bank.difficulty import Weights
from bank.draw import Demand
from bank.further import drawer_of
from bank.model import Locale
from bank.templates import Template

WANTED = 12
"""Items made of a template. Our own choice: enough to meet each sign and most shapes, and made in a tenth of a second."""
SEED = 1
"""The seed of all specimens, so that a second look finds the same."""


class Specimens(NamedTuple):
    """What making a few items of a template showed."""

    tried: int
    """Draws looked at."""
    possible: int
    made: int
    """Items, at most `WANTED`."""
    refused: Mapping[str, int]
    examples: Mapping[str, str]
    """As `bank.draw.Batch.examples`."""

    @property
    def failed(self) -> str:
        """What refused most of the draws that the template's own conditions keep, empty where it is all the same."""
        return refusals.most({one: count for one, count in self.refused.items() if one in self.examples})


def look_at(template: Template, locale: Locale, weights: Weights) -> Specimens:
    """Return what the first draws of *template* give, up to `WANTED` items.

    Raises:
        BadInput: key and written method differ (``key-differs``).
    """
    drawer = drawer_of(template)(template, locale, weights, SEED, WANTED, 0, 1)
    batch = drawer.more([Demand(0, WANTED)])
    return Specimens(batch.tried, template.space_size, len(batch.kept), batch.refused, batch.examples)
