"""How often does the alarm of a wrong key go off where keys are right, and how often where one is wrong? Run as a script
it prints both, for small classes by the rule of agreement and for larger ones by that of correlation.

Items are plausible ones of a quiz of fifteen: difficulties normal around 65 % right, SD 1.3 logits; three wrong options,
the commonest of which takes two thirds of the wrong answers on average; pupils with SD 0.91, classes with SD 0.6. A wrong
key is one of the wrong options by lot. All sizes are our own choices.

    python tests/key_figures.py [--rounds N]
"""

from __future__ import annotations

import argparse
from typing import NamedTuple

import numpy as np
from bank.audit.records import Counts, Form, FormAnswers
from bank.audit.counting.columns import count
from bank.audit.settings import Settings, load_settings
from bank.audit.statistics.keys import key_test
from bank.audit.statistics.tables import arrange

SIZES = (10, 15, 20, 28, 40, 60, 100, 150)
ITEMS, OPTIONS = 15, 4
KNOWN = 0.70
"""Share right from which an item counts as known: there the rule of agreement can find a wrong key."""


class Alarms(NamedTuple):
    """Alarms over items with right keys and with wrong ones."""

    n: int
    right: int
    """Items with right keys."""
    false: int
    wrong: int
    """Items with wrong keys."""
    hits: int
    known: int
    """Of these, items that at least `KNOWN` of the class truly got right."""
    known_hits: int


def quiz(n: int, random: np.random.Generator, *, wrong: bool) -> tuple[Counts, float]:
    """Return the answers of *n* pupils to a quiz, and the share that chose the truly right option of its first item.

    Its key is one of the wrong options where it is *wrong*.
    """
    ability = random.normal(0, 0.6) + 0.91 * random.normal(size=n)
    difficulty = random.normal(-0.6, 1.3, ITEMS)
    weights = random.dirichlet([0.6] * (OPTIONS - 1), ITEMS)
    right = random.random((n, ITEMS)) < 1 / (1 + np.exp(difficulty - ability[:, None]))
    # codes 1 to 3: the wrong options of each item, as often as its weights say
    missed = 1 + (random.random((n, ITEMS))[:, :, None] > weights.cumsum(axis=1)[None, :, :-1]).sum(axis=2)
    codes = np.where(right, 0, missed).astype(np.int16)
    keys = [1 if wrong else 0, *[0] * (ITEMS - 1)]
    form = Form(
        quiz="quiz", items=tuple(f"item{k}" for k in range(ITEMS)), versions=(1,) * ITEMS,
        responses=(tuple("ABCD"),) * ITEMS,
        credits=tuple(tuple(1000 * (option == key) for option in range(OPTIONS)) for key in keys),
    )
    answers = FormAnswers(form=form, pupils=np.arange(n, dtype=np.int32), codes=codes, groups=np.zeros(n, np.int16))
    return count(answers), float(right[:, 0].mean())


def alarms(n: int, rounds: int, seed: int, settings: Settings) -> Alarms:
    """Return the alarms of *rounds* quizzes with right keys (each of their items) and as many with a wrong one."""
    random = np.random.default_rng([seed, n])
    false = hits = known = known_hits = 0
    for _ in range(rounds):
        counts, _ = quiz(n, random, wrong=False)
        false += sum(bool(key_test(counts, table, settings).doubts) for table in arrange(counts).items)
        counts, share = quiz(n, random, wrong=True)
        hit = bool(key_test(counts, arrange(counts).items[0], settings).doubts)
        hits += hit
        known += share >= KNOWN
        known_hits += hit and share >= KNOWN
    return Alarms(n, rounds * ITEMS, false, rounds, hits, known, known_hits)


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Print how often the alarm of a wrong key is false, and how often it hits.")
    parser.add_argument("--rounds", type=int, default=1500)
    rounds, settings = parser.parse_args().rounds, load_settings()
    print("pupils  false alarms an item  hits  hits where at least 70 % know it")
    for n in SIZES:
        one = alarms(n, rounds, 1, settings)
        print(f"{n:6}  {100 * one.false / one.right:19.2f} %  {100 * one.hits / one.wrong:3.0f} %"
              f"  {100 * one.known_hits / max(1, one.known):3.0f} %")


if __name__ == "__main__":
    main()
