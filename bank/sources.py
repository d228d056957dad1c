"""What people write, as nodes that know their place: YAML read with the written text of every scalar kept.

Nothing is converted here: ``0.10`` stays ``0.10`` and ``no`` stays ``no``. Whatever makes a file mean more
than it shows is refused: anchors, aliases, tags, duplicate keys, several documents, control characters.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple, NoReturn

import yaml

from bank.errors import BadInput, Place, Problem, did_you_mean

MAX_BYTES = 1 << 20
"""Largest file that is read. Our own bound: a hundred times the longest template."""
MAX_DEPTH = 16
"""Deepest nesting of lists and mappings. Our own bound: a plan needs eight."""
MAX_NODES = 100_000
"""Most keys and values in one file. Our own bound."""

_NUMBER = re.compile(r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?\Z")
# Control characters, line separators that YAML counts and editors do not, and marks that turn the reading order.
_UNSEEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff\ufffe\uffff]")
_MENDING = {
    "mapping values are not allowed": "put a text that holds a colon and a space in quotes",
    "quoted scalar found unexpected end": "close the quotes",
    "',' or ']'": "close the square bracket, or set a comma",
    "',' or '}'": "close the brace, or set a comma",
    "cannot start any token": "put a text that begins with this sign in quotes",
    "block mapping did not find expected key": "indent keys that belong together alike",
}
"""What helps against common faults, by words of the YAML reader's message."""
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


class Source(NamedTuple):
    """A file as it was read: its name for messages and its text."""

    name: str
    text: str

    def line(self, number: int) -> str:
        """Return line *number*, counted from 1, or nothing where there is no such line."""
        lines = self.text.split("\n")
        return lines[number - 1].rstrip("\r") if 0 < number <= len(lines) else ""

    def place(self, index: int) -> Place:
        """Return the place of the character at *index*."""
        before = self.text.count("\n", 0, index)
        return Place(self.name, before + 1, index - self.text.rfind("\n", 0, index))

    def problem(self, code: str, place: Place, field: str, wrong: str, remedy: str = "") -> Problem:
        """Return a problem at *place* that shows its line."""
        return Problem(code, place, field, wrong, remedy, self.line(place.line))


class Node(NamedTuple):
    """A scalar, list or mapping with its place.

    ``kind`` is ``scalar``, ``list`` or ``mapping``; only the attribute of that kind is filled.
    """

    kind: str
    source: Source
    place: Place
    start: int
    """Index of the first character in the source's text."""
    stop: int
    """Index behind the last character."""
    text: str = ""
    """Scalar: its text as YAML reads it, unconverted."""
    style: str = ""
    """Scalar: empty when plain, else its quote or block sign."""
    items: tuple[Node, ...] = ()
    entries: tuple[tuple[Node, Node], ...] = ()
    """Mapping: keys (scalars) and values in the order written."""

    @property
    def is_plain(self) -> bool:
        """Whether this is a scalar without quotes."""
        return self.kind == "scalar" and not self.style

    @property
    def is_empty(self) -> bool:
        """Whether nothing stands here, or a word that YAML takes for nothing."""
        return self.is_plain and self.text in ("", "~", "null", "Null", "NULL")

    @property
    def looks_like_number(self) -> bool:
        """Whether this is a scalar without quotes that spells a number."""
        return self.is_plain and _NUMBER.match(self.text) is not None

    def shown(self) -> str:
        """Return words for what stands here, short enough for a message."""
        if self.kind != "scalar":
            return f"a {self.kind}"
        if self.is_empty:
            return "nothing"
        text = self.text if len(self.text) <= 40 else self.text[:37] + "..."
        return repr(text)

    def problem(self, code: str, field: str, wrong: str, remedy: str = "", offset: int | None = None) -> Problem:
        """Return a problem here, or at character *offset* of the scalar's text."""
        place = self.place if offset is None else self.place_of(offset)
        return self.source.problem(code, place, field, wrong, remedy)

    def report(
        self, problems: list[Problem], code: str, field: str, wrong: str, remedy: str = "", offset: int | None = None
    ) -> None:
        """Add a problem here, or at character *offset* of the scalar's text, to *problems*."""
        problems.append(self.problem(code, field, wrong, remedy, offset))

    def report_unknown(
        self, problems: list[Problem], field: str, kind: str, name: str, known: Iterable[str]
    ) -> None:
        """Add to *problems* that there is no *kind* called *name*, with the nearest of *known*."""
        self.report(problems, f"unknown-{kind}", field, f"there is no {kind} {name!r}", did_you_mean(name, known))

    def place_of(self, offset: int) -> Place:
        """Return the place in the file of character *offset* of this scalar's text.

        Walks text and file side by side, as folding, indentation and quotes make them differ.
        """
        written, index = self.source.text, self.start
        if self.style in ("|", ">"):
            index = written.find("\n", index) + 1
        elif self.style:
            index += 1
        for number in range(offset + 1):
            letter = self.text[number : number + 1]
            index = self._passed(index, letter)
            if number == offset:
                break
            if written[index] == "\\" and self.style == '"':
                index += {"x": 4, "u": 6, "U": 10}.get(written[index + 1], 2)
            elif letter not in " \n" or written[index] in " \r\n":
                index += 2 if self.style == "'" and letter == "'" else 1
        return self.source.place(min(index, self.stop))

    def _passed(self, index: int, letter: str) -> int:
        """Return *index* moved past what the file holds before *letter* and the text does not."""
        written = self.source.text
        while index < self.stop:
            if self.style == '"' and written.startswith("\\\n", index):
                index += 2
                while written[index] == " ":
                    index += 1
            elif written[index] not in " \r\n" or letter == "" or letter in " \n":
                break
            else:
                index += 1
        return index


