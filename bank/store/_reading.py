"""Items read, wholly or for their answers only, from what `bank.store._packing` kept of them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from bank import methods
from bank.model import Choice, Family, Item, Option, Prediction, Response, Trace, TypedNumber
from bank.numerals import Numeral
from bank.store._kinds import KINDS, kind_in, kind_of, offer_in
from bank.store._lines import REMEMBERED, SILENT, Slot, line_in, loads

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_NO_SOLUTION = Trace("", "", "", (), Numeral(0), (), 0, (), ())
"""Stands in an item that was read without its solution."""


class ItemAnswers(NamedTuple):
    """What scoring hangs on: an item's key and its answers, offered or foreseen; numbers as they are written."""

    identifier: str
    kind: str
    """``choice``, ``number`` where the answer is typed, or one of `bank.store.KINDS`."""
    policy: str
    """Policy of a typed answer; empty for a choice."""
    written: tuple[int, ...]
    """Coefficient and places of the key, and then of each answer: the options of a choice in their order, or the
    wrong answers foreseen to a typed one."""
    keys: tuple[bool, ...]
    """For each answer, whether it is the key; all False where they are foreseen."""
    mistakes: tuple[tuple[str, ...], ...]
    """For each answer, the ids of the mistakes that lead to it."""
    family: Family
    response: Response | None = None
    """The whole response where it is of a further kind; ``kind`` then names it, and there are no other answers."""

    @property
    def key(self) -> Numeral:
        """The key."""
        return Numeral(self.written[0], self.written[1])

    @property
    def numerals(self) -> tuple[Numeral, ...]:
        """The answers in their order."""
        return _numbers_in(self.written[2:])

    @property
    def letters(self) -> str:
        """Identifiers of the options, one letter each; empty for a typed answer."""
        return _LETTERS[: len(self.keys)] if self.kind == "choice" else ""


def answers_of(item: Item) -> ItemAnswers:
    """Return what `read_answers` gives for *item*."""
    response = item.response
    if isinstance(response, Choice):
        kind, policy = "choice", ""
        answers = [(option.numeral, option.is_key, option.mistakes) for option in response.options]
    elif not isinstance(response, TypedNumber):
        written = (item.key.coefficient, item.key.places)
        return ItemAnswers(item.identifier, kind_of(response), "", written, (), (), item.family, response)
    else:
        kind, policy = "number", response.policy
        answers = [(numeral, False, names) for numeral, names in response.mistakes]
    numerals = [item.key, *[numeral for numeral, _, _ in answers]]
    numbers = [part for numeral in numerals for part in (numeral.coefficient, numeral.places)]
    return ItemAnswers(
        item.identifier, kind, policy, tuple(numbers), tuple([is_key for _, is_key, _ in answers]),
        tuple([names for _, _, names in answers]), item.family,
    )


def _numbers_in(kept: Sequence[int]) -> tuple[Numeral, ...]:
    return tuple(map(Numeral, kept[::2], kept[1::2]))


def _stem_in(kept: str) -> tuple[int, tuple[tuple[Slot, ...], ...]]:
    operands, lines = loads(kept)
    return int(operands), tuple([
        tuple([tuple(slot) if isinstance(slot, list) else slot for slot in line]) for line in lines
    ])


def _said_in(kept: str) -> tuple[tuple[tuple[str, int], ...], Prediction]:
    features, (band, score, low, high, reasons) = loads(kept)
    return tuple([(name, value) for name, value in features]), Prediction(
        band=band, score=score, low_share=low, high_share=high,
        reasons=tuple([(name, value, part) for name, value, part in reasons]),
    )


def _manner_in(kept: str, answers: int) -> tuple[str, Any, tuple[Any, ...], bool]:
    """Return kind of response, order or policy, for each answer whether it is the key, and whether feedback is shown.

    Of further kinds it is kind, settings, and the identifiers of their offers.
    """
    kind, manner, keys, *silent = loads(kept)
    if silent not in ([], [*SILENT]):
        raise ValueError(f"no manner of response: {kept}")
    if kind in KINDS:
        return kind, manner, keys, not silent
    if kind not in ("choice", "number") or not all(0 <= place < answers for place in keys):
        raise ValueError(f"no manner of response: {kept}")
    return kind, manner, tuple([place in keys for place in range(answers)]), not silent


def _mistakes_in(kept: str) -> tuple[str, ...]:
    identifiers = loads(kept)
    if not isinstance(identifiers, list):
        raise ValueError(f"no list of mistakes: {kept}")
    return tuple(identifiers)


