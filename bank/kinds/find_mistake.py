"""Find the mistake: a learner's working with one wrong step, and the right answer to be typed where that is asked."""

from __future__ import annotations

from collections import Counter

from bank import methods, mistakes, slips
from bank.chance import digest_numbers
from bank.kinds._made import Made, Running, once
from bank.model import FindMistake, Offer, Trace, TypedNumber
from bank.numerals import Numeral
from bank.slips import Slip, Working
from bank.templates import FindWanted, Template, Values

NO_WORKING = "no documented mistake gives a working with just one wrong step"
SHARE, AHEAD = 4, 2
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
        found = self._workings(right)
        possible = once(record.mistake for record, _ in found)
        among = [(record, working) for record, working in found if must in ("", record.mistake)]
        if not among:
            return NO_WORKING
        record, working = among[digest_numbers("working", *names)[0] % len(among)]
        steps = tuple([
            Offer(identifier=f"S{number}", text=line) for number, line in enumerate(working.trace.steps, 1)
        ])
        response = FindMistake(
            working=working.trace, steps=steps, right=steps[working.wrong[0]].identifier, mistake=record.mistake,
            typed=self._typed(operands, key), credit=self._wanted.credit,
        )
        return Made(response, operands, key, right, (record.mistake,), possible)

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

    def _workings(self, right: Trace) -> list[tuple[Slip, Working]]:
        """Return the workings with one wrong step whose answers are those of their mistakes."""
        return [
            (record, working) for record, working in slips.with_one_wrong_step(self._slips, right)
            if self._mistakes[record.mistake].procedure(*right.operands) == working.trace.result
        ]

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
