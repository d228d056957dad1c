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
    """Return one leaf as markup; an expression is kept together by class ``x``."""
    if isinstance(part, str):
        return escaped(part)
    if isinstance(part, Numeral):
        return escaped(locale.number(part))
    return f'<span class="x">{escaped(expression(part, locale))}</span>'


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
    """Return a feature's name as people read it: ``annexed_zeros`` gives ``annexed zeros``."""
    return identifier.replace("_", " ").replace("-", " ")
