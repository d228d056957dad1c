"""Multiplying and dividing by 10, 100, 1000 or by 0.1, 0.01: every digit moves to another place."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from bank.methods._layout import (
    count_of, digits_row, inner_zeros, one_of, place_name, round_digits, rounding_lines, rounding_unit,
    trailing_zeros, without_leading_zeros, written_digits, zeros_in_quotient,
)
from bank.model import Expression, Leaf, Line, Row, Trace
from bank.numerals import POWERS, Numeral

METHOD = "moving-digits"


class _Moved(NamedTuple):
    """Digits after moving, at least one before the point."""

    digits: str
    places: int
    behind: int
    """Zeros written behind the digits, in whole places left empty."""
    before: int
    """Zeros written before the digits, in places after the point left empty."""


def exponent(number: Numeral) -> int:
    """Return k where *number* is 10 to the power k, other than 1; 0 for every other number."""
    text = str(number.coefficient)
    zeros = len(text) - 1
    return zeros - number.places if text[0] == "1" and text.count("0") == zeros else 0


def multiply(first: Numeral, second: Numeral) -> Trace:
    """Return *first* x *second*, one of them a power of ten other than 1: the other one's digits move."""
    number, left = (first, exponent(second)) if exponent(second) else (second, exponent(first))
    power = second if number is first else first
    moved = _move(number, left)
    digits, places = moved.digits, moved.places
    answer = Numeral(int(digits), places)
    rows, width = _rows(number, [(digits, places, "product")])
    steps = (
        _reason("Multiplying", power, left, left),
        *_zero_lines(number, moved),
        ("So ", Expression((first, "*", second, "=", answer)), "."),
    )
    below_one = [factor.coefficient < POWERS[factor.places] for factor in (first, second)].count(True)
    facts = (
        ("carries", 0),
        ("carries_in_sum", 0),
        ("factor_below_one", below_one),
        ("partial_products", 0),
        ("places_total", first.places + second.places),
        ("trailing_zeros", trailing_zeros(digits, places)),
        ("unequal_places", abs(first.places - second.places)),
        ("zeros_filled", moved.behind + moved.before),
        ("zeros_inside", inner_zeros((number,))),
    )
    return Trace(METHOD, "multiply", "", (first, second), answer, rows, width, steps, facts)


def divide(dividend: Numeral, divisor: Numeral, places: int | None) -> Trace:
    """Return *dividend* / *divisor*, a power of ten other than 1, to the end or rounded to *places* places."""
    power = exponent(divisor)
    moved = _move(dividend, -power)
    needless = min(trailing_zeros(moved.digits, moved.places), max(moved.places - dividend.places, 0))
    digits, after = moved.digits[:len(moved.digits) - needless], moved.places - needless
    written = [(digits, after, "quotient")]
    ending: list[Line] = [("So ", Expression((dividend, "/", divisor, "=", Numeral(int(digits), after))), ".")]
    if needless:
        longer = Numeral(int(moved.digits), moved.places)
        ending.insert(0, (longer, " is the same as ", Numeral(int(digits), after), "."))
    if places is not None and places != after:
        written.append((*_fitted(digits, after, places), f"rounded to {rounding_unit(places)}"))
        ending += _rounding_lines(dividend, divisor, digits, after, places)
    answer = Numeral(int(written[-1][0]), written[-1][1])
    rows, width = _rows(dividend, written)
    steps = (_reason("Dividing", divisor, power, -power), *_zero_lines(dividend, moved), *ending)
    facts = (
        ("annexed_zeros", 0),
        ("divisor_digits", 1),
        ("divisor_places", max(-power, 0)),
        ("moving_zeros", moved.behind),
        ("quotient_below_one", 0 if digits[:len(digits) - after].strip("0") else 1),
        ("quotient_zeros", zeros_in_quotient(digits, after)),
        ("remainder_steps", 0),
        ("rounding", 0 if places is None else 1),
        ("steps", 0),
    )
    return Trace(METHOD, "divide", "", (dividend, divisor), answer, rows, width, steps, facts)


def _move(number: Numeral, left: int) -> _Moved:
    """The digits of *number* after moving *left* places to the left, to the right where *left* is negative."""
    places = max(number.places - left, 0)
    if not number.coefficient:
        return _Moved("0" * (places + 1), places, 0, 0)
    text = str(number.coefficient)
    behind = max(left - number.places, 0)
    return _Moved((text + "0" * behind).zfill(places + 1), places, behind, max(places - len(text), 0))


def _fitted(digits: str, after: int, places: int) -> tuple[str, int]:
    """*digits* of a number with *after* places, rounded to *places* or with zeros annexed."""
    if places >= after:
        return digits + "0" * (places - after), places
    cut = len(digits) - after + places
    rounded, _ = round_digits(digits[:cut], digits[cut] >= "5")
    return without_leading_zeros(rounded, places), places


def _rows(number: Numeral, results: Sequence[tuple[str, int, str]]) -> tuple[tuple[Row, ...], int]:
    """The number as written and what it becomes, point under point; the last row is the result."""
    digits = written_digits(number)
    whole = max([len(digits) - number.places, *[len(text) - places for text, places, _ in results]])
    width = whole + max([number.places, *[places for _, places, _ in results]])
    rows = [digits_row("operand", digits, width, whole + number.places, whole if number.places else -1)]
    for index, (text, places, note) in enumerate(results):
        last = index + 1 == len(results)
        role = "result" if last else "quotient"
        rows.append(digits_row(role, text, width, whole + places, whole if places else -1, rule=True, note=note))
    return tuple(rows), width


def _reason(doing: str, power: Numeral, exponent_of_power: int, left: int) -> Line:
    factor = POWERS[abs(left)]
    moving = f"so each digit moves {count_of(abs(left), 'place')} to the {'left' if left > 0 else 'right'}."
    worth = f"{factor} times as much" if left > 0 else f"only 1 {one_of(left)} of what it was worth"
    if exponent_of_power > 0:
        return (f"{doing} by ", power, f" makes each digit worth {worth}, {moving}")
    other = f"multiplying by {factor}" if doing == "Dividing" else f"dividing by {factor}"
    why = f", because {factor} {place_name(exponent_of_power)} make 1 whole" if doing == "Dividing" else ""
    return (f"{doing} by ", power, f" is the same as {other}{why}: each digit becomes worth {worth}, {moving}")


def _zero_lines(number: Numeral, moved: _Moved) -> list[Line]:
    result: Leaf = Numeral(int(moved.digits), moved.places)
    if moved.behind:
        return [(f"Write {count_of(moved.behind, 'zero')} in the places left empty, down to the ones: ", result, ".")]
    if len(str(number.coefficient)) <= moved.places > number.places:
        return [("Write a 0 in each place left empty, from the ones on: ", result, ".")]
    return []


def _rounding_lines(dividend: Numeral, divisor: Numeral, digits: str, after: int, places: int) -> list[Line]:
    unit = rounding_unit(places)
    answer = Numeral(int(_fitted(digits, after, places)[0]), places)
    lines: list[Line] = []
    if places < after:
        following = digits[len(digits) - after + places]
        lines.append((f"To round to {unit}, look at the next digit: it is {following}.",))
        lines += rounding_lines(following, places)
    else:
        lines.append((f"Write {count_of(places - after, 'zero')} at the end to have {count_of(places, 'place')}.",))
    lines.append(("So ", Expression((dividend, "/", divisor)), f", rounded to {unit}, is ", answer, "."))
    return lines
