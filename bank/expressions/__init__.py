"""The language of templates: exact numbers, truths and words, read once and compiled to integer arithmetic.

    numbers      3   0.25             written out; no exponents
    calculating  + - * / // % **      exact; ** up to the twelfth power
    comparing    < <= > >= == !=      in chains too: 1 < a <= b
    joining      and or not ( )
    words        places(a), carries(a, b) ... all in `WORDS`
    quoted       "ribbon"             to compare with a parameter that is drawn from words

`read` and `write` know the form only. `Emitter` turns parts into code and refuses what makes no sense.
A draw for which an expression has no value raises `Unworkable` or ZeroDivisionError, both ArithmeticError.
"""

from __future__ import annotations

from bank.expressions import _words  # noqa: F401 - its import fills WORDS
from bank.expressions._counts import Unworkable
from bank.expressions._emitter import WORDS, Amount, Emitter, Value, Verdict, Word, Wording, literal
from bank.expressions._syntax import (
    Calculation, Call, Comparison, ExpressionError, Literal, Logic, Name, Negative, Not, Part, Words, names, read,
    write,
)

__all__ = [
    "WORDS", "Amount", "Calculation", "Call", "Comparison", "Emitter", "ExpressionError", "Literal", "Logic", "Name",
    "Negative", "Not", "Part", "Unworkable", "Value", "Verdict", "Word", "Wording", "Words", "literal", "names", "read",
    "write",
]
