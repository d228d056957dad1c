"""Mistakes in multiplying and dividing by ten, a hundred, a thousand and by a tenth, a hundredth and so on.

They return None where no operand is such a power of ten.
"""

from __future__ import annotations

from bank.mistakes import mistake
from bank.mistakes._digits import POWERS_OF_TEN, digits, number_of, power_of_ten, written
from bank.mistakes._sources import BROWN_1981, FROM_MEMORY, NO_SOURCE, cite, corpus
from bank.numerals import POWERS, Numeral

TOPIC = "powers of ten"


def _power_last(first: Numeral, second: Numeral) -> tuple[Numeral, int]:
    """Return the other factor and the exponent of the power of ten, 0 where neither is one."""
    if second.coefficient in POWERS_OF_TEN and not second.places:
        return first, POWERS_OF_TEN[second.coefficient]
    return second, 0 if first.places else POWERS_OF_TEN.get(first.coefficient, 0)


def _shifted(number: Numeral, up: int) -> Numeral | None:
    """Return *number* times ten to the power of *up*, written without needless zeros."""
    places = number.places - up
    if places < 0:
        return written(number.coefficient * POWERS[-places], 0)
    shifted = written(number.coefficient, places)
    return shifted.normal() if shifted is not None else None


@mistake(
    "multiply.zero-stuck-on-end",
    name="Zeros written at the end of a decimal",
    topic=TOPIC,
    learner_does="Multiplies a decimal by a power of ten by writing its zeros at the end, after the last digit.",
    feedback="A zero after the last decimal place does not change the value. Times ten makes every digit worth ten "
    "times as much: it moves one place to the left.",
    needs=("decimals",),
    source=cite(FROM_MEMORY, BROWN_1981),
    evidence="memory",
)
def zero_stuck_on_end(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the decimal with zeros at its end: the value it had before."""
    number, exponent = _power_last(first, second)
    if not exponent or not number.places:
        return None
    return written(number.coefficient * POWERS[exponent], number.places + exponent)


@mistake(
    "multiply.zero-in-whole-part",
    name="Zeros written before the point only",
    topic=TOPIC,
    learner_does="Multiplies a decimal by a power of ten by writing its zeros behind the whole part and copying the "
    "digits after the point.",
    feedback="All digits become worth more, those after the point too: tenths become ones when multiplied by ten. Move "
    "every digit to the left.",
    needs=("decimals",),
    source=cite(FROM_MEMORY, BROWN_1981),
    evidence="memory",
)
def zero_in_whole_part(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the decimal with zeros behind its whole part."""
    number, exponent = _power_last(first, second)
    if not exponent or not number.places:
        return None
    unit = POWERS[number.places]
    whole, decimals = divmod(number.coefficient, unit)
    return written(whole * POWERS[exponent] * unit + decimals, number.places)


@mistake(
    "multiply.zero-on-both-sides",
    name="Zeros written on both sides of the point",
    topic=TOPIC,
    learner_does="Multiplies a decimal by a power of ten by writing its zeros behind the whole part and again at the "
    "end.",
    feedback="Multiplying by ten moves the digits to places worth more; it does not put new zeros between them. Tenths "
    "become ones.",
    needs=("decimals",),
    source=cite(FROM_MEMORY, BROWN_1981),
    evidence="memory",
)
def zero_on_both_sides(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the decimal with zeros on both sides; equal in value to zeros before the point only."""
    number, exponent = _power_last(first, second)
    if not exponent or not number.places:
        return None
    unit = POWERS[number.places]
    whole, decimals = divmod(number.coefficient, unit)
    return written((whole * POWERS[exponent] * unit + decimals) * POWERS[exponent], number.places + exponent)


@mistake(
    "multiply.wrong-direction",
    name="Digits moved to the right when multiplying",
    topic=TOPIC,
    learner_does="Divides by the power of ten instead of multiplying.",
    feedback="Multiplying by ten or a hundred makes the number larger. Each digit moves to a place worth more, that is "
    "to the left.",
    source=NO_SOURCE,
    evidence="common practice",
)
def multiply_in_wrong_direction(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the other factor divided by the power of ten."""
    number, exponent = _power_last(first, second)
    return _shifted(number, -exponent) if exponent else None


@mistake(
    "divide.wrong-direction",
    name="Digits moved to the left when dividing",
    topic=TOPIC,
    learner_does="Multiplies by the power of ten instead of dividing.",
    feedback="Dividing by ten or a hundred makes the number smaller. Each digit moves to a place worth less, that is "
    "to the right.",
    source=NO_SOURCE,
    evidence="common practice",
)
def divide_in_wrong_direction(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend times the power of ten."""
    exponent = power_of_ten(divisor)
    return _shifted(dividend, exponent) if exponent else None


@mistake(
    "multiply.always-one-place",
    name="Moved one place only when multiplying",
    topic=TOPIC,
    learner_does="Moves the digits by one place for ten, a hundred and a thousand alike.",
    feedback="A hundred is ten times ten, so the digits move as many places as the multiplier has zeros.",
    source=NO_SOURCE,
    evidence="common practice",
)
def multiply_by_one_place(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the other factor times ten, None unless the power is a hundred or more."""
    number, exponent = _power_last(first, second)
    return _shifted(number, 1) if exponent > 1 else None


@mistake(
    "divide.always-one-place",
    name="Moved one place only when dividing",
    topic=TOPIC,
    learner_does="Moves the digits by one place for ten, a hundred and a thousand alike.",
    feedback="A hundred is ten times ten, so the digits move as many places as the divisor has zeros.",
    source=NO_SOURCE,
    evidence="common practice",
)
def divide_by_one_place(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend divided by ten, None unless the power is a hundred or more."""
    return _shifted(dividend, -1) if power_of_ten(divisor) > 1 else None


@mistake(
    "multiply.small-multiplier-taken-as-large",
    name="A tenth as multiplier taken for ten",
    topic=TOPIC,
    learner_does="Multiplies by ten where the multiplier is a tenth, by a hundred where it is a hundredth.",
    feedback="A tenth of a number is less than the number. Look at which side of the point the multiplier's digit "
    "stands.",
    needs=("number below one",),
    source=NO_SOURCE,
    evidence="common practice",
)
def small_multiplier_taken_as_large(first: Numeral, second: Numeral) -> Numeral | None:
    """Return the other factor times ten, a hundred or a thousand, None unless a factor is such a part of one."""
    number, part = (first, second) if second.coefficient == 1 and second.places else (second, first)
    return _shifted(number, part.places) if part.coefficient == 1 and 0 < part.places < 10 else None


@mistake(
    "divide.small-divisor-taken-as-large",
    name="A tenth as divisor taken for ten",
    topic=TOPIC,
    learner_does="Divides by ten where the divisor is a tenth, by a hundred where it is a hundredth.",
    feedback="Ask how many of these small parts fit into the number: many more than the number itself says.",
    needs=("divisor below one",),
    source=NO_SOURCE,
    evidence="common practice",
)
def small_divisor_taken_as_large(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend divided by ten, a hundred or a thousand, None unless the divisor is such a part of one."""
    return _shifted(dividend, -divisor.places) if divisor.coefficient == 1 and 0 < divisor.places < 10 else None


@mistake(
    "multiply.product-zero-lost",
    name="One zero of the product lost",
    topic=TOPIC,
    learner_does="Multiplies two multiples of ten and writes one zero fewer than both have together.",
    feedback="The zeros of both numbers count. Tens times tens make hundreds: count the zeros of each and write them "
    "all.",
    source=corpus(37546),
    evidence="published",
)
def product_zero_lost(first: Numeral, second: Numeral) -> Numeral | None:
    """Return a tenth of the product, None unless both factors are whole and end in a zero."""
    if first.places or second.places or first.coefficient % 10 or second.coefficient % 10:
        return None
    return written(first.coefficient * second.coefficient // 10, 0)


@mistake(
    "multiply.extra-zero-on-end",
    name="One zero too many at the end",
    topic=TOPIC,
    learner_does="Multiplies a whole number by a power of ten and writes one zero more than the power has.",
    feedback="Count the zeros of the multiplier and the zeros you wrote: for a whole number, just as many are new.",
    source=NO_SOURCE,
    evidence="common practice",
)
def extra_zero_on_end(first: Numeral, second: Numeral) -> Numeral | None:
    """Return ten times the product, None unless a whole number meets a power of ten."""
    number, exponent = _power_last(first, second)
    return written(number.coefficient * POWERS[exponent + 1], 0) if exponent and not number.places else None


@mistake(
    "divide.zeros-crossed-out",
    name="Zeros crossed out wherever they stand",
    topic=TOPIC,
    learner_does="Divides by a power of ten by crossing out as many zeros before the point, even between other digits.",
    feedback="Only zeros at the end of a whole number can go. Otherwise every digit moves to the right, and a zero "
    "between digits keeps its job.",
    source=NO_SOURCE,
    evidence="common practice",
)
def zeros_crossed_out(dividend: Numeral, divisor: Numeral, places: int | None = None) -> Numeral | None:
    """Return the dividend without the last zeros of its whole part, None where there are too few of them."""
    exponent = power_of_ten(divisor)
    if not exponent:
        return None
    unit = POWERS[dividend.places]
    whole, decimals = divmod(dividend.coefficient, unit)
    row = list(digits(whole))
    if not whole or row.count(0) < exponent:
        return None
    for _ in range(exponent):
        row.remove(0)
    return written(number_of(row) * unit + decimals, dividend.places)
