"""Expressions as MathML, with a text form beside it."""

from __future__ import annotations

from bank.model import Expression, Locale
from bank.numerals import Numeral
from exporters import _spoken
from exporters._qti import MATHML
from exporters._text import escape, number


def math(expression: Expression, locale: Locale, own: str = "") -> str:
    """Return *expression* as MathML with a text form: in words, or with signs where *own* says another language.

    The blanks between the parts mean nothing to who draws MathML; who does not, shows the parts as text, and needs them.
    """
    marks, said = [], []
    for part in expression.parts:
        if isinstance(part, Numeral):
            written = number(part, locale)
            marks.append(f"<mn>{written}</mn>")
            said.append(written)
        else:
            sign = escape(locale.sign(part))
            marks.append(f"<mi>{sign}</mi>" if part == "?" else f"<mo>{sign}</mo>")
            said.append(sign if own else _spoken.SIGNS[part])
    return f'<math xmlns="{MATHML}" alttext="{" ".join(said)}"><mrow>{" ".join(marks)}</mrow></math>'
