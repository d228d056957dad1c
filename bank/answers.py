"""Typed answers: which spellings are right, which are right in value but not in form, and how one is read.

One policy object decides for the item's instruction, the exported list of spellings and the mark scheme. Scoring is
exact: an answer is right where it is one of the listed spellings, letter by letter.

The bound of the list, so that it is finite and the same everywhere (`MOST_FORMS` at most for keys of lessons):

- zeros before the whole part: none, one or two more than needed (``02.5``); the bare ``.5`` where the whole part is
  zero (policy ``exact``: neither, the key stands just as it is written);
- zeros at the end: every number of places from the fewest the value needs to three more than the key is
  written with (policies ``value`` and ``unit``), or just the key's places (``places`` and ``exact``);
- the form as the key is written also with ``+`` before it and with its whole part in groups of three between spaces
  (not ``exact``); negative numbers with the hyphen and with the minus sign;
- the unit where the item has one, with and without a space between: with it or without (``value``, ``places``), only
  with it (``unit``), never (``exact``);
- the locale's decimal mark; another mark only where the locale accepts it, and never before exactly three
  digits, where it could be meant as a separator of thousands.

Spaces around an answer are not listed: whoever takes the answer in cuts them off, as `read_answer` does.
"""

from __future__ import annotations

import unicodedata

from bank.model import Locale, Unit
from bank.numerals import MAX_DIGITS, Numeral
from bank.policies import MARKS, RULES, Policy

EXTRA_PLACES = 3
GROUP = 3
"""Digits of a group of thousands; as many digits after a foreign mark make a form ambiguous."""
MOST_FORMS = 100
"""Most spellings of a key of up to nine digits with up to three places, in a locale with one mark; twice as many where
another mark is accepted too. A test holds it."""

HYPHEN, MINUS = "-", "\u2212"


def policy_named(name: str) -> Policy:
    """Return the policy with this *name*.

    Raises:
        ValueError: there is none.
    """
    if name not in RULES:
        raise ValueError(f"no policy named {name!r}; there are {', '.join(RULES)}")
    return RULES[name]


def accepted_forms(key: Numeral, locale: Locale, policy: str, unit: Unit | None) -> tuple[str, ...]:
    """Return every spelling of *key* that *policy* takes as right, the canonical one first, in a fixed order.

    Raises:
        ValueError: *policy* is none of `bank.policies.POLICIES`, or it wants a unit and *unit* is None.
    """
    rules = policy_named(policy)
    if rules.unit == "must":
        if unit is None:
            raise ValueError(f"the policy {policy!r} wants a unit, there is none")
        numbers = dict.fromkeys([locale.number(key), *_groups(key, locale), *_spellings(key, locale, rules)])
        return tuple(dict.fromkeys([written for form in numbers for written in _with_unit(form, unit)]))
    if not rules.spare:
        return tuple(dict.fromkeys([locale.number(key), *_signed(key, _digits(key, key.places, locale.decimal_mark))]))
    plain = _plain_forms(key, locale)
    forms = [locale.number(key), *plain, *_spellings(key, locale, rules)]
    if key.coefficient >= 0:
        forms += ["+" + form for form in plain]
    if unit is not None:
        forms += [written for form in plain for written in _with_unit(form, unit)]
    return tuple(dict.fromkeys(forms))


def _spellings(key: Numeral, locale: Locale, rules: Policy) -> list[str]:
    """Return *key* with every number of zeros in front and at the end, and every mark, that *rules* take."""
    whole, decimals = key.whole_digits, key.decimal_digits
    wholes = [whole, "0" + whole, "00" + whole]
    longest, fewest = decimals, key.places
    if rules.any_places:
        longest, fewest = decimals + "0" * EXTRA_PLACES, len(decimals.rstrip("0"))
    signs = (HYPHEN, MINUS) if key.coefficient < 0 else ("",)
    forms = []
    for places in range(fewest, len(longest) + 1):
        if not places:
            forms += [sign + form for form in wholes for sign in signs]
            continue
        starts = ["", *wholes] if whole == "0" else wholes
        ending = longest[:places]
        for mark in _marks(locale, places):
            forms += [f"{sign}{start}{mark}{ending}" for start in starts for sign in signs]
    return forms


