"""The report after use: page, tables, and lines for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np

from bank import mistakes
from bank.audit.after import AfterUse, ItemResult
from bank.audit.class_mistakes import ItemWrong
from bank.decisions import OUT_OF_USE, Decision, standing
from bank.audit.pictures import Picture
from bank.audit.pictures._svg import between, percent
from bank.audit.pictures.item_map import Mapped, item_map
from bank.audit.pictures.mistake_picture import MistakeBar, mistake_picture
from bank.audit.pictures.option_curves import Curve, option_curves
from bank.audit.pictures.predicted_observed import predicted_observed, quiz_rows
from bank.audit.prediction import expected_share
from bank.audit.report._flags import SHOWN_FLAGS, flag_groups, flag_lines, flag_rows
from bank.audit.report._fix import Fix, before_use_of_figures, fixes
from bank.audit.report._page import decimals, write_page
from bank.audit.report._tables import ItemTexts, item_rows, mistake_rows, option_rows
from bank.audit.report._tables import ITEM_HEADER, MISTAKE_HEADER, NO_WRONG, OPTION_HEADER
from bank.audit.settings import BASIS_WORDS
from bank.audit.statistics.estimates import CONVENTIONS, Estimate
from bank.audit.tables import write_table
from bank.store import Bank

SHOWN_ITEMS = 1500
CURVES = 24
QUIZ_PICTURES = 30
CANDIDATES = 30
"""Rows and pictures on a page; the tables beside it have them all."""
FEWEST_FOR_CURVES = 30
"""Answers under which thirds are not drawn: fewer than ten pupils each. Our own choice."""
CANDIDATE_PUPILS = 2


class ResultRow(NamedTuple):
    """An item as the page's table shows it."""

    item: str
    version: int
    title: str
    n: int
    facility: str
    band: str
    rest_r: str
    difficulty: str
    fit: str
    wrong: str
    """What the wrong answers fit, as shares."""
    omitted: str
    not_reached: str
    flags: tuple[str, ...]
    decision: str


class Group(NamedTuple):
    """A table of items."""

    title: str
    rows: tuple[ResultRow, ...]


class Candidate(NamedTuple):
    """A wrong answer that fits no mistake of the library."""

    item: str
    asked: str
    key: str
    response: str
    n: int
    wrong: int


def write_after(
    audit: AfterUse, bank: Bank, decisions: Sequence[Decision], folder: Path, made_on: str, calibrated_words: str = "",
    cautions: Sequence[str] = (),
) -> tuple[Path, ...]:
    """Write ``audit.html``, ``audit.csv``, ``options.csv`` and ``mistakes.csv`` into *folder*; return their paths.

    *cautions* are for whoever hands the page on.

    Raises:
        BadInput: a file cannot be written.
    """
    paths = tuple(folder / name for name in ("audit.html", "audit.csv", "options.csv", "mistakes.csv"))
    held = standing(decisions)
    texts = ItemTexts(bank)
    fingerprint = audit.before.info.fingerprint
    write_table(paths[1], ITEM_HEADER, item_rows(audit, held), fingerprint)
    write_table(paths[2], OPTION_HEADER, option_rows(audit, texts), fingerprint)
    write_table(paths[3], MISTAKE_HEADER, mistake_rows(audit), fingerprint)
    found = fixes(audit, texts, bank, folder)
    _write_page(audit, texts, decisions, held, paths[0], made_on, calibrated_words, cautions, found)
    return paths


