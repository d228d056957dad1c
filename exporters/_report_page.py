"""The page of a portability report: one file, readable without network, on paper and by a screen reader."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from exporters._manifest import made_by
from exporters._portability import EFFECTS, LEFT_OUT
from exporters._reports import CARRIED, LISTED, Report, Row
from exporters._text import plain_text

STYLE = """
:root { color-scheme: light dark; --paper: #fff; --ink: #17202a; --soft: #4d5a67; --line: #cfd6dd; --wash: #f2f5f8;
  --warn: #8a2f14; --warn-wash: #fbeee9; --link: #1c568f; }
@media (prefers-color-scheme: dark) { :root { --paper: #171c22; --ink: #e6ebf0; --soft: #a6b2be; --line: #333d47;
  --wash: #1f262e; --warn: #f0a48c; --warn-wash: #35201a; --link: #93c2f0; } }
body { margin: 0 auto; max-width: 62rem; padding: 1.5rem; background: var(--paper); color: var(--ink);
  font: 1rem/1.5 system-ui, "Liberation Sans", sans-serif; overflow-wrap: break-word; }
h1 { font-size: 1.75rem; line-height: 1.2; margin: 0 0 .5rem; text-wrap: balance; }
h2 { font-size: 1.2rem; margin: 2rem 0 .5rem; }
p { max-width: 46rem; margin: .5rem 0; }
a { color: var(--link); }
:focus-visible { outline: 3px solid var(--link); outline-offset: 2px; }
.soft, caption { color: var(--soft); font-size: .875rem; }
.scroll { overflow-x: auto; }
table { border-collapse: collapse; width: 100%; margin: .5rem 0 1rem; }
caption { text-align: left; padding: .25rem 0; }
th, td { text-align: left; vertical-align: top; padding: .4rem .6rem .4rem 0; border-bottom: 1px solid var(--line); }
thead th { border-bottom: 2px solid var(--soft); font-size: .875rem; }
tbody th { font-weight: 400; min-width: 7rem; }
code { overflow-wrap: anywhere; font-family: ui-monospace, "Liberation Mono", monospace; font-size: .8125rem; }
.loud { border: 2px solid var(--warn); background: var(--warn-wash); padding: .25rem 1rem .5rem; margin: 1.5rem 0; }
.loud h2 { color: var(--warn); margin-top: .5rem; }
ul { margin: .5rem 0; padding-left: 1.25rem; }
details { margin: .25rem 0; } summary { cursor: pointer; color: var(--soft); font-size: .875rem; }
@page { margin: 15mm; }
@media print { body { max-width: none; padding: 0; font-size: 10pt; } tr { break-inside: avoid; }
  h2 { break-after: avoid; } thead { display: table-header-group; } .scroll { overflow: visible; } }
"""


def document(title: str, body: str, language: str = "en") -> str:
    """Return a page with *title*, a text, and *body*, markup."""
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language)}">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{escape(title)}</title>\n<style>{STYLE}</style>\n</head>\n"
        f"<body>\n<main>\n{body}</main>\n</body>\n</html>\n"
    )


def table(caption: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table of cells of markup; the first cell of a row is its header."""
    head = "".join([f'<th scope="col">{escape(text)}</th>' for text in heads])
    lines = "".join([
        f'<tr><th scope="row">{first}</th>{"".join([f"<td>{text}</td>" for text in rest])}</tr>\n'
        for first, *rest in rows
    ])  # fmt: skip
    return (
        f'<div class="scroll" tabindex="0" role="region" aria-label="{escape(caption)}"><table>\n'
        f"<caption>{escape(caption)}</caption>\n<thead><tr>{head}</tr></thead>\n"
        f"<tbody>\n{lines}</tbody>\n</table></div>\n"
    )


def page(report: Report) -> str:
    """Return the page of *report*."""
    what = f"the bank “{report.title}”" if report.is_bank else f"“{report.title}”"
    title = f"What {report.target.name} cannot carry of {what}"
    parts = [
        f"<h1>{escape(title)}</h1>\n<p class=\"soft\">{escape(report.target.title)}. {escape(report.info.title)}. "
        f"{escape(made_by(report.info))}</p>\n",
        _summary(report), _left_out(report), _remarks(report), _whole(report), _items(report),
    ]  # fmt: skip
    return document(title, "".join(parts))


def _summary(report: Report) -> str:
    if not report.items:
        return "<p>There are no items, so there is nothing to carry.</p>\n"
    counted = []
    for effect, means in {**EFFECTS, CARRIED: "is in the package as it is in the bank"}.items():
        number = report.effects[effect]
        if number:
            counted.append(f"<li><strong>{_number(number)} {escape(effect)}</strong>: each {escape(means)}.</li>")
    said = f"{_items_word(report.items)}, each counted once, by the gravest remark on it:"
    return f"<p>{said}</p>\n<ul>{''.join(counted)}</ul>\n"


def _left_out(report: Report) -> str:
    if not report.left_out:
        return ""
    rows = [
        (escape(reason), _number(report.reasons[reason]), _named(names, report.reasons[reason]))
        for reason, names in report.refused.items()
    ]
    nothing = "<p><strong>No item is left, so the package was not written.</strong></p>\n"
    none = nothing if report.left_out == report.items else ""
    return (
        f'<section class="loud"><h2>Left out: {_items_word(report.left_out)}</h2>\n{none}'
        "<p>They could not be marked right in this target, so they are not in the package. The quiz is shorter by "
        "them: choose other items, or another target.</p>\n"
        f"{table('Items left out, and why', ('Why', 'Items', 'Which'), rows)}</section>\n"
    )


def _remarks(report: Report) -> str:
    if not report.counts:
        return "<h2>Changed or not carried</h2>\n<p>There is no remark on any item.</p>\n"
    rows = [
        (f"{escape(remark.says)} <code>{escape(remark.code)}</code>", escape(remark.effect),
         _number(report.counts[remark]), _named(report.held[remark], report.counts[remark]))
        for effect in EFFECTS
        for remark in report.target.remarks if remark in report.counts and remark.effect == effect
    ]  # fmt: skip
    return "<h2>Changed or not carried</h2>\n" + table(
        "Remarks on items, the gravest first", ("What", "Effect", "Items", "Which"), rows
    )


def _whole(report: Report) -> str:
    if not report.quiz_remarks:
        return ""
    rows = [(f"{escape(one.says)} <code>{escape(one.code)}</code>", escape(one.effect)) for one in report.quiz_remarks]
    return "<h2>Of the whole</h2>\n" + table("Remarks on the package as a whole", ("What", "Effect"), rows)


def _items(report: Report) -> str:
    if not report.rows:
        return ""
    language = escape(report.info.locale.language)
    rows = [
        (f"<code>{escape(row.identifier)}</code>", escape(row.kind),
         f'<span lang="{language}">{escape(_short(_stem(report, row)))}</span>', _effect(row))
        for row in report.rows[:LISTED]
    ]  # fmt: skip
    more = report.items - len(rows)
    note = f"<p>{_items_word(more)} more stand in the table beside this page (CSV).</p>\n" if more else ""
    return "<h2>Item by item</h2>\n" + table(
        "Items in their order", ("Item", "Kind", "Stem", "Here"), rows
    ) + note


def _effect(row: Row) -> str:
    if row.refused:
        return f"<strong>{LEFT_OUT}</strong>: {escape(row.refused)}"
    codes = ", ".join([f"<code>{escape(remark.code)}</code>" for remark in row.remarks])
    return f"{escape(row.effect)}: {codes}" if codes else CARRIED


def _named(names: Sequence[str], count: int) -> str:
    """Return the items' names, behind a summary where they are many."""
    listed = ", ".join([f"<code>{escape(name)}</code>" for name in names])
    more = f" and {_number(count - len(names))} more" if count > len(names) else ""
    if len(names) <= 4:
        return listed + more
    return f"<details><summary>{_items_word(count)}</summary>{listed}{more}</details>"


def _stem(report: Report, row: Row) -> str:
    return " ".join([plain_text(line, report.info.locale) for line in row.stem])


def _short(text: str) -> str:
    return text if len(text) <= 160 else text[:159] + "…"


def _number(count: int) -> str:
    return f"{count:,}".replace(",", "\u202f")


def _items_word(count: int) -> str:
    return f"{_number(count)} item" if count == 1 else f"{_number(count)} items"
