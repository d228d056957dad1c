"""The item model: what everything before makes and everything after only reads.

Records are immutable. A stem is lines of leaves (words, numerals, expressions), never markup: each
exporter escapes and spells the leaves. A worked solution is a `Trace`, rows of cells with roles.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from bank.numerals import Numeral

SIGNS = ("+", "-", "*", "/", "=", "?", "<", ">")
"""Neutral signs inside an `Expression`; a locale says how they are written."""


class Expression(NamedTuple):
    """Arithmetic to be set as mathematics, such as 3.4 + 2.56: numerals and neutral signs in reading order."""

    parts: tuple[Numeral | str, ...]


Leaf = str | Numeral | Expression
"""Words, one numeral, or one expression. A word leaf carries its own spaces."""

Line = tuple[Leaf, ...]
"""One paragraph of a text."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Unit:
    """A unit that stands beside a number: ``kg`` after it, or a currency sign before it."""

    text: str
    """What is written."""
    before: bool = False
    """True where it stands before the number without a space; otherwise after it with a space."""
    spoken: str = ""
    """How it is read aloud; empty means as written."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Locale:
    """How numbers and signs are written for one kind of class."""

    identifier: str
    """File name of the locale, such as ``en-point``."""
    language: str
    """Language tag for xml:lang, such as ``en``."""
    decimal_mark: str = "."
    """``.`` or ``,``."""
    also_accepted_marks: tuple[str, ...] = ()
    """Other decimal marks that a typed answer may use where that is not ambiguous."""
    group_mark: str = ""
    """Mark that a typed answer may have between groups of thousands, as well as a blank; empty for none. It is not the
    decimal mark."""
    multiplication: str = "\u00d7"
    division: str = "\u00f7"
    minus: str = "\u2212"
    list_separator: str = ","
    """What stands between numbers of a list; never the decimal mark."""

    def sign(self, neutral: str) -> str:
        """Return how a neutral sign of `SIGNS` is written here."""
        return {"*": self.multiplication, "/": self.division, "-": self.minus}.get(neutral, neutral)

    def number(self, numeral: Numeral) -> str:
        """Return how *numeral* is written here."""
        return numeral.text(self.decimal_mark, self.minus)


class Row(NamedTuple):
    """One row of a written method, aligned in the trace's columns."""

    role: str
    """What the row is: one of `ROLES`."""
    cells: tuple[str, ...]
    """``Trace.width`` cells, left to right, each a short text, empty where nothing is written."""
    point: int = -1
    """Index of the column right before which the decimal mark stands; -1 where the row has none."""
    sign: str = ""
    """Neutral sign written left of the row (``+``, ``-``, ``*``), or the divisor's written form in a division."""
    rule: bool = False
    """Whether a rule is drawn above the row."""
    note: str = ""
    """Short words on what this row does, such as ``carries``; spoken, and printed beside the row."""


ROLES = (
    "carry", "regrouped", "operand", "annexed", "result", "partial", "quotient", "dividend", "product",
    "remainder", "compared",
)


class Trace(NamedTuple):
    """A written method carried out on numbers: rows top to bottom, as data any exporter can lay out."""

    method: str
    """Name of the method, such as ``column-addition``."""
    operation: str
    """``add``, ``subtract``, ``multiply``, ``divide``, ``compare`` or ``round``."""
    layout: str
    """Variant of the method, such as ``decomposition``; empty where there is one only."""
    operands: tuple[Numeral, ...]
    result: Numeral
    """The answer as the method writes it."""
    rows: tuple[Row, ...]
    width: int
    steps: tuple[Line, ...]
    """The working in sentences, one line a step, in reading order: the text equivalent of the rows. A trace may have
    steps only (no rows, width 0), where nothing is written in columns."""
    facts: tuple[tuple[str, int], ...]
    """Counts for difficulty (``carries``, ``regroupings``, ``annexed_zeros``...), sorted by name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Family:
    """What all items of one template share."""

    template: str
    """Template id."""
    version: int
    title: str
    topic: str
    """Topic id."""
    codes: tuple[str, ...]
    """Curriculum codes, such as ``US-CCSSM 5.NBT.B.7``."""
    operation: str
    layout: str = ""
    unit: Unit | None = None
    places: int | None = None
    """Fixed number of places of key and options (money), or None: written without trailing zeros."""
    rounding: int | None = None
    """Places the key is rounded to where the stem asks for rounding, or None: the key is exact."""
    context: bool = False
    """Whether the stem tells a story."""
    show_solution: bool = True
    hint: tuple[Line, ...] = ()
    """General feedback for a wrong answer."""
    praise: tuple[Line, ...] = ()
    """Feedback for the right answer."""
    checksum: str = ""
    """Digest of the template file's content that matters to its items."""
    visible: str = ""
    """Digest of what a pupil could notice of the template itself: words, question and the form of the answer, not which
    numbers are drawn."""
    carried: bool = False
    """True of items that were kept as they were when their template changed: they are of an earlier state of it."""

    @property
    def key(self) -> str:
        """What a bank calls it: the template's id, with version and digest behind where it is an earlier state."""
        return f"{self.template}@v{self.version}-{self.checksum}{self.visible}" if self.carried else self.template


