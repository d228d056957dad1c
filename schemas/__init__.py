"""JSON Schemas of what people write, and XSD profiles of what the exporters write."""

from __future__ import annotations

from pathlib import Path


def path(name: str) -> Path:
    """Return the path of the schema file *name* beside this module."""
    return Path(__file__).parent / name
