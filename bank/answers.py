"""Typed answers: which spellings are right, which are right in value but not in form, and how one is read.

This room decides; marking, packages, tables, the audit and the page follow it. One policy object decides for the
item's instruction, the exported list of spellings and the mark scheme. Marking is exact: an answer is right where it is
one of the listed spellings, letter by letter, so that a package that compares texts gives the same mark as the audit,
whether the system that shows it trims answers or not.

The bound of the list, so that it is finite and the same everywhere (`MOST_FORMS` at most for keys of lessons):

- zeros at the end: every number of places from the fewest the value needs to three more than the key is
  written with (policies ``value`` and ``unit``), or just the key's places (``places`` and ``exact``);
- the bare ``.5`` where the whole part is zero, and a whole part of four digits or more in groups of three, apart by a
  blank or by the locale's mark between groups (not ``exact``);
- one or two zeros in front that are not needed (``02.5``), and ``+`` before the form as the key is written (not
  ``exact``); negative numbers with the hyphen and with the minus sign;
- the unit where the item has one, with and without a space between: with it or without (``value``, ``places``;
  not after a needless zero in front or ``+``), only with it (``unit``), never (``exact``);
- a blank before the answer, behind it, or both, where it has neither a needless zero in front nor ``+``: nobody sees
  such a blank, and keyboards of telephones write one;
- the locale's decimal mark; another mark only where the locale accepts it.

A mark that could be the decimal mark or could stand between thousands (``4.700`` where both marks are accepted) is not
right, whatever the key is; `misread_forms` lists such spellings, so that the pupil is told why.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable

from bank.model import Locale, Unit
from bank.numerals import MAX_DIGITS, Numeral
from bank.policies import MARKS, RULES, Policy

EXTRA_PLACES = 3
GROUP = 3
"""Digits of a group of thousands; as many digits after a foreign mark make a form ambiguous."""
BLANK = " "
MOST_FORMS = 400
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
    plain, needless = _forms(key, locale, policy_named(policy), unit)
    blanks = [written for form in plain for written in (form + BLANK, BLANK + form, BLANK + form + BLANK)]
    return tuple(dict.fromkeys([*plain, *needless, *blanks]))


def visible_forms(key: Numeral, locale: Locale, policy: str, unit: Unit | None) -> tuple[str, ...]:
    """Return the spellings of `accepted_forms` that differ for the eye: those without a blank at an end.

    Raises:
        ValueError: as `accepted_forms`.
    """
    plain, needless = _forms(key, locale, policy_named(policy), unit)
    return tuple(dict.fromkeys([*plain, *needless]))


def _forms(key: Numeral, locale: Locale, rules: Policy, unit: Unit | None) -> tuple[list[str], list[str]]:
    """Return the spellings of *key* without anything needless in front, the canonical one first, and those with it."""
    canonical = locale.number(key)
    if rules.unit == "must":
        if unit is None:
            raise ValueError(f"the policy {rules.name!r} wants a unit, there is none")
        numbers = [canonical, *_spellings(key, locale, rules)], _zeros_in_front(key, locale, rules)
        plain, needless = ([written for form in forms for written in _with_unit(form, unit)] for forms in numbers)
        return plain, needless
    as_written = _signed(key, _digits(key, key.places, locale.decimal_mark))
    if not rules.spare:
        return list(dict.fromkeys([canonical, *as_written])), []
    shown = [*as_written, *_groups(key, locale, (key.places,))]
    plain = [canonical, *shown, *_spellings(key, locale, rules)]
    if unit is not None:
        plain += [written for form in plain for written in _with_unit(form, unit)]
    needless = _zeros_in_front(key, locale, rules)
    if key.coefficient >= 0:
        needless += ["+" + form for form in shown]
    return list(dict.fromkeys(plain)), needless


def _spellings(key: Numeral, locale: Locale, rules: Policy) -> list[str]:
    """Return *key* with every number of zeros at the end, every mark, and in groups, as *rules* take them."""
    starts = ("", "0") if key.whole_digits == "0" else (key.whole_digits,)
    return _combined(key, locale, rules, starts) + _groups(key, locale, _endings(key, rules))


def _zeros_in_front(key: Numeral, locale: Locale, rules: Policy) -> list[str]:
    whole = key.whole_digits
    return _combined(key, locale, rules, ("0" + whole, "00" + whole))


def _endings(key: Numeral, rules: Policy) -> range:
    """Return the numbers of places that *rules* take."""
    if not rules.any_places:
        return range(key.places, key.places + 1)
    return range(len(key.decimal_digits.rstrip("0")), key.places + EXTRA_PLACES + 1)


def _combined(key: Numeral, locale: Locale, rules: Policy, starts: tuple[str, ...]) -> list[str]:
    """Return *key* with each of *starts* before the mark, and every ending and mark that *rules* take."""
    signs = (HYPHEN, MINUS) if key.coefficient < 0 else ("",)
    longest = key.decimal_digits + "0" * EXTRA_PLACES
    forms = []
    for places in _endings(key, rules):
        ending = longest[:places]
        for start in starts:
            if not places:
                forms += [sign + start for sign in signs if start]
                continue
            for mark in (locale.decimal_mark, *locale.also_accepted_marks):
                if mark == locale.decimal_mark or not _could_be_groups(start, places):
                    forms += [f"{sign}{start}{mark}{ending}" for sign in signs]
    return forms


def _could_be_groups(whole: str, places: int) -> bool:
    """Return whether *whole*, a mark and so many *places* could be read as a whole number in groups of thousands."""
    return places == GROUP and 0 < len(whole) <= GROUP and whole[0] != "0"


def wrong_mark_forms(key: Numeral, locale: Locale) -> tuple[str, ...]:
    """Return *key* as written but with a decimal mark that the locale does not take, to answer with a hint."""
    known = (locale.decimal_mark, *locale.also_accepted_marks)
    if not key.places or _could_be_groups(key.whole_digits, key.places):
        return ()
    return tuple([form for mark in MARKS if mark not in known for form in _signed(key, _digits(key, key.places, mark))])


def misread_forms(key: Numeral, locale: Locale, policy: str) -> tuple[str, ...]:
    """Return spellings of *key* with one mark before three digits that is not read here as it may be meant.

    Either the locale lets it be both, the decimal mark and a mark between thousands, or just the other one of the two.
    They have as many places as *policy* takes.
    """
    shortest, whole = key.normal(), key.whole_digits
    forms: list[str] = []
    if shortest.places <= GROUP and _could_be_groups(whole, GROUP):
        longer = locale.also_accepted_marks if policy_named(policy).any_places else ()
        meant = [mark for mark in MARKS if mark in longer or key.places == GROUP]
        forms += [form for mark in meant if mark != locale.decimal_mark
                  for form in _signed(key, _digits(shortest, GROUP, mark))]  # fmt: skip
    if not shortest.places and _could_be_groups(whole[:-GROUP], GROUP):
        decimal = (locale.decimal_mark, *locale.also_accepted_marks)
        forms += [form for mark in MARKS if mark in decimal
                  for form in _signed(key, f"{whole[:-GROUP]}{mark}{whole[-GROUP:]}")]  # fmt: skip
    return tuple(forms)


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

    More is read than is right, to tell which mistake an answer fits: blanks around it and between groups of thousands,
    the locale's mark between groups, both minus signs, a plus sign, digits of any script and the item's *unit*. A
    foreign mark is read only where the locale accepts it and it cannot stand between thousands.
    """
    text, negative = _bare(text, unit)
    whole, mark, decimals = _parted(text, locale)
    if mark and mark != locale.decimal_mark and _could_be_groups(whole, len(decimals)):
        return None
    digits = _ungrouped(whole, locale.group_mark) + decimals
    if not (digits.isascii() and digits.isdigit() and len(digits) <= MAX_DIGITS) or (mark and not decimals):
        return None
    coefficient = int(digits)
    return Numeral(-coefficient if negative else coefficient, len(decimals))


