"""The item map: difficulty against facility, the number of answers as size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from bank.audit.pictures._svg import Canvas, Picture, Scale, logit_ticks, percent, percent_ticks

WIDTH, HEIGHT, LEFT, RIGHT, TOP, BOTTOM = 860, 450, 70, 840, 20, 400
MOST = 400


class Mapped(NamedTuple):
    """An item on the map."""

    label: str
    difficulty: float
    """Logits, higher is harder."""
    error: float
    """Standard error of it, 0 where none is told."""
    facility: float
    n: int
    flags: tuple[str, ...]


def item_map(found: Sequence[Mapped], axis: str) -> Picture:
    """Return the map; *axis* says what difficulty it is, observed or predicted, with its unit."""
    low = math.floor(min((one.difficulty for one in found), default=-1) - 0.3)
    high = math.ceil(max((one.difficulty for one in found), default=1) + 0.3)
    canvas = Canvas(WIDTH, HEIGHT)
    across, up = Scale(low, max(high, low + 1), LEFT, RIGHT), Scale(0, 1, BOTTOM, TOP)
    canvas.x_axis(across, logit_ticks(low, high), BOTTOM, TOP, axis)
    canvas.y_axis(up, percent_ticks(), LEFT, RIGHT, "facility: observed share right, %")
    canvas.text(LEFT + 4, BOTTOM - 6, "easier", "start")
    canvas.text(RIGHT - 4, BOTTOM - 6, "harder", "end")
    most = max((one.n for one in found), default=1)
    shown = sorted(found, key=lambda one: -one.n)[:MOST]
    for one in shown:
        radius = (2.5 if len(shown) > 80 else 4) * (1 + 1.2 * math.sqrt(one.n / most))
        x, y = across(one.difficulty), up(one.facility)
        if one.error:
            canvas.line(across.clipped(one.difficulty - one.error), y, across.clipped(one.difficulty + one.error), y,
                        "whisker")
        flags = f"; {', '.join(one.flags)}" if one.flags else ""
        tip = f"{one.label}: {percent(one.facility)} % right of {one.n}, difficulty {one.difficulty:.2f}{flags}"
        canvas.dot(x, y, radius, "bubble flagged" if one.flags else "bubble", tip.replace("-", "\u2212", 0))
    title = "Item map"
    says = (
        f"Each disc is an item: left is easier, high is answered right by more pupils, and the larger the disc the more"
        f" answers stand behind it (the largest: {most}). Hatched discs carry a flag. A disc far from the run of the"
        " others deserves a look. Each quiz has a scale of its own, on which its pupils have mean 0."
    )
    if any(one.error for one in found):
        says += " The line through a disc is one standard error either way."
    rows = tuple(
        (one.label, f"{one.difficulty:.2f}".replace("-", "\u2212"), percent(one.facility), one.n, ", ".join(one.flags))
        for one in shown
    )
    return Picture(
        "item-map", title, says, canvas.markup("item-map", title, says),
        ("item", axis, "facility, %", "n", "flags"), rows, len(found) - len(shown),
    )
