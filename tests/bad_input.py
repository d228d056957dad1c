"""The corpus of bad input: each case changes one of the good documents and says what must be found, and where."""

from __future__ import annotations

from pathlib import Path
from typing import NamedTuple

import yaml

from bank.commands._checking import check_files
from bank.errors import Problem

FOLDER = Path(__file__).parent / "bank" / "bad_input"


class Case(NamedTuple):
    """A bad document and the problems that must be found in it, no more and no fewer."""

    name: str
    kind: str
    text: str
    expected: tuple[tuple[str, int, int], ...]
    """Code, line and column of each problem; line 0 where the file as a whole is meant."""


def _place(text: str, snippet: str) -> tuple[int, int]:
    """Return line and column of the first *snippet* in *text*; ``@`` in it marks the place inside the snippet."""
    if not snippet:
        return 0, 0
    before, mark, after = snippet.partition("@")
    index = text.index(before + after) + (len(before) if mark else 0)
    return text.count("\n", 0, index) + 1, index - text.rfind("\n", 0, index)


def _cases() -> list[Case]:
    cases = []
    for path in sorted(FOLDER.glob("*.yaml")):
        document = yaml.safe_load(path.read_text(encoding="utf-8"))
        kind = path.stem.partition("-")[0]
        for name, case in document["cases"].items():
            text = case.get("text", document["good"])
            changes = case.get("change", [])
            for old, new in [changes] if changes and isinstance(changes[0], str) else changes:
                assert text.count(old) == 1, f"{path.name}, {name}: {old!r} must stand once in the good document"
                text = text.replace(old, new)
            found = [
                (code, *_place(text, snippet))
                for code, snippets in case["expect"].items()
                for snippet in (snippets if isinstance(snippets, list) else [snippets])
            ]
            cases.append(Case(f"{path.stem}: {name}", kind, text, tuple(sorted(found, key=lambda one: one[1:]))))
        cases.append(Case(f"{path.stem}: the good document", kind, document["good"], ()))
    return cases


CASES = _cases()
"""All cases, the good documents themselves among them."""

_SUM = """template: sum-{name}
version: 1
title: Sum {name}
topic: decimal-addition
parameters:
  a: {{from: 1.5, to: 9.5, step: 0.1}}
  b: {{from: 1.55, to: 9.55, step: 0.01}}
operation: add
operands: [a, b]
key: a + b
stem: Work out {{{{ work }}}}.
response: {response}
"""


def found_in(case: Case, folder: Path, *, makes_items: bool = True) -> list[Problem]:
    """Return the problems that checking the case's document finds; it is written into *folder* beside two templates."""
    templates = folder / "templates"
    templates.mkdir()
    (folder / "nothing").mkdir()
    for name, response in (("one", "choice"), ("two", "number")):
        (templates / f"{name}.yaml").write_text(_SUM.format(name=name, response=response), encoding="utf-8")
    (folder / "places").mkdir()
    text = _SUM.format(name="three", response="number").replace("stem:", "places: 3\nstem:")
    (folder / "places" / "three.yaml").write_text(text, encoding="utf-8")
    path = folder / "bad.yaml"
    path.write_text(case.text, encoding="utf-8")
    return check_files([path], makes_items=makes_items).problems
