"""How long counting takes and how much memory it holds, against a bare scan-and-group of the same files.

    python tests/benchmarks/audit_scale.py [--pupils 200000] [--items 50] [--rounds 3] [--groups 20] [--short] [--big]

Writes results of simulated pupils into a temporary folder (seeded, with names as long as this tool's, or with --short
as short as can be), then runs in turn, each in a process of its own: the floor (DuckDB reads the file and groups by
item and response, nothing more; the wide file is unpivoted first), the tool's default engine, and the tool with DuckDB.
Prints medians, ratios of the same round, and peak memory of each process. Times leave out starting Python and
importing.

--big counts a long file of 100,000,000 answers (and one of a tenth of it) with DuckDB, under a limit of memory.
It is never a test: nothing in it passes or fails.
"""

from __future__ import annotations

import argparse
import importlib
import json
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

LETTERS = "ABCDE"
QUIZ = "week-07"
_CHUNK = 2_000


def main(argv: Sequence[str] | None = None) -> None:
    """Run what the arguments ask for."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pupils", type=int, default=200_000)
    parser.add_argument("--items", type=int, default=50)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--groups", type=int, default=20)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--short", action="store_true")
    parser.add_argument("--big", action="store_true")
    parser.add_argument("--folder", type=Path, help="where to write the files; they stay there")
    parser.add_argument("--work", nargs=3, metavar=("WHAT", "FILE", "ITEMS"), help=argparse.SUPPRESS)
    asked = parser.parse_args(argv)
    if asked.work:
        print(json.dumps(_worker(asked.work[0], asked.work[1], int(asked.work[2]))))
        return
    with tempfile.TemporaryDirectory() as temporary:
        folder = asked.folder or Path(temporary)
        folder.mkdir(exist_ok=True)
        if asked.big:
            _big(folder, asked)
        else:
            _compare(folder, asked)


def _compare(folder: Path, asked: argparse.Namespace) -> None:
    files = {"wide": folder / "wide.csv", "long": folder / "long.csv"}
    write_results(files["long"], files["wide"], asked.pupils, asked.items, asked.seed, asked.short, asked.groups)
    for layout, path in files.items():
        ways = (f"floor-{layout}", "numpy", "duckdb")
        rounds = [{way: _run(way, path, asked.items) for way in ways} for _ in range(asked.rounds)]
        print(f"{layout}: {path.stat().st_size / 1e6:,.0f} MB, {asked.pupils * asked.items:,} answers")
        for way in ways:
            seconds = [one[way]["seconds"] for one in rounds]
            ratios = [one[way]["seconds"] / one[ways[0]]["seconds"] for one in rounds]
            cpu = statistics.median(one[way]["cpu"] / one[ways[0]]["cpu"] for one in rounds)
            peak = max(one[way]["peak"] for one in rounds)
            print(
                f"  {way:11} {statistics.median(seconds):6.2f} s"
                f"  ratio {statistics.median(ratios):5.2f} ({min(ratios):.2f} to {max(ratios):.2f}), of CPU {cpu:5.2f}"
                f"  peak {peak:,.0f} MiB  cells {rounds[0][way]['cells']:,}  answers {rounds[0][way]['answers']:,}"
            )
        if len({(one[way]["cells"], one[way]["digest"]) for one in rounds for way in ways[1:]}) != 1:
            print("  THE ENGINES DIFFER")


def _big(folder: Path, asked: argparse.Namespace) -> None:
    most = 100_000_000 // asked.items
    found = {}
    for pupils in (most // 10, most):
        path = folder / "big.csv"
        write_results(path, None, pupils, asked.items, asked.seed, asked.short, asked.groups)
        found[pupils] = [_run("duckdb", path, asked.items) for _ in range(asked.rounds)]
        for one in found[pupils]:
            print(f"{pupils * asked.items:,} answers, {path.stat().st_size / 1e9:.1f} GB: {one['seconds']:.1f} s"
                  f" (CPU {one['cpu']:.1f} s), peak {one['peak']:,.0f} MiB, {one['cells']:,} cells", flush=True)
    for what, name in (("seconds", "time"), ("cpu", "CPU")):
        small, large = (statistics.median(one[what] for one in runs) for runs in found.values())
        print(f"ten times the answers take {large / small:.1f} times the {name}")


def write_results(
    long: Path, wide: Path | None, pupils: int, items: int, seed: int, short: bool, groups: int
) -> None:
    """Write results of simulated pupils, the same ones long and wide; every two hundredth answer or so is empty."""
    import numpy as np

    random = np.random.default_rng(seed)
    names = item_names(items, short)
    difficulty = np.linspace(-2, 2, items)
    options = np.array(list(LETTERS))
    with long.open("w", newline="") as tall, (wide or long.with_suffix(".none")).open("w", newline="") as broad:
        tall.write("pupil,group,quiz,item,response\n")
        broad.write("pupil,group," + ",".join(names) + "\n")
        for start in range(0, pupils, _CHUNK):
            count = min(_CHUNK, pupils - start)
            ability = random.normal(size=(count, 1))
            right = random.random((count, items)) < 1 / (1 + np.exp(difficulty - ability))
            chosen = (np.arange(items) + np.where(right, 0, random.integers(1, len(LETTERS), (count, items)))) % 5
            texts = np.where(random.random((count, items)) < 0.005, "", options[chosen]).tolist()
            for number, row in enumerate(texts, start=start):
                pupil = f"{number}" if short else f"{(number * 0x9E3779B97F4A7C15 + seed) % 2**64:016x}"
                group = f"{number // 25 % groups}" if short else f"class-{number // 25 % groups:03d}"
                broad.write(f"{pupil},{group}," + ",".join(row) + "\n")
                begin = f"{pupil},{group},{'q' if short else QUIZ},"
                tall.write("".join([f"{begin}{name},{text}\n" for name, text in zip(names, row, strict=True)]))
    if wide is None:
        long.with_suffix(".none").unlink()


def item_names(items: int, short: bool) -> list[str]:
    """Return names of items, as long as this tool's or as short as can be."""
    if short:
        return [f"i{number}" for number in range(items)]
    return [f"column-sum-v1-{(number * 0x9E3779B97F4A7C15 + 99) % 10**13:013d}" for number in range(items)]


