"""Thresholds of the audit, each with its source: ``content/audit.yaml``, or a school's own file over it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from bank import sources, trees
from bank.errors import BadInput, Problem
from bank.fields import BROKEN, Field, Kind, Number, OneOf, Problems, Record, Text, Whole
from bank.sources import Node, Source

FILE: Final = trees.SHIPPED / trees.THRESHOLDS
"""The thresholds that come along."""
BASES = ("published", "memory", "common", "ours", "local")
"""Read at the source; recalled from the literature; common practice without source; our own choice; a school's own."""
BASIS_WORDS = {
    "published": "published", "memory": "from memory", "common": "common practice, no source", "ours": "our own choice",
    "local": "set locally",
}


class Share(Number):
    """A number from *low* to *high*, read as a float."""

    def __init__(self, low: float, high: float) -> None:
        super().__init__(float)
        self.low, self.high = low, high
        self.wanted = f"a number from {low:g} to {high:g}"

    def read(self, node: Node, field: str, problems: list[Problem]) -> Any:
        """Return the number."""
        value = super().read(node, field, problems)
        if value is BROKEN or self.low <= value <= self.high:
            return value
        node.report(problems, "out-of-range", field, f"{node.shown()} is out of range", f"write {self.wanted}")
        return BROKEN

    def schema(self) -> dict[str, Any]:
        """Return a schema with the bounds."""
        return {"type": "number", "minimum": self.low, "maximum": self.high}


def _field(name: str, kind: Kind, says: str) -> Field:
    record = Record(
        says,
        Field("value", kind, says, required=True),
        Field("basis", OneOf(*BASES), "On what it rests.", default="local"),
        Field("source", Text(500, lines=True), "Where it is from, and why.", default=""),
    )
    return Field(name, record, says)


