"""Predicted difficulty: features of an item, weights from ``difficulty.yaml``, a wide interval of the share right.

Strong theory with honest uncertainty: the weights are readings of published facilities or stated guesses.
Everything is whole numbers, thousandths of a logit, so that a prediction is the same on every machine. What
pupils really did is another room's matter: this one has never seen an answer.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from math import isqrt
from pathlib import Path
from typing import Any, NamedTuple

from bank import methods, sources, trees
from bank.errors import BadInput, Problem
from bank.fields import Field, Kind, ListOf, Number, OneOf, Pattern, Read, Record, Text, Whole
from bank.model import (
    ChooseInLine, ChooseSeveral, Expression, FindMistake, MatchPairs, Prediction, PutInOrder, Response, Trace,
)
from bank.numerals import POWERS, Numeral
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
_OPERATION_FEATURE = {name: (f"operation-{name}", 1) for name in OPERATIONS}
_STORY = ("story", 1)
_TYPED = ("typed", 1)
_SCALE = 10**40
_STEP = 10
"""Thousandths of a logit between two entries of the table."""
_END = 10_000
"""Largest logit in the table, in thousandths; beyond it a share differs from 0 or 1 by less than 0.00005."""

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
    """What the interval's width is made of."""
    half_width: int
    """Half the 80 % interval in thousandths of a logit."""
    easier_below: int
    """Scores below this are in the band ``easier``."""
    harder_from: int
    """Scores from this on are in the band ``harder``."""
    bands_reason: str
    table: dict[str, dict[str, int]]
    """Value by feature, by ``operation-...``; weights for any operation are in each."""
    version: int = 1
    """1 is the prior that comes with the tool; calibration writes the next."""
    history: str = ""
    """What a later version was calibrated from."""


def features(operands: tuple[Numeral, ...], trace: Trace, *, context: bool, response: str) -> Features:
    """Return the features of an item: operation, digits, the trace's facts, *context* and *response* kind.

    *context* says whether the stem tells a story; *response* is ``choice``, or anything else for a typed
    answer. Counts of zero are left out. In ``digits_first`` and ``digits_second`` zeros before the first other
    digit do not count.
    """
    operation = trace.operation
    found = [_OPERATION_FEATURE[operation], ("digits_first", len(str(operands[0].coefficient)))]
    if len(operands) > 1:
        found.append(("digits_second", len(str(operands[1].coefficient))))
        if len(operands) > 2:
            found.append(("more_operands", len(operands) - 2))
    for fact in trace.facts:
        if fact[1]:
            found.append(fact)
    if operation == "compare":
        _add_comparison(found, operands, trace)
    if context:
        found.append(_STORY)
        if operation == "multiply" and any([0 < one.coefficient < POWERS[one.places] for one in operands]):
            found.append(("story_factor_below_one", 1))
    if response != "choice":
        found.append(_TYPED)
    return tuple(found)


