"""Pupils who behave as the audit's own model says, to count flags where nothing is wrong, and what is found where it is.

Difficulties are drawn from the predictions (weights, what they leave unexplained, the class and the level), abilities
from the kind of class, answers from the Rasch model, but that nobody does worse than by guessing; wrong answers are spread
evenly over an item's wrong options. Keys are right, no item drifts, everybody tries. Real pupils are less regular, so the figures are a floor.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
from bank import difficulty
from bank.audit.before import BeforeUse, audit_before
from bank.audit.classes import chosen_class
from bank.audit.prediction import weight_vector
from bank.audit.records import OMITTED, Answers, FormAnswers
from bank.audit.simulation import simulate
from bank.store import Bank

OMITS = 0.02
"""Share of answers left out, at random."""


class World(NamedTuple):
    """What holds for every class: the quizzes' forms and the true difficulties of their items."""

    before: BeforeUse
    answers: Answers
    """Somebody's answers, of which only the forms are used."""
    true: dict[str, float]
    """Difficulty in logits by item."""
    guessed: dict[str, float]
    """Share that guessing earns by item."""
    level: float
    """By how much all classes of this world stand above what was predicted, logits."""


def prepared(bank: Bank) -> BeforeUse:
    """Return the audit before use of *bank*."""
    return audit_before(bank, difficulty.load_weights(), chosen_class(None))


def world(bank: Bank, before: BeforeUse, quizzes: Sequence[str], seed: int) -> World:
    """Return a world in which the items of *quizzes* are as hard as the predictions say, each by a draw of its own."""
    random = np.random.default_rng([seed, 1])
    found, kind = before.predictions, before.class_kind
    vector = weight_vector(before.weights)
    drawn = vector.mean + vector.sd * random.normal(size=len(vector.sd))
    items = sum((part.deviation / 1000) ** 2 for part in before.weights.parts if part.kind == "items") ** 0.5
    own = found.features @ (drawn - vector.mean) + items * random.normal(size=len(found.items))
    true = found.middle - found.ability + own * kind.stretch
    answers = simulate(bank, pupils=1, seed=1, quizzes=quizzes).answers
    both = sum((part.deviation / 1000) ** 2 for part in before.weights.parts if part.kind in ("level", "other"))
    level = math.sqrt(both) * kind.stretch * float(random.normal())
    difficulties, guessed = (dict(zip(found.items, row.tolist(), strict=True)) for row in (true, found.chance))
    return World(before, answers, difficulties, guessed, level)


def chance_right(made: World, item: str, ability: np.ndarray) -> np.ndarray:
    """Return the chance that pupils of *ability* get *item* right."""
    return np.maximum(made.guessed[item], 1 / (1 + np.exp(made.true[item] - ability)))


def share_right(made: World, item: str, level: float) -> float:
    """Return the true share right of *item* in classes that stand *level* logits above the usual one."""
    nodes, masses = np.polynomial.hermite_e.hermegauss(61)
    right = chance_right(made, item, level + made.before.class_kind.sd * nodes)
    return float((1 - OMITS) * (masses * right).sum() / masses.sum())


def level_of(made: World, seed: int) -> float:
    """Return by how many logits the class of *seed* stands above the usual one, by lot.

    What the predictions leave open of the level is the same for all classes of a world; classes differ as classes do.
    """
    random, parts = np.random.default_rng([seed, 3]), made.before.weights.parts
    apart = math.sqrt(sum((part.deviation / 1000) ** 2 for part in parts if part.kind == "class"))
    return made.level + apart * made.before.class_kind.stretch * float(random.normal())


def sat(made: World, pupils: int, seed: int, shift: float | None = None) -> Answers:
    """Return the answers of a class of *pupils* who stand *shift* logits above the usual class (none: by lot)."""
    random = np.random.default_rng([seed, 2])
    level = level_of(made, seed) if shift is None else shift
    ability = level + made.before.class_kind.sd * random.normal(size=pupils)
    everyone = np.arange(pupils, dtype=np.int32)
    forms = tuple(
        FormAnswers(form=one.form, pupils=everyone, codes=codes_of(one, made, ability, random),
                    groups=np.zeros(pupils, dtype=np.int16))
        for one in made.answers.forms
    )
    rows = pupils * sum(len(one.form.items) for one in forms)
    return replace(made.answers, forms=forms, pupils=tuple(f"p{one}" for one in range(pupils)), rows=rows)


def codes_of(
    given: FormAnswers, made: World, ability: np.ndarray, random: np.random.Generator
) -> np.ndarray:
    """Return int16 [N, K]: right by the model, wrong answers evenly, some left out; the last never."""
    form = given.form
    codes = np.zeros((len(ability), len(form.items)), dtype=np.int16)
    for place, item in enumerate(form.items):
        right = random.random(len(ability)) < chance_right(made, item, ability)
        credits = np.array(form.credits[place])
        keys, wrong = np.flatnonzero(credits == 1000), np.flatnonzero(credits < 1000)
        codes[:, place] = np.where(right, keys[0], random.choice(wrong if len(wrong) else keys, size=len(ability)))
        if place < len(form.items) - 1:
            codes[random.random(len(ability)) < OMITS, place] = OMITTED
    return codes
