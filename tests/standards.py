"""Where the official schemas and the evidence files lie, for the tests that need them."""

from __future__ import annotations

import os
from pathlib import Path

_BESIDE = Path(__file__).resolve().parents[2] / "shared"


def folder() -> Path | None:
    """Return the folder of the official schemas, or None where this machine has none."""
    found = Path(os.environ.get("STEMWRIGHT_STANDARDS", _BESIDE / "standards"))
    return found if (found / "catalog.json").is_file() else None


def evidence() -> Path | None:
    """Return the folder of the evidence files, or None where this machine has none."""
    found = Path(os.environ.get("STEMWRIGHT_EVIDENCE", _BESIDE / "evidence"))
    return found if (found / "mistakes.yaml").is_file() else None
