"""The audit before use: what a bank's items promise, from the items alone. Nobody has answered anything yet."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from bank import checks, cues, mistakes, panel
from bank.audit.classes import ClassKind
from bank.audit.prediction import GroupPrediction, Predictions, predict_group, predict_items
from bank.cues import packed
from bank.difficulty import BANDS, Weights, basis
from bank.model import BankInfo, Choice, ChooseInLine, Finding, Item, Quiz, Response
from bank.store import Bank
from bank.summary import WHOLE_BANK, StrategyResult, mistakes_of

CHANCES_WANTED = 3
"""Times that a mistake should be able to show in a diagnosis quiz before it is told apart from a slip. Recurrence is
what tells them apart (Cox 1974, ERIC ED092407); the number is common practice, no source."""


class ItemFacts(NamedTuple):
    """What the audit keeps of an item."""

    identifier: str
    version: int
    template: str
    title: str
    topic: str
    operation: str
    response: str
    """Name of the kind of response in words."""
    letters: tuple[str, ...]
    """Identifiers of the options where one is chosen; empty otherwise."""
    options: int
    """Options offered; 0 where nothing is offered."""
    key: str
    """The key as it is written in the bank's locale."""
    quizzes: tuple[str, ...]
    """Ids of the quizzes that hold it."""
    mistakes: tuple[str, ...]
    """Ids of the mistakes behind its wrong answers, each once."""
    words: int
    """Words of its stem, numbers apart: the reading load."""


class CoverageRow(NamedTuple):
    """Items of a topic by predicted band."""

    topic: str
    counts: tuple[int, ...]
    """One for each of `bank.difficulty.BANDS`."""
    shares: tuple[int, ...]
    """Items by predicted middle of the share right, in 20 bins of five percentage points from 0."""
    prediction: GroupPrediction
    """Predicted mean share right of its items."""

    @property
    def total(self) -> int:
        """Items of the topic."""
        return sum(self.counts)


class QuizRow(NamedTuple):
    """A quiz before use."""

    quiz: Quiz
    prediction: GroupPrediction
    places: tuple[int, ...]
    """Index of each of its items."""
    counts: tuple[int, ...]
    """Items by band."""
    rare: tuple[str, ...]
    """In a diagnosis quiz, mistakes that can show in it, but fewer than `CHANCES_WANTED` times."""
    often: int
    """Mistakes that can show at least so often."""


class MistakeRow(NamedTuple):
    """How well the bank can show a mistake."""

    identifier: str
    name: str
    operation: str
    offered: int
    """Items in which choosing a wrong answer shows it."""
    foreseen: int
    """Items in which a typed answer shows it."""
    quizzes: int
    """Quizzes that hold one of these items."""


class Gap(NamedTuple):
    """Something that is missing, in words."""

    what: str
    remedy: str


@dataclass(frozen=True, kw_only=True, slots=True)
class BeforeUse:
    """Everything the report before use tells."""

    info: BankInfo
    class_kind: ClassKind
    weights: Weights
    items: tuple[ItemFacts, ...]
    predictions: Predictions
    topics: tuple[CoverageRow, ...]
    quizzes: tuple[QuizRow, ...]
    findings: tuple[Finding, ...]
    checked: int
    """Checks that were asked."""
    panel: tuple[StrategyResult, ...]
    mistakes: tuple[MistakeRow, ...]
    unused: tuple[MistakeRow, ...]
    """Mistakes of the library, of the bank's operations, that no item can show."""
    repeated: tuple[tuple[str, int], ...]
    """(item, quizzes that hold it) where there are several: it is exposed more than once."""
    gaps: tuple[Gap, ...]

    @property
    def basis(self) -> str:
        """What the predictions rest on, in a sentence or two."""
        return basis(self.weights)

    @property
    def errors(self) -> int:
        """Findings that should have kept an item out of the bank."""
        return sum(one.severity == "error" for one in self.findings)

    @property
    def over(self) -> tuple[StrategyResult, ...]:
        """Results of guessers that are over what chance allows."""
        return tuple(one for one in self.panel if one.over)


