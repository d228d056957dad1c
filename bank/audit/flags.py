"""Flags: reasons for a person to look at an item, a family or a quiz. Each says its figures and what to do.

A flag is never a verdict. Thresholds are in `bank.audit.settings`; adjectives wait for enough pupils, and practice is
not judged as a graded test is: where all have learnt it, facility is high and discrimination low, and that is success.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from bank.audit.records import Counts
from bank.audit.settings import Settings
from bank.audit.statistics.classical import FormStatistics, ItemStatistics
from bank.audit.statistics.dif import Dif
from bank.audit.statistics.estimates import Estimate
from bank.audit.statistics.families import FamilySpread
from bank.audit.statistics.fit import Fit
from bank.audit.statistics.keys import leads
from bank.audit.statistics.tables import ItemTable, arrange

_REVIEW = "have a second person look at stem, options and key; if nothing is wrong, keep it and see it again"
KINDS: dict[str, tuple[str, str]] = {
    "wrong-key": (
        "wrong key?", "check the key before anything else; suspend the item, and mark again, where the key is wrong",
    ),
    "negative-discrimination": (
        "goes against the rest",
        "check the key, then the stem for a second right reading; suspend it until that is done",
    ),
    "dif-c": ("groups differ greatly", "have it reviewed before it is used again; a flag is no proof of bias"),
    "attracts-able": (
        "a wrong option draws the able",
        "read the stem as an able pupil would: is that option right on a fair reading?",
    ),
    "misfit": ("answers do not fit the model", _REVIEW),
    "poor-discrimination": ("tells little of the rest", _REVIEW),
    "guess-like": ("as if guessed", "see whether it was taught, and whether the stem can be understood"),
    "dif-b": ("groups differ", "have it reviewed for words or settings that one group knows better"),
    "too-hard": ("hard for its use", "see whether it was taught; else use it later or draw easier numbers"),
    "too-easy": ("easy for its use", "keep it for practice; draw harder numbers for this use"),
    "drift": (
        "changed since last time", "see whether it became known, was taught otherwise, or the class is another",
    ),
    "omitted": ("left out by many", "see whether the stem is clear and the answer form known"),
    "speeded": (
        "not all came to the end", "allow more time or fewer items; judge the last items by those who met them",
    ),
    "sibling-spread": ("siblings are not equally hard", "narrow the item model's ranges, or split it in two"),
    "outside-predicted-band": (
        "outside its band",
        "look at what makes it other than its features say; leave it if nothing is odd (expected once in five)",
    ),
    "idle-distractor": ("an option that hardly anyone chooses", "replace that option, or do without it"),
    "exposure": ("used often", "rest it, or draw a fresh sibling"),
}
"""Kind of flag -> its name and what to do, the most pressing first."""
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
    dif: Dif | None = None, earlier: FormStatistics | None = None,
) -> tuple[Flag, ...]:
    """Return the flags of a form, the most pressing first, in the order of the items within a kind.

    *counts* are those that *found* was made from (before anything was withheld); *fits* are of its Rasch model, *dif*
    of a comparison of groups, *earlier* of an earlier use of the same items.
    """
    return tuple(sorted(_all(counts, found, context, settings, fits, dif, earlier), key=lambda flag: flag.rank))


def _all(
    counts: Counts, found: FormStatistics, context: Context, settings: Settings, fits: Sequence[Fit], dif: Dif | None,
    earlier: FormStatistics | None,
) -> Iterator[Flag]:
    tables = arrange(counts).items
    fit_of = {fit.item: fit for fit in fits}
    groups = {one.item: one for one in dif.items} if dif else {}
    before = {(one.item, one.version): one for one in earlier.items} if earlier else {}
    for item in found.items:
        reasons = [
            *_wrong_key(item, tables[item.index], settings),
            *_discrimination(item, context, settings),
            *_options(item, context, settings),
            *_facility(item, context, settings),
            *_omitted(item, settings),
            *_misfit(fit_of.get(item.item), settings),
            *_drift(item, before.get((item.item, item.version)), settings),
            *_prediction(item, context),
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
            yield Flag(identifier=kind, quiz=found.quiz, item=item.item, version=item.version, n=item.n, why=why)
    yield from _speeded(found, settings)


_Reasons = Iterator[tuple[str, str]]


def _percent(share: float) -> str:
    return f"{100 * share:.0f} %"


def _interval(one: Estimate) -> str:
    if one.low is None or one.high is None:
        return f"{one.value:.2f}"
    return f"{one.value:.2f} ({one.low:.2f} to {one.high:.2f})"


def _share(one: Estimate) -> str:
    return f"{_percent(one.value)} ({_percent(one.low)} to {_percent(one.high)})"


def _wrong_key(item: ItemStatistics, table: ItemTable, settings: Settings) -> _Reasons:
    """A wrong response that enough give and that goes with the rest better than the key, beyond its error."""
    if item.n < settings["wrong_key_pupils"]:
        return
    rows = {row.code: row for row in item.responses}
    for code, (lead, error) in leads(table, math.ceil(settings["wrong_key_share"] * item.n)).items():
        row = rows[code]
        if lead.value is None:
            continue
        if lead.value > settings["wrong_key_errors"] * error:
            yield "wrong-key", (
                f"{row.response!r}, given by {_percent(row.share.value)}, goes with the rest at"
                f" r {row.r_rest.value:.2f}; the key at {item.rest_r.value:.2f}: a lead of {_interval(lead)}")


def _discrimination(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    r, p = item.rest_r, item.facility
    if r.value is None or r.high is None or item.n < settings["fewest_for_correlation"]:
        return
    if r.high < 0:
        yield "negative-discrimination", f"item-rest r {_interval(r)}"
        return
    if item.n < settings["fewest_for_label"]:
        return
    options = len(context.offered.get(item.item, ()))
    if options and p.value <= 1 / options and r.value < settings["guess_like"]:
        chance = _percent(1 / options)
        yield "guess-like", f"{_share(p)} right where guessing gives {chance}; item-rest r {_interval(r)}"
    elif context.use == "graded" and p.value <= settings["too_easy_graded"]:
        for name, words in (("discrimination_poor", "poor"), ("discrimination_review", "to be looked at")):
            if r.value < settings[name]:
                yield "poor-discrimination", f"item-rest r {_interval(r)}: {words} (under {settings[name]:g})"
                return


def _options(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    """What a choice's wrong options do; typed answers have none."""
    offered = context.offered.get(item.item, ())
    if not offered or item.n < settings["fewest_for_label"]:
        return
    rows = {row.response: row for row in item.responses}
    for row in item.responses:
        r = row.r_rest
        if row.code < 0 or row.is_key or r.value is None or r.low is None:
            continue
        # Beyond its error: the interval may not reach nought.
        chosen = row.share.value >= settings["functioning_share"]
        if chosen and r.value > settings["attracts_able"] and r.low > 0:
            yield "attracts-able", f"option {row.response}, {_share(row.share)}, goes with the rest at r {_interval(r)}"
    if item.facility.value > settings["functioning_facility"]:
        return
    for option in offered:
        chosen = rows[option].n if option in rows else 0
        if option in rows and rows[option].is_key:
            continue
        if chosen < settings["functioning_share"] * item.n:
            yield "idle-distractor", f"option {option}: {chosen} of {item.n} ({_percent(chosen / item.n)})"


