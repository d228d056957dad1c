"""What is counted of an item: its operation, digits, the facts of its working, story and kind of response."""

from __future__ import annotations

from collections.abc import Iterator

from bank import methods
from bank.difficulty._predicting import predict
from bank.difficulty._weights import OPERATIONS, Features, Weights
from bank.model import (
    ChooseInLine, ChooseSeveral, Expression, FindMistake, MatchPairs, PutInOrder, Response, Trace,
)
from bank.numerals import POWERS, Numeral

_OPERATION_FEATURE = {name: (f"operation-{name}", 1) for name in OPERATIONS}
_STORY = ("story", 1)
_TYPED = ("typed", 1)


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
