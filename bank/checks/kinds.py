"""Checks of the further kinds of response: what is called right is right, what is called wrong is wrong and has its
mistake, and looks give nothing away."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from bank import mistakes
from bank.checks import FINE, Complaints, check
from bank.checks._look import Look
from bank.mistakes import comparison
from bank.model import (
    ChooseInLine, ChooseSeveral, Expression, FindMistake, Line, MatchPairs, Offer, PutInOrder, Response,
)
from bank.numerals import Numeral

HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
STANDARDS = "AERA, APA & NCME 2014, Standards for Educational and Psychological Testing"
COMMON = "common practice, no source"

FEWEST_RIGHT, FEWEST_WRONG = 2, 2
SIGNS = ("<", "=", ">")
_OPERATIONS = {"+": "add", "-": "subtract", "*": "multiply", "/": "divide"}


def exact(text: Line) -> Fraction | None:
    """Return what a text of one number or expression is worth by exact fractions, None for other texts.

    Times and divided by come before plus and minus, from the left; this is no written method.
    """
    leaf = text[0] if len(text) == 1 else ""
    if isinstance(leaf, Numeral):
        return leaf.value
    if not isinstance(leaf, Expression) or not leaf.parts or isinstance(leaf.parts[0], str):
        return None
    sums = [leaf.parts[0].value]
    for sign, part in zip(leaf.parts[1::2], leaf.parts[2::2], strict=False):
        if isinstance(part, str):
            return None
        value = part.value
        if sign == "*":
            sums[-1] *= value
        elif sign == "/":
            if not value:
                return None
            sums[-1] = Fraction(sums[-1], value)
        elif sign in ("+", "-"):
            sums.append(value if sign == "+" else -value)
        else:
            return None
    return sum(sums, Fraction(0))


def _sets(response: Response) -> Iterator[tuple[Offer, ...]]:
    """Give each set of things that stand beside one another."""
    if isinstance(response, (ChooseSeveral, ChooseInLine)):
        yield response.options
    elif isinstance(response, PutInOrder):
        yield response.offers
    elif isinstance(response, MatchPairs):
        yield response.sources
        yield response.targets
    elif isinstance(response, FindMistake):
        yield response.steps


@check(
    "offers-differ", severity="error", about="further",
    rule="no two things offered look alike or have one identifier; numbers to order or to match with differ in value",
    why="Of two that look alike, or are equal, one would be marked wrong.", source=HALADYNA,
)
def offers_differ(look: Look) -> Complaints:
    """Complain about doubles among what is offered."""
    response = look.item.response
    for offers in _sets(response):
        names = [one.identifier for one in offers]
        texts = [_looks(one.text) for one in offers]
        if len(set(names)) < len(names) or (len(set(texts)) < len(texts) and not isinstance(response, FindMistake)):
            return (("two things offered look alike, or have one identifier", "offer each once"),)
    if isinstance(response, (PutInOrder, MatchPairs)):
        numbers = response.offers if isinstance(response, PutInOrder) else response.targets
        values = [exact(one.text) for one in numbers]
        if None in values or len(set(values)) < len(values):
            return (("two of the numbers are equal, or one is no number", "draw numbers that differ"),)
    return FINE


def _looks(text: Line) -> str:
    return "\x1f".join([
        " ".join([part if isinstance(part, str) else part.text() for part in leaf.parts])
        if isinstance(leaf, Expression) else leaf if isinstance(leaf, str) else leaf.text()
        for leaf in text
    ])


@check(
    "right-ones-found-again", severity="error", about="further",
    rule="exact fractions find the same right answer as the written methods, and no other is right",
    why="A wrong key teaches the wrong thing, and the method that made it cannot find its own fault.",
    source=f"{STANDARDS} (keys are checked before use)",
)
def right_ones_found_again(look: Look) -> Complaints:
    """Complain where values, order, pairs or sign are not what exact fractions give."""
    response, key = look.item.response, look.key
    if isinstance(response, ChooseSeveral):
        return _several_again(response, key)
    if isinstance(response, PutInOrder):
        return _order_again(response, key)
    if isinstance(response, MatchPairs):
        return _pairs_again(response, key)
    if isinstance(response, ChooseInLine):
        return _line_again(look, response)
    return FINE


def _several_again(response: ChooseSeveral, key: Numeral) -> Complaints:
    for one in response.options:
        worth = exact(one.text)
        if worth is None:
            worth = None if one.value is None else one.value.value
        if worth is None or one.value is None or one.value.value != worth:
            return ((f"option {one.identifier} is worth {worth}, {one.value} is kept", "mend its value"),)
        if (worth == key.value) != one.is_key:
            return ((f"option {one.identifier} is worth {worth}, the key is {key}", "mend what is marked as right"),)
    right = sum([one.is_key for one in response.options])
    if right < FEWEST_RIGHT or len(response.options) - right < FEWEST_WRONG:
        return ((f"{right} of {len(response.options)} options are right", "offer at least two right and two wrong ones"),)
    return FINE


def _order_again(response: PutInOrder, key: Numeral) -> Complaints:
    values = {one.identifier: exact(one.text) for one in response.offers}
    if sorted(response.right) != sorted(values):
        return (("the right order does not name each number once", "mend the order"),)
    standing = [value for name in response.right if (value := values[name]) is not None]
    if response.direction == "descending":
        standing.reverse()
    if len(standing) < len(values) or not all(one < other for one, other in pairwise(standing)):
        return ((f"{', '.join(response.right)} is not {response.direction}", "mend the order"),)
    if values[response.right[0]] != key.value:
        return ((f"the order begins with {values[response.right[0]]}, the key is {key}", "mend the key"),)
    return FINE


def _pairs_again(response: MatchPairs, key: Numeral) -> Complaints:
    sources = {one.identifier: one for one in response.sources}
    targets = {one.identifier: exact(one.text) for one in response.targets}
    if tuple(source for source, _ in response.pairs) != tuple(sources):
        return (("the pairs do not name each source once, in order", "mend the pairs"),)
    for name, target in response.pairs:
        source = sources[name]
        worth = exact(source.text)
        if worth is None and source.value is not None:
            worth = source.value.value
        if worth is None or worth != targets.get(target):
            return ((f"{name} is worth {worth}, {target} is {targets.get(target)}", "mend the pair"),)
    if len({target for _, target in response.pairs}) < len(response.pairs):
        return (("two sources have one target", "draw sources with different values"),)
    if targets[response.pairs[0][1]] != key.value:
        return ((f"the first source is worth {targets[response.pairs[0][1]]}, the key is {key}", "mend the key"),)
    return FINE


def _line_again(look: Look, response: ChooseInLine) -> Complaints:
    sides = _sides(look.item.stem)
    values = [None, None] if sides is None else [exact(side) for side in sides]
    left, right = values
    if left is None or right is None:
        return (("the stem has not just one gap between two numbers or expressions", "write {{ work }} once"),)
    sign = "<" if left < right else ">" if right < left else "="
    if tuple(one.text for one in response.options) != tuple((one,) for one in SIGNS):
        return (("the signs offered are not <, = and > in this order", "offer these"),)
    if [str(one.text[0]) for one in response.options if one.is_key] != [sign]:
        return ((f"between {left} and {right} stands {sign}, another is marked as right", "mend the key"),)
    if max(left, right) != look.key.value:
        return ((f"the larger one is {max(left, right)}, the key is {look.key}", "mend the key"),)
    return FINE


def _sides(stem: tuple[Line, ...]) -> tuple[Line, Line] | None:
    gaps = [leaf for line in stem for leaf in line if isinstance(leaf, Expression) and "?" in leaf.parts]
    if len(gaps) != 1 or gaps[0].parts.count("?") != 1:
        return None
    parts = gaps[0].parts
    at = parts.index("?")
    left, right = parts[:at], parts[at + 1 :]
    return (
        ((left[0] if len(left) == 1 else Expression(left)),), ((right[0] if len(right) == 1 else Expression(right)),)
    )


@check(
    "further-solution-gives-the-key", severity="error", about="further",
    rule="the worked solution works on the item's numbers and gives the key", source=f"{STANDARDS} (keys are checked)",
    why="A solution that ends elsewhere than the key makes pupils distrust both.",
)
def further_solution_gives_the_key(look: Look) -> Complaints:
    """Complain where the solution has another operation, other numbers or another result."""
    trace = look.item.solution
    if trace.operation != look.family.operation or trace.operands != look.operands:
        return (("the solution is of other numbers", "solve the item's own numbers"),)
    if trace.result != look.key:
        return ((f"the solution gives {trace.result}, the key is {look.key}", "mend the one that is wrong"),)
    return FINE


@check(
    "mistake-leads-there", severity="error", about="further",
    rule="run again on the item's numbers, each mistake that is named leads to the answer it is named with",
    why="Feedback on a mistake that was not made misleads.", source=f"{HALADYNA} (options are common errors)",
)
def mistake_leads_there(look: Look) -> Complaints:
    """Complain about a mistake that gives something else, or that the library does not know."""
    response = look.item.response
    for name, told in _led(response, look):
        if name not in mistakes.load():
            return ((f"{name!r} is no mistake of the library", "name one of the library"),)
        if not told:
            return ((f"{name} does not lead to the answer it is named with", "make the item anew"),)
    return FINE


def _led(response: Response, look: Look) -> Iterator[tuple[str, bool]]:
    """Give (id of a mistake, whether it leads where it is said to)."""
    if isinstance(response, ChooseSeveral):
        for one in response.options:
            for name in one.mistakes:
                answer = _answer(name, one.text)
                led = answer is not None and (answer != look.key if one.is_key else answer == look.key)
                yield name, led or _no_calculation(name, one.text)
    elif isinstance(response, PutInOrder):
        numbers = {one.identifier: one.text[0] for one in response.offers}
        for order, names in response.mistakes:
            wanted = tuple([numbers[name] for name in order])
            for name in names:
                found = tuple(_in_order(name, [n for n in numbers.values() if isinstance(n, Numeral)]))
                yield name, wanted == (found[::-1] if response.direction == "descending" else found)
    elif isinstance(response, MatchPairs):
        texts = {one.identifier: one for one in (*response.sources, *response.targets)}
        for (source, target), names in response.mistakes:
            for name in names:
                yield name, _answer(name, texts[source].text) == texts[target].value
    elif isinstance(response, ChooseInLine):
        sides = _sides(look.item.stem)
        for one in response.options:
            for name in one.mistakes:
                yield name, sides is not None and str(one.text[0]) in _signs(name, *sides)


def _no_calculation(name: str, text: Line) -> bool:
    """Return whether *text* is no calculation, so that the mistake made it from other numbers than it shows."""
    return name in mistakes.load() and not (len(text) == 1 and isinstance(text[0], Expression))


def _record(name: str) -> mistakes.Mistake | None:
    known = mistakes.load()
    return known[name] if name in known else None


def _answer(name: str, text: Line) -> Numeral | None:
    """Return what a learner with the mistake *name* gets for an expression of two numbers, None for another text."""
    leaf = text[0] if len(text) == 1 else ""
    record = _record(name)
    if record is None or not isinstance(leaf, Expression) or len(leaf.parts) != 3:
        return None
    first, sign, second = leaf.parts
    if isinstance(first, str) or isinstance(second, str) or record.operation != _OPERATIONS.get(str(sign)):
        return None
    return record.procedure(first, second, **mistakes.options_for(record.operation))


def _in_order(name: str, numbers: list[Numeral]) -> tuple[Numeral, ...]:
    if name not in mistakes.load() or mistakes.load()[name].operation != "compare":
        return ()
    return comparison.in_order(name, numbers)


def _signs(name: str, left: Line, right: Line) -> set[str]:
    """Return the signs that the mistake *name* leads to between two sides."""
    first, second = exact(left), exact(right)
    record = _record(name)
    if record is None or first is None or second is None:
        return set()
    if record.operation == "compare":
        if not isinstance(left[0], Numeral) or not isinstance(right[0], Numeral):
            return set()
        return {("=", ">", "<")[comparison.judged(name, left[0], right[0])]}
    found = set()
    for answer, other, turned in ((_answer(name, left), second, False), (_answer(name, right), first, True)):
        if answer is not None:
            one, two = (other, answer.value) if turned else (answer.value, other)
            found.add("<" if one < two else ">" if two < one else "=")
    return found


@check(
    "wrong-ones-name-a-mistake", severity="error", about="further",
    rule="at least one wrong answer is where a documented mistake leads, and of wrong options at least half are",
    why="A wrong answer that nobody would give makes the item easier and tells nothing.",
    source=f"{HALADYNA} (distractors are typical errors)",
)
def wrong_ones_name_a_mistake(look: Look) -> Complaints:
    """Complain where too few wrong answers have a mistake."""
    response = look.item.response
    if isinstance(response, ChooseSeveral):
        wrong = [one for one in response.options if not one.is_key]
        named = sum([bool(one.mistakes) for one in wrong])
        if 2 * named < len(wrong):
            return ((f"{named} of {len(wrong)} wrong options have a mistake", "offer where known mistakes lead"),)
    elif isinstance(response, ChooseInLine):
        if not any(one.mistakes for one in response.options):
            return (("no mistake leads to a wrong sign", "draw other numbers"),)
    elif isinstance(response, (PutInOrder, MatchPairs)) and not response.mistakes:
        return (("no mistake leads to a wrong answer", "draw other numbers"),)
    return FINE


@check(
    "shown-order-is-no-answer", severity="error", about="further",
    rule="numbers to order are not first shown in the right order, nor in that order turned round",
    why="Who does nothing, or only turns the list round, would be right.", source=COMMON,
)
def shown_order_is_no_answer(look: Look) -> Complaints:
    """Complain about an order that gives the right one away."""
    response = look.item.response
    if not isinstance(response, PutInOrder):
        return FINE
    shown = tuple(one.identifier for one in response.offers)
    if shown in (response.right, response.right[::-1]):
        return (("the order first shown is the right one, or its reverse", "show them in another order"),)
    return FINE


@check(
    "looks-do-not-mark-right-ones", severity="warning", about="further",
    rule="of several options the right ones are not just those of one form, the longest or the shortest",
    why="Who looks for what stands out would be right without reckoning.", source=HALADYNA,
)
def looks_do_not_mark_right_ones(look: Look) -> Complaints:
    """Complain where form or length parts the right ones from the wrong ones."""
    response = look.item.response
    if not isinstance(response, ChooseSeveral):
        return FINE
    forms: dict[bool, set[str]] = {True: set(), False: set()}
    lengths: dict[bool, list[int]] = {True: [], False: []}
    for one in response.options:
        forms[one.is_key].add(_form(one.text))
        lengths[one.is_key].append(len(_looks(one.text)))
    if not forms[True] & forms[False]:
        return (("the right ones have another form than the wrong ones", "offer both forms on both sides"),)
    right, wrong = lengths[True], lengths[False]
    if right and wrong and (min(right) > max(wrong) or max(right) < min(wrong)):
        return (("the right ones are all longer, or all shorter, than the wrong ones", "mix lengths"),)
    return FINE


def _form(text: Line) -> str:
    leaf = text[0] if len(text) == 1 else ""
    if isinstance(leaf, Expression):
        return " ".join([part for part in leaf.parts if isinstance(part, str)])
    return "number" if isinstance(leaf, Numeral) else "words"


@check(
    "left-over-does-not-stand-out", severity="warning", about="further",
    rule="a value that belongs to no source is not the only whole number, nor the only one that is none",
    why="The odd one out is known as left over without reckoning.", source=HALADYNA,
)
def left_over_does_not_stand_out(look: Look) -> Complaints:
    """Complain where the values left over differ in kind from all that belong to a source."""
    response = look.item.response
    if not isinstance(response, MatchPairs):
        return FINE
    used = {target for _, target in response.pairs}
    kinds: dict[bool, set[bool]] = {True: set(), False: set()}
    for one in response.targets:
        worth = exact(one.text)
        kinds[one.identifier in used].add(worth is not None and worth.denominator == 1)
    if len(kinds[True]) == 1 and kinds[False] and not kinds[False] & kinds[True]:
        return (("only the values left over are whole, or only they are not", "draw other ones"),)
    return FINE


@check(
    "all-chosen-earns-nothing", severity="warning", about="further",
    rule="where each right choice counts, no more options are right than wrong",
    why="Right less wrong ones would pay for choosing everything.", source=COMMON,
)
def all_chosen_earns_nothing(look: Look) -> Complaints:
    """Complain where choosing every option earns a part of the mark."""
    response = look.item.response
    if not isinstance(response, ChooseSeveral) or response.credit != "each":
        return FINE
    right = sum([one.is_key for one in response.options])
    if 2 * right <= len(response.options):
        return FINE
    return ((f"{right} of {len(response.options)} options are right", "offer as many wrong ones, or give credit for all"),)
