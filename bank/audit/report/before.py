"""The report before use: page, tables, and lines for the terminal."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import NamedTuple

from bank import checks, cues
from bank.audit.before import BeforeUse, ItemFacts
from bank.decisions import OUT_OF_USE, Decision, standing
from bank.audit.offers import offers_of
from bank.audit.pictures.bank_picture import bank_picture
from bank.audit.pictures.quiz_picture import quiz_picture
from bank.audit.pictures._svg import between
from bank.audit.report._page import write_page
from bank.audit.statistics.estimates import wilson
from bank.audit.tables import Value, write_table
from bank.audit.track import Entry
from bank.difficulty import BANDS
from bank.model import Finding
from bank.store import Bank
from bank.summary import Reviewed, reviewed

SHOWN_ITEMS = 1500
"""Rows of items on a page; nobody reads more there, and the table has them all."""
FINDINGS_SHOWN = 25
PANEL_SHOWN = 12


class ItemRow(NamedTuple):
    """An item as the page's table shows it."""

    facts: ItemFacts
    band: str
    low: float
    high: float
    findings: int
    decision: str


class Group(NamedTuple):
    """A table of items."""

    title: str
    rows: tuple[ItemRow, ...]


class FindingGroup(NamedTuple):
    """Findings of one check."""

    check: str
    severity: str
    rule: str
    why: str
    source: str
    count: int
    shown: tuple[Finding, ...]


def write_before(
    audit: BeforeUse, bank: Bank, decisions: Sequence[Decision], folder: Path, made_on: str,
    record: Sequence[Entry] = (),
) -> tuple[Path, ...]:
    """Write ``audit.html``, ``audit.csv``, ``options.csv`` and ``mistakes.csv`` into *folder*; return their paths.

    Raises:
        BadInput: a file cannot be written.
    """
    paths = tuple(folder / name for name in ("audit.html", "audit.csv", "options.csv", "mistakes.csv"))
    held = standing(decisions)
    fingerprint = audit.info.fingerprint
    agreed = reviewed(audit.findings, bank, decisions)
    write_table(paths[1], ITEM_HEADER, item_rows(audit, held, agreed), fingerprint)
    write_table(paths[2], OPTION_HEADER, option_rows(audit, bank), fingerprint)
    write_table(
        paths[3], ("mistake", "name", "operation", "items_offered", "items_foreseen", "quizzes"),
        [tuple(row) for row in (*audit.mistakes, *audit.unused)], fingerprint,
    )
    _write_page(audit, decisions, agreed, paths[0], made_on, record)
    return paths


def _write_page(
    audit: BeforeUse, decisions: Sequence[Decision], agreed: Reviewed, path: Path, made_on: str, record: Sequence[Entry],
) -> None:
    held = standing(decisions)
    groups, more = _groups(audit, held)
    closed = {one.finding for one in agreed.accepted}
    findings = [one for one in audit.findings if one not in closed]
    severities = Counter(one.severity for one in findings)
    write_page(
        path, "before.html", audit=audit, look=list(first_look(audit, held, agreed)),
        facts=(("Made on", made_on), ("Predicted for", plain(audit.class_kind.name)), ("Plan", audit.info.plan),
               ("Seed", audit.info.seed), ("Bank", audit.info.fingerprint), ("Tool version", audit.info.tool_version)),
        bank_picture=bank_picture(audit.topics, audit.class_kind.words),
        quiz_picture=quiz_picture(audit.quizzes, audit.predictions) if audit.quizzes else None,
        severities=[(name, severities[name]) for name in checks.SEVERITIES],
        findings=finding_groups(findings), agreed=agreed, strategies=len(cues.PANEL),
        panel=sorted(audit.panel, key=lambda one: -one.closeness)[:PANEL_SHOWN],
        decisions=decisions, versions={one.identifier: one.version for one in audit.items},
        record=[(one, share_words(one.inside, one.items)) for one in record], groups=groups,
        shown_items=sum(len(group.rows) for group in groups), more_items=more,
    )


def share_words(part: int, whole: int) -> str:
    """Return the 95 % binomial interval of a share in words, nothing where there is no whole."""
    ends = wilson(part / whole, whole) if whole else None
    return between(*ends) if ends else ""


def plain(identifier: str) -> str:
    """Return an id in words."""
    return identifier.replace("-", " ")