def read_file(path: Path, name: str | None = None) -> Source:
    """Return the text of the file at *path*; *name* is what messages call it, the path by default.

    Raises:
        BadInput: there is no such file, it is a folder, too large, not UTF-8, or holds characters nobody sees.
    """
    shown = str(path).encode("utf-8", "replace").decode() if name is None else name
    if path.exists() and not path.is_file():
        if path.is_dir():
            _refuse("is-folder", shown, "this is a folder", "name a file in it")
        _refuse("unreadable", shown, "this is no ordinary file")
    try:
        with path.open("rb") as stream:
            raw = stream.read(MAX_BYTES + 1)
    except FileNotFoundError:
        _refuse("no-file", shown, "there is no such file")
    except (OSError, ValueError) as fault:
        _refuse("unreadable", shown, f"cannot be read: {getattr(fault, 'strerror', None) or fault}")
    return decode(raw, shown)


def source_of(given: Path | Source | None, usual: Path) -> Source:
    """Return the source that is *given*, the text of the file at a path that is, or that of the *usual* file.

    Raises:
        BadInput: as `read_file`.
    """
    if isinstance(given, Source):
        return given
    return read_file(given) if given else read_file(usual, usual.name)


def decode(raw: bytes, name: str) -> Source:
    """Return the source that *raw* holds; a byte order mark of UTF-8 is dropped.

    Raises:
        BadInput: as `read_file`.
    """
    if len(raw) > MAX_BYTES:
        _refuse("too-large", name, f"the file is larger than {MAX_BYTES} bytes", "split it")
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        _refuse("not-utf-8", name, "the file is written in UTF-16", "save it as UTF-8")
    if raw.startswith(b"\xef\xbb\xbf"):
        raw = raw[3:]
    try:
        source = Source(name, raw.decode("utf-8"))
    except UnicodeDecodeError as fault:
        line = raw.count(b"\n", 0, fault.start) + 1
        before = raw[raw.rfind(b"\n", 0, fault.start) + 1 : fault.start].decode("utf-8")
        wrong = f"byte {raw[fault.start]:#04x} is not UTF-8"
        raise BadInput(
            Problem("not-utf-8", Place(name, line, len(before) + 1), "", wrong, "save it as UTF-8")
        ) from None
    unseen = _UNSEEN.search(source.text)
    if unseen:
        place = source.place(unseen.start())
        wrong = f"character U+{ord(unseen[0]):04X} cannot be seen"
        raise BadInput(Problem("unseen-character", place, "", wrong, "delete it"))
    tab = source.text.find("\t")
    if tab >= 0:
        raise BadInput(source.problem("tab", source.place(tab), "", "a tab stands here", "write spaces instead"))
    return source


def _refuse(code: str, name: str, wrong: str, remedy: str = "") -> NoReturn:
    raise BadInput(Problem(code, Place(name), "", wrong, remedy))


def parse(source: Source) -> Node:
    """Return the one YAML document of *source* as nodes.

    Raises:
        BadInput: it is no YAML, empty, or uses what this module refuses.
    """
    try:
        return _Composer(source).document()
    except yaml.MarkedYAMLError as fault:
        mark = fault.problem_mark or fault.context_mark
        if mark and fault.context_mark and mark.index >= len(source.text.rstrip()):
            mark = fault.context_mark  # what was opened tells more than where the file ends
        place = Place(source.name, mark.line + 1, mark.column + 1) if mark else Place(source.name)
        if mark and mark.line > source.text.count("\n"):  # the parser counts a line behind one that has no end
            place = source.place(len(source.text.rstrip()))
        words = " ".join(part for part in (fault.context, fault.problem) if part)
        remedy = next((remedy for sign, remedy in _MENDING.items() if sign in words), "look at this line and above it")
        problem = source.problem("no-yaml", place, "", f"this is no YAML: {words}", remedy)
        raise BadInput(problem) from None
    except yaml.YAMLError as fault:
        _refuse("no-yaml", source.name, f"this is no YAML: {fault}")


