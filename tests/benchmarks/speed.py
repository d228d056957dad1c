"""How the tool compares with the straight-line floor, in one interleaved run; prints ratios, asserts nothing.

    python tests/benchmarks/speed.py [--items 20000] [--rounds 3] [--long 100000]

The tool's time is `stemwright build` (store, item checks, choice against guessing, review page) plus
`stemwright export --as qti30` (validation, read-back) of the same number of items from the demo templates, on all
cores; the tables (`--as csv`) are timed beside it. The floor (floor.py) is one process and writes a CSV on the
way. Peak memory is that of the largest single process.
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
from pathlib import Path

from bank.templates import built_in, load_template

HERE = Path(__file__).parent
PLAN = "plan: speed\ntitle: Speed\nseed: 7\nlocale: en-point\ninvented: true\npool:\n"
ROOM = 2
"""Templates with fewer admissible draws than this many times their share are left out."""


def plan(folder: Path, items: int) -> Path:
    """Return a plan in *folder* that draws *items* items evenly from all demo templates with room for them."""
    templates = [template for template in map(load_template, built_in()) if template.draws is None]
    roomy = [t.identifier for t in templates if t.survey.admissible * len(templates) >= ROOM * items]
    share, rest = divmod(items, len(roomy))
    lines = [f"  - {{items: {share + (turn < rest)}, template: {name}}}\n" for turn, name in enumerate(roomy)]
    path = folder / f"speed-{items}.yaml"
    path.write_text(PLAN + "".join(lines), encoding="utf-8")
    return path


def timed(commands: list[list[str]]) -> tuple[float, int]:
    """Return the seconds that *commands* take one after the other, and the peak memory of any process in KiB."""
    code = (
        "import resource, subprocess, sys\n"
        "status = subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL).returncode\n"
        "print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)\n"
        "sys.exit(status)"
    )
    begun = time.perf_counter()
    peak = 0
    for command in commands:
        done = subprocess.run([sys.executable, "-c", code, *command], capture_output=True, text=True, check=False)
        if done.returncode:
            raise SystemExit(f"{' '.join(command)} failed:\n{done.stderr}")
        peak = max(peak, int(done.stdout))
    return time.perf_counter() - begun, peak


def tool(path: Path, folder: Path) -> list[list[str]]:
    """Return the commands that build and export the plan at *path*."""
    run = [sys.executable, "-m", "bank.cli"]
    return [
        [*run, "build", str(path), "-o", str(folder)],
        [*run, "export", str(folder / "bank.sqlite"), "--as", "qti30", "-o", str(folder)],
    ]


def tables(folder: Path) -> list[list[str]]:
    """Return the command that exports the tables of the bank in *folder*."""
    bank = str(folder / "bank.sqlite")
    return [[sys.executable, "-m", "bank.cli", "export", bank, "--as", "csv", "-o", str(folder)]]


def floor(items: int, folder: Path, *options: str) -> list[list[str]]:
    """Return the command that runs the floor."""
    return [[sys.executable, str(HERE / "floor.py"), str(items), str(folder), *options]]


def starts(folder: Path) -> None:
    """Print what starting costs, in CPU time of a bare Python."""
    template = str(next(iter(built_in())))
    cases = {
        "bare python": [sys.executable, "-c", "pass"],
        "--help": [sys.executable, "-m", "bank.cli", "--help"],
        "check of one template": [sys.executable, "-m", "bank.cli", "check", template],
    }
    found: dict[str, float] = {}
    for _ in range(7):
        for name, command in cases.items():
            before = resource.getrusage(resource.RUSAGE_CHILDREN)
            subprocess.run(command, capture_output=True, check=True)
            after = resource.getrusage(resource.RUSAGE_CHILDREN)
            spent = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
            found[name] = min(spent, found.get(name, spent))
    for name, spent in found.items():
        print(f"{name:24} {spent * 1000:7.1f} ms CPU, {spent / found['bare python']:5.1f} times bare Python")


def main() -> None:
    """Run the benchmark and print its ratios."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--items", type=int, default=20_000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--long", type=int, default=0, help="items of a further run for memory and growth")
    options = parser.parse_args()
    print(f"Python {platform.python_version()}, {os.cpu_count()} cores, {options.items} items, {options.rounds} rounds")
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        starts(folder)
        path = plan(folder, options.items)
        runs: dict[str, list[float]] = {"floor": [], "bare floor": [], "build": [], "qti30": [], "csv": []}
        peak = 0
        for turn in range(options.rounds):
            runs["floor"].append(timed(floor(options.items, folder / "floor"))[0])
            commands = [*tool(path, folder / "tool"), *tables(folder / "tool")]
            for name, command in zip(("build", "qti30", "csv"), commands, strict=True):
                seconds, used = timed([command])
                runs[name].append(seconds)
                peak = max(peak, used)
            runs["bare floor"].append(timed(floor(options.items, folder / "bare", "--bare"))[0])
            print(f"round {turn + 1}: " + ", ".join(f"{name} {found[-1]:.2f} s" for name, found in runs.items()))
        middle = {name: statistics.median(found) for name, found in runs.items()}
        middle["tool"] = statistics.median(map(sum, zip(runs["build"], runs["qti30"], strict=True)))
        print(f"tool / floor with feedback and solutions: {middle['tool'] / middle['floor']:.2f}")
        print(f"tool / bare floor (no feedback, no solutions): {middle['tool'] / middle['bare floor']:.2f}")
        print(f"peak memory of a process at {options.items}: {peak / 1024:.0f} MiB")
        if options.long:
            seconds, peak = timed(tool(plan(folder, options.long), folder / "long"))
            print(f"{options.long} items: {seconds:.1f} s, {seconds / middle['tool']:.2f} times {options.items} items")
            print(f"peak memory of a process at {options.long}: {peak / 1024:.0f} MiB")


if __name__ == "__main__":
    main()
