"""What the command ``verify`` does: each part of a folder worked out again, with what was checked and what is wrong."""

from __future__ import annotations

import argparse
import csv
import importlib
import tempfile
import zipfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import NamedTuple

from bank import checks
from bank.audit.tables import OF_BANK
from bank.decisions import file_beside, read_decisions
from bank.errors import BadInput, Place, Problem
from bank.files import passing
from bank.identity import identifier_of
from bank.progress import Progress
from bank.review import write_review
from bank.run import leftovers, refuse_busy, settle
from bank.store import Bank, Shelf
from bank.summary import from_json
from bank.work import Pool
from exporters._listing import File, digest_of, read_list

JOB = 100
"""Items that are checked at a time."""


class Found(NamedTuple):
    """What a verification found."""

    said: list[str]
    """What was checked, a line each."""
    wrong: list[Problem]


def verify(folder: Path, path: Path, jobs: int) -> Found:
    """Return what is found in *folder*, whose bank lies at *path*.

    Raises:
        BadInput: there is no such folder (``folder-missing``), a run is at work in it (``folder-busy``), or the bank cannot
            be used: nothing else can be checked then.
    """
    if not folder.is_dir():
        raise BadInput(Problem("folder-missing", Place(str(folder)), "", "there is no such folder", "check its name"))
    refuse_busy(folder)
    settle(folder)
    if path == folder / "bank.sqlite" and not path.exists():
        raise BadInput(Problem(
            "bank-missing", Place(str(path)), "", "there is no bank in this folder",
            "name the bank that its files were made from: --bank BANK",
        ))
    found = Found([], [])
    with Bank.checked(path) as bank:
        counts = f"{bank.count} items, {len(bank.quizzes)} quizzes, {len(bank.families)} templates"
        found.said.append(f"Bank: its whole content gives its fingerprint {bank.fingerprint} ({counts})")
        _items(bank, jobs, found)
        _quizzes(bank, found)
        _page(bank, folder, found)
        _packages(bank, folder, jobs, found)
        _audits(bank, folder, found)
    _leftovers(folder, found)
    return found


class _Checker:
    """Checks items, with a bank of its own."""

    def __init__(self, path: Path, known: str) -> None:
        self._bank = Bank.open(path, known=known)

    def check(self, start: int, stop: int) -> tuple[int, list[tuple[str, str, str]]]:
        """Return how many items were checked, and of each error the item, the check and what is wrong."""
        wrong = []
        count = 0
        for item in self._bank.items(start=start, stop=stop):
            count += 1
            named = identifier_of(item, self._bank.info.locale)
            if named != item.identifier:
                wrong.append((item.identifier, "identifier", f"its content has the identifier {named}"))
            wrong += [(one.item, one.check, one.wrong) for one in checks.run_item_checks(item, self._bank.info.locale)
                      if one.severity == "error"]
        return count, wrong


def _items(bank: Bank, jobs: int, found: Found) -> None:
    parts = [(start, min(start + JOB, bank.count)) for start in range(0, bank.count, JOB)]
    others = min(jobs, len(parts)) if jobs > 1 and len(parts) > 1 else 0
    station = partial(_Checker, bank.path, bank.fingerprint)
    total, wrong = 0, []
    with Pool(others, station, None if others else station()) as pool, Progress("Checking items") as progress:
        for count, said in pool.each("check", parts):
            total += count
            wrong += said
            progress(total, bank.count)
    asked = [one for one in checks.load().values() if one.severity == "error" and one.about != "quiz"]
    found.said.append(
        f"Items: {total} read, each identifier held to its content, each worked solution carried out again and compared with the key, and {len(asked)} checks"
        " asked (keys worked out in a second way, wrong options from their mistakes)"
    )
    found.wrong.extend([
        Problem("item-wrong", Place(str(bank.path)), f"item {item}", f"{check}: {message}",
                "do not use it: retire it, or build the bank again")
        for item, check, message in wrong
    ])


def _quizzes(bank: Bank, found: Found) -> None:
    known = set(bank.identifiers())
    wrong = []
    for quiz in bank.quizzes:
        missing = [item for item in quiz.items if item not in known]
        if missing:
            wrong.append(Problem("quiz-wrong", Place(str(bank.path)), f"quiz {quiz.identifier}",
                                 f"the bank has not its items {', '.join(missing[:3])}", "build the bank again"))
            continue
        items = {item.identifier: item for item in bank.items(quiz.items)}
        wrong += [
            Problem("quiz-wrong", Place(str(bank.path)), f"quiz {quiz.identifier}", f"{one.check}: {one.wrong}",
                    "build the bank again")
            for one in checks.run_quiz_checks(quiz, items) if one.severity == "error"
        ]
    found.said.append(f"Quizzes: {len(bank.quizzes)} hold items of this bank, and the checks of quizzes were asked")
    found.wrong.extend(wrong)