class _Composer:
    """Builds nodes from parse events, so that aliases and depth are seen before anything is followed."""

    def __init__(self, source: Source) -> None:
        self.source = source
        self.events: Iterator[yaml.Event] = yaml.parse(source.text, Loader=_LOADER)
        self.nodes = 0

    def document(self) -> Node:
        first = self._next()
        while isinstance(first, (yaml.StreamStartEvent, yaml.DocumentStartEvent)):
            first = self._next()
        if isinstance(first, yaml.StreamEndEvent):
            _refuse("empty-file", self.source.name, "the file is empty", "write the first key")
        node = self._node(first, 0)
        self._next()
        behind = self._next()
        if not isinstance(behind, yaml.StreamEndEvent):
            self._stop(behind, "several-documents", "a second document begins here", "write one document a file")
        return node

    def _next(self) -> yaml.Event:
        return next(self.events)

    def _stop(self, event: yaml.Event, code: str, wrong: str, remedy: str) -> NoReturn:
        place = Place(self.source.name, event.start_mark.line + 1, event.start_mark.column + 1)
        raise BadInput(self.source.problem(code, place, "", wrong, remedy))

    def _node(self, event: yaml.Event, depth: int) -> Node:
        self.nodes += 1
        if self.nodes > MAX_NODES:
            self._stop(event, "too-many-nodes", f"the file holds more than {MAX_NODES} values", "split it")
        if depth > MAX_DEPTH:
            self._stop(event, "too-deep", f"nested more than {MAX_DEPTH} deep", "nest less")
        if isinstance(event, yaml.AliasEvent):
            self._stop(event, "alias", f"'*{event.anchor}' stands for another part", "write that part out")
        if event.anchor:
            self._stop(event, "anchor", f"'&{event.anchor}' names this part", "anchors are not read; delete it")
        if event.tag:
            self._stop(event, "tag", f"the tag {event.tag!r} stands here", "delete it")
        start = event.start_mark
        place = Place(self.source.name, start.line + 1, start.column + 1)
        if isinstance(event, yaml.ScalarEvent):
            style = "" if event.style in (None, "") else event.style
            if style == '"' and _UNSEEN.search(event.value.replace("\t", "\x01")):
                wrong = "an escape stands for a character that cannot be seen (such as a tab)"
                self._stop(event, "unseen-character", wrong, "delete it")
            return Node("scalar", self.source, place, start.index, event.end_mark.index, event.value, style)
        if isinstance(event, yaml.SequenceStartEvent):
            items = []
            while not isinstance(inner := self._next(), yaml.SequenceEndEvent):
                items.append(self._node(inner, depth + 1))
            return Node("list", self.source, place, start.index, inner.end_mark.index, items=tuple(items))
        return self._mapping(event, place, depth)

    def _mapping(self, event: yaml.Event, place: Place, depth: int) -> Node:
        entries: dict[str, tuple[Node, Node]] = {}
        while not isinstance(inner := self._next(), yaml.MappingEndEvent):
            if not isinstance(inner, yaml.ScalarEvent):
                remedy = "put a text that begins with a bracket in quotes"
                self._stop(inner, "key-not-a-word", "a key must be one word or text", remedy)
            key = self._node(inner, depth + 1)
            if key.text in entries:
                first = entries[key.text][0].place
                wrong = f"the key {key.text!r} stands on line {first.line} already"
                self._stop(inner, "duplicate-key", wrong, "keep one of them")
            entries[key.text] = (key, self._node(self._next(), depth + 1))
        start, stop = event.start_mark.index, inner.end_mark.index
        return Node("mapping", self.source, place, start, stop, entries=tuple(entries.values()))


def file_inside(folder: Path, wanted: str) -> Path | None:
    """Return the path that *wanted* names within *folder*, or None where it climbs out of it.

    Absolute paths, ``..`` and links that lead elsewhere climb out.
    """
    path = Path(wanted)
    if path.is_absolute() or ".." in path.parts or "\x00" in wanted or "\\" in wanted:
        return None
    whole = folder / path
    return whole if whole.resolve().is_relative_to(folder.resolve()) else None
