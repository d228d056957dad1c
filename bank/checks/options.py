"""Checks of the options: all different, ordered, alike in form, each wrong one a mistake that was really made."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from bank import mistakes
from bank.checks import FINE, Complaints, check
from bank.checks._look import Look
from bank.model import TypedNumber
from bank.numerals import POWERS, Numeral

HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
NBME = "NBME, Constructing Written Test Questions (wording from memory)"
RODRIGUEZ = "Rodriguez 2005, Educational Measurement: Issues and Practice 24(2):3"
HUNTLEY = "Huntley & Welch 1993, ERIC ED358136"

LETTERS = "ABCDE"
MOST_OPTIONS = 5
FEWEST_OPTIONS = 3
SPARE_DIGITS = 2
"""A distractor may have this many digits more than the key or the longest operand. Common practice, no source."""
MOST_PLACES = 6
"""Most places of an option. Common practice, no source."""
MADE_AGAIN = 6
"""Wrong answers of a typed item that are made again."""
VISIBLY_LONGER = 2
"""Digits of difference from which a length is taken to catch the eye. Common practice, no source."""

_procedures: dict[str, mistakes.Procedure] = {}


@check(
    "options-differ-in-value", severity="error", about="choice", rule="no two options have one value",
    why="Two equal options give away that neither is the key.", source=HALADYNA,
)
def options_differ_in_value(look: Look) -> Complaints:
    """Complain about equal options, however they are written."""
    values = look.values
    if len(set(values)) == len(values):
        return FINE
    twice = [option.numeral for option, value in zip(look.options, values, strict=True) if values.count(value) > 1]
    return ((f"{' and '.join(map(str, twice))} have one value", "keep one of them"),)


@check(
    "options-named-in-order", severity="error", about="choice", rule="options are named A, B, C ... in the order shown",
    why="Responses are recorded by these names; a name twice makes them unreadable.",
    source="common practice, no source",
)
def options_named_in_order(look: Look) -> Complaints:
    """Complain about other names."""
    for letter, option in zip(LETTERS, look.options):
        if option.identifier != letter:
            return ((f"option {option.identifier!r} stands where {letter!r} belongs", f"name it {letter!r}"),)
    return FINE


@check(
    "options-in-order", severity="error", about="choice",
    rule="numbers stand in numerical order, smallest first, or in the order of the stem that lists them",
    why="Random order costs weaker pupils time and marks.", source=HUNTLEY,
)
def options_in_order(look: Look) -> Complaints:
    """Complain about options out of order, or about options that the stem's list does not have in this order."""
    if look.listed:
        at = 0
        numbers = look.numbers
        for option in look.options:
            while at < len(numbers) and not numbers[at].same_writing(option.numeral):
                at += 1
            if at == len(numbers):
                return ((f"{option.numeral} is not in the stem in this order", "list the options as the stem does"),)
            at += 1
        return FINE
    values = look.values
    if values == sorted(values):
        return FINE
    falls = [index for index in range(1, len(values)) if values[index] < values[index - 1]]
    return ((f"option {look.options[falls[0]].identifier} is smaller than the one before it",
             "sort the options, smallest first"),)


@check(
    "three-to-five-options", severity="error", about="choice",
    rule=f"{FEWEST_OPTIONS} to {MOST_OPTIONS} options; from 2 on where the stem lists them",
    why="Three options do as well as more; implausible fourths are dead weight.", source=RODRIGUEZ,
)
def three_to_five_options(look: Look) -> Complaints:
    """Complain about too few or too many options."""
    count = len(look.options)
    if (2 if look.listed else FEWEST_OPTIONS) <= count <= MOST_OPTIONS:
        return FINE
    return ((f"there are {count} options", f"offer {FEWEST_OPTIONS} to {MOST_OPTIONS}"),)


@check(
    "distractors-name-a-mistake", severity="error", about="choice",
    rule="every distractor names its mistake, the key names none",
    why="Options should be typical errors of pupils; feedback and diagnosis rest on their names.", source=HALADYNA,
)
def distractors_name_a_mistake(look: Look) -> Complaints:
    """Complain about distractors without a mistake and about a key with one."""
    for option in look.options:
        if option.is_key:
            if option.mistakes:
                return (("the key names a mistake", "take the name away"),)
        elif not option.mistakes:
            return ((f"option {option.identifier} names no mistake", "choose a wrong answer that a mistake gives"),)
    return FINE


