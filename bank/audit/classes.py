"""Kinds of classes that predictions are for: where their pupils stand, and how far apart, on a named ground."""

from __future__ import annotations

import math
from pathlib import Path
from typing import NamedTuple

from bank import sources, trees
from bank.errors import BadInput, Place, Problem, did_you_mean
from bank.fields import IDENTIFIER, Field, ListOf, Number, Record, Text
from bank.numerals import Numeral
from bank.sources import Source

FILE = trees.SHIPPED / trees.CLASSES
"""The kinds that come with the tool; the first is the usual one."""
SHRINKAGE = 16 * math.sqrt(3) / (15 * math.pi)
"""Ratio in the approximation of a logistic curve averaged over a normal ability: a share's logit is
(ability - difficulty) / sqrt(1 + SHRINKAGE^2 sd^2). Zeger, Liang and Albert 1988, Biometrics 44:1049 (from memory)."""


class ClassKind(NamedTuple):
    """A kind of class."""

    name: str
    words: str
    shift: float
    """Logits of the share right by which it stands above the class of the weights' file."""
    sd: float
    """Standard deviation of ability among its pupils, in logits."""
    source: str

    @property
    def stretch(self) -> float:
        """How much longer a logit of the class's share is on the scale of single pupils (1 or more)."""
        return math.sqrt(1 + (SHRINKAGE * self.sd) ** 2)


def _hundredths(text: str) -> float:
    return float(Numeral.parse(text).text())


_KIND = Record(
    "A kind of class.",
    Field("class", IDENTIFIER, "Name.", required=True),
    Field("words", Text(1000, lines=True), "The class in words.", required=True),
    Field("shift", Number(_hundredths), "Logits above the class of the weights' file.", required=True),
    Field("sd", Number(_hundredths), "Standard deviation of ability among its pupils, in logits.", required=True),
    Field("source", Text(1000, lines=True), "Where both are from.", required=True),
)
_FILE = Record("Kinds of classes.", Field("classes", ListOf(_KIND, fewest=1), "The kinds.", required=True))


def load_classes(path: Path | Source | None = None) -> dict[str, ClassKind]:
    """Return the kinds of classes in the file at *path* or in a source, or those that come with the tool, by name.

    Raises:
        BadInput: the file cannot be read, names a class twice, or gives a spread outside 0 to 4 logits.
    """
    node = sources.parse(sources.source_of(path, FILE))
    problems: list[Problem] = []
    read = _FILE.read(node, "", problems)
    if problems:
        raise BadInput(problems)
    kinds: dict[str, ClassKind] = {}
    for one in read["classes"]:
        if one["class"] in kinds:
            one.at("class").report(problems, "duplicate-id", "class", "this class stands above already", "rename it")
        if not 0 <= one["sd"] <= 4:
            one.at("sd").report(problems, "out-of-range", "sd", "a spread lies from 0 to 4 logits", "write such as 0.9")
        kinds[one["class"]] = ClassKind(one["class"], one["words"], one["shift"], one["sd"], one["source"])
    if problems:
        raise BadInput(problems)
    return kinds


def chosen_class(name: str | None, path: Path | Source | None = None) -> ClassKind:
    """Return the kind of class called *name*, the first of the file where there is none.

    Raises:
        BadInput: there is no such class (``class-unknown``), or the file is wrong.
    """
    kinds = load_classes(path)
    if name is None:
        return next(iter(kinds.values()))
    if name not in kinds:
        raise BadInput(Problem(
            "class-unknown", Place("--class"), "", f"there is no kind of class {name!r}", did_you_mean(name, kinds)
        ))
    return kinds[name]
