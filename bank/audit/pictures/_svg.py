"""What the pictures are drawn with: a canvas that escapes every text, axes with ticks and titles, and `Picture`."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from markupsafe import Markup, escape

Cell = str | int


class Picture(NamedTuple):
    """A picture and its text equivalent."""

    identifier: str
    """Unique on a page; a legal id."""
    title: str
    """What it shows, one line."""
    says: str
    """What can be read from it, in a sentence or two: the picture's description for those who do not see it."""
    svg: Markup
    header: tuple[str, ...]
    """Headings of the table that holds the same figures."""
    rows: tuple[tuple[Cell, ...], ...]
    more: int = 0
    """Rows of the table that are left out here because they stand in a file."""


class Scale(NamedTuple):
    """A straight scale from a domain of values to places on the canvas."""

    low: float
    high: float
    start: float
    end: float

    def __call__(self, value: float) -> float:
        """Return the place of *value*."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def clipped(self, value: float) -> float:
        """Return the place of *value*, or of the end that it lies beyond."""
        return self(min(max(value, self.low), self.high))


class Canvas:
    """Collects the marks of one picture, in the order in which they are painted."""

    def __init__(self, width: float, height: float) -> None:
        self.width = width
        self.height = height
        self._parts: list[str] = []

    def rect(
        self, x: float, y: float, width: float, height: float, kind: str, tip: str = "", radius: float = 0
    ) -> None:
        """Draw a rectangle of class *kind*; *tip* is told when pointed at."""
        round_corner = f' rx="{_number(radius)}"' if radius else ""
        self._mark("rect", f'x="{_number(x)}" y="{_number(y)}" width="{_number(max(width, 0))}"'
                           f' height="{_number(max(height, 0))}"{round_corner}', kind, tip)

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str) -> None:
        """Draw a line."""
        self._mark("line", f'x1="{_number(x1)}" y1="{_number(y1)}" x2="{_number(x2)}" y2="{_number(y2)}"', kind)

    def dot(self, x: float, y: float, radius: float, kind: str, tip: str = "") -> None:
        """Draw a disc."""
        self._mark("circle", f'cx="{_number(x)}" cy="{_number(y)}" r="{_number(radius)}"', kind, tip)

    def shape(self, points: Iterable[tuple[float, float]], kind: str, tip: str = "", closed: bool = True) -> None:
        """Draw a polygon, or a line through the points."""
        places = " ".join(f"{_number(x)},{_number(y)}" for x, y in points)
        self._mark("polygon" if closed else "polyline", f'points="{places}"', kind, tip)

    def text(self, x: float, y: float, words: str, kind: str = "", turned: bool = False) -> None:
        """Write *words* with their baseline at *y*; *turned* reads upwards."""
        turn = f' transform="rotate(-90 {_number(x)} {_number(y)})"' if turned else ""
        name = f' class="{escape(kind)}"' if kind else ""
        self._parts.append(f'<text x="{_number(x)}" y="{_number(y)}"{name}{turn}>{escape(words)}</text>')

    def _mark(self, tag: str, places: str, kind: str, tip: str = "") -> None:
        if tip:
            self._parts.append(f'<{tag} {places} class="{escape(kind)}"><title>{escape(tip)}</title></{tag}>')
        else:
            self._parts.append(f'<{tag} {places} class="{escape(kind)}"/>')

    def x_axis(self, scale: Scale, ticks: Sequence[tuple[float, str]], y: float, top: float, title: str) -> None:
        """Draw a horizontal axis at *y* with rules up to *top*, its *ticks* as (value, words), and its *title*."""
        for value, words in ticks:
            self.line(scale(value), top, scale(value), y, "rule")
            self.text(scale(value), y + 15, words, "tick-x")
        self.line(scale.start, y, scale.end, y, "axis")
        self.text((scale.start + scale.end) / 2, y + 32, title, "title-x")

    def y_axis(self, scale: Scale, ticks: Sequence[tuple[float, str]], x: float, end: float, title: str) -> None:
        """Draw a vertical axis at *x* with rules to *end*, its *ticks* as (value, words), and its *title*."""
        for value, words in ticks:
            self.line(x, scale(value), end, scale(value), "rule")
            self.text(x - 6, scale(value) + 4, words, "tick-y")
        self.line(x, scale.start, x, scale.end, "axis")
        self.text(x - 42, (scale.start + scale.end) / 2, title, "title-y", turned=True)

    def markup(self, identifier: str, title: str, says: str) -> Markup:
        """Return the picture as markup, named and described for those who do not see it."""
        return Markup(
            f'<svg class="chart" role="img" aria-labelledby="{escape(identifier)}-t {escape(identifier)}-d"'
            f' viewBox="0 0 {_number(self.width)} {_number(self.height)}">'
            f'<title id="{escape(identifier)}-t">{escape(title)}</title>'
            f'<desc id="{escape(identifier)}-d">{escape(says)}</desc>{"".join(self._parts)}</svg>'
        )


def percent_ticks(step: int = 20) -> list[tuple[float, str]]:
    """Return ticks of a share's axis, from 0 to 100 %."""
    return [(value / 100, f"{value}") for value in range(0, 101, step)]


def logit_ticks(low: float, high: float) -> list[tuple[float, str]]:
    """Return ticks at whole logits, thinned where there are many."""
    first, last = math.ceil(low), math.floor(high)
    step = 1 if last - first <= 12 else 2
    return [(float(value), str(value).replace("-", "\u2212")) for value in range(first, last + 1) if value % step == 0]


def percent(share: float) -> str:
    """Return *share* as whole percent without the sign."""
    return str(int(100 * share + 0.5))


def between(low: float, high: float) -> str:
    """Return an interval of shares in words, such as ``55 to 80 %``."""
    return f"{percent(low)} to {percent(high)} %"


def _number(value: float) -> str:
    """Return *value* with at most one place; never a NaN.

    Raises:
        ValueError: it cannot be drawn.
    """
    if not math.isfinite(value):
        raise ValueError(f"{value} cannot be drawn")
    text = f"{value:.1f}"
    return text[:-2] if text.endswith(".0") else text
