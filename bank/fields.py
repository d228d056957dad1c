"""What may stand in a file, declared once: each kind of field both reads nodes and describes itself as JSON Schema.

A kind's ``read`` adds to a list of problems and returns `BROKEN` for what it cannot read, so that one pass finds
everything. What a schema cannot say (spelling of numbers, names that must exist) is checked by the rooms above.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any, Final, NamedTuple

from bank.errors import Problem, did_you_mean
from bank.sources import Node


class _Broken:
    """Type of `BROKEN`."""

    def __repr__(self) -> str:
        return "BROKEN"

    def __bool__(self) -> bool:
        return False


BROKEN: Final[Any] = _Broken()
"""Stands for a value that could not be read; its problem is on the list already. False in tests."""

Schema = dict[str, Any]
Problems = list[Problem]


class Kind:
    """A kind of value: how it is read and how it is described."""

    shapes: tuple[str, ...] = ("scalar",)
    """Node kinds that this kind reads."""
    wanted = "a value"
    """Words for messages."""

    def read(self, node: Node, field: str, problems: Problems) -> Any:
        """Return the value of *node*, or `BROKEN` after adding to *problems*; *field* is its dotted name."""
        raise NotImplementedError

    def schema(self) -> Schema:
        """Return the JSON Schema (draft 2020-12) of this kind."""
        raise NotImplementedError

    def _fits(self, node: Node, field: str, problems: Problems) -> bool:
        if node.is_empty:
            node.report(problems, "empty", field, "nothing stands here", f"write {self.wanted}")
            return False
        if node.kind not in self.shapes:
            wrong = f"{node.shown()} stands here"
            node.report(problems, "wrong-kind", field, wrong, f"write {self.wanted}")
            return False
        return True


class Text(Kind):
    """Words as they are written; a scalar of any look, so that ``no`` and ``0.10`` stay what they are."""

    def __init__(self, longest: int = 200, lines: bool = False) -> None:
        self.longest = longest
        self.lines = lines
        self.wanted = "a text" if lines else "a text of one line"

    def read(self, node: Node, field: str, problems: Problems) -> str:
        """Return the text without surrounding space."""
        if not self._fits(node, field, problems):
            return BROKEN
        text = node.text.strip()
        if not text:
            node.report(problems, "empty", field, "the text is empty", f"write {self.wanted}")
        elif len(node.text) > self.longest:
            wrong = f"the text has {len(node.text)} characters"
            node.report(problems, "too-long", field, wrong, f"write at most {self.longest}")
        elif "\n" in text and not self.lines:
            node.report(problems, "several-lines", field, "the text has several lines", f"write {self.wanted}")
        else:
            return text
        return BROKEN

    def schema(self) -> Schema:
        """Return a schema that takes any scalar but null."""
        pattern = r"\S" if self.lines else r"^\s*\S[^\n]*\s*$"
        return {"type": ["string", "number", "boolean"], "pattern": pattern, "maxLength": self.longest}


class Pattern(Kind):
    """A word of a fixed form, such as an id or a parameter's name."""

    def __init__(self, pattern: str, wanted: str, longest: int = 64) -> None:
        self.pattern = pattern
        self.longest = longest
        self.wanted = wanted
        self._match = re.compile(rf"(?:{pattern})\Z").match

    def read(self, node: Node, field: str, problems: Problems) -> str:
        """Return the word."""
        if not self._fits(node, field, problems):
            return BROKEN
        if self.takes(node):
            return node.text
        node.report(problems, "bad-name", field, f"{node.shown()} does not do as a name", f"write {self.wanted}")
        return BROKEN

    def takes(self, node: Node) -> bool:
        """Whether the scalar *node* has the form."""
        fits = len(node.text) <= self.longest and self._match(node.text) is not None
        return fits and not (node.is_plain and (node.text in ("true", "false") or node.looks_like_number))

    def schema(self) -> Schema:
        """Return a schema with the pattern."""
        return {"type": "string", "pattern": f"^(?:{self.pattern})$", "maxLength": self.longest}


