"""Items of the kinds beyond choice and typed number, read back from their files and compared with the bank.

The rules found in the file are carried out on answers that tell one key from another: the right one, none, each part of
it missing or exchanged. Each must earn what the bank's own key says (`bank.marking`), and set what feedback hangs on.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from lxml import etree

from bank.answers import accepted_forms
from bank.marking import earned_marks, most_marks
from bank.model import Item, Locale
from exporters._faults import ExportFault
from exporters._kinds import MODULES
from exporters._profile import Profile
from exporters._qti import Version
from exporters._scoring import Answered, Rule, Rules, Value, carry_out
from exporters._structure import Declared, Structure, StructureReader
from exporters._text import plain_text

KEPT = 4096
"""Keys of items kept at most, whose rules need not be carried out again for further items that are alike."""
UNKNOWN = "\u2717"
"""Typed where nothing that is foreseen is typed."""
Answer = tuple[str, ...]
"""Values of one response; none: not answered."""
Named = Sequence[tuple[object, Sequence[str]]]
"""What the bank says of answers that are told from others only by being the same: what comes of them, and their texts."""
SHORT = 2
"""Words that feedback hangs on are longer; identifiers of what is put in order hardly ever."""


class Tried(NamedTuple):
    """What the rules make of an answer."""

    answers: tuple[Answer, ...]
    """One for each response, in the order of their declarations."""
    score: str
    words: tuple[tuple[str, Any], ...]
    """(outcome, value) of all other outcomes that have a value, sorted, without marks."""


class ReadKind(NamedTuple):
    """What an exported item says, as far as its scoring goes."""

    identifier: str
    interactions: tuple[str, ...]
    """2.x names."""
    right: tuple[Answer, ...]
    """The correct response of each interaction."""
    choices: tuple[tuple[tuple[str, str], ...], ...]
    """(identifier, what is written) in order, of each interaction."""
    mappings: tuple[dict[str, str], ...]
    marks: str
    """The most that can be earned, as the file says."""
    tried: tuple[Tried, ...]


class KindReader:
    """Reads items of all these kinds in one version."""

    def __init__(self, version: Version) -> None:
        self._structures = StructureReader(version)
        self._rules = Rules(version)

    def read(self, root: etree._Element, file: str, further: Sequence[tuple[Answer, ...]] = ()) -> ReadKind:
        """Return what the item with *root* says; *further* answers are tried as well.

        Raises:
            ExportFault: it does not hang together, or is not built as this tool builds items.
        """
        return self.carried_out(self.structure(root, file), file, further)

    def structure(self, root: etree._Element, file: str) -> Structure:
        """Return what hangs together in the item with *root*, its rules neither checked nor carried out.

        Raises:
            ExportFault: it does not hang together.
        """
        return self._structures.read(root, file, rules=False)

    def carried_out(self, found: Structure, file: str, further: Sequence[tuple[Answer, ...]] = ()) -> ReadKind:
        """Return what the item of which *found* was read says; *further* answers are tried as well.

        Raises:
            ExportFault: a rule names what is not declared, or is none that this room writes.
        """
        try:
            self._structures.check_rules(found)
        except ExportFault as fault:
            raise ExportFault(file, found.identifier, fault.wrong) from None
        tried = self._tried(found, further)
        return ReadKind(
            found.identifier, tuple([one.kind for one in found.offered]),
            tuple([declared.right for declared in found.declared.values()]),
            tuple([one.choices for one in found.offered]),
            tuple([declared.mapping for declared in found.declared.values()]),
            found.outcomes.get("MAXSCORE", ("", ""))[1], tried,
        )

    def _tried(self, found: Structure, further: Sequence[tuple[Answer, ...]]) -> tuple[Tried, ...]:
        """Return what the rules make of all answers that are tried."""
        order, tried, rules = list(found.declared), [], self._rules.made_ready(found.processing)
        for answers in dict.fromkeys([*_variants(found), *further]):
            outcomes = _outcomes(found, rules, dict(zip(order, answers, strict=True)))
            score = outcomes.pop("SCORE", "")
            outcomes.pop("MAXSCORE", "")
            words = tuple(sorted((name, value) for name, value in outcomes.items() if not name.startswith("SCORE")))
            tried.append(Tried(answers, score, words))
        return tuple(tried)


class Alike:
    """Says whether items are alike in all that their marks and feedback follow from, both in the file and in the bank.

    What rules make of answers, and what the bank says of them, follows from: the rules as they are written, letter by
    letter, the declarations, the identifiers of the choices, and of the bank's item what its module calls its
    ``shape``. Of what is typed, and of what is put in order, rules and bank ask only whether two of them are the same.
    So these are numbered in the order of their coming, and two items with the same numbers score alike where each text
    of one is put for that of the other: where one was tried and agreed with its bank, so would the other.
    """

    def __init__(self, version: Version) -> None:
        rules = version.element("responseProcessing").encode()
        self._opened, self._closed = b"<" + rules + b">", b"</" + rules + b">"
        constant = version.spell('<baseValue baseType="%s">') + "([^<]*)" + f"</{version.element('baseValue')}>"
        self._strings = re.compile(constant % "string")
        self._identifiers = re.compile(constant % "identifier")
        self._rules: dict[str | bytes, int] = {}
        """Numbers of rules that differ, so that keys need not hold them."""
        self._first = 0
        """The first number that none had of those that are kept no more."""

    def key(self, found: Structure, content: bytes, shape: object, named: Named) -> tuple[object, ...]:
        """Return what is equal for items that are alike; nothing where a text is special, so that nothing is known.

        *content* is the file of which *found* was read; *shape* and *named* are what the bank says.
        """
        written = content[content.find(self._opened) : content.rfind(self._closed)]
        declared = list(found.declared.items())
        offered = [(one.kind, *[name for name, _ in one.choices]) for one in found.offered]
        if not named:
            said = [(name, *one[:3], *one.mapping.items(), one.bounds) for name, one in declared]
            return (self._numbered(written), *said, *offered, *found.outcomes.items(), shape)
        if b"&" in written or b"\r" in written:
            return ()  # what is in the file is written otherwise than it is read
        numbers = _Numbers()
        last = declared[-1][1]
        if last.cardinality == "ordered":
            pieces, names = self._identifiers.split(written.decode()), set(offered[-1][1:])
            if max(map(len, names)) > SHORT:
                return ()  # it could be a word that feedback hangs on
            constants = [numbers[text] if text in names else text for text in pieces[1::2]]
            offered[-1] = offered[-1][0], *map(str, range(len(names)))
        else:
            pieces = self._strings.split(written.decode())
            constants = list(numbers.of(pieces[1::2]))
        said = [(name, *one[:3], *one.mapping.items(), one.bounds) for name, one in declared[:-1]]
        bank = [(name, *numbers.of(texts)) for name, texts in named]
        key = (
            self._numbered("\0".join(pieces[::2])), *constants, *said, declared[-1][0], *last[:2], numbers.of(last.right),
            numbers.of(last.mapping), *last.mapping.values(), last.bounds, *offered, *found.outcomes.items(), shape, *bank,
        )  # fmt: skip
        return () if "" in numbers or UNKNOWN in numbers else key

    def _numbered(self, rules: str | bytes) -> int:
        """Return a number that the same *rules* have, and no others."""
        if len(self._rules) >= KEPT and rules not in self._rules:
            self._rules.clear()
            self._first += KEPT
        return self._rules.setdefault(rules, self._first + len(self._rules))


class _Numbers(dict[str, int]):
    """Numbers texts in the order of their coming."""

    def __missing__(self, text: str) -> int:
        number = self[text] = len(self)
        return number

    def of(self, texts: Iterable[str]) -> tuple[int, ...]:
        """Return the numbers of *texts*."""
        return tuple([self[text] for text in texts])


def _outcomes(found: Structure, rules: list[Rule], answers: dict[str, Answer]) -> dict[str, Any]:
    responses = {
        name: Answered(
            _value(answers[name], declared), _value(declared.right, declared), declared.mapping, declared.bounds,
            declared.cardinality == "ordered",
        )
        for name, declared in found.declared.items()
    }
    defaults = {name: default for name, (_, default) in found.outcomes.items() if default}
    return carry_out(rules, responses, defaults)


def _value(answer: Answer, declared: Declared) -> Value:
    if not answer:
        return None
    return answer[0] if declared.cardinality == "single" else answer


def _variants(found: Structure) -> list[tuple[Answer, ...]]:
    """Return answers to try: for each interaction what `_answers` gives, with right answers to the others; and none."""
    right = tuple([declared.right for declared in found.declared.values()])
    tried: list[tuple[Answer, ...]] = [right, tuple([() for _ in right])]
    for at, offered in enumerate(found.offered):
        names = [name for name, _ in offered.choices]
        for one in _answers(offered.kind, found.declared[offered.response], names):
            tried.append((*right[:at], one, *right[at + 1 :]))
    if len(right) > 1:
        tried.append((*[() for _ in right[1:]], right[-1]))  # the last one right alone
    return tried


def _answers(kind: str, declared: Declared, names: list[str]) -> list[Answer]:
    """Return answers to one interaction: the right one, none, and each part missing, added or exchanged."""
    right = declared.right
    if kind == "textEntryInteraction":
        return [right, (), (UNKNOWN,)]  # all other spellings have the points that the mapping gives, which are compared
    if declared.cardinality == "single":
        return [(), *[(name,) for name in names]]
    if declared.cardinality == "ordered":
        swaps = [_exchanged(right, at) for at in range(len(right) - 1)]
        return list(dict.fromkeys([right, (), tuple(names), right[::-1], right[1:] + right[:1], *swaps]))
    if declared.base == "directedPair":
        targets = [name for name in names if name not in {pair.partition(" ")[0] for pair in right}]
        others = [
            (*right[:at], f"{pair.partition(' ')[0]} {target}", *right[at + 1 :])
            for at, pair in enumerate(right) for target in targets
        ]  # fmt: skip
        return list(dict.fromkeys([right, (), right[::-1], *[(*right[:at], *right[at + 1 :]) for at in range(len(right))],
                                   *others]))  # fmt: skip
    wrong = [name for name in names if name not in right]
    less = [tuple([name for name in right if name != one]) for one in right]
    return list(dict.fromkeys([
        right, (), tuple(names), tuple(wrong), *[(name,) for name in names], *less, *[(*right, one) for one in wrong],
        *[(*some, one) for some in less for one in wrong],
    ]))  # fmt: skip


def _exchanged(right: Answer, at: int) -> Answer:
    return (*right[:at], right[at + 1], right[at], *right[at + 2 :])


class KindChecks:
    """Checks files of these kinds against our profiles and the bank; a profile is compiled when its first item comes."""

    def __init__(self, version: Version, locale: Locale) -> None:
        self._version, self._locale = version, locale
        self._reader, self._alike = KindReader(version), Alike(version)
        self._profiles: dict[type, Profile] = {}
        self._agreed: set[tuple[object, ...]] = set()
        """Keys of items that were tried and agreed with the bank."""

    def difference(self, item: Item, content: bytes, file: str, feedback: bool) -> str:
        """Return in what the file differs from *item*; empty where it does not.

        Rules that were carried out for an item that is alike are not carried out again; all else is compared.

        Raises:
            ExportFault: it does not follow our profile, or does not hang together.
        """
        kind = type(item.response)
        profile = self._profiles.get(kind)
        if profile is None:
            profile = self._profiles[kind] = Profile(self._version, MODULES[kind].PROFILE, links=False)
        module, response = MODULES[kind], item.response
        # what the profile would say of identifiers and what they name, the structure's reader checks to the letter
        found = self._reader.structure(profile.check(content, file), file)
        wrong = _shown_difference(item, found, self._locale, module)
        if wrong:
            return wrong
        context = module.context(item, response, self._locale)
        solved = feedback and item.family.show_solution
        key = self._alike.key(found, content, (kind, feedback, solved, module.shape(response)), module.named(response, context))
        if key in self._agreed:
            return ""
        read = self._reader.carried_out(found, file, module.foreseen_answers(response, context))
        wrong = _difference(item, read, self._locale, feedback, module, context)
        if key and not wrong and len(self._agreed) < KEPT:
            self._agreed.add(key)
        return wrong


def said(item: Item, answers: tuple[Answer, ...], locale: Locale) -> dict[str, object]:
    """Return the outcomes that feedback on *answers*, one for each interaction, hangs on."""
    module, response = MODULES[type(item.response)], item.response
    found: dict[str, object] = module.said(response, answers, module.context(item, response, locale))
    return found


def further_answers(item: Item, locale: Locale) -> list[tuple[Answer, ...]]:
    """Return the answers that the bank foresees, as far as they are not tried anyway."""
    module, response = MODULES[type(item.response)], item.response
    found: list[tuple[Answer, ...]] = module.foreseen_answers(response, module.context(item, response, locale))
    return found


def difference(item: Item, read: ReadKind, locale: Locale, feedback: bool) -> str:
    """Return in what the item read back differs from *item* of the bank; empty where it does not."""
    module = MODULES[type(item.response)]
    return _shown_difference(item, read, locale, module) or _difference(
        item, read, locale, feedback, module, module.context(item, item.response, locale)
    )


def _shown_difference(item: Item, found: Structure | ReadKind, locale: Locale, module: Any) -> str:
    """Return in what the item's identifier or what it shows differs; empty where it does not."""
    response: Any = item.response
    if found.identifier != item.identifier:
        return f"the identifier is {found.identifier!r}"
    if isinstance(found, ReadKind):
        interactions, choices = found.interactions, found.choices
    else:
        interactions, choices = tuple([one.kind for one in found.offered]), tuple([one.choices for one in found.offered])
    if interactions != module.interactions(response):
        return f"it asks by {', '.join(interactions)}"
    for offers, read in zip(module.offered(response), choices):
        wanted = tuple([(offer.identifier, plain_text(offer.text, locale)) for offer in offers])
        if wanted != read:
            return f"it offers {read}, not {wanted}"
    return ""


