"""The comparison as lines for a terminal, and as a page of its own in the look of the review page."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher
from itertools import zip_longest
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape

from bank.comparison import Comparison, Facet, Found, QuizChange
from bank.files import replacing
from bank.review import writing
from bank.review.page import inlined, security_policy

HERE = Path(__file__).parent
SHOWN = 400
"""Changed items that a page shows one by one, and rows of a table of items; the others are counted."""
LISTED = 8
"""Items and quizzes that a terminal names."""
AKIN = 0.5
"""Share that two lines have in common from which on they are compared word by word. Our own choice."""
_TOKENS = re.compile(r"\s+|[^\s]+")


class Marked(NamedTuple):
    """A facet with what differs marked in it."""

    name: str
    differs: bool
    old: Markup
    new: Markup


def marked(facet: Facet) -> Marked:
    """Return *facet* with what only one side has between ``del`` and ``ins``, word by word in lines that are akin."""
    sides: tuple[list[str], list[str]] = ([], [])
    lines = SequenceMatcher(None, facet.old, facet.new, autojunk=False)
    for kind, first, last, start, stop in lines.get_opcodes():
        for one, other in zip_longest(facet.old[first:last], facet.new[start:stop]):
            told = ([(one, False)], [(other, False)]) if kind == "equal" else _words(one, other)
            for side, parts, tag in zip(sides, told, ("del", "ins"), strict=True):
                if parts is not None:
                    side.append(_tagged(parts, tag))
    return Marked(facet.name, facet.differs, *[Markup("<br>".join(side)) for side in sides])


_Parts = list[tuple[str, bool]]
"""Parts of a line, each with whether only this side has it."""


def _words(one: str | None, other: str | None) -> tuple[_Parts | None, _Parts | None]:
    """Return both lines in parts; as wholes where they have less in common than not."""
    first, second = ([] if text is None else _TOKENS.findall(text) for text in (one, other))
    found = SequenceMatcher(None, first, second, autojunk=False)
    if found.ratio() < AKIN:
        return None if one is None else [(one, True)], None if other is None else [(other, True)]
    sides: tuple[_Parts, _Parts] = ([], [])
    for kind, start, stop, begin, end in found.get_opcodes():
        for side, tokens in ((sides[0], first[start:stop]), (sides[1], second[begin:end])):
            side.append(("".join(tokens), kind != "equal"))
    return sides


def _tagged(parts: _Parts, tag: str) -> str:
    return "".join([
        f"<{tag}>{escape(text)}</{tag}>" if differs and text.strip() else str(escape(text)) for text, differs in parts
    ])


def environment() -> Environment:
    """Return the environment of the page's template: everything is escaped, nothing may be missing."""
    made = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True, auto_reload=False,
    )
    made.filters["thousands"] = lambda number: f"{number:,}"
    made.filters["marked"] = marked
    made.globals.update(plain_words=writing.plain_words, shown=SHOWN)
    return made


def write_page(found: Comparison, path: Path) -> None:
    """Write the page about *found* to *path*: one HTML file that needs nothing else.

    Raises:
        BadInput: the file cannot be written (``cannot-write``); an older one stays as it was.
    """
    css = inlined("review.css") + Markup((HERE / "compare.css").read_text(encoding="utf-8"))
    pieces = environment().get_template("compare.html").generate(
        found=found, style=css, policy=security_policy(css, ""), look=list(at_a_glance(found)),
    )
    with replacing(path) as part, part.open("w", encoding="utf-8", newline="\n") as page:
        page.writelines(pieces)


def at_a_glance(found: Comparison) -> Iterator[str]:
    """Yield what the reader should know first."""
    if found.is_empty:
        yield "Nothing differs."
        return
    yield (f"{found.old.items:,} \u2192 {_items(found.new.items)}: {found.same:,} the same, {len(found.changed):,} changed, "
           f"{len(found.added):,} added, {len(found.gone):,} gone")
    if found.met is None:
        yield "No answers are kept beside either bank: whether pupils have met what changed is not known"
    elif any(found.met):
        yield f"Pupils have met {found.met[0]:,} of the items gone and {found.met[1]:,} of those changed"
    else:
        yield "Pupils have met none of the items gone or changed, by the answers kept"
    touched = len(found.quizzes)
    yield f"{touched} quiz{'zes' * (touched != 1)} touched" if touched else "No quiz is touched"
    yield from found.settings


def _items(count: int) -> str:
    return f"{count:,} item{'s' * (count != 1)}"


def terminal_lines(found: Comparison) -> Iterator[str]:
    """Yield the comparison for a terminal."""
    for name, side in (("old", found.old), ("new", found.new)):
        info = side.info
        yield f"{name}: {info.title} (plan {info.plan}, seed {info.seed}, fingerprint {info.fingerprint or 'none'})"
    yield from at_a_glance(found)
    for quiz in _some(found.quizzes):
        yield f"  {quiz_in_words(quiz)}" if isinstance(quiz, QuizChange) else f"  {quiz}"
    for title, rows in (
        ("changed", [f"{one.old.identifier} \u2192 {one.new.identifier}: {', '.join(one.what).lower()}{_met(one.old)}"
                     for one in found.changed]),
        ("added", [f"{one.identifier}: {one.question}" for one in found.added]),
        ("gone", [f"{one.identifier}: {one.question}{_met(one)}" for one in found.gone]),
    ):
        if rows:
            yield f"{title}:"
        for row in _some(rows):
            yield f"  {row}"


def _some(rows: Sequence[object]) -> Iterator[object]:
    yield from rows[:LISTED]
    if len(rows) > LISTED:
        yield f"and {len(rows) - LISTED:,} more"


def _met(one: Found) -> str:
    return " (pupils have met it)" if one.met else ""


def quiz_in_words(quiz: QuizChange) -> str:
    """Return in one line what differs in *quiz*."""
    if quiz.before is None:
        return f"{quiz.identifier}: new, {_items(quiz.after or 0)}"
    if quiz.after is None:
        return f"{quiz.identifier}: gone, it had {_items(quiz.before)}{_met_of(quiz)}"
    counts = ((len(quiz.changed), "changed"), (len(quiz.added), "added"), (len(quiz.gone), "gone"))
    told = [f"{count} {word}" for count, word in counts if count]
    return f"{quiz.identifier}: {quiz.before} \u2192 {_items(quiz.after)}: {', '.join([*told, *quiz.settings])}{_met_of(quiz)}"


def _met_of(quiz: QuizChange) -> str:
    return f"; pupils have met {quiz.met} of those changed or gone" if quiz.met else ""
