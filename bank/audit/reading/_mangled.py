"""Answers that a spreadsheet or a web page has changed on the way: read where that is safe, else refused with the reason.

Safe is what can have been one answer only: markup and quotes around it; a letter with its option behind it; a decimal
that a computer's binary arithmetic has blurred, where the item's answers leave one reading. A date stands for a number
that nobody can tell any more. All arithmetic is of whole numbers.
"""

from __future__ import annotations

import html
import re

from bank.answers import policy_named, read_answer
from bank.audit.harmless import looks_like_date
from bank.audit.marking import Marked, Marker
from bank.model import Choice, ChooseInLine, FindMistake, Item, Locale, TypedNumber
from bank.numerals import Numeral

_TAG = re.compile(
    r"(?i)</?(?:a|b|bdi|big|br|center|code|div|em|font|h[1-6]|i|li|mark|math|mn|mrow|ol|p|pre|small|span|strong|sub|sup|"
    r"table|tbody|td|th|tr|tt|u|ul)(?:\s[^<>]*)?/?>"
)
_ENTITY = re.compile(r"&(?:#[0-9]{1,7}|#[xX][0-9A-Fa-f]{1,6}|[A-Za-z]{2,31});")
_WRAPPED = tuple(re.compile(form, re.DOTALL) for form in (
    r'="(.*)"', r'"(.*)"', r"'(.*)'", r"\u201c(.*)\u201d", r"\u201e(.*)[\u201c\u201d]", r"'(?=[-+\u2212.,<>=\w])(.*)",
))
"""What a spreadsheet or its owner puts around a number so that it stays as it is; the last is a guard before it."""
_LAYERS = 4
_LETTERED = re.compile(r"\(?\s*([A-Za-z][0-9]?)\s*[.):\]]\)?\s*(.*)", re.DOTALL)
_DECIMAL = re.compile(r"([-+\u2212]?)([0-9]{1,20})(?:[.,]([0-9]{1,30}))?(?:[eE]([-+]?[0-9]{1,2}))?")
_BLURRED_FROM = 15
"""Significant digits from which on a decimal may be blurred: a double holds 15 to 17 (IEEE 754)."""
_KEPT = 12
"""Significant digits that are kept of a blurred decimal. Our own choice."""
_SHORTEST = 9
"""Most significant digits of what it then is; a longer one may be meant as it stands. Our own choice."""
_BLUR = 10**13
"""One part in so many is the most that a decimal may be off its short form. Our own choice: some hundred roundings."""
_REMEMBERED = 4096
DATE = (
    "the answer is a date: a spreadsheet has probably made one of a number; export the results again and open them with"
    " this column set to text"
)
TWO = "the letter and what follows it belong to different options"
PLACES = "the number was blurred on its way, and how many places it was written with can no longer be told"
ZERO = "marked as right where the answers are from, and wrong here for a missing final zero: a spreadsheet has probably" \
    " dropped it; export the results again with this column set to text"


def unwrapped(text: str) -> str:
    """Return *text* without markup, entities, quotes and guards around it; the very text where there are none."""
    found = text
    for _ in range(_LAYERS):
        before = found
        if "<" in found:
            found = _TAG.sub("", found)
        if "&" in found:
            found = _ENTITY.sub(lambda entity: html.unescape(entity[0]).replace("\u00a0", " "), found)
        for form in _WRAPPED:
            inner = form.fullmatch(found.strip())
            if inner is not None:
                found = inner[1]
                break
        if found == before:
            break
    return text if found == text else found.strip()


def unblurred(text: str) -> Numeral | None:
    """Return the short decimal that *text* was before a computer blurred it, None where it does not look so.

    47.699999999999996 is 47.7; so is 4.77E+01.
    """
    found = _DECIMAL.fullmatch(text.strip())
    if found is None:
        return None
    sign, whole, decimals, exponent = found[1], found[2], found[3] or "", int(found[4] or 0)
    digits = whole + decimals
    coefficient, places = int(digits), len(decimals) - exponent
    length = len(digits.lstrip("0"))
    if length >= _BLURRED_FROM:
        unit = 10 ** (length - _KEPT)
        short = (2 * coefficient + unit) // (2 * unit)
        if abs(coefficient - short * unit) * _BLUR > coefficient:
            return None
        coefficient, places = short, places - (length - _KEPT)
        while coefficient % 10 == 0 and coefficient:
            coefficient, places = coefficient // 10, places - 1
        if len(str(coefficient)) > _SHORTEST:
            return None
    elif found[4] is None:
        return None
    if places < 0:
        coefficient, places = coefficient * 10**-places, 0
    if len(str(coefficient)) > 2 * _SHORTEST or places > 2 * _SHORTEST:
        return None
    return Numeral(-coefficient if sign in ("-", "\u2212") else coefficient, places)


def lost_a_zero(item: Item, locale: Locale, text: str) -> bool:
    """Whether *text* is the typed key but for zeros at its end, where the policy asks for them."""
    if not isinstance(item.response, TypedNumber):
        return False
    number = read_answer(unwrapped(text), locale, item.family.unit)
    return number is not None and number == item.key and number.places < item.key.places


class MendingMarker(Marker):
    """Marks responses as results hold them: what was changed on the way is put right first, or refused."""

    def __init__(self, item: Item, locale: Locale) -> None:
        super().__init__(item, locale)
        self.locale = locale
        self._mended: dict[str, str] = {}

    def mark(self, text: str) -> Marked:
        """Return canonical spelling and credit of *text*, a response that is not empty.

        Raises:
            ValueError: the item offers no such thing, or what was answered can no longer be told; the message says it.
        """
        mended = self._mended.get(text)
        if mended is None:
            mended = self._mend(text)
            if len(self._mended) < _REMEMBERED:
                self._mended[text] = mended
        return super().mark(mended)

    def _mend(self, text: str) -> str:
        plain = unwrapped(text)
        if not plain.strip():
            raise ValueError("there is markup and no answer in it")
        response = self.item.response
        if isinstance(response, TypedNumber):
            return self._typed(response, plain)
        if isinstance(response, (Choice, ChooseInLine)) or isinstance(response, FindMistake) and not response.typed:
            return self._one(plain)
        return plain

    def _one(self, plain: str) -> str:
        found = _LETTERED.fullmatch(plain.strip())
        if found is not None:
            letter = super().mark(found[1]).response
            if found[2] and super().mark(self._number(found[2])).response != letter:
                raise ValueError(TWO)
            return letter
        return self._number(plain)

    def _number(self, plain: str) -> str:
        """Return a number that stands for an option, unblurred."""
        if looks_like_date(plain):
            raise ValueError(DATE)
        number = unblurred(plain)
        return plain if number is None else self.locale.number(number)

    def _typed(self, response: TypedNumber, plain: str) -> str:
        if looks_like_date(plain):
            raise ValueError(DATE)
        number = unblurred(plain)
        if number is None:
            return plain
        if number == self.item.key and not policy_named(response.policy).any_places:
            raise ValueError(PLACES)
        return self.locale.number(number)
