"""Settings of a template that can be judged on their own: topic, operation, rounding, mistakes, unit, response."""

from __future__ import annotations

from collections.abc import Mapping

from bank.errors import did_you_mean
from bank.fields import BROKEN, Problems, Read
from bank.templates._declaration import LAYOUTS, OPERAND_COUNTS
from bank.templates._policies import check_policy
from bank.templates._stems import UnitWords
from bank.templates._kind_fields import kind_and_settings
from bank.templates._wanted import ChoiceWanted, NumberWanted, ResponseWanted
from bank.topics import Topic


def check_settings(read: Read, problems: Problems) -> None:
    """Add to *problems* what is wrong with operation, layout, rounding, response and mistakes."""
    if read["operation"]:
        _check_operation(read, problems)
        _check_rounding(read, problems)
        _check_distractors(read, problems)
        check_policy(read, problems)
    if kind_and_settings(read)[0] or read["operation"] == "evaluate":
        from bank.templates._kinds import check_kind  # dear to import, and most templates need none of it

        check_kind(read, problems)
    if read["mistakes"]:
        _check_mistakes(read, problems)
    for name, text in read["feedback"].values.items() if read["feedback"] else ():
        if text and ("{{" in text or "{%" in text):
            wrong, remedy = "feedback is the same for all items of a template", "write it without {{ }} and {% %}"
            read["feedback"].at(name).report(problems, "braces-in-feedback", f"feedback.{name}", wrong, remedy)


def read_codes(read: Read, topics: Mapping[str, Topic], problems: Problems) -> tuple[str, ...]:
    """Return the template's curriculum codes, those of its topic where it names none; problems are added."""
    name, codes = read["topic"], read["codes"]
    if name is BROKEN or codes is BROKEN:
        return ()
    topic = topics.get(name)
    if topic is None:
        read.at("topic").report_unknown(problems, "topic", "topic", name, topics)
        return ()
    if codes is None:
        return topic.codes
    for number, code in enumerate(codes):
        if code not in topic.codes:
            remedy = did_you_mean(code, topic.codes) if topic.codes else f"add it to the topic {name!r}"
            wrong = f"the topic {name!r} has no code {code!r}"
            read.at("codes").items[number].report(problems, "unknown-code", "codes", wrong, remedy)
    return tuple(codes)


def _check_operation(read: Read, problems: Problems) -> None:
    operation = read["operation"]
    fewest, most = OPERAND_COUNTS[operation]
    operands = read["operands"]
    kind, _ = kind_and_settings(read)
    for name, needed in (("operands", operation != "evaluate"), ("key", kind in WITH_KEY)):
        if needed and read[name] is None:
            read.node.report(problems, "missing-key", name, "this key is missing", f"write {name}: ...")
    if read["key"] and kind not in WITH_KEY:
        wrong = "the right answer follows from what is offered"
        read.at("key").report(problems, "needless-key", "key", wrong, "delete this line")
    if operands and not fewest <= len(operands) <= most:
        wanted = str(fewest) if fewest == most else f"{fewest} to {most}"
        wrong = f"{operation} takes {wanted} operands, {len(operands)} stand here"
        read.at("operands").report(problems, "wrong-operands", "operands", wrong, "add or delete some")
    layouts = LAYOUTS.get(operation, ())
    if read["layout"] and read["layout"] not in layouts:
        wrong = f"{operation} has no layout {read['layout']!r}"
        remedy = f"write {' or '.join(layouts)}" if layouts else "delete this line"
        read.at("layout").report(problems, "wrong-layout", "layout", wrong, remedy)


def _check_rounding(read: Read, problems: Problems) -> None:
    operation, rounding = read["operation"], read["rounding"]
    if rounding is BROKEN:
        return
    if rounding is None:
        if operation == "round":
            wrong, remedy = "rounding has to say to which place", "write rounding: {places: 1, asked: ...}"
            read.node.report(problems, "missing-key", "rounding", wrong, remedy)
        return
    places = rounding["places"]
    if operation not in ("round", "divide"):
        wrong = f"the key of {operation} is exact"
        read.at("rounding").report(problems, "wrong-rounding", "rounding", wrong, "delete it")
    elif operation == "divide" and places is not BROKEN and places < 0:
        wrong = "a quotient is rounded to places behind the point"
        rounding.at("places").report(problems, "wrong-rounding", "rounding.places", wrong, "write 0 or more")
    both = read["places"] is not None and read["places"] is not BROKEN and places is not BROKEN
    if both and read["places"] < (places or 0):
        wrong = f"the key is rounded to {places} places, written with {read['places']}"
        read.at("places").report(problems, "places-differ", "places", wrong, "write the same number")
    if rounding["asked"] and read["stem"] and _words(rounding["asked"]) not in _words(read["stem"]):
        wrong = f"the stem does not hold the words {rounding['asked']!r}"
        remedy = "ask for the rounding in the stem"
        rounding.at("asked").report(problems, "rounding-not-asked", "rounding.asked", wrong, remedy)


def _words(text: str) -> str:
    return " ".join(text.split()).lower()


def _check_distractors(read: Read, problems: Problems) -> None:
    response = read["response"]
    if read["operation"] != "compare" or not isinstance(response, Read) or "choice" not in response.values:
        return
    choice = response["choice"]
    if choice and choice["distractors"]:
        field, wrong = "response.choice.distractors", "the numbers to compare are the options, their number is settled"
        choice.at("distractors").report(problems, "wrong-distractors", field, wrong, "write response: choice")


def _check_mistakes(read: Read, problems: Problems) -> None:
    from bank import mistakes  # every mistake is imported; templates that name none need none of them

    known = mistakes.load()
    operation = read["operation"]
    seen = set()
    for number, name in enumerate(read["mistakes"]):
        node = read.at("mistakes").items[number]
        field = f"mistakes[{number + 1}]"
        if name not in known:
            node.report_unknown(problems, field, "mistake", name, known)
        elif operation == "evaluate" and known[name].operation not in _CALCULATIONS:
            wrong = f"{name!r} is a mistake of {known[name].operation}, expressions hold none of it"
            node.report(problems, "wrong-mistake", field, wrong, f"name one of {', '.join(_CALCULATIONS)}")
        elif operation and operation != "evaluate" and known[name].operation != operation:
            same = [one.identifier for one in mistakes.of_operation(operation)]
            wrong = f"{name!r} is a mistake of {known[name].operation}, the operation is {operation}"
            node.report(problems, "wrong-mistake", field, wrong, did_you_mean(name, same))
        if name in seen:
            node.report(problems, "twice", field, f"{name!r} stands here twice", "keep one")
        seen.add(name)


WITH_KEY = ("", "choose-several", "find-mistake")
"""Kinds that have a key written; an empty name stands for the first two."""
_CALCULATIONS = ("add", "subtract", "multiply", "divide")


def read_unit(read: Read) -> UnitWords | None:
    """Return the unit of the answer, None where there is none or it is broken."""
    unit = read["unit"]
    if not unit:
        return None
    return UnitWords(unit) if isinstance(unit, str) else UnitWords(unit["text"], unit["before"], unit["spoken"])


def read_response(read: Read) -> ResponseWanted:
    """Return how an item of the first two kinds is answered."""
    response = read["response"]
    if response == "choice":
        return ChoiceWanted()
    if response == "number":
        return NumberWanted()
    if "choice" in response.values:
        return ChoiceWanted(response["choice"]["distractors"])
    return NumberWanted(response["number"]["policy"])