@dataclass(frozen=True, kw_only=True, slots=True)
class Option:
    """An answer offered."""

    identifier: str
    """``A``, ``B`` ... in the order shown."""
    numeral: Numeral
    is_key: bool
    mistakes: tuple[str, ...] = ()
    """Ids of all mistakes that lead here on these numbers; empty for the key."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Choice:
    """Choose one."""

    options: tuple[Option, ...]
    order: str = "ascending"
    """``ascending``, or ``as-in-stem`` where the stem itself lists the numbers to choose from."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TypedNumber:
    """Type the number; every equal spelling is right."""

    policy: str = "value"
    """``value``: any equal spelling; ``places``: the key's number of places is wanted too; ``exact``: only the key
    as it is written; ``unit``: any equal spelling, with the family's unit written after (or before) it."""
    mistakes: tuple[tuple[Numeral, tuple[str, ...]], ...] = ()
    """Wrong answers that mistakes give on these numbers, with the mistakes' ids."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """Something other than one number that is offered: an expression, a sign, a step of a working, words."""

    identifier: str
    """Legal identifier, unique within the response's set of offers: ``A``, ``B`` ... or ``S1``, ``T1`` ..."""
    text: Line
    """What is shown."""
    is_key: bool = False
    """Whether choosing it is right; unused where a response keeps its right answer in a field of its own."""
    mistakes: tuple[str, ...] = ()
    """Ids of the mistakes that lead here on these numbers (to choosing it, or, for a right one, to leaving it out)."""
    value: Numeral | None = None
    """What the text is worth, where it is worth a number."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ChooseSeveral:
    """Choose all that are right, such as all expressions worth 2.4; at least two are right and two are not."""

    options: tuple[Offer, ...]
    credit: str = "all"
    """``all``: one mark where exactly the right ones are chosen; ``each``: right ones less wrong ones, over the
    number of right ones, never below zero."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PutInOrder:
    """Put the offered numbers in order."""

    offers: tuple[Offer, ...]
    """In the order first shown, which is not the right one."""
    right: tuple[str, ...]
    """Identifiers in the right order."""
    direction: str = "ascending"
    """``ascending`` (smallest first) or ``descending``."""
    mistakes: tuple[tuple[tuple[str, ...], tuple[str, ...]], ...] = ()
    """(order that a mistake leads to, ids of the mistakes), each order once and never the right one."""
    credit: str = "all"
    """``all``, or ``places``: the share of the numbers that stand in their right place."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MatchPairs:
    """Match each source with its one target; some targets may be left over."""

    sources: tuple[Offer, ...]
    """Such as expressions; identifiers ``S1`` ..."""
    targets: tuple[Offer, ...]
    """Such as values; identifiers ``T1`` ...; those that no source needs come from mistakes."""
    pairs: tuple[tuple[str, str], ...]
    """(source, target) right pairs, one for each source in order."""
    mistakes: tuple[tuple[tuple[str, str], tuple[str, ...]], ...] = ()
    """((source, target), ids of the mistakes that lead to this wrong pair)."""
    credit: str = "all"
    """``all``, or ``each``: the share of sources matched right."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ChooseInLine:
    """Choose what belongs in the gap of a line, such as <, = or > between two numbers.

    The gap is where an `Expression` of the stem holds the sign ``?`` (exactly one in the whole stem)."""

    options: tuple[Offer, ...]
    """Texts are neutral signs of `SIGNS` (one word leaf each), in the fixed order <, =, >; one is the key."""


@dataclass(frozen=True, kw_only=True, slots=True)
class FindMistake:
    """A worked calculation with one wrong step is shown; the pupil marks that step, and may be asked for the answer."""

    working: Trace
    """The wrong working, complete: rows and steps as a learner with the mistake writes them."""
    steps: tuple[Offer, ...]
    """The steps that can be marked, ``S1`` ... in order; their texts are the lines of ``working.steps``."""
    right: str
    """Identifier of the wrong step (the first place where the working departs from a right one)."""
    mistake: str
    """Id of the mistake that made the step; ``working.result`` is the answer that it gives on these numbers."""
    typed: TypedNumber | None = None
    """How the right answer (`Item.key`) is to be typed as well, or None where only the step is asked."""
    credit: str = "all"
    """``all``: one mark where everything asked is right; ``each``: half for the step and half for the answer."""