@contextmanager
def _room() -> Iterator[Path]:
    """Give a folder for what is made again, which is removed afterwards."""
    with tempfile.TemporaryDirectory(prefix="stemwright-") as made, passing():
        yield Path(made)


def _page(bank: Bank, folder: Path, found: Found) -> None:
    page = folder / "review.html"
    if not page.exists():
        found.said.append("Review page: there is none in this folder")
        return
    with _room() as made:
        again = made / "review.html"
        write_review(bank, from_json(bank.summary), again, read_decisions(file_beside(bank.path)))
        same = again.read_bytes() == page.read_bytes()
    if same:
        found.said.append("Review page: made again from the bank, the same byte for byte")
        return
    other = bank.fingerprint.encode() not in page.read_bytes()
    wrong = "belongs to another bank" if other else "is not what this bank and its decisions give with this version"
    found.wrong.append(Problem("page-wrong", Place(str(page)), "", wrong, "build again"))


def _packages(bank: Bank, folder: Path, jobs: int, found: Found) -> None:
    import exporters
    from bank import registry

    listed = read_list(folder)
    without = _left_out(bank)
    shelf = Shelf(bank.path, without)
    for target in registry.module_names(exporters):
        place = folder / target
        names = sorted([path.name for path in place.iterdir() if path.is_file()]) if place.is_dir() else []
        one = listed.get(target)
        missing = [name for name in one.files if name not in names] if one else []
        found.wrong.extend([
            Problem("file-missing", Place(str(place / name)), "", "an export wrote it, and it is gone", "export again")
            for name in missing
        ])
        if not names:
            continue
        if one and one.bank != bank.fingerprint:
            found.wrong.append(Problem(
                "earlier-bank", Place(str(place)), "", f"was made from the bank {one.bank}, not from {bank.fingerprint}",
                f"export again --as {target}",
            ))
            continue
        with Bank.open(shelf, known=bank.fingerprint) as left, Progress(f"Making {target} again") as progress:
            progress(0, 1)
            _Target(target, place, left, jobs, found, names, one.files if one else {}).compare()


def _audits(bank: Bank, folder: Path, found: Found) -> None:
    """Hold the fingerprints in tables of audits to the bank's; what else they say is not looked at."""
    tables = 0
    for path in [*sorted(folder.glob("*.csv")), *sorted(folder.glob("audit/*.csv"))]:
        if not path.is_file():
            continue
        with path.open(encoding="utf-8-sig", errors="replace", newline="") as file:
            try:
                named = [row[-1] for row in csv.reader(file) if row]
            except csv.Error:
                named = []
        if named[:1] != [OF_BANK]:
            continue
        tables += 1
        other = next((one for one in named[1:] if one != bank.fingerprint), "")
        if other:
            found.wrong.append(Problem(
                "earlier-bank", Place(str(path)), "", f"was made from the bank {other[:40]}, not from {bank.fingerprint}",
                "audit again",
            ))
    if tables:
        found.said.append(f"Audits: {tables} tables name a bank; only the name was compared")


def _left_out(bank: Bank) -> frozenset[str]:
    from bank.decisions import out_of_use

    out = out_of_use(read_decisions(file_beside(bank.path)))
    return frozenset([item for item in bank.identifiers() if item in out]) if out else frozenset()


