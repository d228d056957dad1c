"""What small numbers cannot support: one table of rules, and the results with those values taken away.

What is withheld keeps its n and says why; counts, shares with their intervals and the tables of responses always stay.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from bank.audit.settings import Settings
from bank.audit.statistics.classical import FormStatistics, ItemStatistics
from bank.audit.statistics.estimates import Estimate


@dataclass(frozen=True, kw_only=True, slots=True)
class Rule:
    """From how many pupils on something is said."""

    statistic: str
    words: str
    """What it is called in a report."""
    setting: str
    """Name of the threshold."""
    because: str
    """Why not below."""
    instead: str
    """What to look at meanwhile."""
    is_test: bool = False
    """Whether it is a test that is not made, rather than a figure that is not shown."""


RULES: tuple[Rule, ...] = (
    Rule(statistic="wrong-key", words="the keys", setting="wrong_key_few", is_test=True,
         because="even if all of them chose one wrong option, that would say little",
         instead="the table of responses, and the keys themselves"),
    Rule(statistic="band", words="whether items lie in their predicted bands", setting="fewest_for_band", is_test=True,
         because="one pupil more or less would decide it", instead="facility with its interval"),
    Rule(statistic="use", words="whether items are too hard or too easy for their use, omitted by many, changed since an"
         " earlier use, or the quiz too long", setting="fewest_for_correlation", is_test=True,
         because="the interval would reach over nearly every limit", instead="facility with its interval"),
    Rule(statistic="correlation", words="item-rest correlations", setting="fewest_for_correlation",
         because="their interval would reach from no relation to a strong one",
         instead="facility with its interval, and the table of responses"),
    Rule(statistic="upper-lower", words="the upper-lower difference", setting="fewest_for_upper_lower",
         because="each group would be a handful of pupils", instead="the table of responses"),
    Rule(statistic="alpha", words="alpha and the error of measurement", setting="fewest_for_alpha",
         because="their interval would leave everything open", instead="the spread of the totals"),
    Rule(statistic="label", words="low discrimination, answers near chance, rarely chosen distractors, and wrong options"
         " that stronger pupils choose", setting="fewest_for_label", is_test=True,
         because="chance alone would accuse sound items, or nothing could be found", instead="the figures with their intervals"),
    Rule(statistic="rasch", words="Rasch difficulties and fit", setting="fewest_for_rasch",
         because="a difficulty would be uncertain by more than half a logit either way",
         instead="facility with its interval"),
    Rule(statistic="two-parameters", words="the two-parameter model", setting="fewest_for_two_parameters",
         because="its slopes would be guesses", instead="the Rasch model and item-rest correlations"),
    Rule(statistic="slopes-without-prior", words="slopes without a prior", setting="fewest_without_prior",
         because="single slopes would run away", instead="slopes with a prior, which is said beside them"),
)
"""Everything that waits for more pupils, the least demanding first."""
_BY_NAME = {rule.statistic: rule for rule in RULES}


def reason(statistic: str, n: int, settings: Settings) -> str:
    """Return why *statistic* (of `RULES`) is withheld for *n* pupils, or nothing where it may be shown."""
    rule = _BY_NAME[statistic]
    fewest = int(settings[rule.setting])
    return "" if n >= fewest else f"{n} of the {fewest} pupils needed: {rule.because}"


def withheld(n: int, settings: Settings) -> tuple[str, ...]:
    """Return one sentence for each thing that is withheld for *n* pupils, in words for the report."""
    return tuple(
        f"{'Not tested' if rule.is_test else 'Withheld'}: {rule.words} ({reason(rule.statistic, n, settings)}). Look instead at {rule.instead}."
        for rule in RULES if reason(rule.statistic, n, settings)
    )


def shown(statistics: FormStatistics, settings: Settings) -> FormStatistics:
    """Return *statistics* without the values that too few pupils stand behind, each with its reason.

    An item is judged by the pupils who reached it, the form by all of them. Of a form with fewer pupils than the
    smallest group nothing may be shown: that is for the report to refuse, as it protects pupils and not figures.
    """
    few = reason("alpha", statistics.persons, settings)
    return replace(
        statistics,
        alpha=_kept(statistics.alpha, few), kr21=_kept(statistics.kr21, few), sem=_kept(statistics.sem, few),
        items=tuple(_shown_item(item, few, settings) for item in statistics.items),
    )


def _kept(estimate: Estimate, why: str) -> Estimate:
    return estimate if not why or estimate.value is None else estimate.without(why)


def _shown_item(item: ItemStatistics, few: str, settings: Settings) -> ItemStatistics:
    pairs = reason("correlation", item.n, settings)
    groups = reason("upper-lower", item.n, settings)
    return replace(
        item,
        rest_r=_kept(item.rest_r, pairs), total_r=_kept(item.total_r, pairs),
        upper=None if groups else item.upper, lower=None if groups else item.lower,
        upper_lower=_kept(item.upper_lower, groups), alpha_if_deleted=_kept(item.alpha_if_deleted, few),
        responses=tuple(replace(row, r_rest=_kept(row.r_rest, pairs)) for row in item.responses),
    )
