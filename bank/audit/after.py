"""The audit after use: what the answers say of items, quizzes, predictions and mistakes.

Statistics belong to an item version: answers to an older version than the bank's stand apart and are not compared with
the bank's prediction. Predicted and observed figures never share a name.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from bank.audit.before import BeforeUse, ItemFacts
from bank.audit.calibration import (
    Calibration, Coverage, ObservedItem, calibrate, coverage, observed_bands, surprises, why_not,
)
from bank.audit.class_mistakes import ClassMistake, Explained, explain
from bank.audit.counting.columns import count
from bank.audit.counting.outcome import Counted
from bank.audit.explained import explainers_of
from bank.audit.flags import Band, Context, Flag, family_flags, form_flags, key_tests
from bank.audit.models import FormModels, compared_groups, form_models, sibling_spreads
from bank.audit.pictures.predicted_observed import Compared
from bank.audit.records import NOT_GIVEN, Answers, Counts
from bank.audit.settings import Settings, load_settings
from bank.audit.statistics.aberrant import SetAside, set_aside
from bank.audit.statistics.classical import FormStatistics, ItemStatistics, form_statistics
from bank.audit.statistics.dif import Dif
from bank.audit.statistics.drift import Drifts, drifts
from bank.audit.statistics.estimates import Estimate, none
from bank.audit.statistics.families import FamilySpread
from bank.audit.statistics.keys import KeyTest
from bank.audit.statistics.withhold import shown, withheld
from bank.audit.suppression import total_is_safe, withheld_groups
from bank.audit.withholding import Left, Unread, of_those_left, shown_answers, shown_counts
from bank.model import Quiz
from bank.store import Bank


@dataclass(frozen=True, kw_only=True, slots=True)
class Material:
    """What an audit after use is made from: the counts of every form, and the answers where they are in memory."""

    counts: tuple[Counts, ...]
    answers: Answers | None
    """The same answers, forms in the same order; None where an engine counted them elsewhere."""
    pupils: int
    """Pupils in all; where only counts are there, those of the form that most pupils answered."""
    sizes: Mapping[str, int]
    """Pupils by group; where only counts are there, of the form in which the group is smallest."""
    rows: int
    simulated: bool = False
    rejected: tuple[tuple[str, int, str], ...] = ()
    refused_rows: int = 0
    """All that did not count, also those beyond the ones listed."""
    remarks: tuple[str, ...] = ()
    foreign: str = ""
    """As `bank.audit.records.Answers.foreign`."""
    set_aside: tuple[SetAside, ...] | None = None
    """Pupils by quiz whose answers say nothing of the items and are not in here; None where nobody has looked yet."""


def material_of(answers: Answers) -> Material:
    """Return what an audit is made from where the answers are in memory."""
    return Material(
        counts=tuple(count(form, answers.groups) for form in answers.forms), answers=answers,
        pupils=len(answers.pupils), sizes=answers.group_sizes(), rows=answers.rows, simulated=answers.simulated,
        rejected=answers.rejected, refused_rows=answers.refused_rows, remarks=answers.remarks,
        foreign=answers.foreign,
    )


def material_of_counts(counted: Counted, simulated: bool) -> Material:
    """Return what an audit is made from where only the tables of counts are there."""
    more = counted.rejected_rows - len(counted.rejected)
    remarks = [f"{more} more rows did not count"] if more > 0 else []
    if counted.contradicted:
        remarks.append(f"{counted.contradicted} items were answered twice in different ways: no answer of these counts")
    if counted.doubled:
        remarks.append(f"{counted.doubled} items were answered twice alike: counted once")
    return Material(
        counts=counted.counts, answers=None, pupils=max((one.persons for one in counted.counts), default=0),
        sizes=_sizes(counted.counts), rows=counted.answers, simulated=simulated, rejected=counted.rejected,
        refused_rows=counted.rejected_rows, remarks=tuple(remarks),
    )


def _sizes(counts: Sequence[Counts]) -> dict[str, int]:
    """Return the pupils of each group, of the form in which the group is smallest."""
    sizes: dict[str, int] = {}
    for one in counts:
        first = one.item == 0
        for group, name in enumerate(one.groups):
            size = int(one.n[first & (one.group == group)].sum())
            if size:
                sizes[name] = min(size, sizes.get(name, size))
    return sizes


def shown_material(material: Material, least: int, most_refused: float) -> tuple[Material, Left]:
    """Return *material* without what must not be shown or cannot be judged, and what was taken out.

    See `bank.audit.withholding.shown_answers`.
    """
    if material.answers is not None:
        answers, left = shown_answers(material.answers, least, most_refused)
        return (material if answers is material.answers else material_of(answers)), left
    counts, left = shown_counts(material.counts, least)
    if not left.quizzes:
        return material, left
    return replace(
        material, counts=counts, pupils=max((one.persons for one in counts), default=0), sizes=_sizes(counts),
        rows=sum(int(one.n[one.response != NOT_GIVEN].sum()) for one in counts),
        rejected=tuple(row for row in material.rejected if left.may_stand(row[2])),
    ), left


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
    observed: Estimate
    """Rasch difficulty on the scale where the form's pupils have mean 0."""
    observed_error: float | None
    """Its standard error."""
    infit: Estimate
    outfit: Estimate
    slope: Estimate
    """Of the two-parameter model."""
    flags: tuple[Flag, ...]
    inside: bool | None = None
    """Whether it lies within its predicted band; None where there is none or too few pupils answered it to say."""

    @property
    def rest_r(self) -> Estimate:
        """Item-rest correlation, withheld where answers are few."""
        return self.statistics.rest_r

    @property
    def upper_lower(self) -> Estimate:
        """Upper-lower difference, withheld where answers are few."""
        return self.statistics.upper_lower


