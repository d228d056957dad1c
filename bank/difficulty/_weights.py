"""The weights that a prediction rests on, read from ``difficulty.yaml``."""

from __future__ import annotations

from math import isqrt
from pathlib import Path
from typing import Any, NamedTuple

from bank import sources, trees
from bank.errors import BadInput, Problem
from bank.fields import Field, Kind, ListOf, Number, OneOf, Pattern, Read, Record, Text, Whole
from bank.numerals import Numeral
from bank.sources import Node, Source

OPERATIONS = ("add", "subtract", "multiply", "divide", "compare", "round")
BANDS = ("easier", "middle", "harder")
EVIDENCE = ("reading", "direction", "guess", "answers")
"""``reading``: computed from a published facility; ``direction``: published way, guessed size; ``guess``; ``answers``:
calibrated from answers of pupils, in a later version of the file."""
REASONS = ("items", "class", "chance", "level", "other")
"""Kinds of reasons why a share right differs from its prediction: what features leave unexplained, one class differs
from another, chance in a small class, the level is carried over from elsewhere, anything else."""

_FILE = trees.SHIPPED.joinpath(trees.WEIGHTS)

Features = tuple[tuple[str, int], ...]
"""Names with counts, the operation first; features that do not occur are left out."""


class Weight(NamedTuple):
    """What one unit of a feature adds to the difficulty, and on whose word."""

    operation: str
    """One of `OPERATIONS`, or ``any``."""
    feature: str
    value: int
    """Thousandths of a logit; positive means harder."""
    deviation: int
    """Standard deviation of the value in thousandths of a logit; for a guess as large as the value itself."""
    is_guess: bool
    """Whether the deviation is a guess."""
    evidence: str
    """One of `EVIDENCE`."""
    source: str


class Part(NamedTuple):
    """A reason why a share right differs from its prediction."""

    what: str
    deviation: int
    """Standard deviation in thousandths of a logit."""
    source: str
    kind: str = "other"
    """One of `REASONS`."""


class Weights(NamedTuple):
    """All that a prediction rests on, as read from the file and compiled for looking up."""

    weights: tuple[Weight, ...]
    unweighted: tuple[str, ...]
    """Features that are counted and have no weight, as ``operation.feature``."""
    class_words: str
    """The kind of class that predictions are for."""
    class_source: str
    level: int
    """Logit of the share right that this class would have on an item without any feature, in thousandths."""
    parts: tuple[Part, ...]
    """What the interval's width is made of, beside the weights' own deviations."""
    half_width: int
    """Half the 80 % interval of an item without any feature, in thousandths of a logit."""
    easier_below: int
    """Scores below this are in the band ``easier``."""
    harder_from: int
    """Scores from this on are in the band ``harder``."""
    bands_reason: str
    table: dict[str, dict[str, tuple[int, int]]]
    """Value and standard deviation by feature, by ``operation-...``; weights for any operation are in each."""
    version: int = 1
    """1 is the prior that comes with the tool; calibration writes the next."""
    history: str = ""
    """What a later version was calibrated from."""
    quantile: int = 1282
    """90 % point of the distribution, in thousandths of standard deviations."""
    knee: int = 0
    """Where effects that pile up begin to count less, as a score."""
    most_beyond: int = 0
    """Most that a score goes beyond the knee; 0 where effects add up without end."""
    saturation_source: str = ""
    covered: dict[str, frozenset[str]] = {}
    """Features without a weight that another feature says already, by ``operation-...``."""
    unknown: tuple[str, ...] = ()
    """Those of ``unweighted`` of which nothing is known."""
    unknown_deviation: int = 0
    """Standard deviation that each other feature without a weight adds."""

    def half_width_with(self, variance: int, *, small_class: bool = True) -> int:
        """Return half the 80 % interval where *variance* comes to that of the parts, in thousandths of a logit."""
        of_parts = sum([part.deviation**2 for part in self.parts if small_class or part.kind != "chance"])
        return isqrt(self.quantile**2 * (of_parts + variance)) // 1000


def basis(weights: Weights) -> str:
    """Return in a sentence or two what predictions by *weights* rest on: what was published, and what is judgement."""
    counts = {name: sum(one.evidence == name for one in weights.weights) for name in EVIDENCE}
    answered = f"{counts['answers']} were calibrated from answers of pupils; " if counts["answers"] else ""
    return (
        f"The bands rest on {len(weights.weights)} weights: {answered}{counts['reading']} were read off published"
        f" facilities, {counts['direction']} follow a published direction with a size that is our judgement,"
        f" {counts['guess']} are judgement alone. Level: {weights.class_source}"
    )