class Whole(Kind):
    """A whole number within bounds, written in plain digits."""

    def __init__(self, low: int, high: int) -> None:
        self.low = low
        self.high = high
        self.wanted = f"a whole number from {low} to {high}"

    def read(self, node: Node, field: str, problems: Problems) -> int:
        """Return the number."""
        if not self._fits(node, field, problems):
            return BROKEN
        digits = node.text[1:] if node.text.startswith("-") else node.text
        plain = node.is_plain and digits.isascii() and digits.isdigit() and (digits == "0" or digits[0] != "0")
        if not plain:
            wrong = f"{node.shown()} is no whole number in plain digits"
            node.report(problems, "bad-whole", field, wrong, f"write {self.wanted}")
        elif len(digits) > 60 or not self.low <= int(node.text) <= self.high:
            node.report(problems, "out-of-range", field, f"{node.shown()} is out of range", f"write {self.wanted}")
        else:
            return int(node.text)
        return BROKEN

    def schema(self) -> Schema:
        """Return a schema with the bounds."""
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


class Number(Kind):
    """A decimal number written out, given as what *parse* makes of its text."""

    wanted = "a number in plain digits with a decimal point, such as 0.25"
    _form = re.compile(r"-?(0|[1-9][0-9]*)(\.[0-9]+)?\Z", re.ASCII)

    def __init__(self, parse: Callable[[str], Any]) -> None:
        self._parse = parse

    def read(self, node: Node, field: str, problems: Problems) -> Any:
        """Return what ``parse`` returns; its ValueError is a problem."""
        if not self._fits(node, field, problems):
            return BROKEN
        if not node.is_plain or not self._form.match(node.text):
            node.report(problems, "bad-number", field, f"{node.shown()} is no number", f"write {self.wanted}")
            return BROKEN
        try:
            return self._parse(node.text)
        except ValueError as fault:
            node.report(problems, "bad-number", field, str(fault), "write a shorter number")
            return BROKEN

    def schema(self) -> Schema:
        """Return the schema of any number."""
        return {"type": "number"}


class Truth(Kind):
    """``true`` or ``false``."""

    wanted = "true or false"

    def read(self, node: Node, field: str, problems: Problems) -> bool:
        """Return the truth value."""
        if not self._fits(node, field, problems):
            return BROKEN
        if node.is_plain and node.text in ("true", "false"):
            return node.text == "true"
        node.report(problems, "bad-truth", field, f"{node.shown()} is neither true nor false", "write one of them")
        return BROKEN

    def schema(self) -> Schema:
        """Return the schema of a boolean."""
        return {"type": "boolean"}


class OneOf(Kind):
    """One word of a short list."""

    def __init__(self, *words: str) -> None:
        self.words = words
        self.wanted = "one of: " + ", ".join(words)

    def read(self, node: Node, field: str, problems: Problems) -> str:
        """Return the word."""
        if not self._fits(node, field, problems):
            return BROKEN
        if node.text in self.words:
            return node.text
        plain = all(word[0].isalpha() for word in self.words)
        remedy = did_you_mean(node.text, self.words) if plain else f"write {' or '.join(map(repr, self.words))}"
        node.report(problems, "unknown-word", field, f"{node.shown()} is not known here", remedy)
        return BROKEN

    def schema(self) -> Schema:
        """Return an enumeration."""
        return {"type": "string", "enum": list(self.words)}


class Formula(Kind):
    """Text of the expression language, or any scalar entry; returned as the node, for the room above to read."""

    def __init__(self, wanted: str = "an expression, such as a + b") -> None:
        self.wanted = wanted

    def read(self, node: Node, field: str, problems: Problems) -> Node:
        """Return the node itself."""
        if not self._fits(node, field, problems):
            return BROKEN
        if node.is_plain and node.text in ("true", "false"):
            node.report(problems, "wrong-kind", field, f"{node.shown()} stands here", f"write {self.wanted}")
            return BROKEN
        if not node.text.strip():
            node.report(problems, "empty", field, "nothing stands here", f"write {self.wanted}")
            return BROKEN
        return node

    def schema(self) -> Schema:
        """Return a schema of strings and numbers."""
        return {"type": ["string", "number"], "pattern": r"\S"}


