"""Match pairs: expressions with their values, and values left over that mistakes give."""

from __future__ import annotations

from functools import partial

from bank import methods
from bank.kinds._made import Candidate, Made, Offer, Running, expression_of, lot, numbers_of, once
from bank.model import MatchPairs
from bank.model import Offer as Offered
from bank.numerals import Numeral
from bank.templates import PairsWanted, Template, Values

TOO_FEW = "too few sources with different values"
NO_LEFT_OVER = "too few wrong values from mistakes"


class Pairs:
    """Makes items of one template."""

    def __init__(self, template: Template) -> None:
        wanted = template.response
        assert isinstance(wanted, PairsWanted)
        self._template, self._wanted = template, wanted
        self._sources = [Offer(template, one) for one in wanted.sources]
        self._running = Running(template)

    def make(self, values: Values, must: str, names: tuple[object, ...]) -> Made | str:
        """Return the item's parts: which sources and which wrong values stand there is settled by lot."""
        chosen: list[Candidate] = []
        for place in lot(len(self._sources), "sources", *names):
            one = self._sources[place].at(values)
            if one is not None and all(one.worth != other.worth for other in chosen):
                chosen.append(one)
            if len(chosen) == self._wanted.pairs:
                break
        else:
            return TOO_FEW
        worths = [one.worth for one in chosen]
        shown = [self._running.answers(expression, one.worth) if (expression := expression_of(one.text)) else []
                 for one in chosen]
        spare = self._left_over([answer.normal() for found in shown for name, answer in found
                                 if not must or name == must], worths, names)
        if must and len(spare) < self._wanted.left_over:
            spare += self._left_over([answer.normal() for found in shown for _, answer in found], [*worths, *spare],
                                     names)
        spare = spare[: self._wanted.left_over]
        if len(spare) < self._wanted.left_over:
            return NO_LEFT_OVER
        sources = tuple([
            Offered(identifier=f"S{at}", text=one.text, value=one.worth) for at, one in enumerate(chosen, 1)
        ])
        led: dict[Numeral, list[str]] = {value: [] for value in spare}
        for found in shown:
            for name, answer in found:
                if answer in led:
                    led[answer].append(name)
        targets = tuple([
            Offered(identifier=f"T{at}", text=(value,), value=value, mistakes=once(led.get(value, ())))
            for at, value in enumerate(sorted([*worths, *spare]), 1)
        ])
        target_of = {one.value: one.identifier for one in targets}
        wrong: dict[tuple[str, str], list[str]] = {}
        for source, found in zip(sources, shown, strict=True):
            for name, answer in found:
                if answer in target_of:
                    wrong.setdefault((source.identifier, target_of[answer]), []).append(name)
        response = MatchPairs(
            sources=sources, targets=targets, credit=self._wanted.credit,
            pairs=tuple([(one.identifier, target_of[one.value]) for one in sources]),
            mistakes=tuple([(pair, once(found)) for pair, found in sorted(wrong.items())]),
        )
        operands = numbers_of([one.text for one in sources])
        key = sources[0].value or worths[0]
        work = partial(methods.evaluate, *methods.evaluated((), response), operands, key, layout="pairs")
        led_to = once(name for found in wrong.values() for name in found)
        possible = once(name for found in shown for name, answer in found if answer not in worths)
        return Made(response, operands, key, work, led_to, once((*led_to, *possible)))

    def wants(self, made: Made, names: tuple[object, ...]) -> bool:
        """Want every draw."""
        return True

    def accepts(self, made: Made, names: tuple[object, ...], *, patient: bool) -> bool:
        """Take every draw: sources and left-over values are settled by lot already."""
        return True

    def _left_over(
        self, answers: list[Numeral], worths: list[Numeral], names: tuple[object, ...]
    ) -> list[Numeral]:
        """Return the wrong values that are no source's, each once, in an order by lot."""
        found = list(dict.fromkeys(answers))
        found = [answer for answer in found if answer not in worths]
        return [found[place] for place in lot(len(found), "left over", *names)]
