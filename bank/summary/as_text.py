"""The summary as plain text for a terminal of 80 columns."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby
from string import ascii_uppercase

from bank import mistakes
from bank.decisions import Decision
from bank.summary.counts import completed
from bank.summary.records import (
    BANDS, SEVERITIES, WHOLE_BANK, Bank, BuildSummary, FamilyYield, GuessResult, StrategyResult,
)
from bank.summary.reviewed import Reviewed, reviewed, reviewed_lines

WIDTH = 80
"""Columns of the text."""
_WORST = 3
_LEAST = 3
_DECIDED = 12
_ALL_YIELDS = 80
"""Up to so many templates all their draws are listed; of more, the thin ones."""
_THIN = 5
_KINDS = {
    "choice": "choose one", "typed": "typed number", "choose-several": "choose several", "put-in-order": "put in order",
    "match-pairs": "match pairs", "choose-in-line": "choose in the line", "find-mistake": "find the mistake",
}


def terminal_summary(summary: BuildSummary, bank: Bank, trail: Sequence[Decision] = ()) -> str:
    """Return *summary* in a few lines of at most `WIDTH` columns, ending with a newline.

    *trail* says what people have decided: warnings that they accepted are no longer counted as open.
    """
    summary = completed(summary, bank)
    lines = [
        *_heading(bank, summary.responses),
        "",
        *_band_table(summary.topic_bands),
        "",
        *_mistake_lines(summary.mistake_use, {family.operation for family in bank.families.values()}),
        *_key_lines(summary.key_places),
        *_panel_lines(summary.panel),
        *_guess_lines(summary.guessing),
        *_yield_lines(summary.families),
        *_before_lines(summary),
        *_finding_lines(summary, reviewed(summary.findings, bank, trail)),
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
    operations = operations | {identifier.partition(".")[0] for identifier, _ in used}  # of expressions offered
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
    yield f"guesser's panel: {counted(over, 'result')} of {len(panel):,} over the bound"
    whole = [result for result in panel if result.scope == WHOLE_BANK]
    if whole:
        first = whole[0]
        yield from _wrapped(
            f"  bank, {counted(first.items, 'item')} to choose in, chance {thousandths(first.expected_thousandths)},"
            f" bound {thousandths(first.bound_thousandths)}; hits of each strategy:", "    ",
        )
        cells = [
            f"{result.strategy} {thousandths(result.hits_thousandths)}{' OVER' if result.over else ''}" for result in whole
        ]
        wide = max(map(len, cells)) + 2
        columns = max(1, (WIDTH - 4) // wide)
        for start in range(0, len(cells), columns):
            yield ("    " + "".join(cell.ljust(wide) for cell in cells[start : start + columns])).rstrip()
    quizzes = [result for result in panel_order(panel) if result.scope != WHOLE_BANK]
    if quizzes:
        yield "  quizzes, nearest to their bounds:"
    for result in quizzes[:_WORST]:
        yield from _wrapped(
            f"    {result.scope}, {result.strategy}: {thousandths(result.hits_thousandths)} of"
            f" {counted(result.items, 'item')}, chance {thousandths(result.expected_thousandths)},"
            f" bound {thousandths(result.bound_thousandths)} {'OVER' if result.over else 'ok'}",
            "      ",
        )


def _guess_lines(results: Sequence[GuessResult]) -> Iterator[str]:
    """Yield for each further kind what blind guessing earns, and the strategy that earns most."""
    for kind, group in groupby(results, key=lambda result: result.kind):
        found = sorted(group, key=lambda result: -result.earned_thousandths)
        best = found[0]
        over = f"; {sum(result.over for result in found)} OVER the bound" if any(result.over for result in found) else ""
        yield from _wrapped(
            f"guessing, {_KINDS.get(kind, kind)}: {counted(best.items, 'item')}, blind"
            f" {thousandths(best.blind_thousandths)}; most by {best.strategy} {thousandths(best.earned_thousandths)},"
            f" bound {thousandths(best.bound_thousandths)}{over}",
        )


def _yield_lines(families: Sequence[FamilyYield]) -> Iterator[str]:
    if not families:
        return
    thin = [row for row in families if row.is_thin]
    shown = list(families) if len(families) <= _ALL_YIELDS else sorted(thin, key=lambda row: row.admissible)[:_THIN]
    yield f"draws by template, {len(thin):,} of {counted(len(families), 'template')} thin" + (":" if shown else "")
    if shown:
        yield f"  {'template':<28}{'kept':>6}{'admissible':>24}{'possible':>18}"
    for row in shown:
        name = row.template if len(row.template) <= 27 else row.template[:24] + "..."
        can = _large(row.admissible, row.admissible_error)
        yield f"  {name:<28}{row.kept:>6,}{can:>24}{_large(row.possible):>18}"
        if row.is_thin and row.refused:
            reason, count = max(row.refused, key=lambda pair: (pair[1], pair[0]))
            yield from _wrapped(f"      thin; refused most by {reason} ({count:,} of {row.tried:,} tried)", "        ")
    if len(shown) < len(thin):
        yield f"  and {len(thin) - len(shown):,} more"


def _large(value: int, error: int = 0) -> str:
    """Return a count with its error where it has one, in millions and more where it is large."""
    for size, name in ((10**12, " trillion"), (10**9, " billion"), (10**6, " million")):
        if value >= size:
            break
    else:
        return f"{value:,} \u00b1 {error:,}" if error else f"{value:,}"
    tenths = [(10 * one + size // 2) // size for one in (value, error)]
    told = [f"{one // 10:,}.{one % 10}" for one in tenths]
    return (f"{told[0]} \u00b1 {told[1]}" if error else told[0]) + name


def _before_lines(summary: BuildSummary) -> Iterator[str]:
    """Yield what became of items of the bank that lay there, about which something had been decided."""
    if summary.unread:
        yield from _wrapped(
            f"the earlier bank in this folder could not be read ({summary.unread}): nothing was compared with it or"
            " carried over"
        )
    if summary.before:
        yield f"decisions: {counted(len(summary.before), 'item')} of the earlier bank in this folder"
    for one in summary.before[:_DECIDED]:
        yield from _wrapped(f"  {one.item} ({one.decision}, {one.by}): {one.outcome}", "    ")
    if len(summary.before) > _DECIDED:
        yield f"  and {len(summary.before) - _DECIDED:,} more; see the review page"


def _finding_lines(summary: BuildSummary, decided: Reviewed) -> Iterator[str]:
    counts = {severity: 0 for severity in SEVERITIES}
    for finding in summary.findings:
        counts[finding.severity] = counts.get(finding.severity, 0) + 1
    for _, severity, count in summary.more:
        counts[severity] = counts.get(severity, 0) + count
    counts["warning"] -= len(decided.accepted)
    told = [counted(count, f"open {severity}" if severity == "warning" else severity) for severity, count in counts.items()]
    agreed = f"; {counted(len(decided.accepted), 'warning')} accepted" if decided.accepted else ""
    yield from _wrapped("findings: " + ", ".join(told) + agreed)
    for line in reviewed_lines(decided):
        yield from _wrapped(f"  {line}", "    ")
