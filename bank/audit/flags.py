"""Flags: reasons for a person to look at an item, a family or a quiz. Each says its figures and what to do.

A flag is never a verdict. Thresholds are in `bank.audit.settings`; adjectives wait for enough pupils, and practice is
not judged as a graded test is: where all have learnt it, facility is high and discrimination low, and that is success.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from scipy.special import ndtr
from scipy.stats import binom

from bank.audit.records import Counts
from bank.audit.settings import Settings
from bank.audit.statistics.classical import FormStatistics, ItemStatistics
from bank.audit.statistics.dif import Dif
from bank.audit.statistics.adjusted import holm, two_sided
from bank.audit.statistics.drift import Drift, Drifts
from bank.audit.statistics.estimates import Estimate, quantile
from bank.audit.statistics.families import FamilySpread
from bank.audit.statistics.fit import Fit
from bank.audit.statistics.keys import KeyTest, key_test
from bank.audit.statistics.tables import arrange

_REVIEW = "have a second person look at stem, options and key; if nothing is wrong, keep it and see it again"
KINDS: dict[str, tuple[str, str]] = {
    "wrong-key": (
        "wrong key?", "check the key before anything else; suspend the item, and mark again, where the key is wrong",
    ),
    "negative-discrimination": (
        "negative discrimination",
        "check the key, then the stem for a second right reading; suspend it until that is done",
    ),
    "dif-c": ("groups differ greatly", "have it reviewed before it is used again; a flag is no proof of bias"),
    "attracts-able": (
        "stronger pupils choose a wrong option",
        "read the stem as a strong pupil would: is that option right on a fair reading?",
    ),
    "misfit": ("answers do not fit the model", _REVIEW),
    "poor-discrimination": ("low discrimination", _REVIEW),
    "guess-like": ("near chance", "see whether it was taught, and whether the stem can be understood"),
    "dif-b": ("groups differ", "have it reviewed for words or settings that one group knows better"),
    "drift": (
        "changed since last time", "see whether it became known, or was taught differently; the class is allowed for",
    ),
    "omitted": ("omitted by many", "see whether the stem is clear and the answer form known"),
    "speeded": (
        "some ran out of time", "allow more time or fewer items; judge the last items by those who reached them",
    ),
    "idle-distractor": ("rarely chosen distractor", "replace that option, or do without it"),
    "sibling-spread": (
        "items from this template vary in difficulty", "narrow the item model's ranges, or split it in two",
    ),
    "outside-predicted-band": (
        "outside its predicted band", "look at what makes it different from its features; leave it if nothing is odd",
    ),
    "too-hard": ("hard for its use", "see whether it was taught; else use it later or draw easier numbers"),
    "too-easy": ("easy for its use", "keep it for practice; draw harder numbers for this use"),
    "exposure": ("used often", "rest it, or draw a fresh sibling"),
}
"""Kind of flag -> its name and what to do, the most pressing first."""
OF_USE = frozenset({"sibling-spread", "outside-predicted-band", "too-hard", "too-easy", "exposure"})
"""Kinds that say where and when to use an item, not that something may be wrong with it. They are shown by template,
those of most consequence first, and no more than a reader can act on."""
_USES = {"graded": 2, "diagnosis": 1}
"""What hangs on a use: marks, then what is taught next, then practice."""
_RANK = {kind: place for place, kind in enumerate(KINDS)}


@dataclass(frozen=True, kw_only=True, slots=True)
class Flag:
    """A reason to look."""

    identifier: str
    """One of `KINDS`."""
    quiz: str
    item: str = ""
    """Item id; empty where the flag is of the quiz; of a family, its template's id."""
    version: int = 0
    n: int
    """Pupils (of a family: siblings) behind it."""
    why: str
    """The figures that raised it."""
    weight: float = 0.0
    """What hangs on it, to order flags of one kind: the use first, then how many pupils it concerns."""

    @property
    def name(self) -> str:
        """What it is called."""
        return KINDS[self.identifier][0]

    @property
    def remedy(self) -> str:
        """What to do."""
        return KINDS[self.identifier][1]

    @property
    def rank(self) -> int:
        """Place among `KINDS`: 0 is looked at first."""
        return _RANK[self.identifier]

    @property
    def alarm(self) -> bool:
        """Whether it comes before all others: the key may be wrong."""
        return self.identifier == "wrong-key"