def _facility(item: ItemStatistics, context: Context, settings: Settings) -> _Reasons:
    p = item.facility
    if p.value is None or p.low is None or p.high is None or item.n < settings["fewest_for_correlation"]:
        return
    sure = item.n >= settings["fewest_for_label"]
    lower = {"graded": "too_hard_graded", "diagnosis": "too_hard_diagnosis"}.get(context.use, "too_hard_practice")
    upper = {"graded": "too_easy_graded", "diagnosis": "too_easy_diagnosis"}.get(context.use)
    # With few pupils the whole interval must lie beyond the limit.
    if (p.value if sure else p.high) < settings[lower]:
        yield "too-hard", f"{_share(p)} right; for {context.use or 'practice'} at least {_percent(settings[lower])}"
    if upper and (p.value if sure else p.low) > settings[upper]:
        yield "too-easy", f"{_share(p)} right; for {context.use} at most {_percent(settings[upper])}"


def _omitted(item: ItemStatistics, settings: Settings) -> _Reasons:
    one = item.omitted
    if one.value is not None and item.n >= settings["fewest_for_correlation"] and one.value > settings["omitted_most"]:
        yield "omitted", f"left out by {_share(one)}"


def _misfit(fit: Fit | None, settings: Settings) -> _Reasons:
    if fit is None:
        return
    found = []
    for name, one in (("infit", fit.infit), ("outfit", fit.outfit)):
        if one.value is None or one.low is None or one.high is None or one.n < settings["fewest_for_rasch"]:
            continue
        low, high = min(settings["misfit_low"], one.low), max(settings["misfit_high"], one.high)
        if not low <= one.value <= high:
            ways = "more predictable" if one.value < 1 else "less predictable"
            found.append(f"{name} {one.value:.2f} ({one.low:.2f} to {one.high:.2f} expected): {ways} than the model")
    if found:
        yield "misfit", "; ".join(found)


