"""Reading a package back from the disk, and saying where it differs from the bank.

What is compared is what scoring hangs on: the options and what is written for them, the key, the spellings that are
right, and the score that the rules give. The rules are carried out (`exporters._scoring`), not compared as text.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple
from xml.parsers import expat

from lxml import etree

from bank.answers import HYPHEN, MINUS, accepted_forms
from bank.model import BankInfo, Choice, Item, Locale, Unit
from bank.numerals import Numeral
from exporters._faults import ExportFault
from exporters._kinds_back import KindReader, ReadKind
from exporters._profile import parsed, safe_parser
from exporters._qti import ITEM_FOLDER, MANIFEST, Version
from exporters._scoring import Rules
from exporters._structure import INTERACTIONS
from exporters._unzip import Entry, ZipReader

MAPPED, NEVER = "\u2713", "\u2717"
"""Stand for any spelling that is right, and for any that is not, in the rules of typed items."""
_TYPED_SCORES = ((MAPPED, "1"), (NEVER, "0"), ("", "0"))


_Said = tuple[tuple[str, str], ...]
"""Pairs of a response and what the rules make of it."""


class ReadItem(NamedTuple):
    """What an exported item says, as far as its scoring goes."""

    identifier: str
    right: str
    """The correct response: the key's option identifier, or its canonical spelling."""
    options: tuple[tuple[str, str], ...]
    """(identifier, what is written) of each option in order; empty for a typed item."""
    spellings: tuple[str, ...]
    """All spellings that are right; empty for a choice."""
    scores: tuple[tuple[str, str], ...]
    """(response, score that the rules give): for every option, or for `MAPPED` and `NEVER`; last for none, empty."""
    feedback: tuple[tuple[str, str], ...]
    """(response, value of FEEDBACK that the rules set), in the same way."""


class ItemReader:
    """Reads exported items of one version."""

    def __init__(self, version: Version) -> None:
        self._rules = Rules(version)
        self._known: dict[tuple[bytes, str, tuple[str, ...]], tuple[_Said, _Said]] = {}
        """Scores and feedback by the rules that can touch the score, the right response and the responses tried."""
        self._parser = safe_parser()
        self._type = version.attribute("baseType")
        tag = version.tag
        self._item, self._body, self._processing = tag("assessmentItem"), tag("itemBody"), tag("responseProcessing")
        self._declaration, self._correct = tag("responseDeclaration"), tag("correctResponse")
        self._mapping, self._entry = tag("mapping"), tag("mapEntry")
        self._interaction, self._choice = tag("choiceInteraction"), tag("simpleChoice")
        self._field = tag("textEntryInteraction")
        self._asking = [tag(name) for name in INTERACTIONS]
        self._kinds = KindReader(version)
        self._key, self._points = version.attribute("mapKey"), version.attribute("mappedValue")
        opened = version.element("responseProcessing").encode()
        self._opened, self._closed = b"<" + opened + b">", b"</" + opened + b">"
        foreseen = ("<responseElseIf><member>", "<responseElseIf><match>")
        self._foreseen = tuple([version.spell(begin).encode() for begin in foreseen])
        self._listed = f'{version.attribute("baseType")}="string"'.encode()

    def read(self, content: bytes, file: str) -> ReadItem | ReadKind:
        """Return what the item in *content* says.

        Raises:
            ExportFault: it is no XML, has a document type, or is not built as this tool builds items.
        """
        root = parsed(content, file, "", self._parser)
        interactions = [element for body in root.iterchildren(self._body) for element in body.iter(*self._asking)]
        if [element.tag for element in interactions] in ([self._interaction], [self._field]):
            if root[0].get("cardinality") == "single":
                return self.of(root, content, file)
        return self._kinds.read(root, file)

    def of(self, root: etree._Element, content: bytes, file: str) -> ReadItem:
        """Return what the item with *root*, which *content* was parsed into, says.

        Raises:
            ExportFault: it is not built as this tool builds items.
        """
        identifier = root.get("identifier") or ""
        declaration = root[0] if len(root) else root
        correct = declaration[0] if len(declaration) else root
        if (root.tag, declaration.tag, correct.tag) != (self._item, self._declaration, self._correct):
            raise ExportFault(file, identifier, "it is not built as an item of this tool")
        right = correct[0].text or "" if len(correct) else ""
        if declaration.get(self._type) == "identifier":
            options = self._options(root)
            scores, said = self._outcomes(root, content, right, tuple([name for name, _ in options]), {})
            return ReadItem(identifier, right, options, (), scores, said)
        key, points = self._key, self._points
        entries = [
            (entry.get(key) or "", entry.get(points) or "")
            for mapping in declaration.iterchildren(self._mapping)
            for entry in mapping.iterchildren(self._entry)
        ]
        mapped = dict(entries)
        if len(mapped) != len(entries):
            raise ExportFault(file, identifier, "a spelling is listed twice")
        # The rules see a mapped and an unmapped response; which responses are mapped is read from the mapping.
        scores, said = self._outcomes(root, content, MAPPED, (MAPPED, NEVER), {MAPPED: "1"})
        if mapped.get(right) != "1":
            raise ExportFault(file, identifier, "the correct response is no spelling that is right")
        spellings = tuple([form for form, worth in entries if worth == "1"])
        return ReadItem(identifier, right, (), spellings, scores, said)

    def _options(self, root: etree._Element) -> tuple[tuple[str, str], ...]:
        for body in root.iterchildren(self._body):
            for interaction in body.iterchildren(self._interaction):
                choices = interaction.iterchildren(self._choice)
                return tuple([(choice.get("identifier") or "", choice.text or "") for choice in choices])
        return ()

    def _outcomes(
        self, root: etree._Element, content: bytes, right: str, tried: tuple[str, ...], mapping: dict[str, str]
    ) -> tuple[_Said, _Said]:
        """Return score and feedback of each response tried, and then of none."""
        begin = content.find(self._opened)
        touching = content[begin : content.find(self._closed, begin)] if begin > 0 else b""
        if self._listed in touching:
            lines = touching.split(b"\n")
            touching = b"\n".join([rule for rule in lines if not rule.startswith(self._foreseen) or b'"SCORE"' in rule])
        known = (touching, right, tried)
        found = self._known.get(known)
        if found is None:
            processing = list(root.iterchildren(self._processing))
            if len(processing) != 1 or content.count(self._opened) != 1:
                raise ExportFault("", "", "it has not one place for its rules")
            if self._listed in touching:
                raise ExportFault("", "", "the rule for a foreseen wrong answer sets the score")
            rules = processing[0]
            outcomes = [(one or "", self._rules.run(rules, one, right, mapping)) for one in (*tried, None)]
            found = self._known[known] = (
                tuple([(one, outcome["SCORE"]) for one, outcome in outcomes]),
                tuple([(one, outcome.get("FEEDBACK", "")) for one, outcome in outcomes]),
            )
        return found


