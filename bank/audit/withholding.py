"""Quizzes and items that too few pupils answered: taken out before anything is counted, so that no figure holds them.

What is taken out first is in no total, mean or table, so no difference between a total and the parts shown leads back
to it. Groups are left out item by item (`hidden_groups`), by the rules of `bank.audit.suppression`. A pupil counts once,
however often they tried. Fewest 10 is common practice, no source; local policy goes before it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence, Set
from dataclasses import replace
from typing import NamedTuple

import numpy as np

from bank.audit.records import NOT_GIVEN, NOT_REACHED, Answers, Counts, FormAnswers
from bank.audit.suppression import withheld_groups

_WORD = re.compile(r"[\w.-]*\w")


class Unread(NamedTuple):
    """An item of which too many answers did not count."""

    quiz: str
    item: str
    share: float


class Left(NamedTuple):
    """What was taken out."""

    quizzes: int = 0
    items: int = 0
    """Items of quizzes that are shown; an item counts once for each quiz."""
    names: frozenset[str] = frozenset()
    """Ids of quizzes and items that are shown nowhere, so that remarks must not name them."""
    unread: tuple[Unread, ...] = ()
    """Items that are not judged because too many of their answers could not be read."""

    def words(self, least: int) -> str:
        """Return a sentence for the report that names none of them; empty where nothing was taken out."""
        parts = [_number(self.quizzes, "quiz", "quizzes"), _number(self.items, "item", "items")]
        told = " and ".join(part for part in parts if part)
        return f"Withheld: {told} answered by fewer than {least} pupils." if told else ""

    def may_stand(self, text: str) -> bool:
        """Whether *text*, a remark or a reason, names nothing that was taken out."""
        return not self.names or self.names.isdisjoint(_WORD.findall(text))


def _number(count: int, one: str, several: str) -> str:
    return f"{count} {one if count == 1 else several}" if count else ""


MOST_REFUSED = 0.05
"""Share of an item's answers that may not count, unless the settings say otherwise. Our own choice."""


def shown_answers(answers: Answers, least: int, most_refused: float = MOST_REFUSED) -> tuple[Answers, Left]:
    """Return *answers* without what must not be shown or cannot be judged, and what was taken out.

    That is quizzes and items that fewer than *least* pupils answered, and items of which more than the share
    *most_refused* of the answers did not count. An item that nobody answered stays: there is no pupil in its figures.
    Pupils of whom nothing is left are taken out too.
    """
    unread = _unread(answers, least, most_refused)
    read = [_without(form, {one.item for one in unread if one.quiz == form.form.quiz}) for form in answers.forms]
    made = [_shown_form(form, least) for form in read]
    forms = [form for form in made if form is not None]
    few = [(old, new) for old, new in zip(read, made, strict=True) if old.form.items]
    items = sum(len(old.form.items) - len(new.form.items) for old, new in few if new)
    left = Left(sum(new is None for _, new in few), items, _names([old for old, _ in few], forms), tuple(unread))
    if not left.quizzes and not left.items and not unread:
        return answers, left
    return of_those_left(replace(
        answers, forms=tuple(forms), rejected=tuple(row for row in answers.rejected if left.may_stand(row[2])),
        remarks=tuple(text for text in answers.remarks if left.may_stand(text)),
    )), left


def of_those_left(answers: Answers) -> Answers:
    """Return *answers* without the pupils who are in no form any more, and with the number of answers left."""
    used = np.zeros(len(answers.pupils), dtype=bool)
    for form in answers.forms:
        used[form.pupils] = True
    renumber = (np.cumsum(used) - 1).astype(np.int32)
    return replace(
        answers, forms=tuple(replace(form, pupils=renumber[form.pupils]) for form in answers.forms),
        pupils=tuple(pupil for pupil, counts in zip(answers.pupils, used.tolist(), strict=True) if counts),
        rows=sum(int((form.codes != NOT_GIVEN).sum()) for form in answers.forms),
    )


def shown_counts(counts: Sequence[Counts], least: int) -> tuple[tuple[Counts, ...], Left]:
    """Return *counts* without the quizzes that fewer than *least* pupils answered, or where that holds for an item.

    From counts alone an item cannot be taken out of pupils' totals, so the whole quiz is.
    """
    kept = []
    for one in counts:
        reached = np.zeros(len(one.form.items), dtype=np.int64)
        there = (one.response != NOT_GIVEN) & (one.response != NOT_REACHED)
        np.add.at(reached, one.item[there], one.n[there])
        if one.persons >= least and not _few(reached, least).any():
            kept.append(one)
    left = Left(len(counts) - len(kept), 0, _names(counts, kept))
    return tuple(kept), left


