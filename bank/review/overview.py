"""The page's first part: counts, pictures, the guesser's panel, yields and findings, as rows for tables."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from string import ascii_uppercase
from typing import NamedTuple

from bank import mistakes
from bank.model import Finding
from bank.review.sample import Sample
from bank.summary import (
    BANDS, SEVERITIES, WHOLE_BANK, Bank, BuildSummary, FamilyYield, GuessResult, Reviewed, StrategyResult,
)
from bank.summary.as_text import panel_order, thousandths

SCALE = 1000
"""Width of every bar's drawing; lengths are whole numbers of these."""
FINDINGS_SHOWN = 25
"""Findings of one check that are written out; the rest are counted."""
REASONS_SHOWN = 6


class Bar(NamedTuple):
    """A part of a bar: from where, how long, and its class."""

    start: int
    length: int
    kind: str


class TopicRow(NamedTuple):
    """Items of one topic by predicted band."""

    topic: str
    counts: tuple[int, ...]
    total: int
    bars: tuple[Bar, ...]


class UseRow(NamedTuple):
    """How often a mistake stands behind an answer."""

    identifier: str
    name: str
    count: int
    length: int


class KeyRow(NamedTuple):
    """How often the key stands at one letter; *even* is where all letters alike would be."""

    letter: str
    count: int
    length: int
    even: int


class PanelRow(NamedTuple):
    """One strategy's result."""

    scope: str
    strategy: str
    items: int
    hits: str
    expected: str
    bound: str
    over: bool
    hit_length: int
    expected_at: int
    bound_at: int


class YieldRow(NamedTuple):
    """One template's yield, with the title it has in the bank."""

    found: FamilyYield
    title: str
    shown: int
    refused: tuple[tuple[str, int], ...]
    more_refused: int


class FindingGroup(NamedTuple):
    """Findings of one check with one severity."""

    check: str
    severity: str
    count: int
    shown: tuple[Finding, ...]


class Overview(NamedTuple):
    """All tables of the first part."""

    bands: tuple[str, ...]
    topics: tuple[TopicRow, ...]
    totals: tuple[int, ...]
    responses: Mapping[str, int]
    used: tuple[UseRow, ...]
    unused: tuple[str, ...]
    keys: tuple[tuple[str, tuple[KeyRow, ...]], ...]
    panel: tuple[PanelRow, ...]
    panel_quizzes: tuple[PanelRow, ...]
    guessing: tuple[PanelRow, ...]
    """What guessing earns on the further kinds of response; the scope is the kind."""
    over: int
    yields: tuple[YieldRow, ...]
    severities: tuple[tuple[str, int], ...]
    findings: tuple[FindingGroup, ...]


def overview(bank: Bank, summary: BuildSummary, sample: Sample, decided: Reviewed) -> Overview:
    """Return the tables of a summary that is complete; warnings that somebody accepted are not among the findings."""
    closed = {one.finding for one in decided.accepted}
    findings = [one for one in summary.findings if one not in closed]
    bands, topics = topic_rows(summary.topic_bands)
    panel = [panel_row(result) for result in panel_order(summary.panel)]
    return Overview(
        bands=bands,
        topics=topics,
        totals=tuple(sum(row.counts[place] for row in topics) for place in range(len(bands))),
        responses=dict(summary.responses),
        used=use_rows(summary.mistake_use),
        unused=unused(bank, summary.mistake_use),
        keys=tuple((label, key_rows(places)) for label, places in summary.key_places),
        panel=tuple(row for row in panel if row.scope == WHOLE_BANK),
        panel_quizzes=tuple(row for row in panel if row.scope != WHOLE_BANK),
        guessing=tuple(map(guess_row, summary.guessing)),
        over=sum(row.over for row in panel) + sum(result.over for result in summary.guessing),
        yields=tuple(yield_row(found, bank, sample) for found in summary.families),
        severities=severity_counts(findings, summary.more),
        findings=finding_groups(findings, summary.more),
    )


def topic_rows(topic_bands: Iterable[tuple[str, str, int]]) -> tuple[tuple[str, ...], tuple[TopicRow, ...]]:
    """Return the bands and a row for each topic, its bar in parts by band, all on one scale."""
    counts = {(topic, band): count for topic, band, count in topic_bands}
    bands = (*BANDS, *sorted({band for _, band in counts} - set(BANDS)))
    topics = sorted({topic for topic, _ in counts})
    rows = {topic: tuple(counts.get((topic, band), 0) for band in bands) for topic in topics}
    longest = max(map(sum, rows.values()), default=0)
    made = []
    for topic, row in rows.items():
        start, bars = 0, []
        for band, count in zip(bands, row, strict=True):
            end = start + share_of(count, longest)
            if end > start:
                bars.append(Bar(start, end - start, f"b-{band}" if band in BANDS else "b-other"))
            start = end
        made.append(TopicRow(topic, row, sum(row), tuple(bars)))
    return bands, tuple(made)


