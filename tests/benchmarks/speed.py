"""How the tool compares with the straight-line floor, in one interleaved run; prints ratios, asserts nothing.

    python tests/benchmarks/speed.py [--items 20000] [--rounds 3] [--long 100000] [--mix line | term | even]

The tool's time is `stemwright build` (store, item checks, choice against guessing, review page) plus
`stemwright export --as qti30` (validation, read-back) of the same number of items from the demo templates, on all
cores; QTI 2.1 instead of 3.0, and the tables (`--as csv`), are timed beside it. Three plans: one line that asks for
so many items and nothing else (``line``: choice and typed numbers, from all templates alike); templates as often as in
the demo term (``term``, one item in fourteen of the further kinds); all templates alike (``even``, one in four). The
floor (`floor.py`) is one process, writes items of the same content, and a CSV on the way; shorter floors
(`floor_short.py`) stand beside it. Peak memory is that of the largest single process.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Mapping
from operator import truediv
from pathlib import Path

import bank
from bank.store import Bank
from bank.templates import built_in, load_template

HERE = Path(__file__).parent
PLAN = "plan: speed\ntitle: Speed\nseed: 7\nlocale: en-point\ninvented: true\npool:\n"
ROOM = 2
"""A template with fewer admissible draws than this many times its share gives as many fewer, or where all give the
same is left out."""
RUN = [sys.executable, "-m", "bank.cli"]
ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
"""Modules are compiled once, as an installation leaves them, and not at every start."""
MIXES = ("line", "term", "even")
TARGETS = ("qti30", "qti21", "csv")
TERM = Path(bank.__file__).parent / "content" / "plans" / "demo-term.yaml"


def plan(folder: Path, items: int, mix: str = "even") -> Path:
    """Return a plan in *folder* that draws *items* items from the demo templates, as *mix* says."""
    path = folder / f"speed-{mix}-{items}.yaml"
    if mix == "line":
        path.write_text(f"{PLAN}  - {{items: {items}}}\n", encoding="utf-8")
        return path
    room = {
        template.identifier: template.survey.admissible // ROOM
        for template in map(load_template, built_in()) if template.draws is None
    }
    if mix == "even":
        weights = {name: 1 for name, most in room.items() if most * len(room) >= items}
    else:
        subprocess.run(
            [*RUN, "build", str(TERM), "-o", str(folder / "term")], capture_output=True, check=True, env=ENVIRONMENT
        )
        with Bank.open(folder / "term" / "bank.sqlite") as built:
            weights = Counter(item.family.template for item in built.items() if item.family.template in room)
    shares = shared_out(items, weights, room)
    lines = [f"  - {{items: {share}, template: {name}}}\n" for name, share in sorted(shares.items())]
    path.write_text(PLAN + "".join(lines), encoding="utf-8")
    return path


def shared_out(items: int, weights: Mapping[str, int], room: Mapping[str, int]) -> dict[str, int]:
    """Share *items* out by *weights*, no more than its *room* to any; what is left over goes to the roomiest."""
    total = sum(weights.values())
    shares = {name: min(items * weight // total, room[name]) for name, weight in weights.items()}
    for name in sorted(shares, key=lambda one: -room[one]):
        shares[name] += 1 if sum(shares.values()) < items else 0
    most = max(shares, key=lambda one: room[one])
    shares[most] += items - sum(shares.values())
    return {name: share for name, share in shares.items() if share}


def timed(command: list[str]) -> tuple[float, int]:
    """Return the seconds that *command* takes, and the peak memory of any of its processes in KiB."""
    code = (
        "import resource, subprocess, sys\n"
        "status = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
        "sys.exit(status)"
    )
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-c", code, *command], capture_output=True, text=True, check=False, env=ENVIRONMENT
    )
    if done.returncode:
        raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr}")
    return time.perf_counter() - begun, int(done.stdout)


def built(path: Path, folder: Path) -> list[str]:
    """Return the command that builds the plan at *path* into *folder*."""
    return [*RUN, "build", str(path), "-o", str(folder)]


def exported(folder: Path, target: str) -> list[str]:
    """Return the command that exports the bank in *folder* to *target*."""
    return [*RUN, "export", str(folder / "bank.sqlite"), "--as", target, "-o", str(folder)]


def floor(program: str, items: int, folder: Path) -> list[str]:
    """Return the command that runs the floor called *program*, its options behind it."""
    name, *options = program.split()
    return [sys.executable, str(HERE / name), str(items), str(folder), *options]


def starts() -> None:
    """Print what starting costs, in CPU time of a bare Python."""
    template = str(next(iter(built_in())))
    cases = {
        "bare python": [sys.executable, "-c", "pass"],
        "--help": [*RUN, "--help"],
        "check of one template": [*RUN, "check", template],
    }
    found: dict[str, float] = {}
    for _ in range(7):
        for name, command in cases.items():
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, capture_output=True, check=True, env=ENVIRONMENT)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            found[name] = min(spent, found.get(name, spent))
    for name, spent in found.items():
        print(f"{name:24} {spent * 1000:7.1f} ms CPU, {spent / found['bare python']:5.1f} times bare Python")


FLOORS = {"floor": "floor.py", "short floor": "floor_short.py", "bare floor": "floor_short.py --bare"}


def main() -> None:
    """Run the benchmark and print its ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--long", type=int, default=0, help="items of a further run for memory and growth")
    parser.add_argument("--mix", choices=MIXES, help="one mix only")
    options = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, {options.items} items, {options.rounds} rounds")
    mixes = (options.mix,) if options.mix else MIXES
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        starts()
        plans = {mix: plan(folder, options.items, mix) for mix in mixes}
        steps = [f"{step} ({mix})" for mix in mixes for step in ("build", *TARGETS)]
        runs: dict[str, list[float]] = {name: [] for name in (*FLOORS, *steps)}
        peaks = dict.fromkeys(mixes, 0)
        for turn in range(options.rounds):
            for one, program in FLOORS.items():
                runs[one].append(timed(floor(program, options.items, folder / "floor"))[0])
            for mix, path in plans.items():
                commands = {"build": built(path, folder / mix)}
                commands |= {target: exported(folder / mix, target) for target in TARGETS}
                for step, command in commands.items():
                    seconds, used = timed(command)
                    runs[f"{step} ({mix})"].append(seconds)
                    peaks[mix] = max(peaks[mix], used)
            print(f"round {turn + 1}: " + ", ".join(f"{one} {found[-1]:.2f} s" for one, found in runs.items()))
        for mix in mixes:
            both = {
                target: list(map(sum, zip(runs[f"build ({mix})"], runs[f"{target} ({mix})"], strict=True)))
                for target in ("qti30", "qti21")
            }
            for target, seconds in both.items():
                print(f"{mix}, build and {target}: {statistics.median(seconds):.2f} s, " + ", ".join(
                    f"{statistics.median(map(truediv, seconds, runs[one])):.2f} times the {one}" for one in FLOORS
                ))
            print(f"{mix}: peak memory of a process {peaks[mix] / 1024:.0f} MiB")
            if options.long:
                long = folder / "long"
                parts = [timed(built(plan(folder, options.long, mix), long)), timed(exported(long, "qti30"))]
                spent, peak = sum(part[0] for part in parts), max(part[1] for part in parts)
                print(f"{mix}, {options.long} items: {spent:.1f} s, {spent / statistics.median(both['qti30']):.2f} times"
                      f" {options.items} items; peak memory of a process {peak / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
