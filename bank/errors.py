"""Problems in what people hand in: where, what is wrong, what to write instead.

Only `BadInput` is an input error (exit status 2). Any other exception is a fault of the tool.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple


_WIDTH = 80
"""Characters of a long line that are shown on either side of a place."""


_LONGEST_NAME = 300
"""Characters of a file's name that are shown."""
_LISTED = 20
"""Known words that a remedy lists."""


class Place(NamedTuple):
    """A place in a file a person wrote; line and column count from 1, 0 means "the file as a whole"."""

    file: str
    line: int = 0
    column: int = 0

    def __str__(self) -> str:
        file = self.file
        if len(file) > _LONGEST_NAME:
            file = f"{file[: _LONGEST_NAME // 2]}...{file[-_LONGEST_NAME // 2 :]}"
        if not self.line:
            return file
        return f"{file}:{self.line}:{self.column}"


class Problem(NamedTuple):
    """One thing that is wrong: a stable code for tests, a place, a field, and words for the person."""

    code: str
    place: Place
    field: str
    wrong: str
    remedy: str = ""
    source_line: str = ""

    def __str__(self) -> str:
        field = f"{self.field}: " if self.field else ""
        remedy = f"; {self.remedy}" if self.remedy else ""
        text = f"{self.place}: {field}{self.wrong}{remedy}"
        if self.source_line and self.place.column:
            start = max(0, self.place.column - _WIDTH) if len(self.source_line) > 2 * _WIDTH else 0
            line = self.source_line[start : start + 2 * _WIDTH]
            text += f"\n    {line}\n    {' ' * (self.place.column - 1 - start)}^"
        return text


class BadInput(Exception):
    """Input that its author must mend; carries every problem found, in order of place."""

    def __init__(self, problems: Problem | Iterable[Problem]) -> None:
        found = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.problems: tuple[Problem, ...] = tuple(sorted(found, key=lambda problem: problem.place))
        super().__init__("\n".join(str(problem) for problem in self.problems))

    def __reduce__(self) -> tuple[type[BadInput], tuple[tuple[Problem, ...]]]:
        """Return how to make the error anew in another process, which hands errors over by pickling."""
        return BadInput, (self.problems,)


class WorkerLost(Exception):
    """A process that did a part of the work is gone before it was done: killed, or out of memory."""

    def __init__(self, process: int, status: int | None) -> None:
        self.process, self.status = process, status
        """Its number; its exit status, below 0 the signal that ended it, None where that is not known."""
        super().__init__(process, status)

    def __str__(self) -> str:
        how = "ended"
        if self.status is not None:
            how = f"was ended by signal {-self.status}" if self.status < 0 else f"ended with status {self.status}"
        out_of_memory = ", as happens where memory runs out" if self.status == -9 else ""
        return f"process {self.process}, which did a part of the work, {how}{out_of_memory}"


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """Return a remedy naming the nearest known word, or the first of the list when none is near."""
    import difflib

    words = sorted(known)
    if not words:
        return "there is none to name here"
    near = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]!r}?"
    more = f" ... ({len(words)} in all)" if len(words) > _LISTED else ""
    return "write one of: " + ", ".join(words[:_LISTED]) + more
