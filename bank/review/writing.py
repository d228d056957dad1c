"""Leaves of the model spelled as safe markup: every text is escaped here or by the template, nowhere else."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from markupsafe import Markup, escape

from bank.model import Expression, Leaf, Line, Locale, Unit
from bank.numerals import Numeral

NO_BREAK = "\u00a0"


@lru_cache(maxsize=8192)
def escaped(text: str) -> str:
    """Return *text* with the characters that mean something in HTML spelled out; the only way a text becomes markup."""
    return str(escape(text))


def lines(found: Iterable[Line], locale: Locale) -> tuple[Markup, ...]:
    """Return each line as markup, numerals and signs written as in *locale*."""
    return tuple([Markup("".join([leaf(part, locale) for part in line])) for line in found])


def leaf(part: Leaf, locale: Locale) -> str:
    """Return one leaf as markup; an expression is kept together by class ``x``, a gap in a line is a box."""
    if isinstance(part, str):
        return escaped(part)
    if isinstance(part, Numeral):
        return escaped(locale.number(part))
    text = escaped(expression(part, locale))
    if "?" in part.parts and "=" not in part.parts:
        text = text.replace("?", '<span class="gap"><span class="unseen">gap</span></span>')
    return f'<span class="x">{text}</span>'


def expression(part: Expression, locale: Locale) -> str:
    """Return an expression as plain text, spaces round its signs; ``?`` becomes a blank to fill."""
    return " ".join(locale.number(one) if isinstance(one, Numeral) else locale.sign(one) for one in part.parts)


def answer(numeral: Numeral, unit: Unit | None, locale: Locale) -> str:
    """Return an answer with its unit as plain text, not to be broken between the two."""
    number = locale.number(numeral)
    if unit is None:
        return number
    return unit.text + number if unit.before else f"{number}{NO_BREAK}{unit.text}"


def hundredths(thousandths: int) -> str:
    """Return thousandths as a signed decimal with two places, such as ``+0.35``; halves away from zero."""
    size = (abs(thousandths) + 5) // 10
    sign = "" if not size else "+" if thousandths > 0 else "\u2212"
    return f"{sign}{size // 100}.{size % 100:02}"


def percent(thousandths: int) -> str:
    """Return a share in thousandths as whole percent, such as ``63``; halves go up."""
    return str((thousandths + 5) // 10)


def plain_words(identifier: str) -> str:
    """Return an identifier as people read it: ``decimal-addition`` gives ``decimal addition``."""
    return identifier.replace("_", " ").replace("-", " ")


_COUNTED = {
    "digits_first": "digits of the first number", "digits_second": "digits of the second number",
    "more_operands": "numbers beyond two", "columns": "columns", "operands": "numbers", "places_total": "places in all",
    "zeros_inside": "zeros inside the numbers", "unequal_places": "places more in one number than in the other",
    "carries": "carries", "carries_across_point": "carries across the point", "carries_in_sum": "carries in the sum",
    "regroupings": "exchanges", "regroupings_at_zero": "exchanges that meet a zero",
    "regroupings_across_point": "exchanges across the point", "annexed_zeros": "annexed zeros",
    "partial_products": "partial products", "zeros_filled": "zeros filled in", "trailing_zeros": "zeros at the end",
    "divisor_places": "places of the divisor", "divisor_digits": "digits of the divisor",
    "quotient_zeros": "zeros in the quotient", "remainder_steps": "remainders", "steps": "division steps",
    "moving_zeros": "zeros written when the points move", "deciding_column": "column that decides, from the left",
    "zeros_after_point": "zeros after the point", "dropped_digits": "digits dropped", "next_digit": "deciding digit",
    "nine_chain": "nines passed on",
}
_STATED = {
    "whole_and_decimal": "a whole number and a decimal", "factor_below_one": "a factor below 1",
    "quotient_below_one": "a quotient below 1", "rounding": "the quotient is rounded", "story": "told as a story",
    "story_factor_below_one": "a story with a factor below 1", "typed": "typed, not chosen",
    "unequal_places_any": "unequal numbers of places", "longer_is_not_the_answer": "the longer number is not the answer",
    "next_digit_is_five": "the deciding digit is 5", "rounds_up": "rounded up",
    "choose_several": "several to choose", "put_in_order": "numbers to put in order", "match_pairs": "pairs to match",
    "choose_in_line": "a sign to choose", "find_mistake": "a wrong step to find",
    "piled_up": "effects that pile up count less than their sum",
    "operation_without_weight": "its operation has no weight: put in the middle of the scale",
}


def feature(identifier: str, value: int) -> str:
    """Return a feature of an item as people read it: ``annexed_zeros``, 2 gives ``annexed zeros: 2``."""
    if identifier in _STATED and value == 1:
        return _STATED[identifier]
    if identifier.startswith("operation-"):
        return f"operation: {identifier.removeprefix('operation-')}"
    words = _COUNTED.get(identifier) or plain_words(identifier)
    return f"{words}: {value}"
