"""Drawing items of the further kinds of response: the way of `bank.draw`, with the parts made by `bank.kinds`."""

from __future__ import annotations

from collections.abc import Sequence

from bank import difficulty, guessing, methods
from bank.draw import NOT_NEEDED, SAME_QUESTION, UNREACHED, Batch, Demand, Drawer
from bank.errors import BadInput, Place, Problem
from bank.kinds import Made, Maker, maker_for
from bank.model import Item, Locale
from bank.questions import question as question_digest
from bank.summary import kind_of
from bank.templates import Template

WAITING = 30
"""Draws that may wait for each wanted item, and that many for so many more; then what comes is taken."""


def drawer_of(template: Template) -> type[Drawer]:
    """Return the class that draws items of *template*."""
    return Drawer if template.kind in ("choice", "number") else FurtherDrawer


class FurtherDrawer(Drawer):
    """Draws items of a further kind from one shard of a template's draws."""

    def __init__(
        self, template: Template, locale: Locale, weights: difficulty.Weights, seed: int, items: int, shard: int,
        shards: int,
    ) -> None:
        super().__init__(template, locale, weights, seed, items, shard, shards)
        self._most_waiting = WAITING * (items + WAITING)
        maker = maker_for(template)
        if maker is None:
            raise TypeError(f"{template.identifier} is answered by choosing one or typing")
        self.maker: Maker = maker
        """What makes the items' parts."""
        self._waited: set[int] = set()
        """Draws that were put off once already."""

    def _solve(self, index: int) -> Made | str:  # type: ignore[override]
        values = self._template.values_at(index)
        return self._template.refusal(values) or self.maker.make(values, "", (*self._names, index))

    def _serve(  # type: ignore[override]
        self, index: int, solved: Made, demands: Sequence[Demand], left: list[int], batch: Batch, *, patient: bool
    ) -> None:
        """Make the item for the first open demand that it meets, or note why none is made."""
        fitting = [place for place in self._open if demands[place].mistake in ("", *solved.possible)]
        if not fitting:
            batch.refused[UNREACHED if any(left) else NOT_NEEDED] += 1
            return
        patient = index not in self._waited and len(self._waited) < self._most_waiting
        if patient and not self.maker.wants(solved, (*self._names, self._shard)):
            self._waited.add(index)
            self._put_off.append(index)
            return
        template = self._template
        values = template.values_at(index)
        must = demands[min(fitting)].mistake
        if must and must not in solved.mistakes:
            again = self.maker.make(values, must, (*self._names, index))
            if isinstance(again, str):
                batch.refused[UNREACHED] += 1
                return
            solved = again
        question = question_digest(template.stem(values), solved.operands, self._family.operation)
        if question in self._questions:
            batch.refused[SAME_QUESTION] += 1
            return
        solution = solved.solution
        if solution.result != solved.key:
            raise BadInput(Problem(
                "key-differs", Place(template.source), "response",
                f"{self._drawn(values)}: exact arithmetic gives {solved.key}, the written methods {solution.result}"
                f" for {', '.join(map(str, solved.operands))}", "report this: it is a fault of the tool",
            ))
        features = difficulty.features_of_kind(
            solved.operands, solution, context=self._family.context, response=solved.response,
            weights=self._weights,
        )
        prediction = difficulty.predict(
            features, self._weights, difficulty.chance_level(solved.response)
        )
        fitting = [place for place in fitting if demands[place].band in ("", prediction.band)
                   and demands[place].mistake in ("", *solved.mistakes)]
        if not fitting:
            batch.refused[NOT_NEEDED] += 1
            return
        if not self.maker.accepts(solved, (*self._names, self._shard), patient=patient):
            self._waited.add(index)
            self._put_off.append(index)
            return
        demand, stem = min(fitting), template.stem(values)
        shown = demands[demand].shows_feedback
        item = Item(
            identifier=self._namer.name(stem, solved.operands, solved.key, solved.response, shows_feedback=shown),
            family=self._family, parameters=template.parameters_as_written(values), stem=stem,
            operands=solved.operands, key=solved.key, response=solved.response,
            solution=methods.closed(solution, solved.key, solved.response, self._family.unit),
            features=features, prediction=prediction, shows_feedback=shown,
        )
        earned = guessing.earned(item, kind_of(item.response), self._locale)
        self._keep(item, question, earned, demand, demands, left, batch)