def wrong_mark_forms(key: Numeral, locale: Locale) -> tuple[str, ...]:
    """Return *key* as written but with a decimal mark that the locale does not take, to answer with a hint."""
    known = (locale.decimal_mark, *locale.also_accepted_marks)
    if not key.places or key.places == GROUP:
        return ()
    return tuple([form for mark in MARKS if mark not in known for form in _signed(key, _digits(key, key.places, mark))])


def wrong_places_forms(key: Numeral, locale: Locale, policy: str) -> tuple[str, ...]:
    """Return spellings of *key* with a number of places that *policy* does not take, to answer with a hint.

    They go from the fewest places the value needs to one more than is wanted.
    """
    if policy_named(policy).any_places:
        return ()
    wrong = [places for places in range(key.normal().places, key.places + 2) if places != key.places]
    return tuple([form for places in wrong for form in _signed(key, _digits(key, places, locale.decimal_mark))])


def wrong_unit_forms(key: Numeral, locale: Locale, policy: str, unit: Unit | None) -> tuple[str, ...]:
    """Return spellings of *key* without the unit that *policy* wants, or with one that it does not take, for a hint."""
    rules = policy_named(policy)
    plain = _signed(key, _digits(key, key.places, locale.decimal_mark))
    if rules.unit == "must":
        return plain
    if rules.unit == "not" and unit is not None:
        return tuple([written for form in plain for written in _with_unit(form, unit)])
    return ()


def foreseen_forms(
    wrong: Numeral, key: Numeral, locale: Locale, policy: str = "value", unit: Unit | None = None
) -> tuple[str, ...]:
    """Return the usual spellings of a *wrong* answer: as it is, shortest, and with as many places as the *key*.

    Where *policy* wants a *unit*, they come without it and with it.
    """
    shortest = wrong.normal()
    written = {wrong.places: wrong, shortest.places: shortest}
    if key.places > shortest.places:
        written[key.places] = shortest.with_places(key.places)
    forms = [
        form
        for numeral in written.values()
        for form in _signed(numeral, _digits(numeral, numeral.places, locale.decimal_mark))
    ]
    if unit is not None and policy_named(policy).unit == "must":
        forms += [united for form in forms for united in _with_unit(form, unit)]
    return tuple(forms)


def read_answer(text: str, locale: Locale, unit: Unit | None = None) -> Numeral | None:
    """Return the numeral that *text* means in *locale*, or None where it means none or could mean two.

    Spaces around and between groups of thousands, both minus signs, a plus sign, digits of any script and the
    item's *unit* are read. A foreign mark is read only where the locale accepts it and it cannot be a
    separator of thousands.
    """
    if len(text) > 4 * MAX_DIGITS:
        return None
    if not text.isascii():
        text = "".join(map(_plain_character, text))
    text = _without_unit(text.strip(), unit)
    negative = text[:1] == HYPHEN
    if negative or text[:1] == "+":
        text = text[1:].lstrip()
    mark = locale.decimal_mark
    if mark not in text:
        mark = next((other for other in locale.also_accepted_marks if other in text), "")
    whole, _, decimals = text.partition(mark) if mark else (text, "", "")
    if " " in whole:
        whole = _ungrouped(whole)
    digits = whole + decimals
    if not (digits.isascii() and digits.isdigit() and len(digits) <= MAX_DIGITS) or (mark and not decimals):
        return None
    if mark and mark != locale.decimal_mark and len(decimals) == GROUP:
        return None
    coefficient = int(digits)
    return Numeral(-coefficient if negative else coefficient, len(decimals))


