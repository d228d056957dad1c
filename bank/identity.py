"""What an item is called for ever: template, version, and a digest of all that a pupil or a marking program can notice.

Two items that differ in anything of that have two identifiers, whatever seed, plan, quiz, locale or version they come
from; an item whose content is the same keeps its identifier through every rebuild. So a package that is imported again
updates its items and never doubles or exchanges them, and results can be told to belong to a bank.

What counts: words and numbers of the stem; what is offered, with letters and order; the key, the kind of response and
its settings, which decide what is right; unit and title; the locale; whether feedback and worked solution are shown, and
where they are, hint, praise, what is said to each wrong answer, and what the worked solution is carried out on. What
does not count, for nobody notices it: prediction, features, topic, curriculum codes, seed, plan, quiz, other items.

What the tool itself says and works out is not read here but stands for one edition of `EDITIONS`. Whoever changes such
a text or rule raises the edition.

Collisions: 64 bits within one version of one template. Among a million items of it, two that share an id by accident are
to be expected once in 37 million such banks (birthday bound n^2 / 2^65).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from hashlib import blake2b

from bank import mistakes
from bank.digests import thirteen_letters
from bank.model import (
    Choice, ChooseInLine, ChooseSeveral, Expression, Family, FindMistake, Item, Line, Locale, MatchPairs, Offer,
    PutInOrder, Quiz, Response, Trace, TypedNumber,
)
from bank.numerals import Numeral

EDITIONS = {"asked": 1, "typed": 1, "said": 1, "worked": 1, "tests": 1}
"""Number of each part of an item that the tool adds by itself, to be raised when what a pupil sees of it, or how it is
marked, changes: how items are ``asked`` (titles, phrases, marks), which spellings of a ``typed`` answer are right, what
is ``said`` to answers, how solutions are ``worked``, and what ``tests`` say. Only items that have the part get other ids by it."""
OTHERWISE = {
    "as-choice": "", "all-or-none": "",
    "of-orders": "it was asked as a choice between whole orders, and a letter says nothing of the order meant",
    "step-only": "it was asked for the step alone, and the item wants the right answer as well",
}
"""Ends of identifiers of items that a target asks otherwise, and why the bank's item cannot mark the answers, if so."""
ENDS = "|".join(OTHERWISE)
_ASKED = re.compile(f"(.+)-({ENDS})")
_END, _NEXT, _NUMBER, _SUM = "\x1e", "\x1f", "\x1d", "\x1c"
"""Control characters, which no text of a template holds, between parts and before numbers and expressions."""


def identifier_of(item: Item, locale: Locale) -> str:
    """Return the identifier of *item*, as ``ragged-sum-v1-k3mq...``: a legal NCName. The one it has is not looked at."""
    return Namer(item.family, locale).name(
        item.stem, item.operands, item.key, item.response, shows_feedback=item.shows_feedback
    )


def with_feedback(item: Item, locale: Locale) -> Item:
    """Return *item* as one that shows feedback, under an identifier of its own."""
    shown = replace(item, shows_feedback=True)
    return replace(shown, identifier=identifier_of(shown, locale))


def asked_otherwise(item: Item) -> str:
    """Return the identifier of *item* in a target that knows choices and typed answers only, and no credit for parts.

    It is the item's own where the question, its answers and its marks are the same there; else it has an end that says
    how the question differs, one of `OTHERWISE`.
    """
    response = item.response
    if isinstance(response, PutInOrder):
        return f"{item.identifier}-of-orders"
    if isinstance(response, FindMistake):
        return f"{item.identifier}-{'step-only' if response.typed else 'as-choice'}"
    if isinstance(response, ChooseInLine):
        return f"{item.identifier}-as-choice"
    if isinstance(response, ChooseSeveral) and response.credit != "all":
        return f"{item.identifier}-all-or-none"
    return item.identifier


def answered(identifier: str) -> str:
    """Return the bank's identifier of the item that *identifier* names, where its answers are read and marked by that item.

    What is asked in such a way that they are not, and any other name, is returned as it stands: see `why_not_marked`.
    """
    found = _ASKED.fullmatch(identifier)
    return found[1] if found and not OTHERWISE[found[2]] else identifier


def why_not_marked(identifier: str) -> tuple[str, str]:
    """Return the bank's identifier and why its item cannot mark answers to *identifier*; the reason is empty if it can."""
    found = _ASKED.fullmatch(identifier)
    return (found[1], OTHERWISE[found[2]]) if found else (identifier, "")


def test_identifier_of(quiz: Quiz, locale: Locale) -> str:
    """Return the identifier of *quiz* as a test in a file: its id and a digest of all that a pupil can notice of it.

    The items count by their own identifiers.
    """
    sections = [(section.title, section.items, section.select) for section in quiz.sections]
    said = (
        quiz.identifier, quiz.title, quiz.use, quiz.show_feedback, quiz.minutes, quiz.calculator, quiz.most_attempts,
        quiz.shuffled, sections, locale.language, EDITIONS["tests"],
    )
    digest = blake2b(repr(said).encode("utf-8", "surrogatepass"), digest_size=8).digest()
    return f"{quiz.identifier}-{thirteen_letters(int.from_bytes(digest, 'big'))}"


