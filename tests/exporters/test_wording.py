"""What the tool itself adds to items stands frozen beside the edition that counts in their identifiers.

An identifier is made of what a template says, and of `EDITIONS` for what the tool adds. A change in what pupils see
under an unchanged edition would give two texts one identifier, so it fails here.
"""

from __future__ import annotations

import json
import re
from hashlib import blake2b
from pathlib import Path

from bank.identity import EDITIONS
from bank.locales import FOLDER, load_locale
from bank.model import Locale
from exported import kind_packages, packages

FROZEN = Path(__file__).parent / "wording.json"
REMEDY = (
    "pupils see other words, or other spellings are right, under the edition that they had before: raise the number of that"
    " part in EDITIONS (bank/identity.py), then run pytest --accept tests/exporters/test_wording.py"
)
ACCEPT = "run pytest --accept tests/exporters/test_wording.py"


def digest(locale: Locale) -> str:
    """Return a digest of the sampler's items of all kinds as QTI 3.0 writes them in *locale*, without their ids."""
    found = blake2b(digest_size=16)
    for files in (packages("qti30", locale)["bank"], *kind_packages("qti30", locale).values()):
        for name in sorted(files):
            if name.startswith("items/"):
                found.update(masked(files[name]))
    return found.hexdigest()


def masked(item: bytes) -> bytes:
    """Return *item* without its identifier and the version of the tool."""
    return re.sub(rb'(<qti-assessment-item\b[^>]*?)\s(?:identifier|tool-version)="[^"]*"', rb"\1",
                  re.sub(rb'(<qti-assessment-item\b[^>]*?)\stool-version="[^"]*"', rb"\1", item))


def complaint(frozen: dict[str, dict[str, object]], now: dict[str, dict[str, object]]) -> str:
    """Return what is wrong with *now*, seen from what was *frozen*, and what to do; empty where nothing is."""
    if now == frozen:
        return ""
    lowered = [part for part, edition in frozen["editions"].items() if now["editions"].get(part, 0) < edition]  # type: ignore[operator]
    if lowered:
        return f"an edition never goes down, as that of {', '.join(lowered)} does"
    if now["editions"] == frozen["editions"]:
        old = frozen["digests"]
        changed = [name for name, found in now["digests"].items() if old.get(name, found) != found]
        if changed:
            return f"{', '.join(changed)}: {REMEDY}"
    return f"the editions or the locales are others than those frozen: {ACCEPT}"


def test_what_pupils_see_changes_only_with_a_raised_edition(accept: bool) -> None:
    now: dict[str, dict[str, object]] = {
        "editions": dict(EDITIONS),
        "digests": {path.stem: digest(load_locale(path.stem)) for path in sorted(FOLDER.glob("*.yaml"))},
    }
    if accept:
        FROZEN.write_text(json.dumps(now, indent=1, sort_keys=True) + "\n", encoding="utf-8")
    assert complaint(json.loads(FROZEN.read_text(encoding="utf-8")), now) == ""


def test_other_words_under_an_unchanged_edition_are_told_what_to_do() -> None:
    frozen: dict[str, dict[str, object]] = {"editions": {"said": 2}, "digests": {"en-point": "a"}}
    assert complaint(frozen, {"editions": {"said": 2}, "digests": {"en-point": "b"}}) == f"en-point: {REMEDY}"
    assert ACCEPT in complaint(frozen, {"editions": {"said": 3}, "digests": {"en-point": "b"}})
    assert "never goes down" in complaint(frozen, {"editions": {"said": 1}, "digests": {"en-point": "b"}})
    assert complaint(frozen, frozen) == ""


def test_only_the_identifier_and_the_tool_s_version_are_left_out_of_the_digest() -> None:
    files = packages("qti30")["bank"]
    item = next(files[name] for name in sorted(files) if name.startswith("items/"))
    renamed = re.sub(rb'( identifier=")', rb"\1other-", item, count=1)
    assert renamed != item and masked(renamed) == masked(item)
    reworded = item.replace(b"</p>", b"!</p>", 1)
    assert reworded != item and masked(reworded) != masked(item)
