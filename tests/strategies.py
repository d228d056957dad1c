"""Hypothesis strategies that several rooms share: numerals as written, operands for each operation."""

from __future__ import annotations

from hypothesis import strategies as st

from bank.numerals import Numeral

Operands = tuple[Numeral, ...]


@st.composite
def numerals(
    draw: st.DrawFn, *, digits: int = 6, places: int = 4, least: int = 0, signed: bool = False
) -> Numeral:
    """Numerals of up to *digits* digits with up to *places* places; ``least=1`` leaves zero out.

    Lengths are drawn first, so that short numerals, ragged places and zeros inside are all common.
    """
    length = draw(st.integers(1, digits))
    coefficient = draw(st.integers(least, 10**length - 1))
    if signed and draw(st.booleans()):
        coefficient = -coefficient
    return Numeral(coefficient, draw(st.integers(0, places)))


def addends(*, most: int = 5) -> st.SearchStrategy[Operands]:
    """Operands of an addition: 2 to *most* numerals."""
    return st.lists(numerals(), min_size=2, max_size=most).map(tuple)


def minuend_and_subtrahend() -> st.SearchStrategy[Operands]:
    """Operands of a subtraction whose difference is not below zero."""
    return st.tuples(numerals(), numerals()).map(lambda pair: (max(pair), min(pair)))


def factors() -> st.SearchStrategy[Operands]:
    """Operands of a multiplication."""
    return st.tuples(numerals(digits=5), numerals(digits=4))


@st.composite
def dividend_and_divisor(draw: st.DrawFn) -> Operands:
    """Operands of a division that ends: the dividend is a product of the divisor."""
    divisor = draw(numerals(digits=4, places=3, least=1))
    quotient = draw(numerals(digits=5, places=3))
    product = quotient * divisor
    return (draw(st.sampled_from((product, product.normal()))), divisor)


def any_dividend_and_divisor() -> st.SearchStrategy[Operands]:
    """Operands of a division that need not end; the divisor is not zero."""
    return st.tuples(numerals(), numerals(digits=4, places=3, least=1))


@st.composite
def near_numerals(draw: st.DrawFn) -> Operands:
    """Operands of a comparison: 2 to 5 numerals that often share their first digits, or their value."""
    stem = draw(st.text("0123456789", min_size=1, max_size=4))
    tails = draw(st.lists(st.text("0059", max_size=3), min_size=2, max_size=5))
    whole = draw(st.integers(1, len(stem)))
    return tuple(
        Numeral(int(stem + tail), len(stem) - whole + len(tail)) if draw(st.booleans()) else draw(numerals(digits=4))
        for tail in tails
    )


def powers_of_ten() -> st.SearchStrategy[Numeral]:
    """0.001 to 1000 without 1, the way they are usually written."""
    return st.sampled_from([Numeral(10**power) for power in (1, 2, 3)] + [Numeral(1, power) for power in (1, 2, 3)])