class Reader:
    """Reads items; *line_of* gives a shared line by what an item calls it.

    What is kept of an item comes as a list: drawn values by name, numbers asked, numbers given, and what it calls its
    shared lines. Where it is nothing that was packed, ValueError or another of `bank.store.DAMAGE` is raised.
    """

    def __init__(self, line_of: Callable[[Any], str]) -> None:
        self._stem = _once(line_of, _stem_in)
        self._said = _once(line_of, _said_in)
        self._manner = _once(line_of, _manner_in)
        self._mistakes = _once(line_of, _mistakes_in)
        self._offer = _once(line_of, offer_in)

    def item(
        self, identifier: str, family: Family, kept: list[Any], *, solutions: bool = True, answers_only: bool = False
    ) -> Item:
        """Return the item, with its worked solution carried out anew.

        Without *solutions* the solution stays empty, with *answers_only* the stem too.

        Raises:
            ValueError: the worked solution does not give the key that was kept.
        """
        parameters, asked, given, stem, said, manner, *reasons = kept
        numbers = _numbers_in(asked)
        count, pattern = self._stem(stem)
        operands = numbers[:count]
        alone = given.pop() if given[-1].__class__ is list else None
        key, *answers = _numbers_in(given)
        response, shows_feedback = self._response(manner, answers, alone, reasons)
        lines = () if answers_only else tuple([line_in(line, numbers) for line in pattern])
        solution = _NO_SOLUTION
        if solutions and not answers_only:
            if family.operation == "evaluate":
                solution = methods.evaluate(*methods.evaluated(lines, response), operands, key, layout=family.layout)
            else:
                solution = methods.run(family.operation, operands, layout=family.layout, places=family.rounding)
            if solution.result != key:
                raise ValueError(f"the worked solution gives {solution.result}, the key kept is {key}")
            solution = methods.closed(solution, key, response, family.unit)
        features, prediction = self._said(said)
        return Item(
            identifier=identifier,
            family=family,
            parameters=tuple(parameters.items()),
            stem=lines,
            operands=operands,
            key=key,
            response=response,
            solution=solution,
            features=features,
            prediction=prediction,
            shows_feedback=shows_feedback,
        )

    def _response(self, kept: Any, answers: list[Numeral], alone: Any, reasons: list[Any]) -> tuple[Response, bool]:
        """Return the response, and whether feedback is shown."""
        kind, manner, keys, shown = self._manner(kept, len(answers))
        if kind in KINDS:
            return kind_in(kind, manner, keys, answers, alone, reasons, self._offer, self._mistakes), shown
        names = map(self._mistakes, reasons)
        if kind == "number":
            return TypedNumber(policy=manner, mistakes=tuple(zip(answers, names, strict=True))), shown
        letters = _LETTERS[: len(answers)]
        return Choice(
            options=tuple([
                Option(identifier=letter, numeral=numeral, is_key=is_key, mistakes=mistakes)
                for letter, numeral, is_key, mistakes in zip(letters, answers, keys, names, strict=True)
            ]),
            order=manner,
        ), shown

    def answers(self, identifier: str, family: Family, kept: list[Any]) -> ItemAnswers:
        """Return key and answers of the item."""
        _, _, given, _, _, manner, *reasons = kept
        kind, policy, keys, _ = self._manner(manner, len(reasons))
        if kind in KINDS:
            alone = given.pop() if given[-1].__class__ is list else None
            _, *numbers = _numbers_in(given)
            response, _ = self._response(manner, numbers, alone, reasons)
            return ItemAnswers(identifier, kind, "", tuple(given[:2]), (), (), family, response)
        if len(given) != 2 * len(reasons) + 2:
            raise ValueError("numbers and reasons of its answers are not equally many")
        return ItemAnswers(
            identifier, kind, "" if kind == "choice" else policy, tuple(given), keys,
            tuple(map(self._mistakes, reasons)), family,
        )


def _once(line_of: Callable[[Any], str], reading: Callable[..., Any]) -> Callable[..., Any]:
    """Return *reading* of the line that is called so, done once for lines that come often."""
    @lru_cache(REMEMBERED)
    def read(name: Any, *more: int) -> Any:
        return reading(line_of(name), *more)

    return read


_packed = Reader(str)
"""Reads packed items, which call a shared line by its own words."""


def unpack(identifier: str, family: Family, content: str) -> Item:
    """Return the item that `pack` wrote, with its worked solution carried out anew.

    Raises:
        ValueError: the worked solution does not give the key that was kept; or, as another of `bank.store.DAMAGE`,
            *content* is nothing that `pack` wrote.
    """
    own, *lines = content.split("\n")
    return _packed.item(identifier, family, [*loads(own), *lines])
