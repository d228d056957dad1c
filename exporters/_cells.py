"""Texts made safe for the cells of a spreadsheet: what `bank.cells` offers, under the name that tables know."""

from __future__ import annotations

from bank.cells import cell, guarded, is_risky, unguarded

__all__ = ["cell", "guarded", "is_risky", "unguarded"]
