"""Words, sentences and figures of a text, and what is untidy in it: shared by the checks of texts."""

from __future__ import annotations

import unicodedata

UNFILLED = ("{", "}", "[[", "]]", "<<", ">>", "%s", "%d", "TODO", "TBD", "FIXME", "XXX", "lorem ipsum", "None", "___")
"""Marks of a frame that was not filled."""
BRACKETS = {")": "(", "]": "[", "}": "{", "\u201d": "\u201c", "\u00bb": "\u00ab"}
UNWANTED = frozenset(("Cc", "Cf", "Co", "Cs", "Cn", "Zl", "Zp"))
"""Categories of characters that print nothing or differ from machine to machine."""


def words_of(text: str) -> list[str]:
    """Return the words of *text* in small letters, without punctuation."""
    spaced = "".join(char if char.isalpha() or char in "'\u2019-" else " " for char in text)
    return [word.strip("-'\u2019").lower() for word in spaced.split() if word.strip("-'\u2019")]


def figures_of(text: str) -> list[str]:
    """Return the figures written in *text* itself: digits with a point or comma between digits."""
    found: list[str] = []
    current = ""
    for index, char in enumerate(text):
        following = text[index + 1: index + 2]
        if char.isdigit() or (char in ".," and following.isdigit()):
            current += char
        elif current:
            found.append(current)
            current = ""
    if current:
        found.append(current)
    return found


def sentences_of(line: str) -> list[str]:
    """Return the sentences of a line: they end with a full stop, question or exclamation mark before a space."""
    found, start = [], 0
    for index, char in enumerate(line):
        if char in ".?!" and line[index + 1: index + 2] in ("", " "):
            found.append(line[start: index + 1].strip())
            start = index + 1
    rest = line[start:].strip()
    return [one for one in (*found, rest) if one]


def untidy(lines: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    """Return complaints about spaces, empty lines and brackets in *lines*."""
    complaints = []
    for number, line in enumerate(lines, 1):
        if not line.strip():
            complaints.append((f"line {number} is empty", "delete it"))
            continue
        if line != line.strip():
            complaints.append((f"line {number} begins or ends with a space", "delete it"))
        if "  " in line:
            complaints.append((f"line {number} has two spaces together", "delete one"))
        if any(f" {mark}" in line for mark in ",.?!;"):
            complaints.append((f"line {number} has a space before a punctuation mark", "delete it"))
        if not _in_pairs(line):
            complaints.append((f"line {number} has a bracket or quotation mark without its partner", "pair it"))
    return tuple(complaints)


def _in_pairs(line: str) -> bool:
    opened: list[str] = []
    for char in line:
        if char in BRACKETS.values():
            opened.append(char)
        elif char in BRACKETS and (not opened or opened.pop() != BRACKETS[char]):
            return False
    return not opened and line.count('"') % 2 == 0


def unseen(text: str) -> tuple[tuple[str, str], ...]:
    """Return a complaint about the first character of *text* that nobody sees, line breaks apart."""
    found = [char for char in text if char != "\n" and unicodedata.category(char) in UNWANTED]
    return ((f"character U+{ord(found[0]):04X} cannot be seen", "delete it"),) if found else ()