@dataclass(frozen=True, kw_only=True, slots=True)
class FormResult:
    """What the answers to one form of a quiz say."""

    quiz: str
    title: str
    use: str
    statistics: FormStatistics
    models: FormModels
    items: tuple[ItemResult, ...]
    flags: tuple[Flag, ...]
    """Of the quiz as a whole."""
    keys: tuple[KeyTest, ...]
    """Which keys could be tested by the answers, item by item."""


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
    families: tuple[FamilySpread, ...]
    no_families: str
    """Why there are none."""
    family_flags: tuple[Flag, ...]
    groups_compared: tuple[Dif, ...]
    """Comparisons of two groups, only where they were asked for."""
    explained: Explained
    classes: tuple[ClassMistake, ...]
    """Of `Explained.classes` those that may be shown."""
    settings: Settings
    compare: tuple[str, str] | None
    """Reference and focal group that were to be compared."""
    withheld_words: tuple[str, ...]
    """What the report does not tell, and why."""
    refused_share: float
    """Share of the answers and rows in the files that did not count."""
    unread: tuple[Unread, ...]
    """Items that are not judged because too many of their answers did not count."""
    drifts: tuple[Drifts, ...]
    """Comparisons with an earlier use, by quiz."""
    set_aside: tuple[SetAside, ...]
    """By quiz, how many pupils' answers count in nothing here: they say nothing of the items."""
    rejected: tuple[tuple[str, int, str], ...]
    remarks: tuple[str, ...]

    @property
    def items(self) -> tuple[ItemResult, ...]:
        """Items of all forms in order."""
        return tuple(item for form in self.forms for item in form.items)

    @property
    def earlier(self) -> tuple[str, ...]:
        """Quizzes that were compared with an earlier use."""
        return tuple(one.quiz for one in self.drifts)

    @property
    def unseen(self) -> int:
        """Items of the bank without answers here, or with too few to be shown."""
        seen = {item.item for item in self.items}
        return sum(facts.identifier not in seen for facts in self.before.items)


