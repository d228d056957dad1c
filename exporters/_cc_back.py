"""Cartridges read back from the disk, and where they differ from the bank.

The conditions are carried out here on every answer that can be given, not compared as text: on each option, on each
set of options, on each spelling listed.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from html import unescape
from itertools import combinations
from pathlib import Path
from typing import NamedTuple

from lxml import etree

from bank.answers import accepted_forms
from bank.identity import asked_otherwise, test_identifier_of
from bank.model import Choice, ChooseInLine, ChooseSeveral, FindMistake, Item, Locale, PutInOrder, Quiz, TypedNumber
from exporters import _cc_files
from exporters._cc_asked import ONE, SEVERAL, TYPED, listed, offer_text, step_text
from exporters._cc_item import FULL, OTHER, RESPONSE, SOLUTION
from exporters._faults import ExportFault
from exporters._qti import MANIFEST, PROLOG
from exporters._readback import read_manifest, shows
from exporters._text import plain_text
from exporters._unzip import MAX_ENTRY, ZipReader

_PARAGRAPH = re.compile("<p(?: lang=\"[^\"]*\")?>(.*?)</p>", re.DOTALL)
_SPACE = f"{{{_cc_files.NAMESPACE}}}"
_KINDS = {f"cc.{kind}.v0p1": kind for kind in (ONE, SEVERAL, TYPED)}


class Condition(NamedTuple):
    """One condition: what must be chosen and what must not be, and what follows."""

    wanted: frozenset[str]
    refused: frozenset[str]
    score: str
    """Empty where none is set."""
    shown: tuple[str, ...]
    """Identifiers of the feedback."""
    stops: bool


class ReadItem(NamedTuple):
    """What an item in a cartridge says."""

    identifier: str
    profile: str
    """Question type: ``multiple_choice``, ``multiple_response`` or ``fib``."""
    title: str
    stem: tuple[str, ...]
    """Its paragraphs, the last of which says what is to be done."""
    options: tuple[tuple[str, str], ...]
    """(identifier, text) of each option in order; none where the answer is typed."""
    right: tuple[tuple[str, ...], ...]
    """Every answer that scores full: sets of options, or one spelling each."""
    feedback: tuple[tuple[str, str], ...]
    """(option or spelling, what is said); empty first for any other answer that is typed."""
    solution: str
    """HTML of the worked solution; empty for none."""


def read_item(element: etree._Element, file: str) -> ReadItem:
    """Return what the item *element* says.

    Raises:
        ExportFault: it is not built as this tool builds items, or its parts do not fit together.
    """
    identifier = element.get("ident") or ""
    try:
        return _read(element, identifier)
    except ExportFault as fault:
        raise ExportFault(file, identifier, fault.wrong) from None
    except (IndexError, KeyError, TypeError) as error:
        raise ExportFault(file, identifier, "it is not built as an item of this tool") from error


def _read(element: etree._Element, identifier: str) -> ReadItem:
    metadata, presentation, processing = element[0], element[1], element[2]
    fields = {field[0].text: field[1].text for field in metadata[0]}
    profile = _KINDS[fields["cc_profile"]]
    stem = tuple([unescape(text) for text in _PARAGRAPH.findall(presentation[0][0].text or "")])
    asked = presentation[1]
    if asked.get("ident") != RESPONSE:
        raise ExportFault("", "", "the response has another identifier")
    labels = () if profile == TYPED else asked[0]
    options = tuple([(label.get("ident") or "", label[0][0].text or "") for label in labels])
    names = [name for name, _ in options]
    if len(set(names)) != len(names):
        raise ExportFault("", "", "two options share an identifier")
    known = frozenset(names)
    conditions = [_condition(one, known, profile) for one in processing.iterchildren(_SPACE + "respcondition")]
    said, solution = _said(element[3:], conditions)
    if profile == TYPED:
        right, feedback = _typed(conditions, said)
    else:
        right, feedback = _chosen(conditions, names, profile, said)
    return ReadItem(identifier, profile, element.get("title") or "", stem, options, right, feedback, solution)


def _condition(element: etree._Element, names: frozenset[str], profile: str) -> Condition:
    (test,) = element[0]
    parts = [(part, False) for part in test] if test.tag == _SPACE + "and" else [(test, False)]
    wanted, refused = set(), set()
    for part, negated in parts:
        if part.tag == _SPACE + "not":
            (part,), negated = part, True
        if part.tag == _SPACE + "other":
            continue
        if part.tag != _SPACE + "varequal" or part.get("respident") != RESPONSE or part.get("case") != "Yes":
            raise ExportFault("", "", "a condition that this tool does not write")
        (refused if negated else wanted).add(part.text or "")
    if profile != TYPED and not wanted | refused <= names:
        raise ExportFault("", "", "a condition names an option that there is not")
    score, shown = "", []
    for done in element[1:]:
        if done.tag == _SPACE + "setvar":
            score = done.text or ""
        else:
            shown.append(done.get("linkrefid") or "")
    return Condition(frozenset(wanted), frozenset(refused), score, tuple(shown), element.get("continue") == "No")


def _said(feedback: Sequence[etree._Element], conditions: Sequence[Condition]) -> tuple[dict[str, str], str]:
    """Return the texts of the feedback by identifier, and the worked solution."""
    said: dict[str, str] = {}
    for one in feedback:
        name = one.get("ident") or ""
        if name in said:
            raise ExportFault("", "", "two pieces of feedback share an identifier")
        text = one[0][0][0][0][0].text if name == SOLUTION else one[0][0][0].text
        said[name] = text or ""
    if {name for condition in conditions for name in condition.shown} != set(said):
        raise ExportFault("", "", "feedback that is not there is shown, or feedback that is there is never shown")
    return said, said.get(SOLUTION, "")


def outcome(conditions: Sequence[Condition], answer: frozenset[str]) -> tuple[str, list[str]]:
    """Return score and feedback that *conditions* give on *answer*, carried out in their order."""
    score, shown = "0", []
    for condition in conditions:
        if condition.wanted <= answer and not condition.refused & answer:
            score = condition.score or score
            shown += condition.shown
            if condition.stops:
                break
    return score, shown


def _chosen(
    conditions: Sequence[Condition], names: Sequence[str], profile: str, said: dict[str, str]
) -> tuple[tuple[tuple[str, ...], ...], tuple[tuple[str, str], ...]]:
    most = len(names) if profile == SEVERAL else 1
    right = []
    for count in range(most + 1):
        for chosen in combinations(names, count):
            score, _ = outcome(conditions, frozenset(chosen))
            if score == FULL:
                right.append(chosen)
            elif score != "0":
                raise ExportFault("", "", f"an answer scores {score}")
    feedback = []
    for name in names:
        shown = outcome(conditions, frozenset((name,)))[1]
        feedback.append((name, " ".join([said[one] for one in shown if one != SOLUTION])))
        if SOLUTION in said and SOLUTION not in shown:
            raise ExportFault("", "", "the worked solution is not shown with every answer")
    return tuple(right), tuple(feedback)


def _typed(
    conditions: Sequence[Condition], said: dict[str, str]
) -> tuple[tuple[tuple[str, ...], ...], tuple[tuple[str, str], ...]]:
    scores: dict[str, str] = {}
    feedback = []
    for place, condition in enumerate(conditions, 1):
        if not condition.stops or condition.refused or len(condition.wanted) > 1:
            raise ExportFault("", "", "a condition on a typed answer that this tool does not write")
        if not condition.wanted and (place != len(conditions) or condition.score):
            raise ExportFault("", "", "any answer is right, or conditions stand behind the last")
        form = next(iter(condition.wanted), "")
        if form in scores:
            raise ExportFault("", "", "a spelling is listed twice")
        scores[form] = condition.score or "0"
        feedback.append((form, " ".join([said[one] for one in condition.shown if one != SOLUTION])))
        if SOLUTION in said and SOLUTION not in condition.shown:
            raise ExportFault("", "", "the worked solution is not shown with every answer")
    if not set(scores.values()) <= {FULL, "0"}:
        raise ExportFault("", "", "an answer scores neither nothing nor full")
    return tuple([(form,) for form, score in scores.items() if score == FULL]), tuple(feedback)


class Comparer:
    """Compares what a cartridge says with the items of one bank."""

    def __init__(self, locale: Locale) -> None:
        self._locale = locale

    def check_frame(self, root: etree._Element, quiz: Quiz | None, file: str) -> None:
        """Check what stands round the items: whose they are, and the time limit.

        Raises:
            ExportFault: it is not that of *quiz*, or of the bank.
        """
        frame = root[0]
        wanted = "objectbank" if quiz is None else "assessment"
        if frame.tag != _SPACE + wanted or quiz is not None and frame.get("ident") != test_identifier_of(quiz, self._locale):
            raise ExportFault(file, "", f"it holds no {wanted} of that name")
        if quiz is not None:
            fields = {field[0].text: field[1].text for field in frame[0]}
            limit = str(quiz.minutes) if 0 < quiz.minutes <= _cc_files.MOST_MINUTES else None
            if fields.get("qmd_timelimit") != limit:
                raise ExportFault(file, "", "it has another time limit than the quiz")

    def check_items(self, root: etree._Element, items: Iterator[Item], file: str) -> None:
        """Check that the items under *root* are *items*, in their order.

        Raises:
            ExportFault: one differs, is missing or is too much.
        """
        for element in root.iter(_SPACE + "item"):
            read = read_item(element, file)
            item = next(items, None)
            wrong = "it should not be there" if item is None else difference(item, read, self._locale, item.shows_feedback)
            if wrong:
                raise ExportFault(file, read.identifier, f"read back, it differs from the bank: {wrong}")
        missing = next(items, None)
        if missing is not None:
            raise ExportFault(file, missing.identifier, "the item is missing")


def difference(item: Item, read: ReadItem, locale: Locale, feedback: bool) -> str:
    """Return in what the item read back differs from *item* of the bank; empty where it does not."""
    if read.identifier != asked_otherwise(item):
        return f"the identifier is {read.identifier!r}"
    if read.title != " ".join(item.family.title.split()):
        return f"the title is {read.title!r}"
    if read.stem[:-1] != tuple([plain_text(line, locale) for line in item.stem]):
        return f"the stem is {read.stem!r}"
    if bool(read.solution) != (feedback and item.family.show_solution):
        return "the worked solution is missing, or should not be there"
    if not feedback and any([said for _, said in read.feedback]):
        return "it gives feedback"
    if isinstance(item.response, TypedNumber):
        wanted = accepted_forms(item.key, locale, item.response.policy, item.family.unit)
        if read.profile != TYPED or {form for (form,) in read.right} != set(wanted):
            return "the spellings accepted are not those of the bank"
        forms = [form for form, _ in read.feedback]
        return f"the feedback {OTHER!r} is not the last" if "" in forms[:-1] else ""
    options, right = _wanted(item, read, locale)
    if not options or read.right != right:
        return f"the options are {read.options!r}, and the right answers {read.right!r}"
    return ""


def _wanted(item: Item, read: ReadItem, locale: Locale) -> tuple[bool, tuple[tuple[str, ...], ...]]:
    """Return whether the options read are those of the item, and the right answers that there must be."""
    response, shown = item.response, read.options
    if read.profile != (SEVERAL if isinstance(response, ChooseSeveral) else ONE):
        return False, ()
    if isinstance(response, Choice):
        same = len(shown) == len(response.options) and all([
            name == option.identifier and shows(text, option.numeral, item.family.unit, locale)
            for option, (name, text) in zip(response.options, shown)
        ])  # fmt: skip
        keys = [option.identifier for option in response.options if option.is_key and option.numeral == item.key]
        return same, tuple([(name,) for name in keys])
    if isinstance(response, ChooseSeveral | ChooseInLine):
        texts = [(offer.identifier, offer_text(offer, locale)) for offer in response.options]
        keys = [offer.identifier for offer in response.options if offer.is_key]
        right = tuple([(name,) for name in keys]) if isinstance(response, ChooseInLine) else (tuple(keys),)
        return list(shown) == texts, right
    if isinstance(response, FindMistake):
        texts = [(step.identifier, step_text(at, step, locale)) for at, step in enumerate(response.steps, 1)]
        return list(shown) == texts, ((response.right,),)
    if isinstance(response, PutInOrder):
        names = {offer.identifier: offer_text(offer, locale) for offer in response.offers}
        rows = [listed([names[name] for name in order], locale) for order in (response.right, *dict(response.mistakes))]
        same = len({text for _, text in shown}) == len(shown) and all([text in rows for _, text in shown])
        return same, tuple([(name,) for name, text in shown if text == rows[0]])
    return False, ()


def read_cartridge(path: Path) -> Iterator[ReadItem]:
    """Give the items of the cartridge at *path*, holding little of it in memory.

    Nothing is unpacked to the disk. An item may have `MAX_ENTRY` bytes, all items the length that
    `exporters._unzip` allows.

    Raises:
        ExportFault: it is not one that this tool writes.
    """
    with ZipReader(path) as reader:
        entries = list(reader.entries()) if reader.count == 2 else []
        if len(entries) != 2 or entries[1].name != MANIFEST:
            raise ExportFault(path.name, MANIFEST, "there are other files than the items and, last, the manifest")
        items, manifest = entries
        if manifest.size > MAX_ENTRY:
            raise ExportFault(path.name, manifest.name, f"it is longer than {MAX_ENTRY} bytes")
        check_resources(reader, manifest, items.name)
        for element in _elements(reader.pieces(items), f"{path.name}: {items.name}"):
            yield read_item(element, f"{path.name}: {items.name}")


def check_resources(reader: ZipReader, manifest: object, items: str) -> None:
    """Check that the manifest lists the file called *items* and nothing else.

    Raises:
        ExportFault: it does not.
    """
    listed_here = list(read_manifest(reader, manifest))  # type: ignore[arg-type]
    kinds = (_cc_files.ASSESSMENT_TYPE, _cc_files.BANK_TYPE)
    if (
        len(listed_here) != 1 or listed_here[0].files != (items,) or listed_here[0].href or listed_here[0].dependencies
        or listed_here[0].kind not in kinds
    ):  # fmt: skip
        raise ExportFault(reader.name, MANIFEST, "it does not list the file with the items, and only that")


def _elements(pieces: Iterator[bytes], file: str) -> Iterator[etree._Element]:
    """Give the items in the XML that comes in *pieces*, each forgotten when the next is wanted."""
    parser = etree.XMLPullParser(
        ("end",), tag=_SPACE + "item", resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False
    )
    last, since = b"", 0
    try:
        for piece in pieces:
            if not last and not piece.startswith(PROLOG.encode()):
                raise ExportFault(file, "", "it does not begin as an XML file of this tool")
            if b"<!" in last[-1:] + piece:
                raise ExportFault(file, "", "it has a document type, a comment or a CDATA section")
            last, since = piece, since + len(piece)
            parser.feed(piece)
            for _, element in parser.read_events():
                yield element
                since = 0
                element.clear()
                while element.getprevious() is not None:
                    del element.getparent()[0]  # type: ignore[union-attr]
            if since > MAX_ENTRY:
                raise ExportFault(file, "", f"an item is longer than {MAX_ENTRY} bytes")
        parser.close()
    except etree.XMLSyntaxError as error:
        raise ExportFault(file, "", f"it is no XML: {error}") from error
