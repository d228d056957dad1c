"""A trial package: one item of each kind of a bank, and a page that says what a teacher should see and try.

It is imported before a term depends on an LMS: what the page expects is worked out from the bank, not from the package.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape, unescape
from pathlib import Path
from typing import NamedTuple

from bank.answers import accepted_forms, instruction
from bank.files import replacing
from bank.marking import Answer, earned_marks, most_marks
from bank.model import (
    BankInfo, Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, PutInOrder, Quiz, Section,
    TypedNumber,
)
from exporters._cc_asked import offer_text, step_text
from exporters._item import option_text
from exporters._manifest import made_by
from exporters._portability import Target, kind_of
from exporters._report_page import document, table
from exporters._text import plain_text
from exporters._words import Words

NAME = "trial"
TITLE = "Trial import"
FORMS = 3
"""Right spellings of a typed answer that are tried."""


class Try(NamedTuple):
    """Something to try: what is answered, and what should come of it."""

    answer: str
    marks: int
    most: int
    said: str
    """Feedback; empty where none is foreseen here."""


def one_of_each(items: Iterable[Item]) -> list[Item]:
    """Return the first of *items* of each kind; typed numbers of each policy, with a unit and without it.

    They show feedback, unless no item does: a quiz cannot hold both.
    """
    found: dict[tuple[str, ...], Item] = {}
    shown = False
    for item in items:
        if item.shows_feedback and not shown:
            shown = True
            found.clear()
        if item.shows_feedback is not shown:
            continue
        response = item.response
        typed = response if isinstance(response, TypedNumber) else getattr(response, "typed", None)
        manner = (typed.policy, "unit" if item.family.unit else "") if typed else ()
        found.setdefault((kind_of(item), *manner, "parts" if most_marks(response) > 1 else "whole"), item)
    return list(found.values())


def trial_quiz(items: Sequence[Item], taken: Iterable[str]) -> Quiz:
    """Return *items* as a quiz for practice, named as none of the quizzes *taken* is."""
    names = set(taken)
    free = [NAME, *[f"{NAME}-{number}" for number in range(2, len(names) + 2)]]
    name = next(name for name in free if name not in names)
    section = Section(title="One of each kind", items=tuple([item.identifier for item in items]))
    shown = all([item.shows_feedback for item in items])
    return Quiz(identifier=name, title=TITLE, week=0, sections=(section,), show_feedback=shown)


def tries(item: Item, locale: Locale, words: Words) -> list[Try]:
    """Return what to try on *item*: right answers, wrong ones that mistakes lead to, and none."""
    response, most = item.response, most_marks(item.response)

    def one(shown: str, answer: Answer, said: str = "") -> Try:
        return Try(shown, earned_marks(item, answer, locale), most, unescape(said) if item.shows_feedback else "")

    family, praise = item.family, words.praise(item.family)
    if isinstance(response, Choice):
        return [
            one(option_text(option, family, locale), option.identifier,
                praise if option.is_key else words.rationale(item, option.mistakes))
            for option in response.options
        ]  # fmt: skip
    if isinstance(response, ChooseInLine):
        return [
            one(offer_text(offer, locale), offer.identifier,
                praise if offer.is_key else words.rationale(item, offer.mistakes))
            for offer in response.options
        ]  # fmt: skip
    if isinstance(response, TypedNumber):
        return _typed(item, response, locale, words, one)
    if isinstance(response, ChooseSeveral):
        texts = {offer.identifier: offer_text(offer, locale) for offer in response.options}
        right = [offer.identifier for offer in response.options if offer.is_key]
        wrong = [offer.identifier for offer in response.options if not offer.is_key]
        return [one("; ".join([texts[name] for name in names]), names)
                for names in (right, right[:-1], [*right, wrong[0]], wrong)]
    if isinstance(response, PutInOrder):
        texts = {offer.identifier: offer_text(offer, locale) for offer in response.offers}
        return [one(f"in this order: {'; '.join([texts[name] for name in order])}", order)
                for order in (response.right, *[order for order, _ in response.mistakes][:2])]
    if isinstance(response, MatchPairs):
        return _pairs(response, locale, one)
    return _found(item, response, locale, one)


def _typed(
    item: Item, response: TypedNumber, locale: Locale, words: Words, one: Callable[..., Try]
) -> list[Try]:
    forms = accepted_forms(item.key, locale, response.policy, item.family.unit)
    found = [one(form, form, words.praise(item.family)) for form in forms[:FORMS]]
    for _, _, said, spelled in words.foreseen(item, response, forms):
        found.append(one(spelled[0], spelled[0], said))
    return [*found, one("nothing", "")]


def _pairs(response: MatchPairs, locale: Locale, one: Callable[..., Try]) -> list[Try]:
    texts = {offer.identifier: offer_text(offer, locale) for offer in (*response.sources, *response.targets)}
    wrong = dict(response.pairs)
    wrong.update([pair for pair, _ in response.mistakes][:1])
    return [
        one("; ".join([f"{texts[source]} with {texts[target]}" for source, target in pairs]),
            [f"{source} {target}" for source, target in pairs])
        for pairs in (response.pairs, tuple(wrong.items()))
    ]  # fmt: skip


def _found(item: Item, response: FindMistake, locale: Locale, one: Callable[..., Try]) -> list[Try]:
    texts = {step.identifier: step_text(number, step, locale) for number, step in enumerate(response.steps, 1)}
    other = next(name for name in texts if name != response.right)
    if response.typed is None:
        return [one(texts[name], (name,)) for name in (response.right, other)]
    right = accepted_forms(item.key, locale, response.typed.policy, item.family.unit)[0]
    wrong = locale.number(response.working.result)
    return [one(f"{texts[step]} And type {typed}", (step, typed))
            for step, typed in ((response.right, right), (response.right, wrong), (other, right), (other, wrong))]


def write_note(
    target: Target, items: Sequence[Item], quiz: Quiz, info: BankInfo, package: str, folder: Path
) -> Path:
    """Write the page on what to see and try beside the trial package called *package* and return its path.

    Raises:
        BadInput: the file cannot be written; the older one stays as it was.
    """
    path = folder / target.name / f"{quiz.identifier}.what-to-try.html"
    with replacing(path) as part:
        part.write_text(_page(target, items, info, package), encoding="utf-8")
    return path


def _page(target: Target, items: Sequence[Item], info: BankInfo, package: str) -> str:
    title = f"Trial import: {target.name}"
    words = Words(info.locale)
    carried = [item for item in items if not target.refusal(item)]
    parts = [
        f"<h1>{escape(title)}</h1>\n<p class=\"soft\">{escape(target.title)}. {escape(info.title)}. "
        f"{escape(made_by(info))}</p>\n"
        f"<p>{escape(_START % package if not target.tables else _START_TABLES)}</p>\n"
        f"<ol>{''.join([f'<li>{escape(step)}</li>' for step in _STEPS])}</ol>\n" * (not target.tables),
    ]  # fmt: skip
    for number, item in enumerate(carried, 1):
        parts.append(_item(number, target, item, info.locale, words))
    left = [(f"<code>{escape(item.identifier)}</code>", escape(kind_of(item)), escape(target.refusal(item)))
            for item in items if target.refusal(item)]
    if left:
        parts.append(
            f'<section class="loud"><h2>Not in the package</h2>\n'
            f"{table('Kinds that this target cannot mark right', ('Item', 'Kind', 'Why'), left)}</section>\n"
        )
    return document(title, "".join(parts))


_START = (
    "%s holds one question of each kind that the bank has. Import it before a term depends on it, into a course that "
    "no pupil sees, and try each question as a pupil would. What should come of it stands below."
)
_START_TABLES = "The tables hold one item of each kind that the bank has. Nothing is marked from them."
_STEPS = (
    "Import the package. The LMS should report nothing left out, and should show as many questions as there are here.",
    "Open each question as a pupil. Its text, numbers and options should be those below, and columns should stand "
    "under one another.",
    "Give each answer below and compare marks and feedback. Where the LMS keeps feedback back, look for its switch.",
    "Do it once by keyboard alone, and once with a screen reader if a pupil of yours uses one.",
    "Import the same package again. The questions should be replaced, not doubled.",
    "Write down what differs, with the LMS’s version. Use a kind of question only where its marks were right.",
)


def _item(number: int, target: Target, item: Item, locale: Locale, words: Words) -> str:
    asked = target.as_asked(item)
    language = escape(locale.language)
    said = "".join([f'<p lang="{language}">{escape(plain_text(line, locale))}</p>\n' for line in item.stem])
    if isinstance(asked.response, TypedNumber):
        said += f"<p>{escape(instruction(asked.response.policy, asked.key, asked.family.unit))}</p>\n"
    changed = [remark for remark in target.remarks if remark.holds(item)]
    notes = "".join([f"<li>{escape(remark.says)}</li>" for remark in changed])
    rows = [
        (escape(one.answer), f"{one.marks} of {one.most}" if one.most > 1 else ("right" if one.marks else "wrong"),
         escape(one.said))
        for one in tries(asked, locale, words)
    ]  # fmt: skip
    heads = ("Answer", "Marks", "Feedback expected")
    if not any([said for _, _, said in rows]):
        heads, rows = heads[:2], [row[:2] for row in rows]
    return (
        f"<h2>{number}. {escape(kind_of(item).capitalize())}: {escape(item.family.title)}</h2>\n"
        f"<p class=\"soft\"><code>{escape(asked.identifier)}</code></p>\n{said}"
        f"{table(f'Answers to try on question {number}', heads, rows)}"
        + (f"<details><summary>What is otherwise here</summary><ul>{notes}</ul></details>\n" if notes else "")
    )
