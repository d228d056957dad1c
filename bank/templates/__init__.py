"""Templates: files read into typed templates that draw numbers and make key, operands and stem.

    load_template(path) -> Template          one file
    load_templates(paths) -> (Template, ...) many, in order of their ids
    built_in() -> [path, ...]                the files that come along
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path

from bank import aside, sources, trees
from bank.errors import BadInput
from bank.fields import BROKEN, Problems
from bank.templates._code import Rule, Values
from bank.templates._declaration import TEMPLATE
from bank.templates._parameters import Derived, Drawn, Listed, Parameter, Stepped, Worded
from bank.templates._reading import read_template
from bank.templates._survey import Survey
from bank.templates._template import DISTRACTORS, Constraint, Template
from bank.templates._wanted import (
    KINDS, ChoiceWanted, FindWanted, LineWanted, NumberWanted, Offered, OrderWanted, PairsWanted, ResponseWanted, SeveralWanted,
)
from bank.sources import Node
from bank.topics import Topic, load_topics

FOLDER = trees.SHIPPED / "templates"
"""Templates that come along, in folders by topic, each file named by id."""
MANY = 24
"""Files from which on two processes read them."""


def built_in() -> list[Path]:
    """Return the template files that come along, sorted."""
    return sorted(FOLDER.rglob("*.yaml"))


def load_template(path: Path, topics: Mapping[str, Topic] | None = None) -> Template:
    """Return the template in the file at *path*; *topics* are those that come along by default.

    Raises:
        BadInput: with everything wrong in the file.
    """
    return load_templates([path], topics)[0]


def load_templates(
    paths: Iterable[Path], topics: Mapping[str, Topic] | None = None, weaker: Iterable[Path] = ()
) -> tuple[Template, ...]:
    """Return the templates in the files at *paths*, in order of their ids.

    Those of *weaker* files, which are named by id, are added unless one of *paths* has their id.

    Raises:
        BadInput: with everything wrong in all files, ids used twice included.
    """
    known = load_topics() if topics is None else topics
    strong = list(paths)
    files = [*strong, *weaker]
    half = len(files) // 2 if len(files) >= MANY else len(files)
    others = aside.begun(lambda: [_read(path, known) for path in files[half:]]) if half < len(files) else list
    read = [_read(path, known) for path in files[:half]]
    problems: Problems = []
    found: dict[str, Template] = {}
    for number, (template, name, wrong) in enumerate((*read, *others())):
        if number >= len(strong) and files[number].stem in found:
            continue
        problems += wrong
        if template is None or name is None:
            continue
        if template.identifier in found:
            told = f"the template {template.identifier!r} stands in {found[template.identifier].source} already"
            name.report(problems, "duplicate-id", "template", told, "give one of them another id")
        found[template.identifier] = template
    if problems:
        raise BadInput(problems)
    return tuple(found[identifier] for identifier in sorted(found))


def _read(path: Path, topics: Mapping[str, Topic]) -> tuple[Template | None, Node | None, Problems]:
    """Return the template in the file at *path*, where its id is written, and what is wrong with it."""
    problems: Problems = []
    try:
        node = sources.parse(sources.read_file(path))
    except BadInput as fault:
        return None, None, list(fault.problems)
    template = read_template(node, topics, problems)
    if template is BROKEN:
        return None, None, problems
    return template, next(value for key, value in node.entries if key.text == "template"), problems


__all__ = [
    "DISTRACTORS", "FOLDER", "KINDS", "TEMPLATE", "ChoiceWanted", "Constraint", "Derived", "Drawn", "FindWanted", "LineWanted",
    "Listed", "NumberWanted", "Offered", "OrderWanted", "PairsWanted", "Parameter", "ResponseWanted", "Rule",
    "SeveralWanted", "Stepped", "Survey", "Template", "Values", "Worded", "built_in", "load_template", "load_templates",
    "read_template",
]
