"""What the page says of one item, ready for the template: texts spelled, names looked up, nothing left to decide."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache, partial
from typing import NamedTuple

from markupsafe import Markup

from bank import mistakes
from bank.answers import instruction, mark_scheme, visible_forms
from bank.model import Choice, FindMistake, Item, Locale, Prediction, TypedNumber
from bank.review import kinds, working, writing
from bank.summary import kind_of, mistakes_of

FORMS_SHOWN = 8
"""Accepted spellings of a typed answer that are written out; the rest are counted."""
RESPONSES = {
    "choice": "choose one", "typed": "type the number", "choose-several": "choose several",
    "put-in-order": "put in order", "match-pairs": "match pairs", "choose-in-line": "choose in the line",
    "find-mistake": "find the mistake",
}


class MistakeView(NamedTuple):
    """A mistake as the page names it."""

    identifier: str
    name: str
    learner_does: str
    remedies: tuple[tuple[str, str], ...]
    """When it is said (empty: on all items), and the words."""
    source: str
    evidence: str


class AnswerView(NamedTuple):
    """An option, or a wrong answer that is foreseen."""

    letter: str
    text: str
    is_key: bool
    why: Markup
    """The mistakes behind it, to be opened; empty where none is named."""


class ReasonView(NamedTuple):
    """One reason of a prediction."""

    feature: str
    """The feature with its value, in words."""
    contribution: str


class PredictionView(NamedTuple):
    """A prediction in words and figures."""

    band: str
    low: str
    high: str
    span: int
    """Width of the interval in percent, at least 1 so that it can be seen."""
    reasons: tuple[ReasonView, ...]
    unknown: str
    """Features without a weight, which widen the interval; empty where there are none."""


class ItemView(NamedTuple):
    """One item as the page shows it."""

    anchor: str
    number: int
    identifier: str
    template: str
    version: int
    title: str
    topic: str
    codes: str
    response: str
    response_words: str
    stem: tuple[Markup, ...]
    answers: tuple[AnswerView, ...]
    body: Markup
    """What further kinds of response offer, with key and mistakes; empty where ``answers`` say it."""
    key: str
    key_rule: str
    scheme: str
    """Line of the mark scheme for what is typed; empty where nothing is."""
    spellings: tuple[str, ...]
    more_spellings: int
    unit: str
    unit_before: bool
    mistakes: str
    """Mistake ids, separated by spaces."""
    prediction: PredictionView
    working: Markup
    steps: tuple[Markup, ...]
    hint: tuple[Markup, ...]
    praise: tuple[Markup, ...]
    show_solution: bool
    parameters: str
    features: str
    checksum: str


def mistake_view(identifier: str) -> MistakeView:
    """Return the record of a mistake; one that this version does not know is named by its id alone."""
    known = mistakes.load()
    if identifier not in known:
        return MistakeView(identifier, identifier, "", (), "", "")
    record = known[identifier]
    remedies = tuple([
        (f" ({', '.join(one.needs)})" if one.needs else "", one.words) for one in record.remedies
    ])
    return MistakeView(identifier, record.name, record.learner_does, remedies, record.source, record.evidence)


def item_view(item: Item, locale: Locale, number: int, anchor: str) -> ItemView:
    """Return what the page shows of *item*, the *number*-th of its group, under the address *anchor*."""
    family, response = item.family, item.response
    answers = _answers(item, locale)
    typed = response if isinstance(response, TypedNumber) else None
    forms = visible_forms(item.key, locale, typed.policy, family.unit)[1:] if typed else ()
    kind = kind_of(response)
    return ItemView(
        anchor=anchor,
        number=number,
        identifier=item.identifier,
        template=family.template,
        version=family.version,
        title=family.title,
        topic=family.topic,
        codes=", ".join(family.codes),
        response=kind,
        response_words=RESPONSES[kind],
        stem=writing.lines(item.stem, locale),
        answers=answers,
        body=kinds.body(item, locale, partial(why, _told(item))),
        key=writing.answer(item.key, family.unit, locale),
        key_rule=instruction(typed.policy, item.key, family.unit) if typed else "",
        scheme=_scheme(item, locale),
        spellings=forms[:FORMS_SHOWN],
        more_spellings=max(0, len(forms) - FORMS_SHOWN),
        unit=family.unit.text if family.unit else "",
        unit_before=bool(family.unit and family.unit.before),
        mistakes=" ".join(dict.fromkeys(mistakes_of(item))),
        prediction=prediction_view(item.prediction),
        working=working.table(item.solution, locale),
        steps=writing.lines(item.solution.steps, locale),
        hint=writing.lines(family.hint, locale),
        praise=writing.lines(family.praise, locale),
        show_solution=family.show_solution,
        parameters=", ".join([f"{name} = {value}" for name, value in item.parameters]),
        features=", ".join([writing.feature(name, value) for name, value in item.features]),
        checksum=family.checksum,
    )


def _scheme(item: Item, locale: Locale) -> str:
    response = item.response.typed if isinstance(item.response, FindMistake) else item.response
    if not isinstance(response, TypedNumber):
        return ""
    return mark_scheme(response.policy, item.key, locale, item.family.unit)


def _answers(item: Item, locale: Locale) -> tuple[AnswerView, ...]:
    unit, response = item.family.unit, item.response
    told = partial(why, _told(item))
    if isinstance(response, Choice):
        return tuple(
            AnswerView(
                option.identifier, writing.answer(option.numeral, unit, locale), option.is_key, told(option.mistakes)
            )
            for option in response.options
        )
    if not isinstance(response, TypedNumber):
        return ()
    known = [numeral for numeral, _ in mistakes.best_known(response.mistakes)]
    return tuple(
        AnswerView("", writing.answer(numeral, unit, locale), False, told(identifiers, numeral in known))
        for numeral, identifiers in response.mistakes
    )


def _told(item: Item) -> mistakes.Seen | None:
    """Return what remedies ask about *item*, None where nothing is told to its pupils."""
    return mistakes.seen_of(item) if item.shows_feedback else None


@lru_cache(maxsize=4096)
def why(seen: mistakes.Seen | None, identifiers: tuple[str, ...], told_here: bool = True) -> Markup:
    """Return the mistakes behind an answer as a part to open; inside are links to their entries in the catalogue.

    What the entries say is written once on the page; its script shows it in place when the part is opened, and before it
    the one remedy that the pupil is told, which is named by its mistake and its place there. *seen* is what remedies ask
    about the item, None where it tells nothing; *told_here* says whether this answer has words of its own.
    """
    if not identifiers:
        return Markup("")
    found = mistakes.remedy(seen, identifiers) if seen is not None and told_here else None
    told = general = ""
    if found is not None:
        remedies = mistakes.load()[found[0]].remedies
        if found[1] in remedies:
            told = f' data-told="{writing.escaped(found[0])} {remedies.index(found[1])}"'
        else:
            general = f"<p><b>The pupil is told: </b>{writing.escaped(found[1].words)}</p>"
    names = "; ".join([writing.escaped(mistake_view(identifier).name) for identifier in identifiers])
    links = " ".join([
        f'<a href="#mistake-{writing.escaped(identifier)}">{writing.escaped(identifier)}</a>'
        for identifier in identifiers
    ])
    return Markup(f'<details class="why"{told}><summary>{names}</summary>{general}<p>{links}</p></details>')


def prediction_view(prediction: Prediction) -> PredictionView:
    """Return *prediction* in whole percent and in hundredths of a logit."""
    low, high = writing.percent(prediction.low_share), writing.percent(prediction.high_share)
    return PredictionView(
        prediction.band, low, high, max(1, int(high) - int(low)), _reasons(prediction.reasons),
        ", ".join([writing.feature(feature, value) for feature, value, contribution in prediction.reasons
                   if not contribution]),
    )


def _reasons(reasons: Sequence[tuple[str, int, int]]) -> tuple[ReasonView, ...]:
    return tuple(
        ReasonView(writing.feature(feature, value), writing.hundredths(contribution))
        for feature, value, contribution in reasons if contribution
    )