def _add_comparison(found: list[tuple[str, int]], operands: tuple[Numeral, ...], trace: Trace) -> None:
    """Append what the pupil who takes the longer decimal for the larger meets; whole parts decide for everyone."""
    places = [one.places for one in operands]
    longest, shortest = max(places), min(places)
    if longest == shortest or len({one.coefficient // POWERS[one.places] for one in operands}) > 1:
        return
    found.append(("unequal_places_any", 1))
    if trace.result.places != (shortest if trace.layout in ("smallest", "ascending") else longest):
        found.append(("longer_is_not_the_answer", 1))


def features_of_kind(
    operands: tuple[Numeral, ...], solution: Trace, *, context: bool, response: Response, weights: Weights
) -> Features:
    """Return the features of an item of a further kind of *response*.

    Where several expressions are worked out, they are those of the one that is hardest by *weights*: the item is as
    hard as that one, and the feature of its kind says what the kind adds. Offers without a calculation are read as
    numbers to compare.
    """
    further: list[tuple[str, int]] = [(_KINDS[type(response)], 1)]
    if solution.operation != "evaluate":
        types = isinstance(response, FindMistake) and response.typed is not None
        found = features(operands, solution, context=context, response="number" if types else "choice")
        return (*found, *further)
    hardest: Features = (_OPERATION_FEATURE["compare"],)
    most = 0
    for trace in _worked(solution):
        found = features(trace.operands, trace, context=context, response="choice")
        score = predict(found, weights).score
        if score > most or len(hardest) == 1:
            hardest, most = found, score
    if len(hardest) == 1 and context:
        hardest = (*hardest, _STORY)
    return (*hardest, ("expressions", dict(solution.facts)["expressions"]), *further)


_KINDS = {
    ChooseSeveral: "choose_several", PutInOrder: "put_in_order", MatchPairs: "match_pairs", ChooseInLine: "choose_in_line",
    FindMistake: "find_mistake",
}


def _worked(solution: Trace) -> Iterator[Trace]:
    """Give the trace of each calculation that stands in the steps of an evaluation."""
    for line in solution.steps:
        for leaf in line:
            if isinstance(leaf, Expression) and len(leaf.parts) == 5 and leaf.parts[3] == "=":
                first, sign, second = leaf.parts[:3]
                if isinstance(first, Numeral) and isinstance(second, Numeral):
                    yield methods.run(_OPERATIONS[str(sign)], (first, second))


_OPERATIONS = {"+": "add", "-": "subtract", "*": "multiply", "/": "divide"}


def predict(features: Features, weights: Weights) -> Prediction:
    """Return the predicted difficulty of an item with *features*.

    The score is the sum of count times weight; the interval is that of the share right, in thousandths, for the
    class that *weights* name, half a width either side of level less score on the logit scale.

    Raises:
        KeyError: the first feature is not an operation.
    """
    value_of = weights.table[features[0][0]].get
    score = 0
    reasons = []
    for name, count in features:
        value = value_of(name)
        if value:
            value *= count
            score += value
            reasons.append((name, count, value))
    reasons.sort(key=_by_size)
    middle = weights.level - score
    return Prediction(
        band="easier" if score < weights.easier_below else "middle" if score < weights.harder_from else "harder",
        score=score,
        low_share=share_right(middle - weights.half_width),
        high_share=share_right(middle + weights.half_width),
        reasons=tuple(reasons),
    )


def _by_size(reason: tuple[str, int, int]) -> int:
    return -abs(reason[2])


def share_right(logit: int) -> int:
    """Return the share right in thousandths (1 to 999) that belongs to *logit*, in thousandths of a logit.

    The logistic function 1 : (1 + exp(-x)), read off a table of whole numbers with straight lines between
    its entries; a share is off by less than one thousandth.
    """
    size = -logit if logit < 0 else logit
    table = _logistic()
    if size >= _END:
        share = 999
    else:
        index, rest = divmod(size, _STEP)
        low = table[index]
        share = (low + (table[index + 1] - low) * rest // _STEP + 500) // 1000
        if share > 999:
            share = 999
    return 1000 - share if logit < 0 else share


@lru_cache(maxsize=1)
def _logistic() -> tuple[int, ...]:
    """Shares in millionths at logits of 0, 0.01, 0.02 ... 10, from the power series of exp in whole numbers."""
    term, step, count = _SCALE, _SCALE, 0
    while term:
        count += 1
        term = term // (100 * count)
        step += term
    power, shares = _SCALE, []
    for _ in range(_END // _STEP + 1):
        shares.append((1_000_000 * power + (power + _SCALE) // 2) // (power + _SCALE))
        power = power * step // _SCALE
    return tuple(shares)


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
        unweighted=read["unweighted"]["features"],
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
    )


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
_UNWEIGHTED = Record(
    "Features that are counted and have no weight.",
    _field("reason", _WORDS, "Why they have none."),
    _field("features", ListOf(Pattern("[a-z]+[.][a-z_-]+", "operation.feature")), "The features."),
)
FILE = Record(
    "Weights of difficulty.",
    Field("version", Whole(1, 10_000), "Version of the file; 1 is the prior.", default=1),
    Field("history", Text(4000, lines=True), "What a later version was calibrated from.", default=""),
    _field("class", _CLASS, "The class."),
    _field("interval", _INTERVAL, "The interval."),
    _field("bands", _BANDS, "The bands."),
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


def _compiled(weights: tuple[Weight, ...]) -> dict[str, dict[str, int]]:
    table: dict[str, dict[str, int]] = {f"operation-{name}": {} for name in OPERATIONS}
    for weight in weights:
        for operation in _meant(weight.operation):
            table[f"operation-{operation}"][weight.feature] = weight.value
    return table
