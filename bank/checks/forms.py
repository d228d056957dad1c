"""Checks of a quiz as a whole: its items exist and differ, and its keys cannot be guessed from where they stand."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from functools import lru_cache
from math import comb

from bank.checks import FINE, QuizComplaints, check
from bank.model import Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Quiz, Response
from bank.questions import calculation

ATTALI = "Attali & Bar-Hillel 2003, Journal of Educational Measurement 40:109"
EXACT_BALANCE = "Bar-Hillel & Attali 2001 (exact balance can be exploited too)"
HALADYNA = "Haladyna, Downing & Rodriguez 2002, Applied Measurement in Education 15:309"
ENEMIES = "Becker & Kao 2022, Journal of Applied Testing Technology 23:41"

LONGEST_RUN = 3
"""Most keys in a row in one position. Common practice, no source."""
LONGEST_PERIOD = 4
FEWEST_FOR_PERIOD = 8
"""Items from which on a repeated pattern of keys is looked for. Common practice, no source."""
FALSE_ALARM = 100
"""One in so many honest quizzes is complained about by a bound on counts. Common practice, no source."""
MOST_IN_SECTION = 40
"""Most items of a section. Common practice, no source."""
OFTEN_ENOUGH = 3
"""Items from which on a mistake can be told from a slip. Common practice, no source."""

Items = Mapping[str, Item]


def _known(quiz: Quiz, items: Items) -> Iterator[Item]:
    return (items[name] for name in quiz.items if name in items)


def _choices(quiz: Quiz, items: Items) -> list[tuple[Item, Choice]]:
    """Return the items whose options stand in numerical order; listed ones have their order from the stem."""
    return [
        (item, item.response) for item in _known(quiz, items)
        if isinstance(item.response, Choice) and item.response.order == "ascending"
    ]


@lru_cache(maxsize=4096)
def most_by_chance(count: int, share: int, comparisons: int) -> int:
    """Return the most hits that chance of one in *share* is allowed in *count* tries.

    The smallest h for which P(X > h) is at most 1 : (`FALSE_ALARM` * *comparisons*), X binomial; whole numbers only.
    """
    total, hits = share**count, 0
    above = total - (share - 1) ** count
    while above * FALSE_ALARM * comparisons > total:
        hits += 1
        above -= comb(count, hits) * (share - 1) ** (count - hits)
    return hits


@check(
    "items-exist", severity="error", about="quiz",
    rule="every item of the quiz is in the bank, and only once in the quiz",
    why="A missing item breaks the import; an item twice is marked twice.", source="common practice, no source",
)
def items_exist(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about unknown and repeated ids."""
    missing = [("the item is not in the bank", "take it off the quiz, or rebuild the bank", name)
               for name in dict.fromkeys(quiz.items) if name not in items]
    twice = [(f"the item stands {count} times in the quiz", "keep it once", name)
             for name, count in Counter(quiz.items).items() if count > 1]
    return (*missing, *twice)


