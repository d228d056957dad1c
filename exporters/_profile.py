"""Checking what was written against our own schemas, before it goes into a package."""

from __future__ import annotations

from lxml import etree

import schemas
from exporters._faults import ExportFault
from exporters._qti import Version

def safe_parser() -> etree.XMLParser:
    """Return a parser that resolves no entities, reaches for nothing and keeps its limits on size and depth."""
    return etree.XMLParser(resolve_entities=False, load_dtd=False, no_network=True, huge_tree=False)


class Profile:
    """One of our schemas, compiled, with a parser to go with it."""

    def __init__(self, version: Version, part: str) -> None:
        self._name = version.profile(part)
        parser = safe_parser()
        self._schema = etree.XMLSchema(etree.parse(str(schemas.path(self._name)), parser))
        self._parser = parser

    def check(self, content: bytes, file: str, item: str = "") -> None:
        """Return nothing where *content* is as the schema says.

        Raises:
            ExportFault: it is not, or is no XML.
        """
        try:
            root = etree.fromstring(content, self._parser)
        except etree.XMLSyntaxError as error:
            raise ExportFault(file, item, f"it is no XML: {error}") from error
        if not self._schema.validate(root):
            found = self._schema.error_log[0]
            raise ExportFault(file, item, f"it does not follow {self._name}: line {found.line}: {found.message}")
