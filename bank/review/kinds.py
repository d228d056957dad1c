"""What a pupil sees of the further kinds of response, with the key and the mistakes beside it, as markup."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence

from markupsafe import Markup

from bank.answers import instruction, visible_forms
from bank.mistakes import best_known_beside
from bank.model import (
    ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, MatchPairs, Offer, PutInOrder, Response,
    TypedNumber,
)
from bank.review import working, writing
from bank.review.writing import escaped

Why = Callable[..., Markup]
"""Gives the mistakes behind an answer as a part to open."""
FORMS_SHOWN = 8
"""Right spellings that are written out; the rest are counted."""
_KEY = '<span class="mark"><span aria-hidden="true">\u2713</span> key</span>'
_CREDITS = {
    "choose-several": {"all": "one mark where exactly the right ones are chosen.",
                       "each": "right ones less wrong ones, over the number of right ones, never below zero."},
    "put-in-order": {"all": "one mark for the whole order.", "places": "the share that stand in their right place."},
    "match-pairs": {"all": "one mark where every pair is right.", "each": "the share of pairs that are right."},
    "find-mistake": {"all": "one mark where everything asked is right.", "each": "half for the step, half for the answer."},
}


def body(item: Item, locale: Locale, why: Why) -> Markup:
    """Return what is offered in *item*, and below it what is right and what mistakes lead to."""
    response = item.response
    if isinstance(response, ChooseSeveral):
        made = _options(response.options, locale, why, "several") + _credit("choose-several", response.credit)
    elif isinstance(response, ChooseInLine):
        made = _options(response.options, locale, why, "signs")
    elif isinstance(response, PutInOrder):
        made = _order(response, locale, why) + _credit("put-in-order", response.credit)
    elif isinstance(response, MatchPairs):
        made = _pairs(response, locale, why) + _credit("match-pairs", response.credit)
    elif isinstance(response, FindMistake):
        made = _find(item, response, locale, why) + _credit("find-mistake", response.credit)
    else:
        return Markup("")
    return Markup(made)


def rule_of(response: Response) -> str:
    """Return what the pupil is told to do with what is offered, in a few words."""
    if isinstance(response, PutInOrder):
        return "smallest first" if response.direction == "ascending" else "largest first"
    return ""


def _text(offer: Offer, locale: Locale) -> str:
    if len(offer.text) == 1 and isinstance(offer.text[0], str):
        return escaped(locale.sign(offer.text[0]))
    return str(writing.lines([offer.text], locale)[0])


def _options(options: Sequence[Offer], locale: Locale, why: Why, kind: str) -> str:
    rows = []
    for one in options:
        mark = f" {_KEY}" if one.is_key else ""
        reason = f" {why(one.mistakes)}" if one.mistakes else ""
        if not one.is_key and not one.mistakes:
            reason = ' <span class="why none">no mistake named</span>'
        rows.append(
            f'<li{" class=key" if one.is_key else ""}><span class="letter">{escaped(one.identifier)}</span>'
            f'<span class="value">{_text(one, locale)}</span>{mark}{reason}</li>\n'
        )
    return f'<ol class="answers options {kind}">\n{"".join(rows)}</ol>\n'


def _chips(offers: Iterable[Offer], locale: Locale, kind: str) -> str:
    chips = "".join([
        f'<li><span class="letter">{escaped(one.identifier)}</span><span class="value">{_text(one, locale)}</span></li>'
        for one in offers
    ])
    return f'<ol class="chips {kind}">{chips}</ol>\n'


def _foreseen(rows: Sequence[tuple[str, tuple[str, ...], bool]], why: Why, noun: str) -> str:
    if not rows:
        return ""
    listed = "".join([f'<li><span class="value">{text}</span> {why(names, told)}</li>\n' for text, names, told in rows])
    more = f"{len(rows)} wrong {noun}{'s' if len(rows) != 1 else ''} foreseen"
    return f'<details class="more secret"><summary>{more}</summary><ul class="answers">\n{listed}</ul></details>\n'


def _order(response: PutInOrder, locale: Locale, why: Why) -> str:
    by_name = {one.identifier: one for one in response.offers}

    def listed(order: Iterable[str]) -> str:
        return escaped("; ").join([_text(by_name[name], locale) for name in order])

    wrong = [(listed(order), names, True) for order, names in response.mistakes]
    return (
        _chips(response.offers, locale, "order")
        + f'<p class="typed secret"><span class="value">{listed(response.right)}</span> {_KEY} '
        f'<span class="also">{escaped(rule_of(response))}</span></p>\n'
        + _foreseen(wrong, why, "order")
    )


def _pairs(response: MatchPairs, locale: Locale, why: Why) -> str:
    by_name = {one.identifier: one for one in (*response.sources, *response.targets)}

    def shown(pair: tuple[str, str]) -> str:
        return " \u2192 ".join([_text(by_name[name], locale) for name in pair])

    right = "".join([f'<li class="key"><span class="value">{shown(pair)}</span> {_KEY}</li>\n' for pair in response.pairs])
    used = {target for _, target in response.pairs}
    spare = [one for one in response.targets if one.identifier not in used]
    over = "".join([
        f'<li><span class="value">{_text(one, locale)}</span> left over {why(one.mistakes, False)}</li>\n' for one in spare
    ])
    return (
        '<div class="match">' + _chips(response.sources, locale, "sources") + _chips(response.targets, locale, "targets")
        + f'</div>\n<ul class="answers secret">\n{right}{over}</ul>\n'
        + _foreseen([(shown(pair), names, True) for pair, names in response.mistakes], why, "pair")
    )


def _find(item: Item, response: FindMistake, locale: Locale, why: Why) -> str:
    rows = []
    for one in response.steps:
        right = one.identifier == response.right
        mark = f" {_KEY} {why((response.mistake,))}" if right else ""
        rows.append(
            f'<li{" class=key" if right else ""}><span class="letter">{escaped(one.identifier)}</span>'
            f'<span class="value">{_text(one, locale)}</span>{mark}</li>\n'
        )
    made = f'<div class="squares shown">{working.table(response.working, locale)}</div>\n'
    made += f'<ol class="answers options steps-shown">\n{"".join(rows)}</ol>\n'
    if response.typed is not None:
        made += _typed(item, response.typed, locale)
        wrong, shown = response.typed.mistakes, (response.working.result, (response.mistake,))
        known = [numeral for numeral, _ in best_known_beside(shown, wrong)]
        made += _foreseen([
            (escaped(writing.answer(numeral, item.family.unit, locale)), names, numeral in known)
            for numeral, names in wrong
        ], why, "answer")
    return made


def _typed(item: Item, typed: TypedNumber, locale: Locale) -> str:
    """Return the field for the answer that is typed beside a step, and the spellings that are right."""
    unit, (first, *more) = item.family.unit, visible_forms(item.key, locale, typed.policy, item.family.unit)
    blank = '<span class="blank"><span class="unseen">answer field</span></span>'
    sign = "" if unit is None or typed.policy == "unit" else escaped(unit.text)
    field = f"{sign}&nbsp;{blank}" if sign and unit and unit.before else f"{blank}&nbsp;{sign}" if sign else blank
    also = escaped(" \u00b7 ".join(more[:FORMS_SHOWN]))
    rest = f" and {len(more) - FORMS_SHOWN} more" if len(more) > FORMS_SHOWN else ""
    told = f' <span class="also">also right: {also}{rest}</span>' if more else ""
    return (
        f'<p class="field"><span class="hint">{escaped(instruction(typed.policy, item.key, unit))}</span>{field}</p>\n'
        f'<p class="typed secret"><span class="value">{escaped(first)}</span> {_KEY}{told}</p>\n'
    )


def _credit(kind: str, credit: str) -> str:
    return f'<p class="src secret">Credit: {escaped(_CREDITS[kind].get(credit, credit))}</p>\n'
