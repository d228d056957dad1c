"""Does the audit find again what was put in? Simulated pupils with known mistakes and abilities; run as a script it
prints sensitivity and false alarms of the report of mistakes, and how well the weights of difficulty come back.

Simulated pupils are simpler than pupils: they hold mistakes or not, and slip at random. The figures say what the report
can do at best, not what it does in a school.

    python tests/recovery_figures.py [BANK] [--seeds N]
"""

from __future__ import annotations

import argparse
import math
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import numpy as np
from bank import difficulty
from bank.audit.calibration import ObservedItem, calibrate
from bank.audit.class_mistakes import CHANCES, explain_answers
from bank.audit.classes import SHRINKAGE
from bank.audit.explained import Explainer, explainer
from bank.audit.lesson import mattering
from bank.audit.prediction import feature_matrix, weight_vector
from bank.audit.simulation import Settings, Simulation, simulate
from bank.audit.statistics.estimates import wilson
from bank.audit.statistics.patterns import groups_of_scores, scores_of_answers
from bank.audit.statistics.rasch import fit_rasch
from bank.difficulty import Weights
from bank.model import Item
from bank.store import Bank
from bank.trees import SHIPPED

PLAN = SHIPPED / "plans" / "demo-term.yaml"
ONE, WEEKS, TERM = ("week-06-diagnosis",), (
    "week-04-mixed", "week-05-sums", "week-05-mixed", "week-06-differences", "week-06-diagnosis"), ()
CLASSES = (25, 100, 1000)


class Found(NamedTuple):
    """What the report of mistakes finds of what was put in. Pairs are of pupil and mistake, with `CHANCES` chances."""

    stable: int
    """Pairs in which the pupil holds the mistake and shows it nearly always."""
    stable_found: int
    unstable: int
    """Pairs in which the pupil shows it now and then only."""
    unstable_found: int
    none: int
    """Pairs in which the pupil does not hold it."""
    false_alarms: int
    class_held: int
    """Mistakes that at least two pupils of the class hold and show nearly always, with chances."""
    class_found: int
    """Of these, mistakes that are said to matter."""
    class_named: int
    """Mistakes that are said to matter."""
    class_false: int
    """Of these, mistakes that no pupil of the class holds."""

    def __add__(self, other: object) -> Found:
        """Return the counts of both together."""
        assert isinstance(other, Found)
        return Found(*(one + more for one, more in zip(self, other, strict=True)))


class WeightsFound(NamedTuple):
    """How the weights come back from a prior that was moved away from the truth."""

    weights: int
    prior_error: float
    """Root mean square distance of the prior's means from the truth, logits."""
    error: float
    """The same of the posterior's means."""
    inside: int
    """Posterior 95 % intervals that hold the truth."""


def explainers_of(bank: Bank) -> dict[str, Explainer]:
    """Return the explainers of all items."""
    return {item.identifier: explainer(item, bank.info.locale) for item in bank.items(solutions=False)}


def mistakes_found(bank: Bank, known: dict[str, Explainer], pupils: int, seed: int, quizzes: Sequence[str]) -> Found:
    """Simulate a class, explain its answers, and compare with what was put in."""
    made = simulate(bank, pupils=pupils, seed=seed, quizzes=quizzes)
    explained = explain_answers(made.answers, known)
    names = {name: place for place, name in enumerate(made.truth.mistakes)}
    enough = _chances(made, known, names) >= CHANCES
    said = np.zeros_like(enough)
    for row in explained.pupils:
        if row.recurs and row.mistake in names:
            said[row.pupil, names[row.mistake]] = True
    held = made.truth.held
    kinds = [enough & (held == kind) for kind in (2, 1, 0)]
    many = ((held == 2) & enough).sum(axis=0) >= 2
    named = {row.mistake for row in mattering(explained.classes)}
    there = {name for name, place in names.items() if many[place]}
    nobody = {name for name, place in names.items() if not (held[:, place] > 0).any()}
    counts = [int(count) for kind in kinds for count in (kind.sum(), (said & kind).sum())]
    return Found(*counts, len(there), len(there & named), len(named), len(named & nobody))


def _chances(made: Simulation, known: dict[str, Explainer], names: dict[str, int]) -> np.ndarray:
    chances = np.zeros((len(made.answers.pupils), len(names)), dtype=np.int32)
    for form in made.answers.forms:
        for place, item in enumerate(form.form.items):
            given = form.codes[:, place] >= 0
            for name in known[item].possible:
                if name in names:
                    chances[form.pupils, names[name]] += given
    return chances


