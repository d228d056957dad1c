"""Tables of the audit as comma-separated values: RFC 4180, UTF-8, texts guarded, numbers plain, never a NaN."""

from __future__ import annotations

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path

from bank.cells import cell
from bank.files import replacing
from bank.private import make_private

Value = str | int | float | bool | None
"""What may stand in a table; None is an empty cell: unknown, or withheld for the reason in the column beside it."""


def written(value: Value) -> str:
    """Return *value* as it stands in a cell: floats with up to six significant digits, booleans as yes and no.

    Raises:
        ValueError: it is not a number that can be told (NaN or infinite); whoever made it must withhold it.
    """
    if value is None:
        return ""
    if isinstance(value, str):
        return cell(value)
    if isinstance(value, bool):
        return "yes" if value else "no"
    if not math.isfinite(value):
        raise ValueError(f"{value} is no figure for a report")
    return str(value) if isinstance(value, int) else f"{float(value):.6g}"


OF_BANK = "bank_fingerprint"
"""Heading of the last column of a table that was made from one bank: the bank's fingerprint."""


def write_table(
    path: Path, header: Sequence[str], rows: Iterable[Sequence[Value]], of_bank: str = "", *, private: bool = False
) -> None:
    """Write a table in one step, for its owner only if it is *private*; an older file stays as it was where that fails.

    *of_bank* is the fingerprint of the bank that the table is made from; it stands in a column `OF_BANK` of its own.

    Raises:
        BadInput: the file cannot be written (``cannot-write``).
    """
    end = f",{cell(of_bank)}\r\n" if of_bank else "\r\n"
    with replacing(path) as part:
        if private:
            make_private(part)
        with part.open("w", encoding="utf-8", newline="") as file:
            file.write(",".join(map(cell, (*header, OF_BANK) if of_bank else header)) + "\r\n")
            for row in rows:
                if len(row) != len(header):
                    raise ValueError(f"{len(row)} cells under {len(header)} headings in {path.name}")
                file.write(",".join(map(written, row)) + end)


def rows_of(path: Path, header: Sequence[str]) -> list[list[str]]:
    """Return the rows, but for empty ones, of the table at *path* that `write_table` wrote with *header*.

    Raises:
        ValueError: its first line is another one, or it is not UTF-8.
        csv.Error: it is no table.
        OSError: it cannot be read.
    """
    with path.open(encoding="utf-8-sig", newline="") as file:
        first, *rows = list(csv.reader(file, strict=True)) or [[]]
    if first != list(header):
        raise ValueError(f"its first line is not {','.join(header)}")
    return [row for row in rows if row]
