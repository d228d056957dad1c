"""Fields of the further kinds of response in a template file: several, order, pairs, line."""

from __future__ import annotations

from bank.policies import POLICIES
from bank.fields import Either, Field, Formula, ListOf, OneOf, Pattern, Read, Record, Text, Truth, Variants, Whole

MISTAKE = Pattern("[a-z]+[.][a-z0-9]+(-[a-z0-9]+)*", "a mistake's id, such as add.carry-forgotten")
_SHOWN = Formula("an expression as it is shown, such as a * b, or words, or the answer of a mistake")

OFFERED = Either(_SHOWN, Variants(
    Record(
        "An expression, shown as it is written here.",
        Field("shows", Formula("an expression as it is shown, such as a * b"), "Names and numbers with + - * / between.",
              required=True),
        Field("mistake", MISTAKE, "The mistake that leads here; it is run on the expression's numbers.", default=""),
    ),
    Record(
        "A number said in words.",
        Field("words", Text(80), "What is shown; {{ a }} writes a parameter.", required=True),
        Field("worth", Formula(), "What it is worth, exactly.", required=True),
    ),
    Record(
        "The wrong answer of a mistake.",
        Field("of", ListOf(Formula("a parameter's name or an expression"), 1, 5), "Numbers that the mistake works on.",
              required=True),
        Field("mistake", MISTAKE, "Its answer is what is shown.", required=True),
    ),
))
"""One thing that may be offered."""

SEVERAL = Record(
    "Settings of choosing several.",
    Field("right", ListOf(OFFERED, 2, 12), "What is worth the key; some of it is drawn.", required=True),
    Field("wrong", ListOf(OFFERED, 2, 12), "What is not; some of it is drawn.", required=True),
    Field("options", Whole(4, 8), "How many are offered; 5 without it, or 6 where credit is each."),
    Field("credit", OneOf("all", "each"), "all: one mark where just the right ones are chosen; each: right less wrong "
          "ones, over the right ones.", default="all"),
)
ORDER = Record(
    "Settings of putting in order.",
    Field("direction", OneOf("ascending", "descending"), "Smallest first, or largest first.", default="ascending"),
    Field("credit", OneOf("all", "places"), "all: one mark for the whole order; places: the share that stand right.",
          default="all"),
)
PAIRS = Record(
    "Settings of matching pairs.",
    Field("sources", ListOf(OFFERED, 3, 12), "What is matched with its value; some of it is drawn.", required=True),
    Field("pairs", Whole(3, 5), "How many are shown.", default=3),
    Field("left_over", Whole(1, 2), "Values that belong to none; each is the answer of a mistake.", default=1),
    Field("credit", OneOf("all", "each"), "all: one mark where every pair is right; each: the share of right pairs.",
          default="all"),
)
LINE = Record(
    "Settings of choosing <, = or > in the line.",
    Field("left", Formula("an expression as it is shown, such as a * b"), "What stands left of the gap; the first operand "
          "without it."),
    Field("right", Formula("an expression as it is shown, such as a * b"), "What stands right of it; the second operand "
          "without it."),
)
FIND = Record(
    "Settings of finding the mistake in a working.",
    Field("slips", ListOf(MISTAKE, 1, 40), "Mistakes whose workings may be shown; all that have a working without it."),
    Field("answer", Truth(), "Whether the right answer is typed as well.", default=False),
    Field("policy", OneOf("", *POLICIES), "As for a typed number; value without it.", default=""),
    Field("credit", OneOf("all", "each"), "all: one mark where everything asked is right; each: half for the step and "
          "half for the answer.", default="all"),
)
FURTHER = {
    "choose-several": SEVERAL, "put-in-order": ORDER, "match-pairs": PAIRS, "choose-in-line": LINE,
    "find-mistake": FIND,
}
"""Declarations by kind."""
BARE = ("put-in-order", "choose-in-line", "find-mistake")
"""Kinds that may be asked for by their name alone."""
VARIANTS = tuple(
    Record(record.says, Field(name, record, record.says, required=True)) for name, record in FURTHER.items()
)


def kind_and_settings(read: Read) -> tuple[str, Read | None]:
    """Return the kind of a further response with its settings, None for those by default; an empty kind for others."""
    response = read["response"]
    if isinstance(response, str):
        return (response, None) if response in FURTHER else ("", None)
    if not isinstance(response, Read):
        return "", None
    name = next(iter(response.values))
    return (name, response[name]) if name in FURTHER else ("", None)
