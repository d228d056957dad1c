"""Say which of your own codes a digest in a report belongs to; needs your list of codes and the salt, keeps nothing."""

from __future__ import annotations

import argparse
import re
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright whose``."""
    parser.add_argument(
        "digests", nargs="*", metavar="DIGEST", help="digests as pupils.csv has them; without any, all codes are listed",
    )
    parser.add_argument(
        "--codes", type=Path, required=True, metavar="FILE",
        help="your list of codes: a code a line, or a table with a column headed code",
    )
    parser.add_argument(
        "--salt", type=Path, metavar="FILE", help="the salt file (default: the one in your settings folder)",
    )


def run(arguments: argparse.Namespace) -> int:
    """Print digests with their codes and return the exit status."""
    from bank.audit.codes import codes_by_digest, read_codes
    from bank.audit.pseudonyms import DIGEST_BYTES, load_salt
    from bank.errors import BadInput, Place, Problem

    wanted = [text.strip().lower() for text in arguments.digests]
    wrong = [text for text in wanted if not re.fullmatch(f"[0-9a-f]{{{2 * DIGEST_BYTES}}}", text)]
    if wrong:
        raise BadInput(Problem(
            "digest-form", Place("stemwright whose"), "", f"{len(wrong)} of the words given are not digests",
            f"copy the {2 * DIGEST_BYTES} digits and letters from the column pupil of pupils.csv",
        ))
    known = codes_by_digest(read_codes(arguments.codes), load_salt(arguments.salt, create=False))
    for digest in wanted or known:
        print(f"{digest}  {known.get(digest, '(none of these codes, with this salt)')}")
    return 0 if all(digest in known for digest in wanted) else 2