Response = Choice | TypedNumber | ChooseSeveral | PutInOrder | MatchPairs | ChooseInLine | FindMistake
"""What a pupil does. `Item.key` is the number asked for; where none is asked it is the number that the right
answer begins with: the common value (`ChooseSeveral`), the first in order (`PutInOrder`), the first source's
value (`MatchPairs`), the larger number (`ChooseInLine`), the right answer of the calculation (`FindMistake`)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Prediction:
    """Difficulty expected before anyone has answered: a band, wide, never an observation."""

    band: str
    """``easier``, ``middle`` or ``harder``."""
    score: int
    """Sum of the weights, in thousandths of a logit; higher means harder."""
    low_share: int
    """Lower end of the 80 % interval of the share right, in thousandths."""
    high_share: int
    reasons: tuple[tuple[str, int, int], ...] = ()
    """(feature, value, contribution in thousandths of a logit), largest contribution first."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One question with its key, wrong options, worked solution and prediction."""

    identifier: str
    """Made of template, version and a digest of the content, see `bank.identity`; a legal NCName."""
    family: Family
    parameters: tuple[tuple[str, str], ...]
    """Drawn values by name, as written."""
    stem: tuple[Line, ...]
    operands: tuple[Numeral, ...]
    key: Numeral
    response: Response
    solution: Trace
    features: tuple[tuple[str, int], ...]
    prediction: Prediction
    shows_feedback: bool = True
    """Whether feedback and, where the family has it so, the worked solution are shown; False for items drawn for a
    quiz that shows none."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A part of a quiz, in order."""

    title: str
    items: tuple[str, ...]
    """Item ids."""
    select: int = 0
    """How many of the items a pupil is asked, drawn for each pupil anew where the quiz is taken; 0 asks all."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Quiz:
    """A set of items delivered together."""

    identifier: str
    title: str
    week: int
    sections: tuple[Section, ...]
    use: str = "practice"
    """``practice``, ``diagnosis`` or ``graded``."""
    show_feedback: bool = True
    """Feedback and worked solutions are given; off for graded use."""
    minutes: int = 0
    """Time limit in minutes; 0 means none."""
    calculator: bool = False
    attempts: int | None = None
    """How often an item may be answered, 0 without limit; None: without limit in practice, once in other use."""
    shuffled: bool = False
    """The items of a section may come in another order for each pupil."""
    withdrawn: tuple[str, ...] = ()
    """Ids of items that stood in it before they were suspended or retired. The bank still holds them, so that answers
    to them can be read; they are no part of the quiz."""

    @property
    def most_attempts(self) -> int:
        """How often an item may be answered; 0 means without limit."""
        if self.attempts is None:
            return 0 if self.use == "practice" else 1
        return self.attempts

    @property
    def items(self) -> tuple[str, ...]:
        """Item ids of all sections in order."""
        return tuple(item for section in self.sections for item in section.items)


class Correction(NamedTuple):
    """A template changed so that pupils could notice, without a new version: it mends a mistake."""

    template: str
    version: int
    visible: str
    """`Family.visible` after the change."""
    reason: str


@dataclass(frozen=True, kw_only=True, slots=True)
class BankInfo:
    """What a bank says of itself."""

    title: str
    plan: str
    """Plan id."""
    seed: int
    locale: Locale
    tool_version: str
    invented: bool = False
    """True where the plan says that its scenario is invented."""
    rights: str = ""
    checksum: str = ""
    """Digest of plan and templates."""
    corrections: tuple[Correction, ...] = ()
    """Corrections made in this bank and in those that lay in its folder before, the latest last."""
    fingerprint: str = ""
    """Digest of all that the bank holds, in letters; empty before it is written. `bank.store.Bank.check` holds the file
    to it."""
    settings: tuple[tuple[str, str], ...] = ()
    """Names and texts of the plan's own files of weights, classes and thresholds, in place of those that come along."""
    in_part: bool = False
    """Whether it was opened without listing some of its items, as packages of the whole bank do by default."""


class Finding(NamedTuple):
    """What a check says of an item."""

    check: str
    severity: str
    """``error`` (the item leaves the bank), ``warning`` or ``report``."""
    item: str
    wrong: str
    remedy: str