class Band(NamedTuple):
    """An item's predicted share right, before anyone had answered."""

    low: float
    high: float
    words: str
    """Such as ``80 % interval for a class like ...``."""
    p: float = 0.0
    """Chance that sound predictions are so far off, what all items share taken off and for all items of the quiz
    (Holm); 0 where only the band counts."""


class Context(NamedTuple):
    """What is known of a form's items beside the answers; what is not known raises no flag."""

    use: str
    """``practice``, ``diagnosis`` or ``graded``."""
    offered: Mapping[str, tuple[str, ...]] = {}
    """Identifiers of the options of items of which one is chosen, by item."""
    bands: Mapping[str, Band] = {}
    uses: Mapping[str, int] = {}
    """How often each item was used so far, this time included."""


def form_flags(
    counts: Counts, found: FormStatistics, context: Context, settings: Settings, *, fits: Sequence[Fit] = (),
    dif: Dif | None = None, changed: Drifts | None = None,
) -> tuple[Flag, ...]:
    """Return the flags of a form: the most pressing first, in a kind those on which most hangs, then in their order.

    *counts* are those that *found* was made from (before anything was withheld); *fits* are of its Rasch model, *dif*
    of a comparison of groups, *changed* of an earlier use of the same items.
    """
    raised = _all(counts, found, context, settings, fits, dif, changed)
    return tuple(sorted(raised, key=lambda flag: (flag.rank, -flag.weight)))


def key_tests(counts: Counts, settings: Settings) -> tuple[KeyTest, ...]:
    """Return the test of every key of a form: which could be tested, and how."""
    return tuple(key_test(counts, table, settings) for table in arrange(counts).items)


def _all(
    counts: Counts, found: FormStatistics, context: Context, settings: Settings, fits: Sequence[Fit], dif: Dif | None,
    changed: Drifts | None,
) -> Iterator[Flag]:
    tests, negative = key_tests(counts, settings), dict(_negative(found.items, settings))
    misfits, drawn = dict(_misfits(fits, settings)), dict(_drawn(found.items, context, settings))
    groups = {one.item: one for one in dif.items} if dif else {}
    drifted = {(one.item, one.version): one for one in changed.items} if changed else {}
    for item in found.items:
        reasons = [
            *_wrong_key(item, tests[item.index]),
            *((("negative-discrimination", negative[item.item]),) if item.item in negative
              else _discrimination(item, context, settings)),
            *((("attracts-able", drawn[item.item]),) if item.item in drawn else ()),
            *_idle(item, context, settings),
            *_facility(item, context, settings),
            *_omitted(item, settings),
            *((("misfit", misfits[item.item]),) if item.item in misfits else ()),
            *_drift(drifted.get((item.item, item.version)), settings),
            *_prediction(item, context, settings),
        ]
        other = groups.get(item.item)
        if other is not None and other.letter in ("B", "C"):
            reasons.append((f"dif-{other.letter.lower()}", (
                f"MH D-DIF {_interval(other.d_dif)}, letter {other.letter}, adjusted p {other.p_adjusted:.3f};"
                f" {dif.reference} {other.n_reference}, {dif.focal} {other.n_focal}")))
        uses = context.uses.get(item.item, 0)
        if context.use == "graded" and uses > settings["exposure_graded"]:
            reasons.append(("exposure", f"used {uses} times"))
        for kind, why in reasons:
            yield Flag(
                identifier=kind, quiz=found.quiz, item=item.item, version=item.version, n=item.n, why=why,
                weight=_weight(kind, item, context),
            )
    yield from _speeded(found, settings)


def _weight(kind: str, item: ItemStatistics, context: Context) -> float:
    """What hangs on a flag of use: graded before diagnosis before practice, then the pupils whom it concerns."""
    p = item.facility.value
    if kind not in OF_USE or p is None:
        return 0.0
    return _USES.get(context.use, 0) + item.n * (p if kind == "too-easy" else 1 - p) / (item.n + 1)


_Reasons = Iterator[tuple[str, str]]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _interval(one: Estimate) -> str:
    if one.low is None or one.high is None:
        return f"{one.value:.2f}"
    return f"{one.value:.2f} ({one.low:.2f} to {one.high:.2f})"


def _share(one: Estimate) -> str:
    return f"{_percent(one.value)} ({_percent(one.low)} to {_percent(one.high)})"


