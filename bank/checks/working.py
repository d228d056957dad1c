"""Checks of items that show a working with a mistake: one wrong step, the one that is marked, and none that could be
argued to be wrong beside it."""

from __future__ import annotations

from bank import mistakes
from bank.checks import FINE, Complaints, check
from bank.checks._judging import Addition, Judge, Subtraction
from bank.checks._judging_rows import Division, Multiplication
from bank.checks._look import Look
from bank.model import ROLES, FindMistake
from bank.numerals import Numeral
from bank.slips import FEWEST_STEPS, MOST_STEPS

HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
STANDARDS = "AERA, APA & NCME 2014, Standards for Educational and Psychological Testing"
_JUDGES: dict[str, type[Judge]] = {
    "add": Addition, "subtract": Subtraction, "multiply": Multiplication, "divide": Division,
}


@check(
    "one-wrong-step", severity="error", about="further",
    rule="read anew, just one step of the working shown is wrong given the steps before it: the one that is marked",
    why="Where a second step can be argued to be wrong, every mark given for the item is arbitrary.",
    source=f"{HALADYNA} (one right answer)",
)
def one_wrong_step(look: Look) -> Complaints:
    """Complain about steps that a judge of sentences finds wrong, or cannot read, beside the one that is marked."""
    response = look.item.response
    if not isinstance(response, FindMistake):
        return FINE
    judge = _JUDGES.get(look.family.operation)
    if judge is None:
        return ((f"workings of {look.family.operation} cannot be judged", "ask another way"),)
    try:
        wrong, not_read = judge(look.operands).judge(response.working.steps)
    except (ValueError, IndexError) as fault:
        return ((f"the working cannot be followed ({fault})", "make the item anew"),)
    if not_read:
        return ((f"step {not_read[0] + 1} of the working cannot be judged", "make the item anew"),)
    marked = [place for place, step in enumerate(response.steps) if step.identifier == response.right]
    if list(wrong) == marked:
        return FINE
    named = ", ".join([str(place + 1) for place in wrong]) or "none"
    return ((f"wrong steps are {named}, marked is {', '.join([str(place + 1) for place in marked]) or 'none'}",
             "draw other numbers, or mark the step that is wrong"),)


@check(
    "working-of-its-mistake", severity="error", about="further",
    rule="the working shown is of the item's numbers and ends with the answer that its mistake gives, not with the key",
    why="Feedback on a mistake that was not made misleads; a working that ends right has no mistake to find.",
    source=f"{HALADYNA} (options are common errors)",
)
def working_of_its_mistake(look: Look) -> Complaints:
    """Complain about other numbers, the right answer, an unknown mistake, or another answer than the mistake's."""
    response = look.item.response
    if not isinstance(response, FindMistake):
        return FINE
    working, known = response.working, mistakes.load()
    if working.operands != look.operands or working.operation != look.family.operation:
        return (("the working is of other numbers", "work the item's own numbers"),)
    if working.result == look.key:
        return ((f"the working ends with the key {look.key}", "draw other numbers"),)
    if response.mistake not in known or known[response.mistake].operation != working.operation:
        return ((f"{response.mistake!r} is no mistake of {working.operation}", "name one of the library"),)
    answer = known[response.mistake].procedure(*look.operands)
    if answer != working.result:
        return ((f"{response.mistake} gives {answer}, the working {working.result}", "make the item anew"),)
    return FINE


@check(
    "steps-to-mark", severity="error", about="further",
    rule=f"{FEWEST_STEPS} to {MOST_STEPS} steps can be marked: those of the working, in order, the last one not wrong",
    why="A step that is not shown, or stands elsewhere, cannot be found.", source="common practice, no source",
)
def steps_to_mark(look: Look) -> Complaints:
    """Complain about steps that are not the working's, and about too few or too many of them."""
    response = look.item.response
    if not isinstance(response, FindMistake):
        return FINE
    steps = response.steps
    if tuple([step.text for step in steps]) != response.working.steps:
        return (("the steps to mark are not those of the working", "offer the working's own steps"),)
    if not FEWEST_STEPS <= len(steps) <= MOST_STEPS:
        return ((f"the working has {len(steps)} steps", "draw numbers with a shorter, or longer, working"),)
    if response.right not in [step.identifier for step in steps[:-1]]:
        return ((f"{response.right!r} is no step before the last", "mark the wrong step"),)
    return FINE


@check(
    "working-reads-as-its-answer", severity="error", about="further",
    rule="the rows of the working shown are equally wide, of known roles, and write the answer that its steps end with",
    why="Rows and steps that say two things hide the mistake that is to be found.",
    source=f"{STANDARDS} (keys are checked before use)",
)
def working_reads_as_its_answer(look: Look) -> Complaints:
    """Complain about rows that cannot be laid out or that write another answer."""
    response = look.item.response
    if not isinstance(response, FindMistake):
        return FINE
    working = response.working
    for row in working.rows:
        if len(row.cells) != working.width or row.role not in ROLES:
            return ((f"the row {row.role!r} does not fit {working.width} columns", "lay the working out anew"),)
    found = [row for row in working.rows if row.role in ("result", "quotient")]
    if len(found) != 1:
        return ((f"{len(found)} rows hold an answer", "write it once"),)
    row = found[0]
    end = row.point if row.point >= 0 else working.width
    whole, behind = "".join(row.cells[:end]), "".join(row.cells[end:])
    if not (whole + behind).isdecimal() or not Numeral(int(whole + behind), len(behind)).same_writing(working.result):
        return ((f"the rows write {whole}.{behind}, the working ends with {working.result}", "lay the rows out anew"),)
    return FINE
