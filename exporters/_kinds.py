"""Which module writes and reads which kind of response, beyond choice and typed number."""

from __future__ import annotations

from types import ModuleType
from typing import Any

from bank.model import (
    BankInfo, ChooseInLine, ChooseSeveral, FindMistake, Item, MatchPairs, PutInOrder, Response,
)
from exporters import _kind_find, _kind_inline, _kind_order, _kind_pairs, _kind_several
from exporters._frame import Frame
from exporters._qti import Version

MODULES: dict[type, ModuleType] = {
    ChooseSeveral: _kind_several, PutInOrder: _kind_order, MatchPairs: _kind_pairs, ChooseInLine: _kind_inline,
    FindMistake: _kind_find,
}
"""By type of response: a module with ``Writer`` (made of a `Frame`, its ``parts`` writes an item), and what a file
read back must show: ``interactions`` (2.x names), what is ``offered``, what is ``right``, the ``answer`` as the bank
takes it, what is ``said`` to one, ``foreseen_answers`` that are tried besides, and the ``shape`` and what is ``named``
besides it, from which all these follow."""


def interactions(response: Response) -> tuple[str, ...]:
    """Return the 2.x names of the interactions that *response*, of one of `MODULES`, becomes."""
    found: tuple[str, ...] = MODULES[type(response)].interactions(response)
    return found


class Kinds:
    """Writes items of all those kinds for one bank and version; what a kind needs is made when its first item comes."""

    def __init__(self, version: Version, info: BankInfo) -> None:
        self._frame = Frame(version, info)
        self._writers: dict[type, Any] = {}

    def item(self, item: Item, feedback: bool) -> bytes:
        """Return *item* as an XML file.

        Raises:
            ExportFault: the item contradicts itself in what no schema checks.
        """
        kind = type(item.response)
        writer = self._writers.get(kind)
        if writer is None:
            writer = self._writers[kind] = MODULES[kind].Writer(self._frame)
        cards: list[str] = []
        parts = writer.parts(item, item.response, feedback, cards)
        return self._frame.item(item, feedback, parts, cards)
