"""Banks over seeds, locales and plans, exported, and what stands in the files under each identifier.

Run as a script it prints how many identifiers were compared and how many collisions were found:
``python tests/identities.py --seeds 20``.
"""

from __future__ import annotations

import argparse
import importlib
import re
import tempfile
import zipfile
from collections import defaultdict
from collections.abc import Iterable, Iterator
from hashlib import blake2b
from pathlib import Path
from typing import NamedTuple

from lxml import etree

from bank.build import build
from bank.locales import FOLDER
from bank.plans import load_plan
from bank.store import Bank, Shelf

TEMPLATES = {
    "narrow-sum": """
template: narrow-sum
version: 1
title: A sum
topic: decimal-addition
parameters: {a: {from: 1.4, to: 2.9, step: 0.1}, b: {from: 1.55, to: 1.95, step: 0.05}}
constraints: ["last_digit(a) != 0", "carries(a, b) >= 1"]
operation: add
operands: [a, b]
key: a + b
stem: "Work out {{ work }}."
response: choice
feedback: {wrong: Look at the points., right: "Yes."}
""",
    "narrow-typed": """
template: narrow-typed
version: 2
title: A length
topic: decimal-subtraction
parameters: {a: {from: 7.2, to: 8.4, step: 0.1}, b: {from: 1.15, to: 1.95, step: 0.05}}
constraints: ["last_digit(b) != 0"]
operation: subtract
operands: [a, b]
key: a - b
unit: m
stem: "Work out {{ work }}, as a length in m."
response: {number: {policy: value}}
show_solution: true
""",
    "narrow-largest": """
template: narrow-largest
version: 1
title: The largest
topic: decimal-comparison
parameters: {a: {from: 0.3, to: 0.9, step: 0.1}, b: {from: 0.12, to: 0.95, step: 0.01}, c: {from: 0.101, to: 0.31, step: 0.001}}
constraints: ["a != b", "b != c", "a != c", "last_digit(b) != 0", "last_digit(c) != 0"]
operation: compare
operands: [a, b, c]
key: max(a, b, c)
stem: "Which number is the largest: {{ a }}, {{ b }} or {{ c }}?"
show_solution: false
""",
}
"""Few numbers, so that other seeds draw the same ones."""
PLANS = {
    "three wrong options": """
plan: one
title: One
seed: SEED
locale: LOCALE
templates: [narrow-sum.yaml, narrow-typed.yaml, narrow-largest.yaml]
weeks:
  - week: 1
    quizzes:
      - {quiz: practice, title: Practice, draw: [{items: 8, template: narrow-sum}, {items: 4, template: narrow-typed}]}
      - {quiz: test, title: Test, use: graded, draw: [{items: 8, template: narrow-sum}, {items: 4, template: narrow-typed}]}
pool: [{items: 12, template: narrow-sum}, {items: 8, template: narrow-largest}]
""",
    "two wrong options, no feedback": """
plan: two
title: Two
seed: SEED
locale: LOCALE
options: {distractors: 2}
templates: [narrow-sum.yaml, narrow-typed.yaml, narrow-largest.yaml]
weeks:
  - week: 3
    quizzes:
      - {quiz: practice, title: Practice, feedback: false, draw: [{items: 16, template: narrow-sum}, {items: 8, template: narrow-typed}]}
      - {quiz: test, title: Test, draw: [{items: 8, template: narrow-largest}]}
""",
    "further kinds": """
plan: three
title: Three
seed: SEED
locale: LOCALE
weeks:
  - week: 1
    quizzes:
      - quiz: practice
        title: Practice
        draw: [{items: 3, response: choose-several}, {items: 3, response: put-in-order}, {items: 3, response: match-pairs}]
      - quiz: test
        title: Test
        use: graded
        draw: [{items: 3, response: choose-several}, {items: 3, response: put-in-order}, {items: 3, response: find-mistake}]
pool: [{items: 3, response: choose-in-line}, {items: 3, response: find-mistake}, {items: 2, response: choose-in-line, template: which-sign}]
""",
}
TARGETS = ("qti30", "cc13")


class Case(NamedTuple):
    """What a bank is built from."""

    plan: str
    seed: int
    locale: str


class Seen(NamedTuple):
    """One thing in a file: an item, a test or a package."""

    case: Case
    target: str
    identifier: str
    content: bytes
    """Digest of all that concerns a pupil or a program that marks."""


