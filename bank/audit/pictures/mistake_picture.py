"""Mistakes of a class: how often they show where they could, against guessing, and by group."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bank.audit.pictures._svg import Canvas, Picture, Scale, percent

ROW, LEFT, WIDTH, TOP, BAR_END = 30, 270, 860, 40, 560
MOST_ROWS, MOST_GROUPS = 20, 8
WITHHELD = "withheld"


class MistakeBar(NamedTuple):
    """A mistake over all pupils, and its share in each group."""

    name: str
    shown: int
    possible: int
    low: float
    high: float
    guessed: float
    pupils: int | None
    """Pupils whose answers fit it again and again; None where pupils were not looked at one by one."""
    groups: tuple[float | None, ...]
    """Share of the possible in each group; None where it is withheld or was not possible."""

    @property
    def share(self) -> float:
        """Shown of possible."""
        return self.shown / self.possible


def mistake_picture(found: Sequence[MistakeBar], groups: Sequence[str]) -> Picture:
    """Return the picture: a bar with its interval and the guessing line a mistake, then a tile a group."""
    shown, named = list(found[:MOST_ROWS]), list(groups[:MOST_GROUPS])
    bottom = TOP + ROW * len(shown)
    canvas = Canvas(WIDTH, bottom + 44)
    most = min(1.0, max((one.high for one in shown), default=0.5) * 1.05)
    step = next((step for step in (0.05, 0.1, 0.2) if most / step <= 6), 0.2)
    most = step * -(-most // step)
    scale = Scale(0, most, LEFT, BAR_END)
    ticks = [(step * place, percent(step * place)) for place in range(int(most / step + 1.5))]
    canvas.x_axis(scale, ticks, bottom, TOP, "answers that fit, % of the answers where it could show")
    canvas.text(BAR_END + 34, TOP - 12, "pupils", "tick-x strong")
    first, wide = BAR_END + 70, (WIDTH - BAR_END - 74) / max(1, len(named)) if named else 0
    wide = min(wide, 60)
    for place, group in enumerate(named):
        canvas.text(first + wide * (place + 0.5), TOP - 12, group[: max(2, int(wide / 7))], "tick-x strong")
    for place, one in enumerate(shown):
        _row(canvas, one, TOP + ROW * place, scale, first, wide, len(named))
    title = "Which mistakes the answers fit"
    says = (
        "Bars are the share of answers that fit the mistake, of those where it could show; the line is the 95 %"
        " interval, the tick what spreading the wrong answers evenly over the wrong options would give (guessing). Pupils:"
        " those whose answers fit it again and again (\u2013: not looked at one by one)."
    )
    if named:
        says += " Tiles by group: the stronger the tile the more; hatched: withheld, or it could not show."
    rows = tuple(
        (one.name, f"{one.shown} of {one.possible}",
         f"{percent(one.share)} ({percent(one.low)} to {percent(one.high)})", f"{one.guessed:.1f}", _pupils(one),
         *(WITHHELD if share is None else f"{percent(share)}" for share in one.groups[: len(named)]))
        for one in found
    )
    return Picture(
        "mistake-picture", title, says, canvas.markup("mistake-picture", title, says),
        ("mistake", "fits", "% (95 % interval)", "by guessing", "pupils, again and again",
         *(f"{name}, %" for name in named)), rows,
    )


def _pupils(one: MistakeBar) -> str:
    return "\u2013" if one.pupils is None else str(one.pupils)


def _row(
    canvas: Canvas, one: MistakeBar, top: float, scale: Scale, first: float, wide: float, groups: int
) -> None:
    middle = top + ROW / 2
    canvas.text(LEFT - 10, middle + 4, one.name if len(one.name) <= 40 else one.name[:38] + "\u2026", "tick-y strong")
    tip = f"{one.name}: {one.shown} of {one.possible}, {percent(one.low)} to {percent(one.high)} %"
    canvas.rect(scale(0), middle - 8, scale.clipped(one.share) - scale(0), 16, "pillar", tip)
    canvas.line(scale.clipped(one.low), middle, scale.clipped(one.high), middle, "span-line")
    for end in (one.low, one.high):
        canvas.line(scale.clipped(end), middle - 4, scale.clipped(end), middle + 4, "span-line")
    if one.guessed:
        at = scale.clipped(one.guessed / one.possible)
        canvas.line(at, middle - 11, at, middle + 11, "guess-line")
    canvas.text(BAR_END + 34, middle + 5, _pupils(one), "tick-x figure")
    for place, share in enumerate(one.groups[:groups]):
        x = first + wide * place
        if share is None:
            canvas.rect(x + 1, top + 2, wide - 2, ROW - 4, "withheld")
            continue
        shade = 1 + (share >= 0.05) + (share >= 0.15) + (share >= 0.3)
        canvas.rect(x + 1, top + 2, wide - 2, ROW - 4, f"tile t{shade}", f"{percent(share)} %")
        canvas.text(x + wide / 2, middle + 4, percent(share), "tile-figure on-dark" if shade == 4 else "tile-figure")
