"""Find the mistake: a learner's working with one wrong step, and the right answer to be typed where that is asked."""

from __future__ import annotations

from collections import Counter

from bank import methods, mistakes, slips
from bank.kinds._made import Made, Running, lot, once
from bank.model import FindMistake, Offer, Trace, TypedNumber
from bank.numerals import Numeral
from bank.slips import Slip, Working
from bank.templates import FindWanted, Template, Values

NO_WORKING = "no documented mistake gives a working with just one wrong step"
SHARE, AHEAD = 3, 2
"""A mistake, or a place of the wrong step, may have one in so many items of a template and so many more, before other
numbers are tried: who always marks one step, or looks for one mistake, gains little."""
_SPARE_DIGITS = 2
"""A foreseen wrong answer may have this many digits more than the key or the longest operand."""


class Find:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        wanted = template.response
        assert isinstance(wanted, FindWanted)
        self._template, self._wanted = template, wanted
        known = slips.of_operation(template.operation)
        self._slips = tuple([one for one in known if not wanted.slips or one.mistake in wanted.slips])
        self._mistakes = mistakes.load()
        self._running = Running(template)
        self._uses: Counter[str] = Counter()
        self._places: Counter[str] = Counter()
        self._taken = 0

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts; which working is shown, of those that these numbers allow, is settled by lot."""
        template = self._template
        operands, key = template.operands(values), template.key(values)
        right = methods.run(template.operation, operands, layout=template.layout)
        showing = self._showing(operands, key)
        found = self._first(showing, right, must, names)
        if found is None:
            return NO_WORKING
        record, working = found
        steps = tuple([
            Offer(identifier=f"S{number}", text=line) for number, line in enumerate(working.trace.steps, 1)
        ])
        response = FindMistake(
            working=working.trace, steps=steps, right=steps[working.wrong[0]].identifier, mistake=record.mistake,
            typed=self._typed(operands, key), credit=self._wanted.credit,
        )
        possible = once(one.mistake for one, _ in showing)
        return Made(response, operands, key, lambda: right, (record.mistake,), possible)

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Want every draw that `accepts` has not been asked about."""
        return True

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take the draw unless its mistake, or the place of its wrong step, has been used more than others were."""
        response = made.response
        assert isinstance(response, FindMistake)
        most = AHEAD + self._taken // SHARE
        if patient and (self._uses[response.mistake] >= most or self._places[response.right] >= most):
            return False
        self._taken += 1
        self._uses[response.mistake] += 1
        self._places[response.right] += 1
        return True

    def _showing(self, operands: tuple[Numeral, ...], key: Numeral) -> list[tuple[Slip, Numeral]]:
        """Return the slips whose mistakes show on these numbers, each with the mistake's answer."""
        answers = [(one, self._mistakes[one.mistake].procedure(*operands)) for one in self._slips]
        return [(one, answer) for one, answer in answers if answer is not None and answer != key]

    def _first(
        self, showing: list[tuple[Slip, Numeral]], right: Trace, must: str, names: tuple[object, ...]
    ) -> tuple[Slip, Working] | None:
        """Return the first in an order by lot whose working has one wrong step and ends as its mistake does."""
        for place in lot(len(showing), "working", *names):
            record, answer = showing[place]
            if must in ("", record.mistake):
                for _, working in slips.with_one_wrong_step((record,), right):
                    if working.trace.result == answer:
                        return record, working
        return None

    def _typed(self, operands: tuple[Numeral, ...], key: Numeral) -> TypedNumber | None:
        if not self._wanted.policy:
            return None
        longest = max([len(str(one.coefficient)) for one in (*operands, key)]) + _SPARE_DIGITS
        foreseen: dict[Numeral, list[str]] = {}
        for name, answer in self._running.of(self._template.operation, operands, key):
            if len(str(answer.coefficient)) <= longest:
                foreseen.setdefault(answer, []).append(name)
        return TypedNumber(
            policy=self._wanted.policy,
            mistakes=tuple([(answer.normal(), tuple(found)) for answer, found in sorted(foreseen.items())]),
        )