def _run(way: str, path: Path, items: int) -> dict[str, float]:
    done = subprocess.run(
        [sys.executable, __file__, "--work", way, str(path), str(items)], capture_output=True, text=True, check=True,
    )
    return dict(json.loads(done.stdout))


def _worker(way: str, name: str, items: int) -> dict[str, object]:
    path = Path(name)
    if way.startswith("floor"):
        work = _floor(path, wide=way.endswith("wide"))
    else:
        work = _tool(path, items, way)
    began, cpu = time.perf_counter(), time.process_time()
    cells, answers, digest = work()
    seconds, cpu = time.perf_counter() - began, time.process_time() - cpu
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return {"seconds": seconds, "cpu": cpu, "peak": peak, "cells": cells, "answers": answers, "digest": digest}


def _floor(path: Path, wide: bool):  # type: ignore[no-untyped-def]
    import duckdb

    source = f"read_csv('{path}', header = true)"
    if wide:
        cells = f'select * exclude (pupil, "group") from {source}'
        source = f"(unpivot ({cells}) on columns(*) into name item value response)"

    def work() -> tuple[int, int, str]:
        rows = duckdb.sql(f"select item, response, count(*) from {source} group by 1, 2").fetchall()
        return len(rows), sum(row[2] for row in rows), ""

    return work


def _tool(path: Path, items: int, way: str):  # type: ignore[no-untyped-def]
    from bank.audit.counting.engines import count_with
    from bank.audit.counting.files import count_csv
    from bank.audit.counting.keys import QuizKey

    with path.open() as file:
        header = file.readline().rstrip("\n").split(",")
    names = tuple(header[2:]) if "item" not in header else tuple(item_names(items, "column" not in file_start(path)))

    def score(item: int, text: str) -> tuple[str, int]:
        if text not in LETTERS:
            raise ValueError("the item offers A to E")
        return text, 1000 * (LETTERS.index(text) == item % 5)

    keys = [QuizKey(quiz="q" if names[0] == "i0" else QUIZ, items=names, versions=(1,) * items, score=score)]

    def work() -> tuple[int, int, str]:
        counted = count_csv([path], keys) if way == "numpy" else count_with("duckdb:", keys, [path])
        (table,) = counted.counts
        return len(table.n), counted.answers, _digest(table)

    if way == "duckdb":
        importlib.import_module("duckdb")
    return work


def file_start(path: Path) -> str:
    """Return the first bytes of a file as text."""
    with path.open() as file:
        return file.read(400)


def _digest(table) -> str:  # type: ignore[no-untyped-def]
    from hashlib import sha256

    parts = (table.group, table.item, table.response, table.total, table.n)
    return sha256(b"".join([part.tobytes() for part in parts])).hexdigest()


if __name__ == "__main__":
    main()