@check(
    "no-question-twice", severity="error", about="quiz",
    rule="no two items of a quiz ask the same calculation, in either order of a sum or product",
    why="The second one is answered from the first.", source=ENEMIES,
)
def no_question_twice(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about a calculation that comes back."""
    first: dict[bytes, str] = {}
    found = []
    for item in _known(quiz, items):
        earlier = first.setdefault(calculation(item.family, item.operands), item.identifier)
        if earlier != item.identifier:
            found.append((f"{earlier} asks the same calculation", "replace one of them", item.identifier))
    return tuple(found)


@check(
    "one-sibling-in-graded-use", severity="warning", about="quiz",
    rule="a graded quiz has one item of a family",
    why="Siblings are enemies: who sees through one has the others.", source=ENEMIES,
)
def one_sibling_in_graded_use(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about siblings in a graded quiz; in practice and diagnosis they are wanted."""
    if quiz.use != "graded":
        return FINE
    counts = Counter(item.family.template for item in _known(quiz, items))
    return tuple((f"{count} items are of the family {template}", "take them from more families", quiz.identifier)
                 for template, count in sorted(counts.items()) if count > 1)


@check(
    "keys-in-no-run", severity="error", about="quiz",
    rule=f"no more than {LONGEST_RUN} keys in a row stand in one position, and no short pattern repeats throughout",
    why="Pupils doubt a right answer, or guess the next one.",
    source=f"{ATTALI} (the limits: common practice, no source)",
)
def keys_in_no_run(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about runs and periods of key positions."""
    places = [_key_place(choice) for _, choice in _choices(quiz, items)]
    run = 0
    for index, place in enumerate(places):
        run = run + 1 if index and place == places[index - 1] else 1
        if run > LONGEST_RUN:
            return ((f"{run} keys in a row are {'ABCDE'[place]}", "put another item between them", quiz.identifier),)
    for period in range(2, LONGEST_PERIOD + 1):
        if len(places) >= FEWEST_FOR_PERIOD and places[period:] == places[:-period]:
            return ((f"the keys repeat with a period of {period}", "change the order of the items", quiz.identifier),)
    return FINE


def _key_place(choice: Choice) -> int:
    for index, option in enumerate(choice.options):
        if option.is_key:
            return index
    return 0


@check(
    "keys-spread-over-positions", severity="error", about="quiz",
    rule="no position holds more keys than chance allows in ninety-nine of a hundred quizzes",
    why="Makers and takers favour the middle; who always takes one letter must gain nothing.",
    source=f"{ATTALI}; {EXACT_BALANCE}",
)
def keys_spread_over_positions(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about a position with too many keys, among the items with equally many options."""
    groups: dict[int, list[int]] = {}
    for _, choice in _choices(quiz, items):
        groups.setdefault(len(choice.options), []).append(_key_place(choice))
    found = []
    for size, places in sorted(groups.items()):
        if size < 2:
            continue
        most = most_by_chance(len(places), size, size)
        for place, count in sorted(Counter(places).items()):
            if count > most:
                found.append((f"{count} of {len(places)} keys are {'ABCDE'[place]}, chance allows {most}",
                              "exchange items for siblings with other key positions", quiz.identifier))
    return tuple(found)


@check(
    "wrong-steps-spread", severity="warning", about="quiz",
    rule="among workings with a mistake to find, no place holds more wrong steps than chance allows",
    why="Who always marks one step must gain nothing.",
    source=f"{ATTALI} (on keys of choices; on steps: common practice, no source)",
)
def wrong_steps_spread(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about a place that holds too many wrong steps; the shortest working settles what chance allows."""
    found = [item.response for item in _known(quiz, items) if isinstance(item.response, FindMistake)]
    if not found:
        return FINE
    steps = min([len(one.steps) for one in found]) - 1  # the last step only reads the answer off
    most = most_by_chance(len(found), steps, steps) if steps > 1 else len(found)
    return tuple(
        (f"{count} of {len(found)} wrong steps are {step}, chance allows {most}",
         "exchange items for siblings with the wrong step elsewhere", quiz.identifier)
        for step, count in sorted(Counter(one.right for one in found).items()) if count > most
    )


@check(
    "length-does-not-mark-keys", severity="warning", about="quiz",
    rule="keys are alone longest, or alone shortest, no oftener than chance allows",
    why="The longest option is a guesser's first choice.", source=HALADYNA,
)
def length_does_not_mark_keys(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain where picking the longest, or the shortest, option would pay."""
    found = []
    tried: dict[tuple[str, int], list[int]] = {}
    for _, choice in _choices(quiz, items):
        lengths = [len(option.numeral.text()) for option in choice.options]
        mine = lengths[_key_place(choice)]
        for name, best in (("longest", max(lengths)), ("shortest", min(lengths))):
            if lengths.count(best) == 1:
                tried.setdefault((name, len(lengths)), []).append(mine == best)
    for (name, size), hits in sorted(tried.items()):
        if size > 1 and sum(hits) > most_by_chance(len(hits), size, 2):
            found.append((f"the key is the {name} option in {sum(hits)} of {len(hits)} items that have just one",
                          "exchange items for siblings with distractors of other lengths", quiz.identifier))
    return tuple(found)


@check(
    "one-direction-of-options", severity="error", about="quiz",
    rule="options stand in one direction throughout the quiz, smallest first",
    why="A change of direction costs time and marks.", source="Huntley & Welch 1993, ERIC ED358136",
)
def one_direction_of_options(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about an item whose first option is its largest."""
    return tuple(
        ("the options stand largest first", "sort them, smallest first", item.identifier)
        for item, choice in _choices(quiz, items)
        if choice.options and choice.options[-1].numeral < choice.options[0].numeral
    )


@check(
    "one-writing-of-a-unit", severity="warning", about="quiz", rule="one unit is written one way throughout the quiz",
    why="Two writings look like two units.", source="NBME, Constructing Written Test Questions (wording from memory)",
)
def one_writing_of_a_unit(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about units that differ in capitals, in a full stop, or in the side of the number they stand on."""
    seen: dict[str, tuple[str, bool]] = {}
    found = []
    for item in _known(quiz, items):
        unit = item.family.unit
        if unit is None:
            continue
        writing = (unit.text, unit.before)
        first = seen.setdefault(unit.text.lower().rstrip("."), writing)
        if first != writing:
            wrong = f"{unit.text!r} is written {first[0]!r} in an earlier item"
            found.append((wrong, "write it one way", item.identifier))
    return tuple(found)


@check(
    "sections-of-sane-size", severity="error", about="quiz", rule=f"a section has 1 to {MOST_IN_SECTION} items",
    why="An empty section breaks imports; a very long one no lesson.", source="common practice, no source",
)
def sections_of_sane_size(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about empty and very long sections, and about a quiz without sections."""
    if not quiz.sections:
        return (("the quiz has no section", "give it one", quiz.identifier),)
    return tuple(
        (f"the section {section.title!r} has {len(section.items)} items", f"give it 1 to {MOST_IN_SECTION}",
         quiz.identifier)
        for section in quiz.sections if not 1 <= len(section.items) <= MOST_IN_SECTION
    )


@check(
    "graded-without-feedback", severity="error", about="quiz",
    rule="graded use shows no feedback and no worked solution",
    why="Feedback during a graded quiz tells the next pupil the keys.", source="common practice, no source",
)
def graded_without_feedback(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about feedback in graded use."""
    if quiz.use == "graded" and quiz.show_feedback:
        return (("feedback is on in graded use", "turn it off", quiz.identifier),)
    return FINE


@check(
    "feedback-as-in-the-quiz", severity="error", about="quiz",
    rule="items show feedback just where their quiz does",
    why="An item that shows its key elsewhere gives away a quiz that keeps it back.", source="common practice, no source",
)
def feedback_as_in_the_quiz(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain about items that show feedback in a quiz that shows none, and the other way round."""
    wrong = "shows no feedback, its quiz does" if quiz.show_feedback else "shows feedback, its quiz does not"
    return tuple([
        (f"the item {wrong}", "draw an item of its own for this quiz", item.identifier)
        for item in _known(quiz, items) if item.shows_feedback is not quiz.show_feedback
    ])


@check(
    "easy-start", severity="warning", about="quiz",
    rule="the first two items are predicted no harder than the quiz on average",
    why="A hard start discourages.", source="common practice, no source",
)
def easy_start(quiz: Quiz, items: Items) -> QuizComplaints:
    """Complain where one of the first two items is predicted harder than the mean; predictions are wide."""
    known = list(_known(quiz, items))
    total = sum(item.prediction.score for item in known)
    return tuple(
        (f"item {place} of the quiz is predicted harder than its mean", "move an easier item to the front",
         item.identifier)
        for place, item in enumerate(known[:2], 1) if len(known) > 2 and item.prediction.score * len(known) > total
    )


@check(
    "mistakes-met-often-enough", severity="report", about="quiz",
    rule=f"in a diagnosis a mistake is among the options at least {OFTEN_ENOUGH} times",
    why="Coming back tells a mistake from a slip.",
    source="Cox 1974, ERIC ED092407 (the number: common practice, no source)",
)
def mistakes_met_often_enough(quiz: Quiz, items: Items) -> QuizComplaints:
    """Report mistakes that a diagnosis offers too rarely to name them."""
    if quiz.use != "diagnosis":
        return FINE
    counts: Counter[str] = Counter()
    for item in _known(quiz, items):
        counts.update(set(_mistakes_of(item.response)))
    return tuple((f"{name} is among the answers {count} times", f"offer it {OFTEN_ENOUGH} times, or do not report it",
                  quiz.identifier) for name, count in sorted(counts.items()) if count < OFTEN_ENOUGH)


def _mistakes_of(response: Response) -> Iterator[str]:
    """Give the mistakes that some answer of *response* tells of."""
    if isinstance(response, (Choice, ChooseSeveral, ChooseInLine)):
        for option in response.options:
            yield from option.mistakes
    elif isinstance(response, FindMistake):
        yield response.mistake
    else:
        for _, names in response.mistakes:
            yield from names
