"""Checks of the stem: one full task in light words, every number used, nothing left unfilled."""

from __future__ import annotations

from bank.checks import FINE, Complaints, check
from bank.checks._look import Look, Wording
from bank.checks._text import UNFILLED, figures_of, sentences_of, untidy, words_of

HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
READING = "Abedi & Lord 2001, Applied Measurement in Education 14:219 (the limits: common practice, no source)"

MOST_WORDS = 60
"""Longest stem in words, a number counting as one. Common practice, no source."""
MOST_WORDS_OF_SENTENCE = 20
"""Longest sentence in words. Common practice, no source."""

INSTRUCTIONS = frozenset(
    "add arrange calculate change check choose compare complete convert count decide divide do estimate explain fill "
    "find give how match multiply name order put round say select show solve subtract take tell type use what when where "
    "which who work write".split()
)
"""English words that begin a question or an instruction."""
NEGATIVES = frozenset(
    "not no none never neither nor except cannot isn't aren't wasn't doesn't don't didn't can't won't incorrect".split()
)
"""English words that turn a question round."""
LEANS_ON_OPTIONS = ("of the following", "of these options", "of the options", "of the answers", "below is")


def _is_english(wording: Wording) -> bool:
    return wording.locale.language.split("-")[0].lower() == "en"


def _is_task(sentence: str, english: bool) -> bool:
    if sentence.endswith("?") or not english:
        return True
    words = words_of(sentence)
    return any(word in INSTRUCTIONS for word in words[:1]) or any(
        word in INSTRUCTIONS for part in sentence.split(",")[1:] for word in words_of(part)[:1]
    )


@check(
    "asks-one-full-question", severity="error", about="wording",
    rule="the stem asks a question or gives an instruction, and ends as a sentence or with the calculation",
    why="An item must be answerable with its options covered.", source=HALADYNA,
)
def asks_one_full_question(wording: Wording) -> Complaints:
    """Complain about a stem without a task (known for English), and about a last line that breaks off."""
    if not wording.lines:
        return (("the stem is empty", "write a question or an instruction"),)
    complaints = []
    last = wording.lines[-1].rstrip()
    if not wording.only_expression[-1] and not last.endswith((".", "?", "!", ":")):
        complaints.append(("the last line breaks off", "end it with a full stop or a question mark"))
    english = _is_english(wording)
    sentences = [one for line in wording.lines for one in sentences_of(line)]
    if not any(wording.only_expression) and not any(_is_task(one, english) for one in sentences):
        complaints.append(("no sentence asks or tells what to do", "write a question or an instruction"))
    return tuple(complaints)


@check(
    "task-comes-last", severity="warning", about="wording",
    rule="the last sentence is the question or the instruction",
    why="Who hears the item, or reads it once, has the task in mind when the working begins.",
    source="W3C WCAG 2.2, success criterion 1.3.2 on meaningful sequence (number from memory)",
)
def task_comes_last(wording: Wording) -> Complaints:
    """Complain about sentences behind the task."""
    english = _is_english(wording)
    if not wording.lines or wording.only_expression[-1]:
        return FINE
    sentences = sentences_of(wording.lines[-1])
    if sentences and _is_task(sentences[-1], english):
        return FINE
    return (("a sentence stands behind the task", "end with the question or the instruction"),)


@check(
    "stem-without-options", severity="error", about="wording", rule="the stem does not lean on its options",
    why="An item must be answerable with its options covered, and a typed item has none.", source=HALADYNA,
)
def stem_without_options(wording: Wording) -> Complaints:
    """Complain about words such as "which of the following", unless the stem itself lists the options."""
    if wording.listed:
        return FINE
    text = wording.text.lower()
    return tuple(
        (f"the stem says {words!r}", "ask so that the question stands alone")
        for words in LEANS_ON_OPTIONS if words in text
    )


@check(
    "no-negative-stem", severity="warning", about="wording", rule="the stem is not turned round by a negative word",
    why="A word such as not is overlooked, and the item then measures reading.", source=HALADYNA,
)
def no_negative_stem(wording: Wording) -> Complaints:
    """Complain about English negative words."""
    if not _is_english(wording):
        return FINE
    found = [word for word in words_of(wording.text.replace("\u2019", "'")) if word in NEGATIVES]
    return ((f"the stem says {found[0]!r}", "ask for what is true"),) if found else FINE


