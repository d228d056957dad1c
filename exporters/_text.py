"""Text for XML: escaping, and the leaves of a line as words, figures and signs."""

from __future__ import annotations

import re
from collections.abc import Sequence
from functools import lru_cache

from bank.model import Expression, Leaf, Line, Locale
from bank.numerals import Numeral
from exporters._faults import ExportFault

_ILLEGAL = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
"""Characters that XML 1.0 cannot hold, not even escaped (its production 2, Char)."""
_NCNAME = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*\Z", re.ASCII)


@lru_cache(maxsize=8192)
def escape(text: str) -> str:
    """Return *text* as XML character data.

    Raises:
        ExportFault: it holds a character that no XML file can hold. Such text is refused, not mended: a
            character lost in silence could be a digit lost.
    """
    found = _ILLEGAL.search(text)
    if found:
        raise ExportFault("", "", f"the text {text!r} holds the character {found[0]!r}, which XML cannot hold")
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


@lru_cache(maxsize=8192)
def escape_attribute(text: str) -> str:
    """Return *text* as the value of an XML attribute between double quotes, blanks and breaks as single spaces.

    Raises:
        ExportFault: as `escape`.
    """
    return escape(" ".join(text.split())).replace('"', "&quot;")


def attribute_letters(text: str) -> str:
    """Return *text* as the value of an XML attribute between double quotes, every blank as it is.

    Raises:
        ExportFault: as `escape`, or it holds a tab or a break, which a reader of XML would turn into a blank.
    """
    if "\t" in text or "\n" in text or "\r" in text:
        raise ExportFault("", "", f"the text {text!r} holds a tab or a break, which an attribute cannot hold")
    return escape_new(text).replace('"', "&quot;")


def escape_new(text: str) -> str:
    """Return *text* as `escape` does, but for a text that will hardly come again and is not worth remembering."""
    if text.isprintable() and "&" not in text and "<" not in text and ">" not in text:
        return text
    return escape(text)


def is_ncname(text: str) -> bool:
    """Return whether *text* is an identifier that every version takes: an NCName in ASCII."""
    return _NCNAME.match(text) is not None


@lru_cache(maxsize=16384)
def _written(coefficient: int, places: int, mark: str, minus: str) -> str:
    return Numeral(coefficient, places).text(mark, minus)


def number(numeral: Numeral, locale: Locale) -> str:
    """Return how *numeral* is written, as the locale says; most numbers of a worked solution come again and again."""
    return _written(numeral.coefficient, numeral.places, locale.decimal_mark, locale.minus)


def expression_text(expression: Expression, locale: Locale) -> str:
    """Return *expression* as plain text, spaces round the signs, not escaped."""
    return " ".join([number(p, locale) if isinstance(p, Numeral) else locale.sign(p) for p in expression.parts])


def plain_text(line: Line, locale: Locale) -> str:
    """Return *line* as plain text, not escaped."""
    mark, minus = locale.decimal_mark, locale.minus
    return "".join([
        leaf if isinstance(leaf, str)
        else _written(leaf.coefficient, leaf.places, mark, minus) if isinstance(leaf, Numeral)
        else expression_text(leaf, locale)
        for leaf in line
    ])  # fmt: skip


def leaf_text(leaf: Leaf, locale: Locale) -> str:
    """Return *leaf* as plain text, escaped."""
    if isinstance(leaf, str):
        return escape(leaf)
    if isinstance(leaf, Numeral):
        return number(leaf, locale)
    return escape(expression_text(leaf, locale))


def line_text(line: Line, locale: Locale) -> str:
    """Return *line* as plain text, escaped."""
    return escape_new(plain_text(line, locale))


def lines_text(lines: Sequence[Line], locale: Locale) -> list[str]:
    """Return each of *lines* as plain text, escaped."""
    texts = [plain_text(line, locale) for line in lines]
    together = "|".join(texts)
    return texts if escape_new(together) == together else [escape(text) for text in texts]
