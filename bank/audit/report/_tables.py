"""The tables of the audit after use: one row an item, an answer, a mistake."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from bank import mistakes
from bank.audit.after import AfterUse, ItemResult
from bank.audit.class_mistakes import ItemWrong
from bank.decisions import Decision
from bank.audit.explained import Explainer, explainer
from bank.audit.offers import asked_words, offers_of
from bank.audit.statistics.estimates import Estimate
from bank.audit.tables import Value
from bank.audit.withholding import Unread
from bank.model import Choice, ChooseInLine, Item, Locale
from bank.store import Bank

_REACH = ("value", "low", "high")


def _headings(*names: str) -> tuple[str, ...]:
    return tuple(name if end == "value" else f"{name}_{end}" for name in names for end in _REACH)


ITEM_HEADER = (
    "item", "version", "template", "title", "topic", "quiz", "use", "simulated", "predicted_for",
    "predicted_weights_version", "predicted_band", "predicted_low_share", "predicted_high_share",
    "predicted_widened_by", "observed_n", "observed_not_given", *_headings("observed_facility", "observed_item_rest_r"),
    *_headings("observed_upper_lower", "observed_omitted_share", "observed_not_reached_share", "observed_rasch_b"),
    "observed_rasch_se", *_headings("observed_infit", "observed_outfit", "observed_2pl_slope"),
    "observed_inside_predicted_band", "observed_wrong_answers", "observed_wrong_fit", "observed_wrong_fit_none", "flags", "withheld", "decision", "decision_when", "decision_by", "decision_why",
)
OPTION_HEADER = (
    "item", "version", "quiz", "simulated", "response", "answer", "is_key", "credit_thousandths", "mistakes", "note",
    "n", *_headings("share"), "mean_rest", *_headings("choice_rest_r"), "lower_third_share", "middle_third_share",
    "upper_third_share", "withheld",
)
MISTAKE_HEADER = (
    "mistake", "name", "operation", "group", "simulated", "items", "possible", "shown", "shown_alone", "share",
    "share_low", "share_high", "wrong_answers", "by_guessing", "chance_of_so_many_by_accident", "pupils_with_3_chances",
    "pupils_again_and_again", "pupils_share_low", "pupils_share_high",
)


NO_WRONG = ItemWrong(0, (), 0)
"""Stands for an item that nobody answered wrongly."""


class ItemTexts:
    """What is asked and offered in items, read from the bank when it is wanted; their explainers."""

    def __init__(self, bank: Bank) -> None:
        self._bank = bank
        self._locale = bank.info.locale
        self._known = set(bank.identifiers())
        self._items: dict[str, Item] = {}
        self._explainers: dict[str, Explainer] = {}

    def item(self, identifier: str) -> Item | None:
        """Return an item, None where the bank has none of this id."""
        if identifier not in self._known:
            return None
        if identifier not in self._items:
            self._items[identifier] = next(self._bank.items([identifier], solutions=False))
        return self._items[identifier]

    def _of_version(self, identifier: str, version: int) -> Item | None:
        item = self.item(identifier)
        return item if item is not None and item.family.version == version else None

    def explainer(self, item: Item) -> Explainer:
        """Return what the wrong answers to *item* fit."""
        if item.identifier not in self._explainers:
            self._explainers[item.identifier] = explainer(item, self._locale)
        return self._explainers[item.identifier]

    def fits(self, identifier: str, version: int, response: str) -> tuple[str, ...]:
        """Return the mistakes that a response fits."""
        item = self._of_version(identifier, version)
        return self.explainer(item).explain(response) if item is not None and response else ()

    def note(self, identifier: str, version: int, response: str) -> str:
        """Return what else is to be said of a response that fits none."""
        item = self._of_version(identifier, version)
        return self.explainer(item).note(response) if item is not None and response else ""

    def answer(self, identifier: str, version: int, response: str) -> str:
        """Return what stands behind an option's identifier, or the response itself."""
        item = self._of_version(identifier, version)
        if item is not None:
            for one in offers_of(item, self._locale):
                if one.identifier and one.identifier == response:
                    return one.text
        return response

    def label(self, identifier: str, version: int, response: str) -> str:
        """Return a response as a picture names it: option and answer."""
        if not response:
            return "omitted"
        answer = self.answer(identifier, version, response)
        return answer if answer == response else f"{response} {answer}"

    def asked(self, identifier: str) -> str:
        """Return an item's question as plain text."""
        item = self.item(identifier)
        if item is None:
            return ""
        return asked_words(item, self._locale)

    @property
    def locale(self) -> Locale:
        """The bank's locale."""
        return self._locale

    @staticmethod
    def is_whole(item: Item) -> bool:
        """Whether each thing offered is a whole answer, as where one is chosen."""
        return isinstance(item.response, (Choice, ChooseInLine))

    def key(self, identifier: str) -> str:
        """Return an item's key as it is written."""
        item = self.item(identifier)
        return self._locale.number(item.key) if item is not None else ""


def _three(found: Estimate) -> tuple[Value, Value, Value]:
    return found.value, found.low, found.high