def _wrong_key(item: ItemStatistics, test: KeyTest) -> _Reasons:
    """A wrong response that goes with the rest better than the key, or on which nearly all agree."""
    rows = {row.code: row for row in item.responses}
    for doubt in test.doubts:
        row = rows[doubt.code]
        if doubt.lead is None:
            stronger = ", and those who did do better on the rest" if doubt.with_rest else ""
            yield "wrong-key", f"{doubt.n} of {item.n} pupils gave {row.response!r}, {doubt.key} the key{stronger}"
        else:
            yield "wrong-key", (
                f"{row.response!r}, given by {_percent(row.share.value)}, goes with the rest at"
                f" r {row.r_rest.value:.2f}; the key at {item.rest_r.value:.2f}: a lead of {_interval(doubt.lead)}")


def _negative(items: Sequence[ItemStatistics], settings: Settings) -> _Reasons:
    """Give (item, why): it goes against the rest beyond what chance gives to the worst of all items of the quiz."""
    found = [
        item for item in items
        if item.rest_r.value is not None and abs(item.rest_r.value) < 1 and item.n >= settings["fewest_for_correlation"]
    ]
    z = np.array([math.atanh(item.rest_r.value) * math.sqrt(item.n - 3) for item in found])
    for item, p in zip(found, holm(ndtr(z).tolist()), strict=True):
        if p < settings["negative_level"]:
            yield item.item, f"item-rest r {_interval(item.rest_r)}"