def audit_after(
    before: BeforeUse, bank: Bank, material: Material, *, settings: Settings | None = None, least: int | None = None,
    compare: tuple[str, str] | None = None, earlier: Sequence[Counts] = (),
) -> AfterUse:
    """Return the audit after use of the *material* of quizzes of *bank*, by the thresholds of *settings*.

    Groups, quizzes and items of fewer than *least* pupils (by default the settings' smallest group) are withheld:
    nothing that is returned holds their answers. *compare* names a
    reference group and a focal group for Mantel-Haenszel; without it no groups are compared. *earlier* are counts of
    an earlier use of the same quizzes: items that have changed otherwise than the class has are flagged. Pupils whose
    answers say nothing of the items are set aside first, unless that was done or refused (`Material.set_aside`).
    """
    settings = settings or load_settings()
    material = screened(material, before, settings)
    aside = material.set_aside or ()
    least = int(settings["smallest_group"]) if least is None else least
    read = material.rows + material.refused_rows
    refused_share = material.refused_rows / read if read else 0.0
    material, left = shown_material(material, least, settings["refused_most"])
    counts, answers = material.counts, material.answers
    aside = tuple(one for one in aside if any(one.quiz == form.form.quiz for form in counts))
    wanted = list(dict.fromkeys(item for one in counts for item in one.form.items))
    known = {facts.identifier: place for place, facts in enumerate(before.items)}
    explained = explain(counts, explainers_of(bank, wanted), answers, least)
    statistics = [shown(form_statistics(one), settings) for one in counts]
    models = [form_models(one, answers.forms[place] if answers else None, settings) for place, one in enumerate(counts)]
    hidden = withheld_groups(material.sizes, least) if len(material.sizes) > 1 else frozenset()
    wanted_groups = compare if compare and not set(compare) & hidden else None
    compared = {
        one.quiz: one for one in compared_groups(counts, *wanted_groups, settings, least)
    } if wanted_groups else {}
    comparable, judged = _judged(before, statistics, known, settings)
    bands = _bands(before, comparable, judged.factor if judged else 1.0)
    past = {one.form.quiz: form_statistics(one) for one in earlier}
    chance = {facts.identifier: 1 / len(facts.letters) for facts in before.items if facts.letters}
    changed = {one.quiz: drifts(one, past[one.quiz], settings, chance) for one in statistics if one.quiz in past}
    forms = tuple(
        _form_result(
            before, one, model, found, known, bands, bank, settings, compared.get(one.form.quiz),
            changed.get(one.form.quiz),
        )
        for one, model, found in zip(counts, models, statistics, strict=True)
    )
    observed, features = _observed(before, forms, known)
    families, no_families = sibling_spreads(
        answers, models, statistics, {facts.identifier: facts.template for facts in before.items}, settings
    )
    return AfterUse(
        before=before, pupils=material.pupils, rows=material.rows, simulated=material.simulated,
        groups=tuple((name, size) for name, size in material.sizes.items() if size and name not in hidden),
        withheld=len(hidden), least=least, safe=total_is_safe(material.sizes, least), forms=forms, coverage=judged,
        calibration=None if why_not(observed) else calibrate(observed, features, before.weights),
        not_calibrated=why_not(observed), families=families, no_families=no_families,
        groups_compared=tuple(compared.values()), family_flags=family_flags(families, settings),
        explained=explained, settings=settings, compare=compare,
        drifts=tuple(changed.values()), set_aside=aside,
        classes=tuple(row for row in explained.classes if row.group not in hidden or not row.group),
        withheld_words=tuple([
            *_withheld(forms, settings, len(hidden), least, left, answers is None),
            *(f"Not tested: changes of {one.quiz} since its earlier use ({one.why})."
              for one in changed.values() if one.why),
        ]),
        rejected=material.rejected, remarks=material.remarks, refused_share=refused_share, unread=left.unread,
    )


def screened(material: Material, before: BeforeUse, settings: Settings) -> Material:
    """Return *material* without the pupils whose answers say nothing of the items, if nobody has looked for them yet.

    Where only counts are there single pupils are not known, and nobody can be set aside.
    """
    answers = material.answers
    if answers is None or material.set_aside is not None:
        return replace(material, set_aside=material.set_aside or ())
    letters = {one.identifier: one.letters for one in before.items if one.letters}
    kept = [set_aside(form, letters, settings) for form in answers.forms]
    counts = tuple(
        count(form, answers.groups) if found.n else old
        for (form, found), old in zip(kept, material.counts, strict=True)
    )
    counted = of_those_left(replace(answers, forms=tuple(form for form, _ in kept)))
    return replace(
        material, answers=counted, counts=counts, pupils=len(counted.pupils), sizes=counted.group_sizes(),
        rows=counted.rows, set_aside=tuple(found for _, found in kept),
    )


def _withheld(
    forms: Sequence[FormResult], settings: Settings, groups: int, least: int, left: Left, only_counts: bool
) -> Iterator[str]:
    """Give what is not told, forms with the same reason together."""
    if left.words(least):
        yield left.words(least)
    found: dict[str, list[str]] = {}
    for form in forms:
        for words in withheld(form.statistics.persons, settings):
            found.setdefault(words, []).append(form.title)
    for words, titles in found.items():
        yield words if len(titles) == len(forms) else f"{', '.join(titles)}: {words}"
    if groups:
        yield f"Withheld: {groups} groups of pupils: fewer than {least}, or to be worked out from the others."
    if only_counts:
        yield (
            "Not tested: whether pupils answered in patterns or left nearly all blank. An engine counted, single pupils"
            " are not known here, so nobody was set aside."
        )
        yield (
            "Withheld: what single pupils' answers fit again and again: an engine counted, single pupils are not known"
            " here."
        )


_Key = tuple[str, str, int]
"""Quiz, item, version."""


