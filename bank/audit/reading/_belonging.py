"""Whether results belong to the bank that they are read with, and if not, to which.

An item's id is made of its content, so an id that the bank does not have is another question, whatever its quiz is
called. Results of which most items are not the bank's are refused as a whole: what is left would be answers to other
questions, or to hardly any. Where it is fewer, the answers to items that the bank has count, and this is said first.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterator
from pathlib import Path

from bank.errors import BadInput, Place, Problem
from bank.identity import ENDS, why_not_marked
from bank.store import Bank

_IDENTIFIER = re.compile(r"([A-Za-z][\w.-]*-v[0-9]{1,6})-[a-z0-9]{13}(?:-(?:%s))?" % ENDS)
"""An id of an item that a build made. Other names are a teacher's own questions: they do not count, and are listed."""
MOST_NEIGHBOURS = 100
"""Banks in folders near by that are looked into. Our own choice."""
_FINGERPRINT = re.compile(r"[a-z0-9]{4}(?:-[a-z0-9]{4}){3}")
"""A bank's fingerprint as results tell it; whatever else a cell holds is never repeated."""
_NAMED = 4


class Belonging:
    """Keeps which items results name, and which bank they say they are from."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._known: set[str] = set()
        self._foreign: Counter[str] = Counter()
        self._told: Counter[str] = Counter()

    def named(self, item: str, items: Collection[str]) -> None:
        """Note that an answer names *item*; *items* are those of the bank."""
        item = why_not_marked(item)[0]
        if item in items:
            self._known.add(item)
        elif _IDENTIFIER.fullmatch(item):
            self._foreign[item] += 1

    def told(self, fingerprint: str) -> None:
        """Note that results say they are from the bank with this *fingerprint*."""
        if fingerprint != self._bank.fingerprint and _FINGERPRINT.fullmatch(fingerprint):
            self._told[fingerprint] += 1

    def remark(self) -> str:
        """Return what is to be said first where some items are another bank's; empty where none is."""
        if not self._foreign:
            return ""
        answers, items = sum(self._foreign.values()), len(self._foreign)
        return (
            f"{answers} {'answer is' if answers == 1 else 'answers are'} to {items} {'item' if items == 1 else 'items'} that"
            f" this bank does not have ({self._families()}); left out, the others count"
        )

    def check(self, counted: Collection[str], place: str) -> None:
        """Return nothing where most items that the results name are the bank's; *counted* are those with answers.

        Raises:
            BadInput: more than half of them are not (``results-foreign``).
        """
        known = self._known.union(counted)
        foreign = len(self._foreign)
        if foreign <= len(known):
            return
        raise BadInput(Problem(
            "results-foreign", Place(place), "",
            f"{foreign} of the {foreign + len(known)} items in these results are not in this bank (fingerprint"
            f" {self._bank.fingerprint}); they are of {self._families()}{self._home()}",
            "name the bank from which the quiz was exported",
        ))

    def _families(self) -> str:
        found: Counter[str] = Counter()
        for item in self._foreign:
            match = _IDENTIFIER.fullmatch(item)
            found[match[1] if match else item] += 1
        parts = [f"{name} ({count})" for name, count in found.most_common(_NAMED)]
        more = len(found) - _NAMED
        return ", ".join(parts) + (f" and {more} more templates" if more > 0 else "")

    def _home(self) -> str:
        """Return in words to which bank the items belong, as far as that can be told."""
        told = self._told.most_common(1)[0][0] if self._told else ""
        said = f"; the results say that they are from the bank {told}" if told else ""
        best: tuple[int, str, Path] | None = None
        for path in _neighbours(self._bank.path):
            try:
                with Bank.open(path) as other:
                    if other.fingerprint == self._bank.fingerprint:
                        continue
                    shared = len(self._foreign.keys() & set(other.identifiers()))
                    found = shared + (len(self._foreign) + 1) * (other.fingerprint == told), other.fingerprint, path
            except BadInput:
                continue
            if found[0] and (best is None or found[0] > best[0]):
                best = found
        if best is None:
            return said
        return f"{said}; {best[2]} (fingerprint {best[1]}) has them" if best[1] != told else f"{said}, which is {best[2]}"


def _neighbours(path: Path) -> Iterator[Path]:
    """Yield other bank files in the folder of *path* and in the folders beside it."""
    here = path.resolve()
    seen = {here}
    for pattern in ("*.sqlite", "../*/*.sqlite", "../*.sqlite"):
        try:
            found = sorted(here.parent.glob(pattern))
        except OSError:
            continue
        for one in found:
            one = one.resolve()
            if one not in seen and one.is_file():
                seen.add(one)
                if len(seen) > MOST_NEIGHBOURS:
                    return
                yield one
