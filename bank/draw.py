"""From a template to items: numbers drawn for the mistakes, key found twice, options chosen, item checked.

A template's items are a pure function of the template, its demands, the seed and the weights. The draws of a
template are visited in a keyed order, each once, so no set of numbers is favoured. Large demands are cut into
shards of the draws, so that processes can share the work without changing what comes out.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from hashlib import blake2b
from math import isqrt
from typing import NamedTuple

from bank import checks, difficulty, methods, mistakes
from bank.chance import Shuffle, digest_numbers
from bank.distractors import Chooser, Chosen, Wrong, wrong_answers
from bank.errors import BadInput, Place, Problem
from bank.identity import Namer
from bank.model import Choice, Family, Finding, Item, Locale, Option, Prediction, TypedNumber
from bank.numerals import Numeral
from bank.questions import calculation
from bank.questions import question as question_digest
from bank.store import pack
from bank.summary import kind_of, mistakes_behind
from bank.templates import Template, Values

SHARD = 500
"""Items one shard is asked for at most; more are shared among shards."""
TRIES = 300
"""Draws tried for each wanted item before a template is called too narrow, beyond `FIRST_TRIES`."""
FIRST_TRIES = 3000
SURVEY = 200
"""Draws tried at least, so that the share of admissible draws is known within a few hundredths."""
COUNTED = 2000
"""Spaces up to this size are counted to the end."""
PLENTY = 12
"""Draws possible for each wanted item from which on ambiguous or leaking draws may be put off."""
WRONG_FOR_TYPED = 2
"""Different wrong answers that known mistakes must give for a typed item to be worth asking."""

FEW_WRONG = "too few different wrong answers"
NOT_PICKED = "a wrong number that no known mistake picks"
EQUAL_OPTIONS = "two of the numbers to choose from are equal"
UNREACHED = "the wanted mistake does not show"
NOT_NEEDED = "no open line of the plan wants it"
SAME_QUESTION = "the same question as another draw"
CHECK = "check"
"""What stands before the id of a check that refuses an item."""


class Demand(NamedTuple):
    """What one line of a plan wants of one template."""

    line: int
    """Number of the line in the plan."""
    wanted: int
    """Items."""
    mistake: str = ""
    band: str = ""
    shows_feedback: bool = True
    """As `bank.model.Item.shows_feedback`."""


class Kept(NamedTuple):
    """An item that was made, packed for the store, with what the bank as a whole must know of it."""

    demand: int
    """Index of the demand it meets."""
    identifier: str
    band: str
    content: str
    question: bytes
    """Digest that two items share when they ask the same."""
    calculation: bytes
    """Digest that two items share when they ask the same calculation, in whatever words."""
    earned: bytes
    """What each strategy of the guesser's panel earns on it, in units; empty for typed answers."""
    size: int
    """Options of a choice; 0 for what is answered in another way."""
    key_place: int
    score: int
    """Predicted difficulty, as `bank.model.Prediction.score`."""
    in_order: bool
    """Whether the options stand in numerical order, so that the key's place says nothing."""
    mistakes: tuple[str, ...]
    kind: str
    """How it is answered, as in `bank.summary.BuildSummary.responses`."""


class Batch(NamedTuple):
    """What one shard gave."""

    kept: list[Kept]
    tried: int
    """Draws looked at."""
    fit: int
    """Draws from which an item could be made, needed or not."""
    refused: Counter[str]
    finished: bool
    """Whether every draw of the shard was looked at."""
    short: tuple[int, ...]
    """Items still missing, by demand."""
    findings: list[Finding]
    examples: dict[str, str]
    """For each of the reasons in ``refused`` that numbers or words of a draw gave, the first such draw and what is
    wrong with it, in words."""


class _Solved(NamedTuple):
    values: Values
    operands: tuple[Numeral, ...]
    key: Numeral
    wrong: list[Wrong]


