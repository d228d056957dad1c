"""The summary as JSON text and back: it is stored with the bank."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import fields
from typing import Any, NamedTuple, TypeVar

from bank.model import Finding
from bank.summary.records import BuildSummary, FamilyYield, FromBefore, GuessResult, StrategyResult


def to_json(summary: BuildSummary) -> str:
    """Return *summary* as one line of JSON; the same summary always gives the same text."""
    rows = {"families": FamilyYield, "panel": StrategyResult, "findings": Finding, "guessing": GuessResult,
            "before": FromBefore}
    data: dict[str, Any] = {}
    for field in fields(BuildSummary):
        value = getattr(summary, field.name)
        data[field.name] = [row._asdict() for row in value] if field.name in rows else value
    return json.dumps(data, ensure_ascii=False, separators=(",", ":"))


def from_json(text: str) -> BuildSummary:
    """Return the summary that `to_json` wrote.

    Raises:
        ValueError: *text* is no such summary; says which field is wrong.
    """
    data = json.loads(text)
    if not isinstance(data, dict):
        raise ValueError("summary: not an object")
    data.setdefault("guessing", [])  # banks built before it was told have none
    data.setdefault("before", [])
    data.setdefault("more", [])
    data.setdefault("unread", "")
    missing = [field.name for field in fields(BuildSummary) if field.name not in data]
    if missing:
        raise ValueError(f"summary: {', '.join(missing)} missing")
    return BuildSummary(
        families=_rows(data, "families", lambda row: FamilyYield(**_fields(row, FamilyYield))),
        panel=_rows(data, "panel", lambda row: StrategyResult(**_fields(row, StrategyResult))),
        mistake_use=_rows(data, "mistake_use", lambda row: (_text(row[0]), _whole(row[1]))),
        key_places=_rows(data, "key_places", lambda row: (_text(row[0]), tuple(map(_whole, row[1])))),
        findings=_rows(data, "findings", lambda row: Finding(**_fields(row, Finding))),
        topic_bands=_rows(data, "topic_bands", lambda row: (_text(row[0]), _text(row[1]), _whole(row[2]))),
        responses=_rows(data, "responses", lambda row: (_text(row[0]), _whole(row[1]))),
        guessing=_rows(data, "guessing", lambda row: GuessResult(**_fields(row, GuessResult))),
        more=_rows(data, "more", lambda row: (_text(row[0]), _text(row[1]), _whole(row[2]))),
        before=_rows(data, "before", lambda row: FromBefore(**_fields(row, FromBefore))),
        unread=_text(data["unread"]),
    )


Made = TypeVar("Made")


def _rows(data: Mapping[str, Any], name: str, make: Callable[[Any], Made]) -> tuple[Made, ...]:
    if not isinstance(data[name], list):
        raise ValueError(f"summary: {name} is not a list")
    try:
        return tuple(make(row) for row in data[name])
    except (TypeError, KeyError, IndexError, ValueError) as error:
        raise ValueError(f"summary: {name}: {error}") from error


def _fields(row: Mapping[str, Any], kind: type[NamedTuple]) -> dict[str, Any]:
    readers = {"int": _whole, "str": _text, "bool": _truth, "tuple[tuple[str, int], ...]": _pairs}
    wanted: Mapping[str, str] = kind.__annotations__
    if set(row) != set(wanted):
        raise ValueError(f"fields are {', '.join(wanted)}")
    return {name: readers[_annotation(kind, name)](row[name]) for name in wanted}


def _annotation(kind: type[NamedTuple], name: str) -> str:
    annotation = kind.__annotations__[name]
    return annotation if isinstance(annotation, str) else annotation.__forward_arg__


def _whole(value: object) -> int:
    if type(value) is not int:
        raise ValueError(f"{value!r} is no whole number")
    return value


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is no text")
    return value


def _truth(value: object) -> bool:
    if not isinstance(value, bool):
        raise ValueError(f"{value!r} is neither true nor false")
    return value


def _pairs(value: Iterable[Any]) -> tuple[tuple[str, int], ...]:
    return tuple((_text(name), _whole(count)) for name, count in value)
