"""What the written methods share: names of places, digits of a numeral, rows of cells, and refusals.

Columns are counted by position: 0 is the ones, 1 the tens, -1 the tenths.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank.model import Line, Row
from bank.numerals import MAX_DIGITS, POWERS, Numeral

_WHOLE = (
    "one", "ten", "hundred", "thousand", "ten-thousand", "hundred-thousand", "million", "ten-million",
    "hundred-million", "billion",
)
_PARTS = (
    "tenth", "hundredth", "thousandth", "ten-thousandth", "hundred-thousandth", "millionth", "ten-millionth",
    "hundred-millionth", "billionth",
)

BLANKS = tuple(("",) * count for count in range(MAX_DIGITS * 5))
"""Empty cells, by their number."""


class CannotCarryOut(ValueError):
    """A written method cannot be carried out on these operands; the subclasses say why."""


class WrongOperands(CannotCarryOut):
    """Number of operands, layout or places that the operation does not take."""


class NegativeOperand(CannotCarryOut):
    """An operand is below zero: the written methods work on numbers from zero up."""


class TooLong(CannotCarryOut):
    """An operand, or the working, has more digits than are written out."""


class NegativeResult(CannotCarryOut):
    """The subtrahend is larger than the minuend."""


class DivisionByZero(CannotCarryOut):
    """The divisor is zero."""


class EndlessQuotient(CannotCarryOut):
    """The quotient does not end as a decimal and no number of places was asked for."""


def check_operands(operands: Sequence[Numeral], least: int, most: int) -> None:
    """Check that a method can take *operands*.

    Raises:
        WrongOperands: fewer than *least* or more than *most* operands.
        NegativeOperand: an operand is below zero.
        TooLong: an operand is written with more than `MAX_DIGITS` digits.
    """
    if not least <= len(operands) <= most:
        wanted = str(least) if least == most else f"{least} to {most}"
        raise WrongOperands(f"the method takes {wanted} operands, not {len(operands)}")
    for operand in operands:
        if operand.coefficient < 0:
            raise NegativeOperand(f"{operand} is below zero; the written methods take numbers from zero up")
        if operand.coefficient >= POWERS[MAX_DIGITS] or not 0 <= operand.places <= MAX_DIGITS:
            raise TooLong(f"an operand may have at most {MAX_DIGITS} digits")


@lru_cache(maxsize=512)
def one_of(position: int) -> str:
    """Return the name of one unit of the place at *position*: ``ten``, ``hundredth``."""
    if position >= 0:
        return _WHOLE[position] if position < len(_WHOLE) else f"unit of place {position + 1} before the point"
    return _PARTS[-position - 1] if -position <= len(_PARTS) else f"unit of place {-position} after the point"


@lru_cache(maxsize=512)
def place_name(position: int) -> str:
    """Return the name of the column at *position*: ``tens``, ``hundredths``."""
    name = one_of(position)
    return f"units{name[4:]}" if name.startswith("unit ") else f"{name}s"


@lru_cache(maxsize=512)
def heading(position: int) -> str:
    """Return the name of the column at *position* as a sentence begins with it: ``Tens: ``."""
    name = place_name(position)
    return f"{name[0].upper()}{name[1:]}: "


def written_digits(numeral: Numeral) -> str:
    """Return the digits as written without the point, at least one of them before it: 0.07 gives ``007``."""
    return str(numeral.coefficient).zfill(numeral.places + 1)


def inner_zeros(operands: Sequence[Numeral]) -> int:
    """Return how many zeros stand between other digits than zero, over all *operands*."""
    zeros = 0
    for operand in operands:
        zeros += str(operand.coefficient).strip("0").count("0")
    return zeros


def count_of(number: int, noun: str) -> str:
    """Return ``1 zero``, ``2 zeros``: *number* with *noun* in the singular or plural."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def digits_row(
    role: str, digits: str, width: int, end: int, point: int = -1, sign: str = "", rule: bool = False, note: str = ""
) -> Row:
    """Return a row of *width* cells in which *digits* end right before column *end*."""
    cells = (*BLANKS[end - len(digits)], *digits, *BLANKS[width - end])
    return tuple.__new__(Row, (role, cells, point, sign, rule, note))  # half the time of the constructor


def annexed_note(zeros: int) -> str:
    """Return the note of a row to which *zeros* zeros were annexed, empty for none."""
    return f"{count_of(zeros, 'zero')} written at the end" if zeros else ""


def annexed_lines(operands: Sequence[Numeral], places: int) -> list[Line]:
    """Return a sentence for each operand that gets zeros annexed up to *places* places."""
    return [
        (f"Write {'a zero' if places == operand.places + 1 else 'zeros'} at the end: ", operand, " is the same as ",
         operand.with_places(places), ".")
        for operand in operands
        if operand.places < places
    ]


def trailing_zeros(digits: str, places: int) -> int:
    """Return how many zeros end the last *places* of *digits*: 2 for ``10300`` with 3 places."""
    parts = digits[len(digits) - places:]
    return len(parts) - len(parts.rstrip("0"))


def zeros_in_quotient(digits: str, places: int) -> int:
    """Return the zeros that must be written in a quotient of *places* places.

    Left out are the zero before the point of a number below 1 and zeros at the end after the point.
    """
    cut = len(digits) - places
    return digits[:cut].lstrip("0").count("0") + digits[cut:].rstrip("0").count("0")


def without_leading_zeros(digits: str, places: int) -> str:
    """Return *digits* of a number with *places* places from its first digit other than zero, or from the ones."""
    ones = len(digits) - places - 1
    return digits[:ones].lstrip("0") + digits[ones:]


def rounding_unit(places: int) -> str:
    """Return what is rounded to, as words: ``tenths``, ``a whole number``, ``tens``."""
    return place_name(-places) if places else "a whole number"


def rounding_lines(following: str, places: int) -> list[Line]:
    """Return the sentences that decide a rounding to *places* places by the digit *following* the last one kept."""
    name = place_name(-places)
    if following < "5":
        return [(f"{following} is less than 5, so the {name} digit stays as it is.",)]
    reason = "A 5 is rounded up" if following == "5" else f"{following} is more than 5"
    return [(f"{reason}, so the {name} digit gets 1 more.",)]


@lru_cache(maxsize=8192)
def column_sum(column: tuple[str, ...], carry: int) -> tuple[str, int]:
    """Return the digit to write and the carry of one *column* (digits or blanks) and what was carried into it."""
    total = carry + sum(int(digit) for digit in column if digit != " ")
    return str(total % 10), total // 10


def round_digits(digits: str, up: bool) -> tuple[str, int]:
    """Return *digits* as they are, or with one more in the last place, and how many nines turned to zero."""
    if not up:
        return digits, 0
    worked, nines = list(digits), 0
    for index in range(len(worked) - 1, -1, -1):
        if worked[index] != "9":
            worked[index] = str(int(worked[index]) + 1)
            return "".join(worked), nines
        worked[index] = "0"
        nines += 1
    return "1" + "".join(worked), nines
