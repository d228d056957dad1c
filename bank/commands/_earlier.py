"""Comparing a report with earlier ones of the same bank, and remembering it beside the bank."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from bank.audit.earlier_reports import Shown, file_beside, read_reports, remember_reports, warnings
from bank.errors import BadInput


def compared(
    bank: Path, made: Sequence[Shown], least: int, simulated: bool
) -> tuple[list[str], Callable[[], list[str]]]:
    """Return warnings of what *made* and earlier reports give away, and what remembers *made*, once it is written.

    That gives lines that say why it could not be remembered. Nobody is behind *simulated* answers.

    Raises:
        BadInput: what is remembered cannot be read (``reports-damaged``).
    """
    if simulated:
        return [], list
    path = file_beside(bank)
    known = read_reports(path)
    shown = [one for one in made if one.pupils >= least]

    def remember() -> list[str]:
        try:
            remember_reports(path, known, shown)
        except BadInput as error:
            return [f"This report is not compared with later ones: {one.place} {one.wrong}" for one in error.problems]
        return []

    return warnings(known, shown, least), remember
