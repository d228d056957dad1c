"""The page put together and written: groups of items in the order of the plan, templates, style and script inlined."""

from __future__ import annotations

import base64
import hashlib
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from bank.decisions import Decision
from bank.difficulty import basis, load_weights
from bank.files import replacing
from bank.model import Quiz
from bank.review import sample as sampling
from bank.review import views, writing
from bank.review.overview import SCALE, overview
from bank.store import own_setting
from bank.summary import BANDS, Bank, BuildSummary, completed, mistakes_of, reviewed
from bank.trees import WEIGHTS

HERE = Path(__file__).parent


class Part(NamedTuple):
    """A section of a quiz, or the items of one template; items are read while the page is being written."""

    title: str
    items: Iterator[views.ItemView]


class Group(NamedTuple):
    """A quiz, or all items of a template that are in no quiz."""

    anchor: str
    title: str
    quiz: Quiz | None
    shown: int
    places: int
    parts: tuple[Part, ...]


class Week(NamedTuple):
    """A week of the plan; 0 stands for what is in no quiz."""

    number: int
    groups: tuple[Group, ...]


@cache
def prepared() -> Environment:
    """Return what the page is made with, its templates compiled; may be asked for beforehand, while others work."""
    environment = Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=False,
        auto_reload=False,
    )
    environment.globals.update(scale=SCALE, bands=BANDS, plain_words=writing.plain_words, responses=views.RESPONSES)
    environment.filters["thousands"] = lambda number: f"{number:,}"
    for name in environment.list_templates(extensions=["html"]):
        environment.get_template(name)
    return environment


def write_review(bank: Bank, summary: BuildSummary, path: Path, trail: Sequence[Decision] = ()) -> None:
    """Write the review page of *bank* to *path*: one HTML file that needs nothing else; *trail* says what was decided.

    It is written piece by piece beside *path* and takes its place when whole. The same bank and summary
    give the same bytes.

    Raises:
        BadInput: the file cannot be written (``cannot-write``); an older one stays as it was.
    """
    write_pieces(pieces_of(bank, summary, trail), path)


def write_pieces(pieces: Iterable[str], path: Path) -> None:
    """Write the *pieces* of a page to *path*, as `write_review` does."""
    with replacing(path) as part, part.open("w", encoding="utf-8", newline="\n") as page:
        page.writelines(pieces)


def pieces_of(bank: Bank, summary: BuildSummary, trail: Sequence[Decision] = ()) -> Iterator[str]:
    """Give the review page of *bank* piece by piece."""
    summary = completed(summary, bank)
    decided = reviewed(summary.findings, bank, trail)
    sample = sampling.choose(bank)
    seen: set[str] = set()
    style, script = inlined("review.css"), inlined("review.js")
    return prepared().get_template("page.html").generate(
        info=bank.info,
        basis=basis(load_weights(own_setting(bank.info, WEIGHTS))),
        bank=bank,
        overview=overview(bank, summary, sample, decided),
        decided=decided,
        summary=summary,
        sample=sample,
        shown_ids=shown_ids(sample),
        weeks=weeks(bank, sample, seen),
        catalogue=lambda: map(views.mistake_view, sorted(seen)),
        titles={template: family.title for template, family in sorted(bank.families.items())},
        topics=sorted({family.topic for family in bank.families.values()}),
        used=[(identifier, views.mistake_view(identifier).name) for identifier, _ in summary.mistake_use],
        style=style,
        script=script,
        policy=security_policy(style, script),
    )


def shown_ids(sample: sampling.Sample) -> frozenset[str]:
    """Return the ids of the items that have a place on the page."""
    groups = (*sample.by_quiz.values(), *sample.by_template.values())
    return frozenset(identifier for group in groups for identifier in group)


def inlined(name: str) -> Markup:
    """Return a file of this room as it stands in the page; its text is ours and holds no end tag."""
    return Markup((HERE / name).read_text(encoding="utf-8").replace("\r\n", "\n"))


def security_policy(style: str, script: str) -> str:
    """Return a policy that lets exactly this style and this script work and nothing be fetched or sent."""
    return (
        f"default-src 'none'; style-src {_digest(style)}; script-src {_digest(script)}; img-src data:; "
        "base-uri 'none'; form-action 'none'"
    )


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"


class _Reader:
    """Reads items as the page comes to them; keeps which addresses were given and which mistakes were met."""

    def __init__(self, bank: Bank, seen: set[str]) -> None:
        self._bank = bank
        self._seen = seen
        self._places: Counter[str] = Counter()

    def views(self, numbered: Sequence[tuple[int, str]]) -> Iterator[views.ItemView]:
        """Give the views of the items; the second place of an item gets an address of its own."""
        items = self._bank.items([identifier for _, identifier in numbered])
        for (number, identifier), item in zip(numbered, items, strict=True):
            self._places[identifier] += 1
            again = f"~{self._places[identifier]}" if self._places[identifier] > 1 else ""
            self._seen.update(mistakes_of(item))
            yield views.item_view(item, self._bank.info.locale, number, f"item-{identifier}{again}")


def weeks(bank: Bank, sample: sampling.Sample, seen: set[str]) -> tuple[Week, ...]:
    """Return the weeks of the plan in order, then what is in no quiz.

    While the items are being read, the ids of their mistakes are added to *seen*.
    """
    reader = _Reader(bank, seen)
    ordered = sorted(bank.quizzes, key=lambda quiz: quiz.week)
    made = [
        Week(number, tuple(_quiz_group(reader, quiz, sample) for quiz in quizzes))
        for number, quizzes in groupby(ordered, key=lambda quiz: quiz.week)
    ]
    if sample.by_template:
        groups = tuple(
            _template_group(reader, template, bank.families[template].title, identifiers)
            for template, identifiers in sample.by_template.items()
        )
        made.append(Week(0, groups))
    return tuple(made)


def _quiz_group(reader: _Reader, quiz: Quiz, sample: sampling.Sample) -> Group:
    shown = sample.by_quiz[quiz.identifier]
    wanted, parts, number = set(shown), [], 0
    for section in quiz.sections:
        numbered = [(number + place, item) for place, item in enumerate(section.items, 1) if item in wanted]
        number += len(section.items)
        if numbered:
            parts.append(Part(section.title, reader.views(numbered)))
    return Group(f"quiz-{quiz.identifier}", quiz.title, quiz, len(shown), number, tuple(parts))


def _template_group(reader: _Reader, template: str, title: str, identifiers: Sequence[str]) -> Group:
    numbered = list(enumerate(identifiers, 1))
    part = Part("", reader.views(numbered))
    return Group(f"template-{template}", title, None, len(identifiers), len(identifiers), (part,))
