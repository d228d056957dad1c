"""Common Cartridge 1.3: a cartridge for each quiz with one assessment, and one with the bank as a question bank.

The items are in the cartridge's profile of QTI 1.2.1, the form that many LMSs have read the longest. What the profile
cannot ask is asked otherwise or left out, and the portability report says what.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from bank.model import ChooseInLine, ChooseSeveral, FindMistake, PutInOrder, Quiz
from bank.store import Source
from exporters import _cc_asked
from exporters._cartridge import Progress, write_cartridges
from exporters._cc_back import ReadItem, read_cartridge
from exporters._cc_files import MOST_ATTEMPTS
from exporters._portability import (
    CHANGED, DEPENDS, FEW_REMEDIES, NOT_CARRIED, QuizRemark, Remark, any_item, asks, asks_a_part, gives_feedback,
    has_codes, has_expression, has_parts, has_sections, is_quiz, is_typed, speaks_numbers, types_besides,
)
from exporters._worker import Readable

NAME = "cc13"
TITLE = "Common Cartridge 1.3 (one a quiz, and a question bank)"

REMARKS = (
    Remark(
        "order-asked-as-a-choice", CHANGED,
        "Putting in order is not in this profile. The pupil chooses one of several orders: the right one, or one that "
        "a known mistake leads to.", asks(PutInOrder),
    ),
    Remark(
        "step-asked-as-a-choice", CHANGED,
        "Marking a step in the text is not in this profile. The working is shown, and the pupil chooses one of its "
        "steps from a list.", asks(FindMistake),
    ),
    Remark(
        "answer-besides-the-step-not-asked", CHANGED,
        "Only the wrong step is asked: in this profile a question has one answer, so the right answer of the "
        "calculation is not typed as well.", types_besides,
    ),
    Remark(
        "gap-asked-as-a-choice", CHANGED,
        "Choosing in the line is not in this profile. The line is shown with a question mark in its gap, and the pupil "
        "chooses the sign from a list.", asks(ChooseInLine),
    ),
    Remark(
        "all-marks-or-none", CHANGED,
        "This profile knows no marks for a part of the answer: it earns all its marks or none.", has_parts,
    ),
    Remark(
        "text-for-mathematics", CHANGED,
        "This profile has no MathML, so expressions are text, such as 3.4 + 2.56.", has_expression,
    ),
    Remark(
        "no-spoken-forms", NOT_CARRIED,
        "How the numbers are to be read aloud (“four point seven zero”) can only be said in QTI 3.0. Here a screen "
        "reader reads them in its own way.", speaks_numbers,
    ),
    Remark(
        "unit-in-words", CHANGED,
        "The unit does not stand beside the field; a sentence before it says in which unit the answer is.",
        lambda item: is_typed(item) and item.family.unit is not None,
    ),
    FEW_REMEDIES,
    Remark(
        "no-curriculum-code", NOT_CARRIED,
        "A question has no place for curriculum codes. The codes of all its questions stand in the cartridge’s "
        "manifest.", has_codes,
    ),
    Remark(
        "no-predicted-difficulty", NOT_CARRIED,
        "A question has no place for its predicted difficulty; it stands in the bank’s review page and tables.",
        any_item,
    ),
    Remark(
        "sets-of-options", DEPENDS,
        "The question is marked right where exactly the right options are chosen, by a rule that names all options. An "
        "LMS that gives marks of its own to each option would mark it otherwise. Try it first.", asks(ChooseSeveral),
    ),
)
QUIZ_REMARKS = (
    QuizRemark("one-section", CHANGED, "An assessment has one section here: the sections’ titles are left out, the "
               "questions keep their order.", has_sections),
    QuizRemark("calculator-in-words", DEPENDS, "Whether a calculator is allowed is said to the pupil in a sentence; "
               "the package cannot switch one on or off.", is_quiz),
    QuizRemark("html-in-texts", DEPENDS, "Columns of a written method are HTML tables inside a text. An LMS that "
               "allows little HTML may show them less neatly.", gives_feedback),
    QuizRemark("number-of-attempts", DEPENDS, "Attempts, time limit and when feedback is shown stand in the package as "
               "wishes; in many LMSs the teacher’s settings overrule them.", is_quiz),
    QuizRemark("asks-all-questions", NOT_CARRIED, "An assessment cannot draw questions: every pupil is asked all of "
               "them. Draw them in the LMS, where it can.", asks_a_part),
    QuizRemark("one-order-for-all", NOT_CARRIED, "An assessment cannot mix its questions: every pupil meets them in one "
               "order. Mix them in the LMS, where it can.", lambda quiz: quiz is not None and quiz.shuffled),
    QuizRemark("five-attempts-at-most", CHANGED, "More than five attempts cannot be said here: five are allowed.",
               lambda quiz: quiz is not None and quiz.most_attempts > MOST_ATTEMPTS),
    QuizRemark("one-bank-a-cartridge", DEPENDS, "The whole bank is one question bank in a cartridge of its own.",
               lambda quiz: quiz is None),
)  # fmt: skip
refusal = _cc_asked.refusal
as_asked = _cc_asked.as_asked


def write(
    source: Source, bank: Readable, quizzes: Sequence[Quiz], folder: Path, *, whole_bank: bool, jobs: int,
    progress: Progress,
) -> list[Path]:
    """Write ``cc13/QUIZ.imscc`` under *folder* for each quiz, and ``cc13/bank.imscc`` where *whole_bank*.

    *source* is the bank's file, which *jobs* processes open for themselves; with one job *bank* is used and no
    process is started. A cartridge without any item that this target can carry is not written.

    Raises:
        ExportFault: a file would have been wrong; the older files stay as they were.
        BadInput: a file cannot be written; the older files stay as they were.
    """
    return write_cartridges(source, bank, quizzes, folder, whole_bank=whole_bank, jobs=jobs, progress=progress)


def read_back(path: Path) -> Iterator[ReadItem]:
    """Give what the items of the cartridge at *path* say.

    Raises:
        ExportFault: the cartridge is not one that this exporter writes.
    """
    return read_cartridge(path)