def weights_found(bank: Bank, pupils: int, seed: int) -> WeightsFound:
    """Simulate pupils without mistakes, calibrate from a moved prior, and compare with the weights put in.

    The simulation's difficulties are the tool's own weights on the scale of pupils, plus a deviation of SD 0.5 an item.
    """
    plain = Settings(held_from=1e-9, held_to=1e-9, omitted=0.0, slow_share=0.0)
    made = simulate(bank, pupils=pupils, seed=seed, settings=plain)
    weights = difficulty.load_weights()
    moved = _moved(weights, seed)
    stretch = math.sqrt(1 + SHRINKAGE**2)
    moved = moved._replace(  # all that was put in is shorter by as much
        knee=round(weights.knee / stretch), most_beyond=round(weights.most_beyond / stretch)
    )
    items = {item.identifier: item for item in bank.items(solutions=False)}
    observed, used = _observed(made, items)
    _, features = feature_matrix(used, weight_vector(moved))
    found = calibrate(observed, features, moved)
    truth = {f"{one.operation}.{one.feature}": one.value / 1000 / stretch for one in weights.weights}
    rows = [one for one in found.weights if one.families >= 2]
    before = np.array([one.prior_mean - truth[one.name] for one in rows])
    after = np.array([one.mean - truth[one.name] for one in rows])
    inside = np.abs(after) <= 1.96 * np.array([one.sd for one in rows])
    return WeightsFound(
        len(rows), float(np.sqrt((before**2).mean())), float(np.sqrt((after**2).mean())), int(inside.sum())
    )


def _observed(made: Simulation, items: dict[str, Item]) -> tuple[list[ObservedItem], list[Item]]:
    observed, used = [], []
    for form in made.answers.forms:
        model = fit_rasch(groups_of_scores(scores_of_answers([form])))
        for one in model.items:
            if one.se is not None and one.difficulty.value is not None and model.sigma.value:
                item = items[one.item]
                observed.append(ObservedItem(
                    one.item, item.family.template, form.form.quiz, one.difficulty.value, one.se, model.sigma.value,
                    one.difficulty.n,
                ))
                used.append(item)
    return observed, used


def _moved(weights: Weights, seed: int) -> Weights:
    """Return *weights* with each mean drawn anew from around the truth, by the SD that the file claims."""
    random = np.random.default_rng(seed)
    return weights._replace(weights=tuple(
        one._replace(value=round(one.value + one.deviation * float(random.normal()))) for one in weights.weights
    ))


def built(folder: Path) -> Path:
    """Return the bank of the demo term, built into *folder*."""
    from bank.build import build
    from bank.plans import load_plan

    build(load_plan(PLAN), folder)
    return folder / "bank.sqlite"


def share(part: int, whole: int) -> str:
    """Return a share with its 95 % interval (Wilson)."""
    if not whole:
        return "-"
    low, high = wilson(part / whole, whole) or (0.0, 1.0)
    return f"{part / whole:.3f} ({low:.3f} to {high:.3f}; n {whole})"


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Print how well the audit finds again what was simulated.")
    parser.add_argument("bank", nargs="?", type=Path)
    parser.add_argument("--seeds", type=int, default=4)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, Bank.open(arguments.bank or built(Path(folder))) as bank:
        known = explainers_of(bank)
        for words, quizzes in (("one diagnosis quiz", ONE), ("five quizzes of three weeks", WEEKS), ("the term", TERM)):
            for pupils in CLASSES:
                seeds = arguments.seeds * max(1, 100 // pupils) if quizzes else 1 + (pupils < 1000)
                found = sum(
                    (mistakes_found(bank, known, pupils, seed, quizzes) for seed in range(seeds)), Found(*[0] * 10)
                )
                print(f"{words}, classes of {pupils}, {seeds} of them")
                print(f"  pupils: stable mistakes found      {share(found.stable_found, found.stable)}")
                print(f"          unstable ones named too    {share(found.unstable_found, found.unstable)}")
                print(f"          false alarms               {share(found.false_alarms, found.none)}")
                print(f"  class:  mistakes of 2 pupils found {share(found.class_found, found.class_held)}")
                print(f"          named that nobody holds    {share(found.class_false, found.class_named)}")
        for pupils in (100, 300, 1000):
            one = weights_found(bank, pupils, 1)
            print(f"weights, {pupils} pupils: {one.weights} weights, distance from the truth {one.prior_error:.3f}"
                  f" before, {one.error:.3f} after; {one.inside} of {one.weights} intervals hold it")


if __name__ == "__main__":
    main()
