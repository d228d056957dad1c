"""Answers gathered row by row: each is checked against the bank; what does not count is listed with its reason.

The rules, which reports name:

- A pupil's sittings at a quiz are told apart by attempt numbers (tables) or dates (result files); the first sitting
  counts unless the last or all are asked for. Within a sitting an item may have several tries: the first counts, or
  the last where that is asked for.
- An empty response is a gap. Gaps to the end of the quiz are not reached, but for the first of them, which counts as
  omitted. What a file itself calls omitted, not reached or not given is taken at its word
  (`bank.audit.counting.gathering.tell_blanks_apart`).
- An item of the quiz for which a sitting has no row at all is not given, unless *absent* rows are said to be gaps.
- A refused answer is unknown, but it was given (`bank.audit.records.NOT_GIVEN` says why): its sitting and its try are
  still the first, and no later answer takes their place.
- The credit is the bank's. A score in the file is only compared with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from bank.audit.counting.gathering import tell_blanks_apart
from bank.audit.counting.keys import BLANK
from bank.audit.harmless import told as quoted
from bank.audit.marking import FULL
from bank.audit.reading._catalogue import Catalogue
from bank.audit.reading._mangled import ZERO, lost_a_zero, unwrapped
from bank.audit.records import NOT_GIVEN, NOT_REACHED, OMITTED, Answers, Form, FormAnswers

ATTEMPTS = ("first", "last", "all")
MOST_LISTED = 10_000
"""Rows that do not count which are listed; the rest are counted."""
MOST_RESPONSES = 30_000
"""Distinct responses to one item."""
_TWO_GROUPS = -1
"""Stands for the group of a pupil whom rows put into two: no group."""
_DISPUTED = -5
"""Stands for answers of which nobody knows which is the one; in the end nothing is given."""
_REFUSED = -6
"""Stands for an answer that was refused; in the end nothing is given."""
STATUSES = {
    "": 0, "answered": 0, "attempted": 0, "final": 0, "complete": 0, "completed": 0, "graded": 0, "correct": 0,
    "incorrect": 0, "finished": 0, "submitted": 0, "in progress": 0, "marked": 0, "scored": 0, "right": 0, "wrong": 0,
    "omitted": OMITTED, "omit": OMITTED, "skipped": OMITTED, "presented": BLANK, "blank": BLANK,
    "no answer": BLANK, "unanswered": BLANK, "not answered": BLANK, "not reached": NOT_REACHED,
    "notreached": NOT_REACHED, "notpresented": NOT_REACHED, "not presented": NOT_REACHED, "not given": NOT_GIVEN,
    "notgiven": NOT_GIVEN, "not administered": NOT_GIVEN,
}
"""What words in a status, or in place of a response, mean."""
GAP_WORDS = {OMITTED: "omitted", NOT_REACHED: "not reached", NOT_GIVEN: "not given"}
GAPS = {word: code for word, code in STATUSES.items() if code}
_TRY_DIGITS = 6
_TOLERANCE = 6
"""Thousandths by which a score may differ from the credit: files round."""


class Entry(NamedTuple):
    """One answer as a file tells it, all as text; empty where nothing is told."""

    item: str
    response: str = ""
    version: str = ""
    status: str = ""
    score: str = ""
    maximum: str = ""
    milliseconds: str = ""
    tries: str = ""
    """What the tries at an item within a sitting are ordered by."""


class Refused(Exception):
    """A row that does not count: the field that is at fault, and why."""

    def __init__(self, field_name: str, why: str) -> None:
        super().__init__(why)
        self.field = field_name
        self.why = why


class _Cell(NamedTuple):
    order: tuple[int, str]
    code: int
    milliseconds: int


@dataclass
class _Sat:
    told: str
    """The group that the last row named."""
    group: int = 0
    """That of the rows that count."""
    cells: dict[int, list[_Cell]] = field(default_factory=dict)


class Gatherer:
    """Collects answers to the quizzes of one bank; `finish` gives the records."""

    def __init__(self, catalogue: Catalogue, *, attempts: str = "first", absent: str = "not given") -> None:
        self.catalogue = catalogue
        self.attempts, self.absent = attempts, absent
        self.rejected: list[tuple[str, int, str]] = []
        self.unlisted = self.refused_rows = 0
        self.refused: Counter[tuple[str, str]] = Counter()
        self.remarks: list[str] = []
        self.simulated: set[bool] = set()
        self.pupils: dict[str, int] = {}
        self.groups: dict[str, int] = {"": 0}
        self._codes: dict[tuple[str, int], dict[str, int]] = {}
        self._credits: dict[tuple[str, int], list[int]] = {}
        self._sat: dict[tuple[str, int], dict[tuple[int, str], _Sat]] = {}
        self._doubles = 0
        self._two_groups = 0
        self._later = 0
        self._further = 0
        self._contradictions: dict[tuple[str, str], list[object]] = {}

    def pupil(self, digest: str) -> int:
        """Return the number of the pupil with this *digest*."""
        return self.pupils.setdefault(digest, len(self.pupils))

    def reject(self, file: str, row: int, reason: str, answers: int = 1) -> None:
        """Keep that *row* of *file*, which holds so many *answers*, does not count."""
        self.refused_rows += answers
        if len(self.rejected) < MOST_LISTED:
            self.rejected.append((file, row, reason))
        else:
            self.unlisted += 1

    def sit(self, pupil: int, quiz: str, order: tuple[int, str], group: str) -> _Sat:
        """Return the sitting of *pupil* at *quiz* with this *order*, begun where it is new.

        Raises:
            Refused: the bank has no such quiz.
        """
        if quiz not in self.catalogue.quizzes:
            raise Refused("quiz", self.catalogue.why_no_quiz(quiz))
        sittings = self._sat.setdefault((quiz, pupil), {})
        sat = sittings.get(order)
        if sat is None:
            sat = sittings[order] = _Sat(group)
        sat.told = group
        return sat

    def _name_group(self, sat: _Sat) -> None:
        """Take the group that a row of *sat* names, now that the row counts: none, where rows name two."""
        if not sat.told or self.groups.get(sat.told) == sat.group:
            return
        if sat.group == 0:
            sat.group = self.groups.setdefault(sat.told, len(self.groups))
        elif sat.group != _TWO_GROUPS:
            sat.group = _TWO_GROUPS
            self._two_groups += 1

    def add(self, quiz: str, sat: _Sat, entry: Entry, file: str, row: int) -> None:
        """Keep the answer *entry* of the sitting *sat* at *quiz*.

        Raises:
            Refused: it does not count.
        """
        place = self.catalogue.place(quiz, entry.item)
        if place is None:
            raise Refused("item", self.catalogue.why_no_item(entry.item, quiz))
        marker = self.catalogue.markers(quiz)[place]
        if entry.item != marker.item.identifier:
            entry = entry._replace(item=marker.item.identifier)
        if entry.version:
            try:
                self._check_version(entry.version, marker.item.family.version)
            except Refused:
                self.refused[quiz, entry.item] += 1
                raise
        cells = sat.cells.setdefault(place, [])
        order = (0, entry.tries)
        try:
            code = self._code(quiz, place, entry)
            if entry.score and code >= 0:
                self._compare(quiz, place, entry, code, file, row)
            elif entry.score:
                _number(entry.score, "score")
        except Refused:
            self.refused[quiz, entry.item] += 1
            if all(known.order != order for known in cells):
                cells.append(_Cell(order, _REFUSED, -1))
            raise
        self._name_group(sat)
        self._keep(cells, _Cell(order, code, _milliseconds(entry.milliseconds)))

    def _keep(self, cells: list[_Cell], cell: _Cell) -> None:
        """Add *cell* to those of its pupil and item.

        Raises:
            Refused: there is another answer at this try.
        """
        for number, known in enumerate(cells):
            if known.order == cell.order:
                if known.code == _REFUSED:
                    cells[number] = cell
                    return
                if known.code == cell.code:
                    self._doubles += 1
                    return
                if known.code != _DISPUTED:
                    cells[number] = known._replace(code=_DISPUTED)
                raise Refused("response", "another row tells another answer of this pupil to this item, and no attempt"
                                          " or date tells them apart; none of them counts")
        cells.append(cell)

    def _check_version(self, told: str, version: int) -> None:
        if not told.isascii() or not told.isdigit():
            raise Refused("version", f"{quoted(told)} is no version; a version is a whole number")
        if int(told) != version:
            raise Refused("version", f"the answer is to version {int(told)} of the item, the bank has version"
                                     f" {version}; statistics belong to a version")

    def _code(self, quiz: str, place: int, entry: Entry) -> int:
        status = STATUSES.get(entry.status.strip().lower().replace("_", " ")) if entry.status else 0
        if status is None:
            raise Refused("status", f"{quoted(entry.status)} is no status; known are omitted, not reached, not given,"
                                    " answered")
        response = unwrapped(entry.response)
        text = response.strip()
        if not text:
            return status or BLANK
        gap = GAPS.get(text.lower().replace("_", " "))
        if gap is not None:
            return gap
        if status in (NOT_REACHED, NOT_GIVEN, OMITTED):
            raise Refused("status", f"says {GAP_WORDS[status]}, yet there is a response")
        try:
            marked = self.catalogue.markers(quiz)[place].mark(response)
        except ValueError as error:
            raise Refused("response", str(error)) from error
        return self.code_of(quiz, place, marked.response, marked.credit)

    def code_of(self, quiz: str, place: int, response: str, credit: int) -> int:
        """Return the number of a canonical *response*, which is worth *credit*, to the item at *place* of *quiz*.

        Raises:
            Refused: the item has more distinct responses than can be told apart.
        """
        known = self._codes.setdefault((quiz, place), {})
        code = known.get(response)
        if code is None:
            if len(known) >= MOST_RESPONSES:
                raise Refused("response", f"the item has more than {MOST_RESPONSES} distinct responses")
            code = known[response] = len(known)
            self._credits.setdefault((quiz, place), []).append(credit)
        return code

    def _compare(self, quiz: str, place: int, entry: Entry, code: int, file: str, row: int) -> None:
        credit = self._credits[quiz, place][code]
        marker = self.catalogue.markers(quiz)[place]
        if credit == 0 and lost_a_zero(marker.item, marker.locale, entry.response) \
                and contradicts(0, entry.score, entry.maximum):
            raise Refused("response", ZERO)
        if contradicts(credit, entry.score, entry.maximum):
            item = entry.item
            said = f"in row {row} of {file}"
            self.contradiction(quiz, item, 1, said)

    def contradiction(self, quiz: str, item: str, count: int, first: str) -> None:
        """Keep that *count* scores of *item* contradict the key; *first* says where the first one stands."""
        known = self._contradictions.setdefault((quiz, item), [0, first])
        known[0] = int(str(known[0])) + count

    def finish(self, note: Callable[[Gatherer], None] | None = None) -> Answers:
        """Return all that was gathered."""
        if note is not None:
            note(self)
        absent = 0
        forms = []
        by_quiz: dict[str, list[tuple[int, _Sat]]] = {quiz: [] for quiz in self.catalogue.quizzes}
        for (quiz, pupil), sittings in self._sat.items():
            by_quiz[quiz] += [(pupil, sat) for sat in self._chosen(sittings)]
        for quiz, chosen in by_quiz.items():
            form, missing = self._form(quiz, chosen) if chosen else (None, 0)
            absent += missing
            if form is not None:
                forms.append(form)
        forms, pupils = only_used(forms, tuple(self.pupils))
        return Answers(
            forms=tuple(forms), pupils=pupils, groups=tuple(self.groups),
            rows=sum(int((form.codes != NOT_GIVEN).sum()) for form in forms),
            rejected=tuple(self.rejected), refused_rows=self.refused_rows,
            refused=tuple((quiz, item, count) for (quiz, item), count in sorted(self.refused.items())),
            remarks=tuple(self._remarks(absent)), simulated=True in self.simulated,
        )

    def _chosen(self, sittings: dict[tuple[int, str], _Sat]) -> list[_Sat]:
        held = sorted((order, sat) for order, sat in sittings.items() if sat.cells)
        if not held:
            return []
        if self.attempts == "all":
            return [sat for _, sat in held]
        self._further += len(held) - 1
        if self.attempts == "first" and held[0][0][0] > 1:
            self._later += sum([len(cells) > 0 for cells in held[0][1].cells.values()])
        return [held[-1 if self.attempts == "last" else 0][1]]

    def _form(self, quiz: str, chosen: list[tuple[int, _Sat]]) -> tuple[FormAnswers | None, int]:
        """Return the answers of the sittings that count, and how many have no row; None where nothing was given."""
        items = self.catalogue.quizzes[quiz].items
        codes = np.full((len(chosen), len(items)), NOT_GIVEN, dtype=np.int16)
        times = np.full((len(chosen), len(items)), -1, dtype=np.int32)
        present = np.zeros((len(chosen), len(items)), dtype=bool)
        last = -1 if self.attempts == "last" else 0
        for row, (_, sat) in enumerate(chosen):
            for place, cells in sat.cells.items():
                if len(cells) > 1:
                    cells.sort(key=lambda cell: cell.order)
                    self._further += len(cells) - 1
                cell = cells[last]
                self._later += self.attempts == "first" and _number_of_try(cell.order[1]) > 1
                codes[row, place], times[row, place], present[row, place] = cell.code, cell.milliseconds, True
        if self.absent == "blank":
            codes[~present] = BLANK
        codes[(codes == _DISPUTED) | (codes == _REFUSED)] = NOT_GIVEN
        taken = (codes != NOT_GIVEN).any(axis=1)
        if not taken.any():
            return None, 0
        codes, times, present = codes[taken], times[taken], present[taken]
        chosen = [one for one, counts in zip(chosen, taken.tolist(), strict=True) if counts]
        tell_blanks_apart(codes)
        responses, credits = self._in_order(quiz, codes)
        missing = 0 if self.absent == "blank" else int((~present).sum())
        return FormAnswers(
            form=Form(
                quiz=quiz, items=items, responses=responses, credits=credits,
                versions=tuple(marker.item.family.version for marker in self.catalogue.markers(quiz)),
            ),
            pupils=np.array([pupil for pupil, _ in chosen], dtype=np.int32), codes=codes,
            groups=np.array([max(0, sat.group) for _, sat in chosen], dtype=np.int16),
            milliseconds=times if (times >= 0).any() else None,
        ), missing

    def _in_order(
        self, quiz: str, codes: np.ndarray
    ) -> tuple[tuple[tuple[str, ...], ...], tuple[tuple[int, ...], ...]]:
        """Number responses anew, those that count only, in the order of their spelling; return them and credits."""
        responses, credits = [], []
        for place in range(codes.shape[1]):
            known = self._codes.get((quiz, place), {})
            worth = self._credits.get((quiz, place), [])
            column = codes[:, place]
            used = np.bincount(column[column >= 0], minlength=len(known))
            names = sorted(name for name, code in known.items() if used[code])
            renumber = np.zeros(len(known) + 1, dtype=np.int16)
            for number, name in enumerate(names):
                renumber[known[name]] = number
            column[column >= 0] = renumber[column[column >= 0]]
            responses.append(tuple(names))
            credits.append(tuple([worth[known[name]] for name in names]))
        return tuple(responses), tuple(credits)

    def _remarks(self, absent: int) -> list[str]:
        said = list(self.remarks)
        if self.simulated == {True, False}:
            said.append("some answers are simulated and others are not: everything is marked as simulated")
        if self.unlisted:
            said.append(f"{self.unlisted} more rows that do not count are not listed")
        if self._doubles:
            said.append(f"{self._doubles} answers stand more than once and count once")
        if self._two_groups:
            said.append(f"{self._two_groups} pupils are in two groups at one quiz: they count in none")
        if self._further:
            said.append(f"{self._further} further attempts do not count: the {self.attempts} one does")
        if self._later:
            said.append(f"{self._later} answers are of a later attempt: the first one is not in the files")
        if absent:
            said.append(f"{absent} answers have no row: taken as not given")
        if self._contradictions:
            total = sum(int(str(count)) for count, _ in self._contradictions.values())
            said.append(f"{total} scores contradict the bank's key; the bank's key decides")
        for (quiz, item), (count, first) in sorted(self._contradictions.items()):
            said.append(f"{quiz}, {item}: {count} {'score contradicts' if count == 1 else 'scores contradict'} the key,"
                        f" first {first}")
        return said


def plain_group(text: str) -> str:
    """Return the name of a group with single blanks.

    Raises:
        Refused: it holds characters that cannot be seen; they would steer terminals and break pages.
    """
    name = " ".join(text.split())
    if not name.isprintable():
        raise Refused("group", "holds a character that cannot be seen; delete it")
    return name


def _number_of_try(order: str) -> int:
    """Return the number of a try where tries are numbered, else 0."""
    return int(order) if order.isdigit() and len(order) == _TRY_DIGITS else 0


def only_used(
    forms: list[FormAnswers], pupils: tuple[str, ...]
) -> tuple[list[FormAnswers], tuple[str, ...]]:
    """Return *forms* and *pupils* without those pupils of whom no row counted."""
    used = np.zeros(len(pupils), dtype=bool)
    for form in forms:
        used[form.pupils] = True
    if used.all():
        return forms, pupils
    renumber = (np.cumsum(used) - 1).astype(np.int32)
    kept = tuple([pupil for pupil, counts in zip(pupils, used.tolist()) if counts])
    return [replace(form, pupils=renumber[form.pupils]) for form in forms], kept


@lru_cache(4096)
def contradicts(credit: int, score: str, maximum: str = "") -> bool:
    """Whether *score* (out of *maximum* where told) says otherwise than the bank's *credit*.

    Without a maximum a score up to 1 is taken as a share of the mark; of a larger one only whether it is zero counts.

    Raises:
        Refused: it is no number.
    """
    number = _number(score, "score")
    most = _number(maximum, "maximum") if maximum else Fraction(1)
    if most <= 0:
        raise Refused("maximum", f"{quoted(maximum)} is no number of marks")
    if number > most and not maximum:
        return credit == 0
    return abs(number * FULL - most * credit) > most * _TOLERANCE


def _number(text: str, field_name: str) -> Fraction:
    plain = text.strip().replace(",", ".").removesuffix("%").strip()
    digits = plain.lstrip("+-").replace(".", "", 1)
    if not digits.isascii() or not digits.isdigit() or len(plain) > 20:
        raise Refused(field_name, f"{quoted(text)} is no number")
    number = Fraction(plain)
    return number / 100 if text.strip().endswith("%") else number


def _milliseconds(text: str) -> int:
    """Return whole milliseconds; -1 where nothing usable is told."""
    if not text:
        return -1
    return min(int(text), 2**31 - 1) if text.isascii() and text.isdigit() and len(text) < 12 else -1
