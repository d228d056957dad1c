"""Slips in short and long multiplication: inside a row, with the place of a row, in adding the rows, with the point.

The mistakes multiply the first factor by the digits of the second one, so a slip is told only where the written
method has them in that order too. Factors that are zero or a power of ten have no rows.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from bank.methods import _place_value
from bank.methods._layout import count_of, inner_zeros, one_of, place_name
from bank.methods.multiplication import (
    Partial, add_up, arranged, digit_product, last_product, opening, partial_line, places_said, rows_of,
    spoken_product, times_digit,
)
from bank.model import Line, Trace
from bank.numerals import Numeral
from bank.slips import Working, ending, slip


class _Row(NamedTuple):
    """A row as it is written."""

    partial: Partial
    line: Line
    wrong: bool = False


class _Pointed(NamedTuple):
    """How the point is set: steps, which of them is wrong, and what is written."""

    lines: list[Line]
    wrong: int
    digits: str
    """At least one before the point."""
    places: int


class _Adding(NamedTuple):
    """The rows added up."""

    digits: str
    marks: list[str]
    wrong: bool


_Rowing = Callable[[str, str, int], _Row | None]
"""Gives a row from the upper digits, a lower digit, and the zeros of its place."""


def _rightly(top: str, digit: str, shift: int) -> _Row:
    partial = times_digit(top, digit, shift)
    return _Row(partial, partial_line(top, partial))


def _added_rightly(products: list[str]) -> _Adding:
    digits, marks, _ = add_up(products)
    return _Adding(digits, marks, False)


def _pointed_rightly(first: Numeral, second: Numeral, digits: str) -> _Pointed:
    return _counted_off(first, second, digits, first.places + second.places, [], -1)


def _work(
    first: Numeral, second: Numeral, *, rowing: _Rowing = _rightly,
    adding: Callable[[list[str]], _Adding | None] = _added_rightly,
    pointing: Callable[[Numeral, Numeral, str], _Pointed | None] = _pointed_rightly, in_order: bool = True,
) -> Working | None:
    """Return the multiplication with rows, sum and point as the three functions make them.

    None where a function gives None, where there is nothing to write in rows, or, with *in_order*, where the second
    factor would not stand below.
    """
    if not first.coefficient or not second.coefficient or _place_value.exponent(first) or _place_value.exponent(second):
        return None
    upper, lower = arranged(first, second)
    if in_order and upper is not first:
        return None
    top, bottom = str(upper.coefficient), str(lower.coefficient)
    steps = opening(upper, lower, first, bottom)
    wrong: list[int] = []
    partials = []
    for shift, digit in enumerate(reversed(bottom)):
        if digit == "0":
            continue
        row = rowing(top, digit, shift)
        if row is None:
            return None
        if row.wrong:
            wrong.append(len(steps))
        steps.append(row.line)
        partials.append(row.partial)
    digits, marks = partials[0].digits, partials[0].marks
    if len(partials) > 1:
        products = [partial.digits for partial in partials]
        added = adding(products)
        if added is None:
            return None
        digits, marks = added.digits, added.marks
        if added.wrong:
            wrong.append(len(steps))
        steps.append((f"Add the partial products: {' plus '.join(products)} is {digits}.",))
    digits = digits.lstrip("0") or "0"
    pointed = pointing(first, second, digits)
    if pointed is None:
        return None
    if pointed.wrong >= 0:
        wrong.append(len(steps) + pointed.wrong)
    steps += pointed.lines
    answer = Numeral(int(pointed.digits), pointed.places)
    rows, width = rows_of(upper, lower, partials, marks, pointed.digits, pointed.places)
    facts = (
        ("carries", sum([partial.carries for partial in partials])),
        ("partial_products", len(partials)),
        ("places_total", pointed.places),
        ("zeros_inside", inner_zeros((first, second))),
    )
    method = "long-multiplication" if len(partials) > 1 else "short-multiplication"
    trace = Trace(
        method, "multiply", "", (first, second), answer, rows, width, (*steps, ending(answer)), facts
    )
    return Working(trace, tuple(wrong))


# ------------------------------------------------------------ inside a row

_Digit = Callable[[str, str, str, bool], tuple[str, str, str, bool] | None]
"""From an upper digit, the lower digit, the carry noted, and whether it is the first upper digit: the digit to write
(two where it is the first), the digit to carry, the words, and whether this is wrong."""


def _digit_by_digit(work: _Digit) -> _Rowing:
    def rowing(top: str, digit: str, shift: int) -> _Row | None:
        carry, carries, wrong = "", 0, False
        written, clauses, marks = "", [], []
        for place, upper in enumerate(reversed(top), 1):
            marks.append(carry)
            done = work(upper, digit, carry, place == len(top))
            if done is None:
                return None
            here, carry, clause, is_wrong = done
            written, wrong = here + written, wrong or is_wrong
            clauses.append(clause)
            carries += 1 if carry else 0
        marks.reverse()
        partial = Partial(written + "0" * shift, digit, shift, clauses, marks, carries)
        return _Row(partial, partial_line(top, partial), wrong)

    return rowing


def _one_digit(upper: str, lower: str, carry: str, first: bool) -> tuple[str, str, str, bool]:
    """One digit times one digit, rightly."""
    written, onward, clause = digit_product(upper, lower, carry)
    if first and onward:
        return onward + written, "", last_product(upper, lower, carry), False
    return written, onward, clause, False


def _split(total: int, first: bool, words: str, wrong: bool) -> tuple[str, str, str, bool] | None:
    """Write *total* and carry its tens; None where more than one digit would be carried."""
    if total > 99:
        return None
    if first or total < 10:
        return str(total), "", f"{words}, write {total}", wrong
    return str(total % 10), str(total // 10), f"{words}, write {total % 10}, carry {total // 10}", wrong


@slip("multiply.carry-forgotten")
def carry_forgotten(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which carries inside the rows are noted and not added."""

    def work(upper: str, lower: str, carry: str, is_first: bool) -> tuple[str, str, str, bool]:
        return *_one_digit(upper, lower, "", is_first)[:3], carry != ""

    return _work(first, second, rowing=_digit_by_digit(work))


