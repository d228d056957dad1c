"""Checks of the key: right, the only right option, found again by another way, written as asked for."""

from __future__ import annotations

from bank import answers
from bank.checks import FINE, Complaints, check
from bank.checks._look import Look
from bank.model import Expression, Line
from bank.numerals import POWERS, Numeral

HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
STANDARDS = "AERA, APA & NCME 2014, Standards for Educational and Psychological Testing"

MOST_TYPED_DIGITS = 9
"""Longest key that pupils are asked to type. Common practice, no source."""

_Form = tuple[object, ...]
_forms: dict[_Form, bool] = {}


@check(
    "one-right-option", severity="error", about="choice",
    rule="exactly one option has the key's value, and it alone is marked as key",
    why="With two right options, or none, every mark given for the item is arbitrary.", source=HALADYNA,
)
def one_right_option(look: Look) -> Complaints:
    """Complain where not just one option is right, or another one is marked."""
    right = look.values.count(look.key_value)
    if right == 1 and look.marked == 1 and look.values[look.key_at] == look.key_value:
        return FINE
    return ((f"{right} options have the key's value {look.key}, {look.marked} are marked as key",
             "let one option have the key's value and mark that one"),)


@check(
    "key-found-again", severity="error",
    rule="the key follows from the item's numbers by another way than the written method",
    why="A wrong key teaches the wrong thing, and the method that made it cannot find its own fault.",
    source=f"{STANDARDS} (keys are checked before use)",
)
def key_found_again(look: Look) -> Complaints:
    """Complain where whole-number arithmetic, for - and / the inverse operation, does not confirm the key."""
    confirm = _CONFIRM.get(look.family.operation)
    if confirm is not None and confirm(look.operands, look.key, look):
        return FINE
    return ((f"{look.key} is not what {look.family.operation} gives on {_listed(look.operands)}",
             "mend the method or the key; no item of this family is safe"),)


def _listed(operands: tuple[Numeral, ...]) -> str:
    return " and ".join(operand.text() for operand in operands)


def _adds_up(operands: tuple[Numeral, ...], total: Numeral) -> bool:
    top = total.places
    for operand in operands:
        if operand.places > top:
            top = operand.places
    found = 0
    for operand in operands:
        found += operand.coefficient * POWERS[top - operand.places]
    return found == total.coefficient * POWERS[top - total.places]


