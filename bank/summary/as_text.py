"""The summary as plain text for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from string import ascii_uppercase

from bank import mistakes
from bank.summary.counts import completed
from bank.summary.records import BANDS, SEVERITIES, Bank, BuildSummary, FamilyYield, StrategyResult

WIDTH = 80
"""Columns of the text."""
_WORST = 3
_LEAST = 3
_THIN = 5
_KINDS = {"choice": "choose one", "typed": "typed number"}


def terminal_summary(summary: BuildSummary, bank: Bank) -> str:
    """Return *summary* in a few lines of at most `WIDTH` columns, ending with a newline."""
    summary = completed(summary, bank)
    lines = [
        *_heading(bank, summary.responses),
        "",
        *_band_table(summary.topic_bands),
        "",
        *_mistake_lines(summary.mistake_use, {family.operation for family in bank.families.values()}),
        *_key_lines(summary.key_places),
        *_panel_lines(summary.panel),
        *_yield_lines(summary.families),
        *_finding_lines(summary),
    ]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def panel_order(panel: Iterable[StrategyResult]) -> list[StrategyResult]:
    """Return the results, those nearest to or furthest over their bound first."""
    return sorted(panel, key=lambda result: (-result.closeness, result.scope, result.strategy))


def thousandths(value: int) -> str:
    """Return *value* thousandths as a decimal with one place, halves away from zero: 12345 gives ``12.3``."""
    tenths = (abs(value) + 50) // 100
    return f"{'-' if value < 0 and tenths else ''}{tenths // 10}.{tenths % 10}"


def counted(count: int, noun: str, plural: str = "") -> str:
    """Return *count* and the noun in the right number: ``1 item``, ``2,000 items``."""
    return f"{count:,} {noun if count == 1 else plural or noun + 's'}"


def _wrapped(text: str, indent: str = "  ") -> list[str]:
    return textwrap.wrap(text, WIDTH, subsequent_indent=indent, break_on_hyphens=False)


def _heading(bank: Bank, responses: Iterable[tuple[str, int]]) -> Iterator[str]:
    info = bank.info
    invented = ", invented scenario" if info.invented else ""
    yield from _wrapped(f"{info.title} (plan {info.plan}{invented})")
    yield from _wrapped(f"seed {info.seed}, locale {info.locale.identifier}, tool {info.tool_version}")
    kinds = ", ".join(f"{count:,} {_KINDS.get(kind, kind)}" for kind, count in responses)
    quizzes, templates = counted(len(bank.quizzes), "quiz", "quizzes"), counted(len(bank.families), "template")
    yield from _wrapped(f"{counted(bank.count, 'item')} ({kinds or 'none'}) in {quizzes} from {templates}")


def _band_table(topic_bands: Iterable[tuple[str, str, int]]) -> Iterator[str]:
    counts = {(topic, band): count for topic, band, count in topic_bands}
    topics = sorted({topic for topic, _ in counts})
    bands = [*BANDS, *sorted({band for _, band in counts} - set(BANDS))]
    first = min(max(map(len, [*topics, "topic"])), WIDTH - 10 * (len(bands) + 1))
    yield "items by topic and predicted difficulty (predicted, not observed)"
    yield f"  {'topic':<{first}}" + "".join(f"{name:>9}" for name in [*bands, "all"])
    for topic in topics:
        row = [counts.get((topic, band), 0) for band in bands]
        name = topic if len(topic) <= first else topic[: first - 3] + "..."
        yield f"  {name:<{first}}" + "".join(f"{count:>9,}" for count in [*row, sum(row)])
    totals = [sum(counts.get((topic, band), 0) for topic in topics) for band in bands]
    yield f"  {'all':<{first}}" + "".join(f"{count:>9,}" for count in [*totals, sum(totals)])


def _mistake_lines(used: Sequence[tuple[str, int]], operations: set[str]) -> list[str]:
    known = [record.identifier for record in mistakes.load().values() if record.operation in operations]
    text = f"mistakes: {len(used)} of {len(known)} in the library for these operations are used"
    least = sorted(used, key=lambda pair: (pair[1], pair[0]))[:_LEAST]
    if least:
        text += "; least: " + ", ".join(f"{identifier} ({count:,})" for identifier, count in least)
    return _wrapped(text)


def _key_lines(key_places: Iterable[tuple[str, tuple[int, ...]]]) -> Iterator[str]:
    for label, places in key_places:
        named = ", ".join(f"{letter} {count:,}" for letter, count in zip(ascii_uppercase, places, strict=False))
        yield from _wrapped(f"keys, {label}: {named}")


def _panel_lines(panel: Sequence[StrategyResult]) -> Iterator[str]:
    if not panel:
        return
    over = sum(result.over for result in panel)
    yield f"guesser's panel: {counted(over, 'result')} of {len(panel):,} over the bound; nearest to it:"
    for result in panel_order(panel)[:_WORST]:
        yield from _wrapped(
            f"  {result.scope}, {result.strategy}: {thousandths(result.hits_thousandths)} of"
            f" {counted(result.items, 'item')}, chance {thousandths(result.expected_thousandths)},"
            f" bound {thousandths(result.bound_thousandths)} {'OVER' if result.over else 'ok'}",
            "    ",
        )


def _yield_lines(families: Sequence[FamilyYield]) -> Iterator[str]:
    thin = sorted((row for row in families if row.is_thin), key=lambda row: (row.admissible, row.template))
    if not families:
        return
    yield f"yield: {len(thin):,} of {counted(len(families), 'template')} thin" + (":" if thin else "")
    for row in thin[:_THIN]:
        exact = f" +-{row.admissible_error:,}" if row.admissible_error else ""
        text = f"  {row.template}: possible {row.possible:,}, admissible {row.admissible:,}{exact}, kept {row.kept:,}"
        if row.refused:
            reason, count = max(row.refused, key=lambda pair: (pair[1], pair[0]))
            text += f"; refused most by {reason} ({count:,})"
        yield from _wrapped(text, "    ")
    if len(thin) > _THIN:
        yield f"  and {len(thin) - _THIN:,} more"


def _finding_lines(summary: BuildSummary) -> list[str]:
    counts = {severity: 0 for severity in SEVERITIES}
    for finding in summary.findings:
        counts[finding.severity] = counts.get(finding.severity, 0) + 1
    return _wrapped("findings: " + ", ".join(counted(count, severity) for severity, count in counts.items()))