class _Target:
    """What one target has in the folder, compared with what an export makes now."""

    def __init__(
        self, name: str, place: Path, bank: Bank, jobs: int, found: Found, names: list[str],
        listed: Mapping[str, File],
    ) -> None:
        self._name, self._place, self._bank, self._jobs, self._found = name, place, bank, jobs, found
        self._names, self._listed = names, listed

    def compare(self) -> None:
        """Make all that stands there again and compare it, file by file."""
        waiting = list(self._names)
        same = 0
        with _room() as made:
            for number, (quizzes, trial, graded) in enumerate(self._selections()):
                again = self._made(made / str(number), quizzes, trial, graded)
                for name in [name for name in waiting if (again / name).exists()]:
                    waiting.remove(name)
                    difference = _difference(self._place / name, again / name)
                    if difference:
                        self._differs(name, difference)
                    else:
                        same += 1
        self._found.said.append(f"{self._name}: {same} files made again from the bank, with the same content"
                                f"{self._read_back()}")
        self._found.wrong.extend([
            Problem("file-unknown", Place(str(self._place / name)), "", "no export of this bank makes it",
                    "remove it if it is not yours")
            for name in waiting
        ])

    def _selections(self) -> Iterator[tuple[tuple[str, ...], bool, bool]]:
        """Yield what was exported: which quizzes, none for all and the whole bank; whether as a trial, and with graded
        items in the bank's package."""
        if self._name == "csv":
            file = self._listed.get("items.csv")
            yield (file.of or (), file.trial, False) if file else ((), False, False)
            return
        known = [quiz.identifier for quiz in self._bank.quizzes]
        stems = {name.partition(".")[0] for name in self._names}
        if "bank" in stems:
            yield (), False, any([one.graded for name, one in self._listed.items() if name.partition(".")[0] == "bank"])
        elif stems & set(known):
            yield tuple([name for name in known if name in stems]), False, False
        for name in self._names:
            if name.endswith(".what-to-try.html"):
                file = self._listed.get(name)
                yield (file.of or () if file else ()), True, False
                return

    def _made(self, folder: Path, quizzes: tuple[str, ...], trial: bool, graded: bool) -> Path:
        from bank.commands.export import write_all

        wanted = argparse.Namespace(
            targets=[self._name], quizzes=list(quizzes), trial=trial, graded=graded, folder=folder, jobs=self._jobs,
            bank=self._bank.path,
        )
        chosen = [quiz for quiz in self._bank.quizzes if quiz.items and (not quizzes or quiz.identifier in quizzes)]
        write_all(wanted, self._bank, chosen)
        return folder / self._name

    def _differs(self, name: str, difference: str) -> None:
        file = self._listed.get(name)
        since = ""
        if file:
            changed = digest_of(self._place / name) != file.digest
            since = " (changed after it was exported)" if changed else " (exported so: by another version, or before a decision)"
        self._found.wrong.append(Problem(
            "file-differs", Place(str(self._place / name)), "", f"is not what this bank gives: {difference}{since}",
            f"export again --as {self._name}",
        ))

    def _read_back(self) -> str:
        """Return how many items were read back from the packages, as the end of a line; note what cannot be read."""
        from exporters._faults import ExportFault

        exporter = importlib.import_module(f"exporters.{self._name}")
        count = 0
        packages = [self._place / name for name in self._names if name.endswith((".zip", ".imscc"))]
        for path in packages if self._name != "csv" else [self._place.parent] if "items.csv" in self._names else []:
            try:
                count += sum([1 for _ in exporter.read_back(path)])
            except (ExportFault, OSError) as fault:
                self._found.wrong.append(Problem(
                    "file-unreadable", Place(str(path)), "", f"cannot be read back: {fault}",
                    f"export again --as {self._name}",
                ))
        return f", and {count} items read back"


def _difference(there: Path, again: Path) -> str:
    """Return how the file *there* differs from the one made *again*; empty where it says the same."""
    if there.read_bytes() == again.read_bytes():
        return ""
    if there.suffix not in (".zip", ".imscc"):
        return "its content differs"
    try:
        with zipfile.ZipFile(there) as one, zipfile.ZipFile(again) as other:
            if one.namelist() != other.namelist():
                return "other files are in it"
            for name in one.namelist():
                if one.read(name) != other.read(name):
                    return f"{name} differs"
            return "" if one.comment == other.comment else "its comment differs"
    except (zipfile.BadZipFile, ValueError, OSError, EOFError, NotImplementedError, RuntimeError) as error:
        return f"it is no sound package ({error})"
    except Exception as error:  # zlib.error has no other base
        return f"it is no sound package ({error})"


def _leftovers(folder: Path, found: Found) -> None:
    left = leftovers(folder)
    found.wrong.extend([
        Problem("left-over", Place(str(path)), "", "was left by a run that was killed",
                "build or export again into this folder, which removes it")
        for path in left
    ])
    if not left:
        found.said.append("Left by runs that were killed: nothing")
    found.said.append("Not checked: results, figures of audits, lessons, decisions, and whatever else lies in the folder")

