"""Strings as pupils may type them, drawn by lot, and the marks that every exported file's own rules give them.

Rules are carried out by interpreters that the exporters' code had no part in: `qti_rules` (QTI 2.1, 2.2, 3.0) and
`cartridge_rules` (QTI 1.2.1), and a second time by the interpreter that exports are read back with.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import lru_cache

from lxml import etree

import kind_items
import policy_items
import sampler
from bank.audit.marking import FULL, Marker
from bank.locales import load_locale
from bank.marking import most_marks
from bank.model import FindMistake, Item, Locale, TypedNumber
from bank.numerals import Numeral
from cartridge_rules import Question
from exported import QTI, version
from exporters import _cc_files
from exporters._cc_item import ItemWriter
from exporters._item import Renderer
from exporters._scoring import Rules
from items import item
from qti_rules import Session

TARGETS = (*QTI, "cc13")
LOCALES = tuple([load_locale(name) for name in ("en-point", "en-comma", "en-either")])
_BLANKS = ("", "", "", "", " ", " ", "  ", "\u00a0", "\u2009", "\u202f", "\t", "\u3000")
_BETWEEN = ("", "", " ", ",", ".", "'", "\u2019", "\u00a0", "\u2009", "\u202f")
_SIGNS = ("", "", "", "", "", "+", "-", "\u2212", "\uff0b", "\u2013", "++")
_MARKS = (".", ",", ".", ",", "\u00b7", "\uff0e")
_WIDE = str.maketrans("0123456789", "\uff10\uff11\uff12\uff13\uff14\uff15\uff16\uff17\uff18\uff19")
_MORE = "0123456789.,+- \u2212$kgm"


def _sum(*operands: str, policy: str = "value", **of: object) -> Item:
    name = f"sum-{'-'.join(operands).replace('.', '_')}-{policy}"
    return item("add", operands=operands, typed=True, policy=policy, identifier=name, of={**of, "template": name})


ITEMS: tuple[Item, ...] = (
    *policy_items.ITEMS, _sum("9876", "266"), _sum("9876", "266", policy="exact"), _sum("9.1", "1.042"),
    _sum("0.1", "0.042"), _sum("9.1", "1.042", policy="places", places=3), _sum("30.5", "5.5"),
    _sum("1034000", "566", policy="unit", unit="m"), _sum("10000.25", "142.5", places=2),
    *[one for one in kind_items.ITEMS if isinstance(one.response, FindMistake) and one.response.typed is not None],
)  # fmt: skip
"""Typed numbers of every policy, with units, with four digits and more, below one, with three places; and with a step."""


def typed_policy(one: Item) -> str:
    """Return the policy of what is typed in *one*."""
    response = one.response.typed if isinstance(one.response, FindMistake) else one.response
    assert isinstance(response, TypedNumber)
    return response.policy


def typed_string(one: Item, lots: random.Random) -> str:
    """Return what a pupil may type to *one*: its key, or a number near it, in some way of writing."""
    value = one.key
    if lots.random() < 0.25:
        value = lots.choice((
            Numeral(value.coefficient + lots.choice((-1, 1, 10)), value.places), Numeral(value.coefficient, 0),
            Numeral(value.coefficient, max(0, value.places - 1)), Numeral(value.coefficient, 3),
            Numeral(value.coefficient * 1000, value.places),
        ))
    shortest = value.normal()
    value = value if lots.random() < 0.5 else shortest.with_places(lots.randint(shortest.places, shortest.places + 4))
    whole, decimals = value.whole_digits, value.decimal_digits
    between = lots.choice(_BETWEEN)
    if between and len(whole) > 3:
        at = len(whole) % 3 or 3
        whole = between.join([whole[:at], *[whole[here : here + 3] for here in range(at, len(whole), 3)]])
    if lots.random() < 0.2:
        whole = lots.choice(("0", "00", "000")) + whole
    if whole == "0" and lots.random() < 0.3:
        whole = ""
    text = whole + (lots.choice(_MARKS) + decimals if decimals else lots.choice(("", "", "", ".", ",")))
    if lots.random() < 0.08:
        text = text.translate(_WIDE)
    text = lots.choice(_SIGNS) + text
    unit = one.family.unit
    if unit is not None and lots.random() < 0.4:
        gap = lots.choice(_BLANKS)
        text = unit.text + gap + text if lots.random() < (0.8 if unit.before else 0.2) else text + gap + unit.text
    if lots.random() < 0.05:
        at = lots.randint(0, len(text))
        text = text[:at] + lots.choice(_MORE) + text[at:]
    return lots.choice(_BLANKS) + text + lots.choice(_BLANKS)


Mark = Callable[[str], int]
"""Takes what is typed and returns marks."""


def audit_mark(one: Item, locale: Locale) -> Mark:
    """Return the audit's marking of what is typed to *one*; a step to be found is found."""
    marker, most = Marker(one, locale), most_marks(one.response)

    def mark(text: str) -> int:
        given = f"{one.response.right} {text}" if isinstance(one.response, FindMistake) else text
        return marker.mark(given).credit * most // FULL

    return mark


@lru_cache(maxsize=None)
def package_mark(one: Item, locale: Locale, target: str) -> Mark | None:
    """Return the marking that the file of *one* in *target* states; None where the target does not ask for a number."""
    if target == "cc13":
        return _cartridge_mark(one, locale)
    session = Session(Renderer(version(target), sampler.info(locale)).item(one, True))

    def mark(text: str) -> int:
        found = session.answer({"RESPONSE": one.response.right, "ANSWER": text} if _has_step(one) else text)
        return int(found["SCORE"])

    return mark


def _has_step(one: Item) -> bool:
    return isinstance(one.response, FindMistake)


def _cartridge_mark(one: Item, locale: Locale) -> Mark | None:
    if _has_step(one):
        return None
    element = ItemWriter(sampler.info(locale)).item(one, True)
    question = Question(etree.fromstring(f'<items xmlns="{_cc_files.NAMESPACE}">{element}</items>')[0])
    return lambda text: question.mark(text)[0] // 100


def read_back_mark(one: Item, locale: Locale, target: str) -> Mark | None:
    """Return the marking by the rules as `exporters._scoring` carries them out; None where there is a step too."""
    if _has_step(one):
        return None
    record = version(target)
    root = etree.fromstring(Renderer(record, sampler.info(locale)).item(one, True))
    (processing,) = root.iterchildren(record.tag("responseProcessing"))
    mapping = {
        entry.get(record.attribute("mapKey")) or "": entry.get(record.attribute("mappedValue")) or ""
        for entry in root.iter(record.tag("mapEntry"))
    }
    rules = Rules(record)
    return lambda text: int(rules.run(processing, text or None, "", mapping)["SCORE"])


def with_locale(one: Item, locale: Locale) -> Item:
    """Return *one* under an id of its own for *locale*."""
    return replace(one, identifier=f"{one.identifier}-{locale.identifier}")
