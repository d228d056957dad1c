"""The audit after use: what the answers say of items, quizzes, predictions and mistakes.

Statistics belong to an item version: answers to an older version than the bank's stand apart and are not compared with
the bank's prediction. Predicted and observed figures never share a name.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bank.audit.before import BeforeUse, ItemFacts
from bank.audit.calibration import Calibration, Coverage, ObservedItem, calibrate, coverage, observed_bands, why_not
from bank.audit.class_mistakes import ClassMistake, Explained, explain_answers
from bank.audit.counting.columns import count
from bank.audit.explained import explainer
from bank.audit.pictures.predicted_observed import Compared
from bank.audit.records import Answers, FormAnswers
from bank.audit.statistics.classical import FormStatistics, ItemStatistics, form_statistics
from bank.audit.suppression import LEAST, total_is_safe, withheld_groups
from bank.store import Bank


@dataclass(frozen=True, kw_only=True, slots=True)
class ItemResult:
    """What the answers to an item in one quiz say."""

    quiz: str
    item: str
    version: int
    facts: ItemFacts | None
    """What the bank holds of it; None where the bank has another version."""
    statistics: ItemStatistics
    predicted: Compared | None
    """Its band, for so many pupils, beside what was observed; None where there is no prediction of this version, or
    nobody met it."""
    observed_logit: float | None
    """Rasch difficulty, where it may be told."""
    observed_error: float | None
    observed_why: str
    """Why there is no Rasch difficulty."""
    flags: tuple[str, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class FormResult:
    """What the answers to one form of a quiz say."""

    quiz: str
    title: str
    use: str
    statistics: FormStatistics
    items: tuple[ItemResult, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class AfterUse:
    """Everything the report after use tells."""

    before: BeforeUse
    pupils: int
    rows: int
    simulated: bool
    groups: tuple[tuple[str, int], ...]
    """(name, pupils) of the groups that may be shown."""
    withheld: int
    """Groups that may not, being small or deducible."""
    least: int
    safe: bool
    """Whether the figures of everyone may be shown."""
    forms: tuple[FormResult, ...]
    coverage: Coverage | None
    calibration: Calibration | None
    not_calibrated: str
    """Why there is no calibration."""
    explained: Explained
    classes: tuple[ClassMistake, ...]
    """Of `Explained.classes` those that may be shown."""
    rejected: tuple[tuple[str, int, str], ...]
    remarks: tuple[str, ...]

    @property
    def items(self) -> tuple[ItemResult, ...]:
        """Items of all forms in order."""
        return tuple(item for form in self.forms for item in form.items)

    @property
    def unseen(self) -> int:
        """Items of the bank that no answers were handed in for."""
        seen = {item.item for item in self.items}
        return sum(facts.identifier not in seen for facts in self.before.items)


def audit_after(before: BeforeUse, bank: Bank, answers: Answers, *, least: int = LEAST) -> AfterUse:
    """Return the audit after use of *answers* to quizzes of *bank*; groups of fewer than *least* are withheld."""
    wanted = list(dict.fromkeys(item for form in answers.forms for item in form.form.items))
    known = {facts.identifier: place for place, facts in enumerate(before.items)}
    items = {item.identifier: item for item in bank.items([name for name in wanted if name in known], solutions=False)}
    explained = explain_answers(answers, {name: explainer(item, bank.info.locale) for name, item in items.items()})
    statistics = [form_statistics(count(form, answers.groups)) for form in answers.forms]
    comparable, judged = _judged(before, statistics, known)
    factor = judged.factor if judged else 1.0
    bands = _bands(before, comparable, factor)
    forms = tuple(
        _form_result(before, form, found, known, bands, bank)
        for form, found in zip(answers.forms, statistics, strict=True)
    )
    observed, features = _observed(before, forms, known)
    sizes = _group_sizes(answers)
    hidden = withheld_groups(sizes, least) if len(answers.groups) > 1 else frozenset()
    return AfterUse(
        before=before, pupils=len(answers.pupils), rows=answers.rows, simulated=answers.simulated,
        groups=tuple((name, size) for name, size in sizes.items() if size and name not in hidden),
        withheld=len(hidden), least=least, safe=total_is_safe(sizes, least), forms=forms, coverage=judged,
        calibration=None if why_not(observed) else calibrate(observed, features, before.weights),
        not_calibrated=why_not(observed), explained=explained,
        classes=tuple(row for row in explained.classes if row.group not in hidden or not row.group),
        rejected=answers.rejected, remarks=answers.remarks,
    )


def _group_sizes(answers: Answers) -> dict[str, int]:
    group = np.zeros(len(answers.pupils), dtype=np.int64)
    for form in answers.forms:
        group[form.pupils] = form.groups
    sizes = np.bincount(group, minlength=len(answers.groups))
    return {name: int(size) for name, size in zip(answers.groups, sizes, strict=True)}


_Key = tuple[str, str, int]
"""Quiz, item, version."""


def _judged(
    before: BeforeUse, statistics: Sequence[FormStatistics], known: Mapping[str, int]
) -> tuple[dict[_Key, tuple[int, float, int]], Coverage | None]:
    """Return (place among the predictions, facility, n) of every item that has both, and how well the bands cover."""
    found: dict[_Key, tuple[int, float, int]] = {}
    for form in statistics:
        for one in form.items:
            place = known.get(one.item)
            if place is None or before.items[place].version != one.version or one.facility.value is None:
                continue
            found[form.quiz, one.item, one.version] = (place, one.facility.value, one.n)
    places, shares, n = zip(*found.values(), strict=True) if found else ((), (), ())
    return found, coverage(before.predictions, places, np.array(shares, dtype=float), np.array(n, dtype=float))


def _bands(
    before: BeforeUse, comparable: Mapping[_Key, tuple[int, float, int]], factor: float
) -> dict[_Key, tuple[float, float, float]]:
    if not comparable:
        return {}
    places = [place for place, _, _ in comparable.values()]
    n = np.array([count for _, _, count in comparable.values()], dtype=float)
    low, high = observed_bands(before.predictions, places, n, factor)
    middle = before.predictions.middle_share[places]
    return dict(zip(comparable, zip(low.tolist(), high.tolist(), middle.tolist()), strict=True))


def _form_result(
    before: BeforeUse, form: FormAnswers, found: FormStatistics, known: Mapping[str, int],
    bands: Mapping[_Key, tuple[float, float, float]], bank: Bank,
) -> FormResult:
    quiz = next((one for one in bank.quizzes if one.identifier == found.quiz), None)
    rows = []
    for one in found.items:
        place = known.get(one.item)
        facts = before.items[place] if place is not None and before.items[place].version == one.version else None
        band = bands.get((found.quiz, one.item, one.version))
        compared = None
        if band and one.facility.value is not None:
            compared = Compared(one.item, band[0], band[1], band[2], one.facility.value, one.n)
        rows.append(ItemResult(
            quiz=found.quiz, item=one.item, version=one.version, facts=facts, statistics=one, predicted=compared,
            observed_logit=None, observed_error=None, observed_why="", flags=(),
        ))
    return FormResult(
        quiz=found.quiz, title=quiz.title if quiz else found.quiz, use=quiz.use if quiz else "", statistics=found,
        items=tuple(rows),
    )


def _observed(
    before: BeforeUse, forms: Sequence[FormResult], known: Mapping[str, int]
) -> tuple[list[ObservedItem], np.ndarray]:
    """Return the items with a Rasch difficulty and their features."""
    observed, places = [], []
    for form in forms:
        for one in form.items:
            if one.facts is not None and one.observed_logit is not None and one.observed_error is not None:
                observed.append(ObservedItem(
                    one.item, one.facts.template, form.quiz, one.observed_logit, one.observed_error, 1.0, one.statistics.n,
                ))
                places.append(known[one.item])
    return observed, before.predictions.features[places]