def cases(seeds: Iterable[int], plans: Iterable[str] = tuple(PLANS)) -> list[Case]:
    """Return each of *plans* with each seed and each locale that comes along."""
    return [Case(plan, seed, locale) for plan in plans for locale in sorted(path.stem for path in FOLDER.glob("*.yaml")) for seed in seeds]


def built(case: Case, folder: Path) -> Path:
    """Build the bank of *case* in *folder* and return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, text in TEMPLATES.items():
        (folder / f"{name}.yaml").write_text(text.strip() + "\n", encoding="utf-8")
    text = PLANS[case.plan].replace("SEED", str(case.seed)).replace("LOCALE", case.locale)
    (folder / "plan.yaml").write_text(text.strip() + "\n", encoding="utf-8")
    build(load_plan(folder / "plan.yaml"), folder / "bank")
    return folder / "bank" / "bank.sqlite"


def exported(case: Case, source: Path, folder: Path) -> Iterator[Seen]:
    """Export the bank at *source* and give what stands in the files."""
    for target in TARGETS:
        with Bank.open(source) as bank:
            paths = importlib.import_module(f"exporters.{target}").write(
                Shelf(source), bank, bank.quizzes, folder, whole_bank=True, jobs=1, progress=lambda done, total: None
            )
        for path in paths:
            with zipfile.ZipFile(path) as package:
                files = {name: package.read(name) for name in package.namelist()}
            for name, content in files.items():
                yield from _things(case, target, name, content)


def _things(case: Case, target: str, name: str, content: bytes) -> Iterator[Seen]:
    root = etree.fromstring(content)
    if name == "imsmanifest.xml":
        yield Seen(case, f"{target} package", root.get("identifier") or "", _digest_of_package(root))
        return
    for test in [root] if "ssessmentTest" in root.tag or "assessment-test" in root.tag else root.iter("{*}assessment"):
        identifier = test.attrib.pop("identifier", "") or test.attrib.pop("ident")
        yield Seen(case, f"{target} test", identifier, _digest(test))
        if target != "cc13":
            return
    items = [root] if name.startswith("items/") else list(root.iter("{*}item"))
    for item in items:
        identifier = item.attrib.pop("identifier", "") or item.attrib.pop("ident")
        yield Seen(case, target, identifier, _digest(item))


def _digest_of_package(manifest: etree._Element) -> bytes:
    """Return a digest of the titles and of what lies in a package, without what is said of the bank it is from."""
    listed = [one.get("identifier") or "" for one in manifest.iter("{*}resource")]
    titles = [text for title in manifest.iter("{*}title") for text in title.itertext()]
    return blake2b(repr((listed, titles)).encode(), digest_size=16).digest()


def _digest(element: etree._Element) -> bytes:
    for one in element.iter():
        one.attrib.pop("toolVersion", None)
        one.attrib.pop("tool-version", None)
    text = etree.tostring(element, method="c14n", with_tail=False)
    # What an item is about is metadata of no pupil.
    text = re.sub(rb"<fieldlabel>cc_question_category</fieldlabel><fieldentry>[^<]*</fieldentry>", b"", text)
    return blake2b(text, digest_size=16).digest()


def collisions(seen: Iterable[Seen]) -> tuple[int, list[str], list[str]]:
    """Return how many identifiers there are, those with two contents, and contents of one locale with two identifiers."""
    contents: dict[tuple[str, str], set[bytes]] = defaultdict(set)
    names: dict[tuple[str, str, bytes], set[str]] = defaultdict(set)
    for one in seen:
        contents[one.target, one.identifier].add(one.content)
        names[one.target, one.case.locale, one.content].add(one.identifier)
    return (
        len({identifier for _, identifier in contents}),
        [f"{target}: {name}" for (target, name), found in contents.items() if len(found) > 1],
        [f"{target}: {sorted(found)}" for (target, _, _), found in names.items() if len(found) > 1],
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=20)
    arguments = parser.parse_args()
    asked = cases(range(arguments.seeds))
    seen: list[Seen] = []
    with tempfile.TemporaryDirectory() as room:
        for number, case in enumerate(asked):
            place = Path(room) / str(number)
            seen += exported(case, built(case, place), place)
    compared, twice, doubled = collisions(seen)
    again = len(seen) - len({(one.target, one.identifier) for one in seen})
    print(f"{len(asked)} banks, {len(seen)} items in files, {compared} different ids, {again} met again")
    print(f"{len(twice)} ids with two contents, {len(doubled)} contents with two ids")
    print(*twice[:5], *doubled[:5], sep="\n")