class Namer:
    """Names the items of one family in one locale, keeping what they share."""

    def __init__(self, family: Family, locale: Locale) -> None:
        self._head = f"{family.template}-v{family.version}-"
        self._family = family
        self._group_mark = locale.group_mark
        self._shared = {shown: _shared(family, locale, shown) for shown in (True, False)}
        self._reasons: dict[tuple[str, ...], str] = {}

    def name(
        self, stem: Sequence[Line], operands: Sequence[Numeral], key: Numeral, response: Response, *, shows_feedback: bool
    ) -> str:
        """Return the identifier of the item of the family that these parts make."""
        parts = [_lines(stem), _number(key)]
        self._response(parts, response, shows_feedback)
        if shows_feedback and self._family.show_solution:
            parts += map(_number, operands)
        digest = self._shared[shows_feedback].copy()
        digest.update(_END.join(parts).encode("utf-8", "surrogatepass"))
        return self._head + thirteen_letters(int.from_bytes(digest.digest(), "big"))

    def _response(self, parts: list[str], response: Response, shown: bool) -> None:
        """Add to *parts* what is offered and foreseen, what is right, and what is said to it."""
        if isinstance(response, Choice):
            parts += ["choice", response.order]
            for option in response.options:
                said = self._said(option.mistakes) if shown else ""
                parts.append(f"{option.identifier}{_NEXT}{_number(option.numeral)}{_NEXT}{option.is_key:d}{_NEXT}{said}")
        elif isinstance(response, TypedNumber):
            self._typed(parts, response, shown)
        elif isinstance(response, ChooseSeveral | ChooseInLine):
            parts += ["several", response.credit] if isinstance(response, ChooseSeveral) else ["line"]
            self._offers(parts, response.options, shown)
        elif isinstance(response, PutInOrder):
            parts += ["order", response.direction, response.credit, _NEXT.join(response.right)]
            self._offers(parts, response.offers, shown)
            self._wrong(parts, response.mistakes, shown)
        elif isinstance(response, MatchPairs):
            parts += ["pairs", response.credit, *map(_NEXT.join, response.pairs)]
            self._offers(parts, response.sources, shown)
            self._offers(parts, response.targets, shown)
            self._wrong(parts, response.mistakes, shown)
        elif isinstance(response, FindMistake):
            said = self._said((response.mistake,)) if shown else ""
            parts += ["find", response.credit, response.right, said, _trace(response.working)]
            self._offers(parts, response.steps, shown)
            if response.typed is not None:
                self._typed(parts, response.typed, shown)
        else:
            raise TypeError(f"{response!r} is no kind of response")

    def _typed(self, parts: list[str], response: TypedNumber, shown: bool) -> None:
        parts += ["typed", str(EDITIONS["typed"]), response.policy, self._group_mark]
        if shown:
            parts += [f"{_number(wrong)}{_NEXT}{self._said(names)}" for wrong, names in response.mistakes]

    def _offers(self, parts: list[str], offers: Iterable[Offer], shown: bool) -> None:
        parts.append("offers")
        for offer in offers:
            said = self._said(offer.mistakes) if shown else ""
            parts.append(f"{offer.identifier}{_NEXT}{_line(offer.text)}{_NEXT}{offer.is_key:d}{_NEXT}{said}")

    def _wrong(
        self, parts: list[str], wrong: Iterable[tuple[tuple[str, ...], tuple[str, ...]]], shown: bool
    ) -> None:
        """Add the wrong answers foreseen of an order or of pairs; where nothing is said to them, they are not noticed."""
        if shown:
            parts += [f"{' '.join(answer)}{_NEXT}{self._said(names)}" for answer, names in wrong]

    def _said(self, names: tuple[str, ...]) -> str:
        """Return what the mistakes *names* have to say, on any item: which of it is said follows from the item's parts."""
        found = self._reasons.get(names)
        if found is None:
            known = mistakes.load()
            records = [known[name] for name in names if name in known]
            found = self._reasons[names] = _NEXT.join([
                _NEXT.join([record.source, record.evidence, *[f"{one.words}{_NEXT}{one.needs}" for one in record.remedies]])
                for record in records
            ])
        return found


def _shared(family: Family, locale: Locale, shown: bool) -> blake2b:
    """Return the digest of what items of *family* share, to go on from."""
    unit = family.unit
    parts = [
        str(EDITIONS["asked"]), family.template, str(family.version), family.title, family.operation,
        *((unit.text, str(unit.before), unit.spoken) if unit else ("no unit",)),
        locale.language, locale.decimal_mark, *locale.also_accepted_marks, locale.multiplication, locale.division,
        locale.minus, locale.list_separator,
    ]
    if shown:
        parts += ["said", str(EDITIONS["said"]), _lines(family.hint), _lines(family.praise)]
        if family.show_solution:
            parts += ["worked", str(EDITIONS["worked"]), family.layout, str(family.rounding)]
    return blake2b(_END.join([*parts, ""]).encode("utf-8", "surrogatepass"), digest_size=8)


def _number(numeral: Numeral) -> str:
    return f"{_NUMBER}{numeral.coefficient},{numeral.places}"


def _lines(lines: Iterable[Line]) -> str:
    return "\n".join(map(_line, lines))


def _line(line: Line) -> str:
    return _NEXT.join([
        leaf if leaf.__class__ is str else _number(leaf) if leaf.__class__ is Numeral else _expression(leaf)  # type: ignore[arg-type]
        for leaf in line
    ])


def _expression(expression: Expression) -> str:
    return _SUM + "".join([
        f"{part} " if isinstance(part, str) else f"{part.coefficient},{part.places} " for part in expression.parts
    ])


def _trace(trace: Trace) -> str:
    """Return a working that is shown to be judged: its rows and steps."""
    rows = [
        _NEXT.join((role, str(point), sign, str(rule), note, *cells)) for role, cells, point, sign, rule, note in trace.rows
    ]
    numbers = [*trace.operands, trace.result]
    return _NEXT.join([trace.method, trace.layout, *map(_number, numbers), *rows, *map(_line, trace.steps)])
