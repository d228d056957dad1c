"""The rules that the official cartridge schemas carry in their annotations, carried out: a small runner of our own.

The schemas hold them in an old spelling of Schematron that no validator of XML schemas looks at. Here a rule is a
context and what must be true there, both in XPath; of the rules of a pattern the first whose context fits a node
counts for it (ISO/IEC 19757-3, clause on rule contexts, from memory).
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import NamedTuple

from lxml import etree

_S = "{http://purl.oclc.org/dsdl/schematron}"
_NAME = re.compile(r"\[RULE (\w+)\]")


class Assertion(NamedTuple):
    """What must be true, and the name of the rule that says so."""

    name: str
    test: etree.XPath


class Rule(NamedTuple):
    """Where assertions must hold."""

    context: etree.XPath
    assertions: tuple[Assertion, ...]


def patterns(schema: Path, changes: dict[str, str] | None = None) -> tuple[tuple[Rule, ...], ...]:
    """Return the patterns in *schema*, texts in it changed first as *changes* says."""
    content = schema.read_text("utf-8")
    for old, new in (changes or {}).items():
        content = content.replace(old, new)
    tree = etree.fromstring(content.encode())
    spaces = {one.get("prefix"): one.get("uri") for one in tree.iter(f"{_S}ns")}
    found = []
    for pattern in tree.iter(f"{_S}pattern"):
        rules = []
        for rule in pattern.iterchildren(f"{_S}rule"):
            assertions = []
            for one in rule.iterchildren(f"{_S}assert"):
                named = _NAME.search("".join(one.itertext()))
                assert named is not None
                assertions.append(Assertion(named[1], etree.XPath(one.get("test"), namespaces=spaces)))
            rules.append(Rule(etree.XPath(f"//{rule.get('context')}", namespaces=spaces), tuple(assertions)))
        found.append(tuple(rules))
    return tuple(found)


def broken(root: etree._Element, rules: tuple[tuple[Rule, ...], ...]) -> list[str]:
    """Return the names of the rules that the document with *root* breaks, each once, in order."""
    names = []
    for pattern in rules:
        taken: set[etree._Element] = set()
        for rule in pattern:
            for node in rule.context(root):
                if node not in taken:
                    taken.add(node)
                    names += [one.name for one in rule.assertions if not one.test(node)]
    return list(dict.fromkeys(names))
