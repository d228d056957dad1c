"""Text for XML: escaping, and the leaves of a line as words, figures and signs."""

from __future__ import annotations

import re
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


def is_ncname(text: str) -> bool:
    """Return whether *text* is an identifier that every version takes: an NCName in ASCII."""
    return _NCNAME.match(text) is not None


def expression_text(expression: Expression, locale: Locale) -> str:
    """Return *expression* as plain text, spaces round the signs, not escaped."""
    return " ".join([locale.number(p) if isinstance(p, Numeral) else locale.sign(p) for p in expression.parts])


def leaf_text(leaf: Leaf, locale: Locale) -> str:
    """Return *leaf* as plain text, escaped."""
    if isinstance(leaf, str):
        return escape(leaf)
    if isinstance(leaf, Numeral):
        return locale.number(leaf)
    return escape(expression_text(leaf, locale))


def line_text(line: Line, locale: Locale) -> str:
    """Return *line* as plain text, escaped."""
    if len(line) == 1:
        return leaf_text(line[0], locale)
    return "".join([leaf_text(leaf, locale) for leaf in line])