def shards_for(template: Template, wanted: int) -> int:
    """Return into how many shards a demand for *wanted* items is cut; the same on every machine."""
    return max(1, min(-(-wanted // SHARD), template.space_size))


def share_of(count: int, shard: int, shards: int) -> int:
    """Return the part of *count* that falls to *shard*."""
    return count // shards + (shard < count % shards)


class Drawer:
    """Draws items from one shard of a template's draws; `more` may be called again for what is still missing."""

    def __init__(
        self, template: Template, locale: Locale, weights: difficulty.Weights, seed: int, items: int, shard: int,
        shards: int,
    ) -> None:
        self._template = template
        self._family: Family = template.family
        self._locale = locale
        self._namer = Namer(template.family, locale)
        self._weights = weights
        self._names = (seed, template.identifier)
        self._shard, self._shards = shard, shards
        self._order = Shuffle(template.space_size, *self._names)
        self._place = shard
        self._chooser = Chooser(items)
        self._put_off: list[int] = []
        self._questions: set[bytes] = set()
        self._predicted: dict[difficulty.Features, Prediction] = {}
        """Predictions by what they rest on: many items of a template have it in common."""
        self._open: list[int] = []
        operation = self._family.operation
        self._options = mistakes.options_for(operation, self._family.layout, self._family.rounding)
        known = mistakes.load()
        named = template.mistakes
        self._records = tuple(known[name] for name in named) if named else mistakes.of_operation(operation)
        self._wanted = template.distractors
        self._chance = 1000 // (self._wanted + 1) if self._wanted else 0
        self._places = self._family.places if self._family.places is not None else self._family.rounding

    def more(self, demands: Sequence[Demand], taken: frozenset[bytes] = frozenset()) -> Batch:
        """Return items for *demands*, skipping questions in *taken*, going on where the last call stopped.

        Where that was the end, all draws are looked at again, without being counted again: one that nobody wanted
        before may be wanted now.
        """
        template = self._template
        left = [demand.wanted for demand in demands]
        self._open = _first_open(demands, left)
        batch = Batch([], 0, 0, Counter(), False, (), [], {})
        tried = fit = 0
        limit = FIRST_TRIES + TRIES * sum(left)
        enough = COUNTED if template.space_size <= COUNTED else SURVEY // self._shards
        again = self._place >= template.space_size
        if again:
            self._place, enough = self._shard, 0
        plenty = template.space_size >= PLENTY * sum(left) * self._shards
        self._questions |= taken
        order, solve, size, refused = self._order, self._solve, template.space_size, batch.refused
        first: dict[str, int] = {}
        wanting = any(left)
        while self._place < size and (wanting and tried < limit or tried < enough):
            index = order[self._place]
            self._place += self._shards
            tried += 1
            solved = solve(index)
            if solved.__class__ is str:
                refused[solved] = refused.get(solved, 0) + 1
                first.setdefault(solved, index)
                continue
            fit += 1
            if wanting:
                self._serve(index, solved, demands, left, batch, patient=plenty)
                wanting = any(left)
        finished = self._place >= template.space_size
        while self._put_off and any(left):
            index = self._put_off.pop(0)
            solved = self._solve(index)
            if not isinstance(solved, str):
                self._serve(index, solved, demands, left, batch, patient=False)
        for reason, index in first.items():
            batch.examples[reason] = self._numbers(index)
        if again:
            batch.refused.clear()
            tried = fit = 0
        return batch._replace(tried=tried, fit=fit, finished=again or finished, short=tuple(left))

    def _numbers(self, index: int) -> str:
        written = self._template.parameters_as_written(self._template.values_at(index))
        return ", ".join(f"{name} = {value}" for name, value in written)

    def _solve(self, index: int) -> _Solved | str:
        template, family = self._template, self._family
        values = template.values_at(index)
        refusal = template.refusal(values)
        if refusal:
            return refusal
        operands = template.operands(values)
        key = template.key(values)
        shown = mistakes.outcomes(self._records, operands, key, **self._options)
        if family.operation == "compare":
            if len(set(operands)) < len(operands):
                return EQUAL_OPTIONS
            wrong = _picked(shown, operands, key)
            return _Solved(values, operands, key, wrong) if len(wrong) == len(operands) - 1 else NOT_PICKED
        wrong = wrong_answers(shown, key, operands, places=self._places, as_written=family.operation == "round")
        if len(wrong) < (self._wanted or WRONG_FOR_TYPED):
            return FEW_WRONG
        return _Solved(values, operands, key, wrong)

    def _serve(
        self, index: int, solved: _Solved, demands: Sequence[Demand], left: list[int], batch: Batch, *, patient: bool
    ) -> None:
        """Make the item for the first open demand that it meets, or note why none is made."""
        fitting = self._open
        if any([demands[place].mistake for place in fitting]):
            names = {name for answer in solved.wrong for name in answer.mistakes}
            fitting = [place for place in fitting if demands[place].mistake in ("", *names)]
        if not fitting:
            batch.refused[UNREACHED if any(left) else NOT_NEEDED] += 1
            return
        stem = self._template.stem(solved.values)
        question = question_digest(stem, solved.operands, self._family.operation)
        if question in self._questions:
            batch.refused[SAME_QUESTION] += 1
            return
        trace = methods.run(
            self._family.operation, solved.operands, layout=self._family.layout, places=self._family.rounding
        )
        if trace.result != solved.key:
            raise BadInput(Problem(
                "key-differs", Place(self._template.source), "key",
                f"{self._drawn(solved.values)}: the key expression gives {solved.key}, the written method {trace.result}"
                f" for {', '.join(map(str, solved.operands))}",
                "make key, operation, operands and rounding agree",
            ))
        kind = "choice" if self._wanted else "number"
        features = difficulty.features(solved.operands, trace, context=self._family.context, response=kind)
        prediction = self._predicted.get(features)
        if prediction is None:
            prediction = self._predicted[features] = difficulty.predict(features, self._weights, self._chance)
        fitting = [place for place in fitting if demands[place].band in ("", prediction.band)]
        if not fitting:
            batch.refused[NOT_NEEDED] += 1
            return
        demand = min(fitting)
        made = self._response(index, solved, demands[demand].mistake, patient)
        if made is None:
            self._put_off.append(index)
            return
        response, earned = made
        shown = demands[demand].shows_feedback
        parameters = self._template.parameters_as_written(solved.values)
        item = Item(
            identifier=self._namer.name(stem, solved.operands, solved.key, response, shows_feedback=shown),
            family=self._family, parameters=parameters, stem=stem, operands=solved.operands, key=solved.key,
            response=response,
            solution=methods.closed(trace, solved.key, response, self._family.unit),
            features=features, prediction=prediction, shows_feedback=shown,
        )
        self._keep(item, question, earned, demand, demands, left, batch)

    def _keep(
        self, item: Item, question: bytes, earned: bytes, demand: int, demands: Sequence[Demand], left: list[int],
        batch: Batch,
    ) -> None:
        """Put *item* into *batch* for its *demand*, unless a check finds an error."""
        findings = checks.run_item_checks(item, self._locale)
        failed = next((finding for finding in findings if finding.severity == "error"), None)
        if failed:
            reason = f"{CHECK} {failed.check}"
            batch.refused[reason] += 1
            if reason not in batch.examples:
                numbers = ", ".join(f"{name} = {value}" for name, value in item.parameters)
                batch.examples[reason] = f"{numbers}: {failed.wrong}; {failed.remedy}"
            return
        batch.findings.extend(findings)
        self._questions.add(question)
        left[demand] -= 1
        if not left[demand]:
            self._open = _first_open(demands, left)
        batch.kept.append(kept_of(demand, item, question, earned))

    def _response(
        self, index: int, solved: _Solved, must: str, patient: bool
    ) -> tuple[Choice | TypedNumber, bytes] | None:
        if not self._wanted:
            foreseen = tuple([(answer.numeral, answer.mistakes) for answer in solved.wrong])
            return TypedNumber(policy=self._template.policy, mistakes=foreseen), b""
        number = digest_numbers(*self._names, index)[0]
        if self._family.operation == "compare":
            earned = self._chooser.accepts(solved.operands, solved.key, number, patient=patient)
            if earned is None:
                return None
            by_value = {answer.numeral: answer.mistakes for answer in solved.wrong}
            shown = [(operand, by_value.get(operand, ())) for operand in solved.operands]
            key_place = next(place for place, operand in enumerate(solved.operands) if operand == solved.key)
            return _choice(shown, key_place, "as-in-stem"), earned
        wrong = solved.wrong
        if patient:
            clear = sum([len(answer.mistakes) == 1 for answer in wrong])
            if clear < self._wanted:
                return None
        chosen: Chosen | None = self._chooser.choose(
            wrong, solved.key, solved.operands, self._wanted, number, must=must, patient=patient
        )
        if chosen is None:
            return None
        shown = [(answer.numeral, answer.mistakes) for answer in chosen.wrong]
        shown.insert(chosen.key_place, (solved.key, ()))
        return _choice(shown, chosen.key_place, "ascending"), chosen.earned

    def _drawn(self, values: Values) -> str:
        """Return in words which draw of the template has these *values*."""
        return f"{self._family.template} with " + ", ".join([f"{name} = {value}" for name, value in self._template.parameters_as_written(values)])


def _first_open(demands: Sequence[Demand], left: Sequence[int]) -> list[int]:
    """Return the first open demand of each kind (mistake and band)."""
    found: dict[tuple[str, str], int] = {}
    for place, demand in enumerate(demands):
        if left[place]:
            found.setdefault((demand.mistake, demand.band), place)
    return list(found.values())


def _picked(
    shown: Sequence[tuple[mistakes.Mistake, Numeral]], operands: Sequence[Numeral], key: Numeral
) -> list[Wrong]:
    names: dict[Numeral, list[str]] = {}
    for record, answer in shown:
        names.setdefault(answer, []).append(record.identifier)
    return [Wrong(operand, tuple(names[operand])) for operand in operands if operand != key and operand in names]


def _choice(shown: Sequence[tuple[Numeral, tuple[str, ...]]], key_place: int, order: str) -> Choice:
    return Choice(
        options=tuple([
            Option(identifier=letter, numeral=numeral, is_key=place == key_place, mistakes=names)
            for place, (letter, (numeral, names)) in enumerate(zip("ABCDE", shown))
        ]),
        order=order,
    )


def kept_of(demand: int, item: Item, question: bytes, earned: bytes) -> Kept:
    """Return what is kept of *item*, which meets the demand with that index; see `Kept`."""
    response = item.response
    size = key_place = 0
    in_order = isinstance(response, Choice) and response.order == "ascending"
    if isinstance(response, Choice):
        size = len(response.options)
        key_place = next(place for place, option in enumerate(response.options) if option.is_key)
        names = tuple([name for option in response.options for name in option.mistakes])
    else:
        names = tuple(mistakes_behind(response))
    return Kept(
        demand, item.identifier, item.prediction.band, pack(item), question, calculation(item.family, item.operands), earned, size, key_place,
        item.prediction.score, in_order, names, kind_of(response),
    )


def admissible(possible: int, tried: int, fit: int, finished: bool) -> tuple[int, int]:
    """Return how many draws are admissible and the half width of the 95 % interval, 0 where all were counted.

    Estimated from draws without return: the normal interval with the finite-population factor (Cochran 1977,
    Sampling Techniques, ch. 3), one draw added to either side so that "none" and "all" keep a width.
    """
    if finished or not tried:
        return fit, 0
    estimate = possible * fit // tried
    share = (fit + 1) * (tried - fit + 1)
    spread = isqrt(possible * possible * share * (possible - tried) // ((tried + 2) ** 2 * tried * possible))
    return estimate, 2 * spread + 1