def _discrimination(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    """Judged by the interval of item-rest r, never by its value alone: it must lie under the limit as a whole."""
    r, p = item.rest_r, item.facility
    if r.value is None or r.high is None or item.n < settings["fewest_for_correlation"]:
        return
    if item.n < settings["fewest_for_label"]:
        return
    options = len(context.offered.get(item.item, ()))
    if options and p.low is not None and p.low <= 1 / options <= p.high and r.high < settings["guess_like"]:
        chance = _percent(1 / options)
        yield "guess-like", f"{_share(p)} right where guessing gives {chance}; item-rest r {_interval(r)}"
    elif context.use == "graded" and p.value <= settings["too_easy_graded"]:
        if r.high < settings["discrimination_poor"]:
            limit = settings["discrimination_poor"]
            yield "poor-discrimination", f"item-rest r {_interval(r)}: all of its interval is under {limit:g}"


def _drawn(items: Sequence[ItemStatistics], context: Context, settings: Settings) -> _Reasons:
    """Give (item, why): a wrong option goes with the rest beyond what chance gives to the best of all of the quiz."""
    found = [
        (item.item, row) for item in items if item.item in context.offered and item.n >= settings["fewest_for_label"]
        for row in item.responses
        if row.code >= 0 and not row.is_key and row.r_rest.value is not None and abs(row.r_rest.value) < 1
        and row.share.value >= settings["functioning_share"]
    ]
    # Fisher's z; one side only, for pupils who know more than the others.
    z = np.array([math.atanh(row.r_rest.value) * math.sqrt(row.r_rest.n - 3) for _, row in found])
    words: dict[str, list[str]] = {}
    for (item, row), p in zip(found, holm(ndtr(-z).tolist()), strict=True):
        if p < settings["attracts_level"] and row.r_rest.value > settings["attracts_able"]:
            words.setdefault(item, []).append(
                f"option {row.response}, {_share(row.share)}, goes with the rest at r {_interval(row.r_rest)}")
    for item, which in words.items():
        yield item, "; ".join(which)


def _idle(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    """Distractors that too few chose, where so many answers were wrong that an equal share would not be too few."""
    offered = context.offered.get(item.item, ())
    chosen, keys = {row.response: row.n for row in item.responses}, {row.response for row in item.responses if row.is_key}
    if item.n < settings["fewest_for_label"]:
        return
    wrong = [option for option in offered if option not in keys]
    given = sum(chosen.get(option, 0) for option in wrong)
    # Which option is the key is seen from those who chose it; where nobody did, it is not the distractors' turn.
    if not keys or len(wrong) < 2 or given / len(wrong) < settings["functioning_share"] * item.n:
        return
    for option in wrong:
        n = chosen.get(option, 0)
        if n >= settings["functioning_share"] * item.n:
            continue
        # Each of the distractors is looked at, so each gets its part of the level (Bonferroni).
        if float(binom.cdf(n, given, 1 / len(wrong))) < settings["idle_level"] / len(wrong):
            yield "idle-distractor", (
                f"option {option}: {n} of {item.n} ({_percent(n / item.n)}); an equal share of the wrong answers would"
                f" be {given / len(wrong):.0f}")


def _facility(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    """The whole interval must lie beyond the limit."""
    p = item.facility
    if p.low is None or p.high is None or item.n < settings["fewest_for_correlation"]:
        return
    lower = {"graded": "too_hard_graded", "diagnosis": "too_hard_diagnosis"}.get(context.use, "too_hard_practice")
    upper = {"graded": "too_easy_graded", "diagnosis": "too_easy_diagnosis"}.get(context.use)
    if p.high < settings[lower]:
        yield "too-hard", f"{_share(p)} right; for {context.use or 'practice'} at least {_percent(settings[lower])}"
    if upper and p.low > settings[upper]:
        yield "too-easy", f"{_share(p)} right; for {context.use} at most {_percent(settings[upper])}"


def _omitted(item: ItemStatistics, settings: Settings) -> _Reasons:
    one = item.omitted
    if one.low is not None and item.n >= settings["fewest_for_correlation"] and one.low > settings["omitted_most"]:
        yield "omitted", f"omitted by {_share(one)}"


def _misfits(fits: Sequence[Fit], settings: Settings) -> _Reasons:
    """Give (item, why): beyond the limits, and beyond what chance gives to the worst of all items of the quiz."""
    enough = [
        (fit.item, name, one) for fit in fits for name, one in (("infit", fit.infit), ("outfit", fit.outfit))
        if one.value is not None and one.high is not None and one.n >= settings["fewest_for_rasch"]
    ]
    spread = [(one.high - 1) / quantile() for _, _, one in enough]
    z = np.array([(one.value - 1) / sd if sd else 0.0 for (_, _, one), sd in zip(enough, spread, strict=True)])
    found: dict[str, list[str]] = {}
    for (item, name, one), p in zip(enough, holm(two_sided(z)), strict=True):
        if p < settings["misfit_level"] and not settings["misfit_low"] <= one.value <= settings["misfit_high"]:
            ways = "more predictable" if one.value < 1 else "less predictable"
            found.setdefault(item, []).append(
                f"{name} {one.value:.2f} ({one.low:.2f} to {one.high:.2f} expected): {ways} than the model")
    for item, words in found.items():
        yield item, "; ".join(words)


def _drift(one: Drift | None, settings: Settings) -> _Reasons:
    if one is None or one.p_adjusted >= settings["drift_level"] or abs(one.change) < settings["drift_logits"]:
        return
    yield "drift", (
        f"{_percent(one.before)} right of {one.n_before} before, {_percent(one.now)} of {one.n_now} now;"
        f" {'easier' if one.change > 0 else 'harder'} by {abs(one.change):.2f} logits (standard error {one.error:.2f})"
        f" than the other items, which changed by {one.shift:+.2f}")


def _prediction(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    band, p = context.bands.get(item.item), item.facility
    if band is None or p.value is None or item.n < settings["fewest_for_band"]:
        return
    if not band.low <= p.value <= band.high and band.p < settings["band_level"]:
        yield "outside-predicted-band", (
            f"observed {_share(p)} right; predicted {_percent(band.low)} to {_percent(band.high)} ({band.words})")


def _speeded(found: FormStatistics, settings: Settings) -> Iterator[Flag]:
    """One flag for the quiz, on the first item that too few came to."""
    if found.persons < settings["fewest_for_correlation"]:
        return
    for item in found.items:
        one = item.not_reached
        if one.low is not None and one.low > settings["not_reached_most"]:
            last = found.items[-1].not_reached
            end = f"; the last one by {_share(last)}" if last.value is not None and item is not found.items[-1] else ""
            yield Flag(
                identifier="speeded", quiz=found.quiz, n=one.n,
                why=f"item {item.index + 1} of {len(found.items)} was not reached by {_share(one)}{end}",
            )
            return


def family_flags(families: Sequence[FamilySpread], settings: Settings, quiz: str = "") -> tuple[Flag, ...]:
    """Return a flag for each family whose siblings differ more than the thresholds allow, beyond their errors.

    The spread's whole interval must lie above ``sibling_spread``.
    """
    return tuple(
        Flag(
            identifier="sibling-spread", quiz=quiz, item=one.family, n=one.spread.n,
            why=f"SD of {one.spread.n} siblings' difficulties {_interval(one.spread)} logits, beyond their errors",
        )
        for one in families
        if one.spread.low is not None and one.spread.low > settings["sibling_spread"]
    )
