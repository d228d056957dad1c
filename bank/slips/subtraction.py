"""Slips in column subtraction by decomposition: with exchanges, with zeros, with the lining up.

Where two things could go wrong in one exchange the slip is not told, so that a working has one kind of wrong step.
"""

from __future__ import annotations

from bank.methods._layout import digits_row, inner_zeros, without_leading_zeros, written_digits
from bank.model import Line, Row, Trace
from bank.numerals import Numeral
from bank.slips import Working, ending, slip
from bank.slips._regrouping import Columns, Deciding, in_columns

ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth")


def _worked(minuend: Numeral, subtrahend: Numeral, deciding: Deciding) -> Working | None:
    done = in_columns(minuend, subtrahend, deciding)
    return None if done is None else done[1]


def _trade(work: Columns, column: int) -> str:
    """The words on an exchange with the next column."""
    return f"Exchange 1 {work.one(column + 1)} for 10 {work.name(column)}."


@slip("subtract.smaller-from-larger")
def smaller_from_larger(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the smaller digit is taken from the larger."""

    def deciding(work: Columns, column: int) -> int | None:
        if not work.too_small(column):
            return work.take(column)
        here, wanted = work.top[column], work.bottom[column]
        work.say(column, f"{wanted} minus {here} is {wanted - here}; write {wanted - here}.")
        return wanted - here

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.borrow-not-paid")
def borrow_not_paid(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the next column keeps what it gave."""

    def deciding(work: Columns, column: int) -> int | None:
        if work.too_small(column):
            work.exchange_wrongly(column, _trade(work, column), {column + 1: work.top[column + 1]})
        return work.take(column)

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.borrow-not-paid-at-the-point")
def borrow_not_paid_at_the_point(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the ones keep what they gave to the tenths, where there are other exchanges."""
    if not minuend.places:
        return None

    def deciding(work: Columns, column: int) -> int | None:
        if not work.too_small(column):
            return work.take(column)
        crosses = column < work.places <= work.source(column)
        if crosses and not (column + 1 == work.places == work.source(column)):
            return None
        if not crosses:
            return work.rightly(column)
        work.exchange_wrongly(column, _trade(work, column), {column + 1: work.top[column + 1]})
        return work.take(column)

    done = in_columns(minuend, subtrahend, deciding)
    return done[1] if done and done[1].wrong and done[0].exchanges > 1 else None


@slip("subtract.borrow-paid-twice")
def borrow_paid_twice(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the next column gives two for one ten."""

    def deciding(work: Columns, column: int) -> int | None:
        if work.too_small(column):
            if work.top[column + 1] < 2:
                return None
            work.exchange_wrongly(column, _trade(work, column), {column + 1: work.top[column + 1] - 2})
        return work.take(column)

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.one-added-when-paying")
def one_added_when_paying(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the next column gets one more instead of one less."""

    def deciding(work: Columns, column: int) -> int | None:
        if work.too_small(column):
            work.exchange_wrongly(column, _trade(work, column), {column + 1: work.top[column + 1] + 1})
        return work.take(column)

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.ten-minus-bottom")
def ten_minus_bottom(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which the lower digit is taken from the ten alone; no exchange passes a zero."""

    def deciding(work: Columns, column: int) -> int | None:
        if not work.too_small(column):
            return work.take(column)
        if not work.top[column + 1]:
            return None
        here, wanted = work.top[column], work.bottom[column]
        work.exchange(column)
        work.say(column, f"10 minus {wanted} is {10 - wanted}; write {10 - wanted}.", wrong=here > 0)
        return 10 - wanted

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.zero-becomes-nine-only")
def zero_becomes_nine_only(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which a zero that should pay becomes nine and nobody pays for it."""

    def pays(work: Columns, column: int) -> None:
        zero, beyond = column + 1, column + 2
        words = f"There is a 0 in the {work.name(zero)}, which becomes 9."
        work.exchange_wrongly(column, words, {beyond: work.top[beyond], zero: 9})

    return _at_zeros(minuend, subtrahend, pays)


@slip("subtract.zero-skipped")
def zero_skipped(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which one is taken beyond a zero that stays zero."""

    def pays(work: Columns, column: int) -> None:
        source = work.source(column)
        zeros = {between: 0 for between in range(column + 1, source)}
        names = " and ".join([work.name(zero) for zero in sorted(zeros)])
        words = f"There is a 0 in the {names}, so exchange 1 {work.one(source)} for 10 {work.name(column)}."
        work.exchange_wrongly(column, words, {source: work.top[source] - 1, **zeros})

    return _at_zeros(minuend, subtrahend, pays)


@slip("subtract.nothing-taken-from-zero")
def nothing_taken_from_zero(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which nothing pays where the next digit is zero."""

    def pays(work: Columns, column: int) -> None:
        words = f"There is a 0 in the {work.name(column + 1)}, so nothing is taken there."
        work.exchange_wrongly(column, words, {column + 1: 0})

    return _at_zeros(minuend, subtrahend, pays)


@slip("subtract.last-ten-taken-as-nine")
def last_ten_taken_as_nine(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which an exchange through zeros brings nine instead of ten."""

    def pays(work: Columns, column: int) -> None:
        source = work.source(column)
        zeros = " and ".join([work.name(zero) for zero in range(column + 1, source)])
        words = f"There is a 0 in the {zeros}, so begin at the {work.name(source)}. The zeros become 9."
        if source == column + 2:
            words = words.replace("The zeros become", "The zero becomes")
        now = {source: work.top[source] - 1, **{between: 9 for between in range(column + 1, source)}}
        work.exchange_wrongly(column, words, now, gain=9)

    return _at_zeros(minuend, subtrahend, pays)


def _at_zeros(minuend: Numeral, subtrahend: Numeral, pays: object) -> Working | None:
    """Return the working in which exchanges from a written zero go wrong, all others are right.

    None where a digit that became zero by paying has to pay.
    """

    def deciding(work: Columns, column: int) -> int | None:
        if not work.too_small(column) or work.top[column + 1]:
            return work.rightly(column)
        if work.first[column + 1]:
            return None
        pays(work, column)  # type: ignore[operator]
        return None if work.too_small(column) else work.take(column)

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.zero-minus-n-is-n")
def zero_minus_n_is_n(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which a written upper zero lets the lower digit stand; no exchange passes a zero."""
    return _over_zeros(minuend, subtrahend, 1)


@slip("subtract.zero-minus-n-is-zero")
def zero_minus_n_is_zero(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which zero is written below a written upper zero; no exchange passes a zero."""
    return _over_zeros(minuend, subtrahend, 0)


def _over_zeros(minuend: Numeral, subtrahend: Numeral, times: int) -> Working | None:
    def deciding(work: Columns, column: int) -> int | None:
        wanted = work.bottom[column]
        if not work.first[column] and wanted:
            work.say(column, f"0 minus {wanted} is {wanted * times}; write {wanted * times}.")
            return wanted * times
        if work.too_small(column) and not work.top[column + 1]:
            return None
        return work.rightly(column)

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.n-minus-zero-is-zero")
def n_minus_zero_is_zero(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working in which a digit with a written zero below it becomes zero, except in the first column."""
    last = max(minuend.places - subtrahend.places, 0)

    def deciding(work: Columns, column: int) -> int | None:
        here = work.top[column]
        written = last <= column < min(len(work.lower), len(work.upper) - 1)
        if work.bottom[column] or not written or not here:
            return work.rightly(column)
        work.say(column, f"{here} minus 0 is 0; write 0.")
        return 0

    return _worked(minuend, subtrahend, deciding)


@slip("subtract.lined-up-on-the-right")
def lined_up_on_the_right(minuend: Numeral, subtrahend: Numeral) -> Working | None:
    """Return the working with last digits under each other; no exchange passes a zero."""
    upper, lower = written_digits(minuend), written_digits(subtrahend)
    places, width = max(minuend.places, subtrahend.places), len(upper)
    if minuend.places == subtrahend.places or minuend.coefficient < subtrahend.coefficient or width < len(lower):
        return None
    if not places < width <= len(ORDINALS):
        return None
    top, bottom = [int(digit) for digit in reversed(upper)], [int(digit) for digit in reversed(lower)]
    bottom += [0] * (width - len(bottom))
    steps: list[Line] = [("Write the number to take away below the other, last digit under last digit.",)]
    marks, digits = [""] * width, []
    for column, name in enumerate(ORDINALS[:width]):
        start, here, wanted = f"{name} column from the right: ", top[column], bottom[column]
        if here < wanted:
            if not top[column + 1]:
                return None
            top[column + 1] -= 1
            marks[column + 1], marks[column] = str(top[column + 1]), str(here + 10)
            steps.append((
                f"{start}{here} is less than {wanted}. Exchange 1 of the next column for 10 here. Now there are "
                f"{top[column + 1]} in the next column and {here + 10} here.",
            ))
            here += 10
        said = f"{here} minus {wanted} is {here - wanted}" if column < len(lower) else "nothing to take away"
        steps.append((f"{start}{said}; write {here - wanted}.",))
        digits.append(str(here - wanted))
    text = without_leading_zeros("".join(reversed(digits)), places)
    answer = Numeral(int(text), places)
    rows = [
        digits_row("operand", upper, width, width, width - minuend.places if minuend.places else -1),
        digits_row("operand", lower, width, width, width - subtrahend.places if subtrahend.places else -1, "-"),
        digits_row("result", text, width, width, width - places, rule=True, note="difference"),
    ]
    if any(marks):
        rows.insert(0, Row("regrouped", tuple(reversed(marks)), note="digits after regrouping"))
    facts = (
        ("columns", width),
        ("regroupings", sum([1 for mark in marks if len(mark) == 2])),
        ("zeros_inside", inner_zeros((minuend, subtrahend))),
    )
    trace = Trace(
        "column-subtraction", "subtract", "decomposition", (minuend, subtrahend), answer, tuple(rows), width,
        (*steps, ending(answer)), facts,
    )
    return Working(trace, (0,))