def first_look(
    audit: BeforeUse, held: Mapping[tuple[str, int], Decision], agreed: Reviewed
) -> Iterator[tuple[str, str]]:
    """Give what the reader should know first, as (``ok`` or ``look``, words)."""
    withdrawn = {one.item for one in agreed.out}
    errors = sum(one.severity == "error" and one.item not in withdrawn for one in audit.findings)
    if errors:
        yield "look", f"{errors} errors of checks: these items should not be used; build the bank anew"
    elif audit.errors:
        yield "look", f"{audit.errors} errors of checks, all of items that are suspended or retired"
    else:
        yield "ok", f"No error in {audit.checked} checks of {len(audit.items):,} items"
    if audit.over:
        yield "look", f"{len(audit.over)} results of guessers are over chance: see the panel before any graded use"
    else:
        yield "ok", "No guesser of the panel earns more than chance allows"
    if agreed.open_warnings:
        count = len(agreed.open_warnings)
        yield "look", f"{count} open warning{'s' * (count != 1)}: accept each by name (stemwright decide), or change it"
    if agreed.accepted:
        who = ", ".join(sorted({one.decision.by for one in agreed.accepted}))
        count = len(agreed.accepted)
        yield "ok", f"{count} warning{'s' * (count != 1)} accepted by {who}"
    if agreed.lapsed:
        names = ", ".join(dict.fromkeys([one.item for one in agreed.lapsed][:8]))
        yield "look", f"{len(agreed.lapsed)} accepted earlier, but changed since or no longer in the bank: {names}"
    if audit.gaps:
        yield "look", f"{len(audit.gaps)} gaps in what the bank covers: see Gaps"
    out = [one for one in audit.items if decision_on(one, held) in OUT_OF_USE]
    if out:
        names = ", ".join(one.identifier for one in out[:8])
        yield "look", f"{len(out)} items are suspended or retired and are left out of exports: {names}"
    if audit.predictions.widened > 1:
        yield "look", (
            f"Bands are widened by {audit.predictions.widened:.2f}: in earlier results fewer than 65 % of the items lay"
            " within them"
        )
    wide = [row for row in audit.quizzes
            if row.prediction.predicted_high_share - row.prediction.predicted_low_share > 0.6]
    if wide:
        yield "look", (
            f"For {len(wide)} of {len(audit.quizzes)} quizzes the predicted mean share right is hardly known (an"
            " interval of more than 60 points): pilot them before they count"
        )


def decision_on(facts: ItemFacts, held: Mapping[tuple[str, int], Decision]) -> str:
    """Return the decision that holds for an item's version, empty where there is none."""
    found = held.get((facts.identifier, facts.version))
    return found.decision if found else ""


def finding_groups(findings: Sequence[Finding]) -> list[FindingGroup]:
    """Return the findings by check, the gravest first, with the check's reason and source."""
    known = checks.load()
    groups: dict[tuple[str, str], list[Finding]] = {}
    for one in findings:
        groups.setdefault((one.severity, one.check), []).append(one)
    made = []
    for (severity, check), found in groups.items():
        record = known[check] if check in known else None
        rule, why, source = (record.rule, record.why, record.source) if record else ("", "", "")
        made.append(FindingGroup(check, severity, rule, why, source, len(found), tuple(found[:FINDINGS_SHOWN])))
    return made


def _groups(audit: BeforeUse, held: Mapping[tuple[str, int], Decision]) -> tuple[list[Group], int]:
    found = Counter(one.item for one in audit.findings)
    low, high = audit.predictions.low_share, audit.predictions.high_share

    def row(place: int) -> ItemRow:
        facts = audit.items[place]
        return ItemRow(
            facts, audit.predictions.bands[place], float(low[place]), float(high[place]), found[facts.identifier],
            decision_on(facts, held),
        )

    wanted = [(quiz.quiz.title, quiz.places) for quiz in audit.quizzes]
    loose = tuple(place for place, facts in enumerate(audit.items) if not facts.quizzes)
    if loose:
        wanted.append(("In no quiz", loose))
    groups, room, more = [], SHOWN_ITEMS, 0
    for title, places in wanted:
        if places[:room]:
            groups.append(Group(title, tuple(row(place) for place in places[:room])))
        more += max(0, len(places) - room)
        room = max(0, room - len(places))
    return groups, more