def _write_page(
    audit: AfterUse, texts: ItemTexts, decisions: Sequence[Decision], held: Mapping[tuple[str, int], Decision],
    path: Path, made_on: str, calibrated_words: str, cautions: Sequence[str], to_fix: tuple[list[Fix], int],
) -> None:
    before = audit.before
    found, left = to_fix
    compared = [item.predicted for item in audit.items if item.predicted is not None]
    rows = flag_rows(audit)
    groups, more = _groups(audit, held)
    curves, curve_words = _curves(audit, texts)
    candidates = _candidates(audit, texts)
    used = sorted({one.convention for item in audit.items for one in _estimates(item)} | {"alpha", "sem"})
    write_page(
        path, "after.html", audit=audit, info=before.info, sections=_SECTIONS, estimate=estimate_words,
        facts=(("Made on", made_on), ("Predicted for", before.class_kind.name.replace("-", " ")),
               ("Plan", before.info.plan), ("Seed", before.info.seed), ("Bank", before.info.fingerprint),
               ("Tool version", before.info.tool_version)),
        warned=[*before_use_of_figures(audit), *cautions], fixes=found, more_fixes=left,
        look=list(first_look(audit, held)), flagged=[item for item in audit.items if item.flags],
        flag_groups=flag_groups(rows), flag_words=_flag_words(audit),
        withheld=audit.withheld_words, settings=audit.settings, compare=audit.compare,
        basis_words=BASIS_WORDS,
        scatter=predicted_observed(compared, before.class_kind.words) if compared else None,
        quiz_pictures=_quiz_pictures(audit), calibrated_words=calibrated_words, map_picture=_map(audit),
        families=_families(audit), no_families=audit.no_families, groups_compared=_groups_compared(audit),
        curves=curves, curve_words=curve_words,
        mistake_picture=_mistakes(audit), unexplained=candidates, decisions=decisions,
        versions={one.identifier: one.version for one in before.items}, groups=groups,
        shown_items=sum(len(group.rows) for group in groups), more_items=more,
        conventions=[(name.replace("-", " "), CONVENTIONS[name]) for name in used if name in CONVENTIONS],
    )


_SECTIONS = (
    ("fix", "Fix these items"), ("look", "At a glance"), ("flags", "Flags"), ("predicted", "Predicted against observed"),
    ("map", "Items and quizzes"), ("curves", "Who chose what"), ("mistakes", "Mistakes"), ("decisions", "Decisions"),
    ("items", "All items"),
    ("how", "How it was counted"),
)


def estimate_words(found: Estimate, *, share: bool = False) -> str:
    """Return an estimate with its interval in words, or why there is none."""
    if found.value is None:
        return f"\u2013 ({found.why})" if found.why else "\u2013"
    write = percent if share else decimals
    if found.low is None or found.high is None:
        return write(found.value)
    return f"{write(found.value)} ({write(found.low)} to {write(found.high)})"


def _estimates(item: ItemResult) -> tuple[Estimate, ...]:
    found = item.statistics
    return found.facility, found.rest_r, found.upper_lower, found.omitted, found.not_reached, item.observed


def _flag_words(audit: AfterUse) -> str:
    uses = sorted({form.use for form in audit.forms if form.use})
    return f"Judged for the declared use: {', '.join(uses)}." if uses else ""


def first_look(audit: AfterUse, held: Mapping[tuple[str, int], Decision]) -> Iterator[tuple[str, str]]:
    """Give what the reader should know first, as (``ok`` or ``look``, words)."""
    yield from flag_lines(audit)
    judged = audit.coverage
    if judged is not None:
        kind = "look" if judged.is_poor else "ok"
        yield kind, (
            f"{judged.inside} of {judged.items} items within their predicted band"
            + (f"; bands widened by {decimals(judged.factor)}" if judged.factor > 1 else "")
        )
    known = mistakes.load()
    top = [row for row in audit.classes if not row.group and row.pupils >= 2][:3]
    for row in top:
        name = known[row.mistake].name if row.mistake in known else row.mistake
        yield "look", f"{row.pupils} pupils repeatedly made errors consistent with \u201c{name}\u201d"
    out = {item.item for item in audit.items
           if (item.item, item.version) in held and held[item.item, item.version].decision in OUT_OF_USE}
    if out:
        yield "look", f"{len(out)} suspended or retired items were used: {', '.join(sorted(out)[:8])}"
    if audit.rejected:
        yield "look", f"{len(audit.rejected)} rows did not count: see How it was counted"
    if audit.unseen:
        yield "ok", f"{audit.unseen} items of the bank have no answers here, or too few to be shown"