class ListOf(Kind):
    """A list of one kind."""

    shapes = ("list",)

    def __init__(self, kind: Kind, fewest: int = 0, most: int = 100, wanted: str = "") -> None:
        self.kind = kind
        self.fewest = fewest
        self.most = most
        count = f"{fewest}" if fewest == most else f"{fewest} to {most}"
        self.wanted = wanted or f"a list of {count} entries in square brackets or behind dashes"

    def read(self, node: Node, field: str, problems: Problems) -> tuple[Any, ...]:
        """Return the entries; one broken entry breaks the list."""
        if not self._fits(node, field, problems):
            return BROKEN
        count = len(node.items)
        if not self.fewest <= count <= self.most:
            code = "too-few" if count < self.fewest else "too-many"
            node.report(problems, code, field, f"the list has {count} entries", f"write {self.wanted}")
            return BROKEN
        values = [self.kind.read(item, f"{field}[{index}]", problems) for index, item in enumerate(node.items, 1)]
        return BROKEN if any(value is BROKEN for value in values) else tuple(values)

    def schema(self) -> Schema:
        """Return the schema of an array."""
        schema: Schema = {"type": "array", "items": self.kind.schema(), "maxItems": self.most}
        if self.fewest:
            schema["minItems"] = self.fewest
        return schema


class Field(NamedTuple):
    """One key of a record."""

    name: str
    kind: Kind
    says: str
    """What it means, for the schema and the reference page."""
    required: bool = False
    default: Any = None


class Read:
    """A record as read: values by field (default where absent, `BROKEN` where wrong) and the nodes they came from."""

    __slots__ = ("node", "nodes", "values")

    def __init__(self, values: dict[str, Any], nodes: dict[str, Node], node: Node) -> None:
        self.values = values
        self.nodes = nodes
        """Value nodes of the fields that are written."""
        self.node = node

    def __getitem__(self, name: str) -> Any:
        return self.values[name]

    def at(self, name: str) -> Node:
        """Return the node of field *name*, or the record's own where the field is not written."""
        return self.nodes.get(name, self.node)


class Record(Kind):
    """A mapping with declared keys; the first field is the one that tells records apart."""

    shapes = ("mapping",)

    def __init__(self, says: str, *fields: Field) -> None:
        self.says = says
        self.fields = {field.name: field for field in fields}
        self.wanted = "a mapping with " + ", ".join(field.name for field in fields if field.required or len(fields) < 5)

    def read(self, node: Node, field: str, problems: Problems) -> Read:
        """Return the values by field name."""
        if not self._fits(node, field, problems):
            return BROKEN
        prefix = f"{field}." if field else ""
        values = {name: declared.default for name, declared in self.fields.items()}
        nodes = {}
        for key, value in node.entries:
            declared = self.fields.get(key.text)
            if declared is None:
                remedy = did_you_mean(key.text, self.fields)
                if not key.text.replace("_", "").replace("-", "").isalnum():
                    remedy = "inside braces a comma ends a value: put a value that holds one in quotes"
                key.report(problems, "unknown-key", prefix + key.text, "there is no such key", remedy)
                continue
            nodes[key.text] = value
            values[key.text] = declared.kind.read(value, prefix + key.text, problems)
        for name, declared in self.fields.items():
            if declared.required and name not in nodes:
                values[name] = BROKEN
                remedy = f"write it with {declared.kind.wanted}"
                node.report(problems, "missing-key", prefix + name, "this key is missing", remedy)
        return Read(values, nodes, node)

    def schema(self) -> Schema:
        """Return the schema of an object without further keys."""
        properties = {}
        for name, declared in self.fields.items():
            properties[name] = {"description": declared.says, **declared.kind.schema()}
            if isinstance(declared.default, (bool, int, str)):
                properties[name]["default"] = declared.default
        schema: Schema = {"type": "object", "additionalProperties": False, "properties": properties}
        schema["description"] = self.says
        required = [name for name, declared in self.fields.items() if declared.required]
        if required:
            schema["required"] = required
        return schema


