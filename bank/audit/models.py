"""Item response models of a form, as far as its pupils suffice: Rasch with fit, two parameters, siblings, two groups."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bank.audit.records import Answers, Counts, FormAnswers
from bank.audit.settings import Settings
from bank.audit.statistics.classical import FormStatistics
from bank.audit.statistics.dif import Dif, dif
from bank.audit.statistics.families import (
    FamilySpread, Sibling, family_spreads, siblings_of_facilities, siblings_of_rasch,
)
from bank.audit.statistics.fit import Fit, conditional_fit
from bank.audit.statistics.forms import joint_models
from bank.audit.statistics.patterns import (
    ScoreGroups, groups_of_counts, groups_of_scores, needs_answers, scores_of_answers,
)
from bank.audit.statistics.rasch import RaschItem, fit_rasch
from bank.audit.statistics.twopl import TwoPl, TwoPlItem, fit_two_parameters
from bank.audit.statistics.withhold import reason

SLOPE_PRIOR = (0.0, 0.5)
"""Mean and SD of the prior on ln(slope) where pupils are few. Our own choice; it is said beside the slopes."""
MOST_PUPILS = 50_000
"""Pupils up to which models that need patterns are fitted; beyond, only what the counts allow. Our own choice."""

MOST_CELLS = 30_000
"""Pupils times items up to which several forms get one Rasch model: some seconds of work."""
SAME_PUPILS = 0.9
"""Share of all pupils who answered a form, from which on its facilities are compared with those of others. Our own
choice."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FormModels:
    """The models of one form."""

    rasch: Mapping[tuple[str, int], RaschItem]
    """By item and version."""
    fits: Mapping[str, Fit]
    sigma: float
    """Standard deviation of ability, logits; 0 where there is no Rasch model."""
    why: str
    """Why there is no Rasch model."""
    left_out: Mapping[str, str]
    """Items that are not in it, with the reason."""
    two: Mapping[tuple[str, int], TwoPlItem]
    held: str
    """What held the slopes."""
    why_two: str
    """Why there is no two-parameter model."""

    def why_not(self, item: str) -> str:
        """Return why *item* has no Rasch difficulty."""
        return self.why or self.left_out.get(item, "not in the model")


def form_models(counts: Counts, form: FormAnswers | None, settings: Settings) -> FormModels:
    """Return the models of a form; *form* is the same form's answers, where they are in memory."""
    why = reason("rasch", counts.persons, settings)
    groups = None
    if not why:
        groups, why = _groups(counts, form)
    model = fit_rasch(groups) if groups is not None else None
    fits = conditional_fit(groups) if groups is not None and model is not None and model.items else ()
    two, held, why_two = _two_parameters(counts, form, settings)
    return FormModels(
        rasch={(one.item, one.version): one for one in model.items} if model else {},
        fits={one.item: one for one in fits}, sigma=(model.sigma.value or 0.0) if model else 0.0,
        why=why or (model.why if model else ""), left_out=dict(model.left_out) if model else {},
        two={(one.item, one.version): one for one in two.items} if two else {}, held=held, why_two=why_two,
    )


def _groups(counts: Counts, form: FormAnswers | None) -> tuple[ScoreGroups | None, str]:
    why = needs_answers(counts)
    if not why:
        return groups_of_counts(counts), ""
    if form is None:
        return None, f"from counts alone there is none: {why}"
    if counts.persons > MOST_PUPILS:
        return None, f"more than {MOST_PUPILS:,} pupils, and {why}"
    return groups_of_scores(scores_of_answers([form])), ""


def _two_parameters(
    counts: Counts, form: FormAnswers | None, settings: Settings
) -> tuple[TwoPl | None, str, str]:
    """Return the two-parameter model, what held its slopes, and why there is none."""
    why = reason("two-parameters", counts.persons, settings)
    if not why and form is None:
        why = "it needs the answers themselves, and only counts are here"
    if not why and counts.persons > MOST_PUPILS:
        why = f"more than {MOST_PUPILS:,} pupils"
    if why or form is None:
        return None, "", why
    few = reason("slopes-without-prior", counts.persons, settings)
    model = fit_two_parameters(scores_of_answers([form]), prior=SLOPE_PRIOR if few else None)
    if model.why and not few:
        model = fit_two_parameters(scores_of_answers([form]), prior=SLOPE_PRIOR)
    return (model, model.held, model.why) if model.items else (None, model.held, model.why)


def sibling_spreads(
    answers: Answers | None, models: Sequence[FormModels], statistics: Sequence[FormStatistics],
    family: Mapping[str, str], settings: Settings,
) -> tuple[tuple[FamilySpread, ...], str]:
    """Return the families of siblings, and why there are none; *family* gives an item's template.

    Difficulties must lie on one scale. Forms that common pupils hold together get one Rasch model; where that would
    take long, and nearly all pupils answered every form, facilities do.
    """
    fewest, own = int(settings["fewest_siblings"]), int(settings["siblings_for_own_spread"])
    persons = len(answers.pupils) if answers else max((one.persons for one in statistics), default=0)
    few = reason("rasch", persons, settings)
    if few:
        return (), few
    siblings = _siblings(answers, models, statistics, dict(family))
    spreads = family_spreads(siblings, fewest=fewest, own_from=own)
    shown = tuple(one for one in spreads if one.spread.value is not None)
    return shown, "" if shown else f"no template has {fewest} siblings with a difficulty on one scale"


def _siblings(
    answers: Answers | None, models: Sequence[FormModels], statistics: Sequence[FormStatistics], family: dict[str, str]
) -> list[Sibling]:
    if answers is not None:
        pupils = len(answers.pupils)
        if len(answers.forms) > 1 and pupils * sum(len(one.form.items) for one in answers.forms) <= MOST_CELLS:
            joint = max(joint_models(answers.forms), key=lambda one: len(one.model.items), default=None)
            return siblings_of_rasch(joint.model.items, family) if joint else []
        if all(one.persons >= SAME_PUPILS * pupils for one in statistics):
            return siblings_of_facilities([item for one in statistics for item in one.items], family)
    largest = max(models, key=lambda one: len(one.rasch), default=None)
    return siblings_of_rasch(tuple(largest.rasch.values()), family) if largest else []


def compared_groups(
    counts: Sequence[Counts], reference: str, focal: str, settings: Settings, least: int = 0
) -> tuple[Dif, ...]:
    """Return the comparison of two groups on every form that both answered.

    Items that fewer than *least* of either group answered are left out, and forms with no other items.
    """
    found = []
    for one in counts:
        if reference in one.groups and focal in one.groups:
            compared = dif(
                one, reference, focal, smaller=int(settings["fewest_for_dif_smaller"]),
                both=int(settings["fewest_for_dif_both"]),
            )
            items = tuple(item for item in compared.items if min(item.n_reference, item.n_focal) >= least)
            if items:
                found.append(replace(compared, items=items))
    return tuple(found)