ITEM_HEADER = (
    "item", "version", "template", "title", "topic", "operation", "response", "options", "key", "quizzes", "words",
    "predicted_for", "predicted_weights_version", "predicted_band", "predicted_low_share", "predicted_high_share",
    "predicted_low_logit", "predicted_high_logit", "predicted_sd_logit", "errors", "warnings", "reports",
    "accepted_warnings", "mistakes",
    "decision", "decision_when", "decision_by", "decision_why",
)


def item_rows(
    audit: BeforeUse, held: Mapping[tuple[str, int], Decision], agreed: Reviewed
) -> Iterator[tuple[Value, ...]]:
    """Give one row an item, under `ITEM_HEADER`; logits are those of single pupils, the class's mean taken off.

    ``warnings`` are the open ones.
    """
    counts = Counter((one.item, one.severity) for one in audit.findings)
    closed = Counter(one.finding.item for one in agreed.accepted)
    counts.subtract({(item, "warning"): count for item, count in closed.items()})
    found = audit.predictions
    low, high, sd = (part.tolist() for part in (found.low_logit, found.high_logit, found.sd))
    low_share, high_share = found.low_share.tolist(), found.high_share.tolist()
    for place, one in enumerate(audit.items):
        decided = held.get((one.identifier, one.version))
        yield (
            one.identifier, one.version, one.template, one.title, one.topic, one.operation, one.response, one.options,
            one.key, " ".join(one.quizzes), one.words, audit.class_kind.name, found.version, found.bands[place],
            low_share[place], high_share[place], low[place] - found.ability, high[place] - found.ability, sd[place],
            *(counts[one.identifier, severity] for severity in checks.SEVERITIES), closed[one.identifier],
            " ".join(one.mistakes),
            *((decided.decision, decided.when, decided.by, decided.why) if decided else ("", "", "", "")),
        )


OPTION_HEADER = ("item", "version", "option", "answer", "is_key", "foreseen", "mistakes")


def option_rows(audit: BeforeUse, bank: Bank) -> Iterator[tuple[Value, ...]]:
    """Give one row an option, or a wrong answer that is foreseen, under `OPTION_HEADER`."""
    for item in bank.items(solutions=False):
        for one in offers_of(item, audit.info.locale):
            yield (
                item.identifier, item.family.version, one.identifier, one.text, one.is_key, one.foreseen,
                " ".join(one.mistakes),
            )


def terminal_lines(audit: BeforeUse, held: Mapping[tuple[str, int], Decision], agreed: Reviewed) -> Iterator[str]:
    """Give the summary for a terminal of 80 columns, lines unwrapped."""
    yield f"Audit before use: {audit.info.title} (plan {audit.info.plan}, seed {audit.info.seed})"
    yield f"Bank {audit.info.fingerprint}."
    if audit.info.invented:
        yield "Invented scenario."
    yield f"{len(audit.items):,} items, {len(audit.quizzes)} quizzes."
    yield f"Predicted, not observed, for {audit.class_kind.words}."
    yield ""
    yield "items by topic and predicted difficulty"
    first = max(map(len, [*(row.topic for row in audit.topics), "topic"]))
    yield f"  {'topic':<{first}}" + "".join(f"{band:>9}" for band in (*BANDS, "all")) + "   mean right, 80 %"
    for row in audit.topics:
        counts = "".join(f"{count or '-':>9}" for count in (*row.counts, row.total))
        low, high = row.prediction.predicted_low_share, row.prediction.predicted_high_share
        yield f"  {row.topic:<{first}}{counts}   {between(low, high)}"
    yield ""
    if audit.quizzes:
        yield "quizzes: predicted mean share right, 80 % interval"
        wide = max(len(row.quiz.identifier) for row in audit.quizzes)
        for row in audit.quizzes:
            low, high = row.prediction.predicted_low_share, row.prediction.predicted_high_share
            about = f"{row.quiz.identifier:<{wide}}  {row.quiz.use:<9}  {row.prediction.items:>3} items"
            yield f"  {about}  {between(low, high)}"
        yield ""
    for kind, words in first_look(audit, held, agreed):
        yield f"{'+' if kind == 'ok' else '!'} {words}"
