"""Finding the place of an item in the quizzes by what a row says of it."""

from __future__ import annotations

from collections.abc import Sequence

from bank.audit.counting.keys import QuizKey
from bank.audit.harmless import told
from bank.identity import answered, why_not_marked


class Resolver:
    """Knows the quizzes and their items by name."""

    def __init__(self, keys: Sequence[QuizKey]) -> None:
        self._forms = {key.quiz: number for number, key in enumerate(keys)}
        self._places = [{item: place for place, item in enumerate(key.items)} for key in keys]
        self._versions = [key.versions for key in keys]
        self._only = len(keys) == 1

    def form(self, quiz: str) -> int:
        """Return the number of a quiz by name; an empty name means the only one.

        Raises:
            ValueError: there is no such quiz.
        """
        if not quiz and self._only:
            return 0
        found = self._forms.get(quiz)
        if found is None:
            raise ValueError(f"no quiz is named {told(quiz)}" if quiz else "the row names no quiz")
        return found

    def places(self, item: str) -> list[int]:
        """Return the item's place in each quiz, -1 where a quiz does not have it."""
        item = answered(item)
        return [places.get(item, -1) if item else -1 for places in self._places]

    def place(self, quiz: str, item: str, version: str = "") -> tuple[int, int]:
        """Return the number of the quiz and the item's place in it.

        Raises:
            ValueError: there is no such quiz or item, or the item is now of another version.
        """
        form = self.form(quiz)
        if not item:
            raise ValueError("the row names no pupil or no item")
        place = self._places[form].get(answered(item))
        if place is None:
            own, why = why_not_marked(item)
            if why and own in self._places[form]:
                raise ValueError(f"item {told(item)} cannot be marked by the bank's item: {why}")
            raise ValueError(f"the quiz has no item {told(item)}")
        if version and version != str(self._versions[form][place]):
            raise ValueError(f"version {told(version)} of {item} was answered, the quiz has {self._versions[form][place]}")
        return form, place
