"""Long and short multiplication: leave the points out, multiply digit by digit, add, count the places."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

from bank.methods import _place_value
from bank.methods._layout import (
    BLANKS, check_operands, column_sum, count_of, digits_row, inner_zeros, one_of, place_name, trailing_zeros,
    written_digits,
)
from bank.model import Expression, Line, Row, Trace
from bank.numerals import POWERS, Numeral


def multiply(first: Numeral, second: Numeral) -> Trace:
    """Return the written multiplication *first* x *second*.

    The factor with fewer digits other than zero stands below. Rows: both factors as written, their last digits
    one below the other; a partial product for each digit of the lower factor other than zero, with the zeros
    of its place; carries of their addition; the product with its point. With one such digit only, the short
    form: carries above, product below. Where a factor is a power of ten other than 1, the other one's digits
    move instead (method ``moving-digits``): the number, then the product, point under point.

    Raises:
        CannotCarryOut: a negative or an overlong factor.
    """
    check_operands((first, second), 2, 2)
    if _place_value.exponent(second) or _place_value.exponent(first):
        return _place_value.multiply(first, second)
    upper, lower = arranged(first, second)
    top, bottom = str(upper.coefficient), str(lower.coefficient)
    places = first.places + second.places

    partials: list[Partial] = []
    lines: list[Line] = []
    for shift in range(len(bottom)):
        digit = bottom[len(bottom) - 1 - shift]
        if digit == "0" and bottom != "0":
            continue
        partial = times_digit(top, digit, shift)
        partials.append(partial)
        lines.append(partial_line(top, partial))
    carries = sum([partial.carries for partial in partials])
    digits, marks, carries_in_sum = partials[0].digits, partials[0].marks, 0
    if len(partials) > 1:
        products = [partial.digits for partial in partials]
        digits, marks, carries_in_sum = add_up(products)
        lines.append((f"Add the partial products: {' plus '.join(products)} is {digits}.",))
    digits = digits.lstrip("0") or "0"
    answer = Numeral(int(digits), places)
    shown = digits.zfill(places + 1)
    filled = max(places - len(digits), 0) if digits != "0" else 0

    rows, width = rows_of(upper, lower, partials, marks, shown, places)
    steps = opening(upper, lower, first, bottom)
    steps += lines
    steps += _point_lines(first, second, digits, answer, filled)
    steps.append(("So ", Expression((first, "*", second, "=", answer)), "."))
    below_one = [factor.coefficient < POWERS[factor.places] for factor in (first, second)].count(True)
    facts = (
        ("carries", carries + carries_in_sum),
        ("carries_in_sum", carries_in_sum),
        ("factor_below_one", below_one),
        ("partial_products", len(partials)),
        ("places_total", places),
        ("trailing_zeros", trailing_zeros(shown, places)),
        ("unequal_places", abs(first.places - second.places)),
        ("zeros_filled", filled),
        ("zeros_inside", inner_zeros((first, second))),
    )
    method = "long-multiplication" if len(partials) > 1 else "short-multiplication"
    return Trace(method, "multiply", "", (first, second), answer, rows, width, tuple(steps), facts)


def arranged(first: Numeral, second: Numeral) -> tuple[Numeral, Numeral]:
    """The factor to write above and the one to write below."""
    one, other = str(first.coefficient), str(second.coefficient)
    weight_one = (len(one) - one.count("0"), len(one))
    weight_other = (len(other) - other.count("0"), len(other))
    return (second, first) if weight_one < weight_other else (first, second)


class Partial(NamedTuple):
    """The upper factor times one digit of the lower one."""

    digits: str
    """With the zeros of the place."""
    digit: str
    shift: int
    """Zeros of the place: 2 for hundreds."""
    clauses: list[str]
    """What is said at each digit."""
    marks: list[str]
    """The carry written above each digit of the upper factor, empty for none."""
    carries: int
    """All carries, the last one too, which is written straight into the product."""


def times_digit(top: str, digit: str, shift: int) -> Partial:
    """Return the upper factor's digits times one *digit* of the lower one, with *shift* zeros."""
    carry, carries, digits, clauses, marks = "", 0, [], [], []
    for upper in reversed(top):
        marks.append(carry)
        written, carry, clause = digit_product(upper, digit, carry)
        digits.append(written)
        clauses.append(clause)
        if carry:
            carries += 1
    if carry:
        digits.append(carry)
        clauses[-1] = last_product(top[0], digit, marks[-1])
    digits.reverse()
    marks.reverse()
    return Partial("".join(digits) + "0" * shift, digit, shift, clauses, marks, carries)


