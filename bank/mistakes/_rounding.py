"""What the mistakes in rounding share: the number cut at the wanted place."""

from __future__ import annotations

from bank.mistakes._digits import written
from bank.numerals import POWERS, Numeral


def cut_at(number: Numeral, places: int | None) -> tuple[int, int, int] | None:
    """Return the kept digits, the next digit and how many digits go, None where none goes."""
    if places is None or not 0 <= places < number.places:
        return None
    dropped = number.places - places
    kept, following = divmod(number.coefficient // POWERS[dropped - 1], 10)
    return kept, following, dropped


def rounded_to(number: Numeral, places: int) -> Numeral | None:
    """Return *number* rounded to *places* places, negative ones meaning tens, hundreds and so on.

    None where that leaves zero, or where the numeral would be too long.
    """
    unit = POWERS[number.places - places]
    kept = (2 * number.coefficient + unit) // (2 * unit)
    if places < 0:
        return written(kept * POWERS[-places], 0) if kept else None
    return written(kept, places)
