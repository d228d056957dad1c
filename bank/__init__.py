"""Stemwright: item banks for written decimal arithmetic, with exact keys and named mistakes."""

__version__ = "0.1.0"
