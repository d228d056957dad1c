"""What the versions of QTI cannot carry, by what their records say of them."""

from __future__ import annotations

from bank.model import Choice, ChooseInLine, ChooseSeveral, FindMistake, MatchPairs, PutInOrder
from exporters._portability import (
    DEPENDS, FEW_REMEDIES, NOT_CARRIED, QuizRemark, Remark, asks, draws_lots, gives_feedback, has_expression, is_quiz,
    is_typed, speaks_numbers,
)
from exporters._qti import Version


def remarks_of(version: Version) -> tuple[Remark, ...]:
    """Return what *version* cannot carry of items."""
    remarks = [Remark(
        "mathematics-drawn-by-the-lms", DEPENDS,
        "The expression is MathML with a text alternative. An LMS that does not draw MathML shows its digits and signs "
        "as plain text in a row.", has_expression,
    )]  # fmt: skip
    if version.catalog:
        remarks.append(Remark(
            "spoken-forms-in-a-catalog", DEPENDS,
            "How numbers are read aloud stands in the item’s catalog, where the texts are English; in another language "
            "it is left to the screen reader. A player that knows no catalogs may show these words as text below the "
            "question.", speaks_numbers,
        ))  # fmt: skip
    else:
        remarks.append(Remark(
            "no-spoken-forms", NOT_CARRIED,
            "How the numbers are to be read aloud (“four point seven zero”) can only be said in QTI 3.0. Here a screen "
            "reader reads them in its own way.", speaks_numbers,
        ))  # fmt: skip
    if not version.aria:
        remarks.append(Remark(
            "no-name-of-the-field", NOT_CARRIED,
            "The field for the typed answer, or the list in the gap, has no name of its own for a screen reader; the "
            "sentence beside it says what to do.", lambda item: is_typed(item) or isinstance(item.response, ChooseInLine),
        ))  # fmt: skip
    return (*remarks, FEW_REMEDIES, Remark(
        "feedback-inside-options", DEPENDS,
        "What is said to an option stands inside that option. Of all forms of feedback this is the one that LMSs "
        "most often leave out.", asks(Choice, ChooseSeveral), of_feedback=True,
    ), Remark(
        "moved-about", DEPENDS,
        "Numbers are put in order, and values matched, in whatever way the LMS offers, often by dragging. Whether it can "
        "be done by keyboard and with a screen reader depends on the LMS. Try it first.", asks(PutInOrder, MatchPairs),
    ), Remark(
        "steps-marked-in-the-text", DEPENDS,
        "The step is marked in the text itself (hottext), a form of question that not every LMS knows. Try it first.",
        asks(FindMistake),
    ))  # fmt: skip


QUIZ_REMARKS = (
    QuizRemark(
        "calculator-in-words", DEPENDS,
        "Whether a calculator is allowed is said to the pupil in a sentence; the package cannot switch one on or off.",
        is_quiz,
    ),
    QuizRemark(
        "solution-after-the-answer", DEPENDS,
        "Feedback and worked solutions are shown as soon as an answer is given, where the LMS shows feedback at all; "
        "some LMSs have a switch of their own for it.", gives_feedback,
    ),
    QuizRemark(
        "drawn-by-the-lms", DEPENDS,
        "Which items a pupil is asked, or in which order, is drawn by the LMS, as the test says. An LMS that takes "
        "items but no tests asks all of them in one order.", draws_lots,
    ),
)
"""What no version of QTI can carry of a quiz."""