def item_rows(audit: AfterUse, held: Mapping[tuple[str, int], Decision]) -> Iterator[tuple[Value, ...]]:
    """Give one row an item and quiz, under `ITEM_HEADER`; items without answers too."""
    before = audit.before
    place_of = before.predictions.place_of()
    factor = audit.coverage.factor if audit.coverage else 1.0
    wrong = audit.explained.of_items()
    seen = set()
    for form in audit.forms:
        for item in form.items:
            seen.add(item.item)
            fits = wrong.get((item.item, item.version), NO_WRONG)
            yield _item_row(audit, item, fits, form.use, place_of, factor, held)
    predictions = before.predictions
    unread = {one.item: unread_words(one) for one in audit.unread}
    for place, facts in enumerate(before.items):
        if facts.identifier not in seen:
            decided = held.get((facts.identifier, facts.version))
            yield (
                facts.identifier, facts.version, facts.template, facts.title, facts.topic, "", "", audit.simulated,
                before.class_kind.name, predictions.version, predictions.bands[place],
                float(predictions.low_share[place]), float(predictions.high_share[place]), predictions.widened, 0, 0,
                *(None,) * 28, None, None, "", None, "", unread.get(facts.identifier, "no answers, or too few to be shown"),
                *_decision(decided),
            )


def unread_words(one: Unread) -> str:
    """Return why an item is not judged."""
    return f"not judged: {100 * one.share:.0f} % of its rows could not be read"


def _item_row(
    audit: AfterUse, item: ItemResult, fits: ItemWrong, use: str, place_of: Mapping[str, int], factor: float,
    held: Mapping[tuple[str, int], Decision],
) -> tuple[Value, ...]:
    found, facts, before = item.statistics, item.facts, audit.before
    named = (facts.template, facts.title, facts.topic) if facts else ("", "", "")
    band = before.predictions.bands[place_of[item.item]] if facts else ""
    why = "; ".join(dict.fromkeys(
        one.why for one in (found.facility, item.rest_r, item.upper_lower, item.observed, item.slope)
        if one.value is None and one.why
    ))
    return (
        item.item, item.version, *named, item.quiz, use, audit.simulated, before.class_kind.name,
        before.predictions.version, band, item.predicted.low if item.predicted else None,
        item.predicted.high if item.predicted else None, factor, found.n, found.not_given, *_three(found.facility),
        *_three(item.rest_r), *_three(item.upper_lower), *_three(found.omitted), *_three(found.not_reached),
        *_three(item.observed), item.observed_error, *_three(item.infit), *_three(item.outfit), *_three(item.slope),
        item.inside,
        fits.wrong, " ".join(f"{name}={n}" for name, n in fits.fits), fits.none,
        " ".join(flag.identifier for flag in item.flags), why, *_decision(held.get((item.item, item.version))),
    )


def _decision(decided: Decision | None) -> tuple[Value, ...]:
    return (decided.decision, decided.when, decided.by, decided.why) if decided else ("", "", "", "")


def option_rows(audit: AfterUse, texts: ItemTexts) -> Iterator[tuple[Value, ...]]:
    """Give one row an answer that was given, or an option that nobody chose, under `OPTION_HEADER`."""
    for item in audit.items:
        met = set()
        for row in item.statistics.responses:
            met.add(row.response)
            told = item.rest_r.value is not None or not item.rest_r.why
            r = _three(row.r_rest) if told else (None, None, None)
            thirds = row.thirds if told else (None, None, None)
            yield (
                item.item, item.version, item.quiz, audit.simulated, row.response or "(omitted)",
                texts.answer(item.item, item.version, row.response), row.is_key, row.credit,
                " ".join(texts.fits(item.item, item.version, row.response)) if not row.is_key else "",
                texts.note(item.item, item.version, row.response) if not row.is_key else "", row.n, *_three(row.share),
                row.mean_rest, *r, *thirds, "" if told else item.rest_r.why,
            )
        known = texts.item(item.item) if item.facts else None
        for one in offers_of(known, texts.locale) if known is not None else ():
            if one.identifier and not one.foreseen and one.identifier not in met and texts.is_whole(known):
                yield (
                    item.item, item.version, item.quiz, audit.simulated, one.identifier, one.text, one.is_key,
                    1000 if one.is_key else 0, " ".join(one.mistakes), "", 0, *(None,) * 10, "nobody chose it",
                )


def mistake_rows(audit: AfterUse) -> Iterator[tuple[Value, ...]]:
    """Give one row a mistake and group, under `MISTAKE_HEADER`; an empty group is everyone."""
    known = mistakes.load()
    for row in audit.classes:
        name = known[row.mistake].name if row.mistake in known else row.mistake
        yield (
            row.mistake, name, row.mistake.partition(".")[0], row.group, audit.simulated, row.items, row.possible,
            row.shown, row.alone, row.shown / row.possible, row.low, row.high, row.wrong, row.guessed,
            row.beyond_guessing, row.pupils_with_chances, row.pupils, row.pupils_low, row.pupils_high,
        )