def _difference(item: Item, read: ReadKind, locale: Locale, feedback: bool, module: Any, context: Any) -> str:
    """Return in what marks and feedback differ from those of *item*; empty where they do not."""
    response: Any = item.response
    most = most_marks(response)
    if read.marks != str(most):
        return f"it is worth {read.marks} marks, not {most}"
    right = module.right(response)
    if read.right[: len(right)] != right:
        return f"the right answer is {read.right}, not {right}"
    wrong = _typed_difference(item, read, locale)
    return wrong or _tried_difference(item, module, read, locale, feedback, context)


def _typed_difference(item: Item, read: ReadKind, locale: Locale) -> str:
    """Return in what the spellings of a typed part differ, where there is one."""
    typed = getattr(item.response, "typed", None)
    if typed is None:
        return ""
    wanted = accepted_forms(item.key, locale, typed.policy, item.family.unit)
    mapping = read.mappings[-1]
    if set(mapping) != set(wanted) or set(mapping.values()) != {"1"} or read.right[-1] != wanted[:1]:
        return f"the spellings accepted are not those of the bank: {set(mapping) ^ set(wanted)}"
    return ""


def _tried_difference(
    item: Item, module: Any, read: ReadKind, locale: Locale, feedback: bool, context: Any
) -> str:
    response: Any = item.response
    worked = {"SOLUTION": "worked"} if feedback and item.family.show_solution else {}
    earned_most = False
    for answers, score, words in read.tried:
        earned = earned_marks(item, module.answer(answers), locale)
        if score != str(earned):
            return f"{answers} scores {score}, not {earned}"
        earned_most = earned_most or score == read.marks
        wanted = {**module.said(response, answers, context), **worked} if feedback else {}
        if dict(words) != wanted:
            return f"{answers} sets {dict(words)}, not {wanted}"
    return "" if earned_most else "no answer earns all marks"