def share_of(part: int, whole: int) -> int:
    """Return *part* of *whole* as a whole number of `SCALE`, 0 where there is no whole."""
    return part * SCALE // whole if whole else 0


def use_rows(used: Iterable[tuple[str, int]]) -> tuple[UseRow, ...]:
    """Return the mistakes used, most used first."""
    known = mistakes.load()
    ordered = sorted(used, key=lambda pair: (-pair[1], pair[0]))
    most = ordered[0][1] if ordered else 0
    return tuple(
        UseRow(identifier, known[identifier].name if identifier in known else identifier, count, share_of(count, most))
        for identifier, count in ordered
    )


def unused(bank: Bank, used: Iterable[tuple[str, int]]) -> tuple[str, ...]:
    """Return the names of the library's mistakes of the bank's operations that no item uses."""
    operations = {family.operation for family in bank.families.values()}
    met = {identifier for identifier, count in used if count}
    operations |= {identifier.partition(".")[0] for identifier in met}
    return tuple(
        f"{record.name} ({record.identifier})"
        for record in mistakes.load().values()
        if record.operation in operations and record.identifier not in met
    )


def key_rows(places: Sequence[int]) -> tuple[KeyRow, ...]:
    """Return a row for each letter; bars reach to the most frequent one."""
    most, total = max(places, default=0), sum(places)
    even = share_of(total, most * len(places))
    return tuple(
        KeyRow(letter, count, share_of(count, most), even)
        for letter, count in zip(ascii_uppercase, places, strict=False)
    )


def panel_row(result: StrategyResult) -> PanelRow:
    """Return a row of the guesser's panel, its bar on the scale of all items it was tried on."""
    whole = max(result.items * SCALE, result.hits_thousandths, result.bound_thousandths)
    return PanelRow(
        result.scope,
        result.strategy,
        result.items,
        thousandths(result.hits_thousandths),
        thousandths(result.expected_thousandths),
        thousandths(result.bound_thousandths),
        result.over,
        share_of(result.hits_thousandths, whole),
        share_of(result.expected_thousandths, whole),
        share_of(result.bound_thousandths, whole),
    )


def guess_row(result: GuessResult) -> PanelRow:
    """Return a row on guessing at a further kind of response, told as the panel's rows are."""
    return panel_row(StrategyResult(
        result.kind.replace("-", " "), result.strategy, result.items, result.earned_thousandths,
        result.blind_thousandths, result.bound_thousandths, result.over,
    ))


def yield_row(found: FamilyYield, bank: Bank, sample: Sample) -> YieldRow:
    """Return a template's yield with its title, and how many of its items the page shows."""
    family = bank.families.get(found.template)
    refused = sorted(found.refused, key=lambda pair: (-pair[1], pair[0]))
    return YieldRow(
        found,
        family.title if family else "",
        sample.templates_shown.get(found.template, 0),
        tuple(refused[:REASONS_SHOWN]),
        max(0, len(refused) - REASONS_SHOWN),
    )


More = Sequence[tuple[str, str, int]]
"""As `bank.summary.BuildSummary.more`."""


def severity_counts(findings: Iterable[Finding], more: More = ()) -> tuple[tuple[str, int], ...]:
    """Return how many findings there are of each severity, those without any too."""
    counts = dict.fromkeys(SEVERITIES, 0)
    for finding in findings:
        counts[finding.severity] = counts.get(finding.severity, 0) + 1
    for _, severity, count in more:
        counts[severity] = counts.get(severity, 0) + count
    return tuple(counts.items())


def finding_groups(findings: Iterable[Finding], more: More = ()) -> tuple[FindingGroup, ...]:
    """Return the findings by severity and check, the gravest first; *more* are only counted."""
    unlisted = {(severity, check): count for check, severity, count in more}
    groups: dict[tuple[int, str, str], list[Finding]] = {}
    for finding in findings:
        rank = SEVERITIES.index(finding.severity) if finding.severity in SEVERITIES else len(SEVERITIES)
        groups.setdefault((rank, finding.severity, finding.check), []).append(finding)
    for severity, check in unlisted:
        rank = SEVERITIES.index(severity) if severity in SEVERITIES else len(SEVERITIES)
        groups.setdefault((rank, severity, check), [])
    return tuple(
        FindingGroup(
            check, severity, len(found) + unlisted.get((severity, check), 0), tuple(sorted(found)[:FINDINGS_SHOWN])
        )
        for (_, severity, check), found in sorted(groups.items())
    )
