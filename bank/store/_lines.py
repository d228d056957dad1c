"""Lines of leaves with their numbers taken out, and put in again; JSON as short as it can be."""

from __future__ import annotations

import json
from typing import Any

from bank.model import Expression, Leaf, Line
from bank.numerals import Numeral

REMEMBERED = 4096
"""Shared lines of one kind that are held in memory; what is rarer is made or read again."""
SILENT = ("silent",)
"""Stands at the end of the manner of response of an item that shows no feedback."""
Slot = int | str | tuple[int | str, ...]
"""A leaf of a line: words, an expression, or where its number stands among the numbers."""

dumps = json.JSONEncoder(separators=(",", ":"), ensure_ascii=False).encode
_decode = json.JSONDecoder().raw_decode


def loads(line: str) -> Any:
    """Return what one line of JSON says; without looking for blanks, of which none are written.

    Raises:
        ValueError: it is no JSON.
    """
    value, end = _decode(line)
    if end != len(line):
        raise ValueError(f"something stands behind the JSON, at character {end + 1}")
    return value


def slot(leaf: Leaf, numbers: list[Numeral]) -> Slot:
    """Return *leaf* with each number replaced by its place in *numbers*, to which it is added where it is missing."""
    if isinstance(leaf, str):
        return leaf
    if isinstance(leaf, Numeral):
        return place(leaf, numbers)
    return tuple([part if isinstance(part, str) else place(part, numbers) for part in leaf.parts])


def place(numeral: Numeral, numbers: list[Numeral]) -> int:
    """Return where *numeral*, written so, stands in *numbers*, to which it is added where it is missing."""
    for at, one in enumerate(numbers):
        if one is numeral or one.same_writing(numeral):
            return at
    numbers.append(numeral)
    return len(numbers) - 1


def line_in(line: tuple[Any, ...], numbers: tuple[Numeral, ...]) -> Line:
    """Return the line whose leaves `slot` took apart."""
    return tuple([
        part if part.__class__ is str else numbers[part] if part.__class__ is int
        else Expression(tuple([inner if inner.__class__ is str else numbers[inner] for inner in part]))
        for part in line
    ])
