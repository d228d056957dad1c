"""Record a decision about items: keep, revise, suspend or retire, by whom and why."""

from __future__ import annotations

import argparse
from pathlib import Path


def add_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the arguments of ``stemwright decide``."""
    parser.add_argument("bank", type=Path, metavar="BANK", help="the bank.sqlite that a build wrote")
    parser.add_argument("items", nargs="+", metavar="ITEM", help="ids of the items decided about")
    ways = parser.add_mutually_exclusive_group(required=True)
    for name, help_text in (
        ("keep", "use on as it is"), ("revise", "write a new version"), ("suspend", "do not use until looked at"),
        ("retire", "do not use again"),
    ):
        ways.add_argument(f"--{name}", dest="decision", action="store_const", const=name, help=help_text)
    parser.add_argument("--by", required=True, metavar="WHO", help="who decides")
    parser.add_argument("--why", required=True, metavar="REASON", help="why")


def run(arguments: argparse.Namespace) -> int:
    """Record and return the exit status."""
    from datetime import UTC, datetime

    from bank.audit.decisions import Decision, add_decisions, file_beside
    from bank.errors import BadInput, Place, Problem, did_you_mean
    from bank.store import Bank

    wanted = list(dict.fromkeys(arguments.items))
    with Bank.open(arguments.bank) as bank:
        known = set(bank.identifiers())
        missing = [item for item in wanted if item not in known]
        if missing:
            raise BadInput([
                Problem("item-unknown", Place("ITEM"), "", f"the bank has no item {item!r}", did_you_mean(item, known))
                for item in missing
            ])
        versions = {found.identifier: found.family.version for found in bank.answers(wanted)}
    now = f"{datetime.now(UTC):%Y-%m-%dT%H:%MZ}"
    path = file_beside(arguments.bank)
    add_decisions(path, [
        Decision(now, arguments.by, item, versions[item], arguments.decision, arguments.why) for item in wanted
    ])
    print(f"{arguments.decision}: {', '.join(wanted)}\nRecorded in {path}")
    return 0
