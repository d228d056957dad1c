"""Term plans: weeks, quizzes and what each quiz draws from which templates.

    load_plan(path) -> Plan    the plan with its templates and locale, everything checked
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from bank import sources
from bank.answers import GROUP
from bank.errors import BadInput, Place
from bank.fields import (
    BROKEN, IDENTIFIER, Either, Field, ListOf, OneOf, Pattern, Problems, Read, Record, Text, Truth, Whole,
)
from bank.model import Locale
from bank.sources import Node
from bank.supplies import find_supplies
from bank.templates import DISTRACTORS, KINDS, ChoiceWanted, Template
from bank.topics import Topic
from bank.trees import WEIGHTS, Tree

USUAL = ("choice", "number")
"""Kinds of response that a line draws from where it names none."""
MAX_ITEMS = 1_000_000
"""Most items of one line. Our own bound."""

LINE = Record(
    "Items to draw; every filter that is written must fit.",
    Field("items", Whole(1, MAX_ITEMS), "How many.", required=True),
    Field("topic", IDENTIFIER, "Only templates of this topic.", default=""),
    Field("template", IDENTIFIER, "Only this template.", default=""),
    Field("mistake", Pattern("[a-z]+[.][a-z0-9]+(-[a-z0-9]+)*", "a mistake's id, such as add.carry-forgotten"),
          "Only items on which this mistake shows.", default=""),
    Field("response", OneOf(*KINDS.values()), "Only items answered this way; choice and number without it, unless a "
          "template is named.", default=""),
    Field("band", OneOf("easier", "middle", "harder"), "Only items of this predicted difficulty.", default=""),
)
QUIZ = Record(
    "A set of items delivered together.",
    Field("quiz", IDENTIFIER, "Id of the quiz.", required=True),
    Field("title", Text(), "Name for pupils.", required=True),
    Field("use", OneOf("practice", "diagnosis", "graded"), "What it is for.", default="practice"),
    Field("feedback", Truth(), "Whether feedback and solutions are shown; true unless graded."),
    Field("minutes", Whole(0, 600), "Time limit; 0 for none.", default=0),
    Field("calculator", Truth(), "Whether a calculator is allowed.", default=False),
    Field("attempts", Whole(0, 100), "How often an item may be answered, 0 without limit; without limit in practice and "
          "once in other use where it is not said."),
    Field("order", OneOf("fixed", "shuffled"), "Whether all pupils meet the items of a section in one order.",
          default="fixed"),
    Field("ask", Whole(0, 1000), "How many of the items each pupil is asked, drawn for each anew; at least one of each "
          "section; 0 for all.", default=0),
    Field("draw", ListOf(LINE, 1, 50), "What it holds, in order.", required=True),
)
WEEK = Record(
    "A week of the term.",
    Field("week", Whole(1, 60), "Its number.", required=True),
    Field("title", Text(), "What it is about.", default=""),
    Field("quizzes", ListOf(QUIZ, 1, 40), "Its quizzes.", required=True),
)
PLAN = Record(
    "A term plan: which quizzes are built, and from what.",
    Field("plan", IDENTIFIER, "Id of the plan.", required=True),
    Field("title", Text(), "Name of the bank.", required=True),
    Field("seed", Whole(0, 2**63 - 1), "Number that settles every draw; another seed, another bank.", required=True),
    Field("locale", IDENTIFIER, "Id of a locale.", required=True),
    Field("invented", Truth(), "Whether school, people and data are invented.", default=False),
    Field("rights", Text(500), "Who holds the rights, and under what licence it may be used.", default=""),
    Field("templates", Either(Text(200), ListOf(Text(200), 1, 200)),
          "Template files or folders, relative to this file and inside its folder, and no others; without it those that "
          "come along and those in a folder templates beside this file (beside the folder plans it lies in)."),
    Field("topics", Text(200), "Folder of further topics, relative to this file; a folder topics beside it is found "
          "without it.", default=""),
    Field("options", Record(
        "How choices are made.",
        Field("distractors", Whole(2, 4), "Wrong options where the template does not say.", default=DISTRACTORS),
        Field("direction", OneOf("ascending"), "Order of number options.", default="ascending"),
    ), "How choices are made."),
    Field("weeks", ListOf(WEEK, 0, 60), "The weeks, in order.", default=()),
    Field("pool", ListOf(LINE, 0, 200), "Items for the bank that stand in no quiz.", default=()),
    Field("note", Text(2000, lines=True), "Words for the next writer.", default=""),
)


class DrawLine(NamedTuple):
    """Items to draw: how many, and filters (empty ones let everything through)."""

    items: int
    quiz: str = ""
    """Id of the quiz, empty for the pool."""
    topic: str = ""
    template: str = ""
    mistake: str = ""
    response: str = ""
    """``choice``, ``number``, the name of a further kind, or empty."""
    band: str = ""
    """``easier``, ``middle``, ``harder`` or empty; known only after drawing."""
    shows_feedback: bool = True
    """Whether its quiz shows feedback; the pool's items do."""
    place: Place = Place("")

    def fitting(self, templates: Iterable[Template]) -> tuple[Template, ...]:
        """Return those of *templates* whose items can fit this line; never none of the plan's own."""
        tests = [fits for _, fits in filters(self)]
        return tuple(template for template in templates if all(fits(template) for fits in tests))


