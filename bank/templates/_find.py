"""Settings of items that ask for the mistake in a working: which workings may be shown, what is asked, what fits."""

from __future__ import annotations

from bank.errors import did_you_mean
from bank.fields import BROKEN, Problems, Read
from bank.slips import LAYOUTS
from bank.templates._wanted import FindWanted

OPERATIONS = ("add", "subtract", "multiply", "divide")
"""Operations with workings in columns."""


def read_find(settings: Read | None) -> FindWanted:
    """Return how such an item is answered; *settings* are None where just the name of the kind is written."""
    if settings is None:
        return FindWanted()
    policy = (settings["policy"] or "value") if settings["answer"] else ""
    return FindWanted(tuple(settings["slips"] or ()), policy, settings["credit"])


def check_find(read: Read, settings: Read | None, problems: Problems) -> None:
    """Add to *problems* what does not fit between such an item's operation, layout, rounding and settings."""
    operation = read["operation"]
    if operation == "evaluate":  # refused already
        return
    if operation not in OPERATIONS:
        wrong = f"{operation} has no working in columns to find a mistake in"
        read.at("response").report(
            problems, "wrong-response", "response", wrong, f"write operation: {', '.join(OPERATIONS[:-1])} or divide")
        return
    if read["layout"] and read["layout"] != LAYOUTS.get(operation, ""):
        wrong = f"workings with mistakes are written in the layout {LAYOUTS.get(operation, '')!r} only"
        read.at("layout").report(problems, "wrong-layout", "layout", wrong, "delete this line")
    if read["rounding"] is not None:
        wrong = "a working with a mistake goes to the end, rounding would be a step of its own"
        read.at("rounding").report(problems, "wrong-rounding", "rounding", wrong, "delete it")
    if settings is None:
        return
    _check_slips(settings, operation, problems)
    if settings["answer"] is False:
        remedy = "write answer: true, or delete it"
        if settings["policy"]:
            wrong, field = "no answer is typed, so no spelling has to be settled", "response.find-mistake.policy"
            settings.at("policy").report(problems, "policy-without-answer", field, wrong, remedy)
        if settings["credit"] == "each":
            wrong, field = "only the step is asked, so there is one part to credit", "response.find-mistake.credit"
            settings.at("credit").report(problems, "credit-without-answer", field, wrong, remedy)


def _check_slips(settings: Read, operation: str, problems: Problems) -> None:
    from bank import mistakes, slips  # both rooms import all their members; most templates need none of them

    names = settings["slips"]
    if names in (None, BROKEN):
        return
    known, told = mistakes.load(), slips.load()
    of_it = [one.mistake for one in slips.of_operation(operation)]
    seen = set()
    for number, name in enumerate(names):
        if name is BROKEN:
            continue
        node, field = settings.at("slips").items[number], f"response.find-mistake.slips[{number + 1}]"
        if name not in known:
            node.report_unknown(problems, field, "mistake", name, known)
        elif known[name].operation != operation:
            wrong = f"{name!r} is a mistake of {known[name].operation}, the operation is {operation}"
            node.report(problems, "wrong-mistake", field, wrong, did_you_mean(name, of_it))
        elif name not in told:
            wrong = f"no working is written down for {name!r}"
            node.report(problems, "no-working", field, wrong, f"name some of {', '.join(of_it)}")
        if name in seen:
            node.report(problems, "twice", field, f"{name!r} stands here twice", "keep one")
        seen.add(name)
