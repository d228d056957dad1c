"""The audit after use: what the answers say of items, quizzes, predictions and mistakes.

Statistics belong to an item version: answers to an older version than the bank's stand apart and are not compared with
the bank's prediction. Predicted and observed figures never share a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from bank.audit.before import BeforeUse, ItemFacts
from bank.audit.calibration import Calibration, Coverage, ObservedItem, calibrate, coverage, observed_bands, why_not
from bank.audit.class_mistakes import ClassMistake, Explained, explain_answers
from bank.audit.counting.columns import count
from bank.audit.explained import explainer
from bank.audit.pictures._svg import between, percent
from bank.audit.pictures.predicted_observed import Compared
from bank.audit.records import Answers, FormAnswers
from bank.audit.statistics.classical import FormStatistics, ItemStatistics, form_statistics
from bank.audit.statistics.estimates import Estimate, none
from bank.audit.statistics.patterns import groups_of_scores, scores_of_answers
from bank.audit.statistics.rasch import Rasch, fit_rasch
from bank.audit.suppression import LEAST, total_is_safe, withheld_groups
from bank.store import Bank

FEWEST_FOR_R = 30
"""Answers under which correlations are not told. Our own choice."""
FEWEST_FOR_RASCH = 100
"""Pupils under which there is no Rasch model: a difficulty would be known to no better than half a logit (Linacre 1994,
Rasch Measurement Transactions 7:4, from memory)."""


class Flag(NamedTuple):
    """A reason for a person to look at an item; never a verdict."""

    identifier: str
    name: str
    """What it is called on the page."""
    why: str
    """The figures that raised it."""
    remedy: str
    """What to do."""
    alarm: bool = False
    """Whether it comes before all others: the key may be wrong."""


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
    rest_r: Estimate
    """As in *statistics*, withheld where answers are few."""
    upper_lower: Estimate
    observed: Estimate
    """Rasch difficulty on the scale where the form's pupils have mean 0."""
    observed_error: float | None
    """Its standard error."""
    flags: tuple[Flag, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class FormResult:
    """What the answers to one form of a quiz say."""

    quiz: str
    title: str
    use: str
    statistics: FormStatistics
    ability_sd: float
    """Standard deviation of the pupils' ability from the Rasch model, logits; 0 where there is none."""
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
    withheld_words: tuple[str, ...]
    """What the report does not tell, and why."""
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
    sizes = answers.group_sizes()
    hidden = withheld_groups(sizes, least) if len(answers.groups) > 1 else frozenset()
    return AfterUse(
        before=before, pupils=len(answers.pupils), rows=answers.rows, simulated=answers.simulated,
        groups=tuple((name, size) for name, size in sizes.items() if size and name not in hidden),
        withheld=len(hidden), least=least, safe=total_is_safe(sizes, least), forms=forms, coverage=judged,
        calibration=None if why_not(observed) else calibrate(observed, features, before.weights),
        not_calibrated=why_not(observed), explained=explained,
        classes=tuple(row for row in explained.classes if row.group not in hidden or not row.group),
        withheld_words=tuple(_withheld(forms, len(hidden), least)), rejected=answers.rejected, remarks=answers.remarks,
    )


def _withheld(forms: Sequence[FormResult], groups: int, least: int) -> Iterator[str]:
    few = [form.title for form in forms if form.statistics.persons < FEWEST_FOR_R]
    if few:
        yield f"correlations and discrimination of {', '.join(few)}: fewer than {FEWEST_FOR_R} pupils"
    some = [form.title for form in forms if form.statistics.persons < FEWEST_FOR_RASCH]
    if some:
        yield f"Rasch difficulties of {', '.join(some)}: fewer than {FEWEST_FOR_RASCH} pupils"
    if groups:
        yield f"{groups} groups of pupils: fewer than {least}, or to be worked out from the others"


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
    model = _rasch(form, found)
    difficulties = {(one.item, one.version): one for one in model.items} if model else {}
    rows = []
    for one in found.items:
        place = known.get(one.item)
        facts = before.items[place] if place is not None and before.items[place].version == one.version else None
        band = bands.get((found.quiz, one.item, one.version))
        compared = None
        if band and one.facility.value is not None:
            compared = Compared(one.item, band[0], band[1], band[2], one.facility.value, one.n)
        fitted = difficulties.get((one.item, one.version))
        observed = fitted.difficulty if fitted else none("rasch-b", one.n, _why_no_rasch(one, found, model))
        rows.append(ItemResult(
            quiz=found.quiz, item=one.item, version=one.version, facts=facts, statistics=one, predicted=compared,
            rest_r=_told(one.rest_r, one.n), upper_lower=_told(one.upper_lower, one.n), observed=observed,
            observed_error=fitted.se if fitted else None, flags=tuple(_flags(compared)),
        ))
    sigma = model.sigma.value if model and model.sigma.value else 0.0
    return FormResult(
        quiz=found.quiz, title=quiz.title if quiz else found.quiz, use=quiz.use if quiz else "", statistics=found,
        ability_sd=sigma, items=tuple(rows),
    )


def _told(found: Estimate, n: int) -> Estimate:
    if n >= FEWEST_FOR_R:
        return found
    return found.without(f"fewer than {FEWEST_FOR_R} answers")


def _rasch(form: FormAnswers, found: FormStatistics) -> Rasch | None:
    if found.persons < FEWEST_FOR_RASCH:
        return None
    return fit_rasch(groups_of_scores(scores_of_answers([form])))


def _why_no_rasch(one: ItemStatistics, found: FormStatistics, model: Rasch | None) -> str:
    if model is None:
        return f"fewer than {FEWEST_FOR_RASCH} pupils"
    return model.why or dict(model.left_out).get(one.item, "not in the model")


def _flags(compared: Compared | None) -> Iterator[Flag]:
    if compared is not None and not compared.is_inside:
        harder = compared.observed < compared.low
        yield Flag(
            "outside-predicted-band", "outside its band",
            f"{percent(compared.observed)} % right, predicted {between(compared.low, compared.high)} (one in five is"
            " expected outside)",
            f"look at what makes it {'harder' if harder else 'easier'} than its features say; leave it if nothing is"
            " odd",
        )


def _observed(
    before: BeforeUse, forms: Sequence[FormResult], known: Mapping[str, int]
) -> tuple[list[ObservedItem], np.ndarray]:
    """Return the items with a Rasch difficulty and their features."""
    observed, places = [], []
    for form in forms:
        for one in form.items:
            value, error = one.observed.value, one.observed_error
            if one.facts is not None and value is not None and error is not None:
                observed.append(ObservedItem(
                    one.item, one.facts.template, form.quiz, value, error, form.ability_sd, one.statistics.n,
                ))
                places.append(known[one.item])
    return observed, before.predictions.features[places]