class PlannedQuiz(NamedTuple):
    """A quiz to build."""

    identifier: str
    title: str
    week: int
    use: str
    show_feedback: bool
    minutes: int
    calculator: bool
    attempts: int | None
    shuffled: bool
    ask: int
    """How many items each pupil is asked; 0 for all."""
    lines: tuple[DrawLine, ...]


class Week(NamedTuple):
    """A week of the term."""

    number: int
    title: str
    quizzes: tuple[PlannedQuiz, ...]


@dataclass(frozen=True, kw_only=True, slots=True)
class Plan:
    """A term plan as read, with what it names loaded."""

    identifier: str
    title: str
    seed: int
    locale: Locale
    invented: bool
    rights: str
    direction: str
    """Order of number options."""
    weeks: tuple[Week, ...]
    pool: tuple[DrawLine, ...]
    templates: tuple[Template, ...]
    """All templates of the plan, in order of their ids."""
    topics: dict[str, Topic]
    template_files: tuple[Path, ...]
    file: Path
    checksum: str
    """Digest of the plan file, all its templates' checksums, and its own weights of difficulty."""
    tree: Tree
    """Where its content lies."""
    notes: tuple[str, ...] = ()
    """A line for each own file that stands for one that comes along."""
    says: tuple[str, ...] = ()
    """What it was read with, for people, a line for each place."""

    @property
    def quizzes(self) -> tuple[PlannedQuiz, ...]:
        """The quizzes of all weeks in order."""
        return tuple(quiz for week in self.weeks for quiz in week.quizzes)

    @property
    def lines(self) -> tuple[DrawLine, ...]:
        """The lines of all quizzes in order, then those of the pool."""
        return (*(line for quiz in self.quizzes for line in quiz.lines), *self.pool)


Fits = Callable[[Template], bool]


def filters(line: DrawLine) -> list[tuple[str, Fits]]:
    """Return the filters of *line* that a template alone can answer, by field name.

    A line that names neither response nor template draws from the usual kinds only, those that every class and every
    format knows; the further ones come where they are named.
    """
    found: list[tuple[str, Fits]] = []
    if line.template:
        found.append(("template", lambda template: template.identifier == line.template))
    if line.topic:
        found.append(("topic", lambda template: template.topic == line.topic))
    if not line.response and not line.template:
        found.append(("response", lambda template: template.kind in USUAL))
    if line.response:
        found.append(("response", lambda template: template.kind == line.response))
    if line.mistake:
        operation = line.mistake.partition(".")[0]
        found.append(("mistake", lambda template: operation in template.operations and (
            not template.mistakes or line.mistake in template.mistakes
        )))
    return found


def load_plan(path: Path) -> Plan:
    """Return the plan in the file at *path*, with its templates, topics and locale.

    Raises:
        BadInput: with everything wrong in the plan and in what it names.
    """
    problems: Problems = []
    node = sources.parse(sources.read_file(path))
    plan = read_plan(node, path, problems)
    if problems:
        raise BadInput(problems)
    return plan


