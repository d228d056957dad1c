"""The bank's own keys as counting takes them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bank.audit.counting.keys import QuizKey
from bank.audit.marking import Marker
from bank.audit.reading._catalogue import Catalogue
from bank.store import Bank


def quiz_keys(bank: Bank, quizzes: Sequence[str] = ()) -> tuple[QuizKey, ...]:
    """Return the keys of the *quizzes* (none: all) of *bank*, in the bank's order, for `bank.audit.counting`.

    Responses are marked as `bank.audit.reading.read_results` marks them.
    """
    catalogue = Catalogue(bank)
    return tuple([key_of(catalogue, quiz) for quiz in catalogue.quizzes if not quizzes or quiz in quizzes])


def key_of(catalogue: Catalogue, quiz: str) -> QuizKey:
    """Return the key of one *quiz* of the *catalogue*."""
    markers = catalogue.markers(quiz)
    return QuizKey(
        quiz=quiz, items=catalogue.quizzes[quiz].items,
        versions=tuple([marker.item.family.version for marker in markers]), score=_score(markers),
    )


def _score(markers: Sequence[Marker]) -> Callable[[int, str], tuple[str, int]]:
    def score(place: int, text: str) -> tuple[str, int]:
        return markers[place].mark(text)

    return score
