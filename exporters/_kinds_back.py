"""Items of the kinds beyond choice and typed number, read back from their files and compared with the bank.

The rules found in the file are carried out on answers that tell one key from another: the right one, none, each part of
it missing or exchanged. Each must earn what the bank's own key says (`bank.marking`), and set what feedback hangs on.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from lxml import etree

from bank.answers import accepted_forms
from bank.marking import earned_marks, most_marks
from bank.model import Item, Locale
from exporters._kinds import MODULES
from exporters._profile import Profile
from exporters._qti import Version
from exporters._scoring import Answered, Rule, Rules, Value, carry_out
from exporters._structure import Declared, Structure, StructureReader
from exporters._text import plain_text

KEPT = 4096
"""Outcomes of rules kept at most for further items with the same rules."""
Answer = tuple[str, ...]
"""Values of one response; none: not answered."""


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
        rules = version.element("responseProcessing").encode()
        self._opened, self._closed = b"<" + rules + b">", b"</" + rules + b">"
        self._known: dict[tuple[object, ...], tuple[Tried, ...]] = {}
        """What the same rules make of the same answers, where nothing is typed: items of a kind share few."""

    def read(
        self, root: etree._Element, file: str, further: Sequence[tuple[Answer, ...]] = (), content: bytes = b""
    ) -> ReadKind:
        """Return what the item with *root* says; *further* answers are tried as well.

        *content* is the file that *root* was parsed from, where what is known of its rules may be used.

        Raises:
            ExportFault: it does not hang together, or is not built as this tool builds items.
        """
        found = self._structures.read(root, file)
        tried = self._tried(found, further, content)
        marks = found.outcomes.get("MAXSCORE", ("", ""))[1]
        return ReadKind(
            found.identifier, tuple([one.kind for one in found.offered]),
            tuple([declared.right for declared in found.declared.values()]),
            tuple([one.choices for one in found.offered]),
            tuple([declared.mapping for declared in found.declared.values()]), marks, tried,
        )

    def _tried(
        self, found: Structure, further: Sequence[tuple[Answer, ...]], content: bytes
    ) -> tuple[Tried, ...]:
        """Return what the rules make of all answers that are tried."""
        known: tuple[object, ...] = ()
        if content and not any([declared.base == "string" for declared in found.declared.values()]):
            written = content[content.find(self._opened) : content.rfind(self._closed)]
            declared = [(*one[:3], *one.mapping.items(), one.bounds) for one in found.declared.values()]
            names = [tuple([name for name, _ in one.choices]) for one in found.offered]
            known = (written, *declared, *names, *found.outcomes.items(), *further)
            if known in self._known:
                return self._known[known]
        order, tried, rules = list(found.declared), [], self._rules.made_ready(found.processing)
        for answers in dict.fromkeys([*_variants(found), *further]):
            outcomes = _outcomes(found, rules, dict(zip(order, answers, strict=True)))
            score = outcomes.pop("SCORE", "")
            outcomes.pop("MAXSCORE", "")
            words = tuple(sorted((name, value) for name, value in outcomes.items() if not name.startswith("SCORE")))
            tried.append(Tried(answers, score, words))
        if known and len(self._known) < KEPT:
            self._known[known] = tuple(tried)
        return tuple(tried)


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
        return [right, (), ("\u2717",)]  # all other spellings have the points that the mapping gives, which are compared
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
        self._reader = KindReader(version)
        self._profiles: dict[type, Profile] = {}

    def difference(self, item: Item, content: bytes, file: str, feedback: bool) -> str:
        """Return in what the file differs from *item*; empty where it does not.

        Raises:
            ExportFault: it does not follow our profile, or does not hang together.
        """
        kind = type(item.response)
        profile = self._profiles.get(kind)
        if profile is None:
            profile = self._profiles[kind] = Profile(self._version, MODULES[kind].PROFILE)
        module, response = MODULES[kind], item.response
        context = module.context(item, response, self._locale)
        further = module.foreseen_answers(response, context)
        read = self._reader.read(profile.check(content, file), file, further, content)
        return _difference(item, read, self._locale, feedback, module, context)


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
    return _difference(item, read, locale, feedback, module, module.context(item, item.response, locale))


def _difference(item: Item, read: ReadKind, locale: Locale, feedback: bool, module: Any, context: Any) -> str:
    response: Any = item.response
    if read.identifier != item.identifier:
        return f"the identifier is {read.identifier!r}"
    if read.interactions != module.interactions(response):
        return f"it asks by {', '.join(read.interactions)}"
    offered = [
        tuple([(offer.identifier, plain_text(offer.text, locale)) for offer in offers])
        for offers in module.offered(response)
    ]
    for wanted, found in zip(offered, read.choices):
        if wanted != found:
            return f"it offers {found}, not {wanted}"
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
