"""How many flags does the audit raise where nothing is wrong? Run as a script it prints flags per quiz by kind.

Pupils are those of `modelled_pupils`. Every quiz is used twice, by two classes whose levels differ by lot, so that a
change of the class is there and a change of items is not.

    python tests/flag_figures.py [BANK] [--worlds N] [--pupils 28 150 1000]
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import NamedTuple

import modelled_pupils
import numpy as np
import recovery_figures
from bank.audit.after import AfterUse, audit_after, material_of
from bank.audit.before import BeforeUse
from bank.store import Bank

QUIZZES = (
    "week-02-quotients", "week-05-mixed", "week-06-differences", "week-06-diagnosis", "week-07-graded",
    "week-12-diagnosis", "week-13-mixed", "week-13-graded",
)
GUESSED = 0.03
"""How far above the share that guessing earns the true share right of an item may be that counts as guessed."""
SIZES = (28, 150, 1000)


class Raised(NamedTuple):
    """Flags that were raised where no key was wrong, nothing had changed and everybody tried."""

    quizzes: int
    items: int
    false: Counter[str]
    """Flags that are not true of the items as they were made."""
    true: Counter[str]
    """Flags that are: true facility beyond the limit, or that of guessing; siblings that truly differ."""
    flagged: Counter[str]
    """Quizzes with at least one false flag, by kind."""
    items_flagged: int
    """Items with a false flag."""

    @property
    def a_quiz(self) -> float:
        """False flags a quiz."""
        return self.false.total() / self.quizzes


def raised(bank: Bank, before: BeforeUse, pupils: int, seeds: Sequence[int], quizzes: Sequence[str] = QUIZZES) -> Raised:
    """Return the flags of *quizzes* in the worlds of *seeds*, each used by two classes of *pupils*."""
    false, true, flagged, forms, items, some = Counter[str](), Counter[str](), Counter[str](), 0, 0, 0
    for seed in seeds:
        made = modelled_pupils.world(bank, before, quizzes, seed)
        now, then = (modelled_pupils.sat(made, pupils, 10 * seed + one) for one in (1, 2))
        audit = audit_after(before, bank, material_of(now), earlier=material_of(then).counts)
        level = modelled_pupils.level_of(made, 10 * seed + 1)
        forms += len(audit.forms)
        items += len(audit.items)
        for flag in audit.family_flags:
            (true if _spread(made, audit, flag.item) else false)[flag.identifier] += 1
        for form in audit.forms:
            wrong = Counter(flag.identifier for flag in form.flags)
            for item in form.items:
                kinds = [flag.identifier for flag in item.flags]
                right = [kind for kind in kinds if _beyond(kind, item.item, form.use, made, level, audit)]
                true.update(right)
                mistaken = Counter(kinds) - Counter(right)
                wrong.update(mistaken)
                some += bool(mistaken)
            false.update(wrong)
            flagged.update(set(wrong))
    return Raised(forms, items, false, true, flagged, some)


def _beyond(
    kind: str, item: str, use: str, made: modelled_pupils.World, level: float, audit: AfterUse
) -> bool:
    """Whether the true facility of *item* in this class is beyond the limit of its use, or what guessing gives."""
    if kind == "guess-like":
        return modelled_pupils.share_right(made, item, level) < made.guessed[item] + GUESSED
    if kind not in ("too-hard", "too-easy"):
        return False
    true = modelled_pupils.share_right(made, item, level)
    limit = audit.settings[f"{kind.replace('-', '_')}_{use}"]
    return true < limit if kind == "too-hard" else true > limit


def _spread(made: modelled_pupils.World, audit: AfterUse, template: str) -> bool:
    """Whether the difficulties of the answered items of *template* truly spread by more than the limit."""
    asked = {item.item for item in audit.items if item.facts is not None and item.facts.template == template}
    return float(np.std([made.true[item] for item in asked], ddof=1)) > audit.settings["sibling_spread"]


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Print how many flags are raised where nothing is wrong.")
    parser.add_argument("bank", nargs="?", type=Path)
    parser.add_argument("--worlds", type=int, default=0)
    parser.add_argument("--pupils", type=int, nargs="+", default=SIZES)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = arguments.bank or recovery_figures.built(Path(folder))
        with Bank.open(path) as bank:
            before = modelled_pupils.prepared(bank)
            for pupils in arguments.pupils:
                start = time.perf_counter()
                found = raised(bank, before, pupils, range(arguments.worlds or (12 if pupils < 100 else 6)))
                print(f"{pupils} pupils, {found.quizzes} quizzes of {found.items / found.quizzes:.1f} items:"
                      f" {found.a_quiz:.2f} false flags a quiz, on {100 * found.items_flagged / found.items:.1f} %"
                      f" of items ({time.perf_counter() - start:.0f} s)")
                for kind, count in found.false.most_common():
                    print(f"  {kind:24} {count / found.quizzes:6.3f} a quiz; in {found.flagged[kind]} quizzes")
                for kind, count in found.true.most_common():
                    print(f"  {kind:24} {count / found.quizzes:6.3f} a quiz, all of them true of the items")


if __name__ == "__main__":
    main()
