"""Quizzes against one another: predicted mean share right as an interval, and the items under it."""

from __future__ import annotations

from collections.abc import Sequence

from bank.audit.before import QuizRow
from bank.audit.pictures._svg import Canvas, Picture, Scale, between, percent_ticks
from bank.audit.prediction import Predictions

ROW, LEFT, WIDTH, TOP = 34, 300, 860, 12
MOST = 60
"""Quizzes that are drawn; of more, the rest stand in the table."""


def quiz_picture(quizzes: Sequence[QuizRow], predictions: Predictions) -> Picture:
    """Return the picture: one row a quiz, its interval as a bar, the middles of its items as ticks below."""
    shown = quizzes[:MOST]
    bottom = TOP + ROW * len(shown)
    canvas = Canvas(WIDTH, bottom + 44)
    scale = Scale(0, 1, LEFT, 840)
    canvas.x_axis(scale, percent_ticks(), bottom, TOP, "predicted share right, %")
    for place, row in enumerate(shown):
        top = TOP + ROW * place
        found = row.prediction
        low, high = found.predicted_low_share, found.predicted_high_share
        canvas.text(LEFT - 12, top + 20, _short(row.quiz.title), "tick-y")
        canvas.rect(scale(low), top + 8, scale(high) - scale(low), 9, f"reach use-{row.quiz.use}",
                    f"{row.quiz.title}: mean share right {between(low, high)}", 2)
        for item in row.places:
            middle = scale(float(predictions.middle_share[item]))
            canvas.line(middle, top + 20, middle, top + 29, "item-tick")
    title = "Quizzes by predicted share right"
    says = (
        "Each bar is the 80 % interval of a quiz's mean share right; the small ticks below it are the middles of its"
        " items' intervals. Bars overlap widely: differences between quizzes whose bars overlap should not be relied"
        " on. Graded quizzes have a hatched bar, diagnosis quizzes a framed one."
    )
    rows = tuple(
        (row.quiz.title, row.quiz.use, row.prediction.items,
         between(row.prediction.predicted_low_share, row.prediction.predicted_high_share), *row.counts)
        for row in quizzes
    )
    return Picture(
        "quiz-picture", title, says, canvas.markup("quiz-picture", title, says),
        ("quiz", "use", "items", "predicted mean share right, 80 % interval", "easier", "middle", "harder"), rows,
    )


def _short(title: str) -> str:
    return title if len(title) <= 44 else title[:42] + "\u2026"