_SHARE, _COUNT = Share(0, 1), Whole(0, 1_000_000)
THRESHOLDS = Record(
    "Thresholds by name; those not written stay as they come along.",
    _field("smallest_group", _COUNT, "Fewest pupils of a group whose figures are shown."),
    _field("refused_most", _SHARE, "Share of an item's rows that did not count above which the item is not judged."),
    _field("fewest_for_correlation", _COUNT, "Fewest pupils for a correlation."),
    _field("fewest_for_upper_lower", _COUNT, "Fewest pupils for the upper-lower difference."),
    _field("thirds_below", _COUNT, "Pupils under which upper and lower group are thirds instead of 27 %."),
    _field("fewest_for_alpha", _COUNT, "Fewest pupils for alpha and the error of measurement."),
    _field("fewest_for_label", _COUNT, "Fewest pupils for an adjective, such as too hard."),
    _field("fewest_for_rasch", _COUNT, "Fewest pupils for a Rasch difficulty and its fit."),
    _field("fewest_for_two_parameters", _COUNT, "Fewest pupils for the two-parameter model."),
    _field("fewest_without_prior", _COUNT, "Fewest pupils for the two-parameter model without a prior on slopes."),
    _field("fewest_for_dif_smaller", _COUNT, "Fewest pupils in the smaller group for a letter."),
    _field("fewest_for_dif_both", _COUNT, "Fewest pupils in both groups for a letter."),
    _field("fewest_siblings", _COUNT, "Fewest siblings for a spread."),
    _field("siblings_for_own_spread", _COUNT, "Fewest siblings for a spread of a family's own."),
    _field("wrong_key_share", _SHARE, "Smallest share of a distractor that raises the alarm."),
    _field("wrong_key_pupils", _COUNT, "Fewest pupils for the alarm by correlation."),
    _field("wrong_key_givers", _COUNT, "Pupils who must have given the key, and the response, to compare correlations."),
    _field("wrong_key_popular", Share(0, 10), "Standard errors that count where fewer gave the key."),
    _field("wrong_key_few", _COUNT, "Fewest pupils for the alarm by agreement; fewer are not tested."),
    _field("wrong_key_agreed", _SHARE, "Share that must agree on one wrong response."),
    _field("wrong_key_held", _SHARE, "Largest share that then gave the key."),
    _field("aberrant_level", _SHARE, "Chance under which a pattern of answers is set aside; 0 sets none aside."),
    _field("aberrant_share", _SHARE, "Share of a pupil's items that the pattern must cover."),
    _field("aberrant_answered", _SHARE, "Share of answers at or under which a pupil's quiz counts as blank."),
    _field("aberrant_most", _SHARE, "Share of pupils above which nobody is set aside."),
    _field("wrong_key_errors", Share(0, 10), "Standard errors that the distractor's lead must exceed."),
    _field("too_hard_graded", _SHARE, "Facility under which a graded item is too hard."),
    _field("too_easy_graded", _SHARE, "Facility above which a graded item is too easy."),
    _field("too_hard_practice", _SHARE, "Facility under which a practice item is too hard."),
    _field("too_hard_diagnosis", _SHARE, "Facility under which a diagnostic item is too hard."),
    _field("too_easy_diagnosis", _SHARE, "Facility above which a diagnostic item tells little."),
    _field("negative_level", _SHARE, "Chance that any item of a quiz goes so against the rest by accident."),
    _field("discrimination_poor", Share(-1, 1), "Item-rest r under which all of its interval must lie for low discrimination."),
    _field("functioning_share", _SHARE, "Share under which a distractor does no work."),
    _field("idle_level", _SHARE, "Chance under which a distractor is chosen too rarely for one as good as the others."),
    _field("attracts_able", Share(-1, 1), "Choice-rest r above which a distractor attracts stronger pupils."),
    _field("attracts_level", _SHARE, "Chance that any distractor of a quiz attracts so by accident."),
    _field("guess_like", Share(-1, 1), "Item-rest r under which all of its interval must lie for answers near chance."),
    _field("omitted_most", _SHARE, "Share omitted above which an item is looked at."),
    _field("not_reached_most", _SHARE, "Share not reached above which a quiz is too long for its time."),
    _field("misfit_low", Share(0, 1), "Infit or outfit below which an item is too predictable."),
    _field("misfit_high", Share(1, 10), "Infit or outfit above which an item is unruly."),
    _field("sibling_spread", Share(0, 10), "SD of siblings' difficulties in logits above which a family is looked at."),
    _field("misfit_level", _SHARE, "Chance that any item of a quiz misfits so by accident."),
    _field("fewest_for_band", _COUNT, "Fewest pupils for judging an item by its predicted band."),
    _field("band_level", _SHARE, "Chance that any item of a quiz is so far off by accident."),
    _field("drift_items", _COUNT, "Fewest items in common with an earlier use."),
    _field("drift_logits", Share(0, 10), "Change in logits, that of the class taken off, that counts as drift."),
    _field("drift_level", _SHARE, "Chance that any item of a quiz has changed so by accident."),
    _field("exposure_graded", _COUNT, "Uses after which a graded item is rested."),
)
SETTINGS = Record(
    "Thresholds of the audit.",
    Field("audit", OneOf("thresholds"), "What the file is.", required=True),
    Field("thresholds", THRESHOLDS, "The thresholds.", required=True),
)
"""What may stand in a file of thresholds."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Threshold:
    """A threshold and what it rests on."""

    name: str
    value: float
    basis: str
    """One of `BASES`."""
    source: str
    says: str
    """What it is for."""


class Settings:
    """Thresholds by name, such as ``settings["too_hard_graded"]``."""

    __slots__ = ("thresholds",)

    def __init__(self, thresholds: dict[str, Threshold]) -> None:
        self.thresholds = MappingProxyType(dict(thresholds))
        """Every threshold by name, in the order of `THRESHOLDS`."""

    def __getitem__(self, name: str) -> float:
        return self.thresholds[name].value


def load_settings(*over: Path | Source | None) -> Settings:
    """Return the thresholds that come along, those of the files or sources *over* them in their place, the last first.

    Raises:
        BadInput: the file cannot be read, names unknown thresholds, or has values out of range.
    """
    found = _read(None)
    for one in over:
        if one is not None:
            found |= _read(one)
    return Settings({name: found[name] for name in THRESHOLDS.fields})


def _read(given: Path | Source | None) -> dict[str, Threshold]:
    problems: Problems = []
    read = SETTINGS.read(sources.parse(sources.source_of(given, FILE)), "", problems)
    if problems:
        raise BadInput(problems)
    thresholds = read["thresholds"]
    _refuse_crossed(thresholds, problems)
    if problems:
        raise BadInput(problems)
    return {
        key: Threshold(
            name=key, value=one["value"], basis=one["basis"], source=one["source"], says=THRESHOLDS.fields[key].says
        )
        for key, one in thresholds.values.items() if one is not None
    }


_CROSSED = (
    ("too_hard_graded", "too_easy_graded"), ("too_hard_diagnosis", "too_easy_diagnosis"),
    ("fewest_for_two_parameters", "fewest_without_prior"),
)
"""Pairs of which the first may not be above the second."""


def _refuse_crossed(read: Any, problems: Problems) -> None:
    for low, high in _CROSSED:
        one, two = read[low], read[high]
        if one is not None and two is not None and one["value"] > two["value"]:
            two.at("value").report(
                problems, "out-of-order", f"thresholds.{high}", f"it lies below {low}", "write a larger number"
            )
