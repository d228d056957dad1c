"""Put in order: numbers on which a mistake of comparing gives a wrong order, shown in another one."""

from __future__ import annotations

from functools import partial
from itertools import pairwise, permutations

from bank import methods, mistakes
from bank.chance import digest_numbers
from bank.guesses import STRATEGIES, UNIT, blind, units_of_order
from bank.kinds._made import Made, once
from bank.mistakes import comparison
from bank.model import Offer, PutInOrder
from bank.numerals import Numeral
from bank.templates import OrderWanted, Template, Values

NO_WRONG_ORDER = "no documented mistake gives a wrong order"
WRONG_END = "compare.wrong-end"
"""Turns any order round, so it does not make numbers worth ordering."""
_LETTERS = "ABCDE"


class Order:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        wanted = template.response
        assert isinstance(wanted, OrderWanted)
        self._template, self._wanted = template, wanted
        mistakes.load()
        self._names = template.mistakes or tuple(
            [record.identifier for record in mistakes.of_operation("compare")])
        self._over = [0] * len(STRATEGIES["put-in-order"])
        """Units that each strategy of a guesser has earned beyond chance, on the items taken so far."""
        self._descending = wanted.direction == "descending"

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts; the order first shown is settled by lot, and is none that anyone would give."""
        operands = self._template.operands(values)
        right = self._sorted(operands)
        wrong: dict[tuple[Numeral, ...], list[str]] = {}
        for name in self._names:
            order = self._order_of(name, operands)
            if order is not None and order != right:
                wrong.setdefault(order, []).append(name)
        if not any(name != WRONG_END for found in wrong.values() for name in found):
            return NO_WRONG_ORDER
        shown = self._first_shown(operands, right, set(wrong), names)
        letter = dict(zip(shown, _LETTERS, strict=False))
        response = PutInOrder(
            offers=tuple([Offer(identifier=letter[one], text=(one,), value=one) for one in shown]),
            right=tuple([letter[one] for one in right]),
            direction=self._wanted.direction,
            mistakes=tuple([(tuple([letter[one] for one in order]), tuple(found)) for order, found in wrong.items()]),
            credit=self._wanted.credit,
        )
        work = partial(methods.run, "compare", shown, layout=self._wanted.direction)
        key = self._template.key(values)
        led = once(name for found in wrong.values() for name in found)
        return Made(response, shown, key, work, led, led)

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Want draws that give nothing to a guesser who has had more than chance gives."""
        response = made.response
        assert isinstance(response, PutInOrder)
        chance = int(UNIT * blind(response))
        return not any([
            over > 0 and units > chance for over, units in zip(self._over, units_of_order(response), strict=True)
        ])

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take the draw, if it is wanted or nobody can wait, and note what guessers earn on it."""
        if patient and not self.wants(made, names):
            return False
        response = made.response
        assert isinstance(response, PutInOrder)
        chance = int(UNIT * blind(response))
        self._over = [
            over + units - chance for over, units in zip(self._over, units_of_order(response), strict=True)
        ]
        return True

    def _sorted(self, operands: tuple[Numeral, ...]) -> tuple[Numeral, ...]:
        return tuple(sorted(operands, reverse=self._descending))

    def _order_of(self, name: str, operands: tuple[Numeral, ...]) -> tuple[Numeral, ...] | None:
        """Return the order of a learner with the mistake, None where it calls two of the numbers equal."""
        order = comparison.in_order(name, operands)
        if any(not comparison.judged(name, one, other) for one, other in pairwise(order)):
            return None
        return order[::-1] if self._descending else order

    def _first_shown(
        self, operands: tuple[Numeral, ...], right: tuple[Numeral, ...], wrong: set[tuple[Numeral, ...]],
        names: tuple[object, ...],
    ) -> tuple[Numeral, ...]:
        """Return an order by lot: not the right one nor its reverse, and no mistake's where there are others."""
        possible = [order for order in permutations(sorted(operands)) if order not in (right, right[::-1])]
        clear = [order for order in possible if order not in wrong]
        among = clear or possible
        return among[digest_numbers("shown", *names)[0] % len(among)]