def load_weights(path: Path | Source | None = None) -> Weights:
    """Return the weights in the file at *path* or in a source, or the ones that come with the tool.

    Raises:
        BadInput: the file cannot be read, or says something that no prediction can be made from.
    """
    node = sources.parse(sources.source_of(path, _FILE))
    problems: list[Problem] = []
    read = FILE.read(node, "", problems)
    if problems:
        raise BadInput(problems)
    weights = tuple(_weight(one) for one in read["weights"])
    interval = read["interval"]
    if not 0 <= interval["explained_share"] <= 1000:
        raise BadInput(interval.at("explained_share").problem(
            "out-of-range", "interval.explained_share", "a share lies from 0 to 1", "write such as 0.20"))
    unexplained = isqrt(interval["spread_of_items"] ** 2 * (1000 - interval["explained_share"]) // 1000)
    parts = (
        Part("what the features leave unexplained", unexplained,
             f"{interval['explained_source']} {interval['spread_source']}", "items"),
        *(Part(one["what"], one["sd"], one["source"], one["kind"]) for one in interval["parts"]),
    )
    variance = sum(part.deviation**2 for part in parts)
    bands = read["bands"]
    if bands["easier_below"] >= bands["harder_from"]:
        problems.append(bands.at("harder_from").problem(
            "bands-out-of-order", "bands.harder_from", "the harder band begins before the easier one ends",
            "write a number above easier_below"))
    _refuse_two_weights(read["weights"], problems)
    if problems:
        raise BadInput(problems)
    return Weights(
        weights=weights,
        unweighted=(*read["unweighted"]["features"], *read["unweighted"]["unknown"]),
        class_words=read["class"]["words"],
        class_source=read["class"]["source"],
        level=read["class"]["level"],
        parts=parts,
        half_width=isqrt(interval["quantile"] ** 2 * variance) // 1000,
        easier_below=bands["easier_below"],
        harder_from=bands["harder_from"],
        bands_reason=bands["reason"],
        table=_compiled(weights),
        version=read["version"],
        history=read["history"],
        quantile=interval["quantile"],
        **_saturation(read["saturation"]),
        covered=_covered(read["unweighted"]["features"]),
        unknown=read["unweighted"]["unknown"],
        unknown_deviation=read["unweighted"]["sd"],
    )


def _saturation(read: Read | None) -> dict[str, Any]:
    if read is None:
        return {}
    return {"knee": read["from"], "most_beyond": read["most"], "saturation_source": read["source"]}


def _covered(names: tuple[str, ...]) -> dict[str, frozenset[str]]:
    pairs = [(operation, name.partition(".")[2]) for name in names for operation in _meant(name.partition(".")[0])]
    return {
        f"operation-{one}": frozenset(feature for operation, feature in pairs if operation == one) for one in OPERATIONS
    }


def _thousandths(text: str) -> int:
    try:
        return Numeral.parse(text).with_places(3).coefficient
    except ValueError:
        raise ValueError(f"{text!r} has more than three places") from None


class _Sure(Number):
    """A standard deviation, or the word ``guess``, read as None."""

    wanted = "a standard deviation in logits, such as 0.25, or the word guess"

    def read(self, node: Node, field: str, problems: list[Problem]) -> Any:
        """Return thousandths of a logit, or None for a guess."""
        return None if node.is_plain and node.text == "guess" else super().read(node, field, problems)

    def schema(self) -> dict[str, Any]:
        """Return the schema of a number or that word."""
        return {"anyOf": [{"type": "number", "minimum": 0}, {"const": "guess"}]}


def _field(name: str, kind: Kind, says: str) -> Field:
    return Field(name, kind, says, required=True)


_NUMBER = Number(_thousandths)
_WORDS = Text(1000, lines=True)
_CLASS = Record(
    "The kind of class that predictions are for.",
    _field("words", _WORDS, "The class in words."),
    _field("level", _NUMBER, "Logit of the share right on an item without any feature."),
    _field("source", _WORDS, "Where the level is from."),
)
_PART = Record(
    "A reason why a share right differs from its prediction.",
    _field("what", _WORDS, "The reason."),
    _field("sd", _NUMBER, "Standard deviation in logits."),
    _field("source", _WORDS, "Where it is from."),
    Field("kind", OneOf(*REASONS), "What kind of reason it is.", default="other"),
)
_INTERVAL = Record(
    "What the width of the 80 % interval is made of.",
    _field("quantile", _NUMBER, "90 % point of the distribution, in standard deviations."),
    _field("quantile_source", _WORDS, "Where it is from."),
    _field("explained_share", _NUMBER, "Share of the variance of the difficulties that features explain."),
    _field("explained_source", _WORDS, "Where it is from."),
    _field("spread_of_items", _NUMBER, "Standard deviation of the difficulties of items, in logits."),
    _field("spread_source", _WORDS, "Where it is from."),
    _field("parts", ListOf(_PART), "Further reasons, independent of one another."),
)
_BANDS = Record(
    "Where the bands of difficulty begin.",
    _field("easier_below", _NUMBER, "Scores below this are easier."),
    _field("harder_from", _NUMBER, "Scores from this on are harder."),
    _field("reason", _WORDS, "Why there."),
)
_WEIGHT = Record(
    "What one unit of a feature adds to the difficulty, and on whose word.",
    _field("feature", Pattern("[a-z][a-z_-]*", "a feature's name"), "The feature."),
    _field("operation", OneOf("any", *OPERATIONS), "The operation that it holds for."),
    _field("value", _NUMBER, "Logits; positive means harder."),
    _field("sure", _Sure(_thousandths), "Standard deviation in logits, or guess: nothing at all up to twice as large."),
    _field("evidence", OneOf(*EVIDENCE), "Whether the value was read off, the direction only, or neither."),
    _field("source", _WORDS, "The source spelt out, with the computation."),
)
_NAMED = Pattern("[a-z]+[.][a-z_-]+", "operation.feature")
_UNWEIGHTED = Record(
    "Features that are counted and have no weight.",
    _field("reason", _WORDS, "Why they have none."),
    _field("features", ListOf(_NAMED), "Those that another feature says already."),
    Field("unknown", ListOf(_NAMED), "Those of which nothing is known; like any that the file does not name, they widen "
          "the interval.", default=()),
    Field("sd", _NUMBER, "Standard deviation in logits that each feature of the second kind adds.", default=500),
)
_SATURATION = Record(
    "How effects that pile up count less than their sum.",
    _field("from", _NUMBER, "Score up to which they add up."),
    _field("most", _NUMBER, "What a score goes beyond that at most, in logits."),
    _field("source", _WORDS, "What this rests on."),
)
FILE = Record(
    "Weights of difficulty.",
    Field("version", Whole(1, 10_000), "Version of the file; 1 is the prior.", default=1),
    Field("history", Text(4000, lines=True), "What a later version was calibrated from.", default=""),
    _field("class", _CLASS, "The class."),
    _field("interval", _INTERVAL, "The interval."),
    _field("bands", _BANDS, "The bands."),
    Field("saturation", _SATURATION, "How effects pile up; without it they add up without end."),
    _field("weights", ListOf(_WEIGHT, fewest=1), "The weights."),
    _field("unweighted", _UNWEIGHTED, "The rest."),
)
"""What may stand in ``difficulty.yaml``."""


def _weight(read: Read) -> Weight:
    sure = read["sure"]
    return Weight(
        operation=read["operation"],
        feature=read["feature"],
        value=read["value"],
        deviation=abs(read["value"]) if sure is None else sure,
        is_guess=sure is None,
        evidence=read["evidence"],
        source=read["source"],
    )


def _meant(operation: str) -> tuple[str, ...]:
    return OPERATIONS if operation == "any" else (operation,)


def _refuse_two_weights(read: tuple[Read, ...], problems: list[Problem]) -> None:
    seen: set[tuple[str, str]] = set()
    for one in read:
        wanted = {(operation, one["feature"]) for operation in _meant(one["operation"])}
        if wanted & seen:
            problems.append(one.at("feature").problem(
                "two-weights", "weights.feature", f"{one['feature']!r} has a weight for this operation already",
                "keep one of them"))
        seen |= wanted


def _compiled(weights: tuple[Weight, ...]) -> dict[str, dict[str, tuple[int, int]]]:
    table: dict[str, dict[str, tuple[int, int]]] = {f"operation-{name}": {} for name in OPERATIONS}
    for weight in weights:
        for operation in _meant(weight.operation):
            table[f"operation-{operation}"][weight.feature] = weight.value, weight.deviation
    return table
