"""What to do first: the items that may be wrong, each with its question, key, reason and its place on the review page."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from urllib.parse import quote

from bank.audit.after import AfterUse, ItemResult
from bank.audit.flags import OF_USE, Flag
from bank.audit.offers import key_words
from bank.audit.report._tables import ItemTexts, unread_words
from bank.review import sample
from bank.review.page import shown_ids
from bank.store import Bank

SHOWN = 20
"""Items on the page's first list: more than a person works through in one go. Our own choice."""
_UNREAD = 20
REVIEW = "review.html"


class Fix(NamedTuple):
    """An item to fix."""

    item: str
    version: int
    quiz: str
    """Title of its quiz."""
    asked: str
    key: str
    reasons: tuple[tuple[str, str], ...]
    """(name, figures) of its flags, the most pressing first."""
    remedy: str
    alarm: bool
    link: str
    """Relative address of the item on the review page; empty where it is not there."""


def fixes(audit: AfterUse, texts: ItemTexts, bank: Bank, folder: Path) -> tuple[list[Fix], int]:
    """Return the items to fix for a page in *folder*, the most pressing first, and how many more there are."""
    found: list[tuple[int, float, ItemResult, tuple[Flag, ...]]] = []
    for item in audit.items:
        flags = tuple(sorted((flag for flag in item.flags if flag.identifier not in OF_USE), key=lambda flag: flag.rank))
        if flags:
            found.append((flags[0].rank, -flags[0].weight, item, flags))
    found.sort(key=lambda one: one[:2])
    links = _Links(bank, folder) if found else None
    titles = {form.quiz: form.title for form in audit.forms}
    made = []
    for _, _, item, flags in found[:SHOWN]:
        known = texts.item(item.item) if item.facts else None
        made.append(Fix(
            item.item, item.version, titles.get(item.quiz, item.quiz), texts.asked(item.item) if known else "",
            key_words(known, texts.locale) if known else "", tuple((flag.name, flag.why) for flag in flags),
            flags[0].remedy, any(flag.alarm for flag in flags), links.to(item.item) if links and known else "",
        ))
    return made, len(found) - len(made)


class _Links:
    """Addresses of items on the review page that is beside the bank."""

    def __init__(self, bank: Bank, folder: Path) -> None:
        page = bank.path.with_name(REVIEW)
        self._shown = shown_ids(sample.choose(bank)) if page.is_file() else frozenset()
        try:
            self._page = Path(os.path.relpath(page.resolve(), folder.resolve())).as_posix()
        except ValueError:  # on another drive no relative address leads there
            self._page, self._shown = "", frozenset()

    def to(self, item: str) -> str:
        """Return the address of *item*, empty where it is not on the page."""
        return f"{quote(self._page)}#item-{quote(item)}" if item in self._shown else ""


def before_use_of_figures(audit: AfterUse) -> Iterator[str]:
    """Give what a reader must know before any figure is believed: how much could not be read, and what is not judged."""
    if audit.refused_share > audit.settings["refused_most"]:
        yield (
            f"{100 * audit.refused_share:.0f} % of the rows could not be read and do not count; see How it was counted for"
            " the reasons before you use these figures"
        )
    for one in audit.unread[:_UNREAD]:
        yield f"{one.item} ({one.quiz}) is {unread_words(one)}"
    if len(audit.unread) > _UNREAD:
        yield f"{len(audit.unread) - _UNREAD} more items are not judged for the same reason; audit.csv names them"
