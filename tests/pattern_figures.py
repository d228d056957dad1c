"""Whom does the audit set aside? Run as a script it prints the shares of honest pupils, weak guessing ones among them,
and of pupils who answer all alike, in a pattern, or hardly at all; and the alarms that such pupils raise.

Honest pupils are those of `modelled_pupils`, weak ones two logits below; guessers choose blindly. The quizzes are those
of the demo term, and one of the same items of choice only.

    python tests/pattern_figures.py [BANK] [--rounds N]
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import modelled_pupils
import numpy as np
import recovery_figures
from bank.audit.after import audit_after, material_of
from bank.audit.before import BeforeUse
from bank.audit.records import NOT_REACHED, OMITTED, Answers, FormAnswers
from bank.audit.settings import load_settings
from bank.audit.statistics.aberrant import set_aside
from bank.store import Bank
from flag_figures import QUIZZES

CLASS = 28
Spoil = Callable[[FormAnswers, list[int], np.random.Generator], np.ndarray]
"""Gives one pupil's codes on a form; the numbers are the places of its items of choice."""


def letters_of(before: BeforeUse) -> dict[str, tuple[str, ...]]:
    """Return the identifiers of the options of every item of choice."""
    return {one.identifier: one.letters for one in before.items if one.letters}


def choices(form: FormAnswers, letters: dict[str, tuple[str, ...]]) -> list[int]:
    """Return the places of the items of choice."""
    return [place for place, item in enumerate(form.form.items) if item in letters]


def patterned(pattern: str, before: BeforeUse, blank: bool = True) -> Spoil:
    """Return what fills the items of choice with the letters of *pattern*, over and over, and leaves others blank."""
    letters = letters_of(before)

    def spoil(form: FormAnswers, places: list[int], random: np.random.Generator) -> np.ndarray:
        row = np.full(len(form.form.items), OMITTED, dtype=np.int16)
        if not blank:
            row = form.codes[int(random.integers(len(form.codes)))].copy()
        for at, place in enumerate(places):
            options = letters[form.form.items[place]]
            letter = options["ABCD".index(pattern[at % len(pattern)]) % len(options)]
            row[place] = form.form.responses[place].index(letter)
        return row

    return spoil


def guessed(form: FormAnswers, places: list[int], random: np.random.Generator) -> np.ndarray:
    """Return what a blind guesser gives: options by lot, and on other items any of the known answers."""
    return np.array([random.integers(len(names)) for names in form.form.responses], dtype=np.int16)


def blank(form: FormAnswers, places: list[int], random: np.random.Generator) -> np.ndarray:
    """Return one answer and then nothing."""
    row = np.full(len(form.form.items), NOT_REACHED, dtype=np.int16)
    row[:2] = form.codes[0, 0], OMITTED
    return row


def spoiled(
    answers: Answers, spoil: Spoil, pupils: int, letters: dict[str, tuple[str, ...]], random: np.random.Generator
) -> Answers:
    """Return *answers* with those of the first *pupils* of each form replaced."""
    forms = []
    for form in answers.forms:
        codes = form.codes.copy()
        for pupil in range(pupils):
            codes[pupil] = spoil(form, choices(form, letters), random)
        forms.append(replace(form, codes=codes))
    return replace(answers, forms=tuple(forms))


def share_set_aside(
    bank: Bank, before: BeforeUse, spoil: Spoil | None, rounds: int, shift: float | None = None, fewest: int = 0,
) -> tuple[int, int]:
    """Return (set aside, looked at) of pupils spoiled by *spoil*, 4 of a class of 28, or of honest classes without it.

    *shift* puts honest classes above the usual one, *fewest* takes only quizzes with so many items of choice.
    """
    letters, settings, found, seen = letters_of(before), load_settings(), 0, 0
    for seed in range(rounds):
        made = modelled_pupils.world(bank, before, QUIZZES, seed)
        answers = modelled_pupils.sat(made, CLASS, 10 * seed + 1, shift)
        if spoil is not None:
            answers = spoiled(answers, spoil, 4, letters, np.random.default_rng(seed))
        for form in answers.forms:
            if len(choices(form, letters)) < fewest:
                continue
            kept, _ = set_aside(form, letters, settings)
            found += CLASS - len(kept.pupils)
            seen += CLASS if spoil is None else 4
    return found, seen


def alarms(bank: Bank, before: BeforeUse, rounds: int, pupils: int, bad: int, *, everyone: bool) -> tuple[int, int]:
    """Return (alarms of a wrong key, quizzes): classes of *pupils* of whom *bad* answered in one letter."""
    letters, found, quizzes = letters_of(before), 0, 0
    for seed in range(rounds):
        made = modelled_pupils.world(bank, before, QUIZZES, seed)
        answers = modelled_pupils.sat(made, pupils, 10 * seed + 1)
        answers = spoiled(answers, patterned("A", before), bad, letters, np.random.default_rng(seed))
        material = material_of(answers)
        audit = audit_after(before, bank, replace(material, set_aside=()) if everyone else material)
        found += sum(flag.alarm for item in audit.items for flag in item.flags)
        quizzes += len(audit.forms)
    return found, quizzes


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description="Print whom the audit sets aside, and what that changes.")
    parser.add_argument("bank", nargs="?", type=Path)
    parser.add_argument("--rounds", type=int, default=40)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        with Bank.open(arguments.bank or recovery_figures.built(Path(folder))) as bank:
            before, rounds = modelled_pupils.prepared(bank), arguments.rounds
            rows: list[tuple[str, Spoil | None, float | None, int]] = [
                ("honest, usual classes", None, None, 0), ("honest, two logits below", None, -2.0, 0),
                ("honest, two logits above", None, 2.0, 0), ("blind guessers", guessed, None, 0),
                ("nearly all blank", blank, None, 0), ("all A, typed ones blank", patterned("A", before), None, 0),
            ]
            rows += [(f"{pattern} over and over, 8 or more of choice", patterned(pattern, before, False), None, 8)
                     for pattern in ("A", "C", "AB", "ABC", "ABCD", "DCBA")]
            rows += [(f"{pattern} over and over, 12 or more of choice", patterned(pattern, before, False), None, 12)
                     for pattern in ("A", "AB", "ABCD")]
            for words, spoil, shift, fewest in rows:
                found, seen = share_set_aside(bank, before, spoil, rounds, shift, fewest)
                print(f"{words:46} {found:6} of {seen:6} set aside: {100 * found / max(1, seen):6.2f} %")
            for pupils, bad in ((28, 6), (60, 6), (150, 15)):
                for everyone in (True, False):
                    found, quizzes = alarms(bank, before, max(3, rounds // 4), pupils, bad, everyone=everyone)
                    print(f"{pupils} pupils, {bad} all A, {'all counted' if everyone else 'set aside'}:"
                          f" {found / quizzes:.3f} alarms of a wrong key a quiz ({quizzes} quizzes)")


if __name__ == "__main__":
    main()
