"""Choose in the line: <, = or > between two numbers or expressions, each as often as lots fall."""

from __future__ import annotations

from functools import partial

from bank import methods, mistakes
from bank.chance import digest_numbers
from bank.kinds._made import Made, Running, expression_of, numbers_of, once
from bank.mistakes import comparison
from bank.model import ChooseInLine, Line, Offer
from bank.numerals import Numeral
from bank.templates import Template, Values

SIGNS = ("<", "=", ">")
AHEAD = 1
"""Lots that may be open at a time: so far the counts of signs may be from what lots say."""
NO_METHOD = "the written methods cannot carry out a side"
NO_WRONG_SIGN = "no documented mistake gives a wrong sign"
WRONG_END = "compare.wrong-end"
"""Turns any sign round, so it does not make numbers worth comparing."""


def _key_sign(made: Made) -> str:
    response = made.response
    assert isinstance(response, ChooseInLine)
    return next(str(one.text[0]) for one in response.options if one.is_key)


class InLine:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        self._template = template
        self._compares = template.operation == "compare"
        mistakes.load()
        if self._compares:
            self._names = template.mistakes or tuple(
                [record.identifier for record in mistakes.of_operation("compare")])
        else:
            self._running = Running(template)
        self._owed = dict.fromkeys(SIGNS, 0)
        self._lots = 0

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts; the sign is found by exact values, and again by the written methods."""
        stem = self._template.stem(values)
        sides = methods.sides(stem)
        if self._compares:
            left, right = operands = self._template.operands(values)
            led = self._judged(left, right)
            work = partial(methods.run, "compare", operands, layout="relation")
        else:
            operands = numbers_of(sides)
            try:
                left, right = [self._worth(side) for side in sides]
            except methods.CannotCarryOut:
                return NO_METHOD
            key = self._template.key(values)
            work = partial(methods.evaluate, sides, (None, None), operands, key, layout="relation")
            led = self._reckoned(sides, left, right)
        key_sign = methods.relation(left, right)
        wrong = {sign: [name for name, found in led if found == sign] for sign in SIGNS if sign != key_sign}
        if not any(name != WRONG_END for found in wrong.values() for name in found):
            return NO_WRONG_SIGN
        response = ChooseInLine(options=tuple([
            Offer(identifier=letter, text=(sign,), is_key=sign == key_sign, mistakes=once(wrong.get(sign, ())))
            for letter, sign in zip("ABC", SIGNS, strict=True)
        ]))
        key = self._template.key(values)
        names_led = once(name for found in wrong.values() for name in found)
        return Made(response, operands, key, work, names_led, names_led)

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Want the draw where its sign is owed; which signs are owed is settled by lot."""
        sign, owed = _key_sign(made), self._owed
        while not owed[sign] and sum(owed.values()) < AHEAD:
            owed[SIGNS[digest_numbers("sign", *names, self._lots)[0] % len(SIGNS)]] += 1
            self._lots += 1
        return owed[sign] > 0

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take the draw where its sign is owed, or where nobody can wait."""
        if self.wants(made, names):
            self._owed[_key_sign(made)] -= 1
            return True
        return not patient

    def _judged(self, left: Numeral, right: Numeral) -> list[tuple[str, str]]:
        """Return (id, sign) of what learners with each mistake write between two numbers."""
        signs = {-1: "<", 0: "=", 1: ">"}
        return [(name, signs[comparison.judged(name, left, right)]) for name in self._names]

    def _reckoned(self, sides: tuple[Line, Line], left: Numeral, right: Numeral) -> list[tuple[str, str]]:
        """Return (id, sign) of what learners write who reckon one side by a mistake and the other one rightly."""
        led = []
        for side, mine, other, turned in ((sides[0], left, right, False), (sides[1], right, left, True)):
            expression = expression_of(side)
            for name, answer in self._running.answers(expression, mine) if expression is not None else ():
                led.append((name, methods.relation(other, answer) if turned else methods.relation(answer, other)))
        return led

    def _worth(self, side: Line) -> Numeral:
        leaf = side[0]
        if isinstance(leaf, Numeral):
            return leaf
        expression = expression_of(side)
        assert expression is not None
        return methods.work_out(expression)[0]
