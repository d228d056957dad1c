"""What an item asks, as a digest: two items that share it are the same question in other numbers' order or options.

The digest knows the words of the stem and the numbers, not the options, the feedback, the locale or the template.
"""

from __future__ import annotations

from collections.abc import Sequence
from hashlib import blake2b

from bank.model import Expression, Family, Item, Line, Quiz
from bank.numerals import Numeral

_LETTERS = str.maketrans("0123456789", "ghijklmnop")
"""Digests are written in letters only: a spreadsheet takes figures for numbers and rounds them."""
_FIGURES = str.maketrans("ghijklmnop", "0123456789")


def question(stem: Sequence[Line], operands: Sequence[Numeral], operation: str) -> bytes:
    """Return a digest that two items share when they ask the same."""
    words = "\x1e".join(["".join(
        [leaf if leaf.__class__ is str else "#" if leaf.__class__ is Numeral else _signs(leaf) for leaf in line]
    ) for line in stem])
    numbers = [operand.normal().text() for operand in operands]
    if operation in ("add", "multiply", "compare"):
        numbers.sort()
    return blake2b("\x1f".join([words, *numbers]).encode(), digest_size=8).digest()


def calculation(family: Family, operands: Sequence[Numeral]) -> bytes:
    """Return a digest that two items share when they ask the same calculation, in whatever words."""
    numbers = [operand.normal().text() for operand in operands]
    if family.operation in ("add", "multiply", "compare"):
        numbers.sort()
    parts = [family.operation, family.layout, str(family.rounding), *numbers]
    return blake2b("\x1f".join(parts).encode(), digest_size=8).digest()


def _signs(expression: Expression) -> str:
    """Return *expression* with a mark for each number."""
    return "".join([part if part.__class__ is str else "#" for part in expression.parts])


def question_of(item: Item) -> str:
    """Return the digest of what *item* asks in letters, as the trail of decisions keeps it."""
    return in_letters(question(item.stem, item.operands, item.family.operation))


def in_letters(digest: bytes) -> str:
    """Return *digest* in lower case letters."""
    return digest.hex().translate(_LETTERS)


def content_of(quiz: Quiz) -> str:
    """Return a digest in letters of the items that *quiz* holds, in their order and sections."""
    parts = ["\x1f".join(section.items) for section in quiz.sections]
    return in_letters(blake2b("\x1e".join(parts).encode(), digest_size=8).digest())


def of_letters(text: str) -> bytes:
    """Return the digest that `in_letters` wrote; what it did not write gives one that no question has."""
    try:
        return bytes.fromhex(text.translate(_FIGURES))
    except ValueError:
        return b""