@check(
    "mistake-gives-the-answer", severity="error",
    rule="every mistake named beside a wrong answer exists and gives this answer on these numbers",
    why="Else pupils are told of a mistake that they did not make.", source=HALADYNA,
)
def mistake_gives_the_answer(look: Look) -> Complaints:
    """Complain about mistakes that are unknown or give something else when they are made again.

    With a typed item all wrong answers that any mistake gives are kept, twenty and more, and none is shown: of
    these, `MADE_AGAIN` in a row are made again, beginning at a place that the key decides, so that siblings
    have others made again.
    What all mistakes gave on these very numbers a moment ago, when they were drawn, is not asked
    once more.
    """
    family, operands = look.family, look.operands
    operation = family.operation
    extra = _extra(operation, family.layout, family.rounding)
    claims: Sequence[tuple[Numeral, tuple[str, ...]]]
    response = look.item.response
    if type(response) is TypedNumber:
        claims = response.mistakes
        if len(claims) > MADE_AGAIN:
            start = look.key.coefficient % len(claims)
            claims = (claims + claims)[start: start + MADE_AGAIN]
    else:
        claims = [(option.numeral, option.mistakes) for option in look.options if option.mistakes]
    places_of, made = mistakes.just_made(operands, extra)
    for claimed, names in claims:
        coefficient, places = claimed.coefficient, claimed.places
        for name in names:
            procedure = _procedures.get(name) or _known(name)
            if procedure is None or not name.startswith(operation):
                return ((f"{name!r} is no mistake of {operation}", "name a mistake of the library"),)
            at = places_of.get(name)
            answer = made[at] if at is not None else procedure(*operands, **extra) if extra else procedure(*operands)
            if answer is None or (
                (answer.coefficient != coefficient or answer.places != places) and answer != claimed
            ):
                return ((f"{name} gives {answer}, not {claimed}", "choose the distractors anew"),)
    return FINE


@lru_cache(maxsize=256)
def _extra(operation: str, layout: str, places: int | None) -> dict[str, object]:
    return mistakes.options_for(operation, layout, places)


def _known(name: str) -> mistakes.Procedure | None:
    library = mistakes.load()
    if name not in library:
        return None
    procedure = _procedures[name] = library[name].procedure
    return procedure


@check(
    "one-value-one-mistake", severity="report", about="choice", rule="a distractor comes from one mistake",
    why="An answer that fits two mistakes tells less about either.", source="common practice, no source",
)
def one_value_one_mistake(look: Look) -> Complaints:
    """Report distractors that two mistakes lead to; both are recorded with it."""
    for option in look.options:
        if len(option.mistakes) > 1:
            return ((f"{' and '.join(option.mistakes)} both give {option.numeral}", "draw other numbers to part them"),)
    return FINE


@check(
    "one-notation", severity="error", about="choice",
    rule="options have the places that the family fixes; else none ends with a zero after the point",
    why="Options that differ in form are judged by their form.", source=f"{HALADYNA}; {NBME}",
)
def one_notation(look: Look) -> Complaints:
    """Complain about options in another form than the family's; a rounded or listed number may end with a zero."""
    family = look.family
    if family.places is not None:
        for places in look.places:
            if places != family.places:
                return ((f"an option has {places} places", f"write all with {family.places}"),)
        return FINE
    if look.listed or family.rounding is not None:
        return FINE
    if 0 not in look.last_digits:
        return FINE
    for option in look.options:
        numeral = option.numeral
        if numeral.places and not numeral.coefficient % 10:
            return ((f"option {option.identifier} is written {numeral}", f"write {numeral.normal()}"),)
    return FINE


@check(
    "options-not-negative", severity="error", about="choice",
    rule="no option is negative where no number of the item is",
    why="A negative option among positive ones is seen to be wrong without working.",
    source="common practice, no source",
)
def options_not_negative(look: Look) -> Complaints:
    """Complain about negative options."""
    if not look.values or min(look.values) >= 0 or any([operand.coefficient < 0 for operand in look.operands]):
        return FINE
    return (("an option is negative", "choose another distractor"),)


@check(
    "options-of-sane-length", severity="warning", about="choice",
    rule=f"no distractor has more than {SPARE_DIGITS} digits more than the key or the longest number of the item, "
         f"or more than {MOST_PLACES} places",
    why="An absurdly long option is dead weight.", source=RODRIGUEZ,
)
def options_of_sane_length(look: Look) -> Complaints:
    """Complain about absurd lengths."""
    if not look.lengths:
        return FINE
    longest = max(look.lengths)
    if longest <= look.lengths[look.key_at] + SPARE_DIGITS and look.top <= MOST_PLACES:
        return FINE
    allowed = look.lengths[look.key_at]
    for operand in look.operands:
        allowed = max(allowed, len(str(operand.coefficient)), operand.places + 1)
    if longest <= allowed + SPARE_DIGITS and look.top <= MOST_PLACES:
        return FINE
    return ((f"an option has {longest} digits, of them up to {look.top} places", "choose another distractor"),)


def _odd_one_out(marks: Sequence[int], at: int) -> bool:
    """Whether the mark of the key differs from that of all others, which have one mark in common."""
    mine = marks[at]
    common = marks[at - 1]
    return mine != common and marks.count(common) == len(marks) - 1 > 1


