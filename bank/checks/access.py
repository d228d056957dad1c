"""Checks of access: text that every reader and every reading device gets in the right order and writing."""

from __future__ import annotations

from bank.checks import FINE, Complaints, check
from bank.checks._look import Look, Wording
from bank.checks._text import UNFILLED, figures_of, unseen, untidy, words_of
from bank.model import ROLES, Family, Line

WCAG = "W3C WCAG 2.2 (number of the criterion from memory)"
POINTING = ("shown in red", "shown in blue", "shown in green", "in the picture", "in the diagram", "on the left",
            "on the right", "see above", "see below", "shown above", "shown below")
JUDGING = frozenset("careless carelessly lazy silly stupid obviously obvious easy simply trivial bad shame".split())


@check(
    "plain-characters", severity="error", about="wording",
    rule="no control character, no mark that turns the reading order, no private or unassigned character",
    why="Such characters are not allowed in XML or are read differently by every device.",
    source="W3C XML 1.0, production Char; Unicode general categories",
)
def plain_characters(wording: Wording) -> Complaints:
    """Complain about characters that nobody sees."""
    return unseen("\n".join(wording.lines))


@check(
    "language-declared", severity="error", about="wording", rule="the language of the text is declared",
    why="A reading device chooses its voice by it.", source=f"{WCAG}, 3.1.1 language of page",
)
def language_declared(wording: Wording) -> Complaints:
    """Complain about a locale without a plain language tag."""
    tag = wording.locale.language
    parts = tag.split("-")
    if tag and parts[0].isalpha() and 2 <= len(parts[0]) <= 3 and all(part.isalnum() for part in parts):
        return FINE
    return ((f"{tag!r} is no language tag", "write such as en or en-GB in the locale"),)


@check(
    "one-decimal-mark", severity="error", about="wording",
    rule="figures among the words have the locale's decimal mark, and numbers of a list are parted by another sign",
    why="A point and a comma in one item make two numbers of one.", source="CGPM 2003, resolution 10",
)
def one_decimal_mark(wording: Wording) -> Complaints:
    """Complain about the other mark within figures, and about a list separator that is the decimal mark."""
    locale = wording.locale
    if locale.list_separator.strip() == locale.decimal_mark:
        return (("the list separator is the decimal mark", "part lists with a semicolon in this locale"),)
    other = "," if locale.decimal_mark == "." else "."
    found = [one for one in figures_of(wording.text) if other in one]
    if found:
        return ((f"{found[0]} is not written with {locale.decimal_mark!r}", "make it a number of the template"),)
    return FINE


@check(
    "no-pointing-words", severity="warning", about="wording",
    rule="the stem does not point to a colour or a place on the page",
    why="Who listens, or reads in one column, sees neither.",
    source=f"{WCAG}, 1.3.3 sensory characteristics, 1.4.1 use of colour",
)
def no_pointing_words(wording: Wording) -> Complaints:
    """Complain about English words that point."""
    text = wording.text.lower()
    return tuple((f"the stem says {words!r}", "name what is meant") for words in POINTING if words in text)


@check(
    "working-in-words", severity="error", about="every",
    rule="the worked solution has its steps in words beside rows of equal width with known roles",
    why="A grid of digits is no text; the steps are its equivalent.", source=f"{WCAG}, 1.1.1 non-text content",
)
def working_in_words(look: Look) -> Complaints:
    """Complain about a solution without steps, or with rows that cannot be laid out."""
    trace = look.item.solution
    if not trace.steps:
        return (("the solution has no steps in words", "give the steps"),)
    width = trace.width
    for row in trace.rows:
        if len(row.cells) != width or row.role not in _ROLES:
            return ((f"the row {row.role!r} has {len(row.cells)} cells of {width}", "mend the method"),)
    return FINE


_ROLES = frozenset(ROLES)


def _plain(line: Line) -> str:
    return "".join(leaf if isinstance(leaf, str) else "0" for leaf in line)


@check(
    "feedback-is-tidy", severity="error", about="family",
    rule="feedback is tidy text without placeholders or unseen characters",
    why="Feedback is read as closely as the stem.", source="common practice, no source",
)
def feedback_is_tidy(family: Family) -> Complaints:
    """Complain about hint and praise as about a stem."""
    lines = tuple(_plain(line) for line in (*family.hint, *family.praise))
    text = "\n".join(lines)
    unfilled = tuple((f"feedback holds {mark!r}", "fill it") for mark in UNFILLED if mark in text)
    return (*unfilled, *unseen(text), *untidy(lines))


@check(
    "feedback-does-not-judge", severity="warning", about="family", rule="feedback speaks of the work, not of the pupil",
    why="Judging the pupil lowers what feedback can do.", source="Shute 2008, Review of Educational Research 78:153",
)
def feedback_does_not_judge(family: Family) -> Complaints:
    """Complain about English words that judge."""
    words = [word for line in (*family.hint, *family.praise) for word in words_of(_plain(line)) if word in JUDGING]
    return ((f"feedback says {words[0]!r}", "say where to look"),) if words else FINE