@lru_cache(maxsize=1024)
def digit_product(upper: str, lower: str, carry: str) -> tuple[str, str, str]:
    """Digit to write, digit to carry (empty for none), and the words, for one digit times one digit."""
    total = int(upper) * int(lower) + int(carry or 0)
    onward, written = str(total // 10) if total > 9 else "", str(total % 10)
    carrying = f", carry {onward}" if onward else ""
    return written, onward, f"{spoken_product(upper, lower, carry)}, write {written}{carrying}"


@lru_cache(maxsize=1024)
def last_product(upper: str, lower: str, carry: str) -> str:
    """The words for the first digit of the upper factor, whose carry is written at once."""
    return f"{spoken_product(upper, lower, carry)}, write {int(upper) * int(lower) + int(carry or 0)}"


def spoken_product(upper: str, lower: str, carry: str) -> str:
    """Return the words for one digit times another and the carry, if there is one."""
    product = int(upper) * int(lower)
    adding = f" and {carry} carried is {product + int(carry)}" if carry else ""
    return f"{lower} times {upper} is {product}{adding}"


def add_up(products: list[str]) -> tuple[str, list[str], int]:
    """Digits of the sum of *products*, the carries above its columns, and how many columns carried."""
    columns = max([len(product) for product in products])
    stacked = list(zip(*[product.rjust(columns) for product in products]))
    stacked.reverse()
    carry, carries, digits, marks = 0, 0, [], []
    for column in stacked:
        marks.append(str(carry) if carry else "")
        digit, carry = column_sum(column, carry)
        digits.append(digit)
        if carry:
            carries += 1
    if carry:
        digits.append(str(carry))
    digits.reverse()
    marks.reverse()
    return "".join(digits), marks, carries


def rows_of(
    upper: Numeral, lower: Numeral, partials: list[Partial], marks: list[str], shown: str, places: int
) -> tuple[tuple[Row, ...], int]:
    """Return the rows of a multiplication and their width; *marks* are the carries, *shown* is the product."""
    above, below = written_digits(upper), written_digits(lower)
    width = max(len(above), len(below), len(shown), *[len(partial.digits) for partial in partials])
    rows = [
        digits_row("operand", above, width, width, width - upper.places if upper.places else -1),
        digits_row("operand", below, width, width, width - lower.places if lower.places else -1, "*"),
    ]
    long = len(partials) > 1
    note = "carries of the addition" if long else "carries"
    carried = Row("carry", (*BLANKS[width - len(marks)], *marks), rule=long, note=note)
    if long:
        if any(marks):
            rows.append(carried)
        for partial in partials:
            note = f"times {partial.digit}{'0' * partial.shift}"
            rows.append(digits_row("partial", partial.digits, width, width, rule=rows[-1].role == "operand", note=note))
    elif any(marks):
        rows.insert(0, carried)
    point = width - places if places else -1
    rows.append(digits_row("result", shown, width, width, point, rule=True, note="product"))
    return tuple(rows), width


def opening(upper: Numeral, lower: Numeral, first: Numeral, bottom: str) -> list[Line]:
    """Return the sentences before the first row."""
    lines: list[Line] = []
    if upper is not first:
        lines.append(("The order of the factors does not change the product, so ", lower, " may stand below."))
    if upper.places or lower.places:
        whole_upper, whole_lower = Numeral(upper.coefficient), Numeral(lower.coefficient)
        lines.append(("Leave the points out for now: multiply ", Expression((whole_upper, "*", whole_lower)), "."))
    if "0" in bottom.rstrip("0"):
        lines.append(("A 0 in the lower number gives only zeros, so it needs no row of its own.",))
    return lines


def partial_line(top: str, partial: Partial) -> Line:
    """Return the sentence on one row."""
    shift = partial.shift
    zeros = f", first write {count_of(shift, 'zero')}, because these are {place_name(shift)}" if shift else ""
    product = partial.digits.lstrip("0") or "0"
    return (
        f"Multiply {top} by {partial.digit}{'0' * shift}{zeros}: {'; '.join(partial.clauses)}. That makes {product}.",
    )


def _point_lines(first: Numeral, second: Numeral, digits: str, answer: Numeral, filled: int) -> list[Line]:
    places = answer.places
    if not places:
        return []
    lines: list[Line] = []
    if first.places and second.places:
        lines.append((
            f"1 {one_of(-first.places)} times 1 {one_of(-second.places)} is 1 {one_of(-places)}, "
            f"so the product counts {place_name(-places)}.",
        ))
    lines.append((
        first, f" has {places_said(first)} after the point and ", second, f" has {places_said(second)}, "
        f"together {places}.",
    ))
    if filled:
        lines.append((f"{digits} has too few digits, so write {count_of(filled, 'zero')} in front of it.",))
    lines.append((f"Count {count_of(places, 'place')} from the right and set the point: ", answer, "."))
    return lines


def places_said(factor: Numeral) -> str:
    """Return how many places a factor has, in words."""
    return count_of(factor.places, "place") if factor.places else "none"