@check(
    "places-do-not-mark-the-key", severity="warning", about="choice",
    rule="the key is not alone in its number of places while distractors share theirs",
    why="Distractors from mistakes differ from the key in length; places alone must not give it away.",
    source="SAGE Open 2018, doi 10.1177/2158244018758147",
)
def places_do_not_mark_the_key(look: Look) -> Complaints:
    """Complain where no distractor has the key's number of places, but two or more share another one."""
    if not look.guessable:
        return FINE
    places = look.places
    mine = places[look.key_at]
    if places.count(mine) > 1 or len(set(places)) == len(places):
        return FINE
    return ((f"only the key has {mine} places", "choose a distractor with as many places"),)


@check(
    "length-does-not-mark-the-key", severity="warning", about="choice",
    rule=f"the key is not alone the longest or the shortest option by {VISIBLY_LONGER} digits or more",
    why="The longest option is a guesser's first choice.", source=f"{HALADYNA}; {NBME}",
)
def length_does_not_mark_the_key(look: Look) -> Complaints:
    """Complain about a key whose length catches the eye; smaller differences are counted over a quiz."""
    if not look.guessable:
        return FINE
    lengths, at = look.lengths, look.key_at
    mine = lengths[at]
    ordered = sorted(lengths)
    if ordered[0] <= mine - VISIBLY_LONGER and mine == ordered[-1] and ordered[-2] <= mine - VISIBLY_LONGER:
        return ((f"the key is longer than the others by {mine - ordered[-2]} digits", "choose a longer distractor"),)
    if mine == ordered[0] and ordered[1] >= mine + VISIBLY_LONGER:
        return ((f"the key is shorter than the others by {ordered[1] - mine} digits", "choose a shorter distractor"),)
    return FINE


@check(
    "whole-number-does-not-mark-the-key", severity="warning", about="choice",
    rule="the key is not the only whole number, nor the only one that is none",
    why="The odd one out is a guesser's choice.", source=HALADYNA,
)
def whole_number_does_not_mark_the_key(look: Look) -> Complaints:
    """Complain about a key that is alone whole, or alone not whole."""
    if not look.guessable or not look.top:
        return FINE
    unit = POWERS[look.top]
    whole = [not value % unit for value in look.values]
    if _odd_one_out(whole, look.key_at):
        says = "only the key is a whole number" if whole[look.key_at] else "only the key is no whole number"
        return ((says, "choose a distractor that is like the key in this"),)
    return FINE


@check(
    "last-digit-does-not-mark-the-key", severity="warning", about="choice",
    rule="the distractors do not all end with one digit that is not the key's",
    why="The odd one out is a guesser's choice.", source=HALADYNA,
)
def last_digit_does_not_mark_the_key(look: Look) -> Complaints:
    """Complain where all distractors share a last digit other than the key's."""
    if not look.guessable:
        return FINE
    last = look.last_digits
    if _odd_one_out(last, look.key_at):
        return ((f"all distractors end with {last[look.key_at - 1]}, the key with {last[look.key_at]}",
                 "choose a distractor that ends like the key"),)
    return FINE


@check(
    "key-alone-repeats-no-figure", severity="warning", about="choice",
    rule="the key is not the only option with the figures of a number of the stem",
    why="What sounds like the stem is a guesser's choice.", source=HALADYNA,
)
def key_alone_repeats_no_figure(look: Look) -> Complaints:
    """Complain where the key alone has the same figures, zeros at the ends left out, as a number of the stem."""
    if not look.guessable:
        return FINE
    shown = [_figures(operand) for operand in look.operands]
    if _figures(look.key) not in shown:
        return FINE
    for option in look.options:
        if not option.is_key and _figures(option.numeral) in shown:
            return FINE
    return ((f"only the key {look.key} has the figures of a number of the stem", "draw other numbers"),)


def _figures(numeral: Numeral) -> int:
    """Return the digits as one whole number without zeros at the end."""
    figures = numeral.coefficient
    while figures and not figures % 10:
        figures //= 10
    return figures


@check(
    "no-ladder-round-the-key", severity="warning", about="choice",
    rule="the key does not stand between its tenth part and its tenfold",
    why="Shifts of the point to both sides point to the middle.", source="common practice, no source",
)
def no_ladder_round_the_key(look: Look) -> Complaints:
    """Complain about a chain of ten times with the key inside."""
    if not look.guessable:
        return FINE
    key = look.key_value
    if key * 10 in look.values and not key % 10 and key // 10 in look.values:
        return ((f"a tenth and ten times {look.key} are both offered", "replace one of them"),)
    return FINE


@check(
    "estimate-does-not-decide", severity="warning", about="choice",
    rule="at most one distractor of a sum or difference lies outside half to double the key",
    why="Else a rough estimate does the work and the written method is not measured.",
    source="common practice, no source",
)
def estimate_does_not_decide(look: Look) -> Complaints:
    """Complain about distractors far off; size is the point of the other operations with decimals."""
    if not look.guessable or look.family.operation not in ("add", "subtract"):
        return FINE
    key = look.key_value
    far = 0
    for value in look.values:
        if value + value < key or value > key + key:
            far += 1
    if far < 2:
        return FINE
    return ((f"{far} distractors lie outside half to double the key {look.key}", "choose nearer distractors"),)