def _quiz_pictures(audit: AfterUse) -> list[Picture]:
    made = []
    for place, form in enumerate(audit.forms[:QUIZ_PICTURES]):
        found = [item.predicted for item in form.items if item.predicted is not None]
        if found:
            made.append(quiz_rows(f"quiz-{place}-rows", form.title, found))
    return made


def _map(audit: AfterUse) -> Picture | None:
    predictions = audit.before.predictions
    place_of = predictions.place_of()
    found = [
        Mapped(item.item, float(predictions.middle[place_of[item.item]]) - predictions.ability,
               item.predicted.observed, item.statistics.n, tuple(flag.name for flag in item.flags))
        for item in audit.items if item.predicted is not None
    ]
    kind = predictions.class_kind

    def expected(difficulty: float) -> float:
        return float(expected_share(np.array([difficulty]), 0.0, kind.sd)[0])

    return item_map(found, expected, kind.words) if found else None


def _families(audit: AfterUse) -> list[tuple[str, ...]]:
    """Return a row a template: siblings, mean, spread, and how far single siblings are pulled to the mean."""
    titles = {facts.template: facts.title for facts in audit.before.items}
    return [
        (titles.get(one.family, one.family), str(one.spread.n), estimate_words(one.mean), estimate_words(one.spread),
         "common to all" if one.common else "its own",
         ", ".join(decimals(sibling.pooled) for sibling in sorted(one.siblings, key=lambda one: one.pooled)))
        for one in sorted(audit.families, key=lambda one: -(one.spread.value or 0.0))
    ]


def _groups_compared(audit: AfterUse) -> list[tuple[str, ...]]:
    """Return a row an item of the comparison of two groups, flagged ones first."""
    rows = [
        (one.letter != "C", one.letter != "B", one.item, dif.quiz, f"{one.n_reference} / {one.n_focal}",
         estimate_words(one.d_dif), "\u2013" if one.p_adjusted is None else decimals(one.p_adjusted, 3),
         one.letter or one.why)
        for dif in audit.groups_compared for one in dif.items
    ]
    return [row[2:] for row in sorted(rows)]


def _curves(audit: AfterUse, texts: ItemTexts) -> tuple[list[Picture], str]:
    able = [item for item in audit.items if item.statistics.n >= FEWEST_FOR_CURVES and item.statistics.responses]
    if not able:
        return [], (
            f"Withheld: no item has {FEWEST_FOR_CURVES} answers, so a third would be fewer than ten pupils. The tables"
            " have the plain counts."
        )
    first = sorted(able, key=lambda item: min((flag.rank for flag in item.flags), default=100))
    made = []
    for place, item in enumerate(first[:CURVES]):
        curves = [
            Curve(texts.label(item.item, item.version, row.response), row.thirds, row.n, row.is_key,
                  "; ".join(mistake_name(name) for name in texts.fits(item.item, item.version, row.response)))
            for row in item.statistics.responses
        ]
        made.append(option_curves(f"curve-{place}", f"{item.item}", curves, item.statistics.n))
    more = f" of {len(able)}" if len(able) > len(made) else ""
    flagged = "flagged ones first; " if any(item.flags for item in able) else ""
    return made, f"{len(made)}{more} items, {flagged}the rest stand in options.csv."


def mistake_name(identifier: str) -> str:
    """Return the name of a mistake for people, its id where this version does not know it."""
    known = mistakes.load()
    return known[identifier].name if identifier in known else identifier


def _mistakes(audit: AfterUse) -> Picture | None:
    groups = [name for name, _ in audit.groups if name]
    by_group = {(row.group, row.mistake): row for row in audit.classes}
    bars = []
    for row in audit.classes:
        if row.group or not row.shown:
            continue
        shares = tuple(
            None if (found := by_group.get((group, row.mistake))) is None or found.possible < audit.least
            else found.shown / found.possible for group in groups
        )
        bars.append(MistakeBar(mistake_name(row.mistake), row.shown, row.possible, row.low, row.high, row.guessed,
                               row.pupils if audit.explained.one_by_one else None, shares))
    return mistake_picture(bars, groups) if bars else None


