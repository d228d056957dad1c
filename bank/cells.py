"""Texts made safe for the cells of a spreadsheet, and back.

A spreadsheet takes some texts for formulas and runs them. So a cell gets an apostrophe in front where, behind any
blanks, quotes, apostrophes and unprintable characters, it begins with ``=``, ``+``, ``-`` or ``@``, in ordinary or
full-width form or as a minus sign, or where a tab or line break stands among those first characters. `guarded` does
it, `unguarded` undoes it exactly, `cell` also quotes as RFC 4180 wants it. Plain numbers of zero and more begin with
a digit and so stay numbers; negative ones, which only a few mistakes give, become text.
"""

from __future__ import annotations

_SIGNS = frozenset("=+-@\uff1d\uff0b\uff0d\uff20\u2212\ufe63\ufe62\ufe66\ufe6b")
_BREAKS = frozenset("\t\r\n\v\f\u0085\u2028\u2029")
_GUARD = "'"
_HARMLESS = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")
"""Characters that `is_risky` stops at; most texts begin with one."""
_SKIPPED = frozenset("'\"`\u2018\u2019\u201c\u201d\uff07\uff02")


def is_risky(text: str) -> bool:
    """Return whether a spreadsheet might take *text* for a formula or split it; see the rule above."""
    for character in text:
        if character in _SIGNS or character in _BREAKS:
            return True
        if character not in _SKIPPED and character.isprintable() and character != " ":
            return False
    return False


def guarded(text: str) -> str:
    """Return *text* as it may stand in a cell: with an apostrophe in front where `is_risky`."""
    return _GUARD + text if is_risky(text) else text


def unguarded(cell: str) -> str:
    """Return the text that `guarded` was given."""
    return cell[1:] if cell[:1] == _GUARD and is_risky(cell[1:]) else cell


def cell(text: str) -> str:
    """Return *text* as it stands in a file: guarded, and between quotes where a comma, quote or line break needs it."""
    if text[:1] not in _HARMLESS and is_risky(text):
        text = _GUARD + text
    if "," in text or '"' in text or "\n" in text or "\r" in text:
        return '"' + text.replace('"', '""') + '"'
    return text