def _drift(now: ItemStatistics, before: ItemStatistics | None, settings: Settings) -> _Reasons:
    if before is None or now.facility.value is None or before.facility.value is None:
        return
    if min(now.n, before.n) < settings["fewest_for_correlation"]:
        return
    p, q = now.facility.value, before.facility.value
    # Agresti & Caffo 2000 (from memory): two added to either side, so that shares of 0 and 1 have an error too.
    error = math.sqrt(sum(
        (share * n + 1) * ((1 - share) * n + 1) / (n + 2) ** 3 for share, n in ((p, now.n), (q, before.n))
    ))
    if abs(p - q) > settings["drift_change"] and abs(p - q) > settings["drift_errors"] * error:
        yield "drift", (
            f"{_percent(q)} right of {before.n} before, {_percent(p)} of {now.n} now: a change of {100 * (p - q):+.0f}"
            f" points, standard error {100 * error:.0f}")


def _prediction(item: ItemStatistics, context: Context) -> _Reasons:
    band, p = context.bands.get(item.item), item.facility
    if band is not None and p.value is not None and not band.low <= p.value <= band.high:
        yield "outside-predicted-band", (
            f"observed {_share(p)} right; predicted {_percent(band.low)} to {_percent(band.high)} ({band.words})")


def _speeded(found: FormStatistics, settings: Settings) -> Iterator[Flag]:
    """One flag for the quiz, on the first item that too few came to."""
    if found.persons < settings["fewest_for_correlation"]:
        return
    for item in found.items:
        one = item.not_reached
        if one.value is not None and one.value > settings["not_reached_most"]:
            last = found.items[-1].not_reached
            end = f"; the last one by {_share(last)}" if last.value is not None and item is not found.items[-1] else ""
            yield Flag(
                identifier="speeded", quiz=found.quiz, n=one.n,
                why=f"item {item.index + 1} of {len(found.items)} was not reached by {_share(one)}{end}",
            )
            return


def family_flags(families: Sequence[FamilySpread], settings: Settings, quiz: str = "") -> tuple[Flag, ...]:
    """Return a flag for each family whose siblings differ more than the thresholds allow, beyond their errors.

    The spread's whole interval must lie above nought, and the spread above ``sibling_spread``.
    """
    return tuple(
        Flag(
            identifier="sibling-spread", quiz=quiz, item=one.family, n=one.spread.n,
            why=f"SD of {one.spread.n} siblings' difficulties {_interval(one.spread)} logits, beyond their errors",
        )
        for one in families
        if one.spread.value is not None and one.spread.low and one.spread.value > settings["sibling_spread"]
    )