def _confirm_sum(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    return _adds_up(operands, key)


def _confirm_difference(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    return len(operands) == 2 and _adds_up((key, operands[1]), operands[0])


def _confirm_product(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    if len(operands) != 2:
        return False
    first, second = operands
    found, places = first.coefficient * second.coefficient, first.places + second.places
    if places >= key.places:
        return found == key.coefficient * POWERS[places - key.places]
    return found * POWERS[key.places - places] == key.coefficient


def _confirm_quotient(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    """Multiply back; what is missing is nothing or, after rounding, at most half a unit of the last place."""
    if len(operands) != 2 or not operands[1].coefficient:
        return False
    dividend, divisor = operands
    rounding = look.family.rounding
    top = dividend.places
    if divisor.places + key.places > top:
        top = divisor.places + key.places
    if rounding is not None and divisor.places + rounding > top:
        top = divisor.places + rounding
    whole = dividend.coefficient * POWERS[top - dividend.places]
    back = divisor.coefficient * key.coefficient * POWERS[top - divisor.places - key.places]
    if rounding is None:
        return whole == back
    if key.places > rounding:
        return False
    unit = divisor.coefficient * POWERS[top - divisor.places - rounding]
    return -unit < 2 * (whole - back) < unit or 2 * (back - whole) == unit


def _confirm_choice(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    best = operands[0]
    smallest = look.family.layout == "smallest"
    for operand in operands[1:]:
        if operand < best if smallest else operand > best:
            best = operand
    return best == key


def _confirm_rounding(operands: tuple[Numeral, ...], key: Numeral, look: Look) -> bool:
    rounding = look.family.rounding
    if len(operands) != 1 or rounding is None:
        return False
    number = operands[0]
    top = number.places if number.places > key.places else key.places
    if rounding > top:
        top = rounding
    unit = POWERS[top - rounding]
    wanted, found = number.coefficient * POWERS[top - number.places], key.coefficient * POWERS[top - key.places]
    if found % unit:
        return False
    if wanted < 0:
        wanted, found = -wanted, -found
    return -unit < 2 * (wanted - found) < unit or 2 * (found - wanted) == unit


_CONFIRM = {
    "add": _confirm_sum, "subtract": _confirm_difference, "multiply": _confirm_product, "divide": _confirm_quotient,
    "compare": _confirm_choice, "round": _confirm_rounding,
}


@check(
    "solution-gives-the-key", severity="error",
    rule="the worked solution works on the item's numbers and its last step gives the key",
    why="A solution that ends elsewhere than the key makes pupils distrust both.",
    source=f"{STANDARDS} (keys are checked before use)",
)
def solution_gives_the_key(look: Look) -> Complaints:
    """Complain where the solution has other numbers, another result, or a last step without the key."""
    trace, key = look.item.solution, look.key
    if trace.operation != look.family.operation or trace.operands != look.operands:
        return ((f"the solution is of {trace.operation} on {_listed(trace.operands)}", "solve the item's own numbers"),)
    result = trace.result
    if (result.coefficient != key.coefficient or result.places != key.places) and result != key:
        return ((f"the solution ends with {trace.result}, the key is {key}", "mend the one that is wrong"),)
    if not trace.steps or not _says(trace.steps[-1], key):
        return ((f"the last step does not say {key}", "end the steps with the answer"),)
    return FINE


def _says(line: Line, key: Numeral) -> bool:
    coefficient, places = key.coefficient, key.places
    for leaf in reversed(line):
        for part in reversed(leaf.parts) if type(leaf) is Expression else (leaf,):
            if type(part) is Numeral and (
                part.coefficient == coefficient if part.places == places else part == key
            ):
                return True
    return False


@check(
    "key-in-the-form-asked-for", severity="error",
    rule="the key has the places that the family fixes; else it ends without a zero after the point",
    why="A form that the stem does not ask for makes two answers right.", source="common practice, no source",
)
def key_in_the_form_asked_for(look: Look) -> Complaints:
    """Complain about places that are missing or too many."""
    family, key = look.family, look.key
    if family.places is not None:
        if key.places == family.places:
            return FINE
        return ((f"the key {key} has {key.places} places", f"write it with {family.places}"),)
    if look.listed or family.operation == "compare" or not key.places:
        return FINE
    if family.rounding is not None:
        if key.places <= max(family.rounding, 0):
            return FINE
        return ((f"the key {key} has {key.places} places", f"round it to {family.rounding}"),)
    if key.coefficient % 10:
        return FINE
    return ((f"the key {key} ends with a zero that nobody asked for", f"write {key.normal()}"),)


@check(
    "half-way-value", severity="report",
    rule="a value half way between two rounded ones is known to be one",
    why="Schools round it up, other rules exist; the stem's rule must be the class's rule.",
    source="common practice, no source",
)
def half_way_value(look: Look) -> Complaints:
    """Report an exact value half way between two values with the places asked for."""
    family = look.family
    rounding = family.rounding
    if rounding is None or family.operation not in ("round", "divide"):
        return FINE
    number, divisor = look.operands[0], look.operands[1] if family.operation == "divide" else _ONE
    numerator = 2 * number.coefficient * POWERS[divisor.places]
    denominator = divisor.coefficient * POWERS[number.places]
    if rounding >= 0:
        numerator *= POWERS[rounding]
    else:
        denominator *= POWERS[-rounding]
    halves, rest = divmod(numerator, denominator)
    if rest or not halves % 2:
        return FINE
    return ((f"the exact value lies half way between two values with {rounding} places",
             "make sure that the class has the rule, or exclude such numbers"),)


_ONE = Numeral(1)


@check(
    "key-not-negative", severity="error", about="every", rule="the key is not negative where no number of the item is",
    why="A written method for such numbers is not taught, so the item measures something else.",
    source="common practice, no source",
)
def key_not_negative(look: Look) -> Complaints:
    """Complain about a negative key."""
    if look.key.coefficient >= 0:
        return FINE
    for operand in look.operands:
        if operand.coefficient < 0:
            return FINE
    return ((f"the key {look.key} is negative", "draw a larger first number"),)


@check(
    "typed-key-short-enough", severity="error", about="typed",
    rule=f"a key to be typed has at most {MOST_TYPED_DIGITS} digits",
    why="Long figures measure typing.", source="common practice, no source",
)
def typed_key_short_enough(look: Look) -> Complaints:
    """Complain about a key that is too long to type."""
    if look.typed is None or -_LIMIT < look.key.coefficient < _LIMIT:
        return FINE
    return ((f"the key {look.key} has more than {MOST_TYPED_DIGITS} digits", "narrow the ranges"),)


_LIMIT = POWERS[MOST_TYPED_DIGITS]


@check(
    "accepted-forms-equal-the-key", severity="error", about="typed",
    rule="every accepted spelling of a typed key is read as the key, and no wrong answer is",
    why="A spelling that is read otherwise marks pupils wrong in silence.", source="common practice, no source",
)
def accepted_forms_equal_the_key(look: Look) -> Complaints:
    """Complain about spellings that are not read as the key.

    Which spellings are accepted depends on the key's digits only through their number and its zeros, so that
    each such shape of a key is listed and read once.
    """
    response = look.typed
    if response is None:
        return FINE
    key, unit = look.key, look.family.unit
    digits = str(key.coefficient)
    shape = (len(digits), key.places, len(digits.rstrip("0")), digits[0] == "-", response.policy, unit, look.locale)
    known = _forms.get(shape)
    if known:
        return FINE
    wrong = [form for form in answers.accepted_forms(key, look.locale, response.policy, unit)
             if (read := answers.read_answer(form, look.locale, unit)) is None or read != key]
    if not wrong:
        if len(_forms) >= 4096:
            _forms.clear()
        _forms[shape] = True
        return FINE
    return tuple((f"the accepted spelling {form!r} is not read as {key}", "take it off the list") for form in wrong)


@check(
    "typed-wrong-answers-are-wrong", severity="error", about="typed",
    rule="no wrong answer kept with a typed item has the key's value, and no two have one value",
    why="A right answer would be told that it fits a mistake.", source=HALADYNA,
)
def typed_wrong_answers_are_wrong(look: Look) -> Complaints:
    """Complain about kept wrong answers that are right or stand twice."""
    response = look.typed
    if response is None or not response.mistakes:
        return FINE
    key = look.key
    top = max(key.places, max([numeral.places for numeral, _ in response.mistakes]))
    seen = {numeral.coefficient * POWERS[top - numeral.places] for numeral, _ in response.mistakes}
    if len(seen) < len(response.mistakes):
        return (("two wrong answers have one value", "keep them once, with all mistakes that lead there"),)
    if key.coefficient * POWERS[top - key.places] in seen:
        return ((f"a wrong answer has the key's value {key}", "leave it out"),)
    return FINE