def audit_before(bank: Bank, weights: Weights, kind: ClassKind, *, widened: float = 1.0) -> BeforeUse:
    """Return the audit of *bank* before use, predictions being for a class of *kind*.

    Every item is read from the bank, its worked solution carried out anew, and asked every check again.

    Raises:
        BadInput: the bank is damaged.
    """
    items = list(bank.items())
    members = {quiz.identifier: quiz.items for quiz in bank.quizzes}
    held: dict[str, list[str]] = {}
    for name, identifiers in members.items():
        for identifier in dict.fromkeys(identifiers):
            held.setdefault(identifier, []).append(name)
    facts = tuple([item_facts(item, bank.info, held.get(item.identifier, ())) for item in items])
    predictions = predict_items(items, weights, kind, widened=widened)
    topics = _coverage(facts, predictions, weights)
    quizzes = tuple(_quiz_row(quiz, facts, predictions, weights) for quiz in bank.quizzes if quiz.items)
    shown, unused = _mistake_rows(items, held)
    return BeforeUse(
        info=bank.info, class_kind=kind, weights=weights, items=facts, predictions=predictions, topics=topics,
        quizzes=quizzes, findings=_findings(items, bank), checked=len(checks.load()),
        panel=tuple(_panel(items, bank.quizzes)), mistakes=shown, unused=unused,
        repeated=tuple((name, len(found)) for name, found in held.items() if len(found) > 1),
        gaps=tuple(_gaps(topics, quizzes, unused)),
    )


KINDS = {
    "Choice": "choose one", "TypedNumber": "type the number", "ChooseSeveral": "choose several",
    "PutInOrder": "put in order", "MatchPairs": "match pairs", "ChooseInLine": "choose a sign",
    "FindMistake": "find the mistake",
}
"""Kinds of response in words, by the name of their record."""


def item_facts(item: Item, info: BankInfo, quizzes: Sequence[str]) -> ItemFacts:
    """Return what the audit keeps of *item*, held by the *quizzes*."""
    family, response = item.family, item.response
    options = getattr(response, "options", getattr(response, "offers", ()))
    return ItemFacts(
        item.identifier, family.version, family.template, family.title, family.topic, family.operation,
        KINDS.get(type(response).__name__, type(response).__name__), _letters(response), len(options),
        info.locale.number(item.key),
        tuple(quizzes), tuple(dict.fromkeys(mistakes_of(item))),
        sum(len(leaf.split()) for line in item.stem for leaf in line if isinstance(leaf, str)),
    )


def _letters(response: Response) -> tuple[str, ...]:
    if isinstance(response, (Choice, ChooseInLine)):
        return tuple(one.identifier for one in response.options)
    return ()


def _coverage(
    facts: Sequence[ItemFacts], predictions: Predictions, weights: Weights
) -> tuple[CoverageRow, ...]:
    places: dict[str, list[int]] = {}
    for place, one in enumerate(facts):
        places.setdefault(one.topic, []).append(place)
    middle = predictions.middle_share.tolist()
    rows = []
    for topic, found in sorted(places.items()):
        bands = Counter(predictions.bands[place] for place in found)
        shares = Counter(min(19, int(20 * middle[place])) for place in found)
        prediction = predict_group(predictions, found, weights)
        assert prediction is not None
        rows.append(CoverageRow(
            topic, tuple([bands[band] for band in BANDS]), tuple([shares[place] for place in range(20)]), prediction
        ))
    return tuple(rows)


def _quiz_row(
    quiz: Quiz, facts: Sequence[ItemFacts], predictions: Predictions, weights: Weights
) -> QuizRow:
    place_of = predictions.place_of()
    places = [place_of[identifier] for identifier in quiz.items]
    prediction = predict_group(predictions, places, weights)
    assert prediction is not None
    counts = Counter(predictions.bands[place] for place in places)
    chances = Counter(name for place in places for name in facts[place].mistakes)
    rare: tuple[str, ...] = ()
    if quiz.use == "diagnosis":
        rare = tuple(sorted(name for name, count in chances.items() if count < CHANCES_WANTED))
    return QuizRow(
        quiz, prediction, tuple(places), tuple([counts[band] for band in BANDS]), rare,
        sum(count >= CHANCES_WANTED for count in chances.values()),
    )