def difference(item: Item, read: ReadItem, info: BankInfo, feedback: bool) -> str:
    """Return in what the item read back differs from *item* of the bank; empty where it does not."""
    if read.identifier != item.identifier:
        return f"the identifier is {read.identifier!r}"
    if read.scores[-1] != ("", "0"):
        return f"an item left unanswered scores {read.scores[-1][1]}"
    response = item.response
    if not isinstance(response, Choice):
        return _typed_difference(item, read, info, response.policy)
    if len(read.options) != len(response.options):
        return f"it has {len(read.options)} options, not {len(response.options)}"
    scores, said = dict(read.scores), dict(read.feedback)
    for option, (name, text) in zip(response.options, read.options):
        if name != option.identifier or not shows(text, option.numeral, item.family.unit, info.locale):
            return f"option {option.identifier} is {name!r} with {text!r}, not {option.numeral}"
        is_key = option.is_key
        if is_key and option.numeral != item.key:
            return f"option {name} is the key, but not {item.key}"
        if scores.get(name) != ("1" if is_key else "0") or (is_key and read.right != name):
            return f"option {name} scores {scores.get(name)}"
        if said.get(name) != (name if feedback else ""):
            return f"option {name} sets the feedback {said.get(name)!r}"
    return ""


def _typed_difference(item: Item, read: ReadItem, info: BankInfo, policy: str) -> str:
    unit = item.family.unit
    wanted = accepted_forms(item.key, info.locale, policy, unit)
    if read.options or (read.spellings != wanted and set(read.spellings) != set(wanted)):
        return f"the spellings accepted are not those of the bank: {set(read.spellings) ^ set(wanted)}"
    if _significant(read.spellings, info.locale, unit) != {_significant_digits(item.key)}:
        return f"the spellings accepted are not all {item.key}: {read.spellings}"
    if read.scores != _TYPED_SCORES:
        return f"the answers score {dict(read.scores)}"
    return ""


def _significant(forms: tuple[str, ...], locale: Locale, unit: Unit | None) -> set[tuple[bool, str, str]]:
    """Return whether *forms* are negative, and their digits before and behind the mark without zeros that say nothing.

    A plainer way than `bank.answers.read_answer`, for forms that are known to be the bank's.
    """
    text = "\n".join(forms)
    if unit is not None:
        text = text.replace(unit.text, "")
    text = text.replace(" ", "").replace("+", "").replace(MINUS, HYPHEN)
    found = set()
    for form in set(text.split("\n")):
        whole, _, decimals = _at_the_mark(form.removeprefix(HYPHEN), locale)
        found.add((form.startswith(HYPHEN), whole.lstrip("0"), decimals.rstrip("0")))
    return found


