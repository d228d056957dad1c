"""What becomes of a folder when runs on it are killed, or started at the same time; prints counts, asserts nothing.

    python tests/folder_figures.py [--kills 300] [--pairs 100]

Half of the kills come at a random moment of a build or an export of a small plan, half within milliseconds of the
moment at which the files are put in place. Afterwards the folder must hold the files of one run only, processes must be gone
within five seconds, and nothing may be left waiting once the next command has looked at the folder. Pairs are two
builds with different seeds, begun within a third of a second of each other.
"""

from __future__ import annotations

import argparse
import hashlib
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

import bank
from bank.errors import BadInput
from bank.run import RECORD, Run, settle
from processes import within

PLAN = Path(bank.__file__).parent / "content" / "plans" / "first-steps.yaml"
PATIENCE = 5.0
State = dict[str, str]


def command(*words: str) -> list[str]:
    """Return the command line of ``stemwright`` with *words*."""
    return [sys.executable, "-m", "bank.cli", *words]


def build(folder: Path, seed: int) -> list[str]:
    """Return the command that builds with *seed* into *folder*."""
    return command("build", str(PLAN), "-o", str(folder), "--seed", str(seed), "--jobs", "2")


def export(source: Path, folder: Path) -> list[str]:
    """Return the command that exports the bank in *source* into *folder*."""
    return command("export", str(source / "bank.sqlite"), "--as", "qti30", "--as", "csv", "-o", str(folder), "--jobs", "2")


