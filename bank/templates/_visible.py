"""What a pupil could notice of a template itself, as a digest: to tell an edit that matters from one that does not."""

from __future__ import annotations

from hashlib import blake2b
from typing import Any

from bank import expressions
from bank.digests import letters
from bank.expressions import Part

_UNSEEN = ("at",)
"""Fields of a template's parts that say where they stand in its file."""


def visible(*parts: Any) -> str:
    """Return a digest of *parts*: texts, numbers, expressions, and tuples of them, named or not."""
    return letters(blake2b(repr(_plain(parts)).encode(), digest_size=16).digest(), 13)


def _plain(part: Any) -> Any:
    """Return *part* as lists and texts, so that only what it says counts, not how its records are called."""
    if isinstance(part, Part):
        return expressions.write(part)
    if not isinstance(part, tuple):
        return part
    names = getattr(part, "_fields", None)
    if names is None:
        return [_plain(one) for one in part]
    return {name: _plain(one) for name, one in zip(names, part) if name not in _UNSEEN and one not in (None, (), "")}