def _names(
    before: Sequence[FormAnswers] | Sequence[Counts], after: Sequence[FormAnswers] | Sequence[Counts]
) -> frozenset[str]:
    told, shown = (
        {name for one in forms for name in (one.form.quiz, *one.form.items)} for forms in (before, after)
    )
    return frozenset(told - shown)


def _unread(answers: Answers, least: int, most_refused: float) -> list[Unread]:
    """Return the items of which too many answers did not count, unless those who gave them are too few to be told of."""
    refused = {(quiz, item): number for quiz, item, number in answers.refused}
    found = []
    for form in answers.forms:
        counted = (form.codes != NOT_GIVEN).sum(axis=0).tolist()
        for item, number in zip(form.form.items, counted, strict=True):
            lost = refused.get((form.form.quiz, item), 0)
            if lost > most_refused * (lost + number) and lost + number >= least and len(np.unique(form.pupils)) >= least:
                found.append(Unread(form.form.quiz, item, lost / (lost + number)))
    return found


def _without(form: FormAnswers, items: Set[str]) -> FormAnswers:
    places = [place for place, item in enumerate(form.form.items) if item not in items]
    return _of_items(form, np.array(places, dtype=np.int64)) if items else form


def _few(pupils: np.ndarray, least: int) -> np.ndarray:
    return (pupils > 0) & (pupils < least)


def _shown_form(form: FormAnswers, least: int) -> FormAnswers | None:
    """Return *form* without items that too few reached, None where too few answered what is left."""
    while len(np.unique(form.pupils)) >= least:
        reached = pupils_by_item(form, (form.codes != NOT_GIVEN) & (form.codes != NOT_REACHED))
        stays = ~_few(reached, least)
        if stays.all():
            return form
        form = _of_items(form, np.flatnonzero(stays))
    return None


def _of_items(form: FormAnswers, places: np.ndarray) -> FormAnswers:
    """Return the answers to the items at *places*, of pupils who were given one of them."""
    codes = form.codes[:, places]
    rows = np.flatnonzero((codes != NOT_GIVEN).any(axis=1)) if len(places) else np.zeros(0, dtype=np.int64)
    old, at = form.form, places.tolist()
    return FormAnswers(
        form=replace(
            old, items=tuple(old.items[place] for place in at), versions=tuple(old.versions[place] for place in at),
            responses=tuple(old.responses[place] for place in at), credits=tuple(old.credits[place] for place in at),
        ),
        pupils=form.pupils[rows], codes=codes[rows], groups=form.groups[rows],
        milliseconds=None if form.milliseconds is None else form.milliseconds[np.ix_(rows, places)],
    )


def pupils_by_item(form: FormAnswers, cells: np.ndarray) -> np.ndarray:
    """Return int64 [K]: of how many different pupils *cells* (bool [N, K]) hold for each item."""
    if len(np.unique(form.pupils)) == len(form.pupils):
        return cells.sum(axis=0, dtype=np.int64)
    return np.array([len(np.unique(form.pupils[cells[:, place]])) for place in range(cells.shape[1])], dtype=np.int64)


def hidden_groups(counts: Counts, form: FormAnswers | None, least: int) -> tuple[frozenset[str], ...]:
    """Return for each item of a form the groups whose answers to it must not be told apart from those of others.

    *form* is the same form's answers, where they are in memory: then a pupil with several attempts counts once. The
    unnamed group is one of the groups here, as its answers are what is left of the total.
    """
    sizes = np.zeros((len(counts.groups), len(counts.form.items)), dtype=np.int64)
    given = counts.response >= 0
    np.add.at(sizes, (counts.group[given], counts.item[given]), counts.n[given])
    if form is not None and len(np.unique(form.pupils)) < len(form.pupils):
        for group in range(len(counts.groups)):
            sizes[group] = pupils_by_item(form, (form.codes >= 0) & (form.groups == group)[:, None])
    return tuple(
        withheld_groups(dict(zip(counts.groups, column, strict=True)), least) if np.count_nonzero(column) > 1
        else frozenset()
        for column in sizes.T.tolist()
    )