def state(folder: Path) -> State:
    """Return digests of the files in *folder* that are not about runs, by name."""
    return {
        path.relative_to(folder).as_posix(): hashlib.blake2b(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*")) if path.is_file() and not path.name.startswith(".stemwright")
    }


def waiting(folder: Path) -> list[str]:
    """Return the names of files in *folder* that a run should not leave."""
    return [path.name for path in folder.rglob(".stemwright*") if path.name != ".stemwright-files"]


def session_of(pid: int) -> list[int]:
    """Return the processes of the session that *pid* leads."""
    found = []
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            try:
                fields = (entry / "stat").read_text().rpartition(") ")[2].split()
            except OSError:
                continue
            if int(fields[3]) == pid and fields[0] not in "ZX":
                found.append(int(entry.name))
    return found


class Kills:
    """Kills runs in one folder that is put back before each."""

    def __init__(self, root: Path, lots: random.Random) -> None:
        self._root, self._lots = root, lots
        self.counts: Counter[str] = Counter()
        self._starts: dict[str, Path] = {}
        self._ends: dict[str, State] = {}
        self._seconds: dict[str, float] = {}
        for kind in ("build", "export"):
            start = root / f"{kind}-start"
            subprocess.run(build(start, 1), check=True, capture_output=True)
            subprocess.run(export(start, start), check=True, capture_output=True)
            if kind == "export":
                subprocess.run(build(start, 2), check=True, capture_output=True)
            folder = self._back(kind, start)
            began = time.monotonic()
            subprocess.run(self._words(kind, folder), check=True, capture_output=True)
            self._seconds[kind] = time.monotonic() - began
            self._starts[kind], self._ends[kind] = start, state(folder)

    def _back(self, kind: str, start: Path) -> Path:
        folder = self._root / kind
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(start, folder)
        return folder

    def _words(self, kind: str, folder: Path) -> list[str]:
        return build(folder, 2) if kind == "build" else export(folder, folder)

    def kill(self, number: int) -> None:
        """Kill one run and count what is found."""
        kind = ("build", "export")[number % 2]
        how = signal.SIGKILL if number // 2 % 2 else signal.SIGTERM
        folder = self._back(kind, self._starts[kind])
        running = subprocess.Popen(
            self._words(kind, folder), stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True
        )
        if number // 4 % 2:
            self._wait_for_record(folder, running)
            time.sleep(self._lots.random() * 0.004)
        else:
            time.sleep(self._lots.random() * self._seconds[kind] * 1.1)
        running.send_signal(how)
        status = running.wait(timeout=60)
        self.counts["ended by itself" if status == 0 else f"killed: {kind}, {how.name}"] += 1
        if not within(PATIENCE, lambda: not session_of(running.pid)):
            self.counts["WRONG: processes left"] += 1
            for pid in session_of(running.pid):
                os.kill(pid, signal.SIGKILL)
        if how is signal.SIGTERM and status not in (0, 128 + how, -how):
            self.counts[f"WRONG: status {status}"] += 1
        if status == 128 + how and waiting(folder):
            self.counts["WRONG: left waiting after TERM"] += 1
        self._look(kind, folder)

    def _wait_for_record(self, folder: Path, running: subprocess.Popen[bytes]) -> None:
        while running.poll() is None and not (folder / RECORD).exists():
            time.sleep(0.0002)

    def _look(self, kind: str, folder: Path) -> None:
        before, after = state(self._starts[kind]), self._ends[kind]
        seen, moving = state(folder), (folder / RECORD).exists()
        one_run = seen in (before, after) or (moving and not self._mixed(seen, before, after))
        if not one_run:
            self.counts["WRONG: files of two runs"] += 1
        self.counts["stopped between its moves"] += moving
        settle(folder)
        with Run(folder, "figures"):
            pass
        found = state(folder)
        if found not in (before, after):
            self.counts["WRONG: neither run whole"] += 1
        if waiting(folder):
            self.counts["WRONG: left waiting"] += 1
        self.counts["new files" if found == after else "old files"] += found in (before, after)

    def _mixed(self, seen: State, before: State, after: State) -> bool:
        """Return whether files of both runs stand together of those that the run writes, the first of them apart."""
        changed = [name for name in before if before[name] != after.get(name)]
        old = [name for name in changed if seen.get(name) == before[name]]
        new = [name for name in after if after[name] != before.get(name) and seen.get(name) == after[name]]
        return bool(old and new)


def pairs(root: Path, lots: random.Random, count: int) -> Counter[str]:
    """Begin *count* pairs of builds in one folder and return what came of them."""
    counts: Counter[str] = Counter()
    ends = []
    for seed in (1, 2, 3):
        subprocess.run(build(root / f"seed-{seed}", seed), check=True, capture_output=True)
        ends.append(state(root / f"seed-{seed}"))
    for _ in range(count):
        folder = root / "pair"
        shutil.rmtree(folder, ignore_errors=True)
        shutil.copytree(root / "seed-1", folder)
        one = subprocess.Popen(build(folder, 2), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        time.sleep(lots.random() / 3)
        other = subprocess.Popen(build(folder, 3), stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
        told = [process.communicate(timeout=120)[1] for process in (one, other)]
        statuses = (one.returncode, other.returncode)
        counts[f"statuses {statuses}"] += 1
        for process, status, said in zip((other, one), statuses, told, strict=True):
            if status == 2 and f"process {process.pid} on" not in said:
                counts["WRONG: refused without the other's number"] += 1
        wanted = [end for end, status in zip(ends[1:], statuses, strict=True) if status == 0]
        if state(folder) not in wanted:
            counts["WRONG: not the files of one run that ended well"] += 1
        if waiting(folder):
            counts["WRONG: left waiting"] += 1
    return counts


def main() -> None:
    """Run both and print what was counted."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--kills", type=int, default=300)
    parser.add_argument("--pairs", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    lots = random.Random(options.seed)
    with tempfile.TemporaryDirectory() as name:
        root = Path(name)
        kills = Kills(root, lots)
        for number in range(options.kills):
            try:
                kills.kill(number)
            except BadInput as error:
                kills.counts[f"WRONG: {error}"] += 1
        print(f"{options.kills} kills: {dict(sorted(kills.counts.items()))}")
        print(f"{options.pairs} pairs: {dict(sorted(pairs(root, lots, options.pairs).items()))}")


if __name__ == "__main__":
    main()
