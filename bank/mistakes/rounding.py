"""Mistakes in rounding decimals: which digit decides, and what becomes of the kept and the dropped digits.

They return None where there is nothing to round, that is where the number has no more places than are
wanted. Mistakes about the place are in `rounding_place`.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._digits import written
from bank.mistakes._rounding import cut_at
from bank.mistakes._sources import NO_SOURCE, NOVA_SCOTIA, ROUNDING_KNOWLEDGE_PAGE, ROUNDING_QUESTION, cite
from bank.numerals import POWERS, Numeral

TOPIC = "decimal rounding"


@mistake(
    "round.cut-off",
    name="Digits cut off",
    topic=TOPIC,
    learner_does="Drops the digits after the wanted place and leaves the kept digits as they are.",
    feedback="Before dropping digits, look at the first of them. If it is five or more, the kept number goes up to the "
    "next one.",
    source=NO_SOURCE,
    evidence="common practice",
)
def cut_off(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number cut at *places*."""
    cut = cut_at(number, places)
    return written(cut[0], places) if cut is not None and places is not None else None


@mistake(
    "round.always-up",
    name="Always rounded up",
    topic=TOPIC,
    learner_does="Raises the last kept digit whenever anything is dropped.",
    feedback="Look at the first dropped digit. If it is less than five, the number lies nearer to the lower neighbour "
    "and the kept digit stays.",
    source=NO_SOURCE,
    evidence="common practice",
)
def always_up(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number raised at *places* where anything but zeros is dropped."""
    cut = cut_at(number, places)
    if cut is None or places is None:
        return None
    return written(cut[0] + (cut[0] * POWERS[cut[2]] != number.coefficient), places)


@mistake(
    "round.step-by-step",
    name="Rounded again and again",
    topic=TOPIC,
    learner_does="Rounds to one place fewer at a time until the wanted place is reached.",
    feedback="Round once, from the number as it was given. Only the first digit after the wanted place decides.",
    source=cite(ROUNDING_KNOWLEDGE_PAGE, ROUNDING_QUESTION),
    evidence="published",
)
def step_by_step(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded place after place."""
    cut = cut_at(number, places)
    if cut is None or places is None:
        return None
    coefficient = number.coefficient
    for _ in range(cut[2]):
        coefficient = (coefficient + 5) // 10
    return written(coefficient, places)


@mistake(
    "round.zeros-kept",
    name="Old places filled with zeros",
    topic=TOPIC,
    learner_does="Rounds rightly but writes zeros in the places that should be gone.",
    feedback="The rounded number ends at the wanted place. Zeros after it would claim an exactness that is gone.",
    source=NOVA_SCOTIA,
    evidence="published",
)
def zeros_kept(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the rounded number with the old places, equal in value to the key."""
    cut = cut_at(number, places)
    if cut is None:
        return None
    return written((cut[0] + (cut[1] >= 5)) * POWERS[cut[2]], number.places)


@mistake(
    "round.nine-written-as-ten",
    name="Nine raised to ten in its place",
    topic=TOPIC,
    learner_does="Raises a kept nine and writes ten in its place.",
    feedback="A place holds a single digit. Ten units of it make one unit of the next place to the left; a zero stays "
    "behind.",
    source=NO_SOURCE,
    evidence="common practice",
)
def nine_written_as_ten(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number with ten written for a nine that is raised, None where no nine is."""
    cut = cut_at(number, places)
    if cut is None or places is None or cut[0] % 10 != 9 or cut[1] < 5:
        return None
    return written(cut[0] // 10 * 100 + 10, places + (places > 0))


@mistake(
    "round.nine-becomes-zero-only",
    name="Nine raised to zero, nothing passed on",
    topic=TOPIC,
    learner_does="Raises a kept nine to zero and leaves the place before it as it is.",
    feedback="When nine is raised, ten units make one unit of the next place to the left. That place goes up by one.",
    source=NO_SOURCE,
    evidence="common practice",
)
def nine_becomes_zero_only(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number with zero for a nine that is raised, None where no nine is."""
    cut = cut_at(number, places)
    if cut is None or places is None or cut[0] % 10 != 9 or cut[1] < 5:
        return None
    return written(cut[0] - 9, places)


@mistake(
    "round.last-digit-decides",
    name="Last digit decides",
    topic=TOPIC,
    learner_does="Looks at the last digit of the number instead of the first one that is dropped.",
    feedback="Only the digit straight after the wanted place decides. The digits behind it cannot outweigh it.",
    source=NO_SOURCE,
    evidence="common practice",
)
def last_digit_decides(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the kept digits, raised where the last digit of the number is five or more."""
    cut = cut_at(number, places)
    if cut is None or places is None:
        return None
    return written(cut[0] + (number.coefficient % 10 >= 5), places)


@mistake(
    "round.down-lowers-digit",
    name="Rounding down lowers the kept digit",
    topic=TOPIC,
    learner_does="Takes one from the kept digit where the next digit is below five.",
    feedback="Rounding down means that the kept digit stays as it is. The dropped part alone makes the number smaller.",
    source=NO_SOURCE,
    evidence="common practice",
)
def down_lowers_digit(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number rounded with one taken where it should stay, None where nothing could be taken."""
    cut = cut_at(number, places)
    if cut is None or places is None or (cut[1] < 5 and not cut[0]):
        return None
    return written(cut[0] + (1 if cut[1] >= 5 else -1), places)


@mistake(
    "round.digit-raised-tail-kept",
    name="Digit raised, the rest not dropped",
    topic=TOPIC,
    learner_does="Raises the digit in the wanted place but keeps the digits after it.",
    feedback="Rounding ends at the wanted place. Once that digit is right, the digits after it are dropped.",
    source=NO_SOURCE,
    evidence="common practice",
)
def digit_raised_tail_kept(number: Numeral, places: int | None = None) -> Numeral | None:
    """Return the number with one unit more in the wanted place, None where that digit should stay."""
    cut = cut_at(number, places)
    if cut is None or cut[1] < 5:
        return None
    return written(number.coefficient + POWERS[cut[2]], number.places)
