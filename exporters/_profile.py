"""Parsing files of a package with care, and checking them against our own schemas."""

from __future__ import annotations

from typing import Protocol

from lxml import etree

import schemas
from exporters._faults import ExportFault
from exporters._qti import PROLOG

_PROLOG = PROLOG.encode()
"""Declares UTF-8, in which what is looked for as bytes can mean nothing else."""


def safe_parser() -> etree.XMLParser:
    """Return a parser that resolves no entities, reaches for nothing and keeps its limits on size and depth."""
    return etree.XMLParser(resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False)


def parsed(content: bytes, file: str, item: str, parser: etree.XMLParser) -> etree._Element:
    """Return the root of *content*.

    Raises:
        ExportFault: it is no XML, begins otherwise than the files of this tool, or has a document type (which could
            define entities), a comment or a CDATA section: this tool writes none.
    """
    if not content.startswith(_PROLOG):
        raise ExportFault(file, item, "it does not begin as an XML file of this tool")
    if b"!" in content and b"<!" in content:  # the mark alone is rare and soon looked for
        raise ExportFault(file, item, "it has a document type, a comment or a CDATA section")
    try:
        return etree.fromstring(content, parser)
    except etree.XMLSyntaxError as error:
        raise ExportFault(file, item, f"it is no XML: {error}") from error


class Profiled(Protocol):
    """A target that has schemas of our own."""

    def profile(self, part: str) -> str:
        """Return the name of the schema of *part*."""


_LINKS = tuple([f"{{http://www.w3.org/2001/XMLSchema}}{name}" for name in ("key", "keyref", "unique")])
"""What a schema says of identifiers: that they differ, and that what is named is there."""


class Profile:
    """One of our schemas, compiled, with a parser to go with it.

    Without *links* identifiers are not compared: for who checks all of that himself. The library follows each of these
    rules through every cell of a table, which takes longer than the rest of the schema.
    """

    def __init__(self, version: Profiled, part: str, links: bool = True) -> None:
        self._name = version.profile(part)
        source = etree.parse(str(schemas.path(self._name)), safe_parser())
        for rule in [] if links else list(source.iter(*_LINKS)):
            rule.getparent().remove(rule)
        self._schema = etree.XMLSchema(source)
        self._parser = safe_parser()

    def check(self, content: bytes, file: str, item: str = "") -> etree._Element:
        """Return the root of *content*, which is as the schema says.

        Raises:
            ExportFault: it is not, or is no XML, or has a document type.
        """
        root = parsed(content, file, item, self._parser)
        if not self._schema.validate(root):
            found = self._schema.error_log[0]  # type: ignore[index]
            raise ExportFault(file, item, f"it does not follow {self._name}: line {found.line}: {found.message}")
        return root
