"""Predicted against observed: each item's 80 % band and the share right that was seen."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bank.audit.pictures._svg import Canvas, Picture, Scale, between, percent, percent_ticks

WIDTH = 860
ROW = 20
MOST_POINTS = 400
"""Items that one scatter shows; of more, the rest stand in the table."""
MOST_ROWS = 60
_TABLE = ("item", "predicted share right, 80 % band", "observed share right, %", "n", "inside the band")


class Compared(NamedTuple):
    """An item's band and what was seen."""

    label: str
    low: float
    high: float
    middle: float
    observed: float
    n: int

    @property
    def is_inside(self) -> bool:
        """Whether what was seen lies within the band."""
        return self.low <= self.observed <= self.high

    @property
    def row(self) -> tuple[str | int, ...]:
        """A row of the text equivalent."""
        inside = "yes" if self.is_inside else "no"
        return self.label, between(self.low, self.high), percent(self.observed), self.n, inside

    @property
    def tip(self) -> str:
        """What is told when pointed at."""
        seen = f"observed {percent(self.observed)} % of {self.n}"
        return f"{self.label}: predicted {between(self.low, self.high)}, {seen}"


def predicted_observed(found: Sequence[Compared], class_words: str) -> Picture:
    """Return a scatter of all items: place by the middle of the band, the band upright, what was seen as a dot."""
    height, left, top, bottom = 470, 70, 12, 420
    canvas = Canvas(WIDTH, height)
    across, up = Scale(0, 1, left, 840), Scale(0, 1, bottom, top)
    canvas.x_axis(across, percent_ticks(), bottom, top, "middle of the predicted band, % right")
    canvas.y_axis(up, percent_ticks(), left, 840, "share right, %")
    canvas.line(across(0), up(0), across(1), up(1), "even")
    shown = list(found[:MOST_POINTS])
    many = " many" if len(shown) > 80 else ""
    for one in shown:
        at = across.clipped(one.middle)
        canvas.line(at, up(one.low), at, up(one.high), f"band-line{'' if one.is_inside else ' out'}{many}")
    for one in shown:
        size = (2.8 if many else 4) + (not one.is_inside)
        kind = "seen" if one.is_inside else "seen out"
        canvas.dot(across.clipped(one.middle), up(one.observed), size, kind, one.tip)
    inside = sum(one.is_inside for one in found)
    title = "Predicted against observed"
    says = (
        f"Upright bars are the predicted 80 % bands for {class_words}; dots are what was observed. {inside} of"
        f" {len(found)} lie within their band; the others are ringed. Eight of ten are expected to. Dots below the"
        " dashed line were harder than the middle of their band, dots above it easier."
    )
    outside = [one.row for one in found if not one.is_inside]
    within = [one.row for one in found if one.is_inside]
    return Picture(
        "predicted-observed", title, says, canvas.markup("predicted-observed", title, says), _TABLE,
        tuple(outside + within)[:MOST_POINTS], max(0, len(found) - MOST_POINTS),
    )


def quiz_rows(identifier: str, quiz: str, found: Sequence[Compared]) -> Picture:
    """Return one row an item of a quiz, hardest predicted first: band, and what was seen."""
    shown = sorted(found, key=lambda one: one.middle)[:MOST_ROWS]
    left, top = 300, 10
    bottom = top + ROW * len(shown)
    canvas = Canvas(WIDTH, bottom + 44)
    scale = Scale(0, 1, left, 840)
    canvas.x_axis(scale, percent_ticks(), bottom, top, "share right, %")
    for place, one in enumerate(shown):
        middle = top + ROW * place + ROW / 2
        canvas.text(left - 10, middle + 4, one.label if len(one.label) <= 44 else one.label[:42] + "\u2026", "tick-y")
        inside = one.is_inside
        canvas.rect(scale(one.low), middle - 4, scale(one.high) - scale(one.low), 8, "reach" if inside else "reach out")
        canvas.dot(scale(one.observed), middle, 4.5 if inside else 5.5, "seen" if inside else "seen out", one.tip)
    title = f"{quiz}: predicted bands and observed shares right"
    says = "Bars are predicted 80 % bands, dots what was observed; a ringed dot lies outside its band."
    return Picture(
        identifier, title, says, canvas.markup(identifier, title, says), _TABLE, tuple(one.row for one in shown),
        len(found) - len(shown),
    )
