"""Option curves: who chose what, by score third, one small picture an item."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bank.audit.pictures._svg import Canvas, Picture, Scale, percent, percent_ticks

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 320, 226, 40, 214, 10, 178
MOST = 5
"""Responses that are drawn; rarer ones stand in the table."""
THIRDS = ("lower", "middle", "upper")


class Curve(NamedTuple):
    """A response and the share of each third by rest score that gave it."""

    label: str
    """Option and answer, such as ``B 3.57``."""
    thirds: tuple[float, float, float]
    n: int
    is_key: bool
    mistakes: str
    """Names of the mistakes that it fits, or nothing."""


def option_curves(identifier: str, title: str, curves: Sequence[Curve], n: int) -> Picture:
    """Return the picture of one item; *n* pupils were given it and reached it."""
    shown = sorted(curves, key=lambda one: (not one.is_key, -one.n))[:MOST]
    canvas = Canvas(WIDTH, HEIGHT)
    across, up = Scale(0, 2, LEFT, RIGHT), Scale(0, 1, BOTTOM, TOP)
    for value, words in percent_ticks(25):
        canvas.line(LEFT, up(value), RIGHT, up(value), "rule")
        canvas.text(LEFT - 6, up(value) + 4, words, "tick-y")
    canvas.line(LEFT, BOTTOM, RIGHT, BOTTOM, "axis")
    for place, words in enumerate(THIRDS):
        canvas.text(across(place), BOTTOM + 16, words, "tick-x")
    canvas.text((LEFT + RIGHT) / 2, BOTTOM + 34, "third by the rest of the quiz", "title-x")
    canvas.text(LEFT - 30, (TOP + BOTTOM) / 2, "chosen by, %", "title-y", turned=True)
    heights = _apart([up(one.thirds[2]) + 4 for one in shown], 14, TOP + 8, BOTTOM + 4)
    wrong = 0
    for one, height in zip(shown, heights, strict=True):
        kind = "curve is-key" if one.is_key else f"curve dash-{wrong % 4}"
        wrong += not one.is_key
        canvas.shape([(across(place), up(share)) for place, share in enumerate(one.thirds)], kind, closed=False)
        for place, share in enumerate(one.thirds):
            tip = f"{one.label}: {percent(share)} % of the {THIRDS[place]} third"
            canvas.dot(across(place), up(share), 3.4 if one.is_key else 2.4, "seen", tip)
        name = _short(one.label) + (" key" if one.is_key else "")
        canvas.text(RIGHT + 8, height, name, "key-word" if one.is_key else "")
    says = f"n = {n}. " + "; ".join(f"{_told(one)} {', '.join(map(percent, one.thirds))} %" for one in shown)
    return Picture(
        identifier, title, says, canvas.markup(identifier, title, says),
        ("answer", *(f"{words} third, %" for words in THIRDS), "n", "fits"),
        tuple((_told(one), *map(percent, one.thirds), one.n, one.mistakes)
              for one in sorted(curves, key=lambda one: (not one.is_key, -one.n))),
    )


def _told(one: Curve) -> str:
    return one.label + (" (key)" if one.is_key else "")


def _short(label: str) -> str:
    return label if len(label) <= 12 else label[:11] + "\u2026"


def _apart(heights: Sequence[float], least: float, top: float, bottom: float) -> list[float]:
    """Return *heights* moved so that none are nearer than *least* to one another, within *top* and *bottom*."""
    order = sorted(range(len(heights)), key=lambda place: heights[place])
    moved = list(heights)
    last = top - least
    for place in order:
        moved[place] = last = max(heights[place], last + least)
    over = bottom
    for place in reversed(order):
        moved[place] = over = min(moved[place], over)
        over -= least
    return moved