def read_plan(node: Node, path: Path, problems: Problems) -> Plan:
    """Return the plan that *node* describes, or `BROKEN` with its problems, and those of its templates, added."""
    before = len(problems)
    read: Any = PLAN.read(node, "", problems)
    if read is BROKEN:
        return BROKEN
    try:
        found = find_supplies(read, path, problems)
    except BadInput as fault:
        problems += fault.problems
        return BROKEN
    locale, topics, templates = found.locale, found.topics, found.templates
    weeks = _weeks(read, problems)
    pool = tuple(_line(line) for line in read["pool"] or ())
    if not read["weeks"] and not read["pool"] and not {"weeks", "pool"} & set(read.nodes):
        node.report(problems, "missing-key", "weeks", "the plan asks for no items", "write weeks or pool")
    if templates is not BROKEN and topics is not BROKEN:
        _check_lines(read, templates, topics, problems)
    if templates is not BROKEN and locale is not BROKEN:
        _check_marks(read, locale, templates, problems)
    if len(problems) > before:
        return BROKEN
    options = read["options"]
    distractors = options["distractors"] if options else DISTRACTORS
    digest = hashlib.sha256(node.source.text.encode())
    for template in templates:
        digest.update(f"{template.identifier} {template.version} {template.checksum}\n".encode())
    weights = found.tree.setting(WEIGHTS)
    if weights in found.tree.own_settings():
        digest.update(weights.read_bytes())
    return Plan(
        identifier=read["plan"], title=read["title"], seed=read["seed"], locale=locale, invented=read["invented"],
        rights=read["rights"], direction=options["direction"] if options else "ascending", weeks=weeks, pool=pool,
        templates=tuple(_settled(template, distractors) for template in templates),
        topics=topics, template_files=found.template_files, file=path, checksum=digest.hexdigest()[:16],
        tree=found.tree, notes=found.notes, says=found.says,
    )


def _settled(template: Template, distractors: int) -> Template:
    """Return *template* with its number of wrong options settled."""
    if template.response == ChoiceWanted():
        return template._replace(response=ChoiceWanted(distractors))
    return template


def _check_marks(read: Read, locale: Locale, templates: Sequence[Template], problems: Problems) -> None:
    """Refuse keys of three places to be typed where another decimal mark is taken: there it could part thousands."""
    if not locale.also_accepted_marks:
        return
    found = [one.identifier for one in templates if one.policy and one.places == GROUP]
    if found:
        other = locale.also_accepted_marks[0]
        wrong = f"{locale.identifier!r} takes {other!r} for a decimal mark; before three digits it could part thousands"
        remedy = f"name a locale with one mark, or leave out what types three places: {', '.join(found)}"
        read.at("locale").report(problems, "ambiguous-mark", "locale", wrong, remedy)


RESERVED = ("bank", "imsmanifest", "trial")
"""Ids that no quiz may have: files of the exports are called so."""
DEVICES = frozenset(("con", "prn", "aux", "nul", *(f"{port}{number}" for port in ("com", "lpt") for number in range(10))))
"""Names that Windows keeps for devices, whatever the ending: Microsoft's "Naming Files, Paths, and Namespaces", from
memory."""


