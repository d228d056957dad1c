"""How long reading results takes, against DuckDB's bare scan-and-group over the same file. No test: prints figures.

    python tests/benchmarks/results_in.py [--pupils 200000] [--rounds 3]

A quiz of 50 items is built and answered by simulated pupils; tables are a row an answer (pupil, item, response) and a
row a pupil. Both sides run in processes of their own, in turn; processor time and memory are those of the whole process,
its start included.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

ITEMS = 50
PLAN = """plan: fifty
title: Fifty sums
seed: 20270111
locale: en-point
invented: true
weeks:
  - week: 1
    title: Sums
    quizzes:
      - quiz: fifty
        title: Sums
        draw:
          - {items: 50, topic: decimal-addition, response: choice}
"""
_MEASURE = """
import json, resource, sys, time
start = time.perf_counter()
%s
used = resource.getrusage(resource.RUSAGE_SELF)
print(json.dumps([time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024]))
"""
READ = """
from pathlib import Path
from bank.audit.pseudonyms import Salt
from bank.audit.reading import read_results
from bank.store import Bank
with Bank.open(Path(sys.argv[2])) as bank:
    found = read_results(bank, [Path(sys.argv[1])], salt=Salt(key=b"a benchmark needs no secrecy"), remember=False)
assert found.rows and not found.rejected
"""
LONG = """
import duckdb
duckdb.sql(f"select item, response, count(*) from read_csv('{sys.argv[1]}', all_varchar=true) group by all").fetchall()
"""
WIDE = """
import duckdb
source = f"read_csv('{sys.argv[1]}', all_varchar=true)"
items = duckdb.sql(f"from {source}").columns[1:]
counts = " union all ".join(f"select '{name}', \\"{name}\\", count(*) from answers group by 2" for name in items)
duckdb.sql(f"with answers as materialized (from {source}) {counts}").fetchall()
"""


def main() -> None:
    """Make the tables, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--pupils", type=int, default=200_000)
    parser.add_argument("--rounds", type=int, default=3)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        # Made in a process of its own: a child's peak memory begins with what its parent holds.
        making = "import sys, pathlib, results_in as here; here.make(pathlib.Path(sys.argv[1]), int(sys.argv[2]))"
        subprocess.run([sys.executable, "-c", making, name, str(arguments.pupils)], check=True,
                       env={**os.environ, "PYTHONPATH": str(Path(__file__).parent)})
        bank = folder / "bank.sqlite"
        print(f"{arguments.pupils * ITEMS:,} answers")
        for form, scan in (("long", LONG), ("wide", WIDE)):
            path = folder / f"{form}.csv"
            rounds = [(measured(scan, path, bank), measured(READ, path, bank)) for _ in range(arguments.rounds)]
            print(f"{form}: {path.stat().st_size >> 20} MiB")
            for title, place in (("scan and group", 0), ("read_results", 1)):
                wall, cpu, memory = (statistics.median(one[place][at] for one in rounds) for at in range(3))
                print(f"  {title:16} {wall:6.2f} s wall {cpu:6.2f} s processor {memory:6.0f} MiB")
            for at, what in ((0, "wall"), (1, "processor")):
                print(f"  ratio, {what}: {statistics.median(one[1][at] / one[0][at] for one in rounds):.2f}")


def make(folder: Path, pupils: int) -> None:
    """Build the bank and write both tables into *folder*."""
    from bank.audit.simulation import simulate
    from bank.build import build
    from bank.plans import load_plan
    from bank.store import Bank

    (folder / "plan.yaml").write_text(PLAN, encoding="utf-8")
    build(load_plan(folder / "plan.yaml"), folder)
    path = folder / "bank.sqlite"
    with Bank.open(path) as bank:
        (sat,) = simulate(bank, pupils=pupils, seed=1).answers.forms
    items, responses = sat.form.items, [(*known, "", "", "") for known in sat.form.responses]
    with (folder / "long.csv").open("w") as long, (folder / "wide.csv").open("w") as wide:
        long.write("pupil,item,response\n")
        wide.write(f"pupil,{','.join(items)}\n")
        for number, row in enumerate(sat.codes.tolist()):
            given = [known[code] for known, code in zip(responses, row)]
            long.write("".join([f"p{number:06d},{item},{text}\n" for item, text in zip(items, given)]))
            wide.write(f"p{number:06d},{','.join(given)}\n")


def measured(code: str, path: Path, bank: Path) -> tuple[float, float, float]:
    """Return seconds of wall and processor time and MiB of a process that runs *code*."""
    done = subprocess.run(
        [sys.executable, "-c", _MEASURE % code, str(path), str(bank)], capture_output=True, text=True, check=True
    )
    wall, cpu, memory = json.loads(done.stdout.splitlines()[-1])
    return wall, cpu, memory


if __name__ == "__main__":
    main()