@slip("multiply.carry-added-twice")
def carry_added_twice(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which each carry inside a row is added two times."""

    def work(upper: str, lower: str, carry: str, is_first: bool) -> tuple[str, str, str, bool] | None:
        if not carry:
            return _one_digit(upper, lower, carry, is_first)
        total = int(upper) * int(lower) + 2 * int(carry)
        words = f"{spoken_product(upper, lower, '')} and {carry} carried and {carry} carried is {total}"
        return _split(total, is_first, words, True)

    return _work(first, second, rowing=_digit_by_digit(work))


@slip("multiply.carry-added-before-multiplying")
def carry_added_before_multiplying(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which each carry is added to the upper digit before it is multiplied."""

    def work(upper: str, lower: str, carry: str, is_first: bool) -> tuple[str, str, str, bool] | None:
        if not carry:
            return _one_digit(upper, lower, carry, is_first)
        summed = int(upper) + int(carry)
        total = summed * int(lower)
        return _split(total, is_first, f"{upper} and {carry} carried is {summed}, {lower} times {summed} is {total}",
                      lower != "1")

    return _work(first, second, rowing=_digit_by_digit(work))


@slip("multiply.carry-digit-swapped")
def carry_digit_swapped(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the tens digit of a product is written and its ones digit carried, unless zero."""

    def work(upper: str, lower: str, carry: str, is_first: bool) -> tuple[str, str, str, bool] | None:
        total = int(upper) * int(lower) + int(carry or 0)
        if is_first or total < 10:
            return _one_digit(upper, lower, carry, is_first)
        if not total % 10:
            return None
        tens, ones = str(total // 10), str(total % 10)
        return tens, ones, f"{spoken_product(upper, lower, carry)}, write {tens}, carry {ones}", tens != ones

    return _work(first, second, rowing=_digit_by_digit(work))


@slip("multiply.zero-times-n-is-n")
def zero_times_n_is_n(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which zero times a digit is that digit."""

    def work(upper: str, lower: str, carry: str, is_first: bool) -> tuple[str, str, str, bool] | None:
        if upper != "0":
            return _one_digit(upper, lower, carry, is_first)
        total = int(lower) + int(carry or 0)
        adding = f" and {carry} carried is {total}" if carry else ""
        return _split(total, is_first, f"{lower} times 0 is {lower}{adding}", True)

    return _work(first, second, rowing=_digit_by_digit(work))


# ------------------------------------------------------------ rows

def _shifted(top: str, digit: str, shift: int, zeros: int) -> _Row:
    """A row with another number of *zeros* than its place asks for."""
    written = times_digit(top, digit, 0)
    product = written.digits + "0" * zeros
    partial = written._replace(digits=product, shift=shift)
    said = f", first write {count_of(zeros, 'zero')}" if zeros else ""
    line = f"Multiply {top} by {digit}{'0' * shift}{said}: {'; '.join(written.clauses)}. That makes {product}."
    return _Row(partial, (line,), True)


@slip("multiply.second-row-not-shifted")
def second_row_not_shifted(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which no row has the zeros of its place."""
    if second.coefficient < 10:
        return None
    return _work(first, second, rowing=lambda top, digit, shift: _shifted(top, digit, shift, 0) if shift else
                 _rightly(top, digit, shift))


@slip("multiply.row-shifted-too-far")
def row_shifted_too_far(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which every row after the first has a zero too many."""
    if second.coefficient < 10:
        return None
    return _work(first, second, rowing=lambda top, digit, shift: _shifted(top, digit, shift, shift + 1) if shift else
                 _rightly(top, digit, shift))


@slip("multiply.carry-forgotten-adding-rows")
def carry_forgotten_adding_rows(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the rows are added without carries, the first column in full."""

    def adding(products: list[str]) -> _Adding | None:
        width = max(map(len, products))
        columns = list(zip(*[product.rjust(width, "0") for product in products]))
        sums = [sum(map(int, column)) for column in columns]
        digits = str(sums[0]) + "".join([str(entry % 10) for entry in sums[1:]])
        return _Adding(digits, [""] * width, any([entry > 9 for entry in sums[1:]]))

    working = _work(first, second, adding=adding)
    return working if working is not None and working.trace.method == "long-multiplication" else None


# ------------------------------------------------------------ the point

def _worth(first: Numeral, second: Numeral) -> list[Line]:
    """The reason for the places of the product, as the written method gives it."""
    if not first.places or not second.places:
        return []
    total = first.places + second.places
    return [(
        f"1 {one_of(-first.places)} times 1 {one_of(-second.places)} is 1 {one_of(-total)}, "
        f"so the product counts {place_name(-total)}.",
    )]


def _counted_off(
    first: Numeral, second: Numeral, digits: str, places: int, reason: list[Line], wrong: int
) -> _Pointed:
    """The point set *places* from the right after the *reason*, or after the right one where that is empty."""
    lines = list(reason)
    if not reason and places:
        lines = [*_worth(first, second), (
            first, f" has {places_said(first)} after the point and ", second, f" has {places_said(second)}, "
            f"together {places}.",
        )]
    filled = max(places - len(digits), 0)
    if filled:
        lines.append((f"{digits} has too few digits, so write {count_of(filled, 'zero')} in front of it.",))
    shown = digits.zfill(places + 1)
    if places:
        answer = Numeral(int(digits), places)
        lines.append((f"Count {count_of(places, 'place')} from the right and set the point: ", answer, "."))
    return _Pointed(lines, wrong, shown, places)


@slip("multiply.places-as-in-addition")
def places_as_in_addition(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the product gets as many places as the factor with most; both have some."""
    places = max(first.places, second.places)

    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        if not one.places or not other.places:
            return None
        if one.places == other.places:
            reason: Line = (one, " and ", other, f" have {places_said(one)} after the point, so the product gets "
                            f"{count_of(places, 'place')} too.")
        else:
            longer = one if one.places == places else other
            reason = (longer, f" has {places_said(longer)} after the point, the other factor has fewer, so the product "
                      f"gets {count_of(places, 'place')}.")
        return _counted_off(one, other, digits, places, [reason], 0)

    return _work(first, second, pointing=pointing, in_order=False)


@slip("multiply.places-of-first-factor")
def places_of_first_factor(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the product gets the places of the first factor; both have some."""

    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        if not one.places or not other.places:
            return None
        said = places_said(one)
        reason: Line = ("The first factor, ", one, f", has {said} after the point, so the product gets {said}.")
        return _counted_off(one, other, digits, one.places, [reason], 0)

    return _work(first, second, pointing=pointing, in_order=False)


@slip("multiply.point-left-out")
def point_left_out(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the product gets no point."""

    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        if not one.places + other.places:
            return None
        return _Pointed([(f"Leave the point out of the product too: {digits}.",)], 0, digits, 0)

    return _work(first, second, pointing=pointing, in_order=False)


@slip("multiply.one-place-too-few")
def one_place_too_few(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the places of both factors are added to one less."""
    return _miscounted(first, second, -1)


@slip("multiply.one-place-too-many")
def one_place_too_many(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which the places of both factors are added to one more."""
    return _miscounted(first, second, 1)


def _miscounted(first: Numeral, second: Numeral, more: int) -> Working | None:
    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        places = one.places + other.places + more
        if places - more == 0 or places == 0:
            return None
        worth = _worth(one, other)
        counted: Line = (one, f" has {places_said(one)} after the point and ", other, f" has {places_said(other)}, "
                         f"together {places}.")
        return _counted_off(one, other, digits, places, [*worth, counted], len(worth))

    return _work(first, second, pointing=pointing, in_order=False)


@slip("multiply.trailing-zero-dropped-first")
def trailing_zero_dropped_first(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which zeros at the end of the product go before the places are counted."""

    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        places, shorter = one.places + other.places, digits.rstrip("0")
        if not places or shorter == digits:
            return None
        dropped = count_of(len(digits) - len(shorter), "zero")
        right = _counted_off(one, other, shorter, places, [], -1)
        line: Line = (f"Leave out {dropped} at the end of the product before the point is set: {shorter}.",)
        return right._replace(lines=[line, *right.lines], wrong=0)

    return _work(first, second, pointing=pointing, in_order=False)


@slip("multiply.missing-zeros-not-filled")
def missing_zeros_not_filled(first: Numeral, second: Numeral) -> Working | None:
    """Return the working in which a product with too few digits stands straight after the point."""

    def pointing(one: Numeral, other: Numeral, digits: str) -> _Pointed | None:
        places, length = one.places + other.places, len(digits)
        if length >= places:
            return None
        right = _counted_off(one, other, digits, places, [], -1)
        answer = Numeral(int(digits), length)
        line: Line = (f"{digits} has too few digits, so set the point straight before it: ", answer, ".")
        return _Pointed([*right.lines[:-2], line], len(right.lines) - 2, digits.zfill(length + 1), length)

    return _work(first, second, pointing=pointing, in_order=False)