def _findings(items: Sequence[Item], bank: Bank) -> tuple[Finding, ...]:
    found = [one for item in items for one in checks.run_item_checks(item, bank.info.locale)]
    by_id = {item.identifier: item for item in items}
    for quiz in bank.quizzes:
        found += checks.run_quiz_checks(quiz, by_id)
    rank = {severity: place for place, severity in enumerate(checks.SEVERITIES)}
    return tuple(sorted(found, key=lambda one: (rank[one.severity], one.check, one.item)))


def _panel(items: Iterable[Item], quizzes: Sequence[Quiz]) -> list[StrategyResult]:
    """Return what guessers earn on the items with options to choose one from, over the bank and quiz by quiz."""
    earned: dict[str, tuple[bytes, int]] = {}
    bank = panel.Tally()
    for item in items:
        if isinstance(item.response, Choice):
            options = item.response.options
            in_stem = item.response.order == "as-in-stem"  # every option repeats the stem there, so none does
            figures = () if in_stem else cues.stem_figures(item.operands)
            key = next(place for place, option in enumerate(options) if option.is_key)
            credits = packed.credits([option.numeral for option in options], key, figures)
            earned[item.identifier] = (credits, len(options))
            bank.add(credits, len(options))
    results = bank.results(WHOLE_BANK, 1)
    for quiz in quizzes:
        tally = panel.Tally()
        for identifier in quiz.items:
            if identifier in earned:
                tally.add(*earned[identifier])
        results += tally.results(quiz.identifier, len(quizzes))
    return results


def _mistake_rows(
    items: Sequence[Item], held: Mapping[str, Sequence[str]]
) -> tuple[tuple[MistakeRow, ...], tuple[MistakeRow, ...]]:
    offered: Counter[str] = Counter()
    foreseen: Counter[str] = Counter()
    quizzes: dict[str, set[str]] = {}
    for item in items:
        typed = type(item.response).__name__ == "TypedNumber"
        for name in set(mistakes_of(item)):
            (foreseen if typed else offered)[name] += 1
            quizzes.setdefault(name, set()).update(held.get(item.identifier, ()))
    operations = {item.family.operation for item in items}
    known = {one.identifier: one for one in mistakes.load().values() if one.operation in operations}
    met = sorted({*offered, *foreseen})
    rows = [
        MistakeRow(
            name, known[name].name if name in known else name, name.partition(".")[0], offered[name], foreseen[name],
            len(quizzes[name]),
        )
        for name in met
    ]
    missing = [
        MistakeRow(one.identifier, one.name, one.operation, 0, 0, 0)
        for name, one in known.items() if name not in quizzes
    ]
    return tuple(rows), tuple(missing)


def _gaps(
    topics: Sequence[CoverageRow], quizzes: Sequence[QuizRow], unused: Sequence[MistakeRow]
) -> Iterable[Gap]:
    for place, band in enumerate(BANDS):
        empty = [row.topic.replace("-", " ") for row in topics if not row.counts[place]]
        if empty:
            yield Gap(
                f"Nothing is predicted {band} in {', '.join(empty)}",
                "where the plan wants it, widen a template's ranges or write one for this corner",
            )
    for quiz in quizzes:
        if quiz.rare:
            yield Gap(
                f"\u201c{quiz.quiz.title}\u201d: {len(quiz.rare)} of the mistakes that it can show have fewer than"
                f" {CHANCES_WANTED} chances, {quiz.often} have enough",
                "add siblings of the items that show them, or do not name these mistakes from this quiz alone",
            )
    if unused:
        yield Gap(
            f"{len(unused)} mistakes of the library for these operations show in no item",
            "see the table of mistakes; build more items, or other numbers, where one of them matters",
        )
