"""Checks of units and money: named in the stem, of one system, amounts written in full."""

from __future__ import annotations

from bank.checks import FINE, Complaints, check
from bank.checks._look import Look, Wording
from bank.checks._text import words_of
from bank.model import Family
from bank.numerals import Numeral

CURRENCY_SIGNS = frozenset("$\u00a3\u20ac\u00a5\u20b9\u20a9\u20ba\u20bd\u0e3f\u20ab\u20aa")
METRIC = frozenset(
    "mm cm dm m km mg g kg t ml cl dl l millimetre millimetres millimeter millimeters centimetre centimetres "
    "centimeter centimeters metre metres meter meters kilometre kilometres kilometer kilometers gram grams kilogram "
    "kilograms litre litres liter liters millilitre millilitres milliliter milliliters".split()
)
OTHER_SYSTEM = frozenset(
    "inch inches foot feet ft yard yards mile miles ounce ounces oz lb lbs pint pints gallon gallons".split()
)


@check(
    "unit-in-the-stem", severity="error", about="wording",
    rule="the stem names the unit that stands with key and options",
    why="A unit that appears in the options only is a riddle, and a typed answer has none at all.",
    source="NBME, Constructing Written Test Questions (wording from memory)",
)
def unit_in_the_stem(wording: Wording) -> Complaints:
    """Complain about a unit that the stem does not name."""
    unit = wording.family.unit
    if unit is None:
        return FINE
    names = {unit.text.lower(), unit.spoken.lower()} - {""}
    words = wording.text.lower()
    for name in names:
        if name in (words_of(words) if name.isalpha() else words):
            return FINE
        if name.isalpha() and f"{name}s" in words_of(words):
            return FINE
    return ((f"the stem does not say {unit.text!r}", f"ask for the answer in {unit.text}"),)


@check(
    "one-system-of-units", severity="error", about="wording", rule="units of two systems do not meet in one stem",
    why="Conversion between systems is another objective.", source="common practice, no source",
)
def one_system_of_units(wording: Wording) -> Complaints:
    """Complain about metric and other units together."""
    words = set(words_of(wording.text))
    metric, other = sorted(words & METRIC), sorted(words & OTHER_SYSTEM)
    if metric and other:
        return ((f"{metric[0]} and {other[0]} stand in one stem", "keep to one system"),)
    return FINE


@check(
    "money-has-its-places", severity="error", about="family",
    rule="where answers are amounts of money, the family fixes their number of places",
    why="Amounts are written in full; 3.5 beside a currency sign is no amount.", source="common practice, no source",
)
def money_has_its_places(family: Family) -> Complaints:
    """Complain about a currency without fixed places."""
    if family.unit is None or family.places is not None or not CURRENCY_SIGNS & set(family.unit.text):
        return FINE
    return ((f"answers in {family.unit.text} have no fixed number of places", "fix the places of the family"),)


@check(
    "amounts-in-full", severity="warning",
    rule="an amount behind a currency sign is whole or has the currency's places",
    why="Pupils learn the form that they see.", source="common practice, no source",
)
def amounts_in_full(look: Look) -> Complaints:
    """Complain about amounts in the stem with other places than the family fixes."""
    unit, places = look.family.unit, look.family.places
    if unit is None or not unit.before or places is None:
        return FINE
    for line in look.item.stem:
        sign = False
        for leaf in line:
            if type(leaf) is Numeral and sign and leaf.places not in (0, places):
                return ((f"{unit.text}{leaf} stands in the stem", f"write it with {places} places"),)
            sign = type(leaf) is str and leaf.endswith(unit.text)
    return FINE
