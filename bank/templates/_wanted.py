"""How a template's items are answered, as read: data only."""

from __future__ import annotations

from typing import NamedTuple

from bank.expressions import Part
from bank.templates._stems import StemPart


class ChoiceWanted(NamedTuple):
    """The item is answered by choosing."""

    distractors: int | None = None
    """How many wrong options, None where the template does not say."""


class NumberWanted(NamedTuple):
    """The item is answered by typing a number."""

    policy: str = "value"
    """As `bank.model.TypedNumber.policy`."""


Shown = tuple[Part | str, ...]
"""Names, numbers and neutral signs in reading order."""


class Offered(NamedTuple):
    """One thing that may be offered: an expression, words, or the wrong answer of a mistake."""

    text: Shown = ()
    """The expression; empty for the others."""
    words: tuple[StemPart, ...] = ()
    worth: Part | None = None
    """What it is worth; None for the answer of a mistake."""
    mistake: str = ""
    of: tuple[Part, ...] = ()
    """Numbers that the mistake works on."""


class SeveralWanted(NamedTuple):
    """All that are worth the key are chosen; as `bank.model.ChooseSeveral`."""

    right: tuple[Offered, ...]
    wrong: tuple[Offered, ...]
    options: int
    credit: str = "all"


class OrderWanted(NamedTuple):
    """The operands are put in order; as `bank.model.PutInOrder`."""

    direction: str = "ascending"
    credit: str = "all"


class PairsWanted(NamedTuple):
    """Sources are matched with their values; as `bank.model.MatchPairs`."""

    sources: tuple[Offered, ...]
    pairs: int = 3
    left_over: int = 1
    credit: str = "all"


class LineWanted(NamedTuple):
    """The sign that belongs in the gap is chosen; as `bank.model.ChooseInLine`."""

    sides: tuple[Shown, ...] = ()
    """What stands left and right; empty where the two operands do."""


class FindWanted(NamedTuple):
    """The wrong step of a working is marked; as `bank.model.FindMistake`."""

    slips: tuple[str, ...] = ()
    """Ids of the mistakes whose workings may be shown; empty for all that have one."""
    policy: str = ""
    """As `bank.model.TypedNumber.policy` where the right answer is typed as well; empty where it is not."""
    credit: str = "all"


ResponseWanted = (
    ChoiceWanted | NumberWanted | SeveralWanted | OrderWanted | PairsWanted | LineWanted | FindWanted
)
KINDS: dict[type, str] = {
    ChoiceWanted: "choice", NumberWanted: "number", SeveralWanted: "choose-several", OrderWanted: "put-in-order",
    PairsWanted: "match-pairs", LineWanted: "choose-in-line", FindWanted: "find-mistake",
}
"""Names of the kinds, as they are written in templates and plans."""


def offers_of(wanted: ResponseWanted) -> tuple[Offered, ...]:
    """Return everything that may be offered."""
    if isinstance(wanted, SeveralWanted):
        return (*wanted.right, *wanted.wrong)
    return wanted.sources if isinstance(wanted, PairsWanted) else ()


OPERATIONS = {"+": "add", "-": "subtract", "*": "multiply", "/": "divide"}
"""Operations by their neutral signs."""


def operations_in(wanted: ResponseWanted) -> set[str]:
    """Return the operations of the expressions in *wanted* that hold one sign, on which mistakes are run."""
    shown = [*wanted.sides] if isinstance(wanted, LineWanted) else [one.text for one in offers_of(wanted)]
    found = {OPERATIONS[text[1]] for text in shown if len(text) == 3 and isinstance(text[1], str)}
    return found | {one.mistake.partition(".")[0] for one in offers_of(wanted) if one.of}


def parts_of(wanted: ResponseWanted) -> tuple[Part, ...]:
    """Return every expression in *wanted*."""
    shown: list[Part | str] = []
    if isinstance(wanted, LineWanted):
        shown += [part for side in wanted.sides for part in side]
    for offered in offers_of(wanted):
        shown += [*offered.text, *offered.of, *([offered.worth] if offered.worth is not None else [])]
    return tuple(part for part in shown if not isinstance(part, str))
