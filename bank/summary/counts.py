"""Counts over the items of a bank, taken while they pass by."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace

from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, PutInOrder, Response, TypedNumber,
)
from bank.summary.records import Bank, BuildSummary


class Tally:
    """Counts over items as they pass by: `add` each, `merge` those of other processes, read the four counts."""

    def __init__(self) -> None:
        self._mistakes: Counter[str] = Counter()
        self._keys: Counter[tuple[int, int]] = Counter()
        self._bands: Counter[tuple[str, str]] = Counter()
        self._responses: Counter[str] = Counter()

    def add(self, item: Item) -> None:
        """Count *item*."""
        response = item.response
        self._bands[item.family.topic, item.prediction.band] += 1
        self._mistakes.update(set(mistakes_of(item)))
        if isinstance(response, Choice):
            self._responses["choice"] += 1
            place = next((index for index, option in enumerate(response.options) if option.is_key), -1)
            self._keys[len(response.options), place] += 1
        else:
            self._responses[kind_of(response)] += 1

    def merge(self, other: Tally) -> None:
        """Add the counts of *other*."""
        self._mistakes.update(other._mistakes)
        self._keys.update(other._keys)
        self._bands.update(other._bands)
        self._responses.update(other._responses)

    @property
    def mistake_use(self) -> tuple[tuple[str, int], ...]:
        """As `BuildSummary.mistake_use`."""
        return tuple(sorted(self._mistakes.items()))

    @property
    def key_places(self) -> tuple[tuple[str, tuple[int, ...]], ...]:
        """As `BuildSummary.key_places`."""
        sizes = sorted({size for size, _ in self._keys})
        return tuple((f"{size} options", tuple(self._keys[size, place] for place in range(size))) for size in sizes)

    @property
    def topic_bands(self) -> tuple[tuple[str, str, int], ...]:
        """As `BuildSummary.topic_bands`."""
        return tuple((topic, band, count) for (topic, band), count in sorted(self._bands.items()))

    @property
    def responses(self) -> tuple[tuple[str, int], ...]:
        """As `BuildSummary.responses`."""
        return tuple(sorted(self._responses.items()))


_KINDS = {
    Choice: "choice", TypedNumber: "typed", ChooseSeveral: "choose-several", PutInOrder: "put-in-order",
    MatchPairs: "match-pairs", ChooseInLine: "choose-in-line", FindMistake: "find-mistake",
}


def kind_of(response: Response) -> str:
    """Return the name of the kind of *response*, as in `BuildSummary.responses`."""
    return _KINDS[type(response)]


def mistakes_of(item: Item) -> Iterator[str]:
    """Give the mistake ids behind the wrong answers of *item*, in order, repeated where several answers share one."""
    return mistakes_behind(item.response)


def mistakes_behind(response: Response) -> Iterator[str]:
    """Give the mistake ids behind the wrong answers to a *response*, in order.

    What leads to leaving a right one out is among them.
    """
    if isinstance(response, (Choice, ChooseSeveral, ChooseInLine)):
        for option in response.options:
            yield from option.mistakes
        return
    if isinstance(response, FindMistake):
        yield response.mistake
        return
    for _, identifiers in response.mistakes:
        yield from identifiers


def tally(bank: Bank) -> Tally:
    """Return the counts over all items of *bank*."""
    counted = Tally()
    for item in bank.items():
        counted.add(item)
    return counted


def completed(summary: BuildSummary, bank: Bank) -> BuildSummary:
    """Return *summary*, counts that it lacks taken from the items of *bank*."""
    if summary.topic_bands or not bank.count:
        return summary
    counts = tally(bank)
    return replace(
        summary,
        topic_bands=counts.topic_bands,
        responses=summary.responses or counts.responses,
        mistake_use=summary.mistake_use or counts.mistake_use,
        key_places=summary.key_places or counts.key_places,
    )
