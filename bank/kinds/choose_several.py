"""Choose several: all that are worth the key, among what a mistake takes for it."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

from bank import methods
from bank.chance import digest_numbers
from bank.errors import BadInput, Place, Problem
from bank.guesses import STRATEGIES, UNIT, blind, units_of_several
from bank.kinds._made import Candidate, Made, Offer, Running, distinct, expression_of, lot, numbers_of, once
from bank.model import ChooseSeveral
from bank.model import Offer as Offered
from bank.numerals import Numeral
from bank.templates import SeveralWanted, Template, Values

FEWEST_RIGHT = 2
FEWEST_WRONG = 2
TOO_FEW = "too few of what is offered are right, or wrong by a known mistake"
ATTEMPTS = 12
"""Lots drawn for a set whose looks give least to guessers; where it gives much, a check warns of it."""
EARLY = 2 * UNIT
"""Units below chance from which on a guesser's strategy is steered against: before it has had its due."""
_OBVIOUS = 10**9
_LETTERS = "ABCDEFGH"


def gives_away(offered: Sequence[tuple[Candidate, bool]]) -> bool:
    """Return whether form or length parts the right ones from the wrong ones."""
    forms: dict[bool, set[str]] = {True: set(), False: set()}
    lengths: dict[bool, list[int]] = {True: [], False: []}
    for one, is_key in offered:
        forms[is_key].add(one.form)
        lengths[is_key].append(one.size)
    right, wrong = lengths[True], lengths[False]
    return not forms[True] & forms[False] or min(right) > max(wrong) or max(right) < min(wrong)


def _units(offered: Sequence[tuple[Candidate, bool]], credit: str) -> tuple[int, ...]:
    """Return what each strategy of a guesser earns on *offered*."""
    return units_of_several(
        [one.size for one, _ in offered], [one.form == "number" for one, _ in offered], [key for _, key in offered],
        credit,
    )


def _half_named(mixed: Sequence[Candidate], wanted: int, must: str) -> list[Candidate]:
    """Return *wanted* of *mixed*, from the front, at least half of them with a mistake, one with *must* among them."""
    first = next(([one] for one in mixed if must and must in one.mistakes), [])
    rest = [one for one in mixed if one not in first]
    unnamed = wanted // 2
    taken = list(first)
    for one in rest:
        if len(taken) == wanted:
            break
        if not one.mistakes:
            if not unnamed:
                continue
            unnamed -= 1
        taken.append(one)
    return taken


class Several:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        wanted = template.response
        assert isinstance(wanted, SeveralWanted)
        self._template, self._wanted = template, wanted
        self._right = [Offer(template, one) for one in wanted.right]
        self._wrong = [Offer(template, one) for one in wanted.wrong]
        self._running = Running(template)
        self._over = [0] * len(STRATEGIES["choose-several"])
        """Units that each strategy of a guesser has earned beyond chance, on the items taken so far."""

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts: how many are right, and which, is settled by lot."""
        key = self._template.key(values)
        right = distinct([one for offer in self._right if (one := self._right_one(offer, values, key))])
        wrong = distinct([one for offer in self._wrong if (one := self._wrong_one(offer, values, key))])
        options = self._wanted.options
        most = options // 2 if self._wanted.credit == "each" else options - FEWEST_WRONG
        counts = [count for count in range(FEWEST_RIGHT, most + 1)
                  if count <= len(right) and options - count <= len(wrong)]
        named = sum([bool(one.mistakes) for one in wrong])
        counts = [count for count in counts if 2 * named >= options - count]
        if not counts:
            return TOO_FEW
        count = counts[digest_numbers("right", *names)[0] % len(counts)]
        best: tuple[int, list[tuple[Candidate, bool]]] = (-1, [])
        for attempt in range(ATTEMPTS):
            chosen = [right[place] for place in lot(len(right), "right", attempt, *names)[:count]]
            mixed = [wrong[place] for place in lot(len(wrong), "wrong", attempt, *names)]
            offered = [(one, True) for one in chosen]
            offered += [(one, False) for one in _half_named(mixed, options - count, must)]
            cost = self._cost(offered)
            if not best[1] or cost < best[0]:
                best = cost, offered
            if not cost:
                break
        response = self._response([best[1][place] for place in lot(options, "order", *names)])
        operands = numbers_of([one.text for one in response.options])
        work = partial(methods.evaluate, *methods.evaluated((), response), operands, key, layout="several")
        led = once(name for one in response.options for name in one.mistakes)
        return Made(response, operands, key, work, led, once((*led, *[name for one in wrong for name in one.mistakes])))

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Want every draw."""
        return True

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take every draw, and note what guessers earn on it, so that later ones can make up for it."""
        response = made.response
        assert isinstance(response, ChooseSeveral)
        offered = [(Candidate(one.text, one.value or made.key).seen(), one.is_key) for one in response.options]
        chance = int(UNIT * blind(response))
        earned = _units(offered, response.credit)
        self._over = [over + units - chance for over, units in zip(self._over, earned, strict=True)]
        return True

    def _response(self, offered: Sequence[tuple[Candidate, bool]]) -> ChooseSeveral:
        return ChooseSeveral(
            options=tuple([
                Offered(identifier=letter, text=one.text, is_key=is_key, mistakes=one.mistakes, value=one.worth)
                for letter, (one, is_key) in zip(_LETTERS, offered, strict=False)
            ]),
            credit=self._wanted.credit,
        )

    def _cost(self, offered: Sequence[tuple[Candidate, bool]]) -> int:
        """Return how much *offered* would give to guessers that have had more than their due; 0 for nothing."""
        cost = _OBVIOUS if gives_away(offered) else 0
        for over, units in zip(self._over, _units(offered, self._wanted.credit), strict=True):
            if over > -EARLY:
                cost += (over + EARLY) * units
        return cost

    def _right_one(self, offer: Offer, values: Values, key: Numeral) -> Candidate | None:
        one = offer.at(values)
        if one is None:
            return None
        one = one.seen()
        if one.worth != key:
            raise BadInput(Problem(
                "offer-differs", Place(self._template.source), "response.choose-several.right",
                f"what is called right is worth {one.worth}, the key is {key}, for "
                + ", ".join(f"{name} = {value}" for name, value in self._template.parameters_as_written(values)),
                "mend it, or list it under wrong",
            ))
        expression = expression_of(one.text)
        if expression is None or not self._running.named:
            return one
        shown = self._running.answers(expression, key)  # of named mistakes: what lets a pupil pass the right one over
        return one._replace(mistakes=once(name for name, _ in shown))

    def _wrong_one(self, offer: Offer, values: Values, key: Numeral) -> Candidate | None:
        one = offer.at(values)
        if one is None or one.worth == key:
            return None
        one = one.seen()
        declared = offer.offered.mistake
        if offer.offered.of:
            return one._replace(mistakes=(declared,))
        expression = expression_of(one.text)
        shown = self._running.answers(expression, one.worth) if expression is not None else []
        names = once(name for name, answer in shown if answer == key)
        return None if declared and declared not in names else one._replace(mistakes=names)
