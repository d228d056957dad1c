"""What is said to a pupil about an answer: praise, hints, what mistakes have to say; the same in every target.

All texts are given escaped as XML character data.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank import mistakes
from bank.answers import (
    foreseen_forms, misread_forms, policy_named, wrong_mark_forms, wrong_places_forms, wrong_unit_forms,
)
from bank.model import Family, Item, Line, Locale, TypedNumber, Unit
from bank.numerals import Numeral
from exporters import _layout
from exporters._text import escape, line_text

PRAISE = "This is right."
"""Said where the family has no praise of its own."""
_WRONG_MARK = "The number is right, but write the decimal mark as a %s."
_WRONG_FORM = "The number is right, but write it with %s and the decimal mark as a %s."
_TWO_WAYS = (
    "This could be read in two ways: as a decimal, or as a whole number of thousands. Use a %s as the decimal mark, and "
    "a space or nothing between thousands."
)
_BETWEEN_THOUSANDS = "Here a %s separates thousands. Use a %s as the decimal mark."
_DECIMAL_MARK = "Here a %s is the decimal mark. Put a space or nothing between thousands."
_MARK_NAMES = {".": "point", ",": "comma"}
_NO_UNIT = "The number is right, but write its unit, %s, as well."
_UNIT = "The number is right, but write it without the unit."
LANGUAGE = "en"
"""Of the tool's own phrases, of the mistakes' feedback and of worked steps; stems, hints and praise are written in the
language of the locale."""

Case = tuple[str, str, str, list[str]]
"""Name, title, what is said, and the spellings of a foreseen answer."""



class Words:
    """The words on answers of one bank, kept by family.

    *own* is an attribute of a ``span`` that marks the tool's own phrases where they stand among a writer's words.
    """

    def __init__(self, locale: Locale, own: str = "") -> None:
        self._locale = locale
        self._own = own
        self._mark = _MARK_NAMES[locale.decimal_mark]
        self._praises: dict[str, str] = {}
        self._rationales: dict[tuple[str, mistakes.Seen, tuple[str, ...]], str] = {}
        self._seen: tuple[Item | None, mistakes.Seen] = None, mistakes.Seen(False, False, "", False, False)
        """The item that was asked about last, and what remedies ask about it: its answers come one after the other."""

    def phrase(self, words: str) -> str:
        """Return the tool's own *words*, escaped already, marked as its own."""
        return f"<span{self._own}>{words}</span>" if self._own else words

    def joined(self, lines: Sequence[Line]) -> str:
        """Return *lines* as one paragraph."""
        return " ".join([line_text(line, self._locale) for line in lines])

    def praise(self, family: Family) -> str:
        """Return what is said to a right answer."""
        found = self._praises.get(family.template)
        if found is None:
            found = self._praises[family.template] = self.joined(family.praise) or self.phrase(PRAISE)
        return found

    def rationale(self, item: Item, names: tuple[str, ...]) -> str:
        """Return the one remedy for an answer to *item* that the mistakes *names* lead to, and then the family's hint."""
        seen, family = self._seen_of(item), item.family
        found = self._rationales.get((family.template, seen, names))
        if found is None:
            found = _words_of(seen, names)
            hint = self.joined(family.hint)
            if hint not in found:
                found = f"{self.phrase(found) if found else ''} {hint}".strip()
            elif found:
                found = self.phrase(found)
            self._rationales[family.template, seen, names] = found
        return found

    def reasons(self, item: Item, names: tuple[str, ...]) -> str:
        """Return the one remedy for an answer to *item* that the mistakes *names* lead to."""
        found = _words_of(self._seen_of(item), names)
        return self.phrase(found) if found else ""

    def _seen_of(self, item: Item) -> mistakes.Seen:
        if self._seen[0] is not item:
            self._seen = item, mistakes.seen_of(item)
        return self._seen[1]

    def foreseen(self, item: Item, response: TypedNumber, forms: Sequence[str]) -> list[Case]:
        """Return the foreseen answers to *item* that are wrong, or not in the form wanted, each with its own spellings.

        *forms* are the spellings that are right.
        """
        locale, policy, unit, key = self._locale, response.policy, item.family.unit, item.key
        cases = [
            (f"mistake{at}", "Look again", self.rationale(item, names),
             foreseen_forms(wrong, key, locale, policy, unit))
            for at, (wrong, names) in enumerate(mistakes.best_known(response.mistakes), 1)
        ]
        cases += [self._wrong_form(key, policy), self._misread(key, policy)]
        if unit is not None:
            cases.append(self._wrong_unit(key, policy, unit))
        found, taken = [], set(forms)
        for name, title, said, spelled in cases:
            new = [form for form in spelled if form not in taken]
            if said and new:
                taken.update(new)
                found.append((name, title, said, new))
        return found

    def _wrong_form(self, key: Numeral, policy: str) -> tuple[str, str, str, tuple[str, ...]]:
        """Return the case of a right number in a form that is not taken: places, or mark, or both in one."""
        places, mark = wrong_places_forms(key, self._locale, policy), wrong_mark_forms(key, self._locale)
        said = _WRONG_FORM % (_layout.places_text(key.places), self._mark) if places else _WRONG_MARK % self._mark
        return "form", "Nearly", self.phrase(said), places + mark

    def _misread(self, key: Numeral, policy: str) -> tuple[str, str, str, tuple[str, ...]]:
        """Return the case of a mark before three digits that is read otherwise here, or in two ways."""
        locale, forms = self._locale, misread_forms(key, self._locale, policy)
        other = next(mark for mark in _MARK_NAMES if mark != locale.decimal_mark)
        if other in locale.also_accepted_marks and any([other in form for form in forms]):
            forms = tuple([form for form in forms if other in form])
            said = _TWO_WAYS % self._mark
        elif key.normal().places:
            said = _BETWEEN_THOUSANDS % (_MARK_NAMES[other], self._mark)
        else:
            said = _DECIMAL_MARK % self._mark
        return "reading", "Look again", self.phrase(said), forms

    def _wrong_unit(self, key: Numeral, policy: str, unit: Unit) -> tuple[str, str, str, tuple[str, ...]]:
        """Return the case of a right number without the unit that is wanted, or with one that is not."""
        wanted = policy_named(policy).unit == "must"
        said = _NO_UNIT % escape(unit.text) if wanted else _UNIT
        return "unit", "Nearly", self.phrase(said), wrong_unit_forms(key, self._locale, policy, unit)


def _words_of(seen: mistakes.Seen, names: tuple[str, ...]) -> str:
    """Return the words of the one remedy, escaped; empty where the library knows no mistake of *names*."""
    found = mistakes.remedy(seen, names)
    return escape(found[1].words) if found else ""


@lru_cache(maxsize=4096)
def is_known(names: tuple[str, ...]) -> bool:
    """Return whether the library knows any of the mistakes *names*, so that it has something to say."""
    known = mistakes.load()
    return any([name in known for name in names])


def own_language(locale: Locale) -> str:
    """Return the attribute that marks the tool's own phrases; empty where they are in the locale's language."""
    return "" if locale.language.partition("-")[0].lower() == LANGUAGE else f' xml:lang="{LANGUAGE}"'