def is_ambiguous(text: str, locale: Locale, unit: Unit | None = None) -> bool:
    """Return whether *text* can be read in two ways in *locale*: as a decimal, or with a mark between thousands."""
    whole, mark, decimals = _parted(_bare(text, unit)[0], locale)
    both = mark in locale.also_accepted_marks and _could_be_groups(whole, len(decimals))
    return both and (whole + decimals).isascii() and (whole + decimals).isdigit()


def _bare(text: str, unit: Unit | None) -> tuple[str, bool]:
    """Return *text* in plain characters without blanks around it, *unit* and sign, and whether it is negative."""
    if len(text) > 4 * MAX_DIGITS:
        return "", False
    if not text.isascii():
        text = "".join(map(_plain_character, text))
    text = _without_unit(text.strip(), unit)
    negative = text[:1] == HYPHEN
    if negative or text[:1] == "+":
        text = text[1:].lstrip()
    return text, negative


def _parted(text: str, locale: Locale) -> tuple[str, str, str]:
    """Return what stands before the decimal mark of *text*, the mark, and what stands behind it."""
    mark = locale.decimal_mark
    if mark not in text:
        mark = next((other for other in locale.also_accepted_marks if other in text), "")
        if mark == locale.group_mark and text.count(mark) > 1:
            mark = ""
    if not mark:
        return text, "", ""
    return text.partition(mark)


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


def _digits(key: Numeral, places: int, mark: str) -> str:
    """Return the digits of *key* with so many *places*, without sign."""
    return key.with_places(places).text(mark).lstrip(HYPHEN)


def _signed(key: Numeral, digits: str) -> tuple[str, ...]:
    return (HYPHEN + digits, MINUS + digits) if key.coefficient < 0 else (digits,)


def _groups(key: Numeral, locale: Locale, endings: Iterable[int]) -> list[str]:
    """Return *key* in groups of thousands where it is long enough, with each number of places in *endings*."""
    whole = key.whole_digits
    if len(whole) <= GROUP:
        return []
    first = len(whole) % GROUP
    groups = ([whole[:first]] if first else []) + [whole[at : at + GROUP] for at in range(first, len(whole), GROUP)]
    longest = key.decimal_digits + "0" * EXTRA_PLACES
    forms: list[str] = []
    for places in endings:
        decimals = locale.decimal_mark + longest[:places] if places else ""
        for between in dict.fromkeys((BLANK, locale.group_mark or BLANK)):
            ambiguous = between in locale.also_accepted_marks and len(groups) == 2 and not places
            if not ambiguous:
                forms += _signed(key, between.join(groups) + decimals)
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


def _ungrouped(whole: str, group_mark: str) -> str:
    """Return *whole* without what stands between groups of thousands, or unchanged where they are no groups."""
    between = next((one for one in (BLANK, group_mark) if one and one in whole), "")
    if not between:
        return whole
    first, *groups = whole.split(between)
    if _could_be_groups(first, GROUP) and all([len(group) == GROUP for group in groups]):
        return first + "".join(groups)
    return whole