def _at_the_mark(form: str, locale: Locale) -> tuple[str, str, str]:
    """Return what stands before the decimal mark of *form*, without marks between groups, the mark, and the rest."""
    mark, groups = locale.decimal_mark, locale.group_mark
    if mark in form or not groups:
        form = form.replace(groups, "") if groups else form
    elif groups not in locale.also_accepted_marks or form.count(groups) > 1:
        form = form.replace(groups, "")
    for other in locale.also_accepted_marks:
        form = form.replace(other, mark)
    return form.partition(mark)


def _significant_digits(key: Numeral) -> tuple[bool, str, str]:
    return key.coefficient < 0, key.whole_digits.lstrip("0"), key.decimal_digits.rstrip("0")


def shows(text: str, numeral: Numeral, unit: Unit | None, locale: Locale) -> bool:
    """Return whether *text* is *numeral* as it is to be written, with its unit; worked out from the digits alone."""
    if unit is not None:
        affix = unit.text if unit.before else f" {unit.text}"
        bare = text.removeprefix(affix) if unit.before else text.removesuffix(affix)
        if bare == text:
            return False
        text = bare
    coefficient, places = numeral.coefficient, numeral.places
    if coefficient < 0:
        if not text.startswith(locale.minus):
            return False
        text, coefficient = text.removeprefix(locale.minus), -coefficient
    whole, mark, decimals = text.partition(locale.decimal_mark)
    return (
        len(decimals) == places and bool(mark) == bool(places)
        and whole + decimals == str(coefficient).zfill(places + 1)
    )  # fmt: skip


class ReadResource(NamedTuple):
    """What a manifest says of one resource."""

    identifier: str
    kind: str
    href: str
    files: tuple[str, ...]
    dependencies: tuple[str, ...]


def read_manifest(reader: ZipReader, entry: Entry) -> Iterator[ReadResource]:
    """Give the resources that the manifest of a package lists; it may be long, little of it is held in memory.

    Raises:
        ExportFault: it is no XML or has a document type.
    """
    found: list[tuple[str, str, str, list[str], list[str]]] = []

    def start(name: str, attributes: dict[str, str]) -> None:
        if name == "resource":
            named = [attributes.get(name, "") for name in ("identifier", "type", "href")]
            found.append((named[0], named[1], named[2], [], []))
        elif name == "file" and found:
            found[-1][3].append(attributes.get("href", ""))
        elif name == "dependency" and found:
            found[-1][4].append(attributes.get("identifierref", ""))

    def refuse(*_: object) -> None:
        raise ExportFault(reader.name, MANIFEST, "it has a document type")

    parser = expat.ParserCreate()
    parser.StartElementHandler = start
    parser.StartDoctypeDeclHandler = refuse
    try:
        for piece in reader.pieces(entry):
            parser.Parse(piece)
            yield from [ReadResource(*one[:3], tuple(one[3]), tuple(one[4])) for one in found[:-1]]
            del found[:-1]
        parser.Parse(b"", True)
    except expat.ExpatError as error:
        raise ExportFault(reader.name, MANIFEST, f"it is no XML: {error}") from error
    yield from [ReadResource(*one[:3], tuple(one[3]), tuple(one[4])) for one in found]


def check_contents(version: Version, reader: ZipReader) -> Iterator[Entry]:
    """Give the items' entries of a package, in order, its manifest and its other files having been compared.

    Raises:
        ExportFault: the manifest lists other files than there are, or in another order, or is not the last entry.
    """
    last = None
    for last in reader.entries():
        pass
    if last is None or last.name != MANIFEST:
        raise ExportFault(reader.name, MANIFEST, "it is missing or not the last file")
    files = (entry for entry in reader.entries() if entry.name != MANIFEST)
    tests: list[ReadResource] = []
    for resource in read_manifest(reader, last):
        if resource.href != (resource.files or ("",))[0]:
            raise ExportFault(reader.name, resource.identifier, "the manifest gives it two addresses")
        if resource.kind == version.test_type:
            tests.append(resource)
            continue
        if resource.files != (f"{ITEM_FOLDER}{resource.identifier}.xml",) or resource.kind != version.item_type:
            raise ExportFault(reader.name, resource.identifier, "the manifest does not list it as it should")
        entry = next(files, None)
        if entry is None or entry.name != resource.files[0]:
            raise ExportFault(reader.name, resource.identifier, "the manifest lists it, and it is not there")
        yield entry
    rest = [entry.name for entry in files]
    if rest != [name for test in tests for name in test.files]:
        raise ExportFault(reader.name, MANIFEST, f"files that the manifest does not list: {rest}")


def read_items(version: Version, path: Path) -> Iterator[ReadItem | ReadKind]:
    """Give the items of the package at *path*.

    Raises:
        ExportFault: the package is not one that this tool writes.
    """
    items = ItemReader(version)
    with ZipReader(path) as reader:
        for entry in check_contents(version, reader):
            yield items.read(reader.content(entry), f"{path.name}: {entry.name}")
