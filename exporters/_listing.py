"""The list of what exports wrote into a folder: of each target the bank, and of each file its digest and selection.

By it an export removes what it wrote there from another bank, and `stemwright verify` knows what should be there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from hashlib import blake2b
from pathlib import Path
from typing import Any, NamedTuple

from bank.files import replacing
from bank.run import Run

LIST = ".stemwright-files"
"""Name of the list in the folder."""
_BLOCK = 1 << 20


class File(NamedTuple):
    """A file that an export wrote."""

    digest: str
    of: tuple[str, ...] | None
    """Ids of the quizzes that were asked for; None for all of them and the whole bank."""
    trial: bool
    """Whether it was made to try an import with."""
    graded: bool = False
    """Whether the package of the whole bank was to hold the items of quizzes without feedback too."""


class Listed(NamedTuple):
    """What one target has in the folder."""

    bank: str
    """Fingerprint of the bank that it was made from."""
    without: tuple[str, ...]
    """Ids of items left out, sorted."""
    files: Mapping[str, File]
    """By name."""


def digest_of(path: Path) -> str:
    """Return a digest of the content of the file at *path*."""
    digest = blake2b(digest_size=16)
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def read_list(folder: Path) -> dict[str, Listed]:
    """Return what stands in the list of *folder*, by target; nothing where there is none or it cannot be read."""
    try:
        said = json.loads((folder / LIST).read_text(encoding="utf-8"))
        return {str(target): _listed(one) for target, one in said.items() if _is_plain(str(target))}
    except (OSError, ValueError, TypeError, LookupError, AttributeError, RecursionError):
        return {}


def _listed(said: Any) -> Listed:
    files = {
        str(name): File(str(digest), None if of is None else tuple(map(str, of)), bool(trial), any(graded))
        for name, (digest, of, trial, *graded) in said["files"].items() if _is_plain(str(name))
    }
    return Listed(str(said["bank"]), tuple(map(str, said["without"])), files)


def _is_plain(name: str) -> bool:
    """Return whether *name* is that of a file in its folder, which no list could use to reach another."""
    return name not in ("", ".", "..") and not set(name) & set("/\\\0")


def note_export(
    run: Run, bank: str, without: Iterable[str], targets: Sequence[str], quizzes: Sequence[str], trial: bool,
    graded: bool = False,
) -> list[str]:
    """Let *run* write the list anew with what it writes of *targets*, and remove what these had of other banks.

    *quizzes* are those that were asked for, none for all and the whole bank. Return what to say of other targets.
    """
    known, left_out = read_list(run.folder), tuple(sorted(without))
    of = tuple(quizzes) or None
    for target in targets:
        place = run.folder / target
        made = {path.name: File(digest_of(part), of, trial, graded) for path, part in run.waiting().items() if path.parent == place}
        before = known.get(target)
        if before is not None and (before.bank, before.without) == (bank, left_out):
            made = {**before.files, **made}
        elif before is not None:
            run.retire([place / name for name in before.files])
        known[target] = Listed(bank, left_out, dict(sorted(made.items())))
    with replacing(run.folder / LIST) as part:
        part.write_text(json.dumps({
            target: {"bank": one.bank, "without": one.without, "files": one.files}
            for target, one in sorted(known.items())
        }, indent=0), encoding="utf-8")
    return notes_on_other_banks(run.folder, known, bank)


def notes_on_other_banks(folder: Path, known: Mapping[str, Listed], bank: str) -> list[str]:
    """Return what to say of targets in *folder* that were made from another bank than the one with this fingerprint."""
    return [
        f"{folder / target} was made from another bank ({one.bank}) than this ({bank}): export it again --as {target}"
        for target, one in sorted(known.items())
        if one.bank != bank and any([(folder / target / name).exists() for name in one.files])
    ]