def instruction(policy: str, key: Numeral, unit: Unit | None = None) -> str:
    """Return the sentence that tells the pupil which form is wanted; *unit* is the item's."""
    rules = policy_named(policy)
    if rules.unit == "must":
        if unit is None:
            return "Type the number with its unit."
        return f"Type the number with {unit.text} {'before' if unit.before else 'after'} it."
    places = f"with {key.places} decimal {'place' if key.places == 1 else 'places'}"
    if not rules.spare:
        if key.same_writing(key.normal()):
            return "Type the number only, without zeros that can be left out."
        return f"Type the number only, {places} and without zeros in front that can be left out."
    if not rules.any_places and key.places:
        return f"Type the number only, {places}."
    return "Type the number only."


def mark_scheme(policy: str, key: Numeral, locale: Locale, unit: Unit | None) -> str:
    """Return the line of a mark scheme for a typed answer: the key as it is written, and what else is right."""
    rules = policy_named(policy)
    first = accepted_forms(key, locale, policy, unit)[0]
    rule = rules.rule
    if unit is None:
        rule = rule.removesuffix("; the unit may be left out").removesuffix(", without a unit")
    return f"{first} ({rule})"


def _marks(locale: Locale, places: int) -> tuple[str, ...]:
    if not places:
        return ("",)
    if places == GROUP:
        return (locale.decimal_mark,)
    return (locale.decimal_mark, *locale.also_accepted_marks)


def _digits(key: Numeral, places: int, mark: str) -> str:
    """Return the digits of *key* with so many *places*, without sign."""
    return key.with_places(places).text(mark).lstrip(HYPHEN)


def _signed(key: Numeral, digits: str) -> tuple[str, ...]:
    return (HYPHEN + digits, MINUS + digits) if key.coefficient < 0 else (digits,)


def _plain_forms(key: Numeral, locale: Locale) -> list[str]:
    """Return *key* as it is written, and in groups of thousands where it is long enough."""
    return [*_signed(key, _digits(key, key.places, locale.decimal_mark)), *_groups(key, locale)]


def _groups(key: Numeral, locale: Locale) -> list[str]:
    """Return *key* in groups of thousands where it is long enough."""
    forms: list[str] = []
    whole = key.whole_digits
    if len(whole) > GROUP:
        first = len(whole) % GROUP
        groups = ([whole[:first]] if first else []) + [whole[at : at + GROUP] for at in range(first, len(whole), GROUP)]
        decimals = locale.decimal_mark + key.decimal_digits if key.places else ""
        forms += _signed(key, " ".join(groups) + decimals)
    return forms


def _with_unit(form: str, unit: Unit) -> tuple[str, ...]:
    if not unit.before:
        return (f"{form} {unit.text}", form + unit.text)
    if form[0] in (HYPHEN, MINUS):
        return (form[0] + unit.text + form[1:],)
    return (unit.text + form, f"{unit.text} {form}")


def _without_unit(text: str, unit: Unit | None) -> str:
    if unit is None:
        return text
    if not unit.before:
        return text.removesuffix(unit.text).rstrip()
    sign = text[:1] if text[:1] in ("+", HYPHEN) else ""
    return sign + text.removeprefix(sign).removeprefix(unit.text).lstrip()


def _plain_character(character: str) -> str:
    """Return the ASCII space, digit or hyphen that *character* stands for, or itself."""
    if character.isascii():
        return character
    if character == MINUS:
        return HYPHEN
    digit = unicodedata.decimal(character, None)
    if digit is not None:
        return str(digit)
    return " " if unicodedata.category(character) == "Zs" else character


def _ungrouped(whole: str) -> str:
    """Return *whole* without the spaces between groups of thousands, or unchanged where they are no groups."""
    first, *groups = whole.split(" ")
    if 0 < len(first) <= GROUP and all(len(group) == GROUP for group in groups):
        return first + "".join(groups)
    return whole
