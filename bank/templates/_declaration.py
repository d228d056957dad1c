"""The fields of a template file, declared once."""

from __future__ import annotations

from bank.policies import POLICIES
from bank.fields import (
    IDENTIFIER, Either, Field, Formula, ListOf, MapOf, Number, OneOf, Pattern, Record, Text, Truth, Variants, Whole,
)
from bank.numerals import Numeral
from bank.templates._kind_fields import BARE, VARIANTS

MAX_PLACES = 12
"""Most decimal places of a parameter, a key or a rounding. Our own bound."""
OPERATIONS = ("add", "subtract", "multiply", "divide", "compare", "round", "evaluate")
"""Written methods, and ``evaluate``: the values of expressions, for the kinds of response that offer some."""
LAYOUTS = {"subtract": ("decomposition", "equal-additions"), "compare": ("largest", "smallest")}
"""Layouts by operation; the first is taken where none is written. Other operations have one layout only."""
OPERAND_COUNTS = {
    "add": (2, 5), "subtract": (2, 2), "multiply": (2, 2), "divide": (2, 2), "compare": (2, 5), "round": (1, 1),
    "evaluate": (0, 0),
}

NAME = Pattern("[a-z][a-z0-9_]*", "a name: lower case letters, digits and _, beginning with a letter", 32)
_RADICAL = Field("radical", Truth(), "Whether this is meant to change difficulty; false for names and things.")

RANGE = Record(
    "Equally spaced decimals.",
    Field("from", Number(Numeral.parse), "Smallest value.", required=True),
    Field("to", Number(Numeral.parse), "Largest value; the steps must reach it.", required=True),
    Field("step", Number(Numeral.parse), "Distance; its places are the places that are written.", required=True),
    Field("written", OneOf("places", "shortest"), "With the step's places, or without trailing zeros.",
          default="places"),
    _RADICAL,
)
WHOLE = Record(
    "Equally spaced whole numbers.",
    Field("whole", ListOf(Whole(-(10**12), 10**12), 2, 2, "[smallest, largest]"), "Smallest and largest.",
          required=True),
    Field("step", Whole(1, 10**12), "Distance; the steps must reach the largest.", default=1),
    _RADICAL,
)
LISTED = Record(
    "Values written out: all numbers, or all words.",
    Field("list", ListOf(Formula("a number or words"), 1, 1000), "The values.", required=True),
    _RADICAL,
)
DERIVED = Record(
    "A number calculated from other parameters.",
    Field("derive", Formula(), "How it is calculated, exactly.", required=True),
    Field("places", Whole(0, MAX_PLACES), "Places written; without it, as few as needed."),
    _RADICAL,
)
CHOICE = Record(
    "Settings of a choice.",
    Field("distractors", Whole(2, 4), "How many wrong options are wanted; the plan's number without it."),
)
TYPED = Record(
    "Settings of a typed number.",
    Field("policy", OneOf(*POLICIES), "value: every equal spelling is right; places: the key's places too; exact: only "
          "as the key is written; unit: every equal spelling, with the unit.", default="value"),
)

TEMPLATE = Record(
    "An item template: numbers are drawn, the key is calculated, wrong options come from mistakes.",
    Field("template", IDENTIFIER, "Id; items carry it for good.", required=True),
    Field("version", Whole(1, 9999), "Raised with every change that a pupil could notice.", required=True),
    Field("title", Text(), "Name for people.", required=True),
    Field("topic", IDENTIFIER, "Id of the topic it practises.", required=True),
    Field("codes", ListOf(Text(60), 1, 20), "Curriculum codes, among the topic's; all of the topic's without it."),
    Field("parameters", MapOf(NAME, Variants(RANGE, WHOLE, LISTED, DERIVED)), "What is drawn or derived, by name.",
          required=True),
    Field("constraints", ListOf(Either(Formula("a condition, such as a > b"), Record(
        "A condition with its reason.",
        Field("holds", Formula("a condition, such as a > b"), "What must hold for a draw to be kept.", required=True),
        Field("because", Text(), "Why, in a few words.", default=""),
    )), 0, 30), "What must hold for a draw to be kept.", default=()),
    Field("operation", OneOf(*OPERATIONS), "The written method that solves the item.", required=True),
    Field("operands", ListOf(Formula("a parameter's name or an expression"), 1, 5), "Numbers of the method, in order; none "
          "for evaluate."),
    Field("layout", OneOf(*(layout for group in LAYOUTS.values() for layout in group)), "Variant of the method.",
          default=""),
    Field("key", Formula(), "The right answer, exactly; not needed to put in order, match or choose in the line."),
    Field("rounding", Record(
        "The key is rounded.",
        Field("places", Whole(-6, MAX_PLACES), "Places it is rounded to; -1 for tens, -2 for hundreds (round only).",
              required=True),
        Field("asked", Text(), "Words of the stem that ask for it.", required=True),
    ), "Only where the stem asks for rounding (divide, round)."),
    Field("places", Whole(0, MAX_PLACES), "Fixed places of key and options, 2 for most money; without it, none extra."),
    Field("unit", Either(Text(30), Record(
        "A unit.",
        Field("text", Text(30), "What is written.", required=True),
        Field("before", Truth(), "Whether it stands before the number, as most currency signs.", default=False),
        Field("spoken", Text(60), "How it is read aloud.", default=""),
    )), "Unit of the answer; {{ a|unit }} writes it in the stem."),
    Field("stem", Text(2000, lines=True), "What the item asks. {{ a }} writes a parameter, {{ work }} the operation "
          "on its operands; an empty line begins a paragraph.", required=True),
    Field("response", Either(OneOf("choice", "number", *BARE), Variants(
        Record("Choose one.", Field("choice", CHOICE, "Settings of the choice.", required=True)),
        Record("Type the number.", Field("number", TYPED, "Settings of the typed number.", required=True)),
        *VARIANTS,
    )), "How it is answered.", default="choice"),
    Field("mistakes", ListOf(Pattern("[a-z]+[.][a-z0-9]+(-[a-z0-9]+)*", "a mistake's id, such as add.carry-forgotten"),
                             1, 60), "Ids of the mistakes to use; all of the operation without it."),
    Field("feedback", Record(
        "Words after the answer, alike for all items of the template.",
        Field("wrong", Text(1000, lines=True), "After a wrong answer: where to look.", default=""),
        Field("right", Text(1000, lines=True), "After the right answer.", default=""),
    ), "Words after the answer."),
    Field("show_solution", Truth(), "Whether the worked solution may be shown.", default=True),
    Field("context", Truth(), "Whether the stem tells a story.", default=False),
    Field("draws", Whole(1, 1_000_000), "Most items of this template in one bank."),
    Field("note", Text(2000, lines=True), "Words for the next writer; no pupil sees them.", default=""),
)
"""Everything that may stand in a template file."""
