"""Choose several: all that are worth the key, among what a mistake takes for it."""

from __future__ import annotations

from collections.abc import Sequence

from bank import methods
from bank.chance import digest_numbers
from bank.errors import BadInput, Place, Problem
from bank.kinds._made import (
    Candidate, Made, Offer, Running, distinct, expression_of, form, looks, lot, numbers_of, once,
)
from bank.model import ChooseSeveral
from bank.model import Offer as Offered
from bank.numerals import Numeral
from bank.templates import SeveralWanted, Template, Values

FEWEST_RIGHT = 2
FEWEST_WRONG = 2
TOO_FEW = "too few of what is offered are right, or wrong by a known mistake"
ATTEMPTS = 12
"""Lots drawn for a set whose looks give nothing away; the last one is taken, and a check warns of it."""
_LETTERS = "ABCDEFGH"


def gives_away(offered: Sequence[tuple[Candidate, bool]]) -> bool:
    """Return whether form or length parts the right ones from the wrong ones."""
    forms: dict[bool, set[str]] = {True: set(), False: set()}
    lengths: dict[bool, list[int]] = {True: [], False: []}
    for one, is_key in offered:
        forms[is_key].add(form(one.text))
        lengths[is_key].append(len(looks(one.text)))
    right, wrong = lengths[True], lengths[False]
    return not forms[True] & forms[False] or min(right) > max(wrong) or max(right) < min(wrong)


class Several:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        wanted = template.response
        assert isinstance(wanted, SeveralWanted)
        self._template, self._wanted = template, wanted
        self._right = [Offer(template, one) for one in wanted.right]
        self._wrong = [Offer(template, one) for one in wanted.wrong]
        self._running = Running(template)

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts: how many are right, and which, is settled by lot."""
        key = self._template.key(values)
        right = distinct([one for offer in self._right if (one := self._right_one(offer, values, key))])
        wrong = distinct([one for offer in self._wrong if (one := self._wrong_one(offer, values, key))])
        options = self._wanted.options
        most = options // 2 if self._wanted.credit == "each" else options - FEWEST_WRONG
        counts = [count for count in range(FEWEST_RIGHT, most + 1)
                  if count <= len(right) and options - count <= len(wrong)]
        if not counts or not any(one.mistakes for one in wrong):
            return TOO_FEW
        count = counts[digest_numbers("right", *names)[0] % len(counts)]
        offered: list[tuple[Candidate, bool]] = []
        for attempt in range(ATTEMPTS):
            chosen = [right[place] for place in lot(len(right), "right", attempt, *names)[:count]]
            mixed = [wrong[place] for place in lot(len(wrong), "wrong", attempt, *names)]
            mixed.sort(key=lambda one: (must not in one.mistakes if must else False, not one.mistakes))
            offered = [(one, True) for one in chosen] + [(one, False) for one in mixed[: options - count]]
            if not gives_away(offered):
                break
        offered = [offered[place] for place in lot(options, "order", *names)]
        response = ChooseSeveral(
            options=tuple([
                Offered(identifier=letter, text=one.text, is_key=is_key, mistakes=one.mistakes, value=one.worth)
                for letter, (one, is_key) in zip(_LETTERS, offered, strict=False)
            ]),
            credit=self._wanted.credit,
        )
        operands = numbers_of([one.text for one, _ in offered])
        solution = methods.evaluate(*methods.evaluated((), response), operands, key, layout="several")
        led = once(name for one, _ in offered for name in one.mistakes)
        return Made(response, operands, key, solution, led, once((*led, *[name for one in wrong for name in one.mistakes])))

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take every draw: places and numbers of right ones are settled by lot already."""
        return True

    def _right_one(self, offer: Offer, values: Values, key: Numeral) -> Candidate | None:
        one = offer.at(values)
        if one is None:
            return None
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
        declared = offer.offered.mistake
        if offer.offered.of:
            return one._replace(mistakes=(declared,))
        expression = expression_of(one.text)
        shown = self._running.answers(expression, one.worth) if expression is not None else []
        names = once(name for name, answer in shown if answer == key)
        return None if declared and declared not in names else one._replace(mistakes=names)