class MapOf(Kind):
    """A mapping from names of one form to values of one kind."""

    shapes = ("mapping",)

    def __init__(self, name: Pattern, kind: Kind, fewest: int = 1, most: int = 30) -> None:
        self.name = name
        self.kind = kind
        self.fewest = fewest
        self.most = most
        self.wanted = f"a mapping of {fewest} to {most} names"

    def read(self, node: Node, field: str, problems: Problems) -> dict[str, Any]:
        """Return the values by name, `BROKEN` among them; the whole is broken only where it is no mapping."""
        if not self._fits(node, field, problems):
            return BROKEN
        count = len(node.entries)
        if not self.fewest <= count <= self.most:
            code = "too-few" if count < self.fewest else "too-many"
            node.report(problems, code, field, f"{count} names stand here", f"write {self.wanted}")
            return BROKEN
        values = {}
        for key, value in node.entries:
            name = f"{field}.{key.text}"
            if not self.name.takes(key):
                remedy = f"write {self.name.wanted}"
                key.report(problems, "bad-name", name, f"{key.shown()} does not do as a name", remedy)
            values[key.text] = self.kind.read(value, name, problems)
        return values

    def schema(self) -> Schema:
        """Return the schema of an object whose keys have the form."""
        return {
            "type": "object", "propertyNames": self.name.schema(), "additionalProperties": self.kind.schema(),
            "minProperties": self.fewest, "maxProperties": self.most,
        }


class Either(Kind):
    """One of several kinds, told apart by shape: at most one kind for each of scalar, list and mapping."""

    def __init__(self, *kinds: Kind) -> None:
        self.kinds = kinds
        self.shapes = tuple(shape for kind in kinds for shape in kind.shapes)
        self.wanted = ", or ".join(kind.wanted for kind in kinds)

    def read(self, node: Node, field: str, problems: Problems) -> Any:
        """Return what the kind of the node's shape reads."""
        if not self._fits(node, field, problems):
            return BROKEN
        return next(kind for kind in self.kinds if node.kind in kind.shapes).read(node, field, problems)

    def schema(self) -> Schema:
        """Return the alternatives."""
        return {"anyOf": [kind.schema() for kind in self.kinds]}


class Variants(Kind):
    """One of several records, told apart by their first field; the others may not have that key."""

    shapes = ("mapping",)

    def __init__(self, *records: Record) -> None:
        self.records = {next(iter(record.fields)): record for record in records}
        self.wanted = "a mapping with one of the keys " + ", ".join(self.records)

    def read(self, node: Node, field: str, problems: Problems) -> Read:
        """Return the record that the node's keys ask for."""
        if not self._fits(node, field, problems):
            return BROKEN
        found = [key for key, _ in node.entries if key.text in self.records]
        if len(found) == 1:
            return self.records[found[0].text].read(node, field, problems)
        if found:
            wrong = f"the keys {' and '.join(key.text for key in found)} exclude one another"
            problems.append(found[1].problem("key-conflict", field, wrong, "keep one of them"))
        else:
            remedy = f"write {self.wanted}"
            if len(node.entries) and (near := did_you_mean(node.entries[0][0].text, self.records)).startswith("did"):
                remedy = near
            node.report(problems, "missing-key", field, "the key that says what this is, is missing", remedy)
        return BROKEN

    def schema(self) -> Schema:
        """Return the alternatives."""
        return {"oneOf": [record.schema() for record in self.records.values()]}


IDENTIFIER = Pattern("[a-z][a-z0-9]*(-[a-z0-9]+)*", "an id: lower case letters and digits, hyphens between words")
"""Id of a template, topic, plan, quiz or locale."""


def document_schema(record: Record, title: str) -> Schema:
    """Return *record*'s JSON Schema as a document of its own."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": title, **record.schema()}
