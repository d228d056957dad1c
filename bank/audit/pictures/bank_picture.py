"""The bank at a glance: topics against predicted difficulty, with its gaps."""

from __future__ import annotations

from collections.abc import Sequence

from bank.audit.before import CoverageRow
from bank.audit.pictures._svg import Canvas, Picture, Scale, between, percent_ticks
from bank.difficulty import BANDS

ROW, LEFT, WIDTH, TOP = 46, 190, 860, 34


def bank_picture(rows: Sequence[CoverageRow], class_words: str) -> Picture:
    """Return the picture: one row a topic, a bar for each five points of the share right, counts of the three bands."""
    bottom = TOP + ROW * len(rows)
    canvas = Canvas(WIDTH, bottom + 44)
    scale = Scale(0, 1, LEFT, 640)
    counts_at = (690, 755, 820)
    canvas.x_axis(scale, percent_ticks(), bottom, TOP, "predicted share right (middle of its interval), %")
    for place, band in zip(reversed(counts_at), BANDS, strict=True):
        canvas.text(place, TOP - 10, band, "tick-x strong")
    canvas.text(LEFT, TOP - 10, "harder", "start")
    canvas.text(640, TOP - 10, "easier", "end")
    most = max((max(row.shares) for row in rows), default=1) or 1
    for place, row in enumerate(rows):
        _row(canvas, row, TOP + ROW * place, scale, most, counts_at)
    title = "Topics against predicted difficulty"
    gaps = sum(not count for row in rows for count in row.counts)
    says = (
        f"Each row is a topic; each bar counts items whose predicted share right has its middle there. The tallest bar"
        f" stands for {most} items; the line under the bars is the 80 % interval of the topic's mean. {gaps} of"
        f" {len(rows) * len(BANDS)} corners (topic and band) hold no item; they are framed and say none. Predicted, not"
        f" observed, for {class_words}."
    )
    return Picture(
        "bank-picture", title, says, canvas.markup("bank-picture", title, says),
        ("topic", *BANDS, "all", "predicted mean share right, 80 % interval"),
        tuple((_words(row.topic), *row.counts, row.total,
               between(row.prediction.predicted_low_share, row.prediction.predicted_high_share)) for row in rows),
    )


def _row(
    canvas: Canvas, row: CoverageRow, top: float, scale: Scale, most: int, counts_at: Sequence[float]
) -> None:
    base = top + ROW - 6
    found = row.prediction
    canvas.line(scale(found.predicted_low_share), top + ROW - 3, scale(found.predicted_high_share), top + ROW - 3,
                "mean-line")
    canvas.line(0, top + ROW, WIDTH, top + ROW, "rule")
    canvas.text(LEFT - 14, base - 8, _words(row.topic), "tick-y strong")
    wide = scale(0.05) - scale(0)
    for place, count in enumerate(row.shares):
        if count:
            tall = (ROW - 12) * count / most
            low = 5 * place
            canvas.rect(scale(place / 20) + 1, base - tall, wide - 2, tall, "pillar",
                        f"{_words(row.topic)}: {count} items between {low} and {low + 5} %")
    for place, count in zip(reversed(counts_at), row.counts, strict=True):
        if count:
            canvas.text(place, base - 8, str(count), "tick-x figure")
        else:
            canvas.rect(place - 26, top + 9, 52, ROW - 18, "hole", radius=3)
            canvas.text(place, base - 9, "none", "tick-x hole-word")


def _words(topic: str) -> str:
    return topic.replace("-", " ")