def _candidates(audit: AfterUse, texts: ItemTexts) -> list[Candidate]:
    return [
        Candidate(one.item, texts.asked(one.item), texts.key(one.item), one.response, one.n, one.wrong)
        for one in audit.explained.unexplained if one.n >= CANDIDATE_PUPILS
    ][:CANDIDATES]


def _groups(audit: AfterUse, held: Mapping[tuple[str, int], Decision]) -> tuple[list[Group], int]:
    groups, room, more = [], SHOWN_ITEMS, 0
    wrong = audit.explained.of_items()
    for form in audit.forms:
        rows = tuple(
            _row(item, wrong.get((item.item, item.version), NO_WRONG), held) for item in form.items[:room]
        )
        if rows:
            groups.append(Group(f"{form.title}: {form.quiz}", rows))
        more += max(0, len(form.items) - room)
        room = max(0, room - len(form.items))
    return groups, more


def _wrong_words(fits: ItemWrong) -> str:
    """Return which mistakes account for which share of the wrong answers, the commonest three."""
    if not fits.wrong:
        return "\u2013"
    parts = [f"{mistake_name(name)} {percent(n / fits.wrong)} %" for name, n in fits.fits[:3]]
    if fits.none:
        parts.append(f"none {percent(fits.none / fits.wrong)} %")
    return f"{fits.wrong}: " + "; ".join(parts)


def _fit_words(item: ItemResult) -> str:
    if item.infit.value is None or item.outfit.value is None:
        return "\u2013"
    return f"{decimals(item.infit.value)} / {decimals(item.outfit.value)}"


def _row(item: ItemResult, fits: ItemWrong, held: Mapping[tuple[str, int], Decision]) -> ResultRow:
    found, decided = item.statistics, held.get((item.item, item.version))
    return ResultRow(
        item.item, item.version, item.facts.title if item.facts else "not in this bank's version", found.n,
        estimate_words(found.facility, share=True),
        between(item.predicted.low, item.predicted.high) if item.predicted else "\u2013",
        estimate_words(item.rest_r), estimate_words(item.observed), _fit_words(item),
        _wrong_words(fits),
        percent(found.omitted.value) + " %" if found.omitted.value is not None else "\u2013",
        percent(found.not_reached.value) + " %" if found.not_reached.value is not None else "\u2013",
        tuple(flag.name for flag in item.flags), decided.decision if decided else "",
    )


def terminal_lines(audit: AfterUse, held: Mapping[tuple[str, int], Decision]) -> Iterator[str]:
    """Give the summary for a terminal of 80 columns, lines unwrapped."""
    before = audit.before
    yield f"Audit after use: {before.info.title} (plan {before.info.plan}, seed {before.info.seed})"
    yield f"Bank {before.info.fingerprint}."
    if audit.simulated:
        yield "SIMULATED RESULTS: no pupil gave these answers."
    rows = f"{audit.rows:,} rows counted, {len(audit.rejected):,} not"
    yield f"{audit.pupils:,} pupils, {len(audit.forms)} {'quiz' if len(audit.forms) == 1 else 'quizzes'}, {rows}."
    yield ""
    wide = max((len(form.quiz) for form in audit.forms), default=4)
    yield f"  {'quiz':<{wide}}  {'pupils':>7}  {'items':>5}  {'mean':>5}  alpha"
    for form in audit.forms:
        s = form.statistics
        mean = "-" if s.mean is None else f"{s.mean:.1f}"
        yield f"  {form.quiz:<{wide}}  {s.persons:>7,}  {len(form.items):>5}  {mean:>5}  {estimate_words(s.alpha)}"
    yield ""
    for words in before_use_of_figures(audit):
        yield f"! {words}"
    for kind, words in first_look(audit, held):
        yield f"{'+' if kind == 'ok' else '!'} {words}"
    for words in audit.withheld_words:
        yield f"- {words}"
