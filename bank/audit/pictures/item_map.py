"""The item map: predicted difficulty against observed facility, the number of answers as size."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from bank.audit.pictures._svg import Canvas, Picture, Scale, logit_ticks, percent, percent_ticks

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 860, 450, 70, 840, 20, 400
MOST = 400
AXIS = "predicted difficulty (middle of its band), logits from the mean of the class"


class Mapped(NamedTuple):
    """An item on the map."""

    label: str
    difficulty: float
    """Predicted, in logits from the mean of the class; higher is harder."""
    facility: float
    """Observed."""
    n: int
    flags: tuple[str, ...]


def item_map(found: Sequence[Mapped], expected: Callable[[float], float], class_words: str) -> Picture:
    """Return the map; *expected* gives the share right that the class would have at a difficulty."""
    low = math.floor(min((one.difficulty for one in found), default=-1) - 0.3)
    high = math.ceil(max((one.difficulty for one in found), default=1) + 0.3)
    canvas = Canvas(WIDTH, HEIGHT)
    across, up = Scale(low, max(high, low + 1), LEFT, RIGHT), Scale(0, 1, BOTTOM, TOP)
    canvas.x_axis(across, logit_ticks(low, high), BOTTOM, TOP, AXIS)
    canvas.y_axis(up, percent_ticks(), LEFT, RIGHT, "facility: observed share right, %")
    canvas.text(LEFT + 4, BOTTOM - 6, "easier", "start")
    canvas.text(RIGHT - 4, TOP + 14, "harder", "end")
    steps = [low + (high - low) * place / 60 for place in range(61)]
    canvas.shape([(across(step), up(expected(step))) for step in steps], "even", closed=False)
    most = max((one.n for one in found), default=1)
    shown = sorted(found, key=lambda one: -one.n)[:MOST]
    for one in shown:
        radius = (2 if len(shown) > 80 else 3) * (1 + 1.4 * math.sqrt(one.n / most))
        flags = f"; {', '.join(one.flags)}" if one.flags else ""
        tip = f"{one.label}: {percent(one.facility)} % right of {one.n}, predicted difficulty {_logits(one)}{flags}"
        canvas.dot(across(one.difficulty), up(one.facility), radius, "bubble flagged" if one.flags else "bubble", tip)
    title = "Item map"
    says = (
        "Each disc is an item: the further right the harder by prediction, the higher the more pupils had it right, the"
        f" larger the more answers (the largest: {most}). Hatched discs carry a flag. The dashed line is what"
        f" {class_words} would have right; discs far from it, and siblings far from one another, deserve a look."
    )
    rows = tuple((one.label, _logits(one), percent(one.facility), one.n, ", ".join(one.flags)) for one in shown)
    return Picture(
        "item-map", title, says, canvas.markup("item-map", title, says),
        ("item", AXIS, "observed facility, %", "n", "flags"), rows, len(found) - len(shown),
    )


def _logits(one: Mapped) -> str:
    return f"{one.difficulty:.2f}".replace("-", "\u2212")