@check(
    "light-reading", severity="warning", about="wording",
    rule=f"at most {MOST_WORDS} words, at most {MOST_WORDS_OF_SENTENCE} in a sentence",
    why="Language load is not arithmetic.", source=READING,
)
def light_reading(wording: Wording) -> Complaints:
    """Complain about long stems and long sentences."""
    complaints = []
    total = len(wording.text.split())
    if total > MOST_WORDS:
        complaints.append((f"the stem has {total} words", f"write at most {MOST_WORDS}"))
    longest = max((len(one.split()) for line in wording.lines for one in sentences_of(line)), default=0)
    if longest > MOST_WORDS_OF_SENTENCE:
        complaints.append((f"a sentence has {longest} words", f"write at most {MOST_WORDS_OF_SENTENCE}"))
    return tuple(complaints)


@check(
    "nothing-unfilled", severity="error", about="wording", rule="no placeholder is left in the stem",
    why="The pupil would see the frame instead of the item.", source="common practice, no source",
)
def nothing_unfilled(wording: Wording) -> Complaints:
    """Complain about what looks like a placeholder."""
    return tuple((f"the stem holds {mark!r}", "fill it") for mark in UNFILLED if mark in wording.text)


@check(
    "tidy-text", severity="error", about="wording",
    rule="no empty line, no needless space, brackets and quotation marks in pairs",
    why="Screen readers and exporters keep what the eye forgives.", source="common practice, no source",
)
def tidy_text(wording: Wording) -> Complaints:
    """Complain about spaces, empty lines and brackets."""
    return untidy(wording.lines)


@check(
    "figures-are-drawn", severity="warning", about="wording",
    rule="figures among the words name places or units; the numbers to work with are drawn",
    why="A figure fixed in the words is in every sibling, and no check sees it as a number.",
    source="common practice, no source",
)
def figures_are_drawn(wording: Wording) -> Complaints:
    """Complain about figures in the words other than 1, powers of ten and the places asked for."""
    family = wording.family
    fine = {"0", "1", "10", "100", "1000", "0.1", "0.01", "0.001", "0,1", "0,01", "0,001"}
    fine |= {str(places) for places in (family.rounding, family.places) if places is not None}
    found = [one for one in figures_of(wording.text) if one not in fine]
    if not found:
        return FINE
    return ((f"the figure {found[0]} stands in the words", "make it a parameter, or write it in letters"),)


@check(
    "zero-before-the-mark", severity="warning", about="wording",
    rule="a number below 1 has a zero before its decimal mark",
    why="A mark alone is overlooked.", source="ISO 31-0, as reported",
)
def zero_before_the_mark(wording: Wording) -> Complaints:
    """Complain about such figures in the words; drawn numbers always have the zero."""
    text = wording.text
    for index, char in enumerate(text[:-1]):
        if char in ".," and text[index + 1].isdigit() and not text[index - 1: index].isdigit():
            return ((f"{text[index:index + 4]!r} has no zero before the mark", "write the zero"),)
    return FINE


@check(
    "numbers-are-shown", severity="error",
    rule="the stem shows every number of the calculation, or one that it is made from",
    why="Without it the item cannot be answered.", source=HALADYNA,
)
def numbers_are_shown(look: Look) -> Complaints:
    """Complain where more numbers are missing than other numbers are shown."""
    if look.as_drawn:
        return FINE
    missing = 0
    numbers = look.numbers
    for operand in look.operands:
        for number in numbers:
            if number is operand or (number.coefficient == operand.coefficient and number.places == operand.places):
                break
        else:
            if operand not in numbers:
                missing += 1
    if not missing or missing <= len(numbers) - (len(look.operands) - missing):
        return FINE
    return ((f"{missing} numbers of the calculation are not in the stem", "show every number"),)


@check(
    "every-number-used", severity="warning",
    rule="every number of the stem belongs to the calculation, or is declared as a parameter",
    why="Window dressing costs reading time and hides the task.", source=HALADYNA,
)
def every_number_used(look: Look) -> Complaints:
    """Complain about numbers that are neither worked with nor a declared parameter."""
    if look.as_drawn:
        return FINE
    operands = look.operands
    for number in look.numbers:
        for operand in operands:
            if number is operand or (number.coefficient == operand.coefficient and number.places == operand.places):
                break
        else:
            text = number.text()
            known = [written for _, written in look.item.parameters]
            if number not in operands and text not in known and text != str(look.family.rounding):
                return ((f"the number {text} is not used", "leave it out, or declare it"),)
    return FINE


@check(
    "key-not-in-the-stem", severity="error",
    rule="the stem does not show the key, unless it lists the numbers to choose from",
    why="The item would answer itself.", source=HALADYNA,
)
def key_not_in_the_stem(look: Look) -> Complaints:
    """Complain about a stem number with the key's value that is not itself worked with."""
    if look.as_drawn or look.listed or look.family.operation == "compare":
        return FINE
    key = look.key
    for number in look.numbers:
        if number.coefficient == key.coefficient and number.places == key.places and number not in look.operands:
            return ((f"the stem shows the key {key}", "leave it out"),)
    return FINE
