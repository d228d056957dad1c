"""What may be quoted of a table of results: nothing that could be a name, an address or another fact about a pupil.

A message says where a cell is and what kind of thing is in it; whoever has the file can look. Only short numbers, single
letters and ids of items can name nobody.
"""

from __future__ import annotations

import re

_SAFE = re.compile(r"[-+\u2212]?[0-9]{0,4}[.,]?[0-9]{1,4}%?|[A-Za-z][0-9]?|[A-Za-z][\w.-]*-v[0-9]{1,6}-[a-z0-9]{13}")
"""Short numbers (no dates of birth, no numbers of telephones), letters of options, ids of items."""
_MOST_DIGITS = 6
_NUMBER = re.compile(r"[-+\u2212]?[0-9]*[.,]?[0-9]+%?")
_MONTH = r"(?:jan|feb|m[a\u00e4]r|apr|ma[yi]|jun|jul|aug|sep|oct|okt|nov|de[cz])[a-z]{0,7}"
_DAY, _YEAR = r"[0-9]{1,2}", r"[0-9]{4}"
_DATE = re.compile("(?i)(?:" + "|".join((
    rf"{_DAY}([-./]){_DAY}\1{_YEAR}(?:[T ][0-9:.]*)?", rf"{_DAY}([./]){_DAY}\2[0-9]{{2}}",
    rf"{_YEAR}-[0-9]{{2}}-[0-9]{{2}}(?:[T ][0-9:.]*)?", rf"{_DAY}[-./ ]+{_MONTH}(?:[-. /]+[0-9]{{2,4}})?",
    rf"{_MONTH}[-./ ]+[0-9]{{1,4}}",
)) + ")")
"""A day and a month, or three parts of which one is a year: 10-2-3 may be a sum."""
_FILE_WORDS = re.compile(
    r"(?i)(assessment|answers?|class|csv|export|file|items?|page|part|qti|quiz|report|responses?|results?|table|test|tsv|"
    r"txt|week|xml|zip|[\W_\d])*"
)


def told(text: str) -> str:
    """Return *text* in quotes where it can name nobody, else in brackets what kind of text it is."""
    plain = text.strip()
    if not plain:
        return "(nothing)"
    if _SAFE.fullmatch(plain) and (sum(map(str.isdigit, plain)) <= _MOST_DIGITS or "-v" in plain):
        return repr(plain)
    if _NUMBER.fullmatch(plain):
        return f"(a number of {sum(map(str.isdigit, plain))} digits)"
    if looks_like_date(plain):
        return "(a date)"
    return f"(a text of {len(plain)} {'character' if len(plain) == 1 else 'characters'})"


def looks_like_date(text: str) -> bool:
    """Whether *text* is a date as a spreadsheet writes one, such as 03.Apr, Apr-03, 3/4/2027 or 2027-04-03."""
    return _DATE.fullmatch(text.strip()) is not None


def is_plain_file_name(name: str) -> bool:
    """Whether the *name* of a file is made of figures and of words for results only, so that it names no pupil."""
    return _FILE_WORDS.fullmatch(name) is not None
