"""The words of the expression language, one entry each: what it says, how it becomes code."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

from bank.expressions._emitter import WORDS, Amount, Emitter, Value, Verdict, Word
from bank.expressions._syntax import Call, ExpressionError
from bank.numerals import POWERS

Emit = Callable[[Emitter, list[Amount], Call], Value]


def word(name: str, fewest: int, most: int, says: str) -> Callable[[Emit], Emit]:
    """Register the decorated function as the word *name* that takes *fewest* to *most* numbers."""

    def register(emit: Emit) -> Emit:
        WORDS[name] = Word(name, fewest, most, says, emit)
        return emit

    return register


def _count(code: str, most: int = 99) -> Amount:
    """Return a whole amount from 0 to *most*."""
    return Amount(code, 0, "", Fraction(0), Fraction(most), most)


def _constant(amount: Amount, at: int) -> Fraction:
    if amount.low is None or amount.low != amount.high:
        raise ExpressionError("not-constant", "this has to be a number, the same for every draw", "write a number", at)
    return amount.low


@word("places", 1, 1, "places(x): decimal places of a parameter as written, of anything else as few as it needs")
def _places(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    return _count(emitter.written(given[0])[1])


@word("digits", 1, 1, "digits(x): digits written, a lone zero before the point not counted: 2 in 0.25, 3 in 3.40")
def _digits(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    digits, places = emitter.written(given[0])
    return _count(f"digit_count({digits}, {places})")


@word("last_digit", 1, 1, "last_digit(x): last digit as written; 0 in 3.40 where x is a parameter written so")
def _last_digit(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    digits, _ = emitter.written(given[0])
    return _count(f"(abs({digits}) % 10)", 9)


@word("digit", 2, 2, "digit(x, place): the digit at a place: digit(x, 10) tens, digit(x, 0.1) tenths")
def _digit(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    place = _constant(given[1], call.arguments[1].at)
    exponent = _exponent(place)
    if exponent is None:
        wrong, remedy = "the place is no power of ten", "write 100, 10, 1, 0.1, 0.01 or such"
        raise ExpressionError("bad-place", wrong, remedy, call.arguments[1].at)
    amount = emitter.decimal(given[0])
    shift = amount.scale + exponent
    if shift < 0:
        emitter.hold(amount.top)
        return _count("0", 0)
    top = amount.top if amount.never_negative else f"abs({amount.top})"
    return _count(f"({top} // {POWERS[shift]} % 10)" if shift else f"({top} % 10)", 9)


def _exponent(place: Fraction) -> int | None:
    for exponent in range(13):
        if place == POWERS[exponent]:
            return exponent
        if place * POWERS[exponent] == 1:
            return -exponent
    return None


@word("whole", 1, 1, "whole(x): the part before the decimal point")
def _whole(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    amount = given[0]
    unit = amount.bottom or str(POWERS[amount.scale])
    if unit == "1":
        return amount._replace(places="")
    code = f"({amount.top} // {unit})" if amount.never_negative else f"towards_zero({amount.top}, {unit})"
    low = None if amount.low is None else Fraction(int(amount.low))
    high = None if amount.high is None else Fraction(int(amount.high))
    return Amount(code, 0, "", low, high, amount.size)


@word("part", 1, 1, "part(x): the part behind the decimal point, 0.25 of 3.25")
def _part(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    amount = given[0]._replace(top=emitter.hold(given[0].top), places="")
    unit = amount.bottom or str(POWERS[amount.scale])
    if unit == "1":
        return _count("0", 0)
    if amount.never_negative:
        return amount._replace(top=f"({amount.top} % {unit})", low=Fraction(0), high=Fraction(1))
    top = f"({amount.top} - towards_zero({amount.top}, {unit}) * {unit})"
    return amount._replace(top=top, low=Fraction(-1), high=Fraction(1))


@word("round", 2, 2, "round(x, n): x to n places, a half going away from zero")
def _round(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    amount, places = given[0], _constant(given[1], call.arguments[1].at)
    if places.denominator != 1 or not 0 <= places <= 12:
        wrong = "the number of places is no whole number from 0 to 12"
        raise ExpressionError("bad-place", wrong, "write a whole number", call.arguments[1].at)
    wanted = int(places)
    half = Fraction(1, 2 * POWERS[wanted])
    low = None if amount.low is None else max(amount.low - half, Fraction(0)) if amount.low >= 0 else amount.low - half
    high = None if amount.high is None else amount.high + half
    if amount.bottom:
        top = f"nearest({amount.top} * {POWERS[wanted]}, {amount.bottom})"
        return Amount(top, wanted, "", low, high, amount.size * POWERS[wanted])
    if amount.scale <= wanted:
        return amount._replace(places="")
    return Amount(f"nearest({amount.top}, {POWERS[amount.scale - wanted]})", wanted, "", low, high, amount.size)


@word("abs", 1, 1, "abs(x): x without its sign")
def _abs(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    amount = given[0]
    if amount.never_negative:
        return amount._replace(places="")
    sizes = None if amount.low is None or amount.high is None else max(abs(amount.low), abs(amount.high))
    return amount._replace(top=f"abs({amount.top})", low=Fraction(0), high=sizes, places="")


def _extreme(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    tops, bottom, sizes, bottom_size = emitter.over_one_bottom(given)
    pick = min if call.word == "min" else max
    lows = [amount.low for amount in given if amount.low is not None]
    highs = [amount.high for amount in given if amount.high is not None]
    low = pick(lows) if len(lows) == len(given) else None
    high = pick(highs) if len(highs) == len(given) else None
    top = f"{call.word}({', '.join(tops)})"
    if any(amount.bottom for amount in given):
        return Amount(top, 0, bottom, low, high, max(sizes), bottom_size)
    return Amount(top, max(amount.scale for amount in given), "", low, high, max(sizes))


word("min", 2, 5, "min(a, b, ...): the smallest")(_extreme)
word("max", 2, 5, "max(a, b, ...): the largest")(_extreme)


@word("gcd", 2, 2, "gcd(a, b): greatest common divisor of two whole numbers")
def _gcd(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    size = max(amount.size for amount in given)
    return Amount(f"gcd({emitter.whole(given[0])}, {emitter.whole(given[1])})", 0, "", Fraction(0), None, size)


@word("lcm", 2, 2, "lcm(a, b): least common multiple of two whole numbers")
def _lcm(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    size = given[0].size * given[1].size
    return Amount(f"lcm({emitter.whole(given[0])}, {emitter.whole(given[1])})", 0, "", Fraction(0), None, size)


@word("divides", 2, 2, "divides(a, b): whether b / a is a whole number")
def _divides(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    (divisor, number), _, _, _ = emitter.over_one_bottom(given)
    return Verdict(f"(not {number} % {divisor})")


@word("terminates", 1, 1, "terminates(x): whether x ends as a decimal")
def _terminates(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    amount = given[0]
    if amount.bottom:
        return Verdict(f"ends({amount.top}, {amount.bottom})")
    emitter.hold(amount.top)
    return Verdict("True", True)


@word("even", 1, 1, "even(x): whether the whole number x is even")
def _even(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    return Verdict(f"(not {emitter.whole(given[0])} % 2)")


@word("odd", 1, 1, "odd(x): whether the whole number x is odd")
def _odd(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    return Verdict(f"({emitter.whole(given[0])} % 2 == 1)")


@word("zeros_inside", 1, 1, "zeros_inside(x): zeros between digits that are not zero: 2 in 10.05, 0 in 0.50")
def _zeros_inside(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    return _count(f"zeros_inside({emitter.decimal(given[0]).top})")


def _columns(emitter: Emitter, given: list[Amount], call: Call) -> Value:
    sizes = [amount if amount.never_negative else amount._replace(top=f"abs({amount.top})") for amount in given]
    tops, _ = emitter.aligned([emitter.decimal(amount) for amount in sizes])
    return _count(f"{call.word}({', '.join(tops)})")


word("carries", 2, 5, "carries(a, b, ...): columns that carry in the written addition")(_columns)
word("regroupings", 2, 2, "regroupings(a, b): columns that regroup in the written subtraction, larger minus smaller")(
    _columns
)
word(
    "regroupings_at_zero", 2, 2,
    "regroupings_at_zero(a, b): columns of the written subtraction in which a regrouping passes a zero above",
)(_columns)
