"""Kinds of arguments that several commands take."""

from __future__ import annotations

import argparse
import os
from pathlib import Path


def folder(text: str) -> Path:
    """Return the folder that *text* names.

    Raises:
        ArgumentTypeError: it names nothing.
    """
    if not text.strip():
        raise argparse.ArgumentTypeError("nothing is named; write a folder, . for this one")
    return Path(text)


def jobs(text: str) -> int:
    """Return the number of processes that *text* asks for; 0 means one a core.

    Raises:
        ArgumentTypeError: it is no whole number from 0.
    """
    if not text.isascii() or not text.isdigit() or len(text) > 4:
        raise argparse.ArgumentTypeError(f"{text!r} is no number of processes; write a whole number from 1")
    return int(text) or os.cpu_count() or 1


def add_output_and_jobs(parser: argparse.ArgumentParser) -> None:
    """Declare ``-o DIR`` and ``--jobs N``."""
    parser.add_argument("-o", dest="folder", type=folder, required=True, metavar="DIR", help="the folder to write into")
    parser.add_argument("--jobs", type=jobs, default="0", metavar="N", help="processes (default: one a core)")
