"""What a bank keeps of itself, of its families and quizzes, as JSON."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from bank.model import BankInfo, Correction, Expression, Family, Leaf, Line, Locale, Quiz, Section, Unit
from bank.numerals import Numeral
from bank.sources import Source
from bank.store._lines import dumps


def _leaf_out(leaf: Leaf) -> Any:
    if isinstance(leaf, str):
        return leaf
    if isinstance(leaf, Numeral):
        return [leaf.coefficient, leaf.places]
    return {"x": [_leaf_out(part) for part in leaf.parts]}


def _leaf_in(kept: Any) -> Leaf:
    if isinstance(kept, str):
        return kept
    if isinstance(kept, list):
        return Numeral(kept[0], kept[1])
    return Expression(tuple([_leaf_in(part) for part in kept["x"]]))  # type: ignore[misc]


def _lines_out(lines: Iterable[Line]) -> list[list[Any]]:
    return [[_leaf_out(leaf) for leaf in line] for line in lines]


def _lines_in(kept: list[list[Any]]) -> tuple[Line, ...]:
    return tuple([tuple([_leaf_in(leaf) for leaf in line]) for line in kept])


def family_out(family: Family) -> str:
    """Return *family* as JSON."""
    kept = asdict(family)
    kept["hint"], kept["praise"] = _lines_out(family.hint), _lines_out(family.praise)
    return dumps(kept)


def family_in(content: str) -> Family:
    """Return the family that `family_out` wrote."""
    kept = json.loads(content)
    unit = kept.pop("unit")
    return Family(
        **{
            **kept,
            "unit": Unit(**unit) if unit else None,
            "codes": tuple(kept["codes"]),
            "hint": _lines_in(kept["hint"]),
            "praise": _lines_in(kept["praise"]),
        }
    )


def quiz_out(quiz: Quiz) -> str:
    """Return *quiz* as JSON."""
    return dumps(asdict(quiz))


def quiz_in(content: str) -> Quiz:
    """Return the quiz that `quiz_out` wrote."""
    kept = json.loads(content)
    sections = tuple(Section(**{**part, "items": tuple(part["items"])}) for part in kept.pop("sections"))
    return Quiz(sections=sections, withdrawn=tuple(kept.pop("withdrawn", ())), **kept)


def info_out(info: BankInfo) -> str:
    """Return *info* as JSON, without the fingerprint, which is no part of what it is made from."""
    kept = asdict(info)
    del kept["fingerprint"], kept["in_part"]
    return dumps(kept)


def info_in(content: str, fingerprint: str) -> BankInfo:
    """Return what `info_out` wrote, of a bank with that fingerprint."""
    kept = json.loads(content)
    locale = kept.pop("locale")
    locale["also_accepted_marks"] = tuple(locale["also_accepted_marks"])
    kept["corrections"] = tuple([Correction(*one) for one in kept.get("corrections", ())])
    settings = tuple((name, text) for name, text in kept.pop("settings", ()))
    return BankInfo(locale=Locale(**locale), fingerprint=fingerprint, settings=settings, **kept)


def own_setting(info: BankInfo, name: str) -> Source | None:
    """Return the file *name* that a bank was built with in place of the usual one, None where there was none."""
    text = dict(info.settings).get(name)
    return None if text is None else Source(f"{name} of the bank {info.plan}", text)