def _weeks(read: Read, problems: Problems) -> tuple[Week, ...]:
    weeks: list[Week] = []
    numbers: set[int] = set()
    quizzes: dict[str, Read] = {}
    for week in read["weeks"] or ():
        number = week["week"]
        if number in numbers:
            week.at("week").report(
                problems, "duplicate-id", "week", f"week {number} stands here twice", "number them on"
            )
        numbers.add(number)
        made = []
        for quiz in week["quizzes"] or ():
            name = quiz["quiz"]
            if name and name in quizzes:
                first = quizzes[name].at("quiz").place.line
                wrong = f"the quiz {name!r} stands on line {first} already"
                quiz.at("quiz").report(problems, "duplicate-id", "quiz", wrong, "give one of them another id")
            elif name in RESERVED:
                wrong = f"a quiz cannot be called {name!r}: a file of the exports has that name"
                quiz.at("quiz").report(problems, "id-reserved", "quiz", wrong, "give it another id")
            elif name in DEVICES:
                wrong = f"a quiz cannot be called {name!r}: on some computers no file can have that name"
                quiz.at("quiz").report(problems, "id-reserved", "quiz", wrong, f"give it another id, such as {name}-quiz")
            quizzes[name] = quiz
            feedback = quiz["feedback"]
            if feedback is True and quiz["use"] == "graded":
                wrong = "a graded quiz shows no feedback while it runs"
                quiz.at("feedback").report(
                    problems, "feedback-in-graded", "feedback", wrong, "delete it, or change use"
                )
            shown = quiz["use"] != "graded" if feedback is None else feedback
            lines = tuple(_line(line, name, shown) for line in quiz["draw"] or ())
            _check_asked(quiz, lines, problems)
            made.append(PlannedQuiz(
                name, quiz["title"], number, quiz["use"], shown, quiz["minutes"], quiz["calculator"], quiz["attempts"], quiz["order"] == "shuffled", quiz["ask"], lines,
            ))
        weeks.append(Week(number, week["title"], tuple(made)))
    return tuple(weeks)


def _check_asked(quiz: Read, lines: Sequence[DrawLine], problems: Problems) -> None:
    """Check that a quiz asks no more items of a pupil than it holds."""
    counts = [line.items for line in lines]
    if quiz["ask"] is BROKEN or BROKEN in counts:
        return
    if quiz["ask"] > sum(counts):
        wrong = f"each pupil is asked {quiz['ask']} items, but the quiz holds {sum(counts)}"
        quiz.at("ask").report(problems, "asks-too-many", "ask", wrong, "ask fewer, or draw more")


def _line(read: Read, quiz: str = "", shows_feedback: bool = True) -> DrawLine:
    return DrawLine(quiz=quiz, place=read.node.place, shows_feedback=shows_feedback, **read.values)


def _all_lines(read: Read) -> list[tuple[str, Read]]:
    found = []
    for week in read["weeks"] or ():
        for quiz in week["quizzes"] or ():
            found += [("draw", line) for line in quiz["draw"] or ()]
    return found + [("pool", line) for line in read["pool"] or ()]


def _check_lines(read: Read, templates: tuple[Template, ...], topics: Mapping[str, Topic], problems: Problems) -> None:
    """Check that each line names what exists and that some template fits it."""
    known = {template.identifier for template in templates}
    for field, line in _all_lines(read):
        if BROKEN in line.values.values():
            continue
        before = len(problems)
        name, topic, mistake = line["template"], line["topic"], line["mistake"]
        if name and name not in known:
            line.at("template").report_unknown(problems, f"{field}.template", "template", name, known)
        if topic and topic not in topics:
            line.at("topic").report_unknown(problems, f"{field}.topic", "topic", topic, topics)
        if mistake:
            from bank import mistakes  # all of them are imported; plans that name none need none

            if mistake not in (members := mistakes.load()):
                line.at("mistake").report_unknown(problems, f"{field}.mistake", "mistake", mistake, members)
        if len(problems) == before:
            _check_fit(field, line, templates, problems)


def _check_fit(field: str, line: Read, templates: tuple[Template, ...], problems: Problems) -> None:
    """Add a problem where no template fits *line*: which filter leaves none, and which templates came nearest."""
    left = list(templates)
    for name, fits in filters(_line(line)):
        kept = [template for template in left if fits(template)]
        if not kept:
            nearest = ", ".join(template.identifier for template in left[:3])
            said = f"{name} {line[name]!r}" if line[name] else f"no {name} (that is, {' or '.join(USUAL)})"
            wrong = f"no template fits: {said} leaves none of the {len(left)} that fit so far"
            remedy = f"nearest: {nearest}; {'change' if line[name] else 'write'} {name}, or write a template for it"
            line.at(name).report(problems, "no-template-fits", f"{field}.{name}", wrong, remedy)
            return
        left = kept