def _judged(
    before: BeforeUse, statistics: Sequence[FormStatistics], known: Mapping[str, int], settings: Settings
) -> tuple[dict[_Key, tuple[int, float, int]], Coverage | None]:
    """Return (place among the predictions, facility, n) of every item that has both, and how well the bands cover.

    Items that fewer than ``fewest_for_band`` pupils answered are shown beside their bands, but judge nothing.
    """
    found: dict[_Key, tuple[int, float, int]] = {}
    for form in statistics:
        for one in form.items:
            place = known.get(one.item)
            if place is None or before.items[place].version != one.version or one.facility.value is None:
                continue
            found[form.quiz, one.item, one.version] = (place, one.facility.value, one.n)
    enough = [row for row in found.values() if row[2] >= settings["fewest_for_band"]]
    places, shares, n = zip(*enough, strict=True) if enough else ((), (), ())
    return found, coverage(before.predictions, places, np.array(shares, dtype=float), np.array(n, dtype=float))


class _Banded(NamedTuple):
    """A predicted band for as many pupils as answered."""

    low: float
    high: float
    middle: float
    p: float
    """Chance that a sound prediction is so far off, for all items of the quiz (Holm)."""


def _bands(
    before: BeforeUse, comparable: Mapping[_Key, tuple[int, float, int]], factor: float
) -> dict[_Key, _Banded]:
    found: dict[_Key, _Banded] = {}
    for quiz in dict.fromkeys(key[0] for key in comparable):
        keys = [key for key in comparable if key[0] == quiz]
        places = [comparable[key][0] for key in keys]
        shares, n = (np.array([comparable[key][at] for key in keys], dtype=float) for at in (1, 2))
        low, high = observed_bands(before.predictions, places, n, factor)
        middle = before.predictions.middle_share[places]
        p = surprises(before.predictions, places, shares, n, factor)
        found.update(zip(keys, map(_Banded, low.tolist(), high.tolist(), middle.tolist(), p), strict=True))
    return found


def _form_result(
    before: BeforeUse, counts: Counts, models: FormModels, found: FormStatistics, known: Mapping[str, int],
    bands: Mapping[_Key, _Banded], bank: Bank, settings: Settings, compared: Dif | None,
    changed: Drifts | None,
) -> FormResult:
    quiz = next((one for one in bank.quizzes if one.identifier == found.quiz), None)
    raised = form_flags(
        counts, found, _context(before, quiz, found, known, bands), settings, fits=tuple(models.fits.values()),
        dif=compared, changed=changed,
    )
    rows = []
    for one in found.items:
        place = known.get(one.item)
        facts = before.items[place] if place is not None and before.items[place].version == one.version else None
        band = bands.get((found.quiz, one.item, one.version))
        predicted = None
        if band and one.facility.value is not None:
            predicted = Compared(one.item, band.low, band.high, band.middle, one.facility.value, one.n)
        fitted, slope = models.rasch.get((one.item, one.version)), models.two.get((one.item, one.version))
        fit, why = models.fits.get(one.item), models.why_not(one.item)
        rows.append(ItemResult(
            quiz=found.quiz, item=one.item, version=one.version, facts=facts, statistics=one, predicted=predicted,
            observed=fitted.difficulty if fitted else none("rasch-b", one.n, why),
            observed_error=fitted.se if fitted else None, infit=fit.infit if fit else none("infit", one.n, why),
            outfit=fit.outfit if fit else none("outfit", one.n, why),
            slope=slope.slope if slope else none("2pl-a", one.n, models.why_two or "not in the model"),
            flags=tuple(flag for flag in raised if (flag.item, flag.version) == (one.item, one.version)),
            inside=predicted.is_inside if predicted and one.n >= settings["fewest_for_band"] else None,
        ))
    return FormResult(
        quiz=found.quiz, title=quiz.title if quiz else found.quiz, use=quiz.use if quiz else "", statistics=found,
        models=models, items=tuple(rows), flags=tuple(flag for flag in raised if not flag.item),
        keys=key_tests(counts, settings),
    )


def _context(
    before: BeforeUse, quiz: Quiz | None, found: FormStatistics, known: Mapping[str, int],
    bands: Mapping[_Key, _Banded],
) -> Context:
    """Return what is known of a form's items beside the answers."""
    words = f"80 % band, for a class like {before.class_kind.name.replace('-', ' ')}"
    facts = {one.item: before.items[known[one.item]] for one in found.items if one.item in known}
    return Context(
        use=quiz.use if quiz else "",
        offered={name: one.letters for name, one in facts.items() if one.letters},
        bands={item: Band(one.low, one.high, words, one.p) for (form, item, _), one in bands.items()
               if form == found.quiz},
        uses={name: len(one.quizzes) for name, one in facts.items()},
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
                    one.item, one.facts.template, form.quiz, value, error, form.models.sigma, one.statistics.n,
                ))
                places.append(known[one.item])
    return observed, before.predictions.counts[places]
