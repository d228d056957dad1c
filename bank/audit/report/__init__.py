"""The audit's page, tables and lines for the terminal."""

from __future__ import annotations
